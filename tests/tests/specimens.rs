//! `specimen` and `inspect --out`: a dataset gives what its puzzles give, no row is lost, no folder is
//! half written.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use tallyhouse_board::{House, Puzzle};
use tallyhouse_engine::{HouseSplits, Order, Position, unique_solution};
use tallyhouse_tests::command::{Ran, dataset_bytes, run};

fn good(folder: &Path, arguments: &[&str]) -> Ran {
    let ran = run(folder, arguments);
    assert_eq!(ran.code, Some(0), "{arguments:?}: {ran:?}");
    ran
}

fn fails(ran: &Ran, code: i32, message: &str) {
    assert_eq!(ran.code, Some(code), "{ran:?}");
    assert!(ran.err.contains(message), "expected {message:?} in {ran:?}");
    assert!(!ran.err.contains("panicked"), "{ran:?}");
}

fn entries(folder: &Path) -> BTreeSet<String> {
    let name = |entry: std::io::Result<fs::DirEntry>| {
        entry.unwrap().file_name().to_string_lossy().into_owned()
    };
    fs::read_dir(folder).unwrap().map(name).collect()
}

/// Puzzles with a bad first row and a label, in a folder of their own.
fn puzzles(count: u32) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let count = count.to_string();
    good(folder.path(), &["make", "--count", &count, "--seed", "8", "--out", "made.txt"]);
    let text = fs::read_to_string(folder.path().join("made.txt")).unwrap();
    let rows: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
    let rows = format!("broken\n{} a label\n", rows.join("\n"));
    fs::write(folder.path().join("in.txt"), rows).unwrap();
    folder
}

/// All files of an output, the tables without the columns that say where a puzzle was read.
fn without_origin(out: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = dataset_bytes(out);
    for name in ["specimens.json", "gallery.html", "gallery.md", "rejects.csv", "manifest.json"] {
        files.remove(Path::new(name));
    }
    let csv = files.get_mut(Path::new("specimens.csv")).unwrap();
    let mut rows = csv::Reader::from_reader(&csv[..]);
    let header = rows.headers().unwrap().clone();
    let origin: Vec<usize> = ["source", "source_line", "label"]
        .iter()
        .map(|name| header.iter().position(|column| column == *name).unwrap())
        .collect();
    let mut kept = csv::Writer::from_writer(Vec::new());
    for row in std::iter::once(header).chain(rows.records().map(Result::unwrap)) {
        let fields = row.iter().enumerate().filter(|(column, _)| !origin.contains(column));
        kept.write_record(fields.map(|(_, field)| field)).unwrap();
    }
    *csv = kept.into_inner().unwrap();
    files
}

#[test]
fn a_dataset_gives_what_its_puzzles_give_to_the_byte() {
    let folder = puzzles(1500);
    let at = folder.path();
    good(at, &["census", "in.txt", "--out", "lean", "--part-size", "1000"]);
    good(at, &["census", "in.txt", "--out", "states", "--keep-states"]);
    let wishes: [&[&str]; 5] = [
        &["--most", "12"],
        &["--open", "6..8", "--hidden", "3..4", "--most", "4"],
        &["--nothing-easier", "--first", "--house", "box", "--proper", "hidden", "--most", "4"],
        &["--proper", "any", "--live-open", "4..5", "--eliminations", "3", "--most", "4"],
        &["--gallery"],
    ];
    for (number, wish) in wishes.iter().enumerate() {
        let files = |input: &str, threads: &str| {
            let out = format!("{input}-{number}-{threads}");
            let command = ["specimen", input, "--out", &out, "--threads", threads];
            let ran = good(at, &[&command[..], wish].concat());
            assert_eq!(ran.err.is_empty(), input != "in.txt", "{ran:?}");
            without_origin(&at.join(out))
        };
        let walked = files("in.txt", "1");
        assert!(walked.len() > 2 * 6, "{wish:?}: {} files", walked.len());
        for input in ["in.txt", "lean", "states"] {
            for threads in ["1", "3"] {
                if (input, threads) != ("in.txt", "1") {
                    assert!(
                        files(input, threads) == walked,
                        "{wish:?}, {input}, {threads} threads"
                    );
                }
            }
        }
    }
    let json = fs::read(at.join("lean-0-1/specimens.json")).unwrap();
    let json: serde_json::Value = serde_json::from_slice(&json).unwrap();
    let manifest = fs::read(at.join("lean/manifest.json")).unwrap();
    let manifest: serde_json::Value = serde_json::from_slice(&manifest).unwrap();
    let examined = &json["examined"];
    assert_eq!(examined["digest"], manifest["collection"]["blake3"]);
    assert_eq!(examined["notes"], manifest["collection"]["notes"]);
    assert_eq!(examined["collection"], "dataset lean: in.txt");
    assert_eq!((&examined["puzzles"], &examined["rejected"]), (&1500.into(), &1.into()));
    assert_eq!(examined["first_reject"], "in.txt, line 1: 6 characters instead of 81");
    let first = &json["specimens"][0];
    assert_eq!((&first["source"], &first["label"]), (&"dataset lean".into(), &().into()));
    let row = first["puzzle"].as_u64().unwrap() as usize;
    let text = fs::read_to_string(at.join("in.txt")).unwrap();
    assert!(text.lines().nth(row).unwrap().starts_with(first["line"].as_str().unwrap()));
}

#[test]
fn a_dataset_of_another_walk_is_told_and_judged_by_the_full_ladder() {
    let folder = puzzles(300);
    let at = folder.path();
    good(at, &["census", "in.txt", "--out", "own", "--course", "one-by-one", "--intersections"]);
    let wish = ["--nothing-easier", "--most", "12", "--json"];
    let ran = good(at, &[&["specimen", "own", "--out", "easy"], &wish[..]].concat());
    assert!(ran.err.contains("note: the quiet positions are those of the dataset's own walk"));
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let walk = json["examined"]["walk"].as_str().unwrap();
    assert!(walk.contains("intersections") && walk.ends_with("one find at a time"), "{walk}");
    let ladder = Order::ladder();
    for specimen in json["specimens"].as_array().unwrap() {
        let text = |name: &str| specimen[name].as_str().unwrap();
        let states: Vec<u16> = text("states").split(' ').map(|s| s.parse().unwrap()).collect();
        let position = Position::from_states(&states.try_into().unwrap()).unwrap();
        let puzzle: Puzzle = text("line").parse().unwrap();
        assert!(unique_solution(&puzzle).is_some());
        let mut subsets = Vec::new();
        for house in House::all() {
            subsets.extend(HouseSplits::of_house(&position, house).unwrap().subsets(house));
        }
        assert_eq!(subsets.len() as u64 - 1, specimen["other_subsets"].as_u64().unwrap());
        let house = format!("{} {}", text("house_kind"), specimen["house"]);
        let digits = |digits: tallyhouse_board::DigitSet| digits.to_string();
        let own = subsets.iter().find(|subset| {
            subset.house.to_string() == house && digits(subset.digits) == text("naked_digits")
        });
        let look = |subset| ladder.looks().iter().position(|look| look.finds(subset));
        let first = subsets.iter().filter_map(look).min();
        assert!(first.is_some());
        assert_eq!(look(own.unwrap()), first, "nothing easier");
    }
    // With the full ladder there is nothing to tell.
    good(at, &["census", "in.txt", "--out", "ladder"]);
    assert_eq!(good(at, &["specimen", "ladder", "--most", "1", "--out", "x"]).err, "");
}

#[test]
fn datasets_that_cannot_be_used_are_refused() {
    let folder = puzzles(1200);
    let at = folder.path();
    let specimen = |inputs: &[&str]| {
        run(at, &[&["specimen"], inputs, &["--most", "1", "--out", "refused"]].concat())
    };
    let nothing_left = || {
        let left = entries(at);
        assert!(!left.iter().any(|name| name.starts_with("refused")), "{left:?}");
    };
    good(at, &["census", "in.txt", "--out", "none", "--tables", "none"]);
    fails(
        &specimen(&["none"]),
        1,
        "none can't be read back: it has no tables: scan the puzzles again",
    );
    good(at, &["census", "in.txt", "--out", "census", "--part-size", "1000"]);
    fails(&specimen(&["census", "in.txt"]), 2, "found a dataset beside other inputs");
    fails(&specimen(&["in.txt", "census"]), 2, "expected one dataset alone");
    fails(&specimen(&["census", "--seed", "4"]), 2, "--seed is for puzzles that are made");
    fails(&specimen(&["."]), 1, ". is not a collection folder: it has no manifest.json");
    nothing_left();

    let subsets = at.join("census/subsets/part-00000001.parquet");
    let bytes = fs::read(&subsets).unwrap();
    fs::write(&subsets, &bytes[..bytes.len() - 9]).unwrap();
    let spoilt =
        "census: subsets/part-00000001.parquet is not as it was written; make the folder again";
    fails(&specimen(&["census"]), 1, spoilt);
    fs::copy(at.join("census/subsets/part-00000000.parquet"), &subsets).unwrap();
    fails(&specimen(&["census"]), 1, spoilt);
    fs::remove_file(&subsets).unwrap();
    fails(&specimen(&["census"]), 1, "census: subsets/part-00000001.parquet is missing");
    fs::write(&subsets, bytes).unwrap();
    good(at, &["specimen", "census", "--most", "1", "--out", "yes"]);

    let manifest = at.join("census/manifest.json");
    let text = fs::read_to_string(&manifest).unwrap();
    fs::write(&manifest, text.replace("\"schema_version\": 3", "\"schema_version\": 2")).unwrap();
    fails(
        &specimen(&["census"]),
        1,
        "census has schema version 2, this program reads 3; make the folder again: \
         tallyhouse census in.txt --out census --part-size 1000",
    );
    fs::write(&manifest, &text[..text.len() / 2]).unwrap();
    fails(&specimen(&["census"]), 1, "cannot read census/manifest.json: ");
    fs::remove_file(&manifest).unwrap();
    fs::create_dir(at.join("census/unfinished")).unwrap();
    fs::write(at.join("census/unfinished/plan.json"), "{}").unwrap();
    fails(&specimen(&["census"]), 1, "the scan is unfinished: finish it with census --resume");
    nothing_left();
}

#[test]
fn rejected_rows_are_listed_and_told() {
    let folder = puzzles(50);
    let at = folder.path();
    let text = fs::read_to_string(at.join("in.txt")).unwrap();
    fs::write(at.join("in.txt"), format!("{text}{}, \"blank\"\n", ".".repeat(81))).unwrap();
    let expected = format!(
        "file,line,text,reason\nin.txt,1,broken,6 characters instead of 81\n\
         in.txt,52,\"{}, \"\"blank\"\"\",several solutions: expected exactly one\n",
        ".".repeat(81)
    );
    for (out, more) in [("list", &["--most", "1"][..]), ("page", &["--gallery"])] {
        let ran = good(at, &[&["specimen", "in.txt", "--out", out], more].concat());
        assert_eq!(fs::read_to_string(at.join(out).join("rejects.csv")).unwrap(), expected);
        assert_eq!(
            ran.err,
            format!(
                "warning: 2 of 52 rows rejected; first: in.txt, line 1: 6 characters instead of 81; all \
                 are listed in {out}/rejects.csv\n"
            )
        );
    }
    // As census writes them.
    good(at, &["census", "in.txt", "--out", "census"]);
    assert_eq!(fs::read_to_string(at.join("census/rejects.csv")).unwrap(), expected);
    let quiet = good(at, &["specimen", "in.txt", "--most", "1", "--out", "quiet", "--quiet"]);
    assert_eq!(quiet.err, "");
    // If no row is a puzzle, the list is all there is.
    fs::write(at.join("bad.txt"), "one\ntwo\n").unwrap();
    let ran = run(at, &["specimen", "bad.txt", "--out", "bad"]);
    fails(&ran, 1, "none of the 2 rows is a valid puzzle; the first: bad.txt, line 1");
    fails(&ran, 1, "all are listed in bad/rejects.csv");
    assert_eq!(
        entries(&at.join("bad")),
        BTreeSet::from(["manifest.json".to_owned(), "rejects.csv".to_owned()])
    );
    let read = fs::read_to_string(at.join("bad/rejects.csv")).unwrap();
    assert_eq!(read.lines().count(), 3);
}

#[test]
fn nothing_found_is_a_result() {
    let folder = puzzles(60);
    let at = folder.path();
    let wish = ["--open", "9", "--naked", "4", "--eliminations", "20"];
    good(at, &["census", "in.txt", "--out", "census"]);
    let made = ["specimen", "--count", "100", "--out", "made"];
    let ran = good(at, &[&made[..], &wish].concat());
    insta::assert_snapshot!("nothing_found", ran.out);
    for input in ["in.txt", "census"] {
        for more in [&[][..], &["--gallery"]] {
            let out = format!("{input}-{}", more.len());
            let specimen = ["specimen", input, "--out", &out];
            let ran = good(at, &[&specimen[..], &wish, more].concat());
            assert!(ran.out.starts_with("No specimen in 60 puzzles. Wanted: open 9"), "{ran:?}");
            assert!(ran.out.contains("What may help: more puzzles"), "{ran:?}");
            let csv = fs::read_to_string(at.join(out).join("specimens.csv")).unwrap();
            assert!(csv.starts_with("open,naked,hidden,house_kind,") && csv.lines().count() == 1);
        }
    }
}

#[test]
fn folders_are_written_whole_or_not_at_all() {
    let folder = puzzles(60);
    let at = folder.path();
    fs::create_dir(at.join("used")).unwrap();
    fs::write(at.join("used/mine.txt"), "mine").unwrap();
    let before = entries(at);
    for more in [&[][..], &["--gallery"]] {
        // Were there work before the refusal, this would take for ever.
        let endless =
            ["specimen", "--count", "999999999999", "--open", "9", "--eliminations", "60"];
        let ran = run(at, &[&endless[..], &["--out", "used"], more].concat());
        fails(&ran, 1, "used holds mine.txt, which is not on the list of what tallyhouse wrote");
        let missing = run(at, &[&["specimen", "missing.txt", "--out", "out"], more].concat());
        fails(&missing, 1, "cannot open missing.txt");
        assert_eq!(entries(at), before, "nothing is left over");
    }
    let line = "..623....2.....6..9.7....8.1..5...6.8.....54....91....7.9..2......3.18.....7.9.5.";
    fails(&run(at, &["inspect", line, "--out", "used"]), 1, "used holds mine.txt");
    fails(
        &run(at, &["inspect", line, "--out", "no", "--position", "40"]),
        1,
        "has 3 quiet positions",
    );
    fails(&run(at, &["specimen", "--out", "in.txt"]), 1, "in.txt is a file");
    assert_eq!(entries(at), before);
    assert_eq!(entries(&at.join("used")), BTreeSet::from(["mine.txt".to_owned()]));
    // An empty folder will do.
    fs::create_dir(at.join("empty")).unwrap();
    good(at, &["specimen", "in.txt", "--most", "1", "--out", "empty"]);
    let whole = ["figures", "manifest.json", "rejects.csv", "specimens.csv", "specimens.json"];
    assert_eq!(entries(&at.join("empty")), BTreeSet::from(whole.map(str::to_owned)));
}

#[test]
fn drawing_options_reach_every_figure() {
    let folder = puzzles(60);
    let at = folder.path();
    let svg = |out: &str, name: &str| {
        fs::read_to_string(at.join(out).join(format!("figures/{name}.svg"))).unwrap()
    };
    let specimen = |out: &str, more: &[&str]| {
        good(at, &[&["specimen", "in.txt", "--quiet", "--out", out], more].concat())
    };
    let ran = specimen("plain", &["--most", "2"]);
    insta::assert_snapshot!("specimens", ran.out);
    let bare = ["--theme", "print", "--width", "page", "--no-key", "--no-numbers"];
    specimen("words", &[&bare[..], &["--most", "1", "--caption", "My own <words>"]].concat());
    specimen("none", &[&bare[..], &["--most", "1", "--no-caption"]].concat());
    specimen("dark", &["--gallery", "--theme", "dark"]);
    for kind in ["board", "house"] {
        let name = format!("specimen-1-{kind}");
        let (plain, words, none) = (svg("plain", &name), svg("words", &name), svg("none", &name));
        assert!(plain.contains("#56B4E9") && !words.contains("#56B4E9"), "{kind}");
        assert!(plain.contains("hidden side: ") && !words.contains("hidden side: "), "{kind}");
        assert!(words.contains("My own &lt;words&gt;"), "{kind}");
        assert!(none.matches("<text").count() < words.matches("<text").count(), "{kind}");
        let width = |svg: &str| {
            let (_, rest) = svg.split_once("viewBox=\"0 0 ").unwrap();
            rest.split(' ').next().unwrap().parse::<f64>().unwrap()
        };
        assert_eq!((width(&plain), width(&words)), (340.0, 680.0), "{kind}");
    }
    let page = fs::read_to_string(at.join("dark/gallery.html")).unwrap();
    let figure = entries(&at.join("dark/figures"));
    let figure = figure.iter().find(|name| name.ends_with("-board.svg")).unwrap();
    let figure = fs::read_to_string(at.join("dark/figures").join(figure)).unwrap();
    let (_, colour) = figure.split_once("fill=\"").unwrap();
    assert!(page.contains(&colour[..7]), "the page has the dark figures");
    for (arguments, message) in [
        (&["specimen", "--out", "x", "--caption", "a", "--no-caption"][..], "cannot be used with"),
        (&["specimen", "--out", "x", "--position", "0"], "expected a number from 1 to 65535"),
        (&["specimen", "--out", "x", "--position", "2", "--first"], "cannot be used with"),
        (&["specimen", "--out", "x", "--most", "0"], "0 is not in 1.."),
        (&["inspect", "x", "--theme", "dark"], "--out <DIR>"),
        (&["inspect", "x", "--no-key"], "--out <DIR>"),
    ] {
        fails(&run(at, arguments), 2, message);
    }
}

#[test]
fn own_words_marks_and_sides_reach_the_figures() {
    let folder = puzzles(60);
    let at = folder.path();
    let read = |path: &str| fs::read_to_string(at.join(path)).unwrap();
    let specimen = |out: &str, more: &[&str]| {
        let usual = ["specimen", "in.txt", "--quiet", "--most", "1", "--out", out];
        run(at, &[&usual[..], more].concat())
    };
    let captions = "specimen-1-board = \"Look <here>.\"\nspecimen-1-after = \"\"\n";
    fs::write(at.join("captions.toml"), captions).unwrap();
    let own = ["--captions", "captions.toml", "--title", "Our & title", "--show", "hidden"];
    let ran = specimen("own", &[&own[..], &["--finds", "hidden 2"]].concat());
    assert_eq!(ran.code, Some(0), "{ran:?}");
    for kind in ["before", "board", "after", "steps", "house"] {
        let svg = read(&format!("own/figures/specimen-1-{kind}.svg"));
        assert_eq!(svg.contains("Look &lt;here&gt;."), kind == "board", "{kind}");
        assert_eq!(svg.matches("Our &amp; title").count(), 2, "{kind}: drawn and as its name");
        assert!(!svg.contains("class=\"naked\"") && !svg.contains("naked side"), "{kind}");
        let marked = ["board", "steps", "house"].contains(&kind);
        assert_eq!(svg.contains("class=\"hidden\""), marked, "{kind}");
        for ending in ["png", "pdf", "csv"] {
            assert!(at.join(format!("own/figures/specimen-1-{kind}.{ending}")).is_file());
        }
    }
    // What is looked for comes first.
    let both = specimen("both", &["--finds", "hidden 2", "--no-title"]);
    assert!(both.out.contains(": a hidden pair. They fill these two cells, so "), "{both:?}");
    let svg = read("both/figures/specimen-1-board.svg");
    assert!(svg.find("hidden side: ").unwrap() < svg.find("naked side: ").unwrap());
    assert_eq!(svg.matches("A hidden pair in ").count(), 1, "only as its name");

    // A ring around a digit that is there, in every figure that shows it.
    let given = read("in.txt").lines().nth(1).unwrap().to_owned();
    let column = given.find(|c| c != '.').unwrap();
    let mark = format!("r1c{}:{}", column + 1, &given[column..=column]);
    let marked = ["inspect", "in.txt", "--line", "2", "--out", "marked", "--mark", &mark];
    good(at, &marked);
    assert!(read("marked/start-board.svg").contains("class=\"ring\""));

    fs::write(at.join("bad.toml"), "# ours\nspecimen-1-board: no\n").unwrap();
    fs::write(at.join("stray.toml"), "specimen-9-board = \"Nowhere.\"\n").unwrap();
    let other =
        format!("r1c{}:{}", column + 1, if given[column..].starts_with('1') { 2 } else { 1 });
    let before = entries(at);
    for (more, code, message) in [
        (&["--captions", "bad.toml"][..], 1, "bad.toml, line 2: "),
        (&["--captions", "stray.toml"], 1, "'specimen-9-board' is none of the figures"),
        (&["--captions", "none.toml"], 1, "none.toml"),
        (&["--captions", "bad.toml", "--caption", "Words"], 2, "cannot be used with"),
        (&["--title", "Words", "--no-title"], 2, "cannot be used with"),
        (&["--mark", "r1c4"], 2, "expected a cell and a digit, as in r1c1:4"),
        (&["--mark", "r1c0:4"], 2, "expected a cell and a digit"),
        (&["--finds", "hidden 2", "--naked", "3"], 2, "cannot be used with"),
        (&["--finds", "naked 1"], 2, "no split can be found: wanted found by naked 1"),
        (&["--width", "50"], 2, "found '50', expected column (85 mm), page (170 mm), or a number"),
        (&["--dpi", "20"], 2, "found '20', expected a number of dots per inch from 72 to 1200"),
    ] {
        fails(&specimen("bad", more), code, message);
        assert_eq!(entries(at), before, "{more:?}");
    }
    let stray = ["inspect", "in.txt", "--line", "2", "--out", "bad", "--mark", &other];
    fails(&run(at, &stray), 1, "is in no figure: expected a digit that stands in r1c");
    assert_eq!(entries(at), before);
}

#[test]
fn pictures_are_printed_as_asked() {
    let folder = puzzles(60);
    let at = folder.path();
    let print = ["--width", "121.5", "--dpi", "150", "--outlines", "--theme", "print"];
    good(at, &[&["specimen", "in.txt", "--most", "1", "--out", "drawn"], &print[..]].concat());
    good(at, &[&["describe", "in.txt", "--out", "described"], &print[..]].concat());
    good(at, &[&["chart", "clues", "in.txt", "--out", "charts"], &print[..]].concat());
    good(at, &[&["inspect", "in.txt", "--line", "2", "--out", "walk"], &print[..]].concat());
    for picture in
        ["drawn/figures/specimen-1-board", "described/clues", "charts/clues", "walk/start-board"]
    {
        let svg = fs::read_to_string(at.join(format!("{picture}.svg"))).unwrap();
        assert!(svg.contains("width=\"121.5mm\"") && !svg.contains("<text"), "{picture}");
        // The width in pixels stands in the first chunk (PNG, third edition, 11.2.1).
        let png = fs::read(at.join(format!("{picture}.png"))).unwrap();
        let across = u32::from_be_bytes(png[16..20].try_into().unwrap());
        assert_eq!(across, 718, "{picture}: 121.5 mm at 150 dots per inch");
        assert!(fs::read(at.join(format!("{picture}.pdf"))).unwrap().starts_with(b"%PDF-"));
    }
    fails(&run(at, &["describe", "in.txt", "--dpi", "150"]), 2, "--out <DIR>");
}

#[test]
fn only_the_wanted_quiet_position_is_searched() {
    let folder = puzzles(200);
    let at = folder.path();
    good(at, &["census", "in.txt", "--out", "census"]);
    for input in ["in.txt", "census"] {
        let out = format!("second-of-{input}");
        let wish = ["--position", "2", "--most", "3", "--json", "--out", &out];
        let ran = good(at, &[&["specimen", input], &wish[..]].concat());
        let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        let specimens = json["specimens"].as_array().unwrap();
        assert_eq!(specimens.len(), 3);
        assert!(specimens.iter().all(|specimen| specimen["position"] == 1), "{input}");
    }
}

#[test]
fn a_walk_is_drawn_stop_by_stop() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let line = "..623....2.....6..9.7....8.1..5...6.8.....54....91....7.9..2......3.18.....7.9.5.";
    let plain = good(at, &["inspect", line]).out;
    let ran = good(at, &["inspect", line, "--out", "all"]);
    assert_eq!(ran.out, format!("{plain}\nFigures: all\n"));
    let files = entries(&at.join("all"));
    insta::assert_snapshot!("walk_figures", Vec::from_iter(files.clone()).join("\n"));
    let csv = |name: &str| fs::read_to_string(at.join("all").join(name)).unwrap();
    let givens = csv("start-board.csv").lines().filter(|row| row.contains(",given,")).count();
    assert_eq!((givens, csv("start-board.csv").matches("placed").count()), (25, 0));
    assert!(csv("start-board.csv").lines().all(|row| !row.contains(",candidates,1")));
    assert_eq!(csv("end-board.csv").matches(",placed,").count(), 81 - 25);
    // The file, the house, and what the text says of it.
    assert!(plain.contains("Box 5, 5 open: naked pair 2 7 in r4c5 r5c5;"), "{plain}");
    assert!(csv("position-02-box-5-r4c5-r5c5-house.csv").contains("r4c5,27,naked,"));

    let alone = good(at, &["inspect", line, "--out", "alone", "--position", "2", "--no-key"]);
    assert!(
        alone.out.starts_with("Quiet position 2: ")
            && plain.contains(alone.out.split('\n').next().unwrap())
    );
    let is_second = |name: &&String| name.starts_with("position-02") || *name == "manifest.json";
    let second = files.iter().filter(is_second).cloned();
    assert_eq!(entries(&at.join("alone")), second.collect());
    let json = good(at, &["inspect", line, "--position", "2", "--json"]).out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let scenes = json["quiet_positions"].as_array().unwrap();
    assert_eq!((scenes.len(), &scenes[0]["number"]), (1, &1.into()));
    // The same walk, the same bytes.
    good(at, &["inspect", line, "--out", "again", "--threads", "1"]);
    assert!(dataset_bytes(&at.join("all")) == dataset_bytes(&at.join("again")));
}
