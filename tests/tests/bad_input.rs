//! Input that is cut, spoilt or hostile, and wishes that can't be granted: each ends with a sentence that
//! says what to do, and nothing is lost.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::Stdio;

use flate2::Compression;
use flate2::write::GzEncoder;
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_tests::command::{Ran, command, run, run_line};

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

fn line(folder: &Path, line: &str) -> Ran {
    run_line(folder, &format!("tallyhouse {line}"))
}

fn fails(ran: &Ran, code: i32, message: &str) {
    assert_eq!(ran.code, Some(code), "{ran:?}");
    assert!(ran.err.contains(message), "expected {message:?} in {ran:?}");
    assert!(!ran.err.contains("panicked"), "{ran:?}");
}

fn puzzles(count: u64) -> String {
    let puzzles = MinimalByDeletion { seed: 41 }.puzzles(0..count);
    puzzles.iter().map(|puzzle| format!("{puzzle}\n")).collect()
}

/// Every command that reads puzzles, and what it writes.
const READERS: [&str; 10] = [
    "collect FILE -o out",
    "describe FILE -o out",
    "census FILE -o out",
    "judge FILE --rulebook short-list -o out",
    "yields FILE -o out",
    "card FILE -o out",
    "compare FILE --rulebook short-list --rulebook naked-only -o out",
    "worksheet FILE --look 'naked 2' -o out",
    "specimen FILE --naked 2 -o out",
    "chart clues FILE -o out",
];

#[test]
fn a_packed_file_that_was_cut_off_is_named_with_what_to_do() {
    let folder = folder();
    let text = puzzles(60);
    let mut gzip = GzEncoder::new(Vec::new(), Compression::default());
    gzip.write_all(text.as_bytes()).unwrap();
    let packed = [
        ("cut.gz", gzip.finish().unwrap()),
        ("cut.zst", zstd::encode_all(text.as_bytes(), 1).unwrap()),
    ];
    for (name, packed) in &packed {
        for kept in [packed.len() / 2, packed.len() - 3] {
            fs::write(folder.path().join(name), &packed[..kept]).unwrap();
            for reader in READERS {
                let ran = line(folder.path(), &reader.replace("FILE", name));
                fails(&ran, 1, &format!("cannot read {name} after line "));
                fails(&ran, 1, "data break off: the file was cut; get it anew");
                assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "{reader}: {ran:?}");
            }
        }
        fs::remove_file(folder.path().join(name)).unwrap();
    }
}

/// The file is cut when the command has read half a buffer of it and waits to write what came of it.
#[test]
fn a_file_that_is_cut_while_it_is_read_does_not_look_whole() {
    let folder = folder();
    let path = folder.path().join("in.txt");
    fs::write(&path, puzzles(100).repeat(2_000)).unwrap();
    let size = path.metadata().unwrap().len();
    let mut child = command(folder.path())
        .args(["census", "in.txt", "--tables", "none", "--part-size", "1000", "-o", "out"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A part is done: the reading has begun, and most is still to be read.
    let begun = folder.path().join("out/unfinished/part-00000000.json");
    while !begun.exists() && child.try_wait().unwrap().is_none() {
        std::thread::yield_now();
    }
    fs::File::options().write(true).open(&path).unwrap().set_len(size - 82 * 1000).unwrap();
    let ran: Ran = child.wait_with_output().unwrap().into();
    fails(&ran, 1, "in.txt after line 199000: it ends after ");
    fails(&ran, 1, "it was cut while it was read; run the command again when the file is whole");
    assert!(!folder.path().join("out/manifest.json").exists());
}

#[test]
fn what_others_wrote_gives_no_orders_to_terminals_and_no_formulas_to_spreadsheets() {
    let folder = folder();
    let puzzle = puzzles(1).trim().to_owned();
    let text = format!(
        "# n\u{1b}[31mote\n{puzzle} la\u{1b}]0;bel\u{9b}1m\ttab\n{puzzle} =again\n=1+1\n@x\u{1b}[2J\n"
    );
    fs::write(folder.path().join("in.txt"), text).unwrap();
    let ran = line(folder.path(), "collect in.txt --drop none -o collection");
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    assert_eq!(
        read("collection/rejects.csv"),
        "file,line,text,reason\nin.txt,4,'=1+1,4 characters instead of 81\n\
         in.txt,5,'@x\u{fffd}[2J,6 characters instead of 81\n"
    );
    // A line begins with its puzzle, so no apostrophe is due here.
    let repeats = read("collection/repeats.csv");
    assert!(
        repeats.contains(&format!("in.txt,3,{puzzle} =again,exactly,in.txt,2,no")),
        "{repeats}"
    );
    let manifest = read("collection/manifest.json");
    assert!(manifest.contains("n\u{fffd}[31mote"), "{manifest}");
    let described = line(folder.path(), "describe in.txt");
    assert!(described.out.contains("n\u{fffd}[31mote"), "{described:?}");

    let labelled: String = puzzles(40)
        .lines()
        .map(|puzzle| format!("{puzzle} la\u{1b}]0;bel\u{9b}1m\ttab\n"))
        .collect();
    fs::write(folder.path().join("labelled.txt"), labelled).unwrap();
    let ran = line(folder.path(), "specimen labelled.txt --finds 'hidden 2' --most 1 -o specimen");
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let table = read("specimen/specimens.csv");
    assert!(table.contains("la\u{fffd}]0;bel\u{fffd}1m\ttab"), "{table}");
    // The rejects of a scan are those of a collection, its parts read back and joined.
    let scanned = line(folder.path(), "census in.txt -o census");
    assert_eq!(scanned.code, Some(0), "{scanned:?}");
    assert_eq!(read("census/rejects.csv"), read("collection/rejects.csv"));

    // File names are shown, too.
    let name = "a\u{1b}[31m.txt";
    fs::write(folder.path().join(name), "none\n").unwrap();
    for arguments in [["describe", name].as_slice(), &["collect", name, "-o", "none"]] {
        let ran = run(folder.path(), arguments);
        fails(&ran, 1, "a\u{fffd}[31m.txt");
        assert!(!ran.err.contains("\u{1b}[31m."), "{ran:?}");
    }
}

#[test]
fn fields_of_tables_begin_no_formula() {
    let folder = folder();
    let table: String =
        puzzles(40).lines().map(|puzzle| format!("{puzzle},=HYPERLINK(\"\"x\"\")\n")).collect();
    fs::write(folder.path().join("=in.csv"), format!("puzzle,label\n{table}")).unwrap();
    let ran = line(folder.path(), "specimen =in.csv --finds 'hidden 2' --most 1 -o specimen");
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let path = folder.path().join("specimen/specimens.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let header = reader.headers().unwrap().clone();
    let record = reader.records().next().unwrap().unwrap();
    let field = |name: &str| &record[header.iter().position(|column| column == name).unwrap()];
    assert_eq!((field("source"), &field("label")[..11]), ("'=in.csv", "'=HYPERLINK"));
    // Numbers stay numbers.
    assert!(field("score").parse::<i32>().is_ok(), "{}", field("score"));
}

#[test]
fn a_collection_without_a_valid_puzzle_is_an_error_everywhere() {
    let folder = folder();
    fs::write(folder.path().join("bad.txt"), "none\nnor this\n").unwrap();
    for reader in READERS {
        let ran = line(folder.path(), &reader.replace("FILE", "bad.txt"));
        fails(&ran, 1, "none of the 2 rows is a valid puzzle; the first: bad.txt, line 1: 4 char");
        assert!(!ran.out.contains("NaN") && !ran.err.contains("NaN"), "{ran:?}");
        let out = folder.path().join("out");
        if let Some((_, list)) = ran.err.trim().split_once("all are listed in ") {
            assert!(folder.path().join(list).is_file(), "{reader}: {list}");
            fs::remove_dir_all(out).unwrap();
        } else {
            assert!(!out.join("manifest.json").exists(), "{reader}");
        }
    }
    fails(&line(folder.path(), "describe bad.txt"), 1, "bad.txt: none of the 2 rows is a valid");
}

#[test]
fn a_study_keeps_the_list_of_rejected_rows_that_its_message_names() {
    let folder = folder();
    let at = |name: &str| folder.path().join(name);
    fs::write(at("bad.txt"), "none\nnor this\n").unwrap();
    let recipe = "name = \"bad\"\ntitle = \"Bad\"\n[[collection]]\nname = \"bad\"\ntitle = \"Bad\"\n\
                  files = [\"bad.txt\"]\n";
    fs::write(at("recipe.toml"), recipe).unwrap();
    let study = || line(folder.path(), "study recipe.toml -o study");
    for _ in 0..2 {
        let ran = study();
        fails(&ran, 1, "none of the 2 rows is a valid puzzle");
        let list = ran.err.trim().split_once("all are listed in ").unwrap().1;
        assert_eq!(list, "study/work/census-bad/rejects.csv");
        assert_eq!(fs::read_to_string(at(list)).unwrap().lines().count(), 3);
    }
    // With puzzles in the file the same command does the study.
    fs::write(at("bad.txt"), puzzles(20)).unwrap();
    let ran = study();
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(at("study/report.html").exists());
    assert!(!at("study/work/census-bad/rejects.csv").exists());
}

/// Numbers out of their limits, on the command line and in a recipe, and the limits that are told.
const LIMITS: [(&str, &str, &str); 12] = [
    (
        "make -o x --count 2000000000000",
        "[[collection]]\nname = \"b\"\ntitle = \"B\"\nseed = 1\ncount = 2000000000000",
        "1 to 1000000000000",
    ),
    (
        "make -o x --count 0",
        "[[collection]]\nname = \"b\"\ntitle = \"B\"\nseed = 1\ncount = 0",
        "1 to 1000000000000",
    ),
    (
        "make -o x --count 9 --method splitting --population 1000001",
        "[[collection]]\nname = \"b\"\ntitle = \"B\"\nseed = 1\ncount = 1\nmethod = \"splitting\"\npopulation = 1000001",
        "1 to 1000000",
    ),
    (
        "order -o x --training-count 1",
        "[order]\nstart = \"short-list\"\nseed = 1\ntraining_count = 1\nheld_out_count = 9",
        "2 to 1000000",
    ),
    (
        "order -o x --held-out-count 10000001",
        "[order]\nstart = \"short-list\"\nseed = 1\ntraining_count = 9\nheld_out_count = 10000001",
        "2 to 10000000",
    ),
    (
        "order -o x --evaluations 0",
        "[order]\nstart = \"short-list\"\nseed = 1\ntraining_count = 9\nheld_out_count = 9\nevaluations = 0",
        "1 to 10000000",
    ),
    (
        "order -o x --runs 2",
        "[order]\nstart = \"short-list\"\nseed = 1\ntraining_count = 9\nheld_out_count = 9\nruns = 2",
        "3 to 100",
    ),
    (
        "order -o x --frontier 1001",
        "[order]\nstart = \"short-list\"\nseed = 1\ntraining_count = 9\nheld_out_count = 9\nfrontier = 1001",
        "1 to 1000",
    ),
    ("chart effort a -o x --count 0", "[effort]\nshapes = [[6, 2]]\npuzzles = 0", "1 to 10000000"),
    ("specimen a -o x --most 0", "[[specimens.show]]\ntitle = \"S\"\nmost = 0", "1 to 1000"),
    (
        "specimen a -o x --eliminations 73",
        "[[specimens.show]]\ntitle = \"S\"\neliminations = 73",
        "1 to 72",
    ),
    (
        "worksheet a -o x --rulebook short-list --count 1001",
        "[worksheet]\nrulebook = \"short-list\"\ncount = 1001",
        "1 to 1000",
    ),
];

#[test]
fn numbers_have_the_same_limits_in_recipes_and_on_the_command_line() {
    let folder = folder();
    let head = "name = \"a\"\ntitle = \"A\"\n[[collection]]\nname = \"a\"\ntitle = \"A\"\n\
                files = [\"a\"]\n";
    for (typed, recipe, limits) in LIMITS {
        let (low, high) = limits.split_once(" to ").unwrap();
        let ran = line(folder.path(), typed);
        fails(&ran, 2, &format!("is not in {low}..={high}"));
        fs::write(folder.path().join("r.toml"), format!("{head}{recipe}\n")).unwrap();
        let ran = line(folder.path(), "study r.toml -o x");
        let told = ran.err.replace(',', "");
        assert!(ran.code == Some(1) && told.contains(&format!("expected {limits}")), "{ran:?}");
        // The key and what was found.
        let (key, found) = recipe
            .lines()
            .map(|line| line.split_once(" = ").unwrap_or_default())
            .find(|(key, value)| {
                let is_number = value.parse::<u64>().is_ok();
                is_number && told.contains(&format!("{key} is {value}:"))
            })
            .unwrap_or_else(|| panic!("{ran:?}"));
        assert!(typed.contains(found), "{key}: {typed}");
        assert!(!folder.path().join("x").exists(), "{typed}");
    }
    // What is no whole number is told with its key.
    for (recipe, message) in [
        (
            "[order]\nstart = \"short-list\"\nseed = 1\ntraining_count = -9\nheld_out_count = 9",
            "line 10: training_count is -9: expected 2 to 1,000,000",
        ),
        (
            "[charts]\ndpi = 70000",
            "line 8: dpi: found '70000', expected a number of dots per inch from 72 to 1200",
        ),
        (
            "[[specimens.show]]\ntitle = \"S\"\nopen = -1",
            "line 9: open: found '-1', expected a number from 1 to 9 or a range",
        ),
        (
            "[effort]\nshapes = [[6, 2]]\npuzzles = \"many\"",
            "line 9: puzzles: invalid type: string \"many\", expected i64",
        ),
    ] {
        fs::write(folder.path().join("r.toml"), format!("{head}{recipe}\n")).unwrap();
        fails(&line(folder.path(), "study r.toml -o x"), 1, message);
    }
    fails(&line(folder.path(), "describe a --threads 2000"), 2, "2000 is not in 1..=1024");
}

/// There is hardly a puzzle of 17 clues among those by random deletion, and nothing proves that there is
/// none of 36.
#[test]
fn hopeless_wishes_are_given_up_after_a_number_of_tries() {
    let folder = folder();
    for count in ["1", "5000"] {
        let wish = format!("make --count {count} --seed 1 --clues 36 --limit 2000 -o x");
        let ran = line(folder.path(), &wish);
        let tries = if count == "1" { "2,000" } else { "2,048" };
        fails(
            &ran,
            1,
            &format!("x is unfinished: puzzle 0: nothing that fits the wishes in {tries} tries"),
        );
        fails(&ran, 1, "wish for less, or continue it with --resume and a higher --limit");
        fs::read_dir(folder.path()).unwrap().for_each(|left| {
            fs::remove_file(left.unwrap().path()).unwrap();
        });
    }
    // The limit changes nothing that is made; with a higher one the run goes on.
    let wish = |more: &str| format!("make --count 40 --seed 1 --clues 22 --redundant {more}");
    let make = |more: &str| line(folder.path(), &wish(more));
    assert_eq!(make("-o whole").code, Some(0));
    let stopped = make("--limit 1 -o part");
    assert_eq!(stopped.code, Some(1), "{stopped:?}");
    assert_eq!(make("--resume -o part").code, Some(0));
    let read = |name: &str| fs::read(folder.path().join(name)).unwrap();
    assert_eq!(read("whole"), read("part"));
}

#[test]
fn an_order_is_searched_on_the_rows_that_are_puzzles() {
    let folder = folder();
    let all = puzzles(40);
    let (training, held_out) = all.split_at(all.len() / 2);
    let several = ".".repeat(81);
    let spoilt = |text: &str, row: &str| format!("{row}\n{text}");
    for (name, text) in [
        ("a.txt", training.to_owned()),
        ("b.txt", held_out.to_owned()),
        ("a-bad.txt", spoilt(training, "no puzzle")),
        ("b-bad.txt", spoilt(held_out, &several)),
        ("none.txt", "no puzzle\n".to_owned()),
    ] {
        fs::write(folder.path().join(name), text).unwrap();
    }
    let search = |a: &str, b: &str, out: &str| {
        let files = format!("--training {a} --held-out {b}");
        line(folder.path(), &format!("order {files} --evaluations 3 -o {out}"))
    };
    let (good, bad) = (search("a.txt", "b.txt", "good"), search("a-bad.txt", "b-bad.txt", "bad"));
    assert_eq!((good.code, bad.code), (Some(0), Some(0)), "{bad:?}");
    assert!(bad.err.contains("2 of 42 rows"), "{bad:?}");
    let read = |path: &str| fs::read_to_string(folder.path().join(path)).unwrap();
    assert_eq!(read("good/frontier.csv"), read("bad/frontier.csv"));
    let list = read("bad/rejects.csv");
    let rows: Vec<&str> = list.lines().skip(1).collect();
    assert!(rows[0].starts_with("a-bad.txt,1,no puzzle,"), "{list}");
    assert!(rows[1].starts_with("b-bad.txt,1,") && rows.len() == 2, "{list}");
    let none = search("a.txt", "none.txt", "none");
    fails(&none, 1, "none of the 1 rows is a valid puzzle; the first: none.txt, line 1: ");
    assert!(read("none/rejects.csv").contains("none.txt,1,no puzzle,"));
}
