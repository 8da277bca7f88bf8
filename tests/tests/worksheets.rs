//! `worksheet`: what its items promise, shown by another walk; its pages, as poppler reads them.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Command;

use tallyhouse_board::{Cell, CellSet, Clues, Digit, DigitSet, Frame9, House, Puzzle};
use tallyhouse_collection::canonical;
use tallyhouse_engine::effort::{GlanceWeights, look_effort};
use tallyhouse_engine::{
    HouseSplits, Look, Order, Position, QuietPosition, Recorder, Shape, Subset, WalkOptions, walk,
};
use tallyhouse_tests::command::{dataset_bytes, run, run_line};
use tempfile::TempDir;

const HEADER: &str =
    "item,kind,puzzle,position,house,look,open,score,naked,hidden,eliminations,next";

/// Puzzles, half of which need more than singles, and a bad row.
fn puzzles(count: u32) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let count = count.to_string();
    let make = ["make", "--count", &count, "--seed", "12", "--needs-subset", "-o", "in.txt"];
    assert_eq!(run(folder.path(), &make).code, Some(0));
    let text = fs::read_to_string(folder.path().join("in.txt")).unwrap();
    fs::write(folder.path().join("in.txt"), format!("{text}broken\n")).unwrap();
    folder
}

/// Runs `worksheet in.txt` with some options and returns the rows of its items by their columns, and as
/// `key` what the key of `worksheet.md` says.
fn items(folder: &Path, options: &str, out: &str) -> Vec<BTreeMap<String, String>> {
    let ran = run_line(folder, &format!("tallyhouse -q worksheet in.txt {options} -o {out}"));
    assert_eq!((ran.code, &*ran.err), (Some(0), ""), "{options}: {ran:?}");
    let text = fs::read_to_string(folder.join(out).join("items.csv")).unwrap();
    assert_eq!(text.lines().next(), Some(HEADER));
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let mut rows: Vec<BTreeMap<String, String>> =
        reader.deserialize().map(Result::unwrap).collect();
    let words = fs::read_to_string(folder.join(out).join("worksheet.md")).unwrap();
    for row in &mut rows {
        let start = format!("Item {}, ", row["item"]);
        let key = words.lines().find(|line| line.starts_with(&start)).unwrap();
        row.insert("key".to_owned(), key.to_owned());
    }
    rows
}

/// The quiet positions of a walk by the simple engine: the boards with all their subsets.
#[derive(Default)]
struct Stops(Vec<(Position, Vec<Subset>)>);

impl Recorder for Stops {
    fn quiet_position(&mut self, quiet: &QuietPosition<'_>) {
        let position = Position::from_states(&(quiet.states)()).unwrap();
        self.0.push((position, quiet.subsets.to_vec()));
    }
}

/// Tests if a puzzle is solved by singles and those subsets that are allowed, in no order.
fn is_solved_by(puzzle: &Puzzle, allowed: &dyn Fn(&Subset) -> bool) -> bool {
    let mut position = Position::new(puzzle);
    loop {
        if position.is_solved() {
            return true;
        }
        let single = singles(&position, &House::all().collect::<Vec<_>>()).into_iter().next();
        if let Some((cell, digit)) = single {
            position.place(cell, digit).unwrap();
            continue;
        }
        let found = House::all().find_map(|house| {
            let splits = HouseSplits::of_house(&position, house).unwrap();
            splits.subsets(house).find(|subset| allowed(subset))
        });
        let Some(subset) = found else { return false };
        let cells = subset.house.cells();
        let others = position.open_places(subset.house) - subset.cells;
        for place in others.iter() {
            position.remove(cells[place], subset.digits);
        }
    }
}

/// The digits that can be placed, seen in some houses.
fn singles(position: &Position, houses: &[House]) -> BTreeSet<(Cell, Digit)> {
    let mut found = BTreeSet::new();
    for house in houses {
        let open = house.cells().iter().filter(|cell| position.fixed(**cell).is_none());
        let open: Vec<Cell> = open.copied().collect();
        for &cell in &open {
            let candidates = position.candidates(cell);
            found.extend((candidates.len() == 1).then(|| (cell, candidates.first().unwrap())));
        }
        for digit in DigitSet::FULL.iter() {
            let places = open.iter().filter(|cell| position.candidates(**cell).contains(digit));
            if let [cell] = places.copied().collect::<Vec<_>>()[..] {
                found.insert((cell, digit));
            }
        }
    }
    found
}

fn cells(text: &str) -> CellSet {
    text.split_whitespace().map(|cell| cell.parse::<Cell>().unwrap()).collect()
}

/// Checks the key of an item at the position where it stands, and its score if it is by the reader who
/// marks and by a look for every open count; returns the subset.
/// On a board nothing easier finds anything there.
fn check_key(row: &BTreeMap<String, String>, easier: &[Look], is_scored: bool) -> Subset {
    let puzzle: Puzzle = row["puzzle"].parse().unwrap();
    let mut stops = Stops::default();
    walk(&puzzle, &WalkOptions::default(), &mut stops);
    let number: usize = row["position"].parse().unwrap();
    let (position, subsets) = &stops.0[number - 1];
    let house: House = row["house"].parse().unwrap();
    let here: Vec<&Subset> = subsets.iter().filter(|subset| subset.house == house).collect();
    let (naked, hidden) = (cells(&row["naked"]), cells(&row["hidden"]));
    let side = |subset: &Subset| -> CellSet {
        subset.cells.iter().map(|place| house.cells()[place]).collect()
    };
    let subset = **here.iter().find(|subset| side(subset) == naked).unwrap();
    let look: Look = row["look"].parse().unwrap();
    assert!(look.finds(&subset), "{row:?}");
    if row["kind"] == "house" {
        assert_eq!(here.len(), 1, "{row:?}");
    } else {
        assert!(subset.applied, "{row:?}");
        let is_easy = |subset: &Subset| easier.iter().any(|look| look.finds(subset));
        assert!(!subsets.iter().any(is_easy), "{row:?}");
    }
    // All else that the look finds in sight is as right.
    let found = subsets.iter().filter(|other| look.finds(other));
    let in_sight = found.filter(|other| row["kind"] == "board" || other.house == house).count();
    let others =
        row["key"].split_once(" As right: ").map_or(0, |(_, all)| all.matches(" (").count());
    assert_eq!(others, in_sight - 1, "{row:?}");

    let open: CellSet =
        house.cells().iter().copied().filter(|cell| position.fixed(*cell).is_none()).collect();
    assert_eq!((naked | hidden, naked.len() + hidden.len()), (open, open.len()));
    assert_eq!(row["open"], open.len().to_string());
    let digits = naked.iter().fold(DigitSet::EMPTY, |all, cell| all | position.candidates(cell));
    assert_eq!(digits.len(), naked.len());
    let mut after = position.clone();
    let mut removed = Vec::new();
    for cell in house.cells().iter().filter(|cell| hidden.contains(**cell)) {
        let going = position.candidates(*cell) & digits;
        removed.extend(going.iter().map(|digit| format!("{cell}-{digit}")));
        after.remove(*cell, going);
    }
    assert_eq!(row["eliminations"], removed.join(" "));
    assert_eq!(removed.len(), usize::from(subset.eliminations));
    let seen = if row["kind"] == "house" { vec![house] } else { House::all().collect() };
    let next = singles(&after, &seen).into_iter().map(|(cell, digit)| format!("{cell}={digit}"));
    assert_eq!(row["next"], next.collect::<Vec<_>>().join(" "));

    // Each house is looked at in its turn, up to the find.
    let before = House::all().take_while(|other| row["kind"] == "board" && *other != house);
    let looked_at = before.chain([house]).map(|house| look_effort(position, house, look).glances);
    let glances: f64 = looked_at.map(|made| made.cost(&GlanceWeights::default())).sum();
    let others = if row["kind"] == "board" { subsets.len() - 1 } else { 0 };
    let score = glances + (open.len() + others) as f64;
    assert!(!is_scored || row["score"] == score.to_string(), "{score}: {row:?}");
    subset
}

/// Checks what holds for all items of a sheet.
fn check_sheet(rows: &[BTreeMap<String, String>]) {
    let scores: Vec<f64> = rows.iter().map(|row| row["score"].parse().unwrap()).collect();
    assert!(scores.is_sorted() && scores[0] > 0.0, "{scores:?}");
    assert!(rows.iter().zip(1..).all(|(row, number)| row["item"] == number.to_string()));
    let form = |row: &BTreeMap<String, String>| {
        let puzzle: Puzzle = row["puzzle"].parse().unwrap();
        canonical(&Clues::<Frame9>::from(&puzzle)).form.to_string()
    };
    assert_eq!(rows.iter().map(form).collect::<BTreeSet<_>>().len(), rows.len());
}

/// 520 boards of several sheets: each is solved by what the sheet names, needs what is practised, and its
/// key is what the simple engine and the rules give.
#[test]
fn every_board_is_solvable_needs_what_is_practised_and_nothing_harder() {
    let folder = puzzles(9000);
    let ladder = |last: &str| {
        let ladder = Order::ladder().looks().to_vec();
        let end = ladder.iter().position(|look| look.to_string() == last).unwrap();
        ladder[..=end].to_vec()
    };
    let book = |looks: &str| looks.parse::<Order>().unwrap().looks().to_vec();
    let short_list = "naked 1, hidden 1, naked 2, hidden 2, naked 3, naked 4 open 8, naked 5 open 8, \
        naked 4 open 9, hidden 5 open 9, naked 5 open 9";
    let mut checked = 0;
    let mut check =
        |options: &str, looks: Vec<Look>, own: &str, is_practised: &dyn Fn(Shape) -> bool| {
            let own = looks.iter().position(|look| look.to_string() == own).unwrap();
            let out = format!("sheet-{checked}");
            let rows = items(folder.path(), options, &out);
            check_sheet(&rows);
            for row in &rows {
                check_key(
                    row,
                    &looks[..own],
                    !options.contains("open 7") && !options.contains("short-list"),
                );
                let puzzle: Puzzle = row["puzzle"].parse().unwrap();
                let is_sought = |subset: &Subset| looks.iter().any(|look| look.finds(subset));
                assert!(is_solved_by(&puzzle, &is_sought), "{options}: {row:?}");
                let is_left = |subset: &Subset| is_sought(subset) && !is_practised(subset.shape());
                assert!(!is_solved_by(&puzzle, &is_left), "{options}: {row:?}");
                let is_easy = |subset: &Subset| looks[..own].iter().any(|look| look.finds(subset));
                assert!(!is_solved_by(&puzzle, &is_easy), "{options}: {row:?}");
            }
            checked += rows.len();
            rows
        };
    let naked = |size: u8| move |shape: Shape| shape.naked() == size && shape.hidden() > 1;
    let hidden = |size: u8| move |shape: Shape| shape.hidden() == size && shape.naked() > 1;
    check("--look 'naked 2' --count 150", ladder("naked 2"), "naked 2", &naked(2));
    check("--look 'hidden 2' --count 150", ladder("hidden 2"), "hidden 2", &hidden(2));
    let seven =
        check("--look 'hidden 2 open 7..9' --count 60", ladder("hidden 2"), "hidden 2", &hidden(2));
    assert!(seven.iter().all(|row| row["open"].as_str() >= "7"));
    check("--look 'naked 3' --count 40", ladder("naked 3"), "naked 3", &naked(3));
    let shape = check(
        "--shape '6 open: naked 4 | hidden 2' --count 40",
        ladder("hidden 2"),
        "hidden 2",
        &hidden(2),
    );
    assert!(shape.iter().all(|row| row["open"] == "6" && cells(&row["naked"]).len() == 4));
    check("--rulebook short-list --count 60", book(short_list), "naked 2", &|shape| {
        shape.naked() > 1 && shape.hidden() > 1
    });
    check(
        "--rulebook up-to-triples --look 'naked 2' --count 20",
        ladder("hidden 3"),
        "naked 2",
        &naked(2),
    );
    assert!(checked >= 520, "{checked}");
}

#[test]
fn every_house_holds_one_split_and_no_other() {
    let folder = puzzles(1000);
    for (options, open) in [
        ("--kind house --look 'naked 2' --count 100", 4..=9),
        ("--kind house --look 'hidden 3' --count 20 --reader unmarked", 5..=9),
        ("--kind house --rulebook full-ladder --count 100 --seed 5", 4..=9),
    ] {
        let rows = items(folder.path(), options, &format!("out-{}", options.len()));
        check_sheet(&rows);
        for row in &rows {
            let subset = check_key(row, &[], !options.contains("reader"));
            assert!(open.contains(&subset.open), "{row:?}");
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes_whatever_the_threads() {
    let folder = puzzles(2500);
    let sheet = |options: &str, out: &str| {
        items(folder.path(), &format!("--look 'hidden 2' --count 9 {options}"), out);
        dataset_bytes(&folder.path().join(out))
    };
    let first = sheet("--threads 1", "one");
    assert_eq!(
        first.keys().map(|path| path.display().to_string()).collect::<Vec<_>>(),
        ["items.csv", "manifest.json", "rejects.csv", "times.csv", "worksheet.md", "worksheet.pdf"]
    );
    assert!(first == sheet("--threads 3", "three"));
    assert!(first != sheet("--threads 3 --seed 2", "other"));
    // The order of puzzles does not matter to what is drawn.
    let text = fs::read_to_string(folder.path().join("in.txt")).unwrap();
    let turned: Vec<&str> = text.lines().rev().collect();
    fs::write(folder.path().join("in.txt"), turned.join("\n")).unwrap();
    let puzzles = |bytes: &BTreeMap<_, Vec<u8>>| -> BTreeSet<String> {
        let text = String::from_utf8(bytes[Path::new("items.csv")].clone()).unwrap();
        text.lines().skip(1).map(|row| row.split(',').nth(2).unwrap().to_owned()).collect()
    };
    assert_eq!(puzzles(&first), puzzles(&sheet("", "turned")));
}

#[test]
fn the_form_for_times_names_items_and_looks() {
    let folder = puzzles(300);
    let rows = items(folder.path(), "--rulebook full-ladder --count 5", "out");
    let times = fs::read_to_string(folder.path().join("out/times.csv")).unwrap();
    let expected = rows.iter().map(|row| format!(",{},{},,\n", row["item"], row["look"]));
    let head = "person,item,look,seconds,found\n".to_owned();
    assert_eq!(times, head + &expected.collect::<String>());
    let text = fs::read_to_string(folder.path().join("out/worksheet.md")).unwrap();
    for words in ["# Practice: subsets", "## Items", "## Times", "## Key", "| 5 |"] {
        assert!(text.contains(words), "{words}: {text}");
    }
}

#[test]
fn a_form_that_was_filled_in_is_understood() {
    let folder = puzzles(900);
    let rows = items(folder.path(), "--kind house --rulebook full-ladder --count 40", "out");
    let form = fs::read_to_string(folder.path().join("out/times.csv")).unwrap();
    let mut filled = form.lines().next().unwrap().to_owned() + "\n";
    for person in 1..=9 {
        for (line, row) in form.lines().skip(1).zip(&rows) {
            let score: f64 = row["score"].parse().unwrap();
            let seconds = f64::from(person) * score / 5.0;
            filled += &format!("{person}{},{seconds},yes\n", line.strip_suffix(",,").unwrap());
        }
    }
    fs::write(folder.path().join("times.csv"), filled).unwrap();
    let ran = run_line(folder.path(), "tallyhouse timings times.csv --items out/items.csv");
    assert_eq!((ran.code, &*ran.err), (Some(0), ""), "{ran:?}");
}

#[test]
fn too_few_items_are_told_and_nothing_is_written() {
    let folder = puzzles(40);
    let line = "tallyhouse worksheet in.txt --look 'hidden 4' --count 30 -o out";
    let ran = run_line(folder.path(), line);
    assert_eq!(ran.code, Some(1), "{ran:?}");
    assert!(ran.err.contains(" of the 30 items asked for in 40 valid puzzles"), "{ran:?}");
    assert!(!folder.path().join("out").exists());
}

/// Runs a program of poppler in a folder and returns what it prints.
fn poppler(folder: &Path, line: &[&str]) -> String {
    let output = Command::new(line[0]).args(&line[1..]).current_dir(folder).output().unwrap();
    let complaints = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{complaints}");
    // It complains of each tagged file that an entry is a boolean, as ISO 32000-1 wants it (table 321,
    // from memory).
    let known = |line: &&str| line.contains("Suspects object is wrong type (boolean)");
    let unknown: Vec<&str> = complaints.lines().filter(|line| !known(line)).collect();
    assert!(unknown.is_empty(), "{unknown:#?}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
#[ignore = "needs poppler: run with --include-ignored"]
fn poppler_finds_items_form_and_key_on_pages_of_their_own() {
    let folder = puzzles(1500);
    for (paper, points) in [("a4", [595.28, 841.89]), ("letter", [612.0, 792.0])] {
        for kind in ["board", "house"] {
            let options = format!("--look 'naked 2' --count 13 --kind {kind} --paper {paper}");
            let rows = items(folder.path(), &options, &format!("{kind}-{paper}"));
            let at = folder.path().join(format!("{kind}-{paper}"));
            let about = poppler(&at, &["pdfinfo", "worksheet.pdf"]);
            let size = about.lines().find_map(|line| line.strip_prefix("Page size:")).unwrap();
            let found: Vec<f64> = size.split(' ').filter_map(|word| word.parse().ok()).collect();
            assert!(found.iter().zip(points).all(|(a, b)| (a - b).abs() < 0.5), "{size}");
            let text = poppler(&at, &["pdftotext", "-layout", "worksheet.pdf", "-"]);
            let pages: Vec<&str> = text.split('\u{c}').filter(|page| !page.is_empty()).collect();
            let with = |words: &str| -> Vec<usize> {
                let pages = pages.iter().enumerate();
                pages.filter(|(_, page)| page.contains(words)).map(|(page, _)| page).collect()
            };
            let (form, key) = (with("Seconds run from"), with("quiet position"));
            assert!(form.len() == 1 && *key.first().unwrap() == form[0] + 1, "{form:?} {key:?}");
            assert_eq!(*key.last().unwrap() + 1, pages.len());
            for row in &rows {
                let places = with(&format!("Item {}", row["item"]));
                assert!(places.first().unwrap() < &form[0], "{row:?}: {places:?}");
                assert!(places.last().unwrap() > &form[0], "{row:?}: {places:?}");
            }
            assert!(with(&format!("page 1 of {}", pages.len())) == [0]);
            poppler(&at, &["pdftoppm", "-r", "50", "-png", "worksheet.pdf", "page"]);
            let pictures = fs::read_dir(&at).unwrap().filter(|entry| {
                entry.as_ref().unwrap().path().extension().is_some_and(|ending| ending == "png")
            });
            assert_eq!(pictures.count(), pages.len());
        }
    }
}
