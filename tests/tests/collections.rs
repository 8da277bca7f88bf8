//! Collection folders: what is read, kept, rejected and repeated, and what a scan makes of it.

use std::fs::{self, File};
use std::path::Path;

use polars_io::SerReader;
use polars_io::prelude::ParquetReader;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Clues, Frame9, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_oracles::{Relabelling, Symmetry};
use tallyhouse_tests::command::{Ran, run};

fn good(folder: &Path, arguments: &[&str]) -> Ran {
    let ran = run(folder, arguments);
    assert_eq!(ran.code, Some(0), "{arguments:?}: {ran:?}");
    ran
}

fn puzzles() -> Vec<Puzzle> {
    MinimalByDeletion { seed: 77 }.puzzles(0..40)
}

fn image(puzzle: &Puzzle, seed: u64) -> Puzzle {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let clues = Symmetry::<Frame9>::random(&mut rng).apply(&Clues::from(puzzle));
    Puzzle::try_from(&Relabelling::<Frame9>::random(&mut rng).apply(&clues)).unwrap()
}

fn json(path: &Path) -> serde_json::Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn every_row_is_kept_rejected_or_reported_as_a_repeat() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let made = puzzles();
    let lines: Vec<String> = made.iter().map(ToString::to_string).collect();
    fs::write(at("a.txt"), lines[..30].join("\r\n") + "\n81 characters it has not\n").unwrap();
    let grid = |line: &str| {
        let rows: Vec<&str> = (0..9).map(|row| &line[9 * row..9 * row + 9]).collect();
        rows.join("\n")
    };
    let grids: Vec<String> = lines[30..].iter().map(|line| grid(line)).collect();
    let (again, alike) = (lines[3].clone(), image(&made[4], 5).to_string());
    fs::write(at("b.txt"), format!("{}\n\n{again}\n{alike}\n", grids.join("\n\n"))).unwrap();
    let expect = |drop: &str, kept: u64, dropped: u64| {
        let out = format!("out-{drop}");
        let arguments = ["collect", "a.txt", "b.txt", "--drop", drop, "--out", &out];
        let ran = good(folder.path(), &arguments);
        assert!(ran.out.contains("Read 43 rows: 42 accepted, 1 rejected."), "{}", ran.out);
        let totals = &json(&at(&out).join("manifest.json"))["totals"];
        for (name, value) in [
            ("read", 43),
            ("rejected", 1),
            ("accepted", 42),
            ("repeated", 1),
            ("equivalent", 1),
            ("dropped", dropped),
            ("puzzles", kept),
        ] {
            assert_eq!(totals[name], value, "{drop}: {name}");
        }
        let repeats = fs::read_to_string(at(&out).join("repeats.csv")).unwrap();
        assert!(repeats.contains("exactly,a.txt,4,"), "{repeats}");
        assert!(repeats.contains("equivalent,a.txt,5,"), "{repeats}");
        let rejects = fs::read_to_string(at(&out).join("rejects.csv")).unwrap();
        assert!(rejects.contains("a.txt,31,81 characters it has not,"), "{rejects}");
        // A scan of the folder reads just these puzzles: it has the digest of the collection.
        let census = format!("census-{drop}");
        good(folder.path(), &["census", &out, "--tables", "none", "--out", &census]);
        let scanned = json(&at(&census).join("manifest.json"));
        assert_eq!(scanned["totals"]["puzzles"], kept);
        let collected = json(&at(&out).join("manifest.json"));
        assert_eq!(scanned["collection"]["blake3"], collected["blake3"]);
    };
    expect("none", 42, 0);
    expect("exact", 41, 1);
    expect("equivalent", 40, 2);
}

#[test]
fn folders_that_are_no_collection_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |message: &str| {
        let ran = run(folder.path(), &["census", "some", "--out", "out"]);
        assert_eq!(ran.code, Some(1), "{ran:?}");
        assert!(ran.err.contains(message), "{}", ran.err);
        assert!(!folder.path().join("out").exists());
    };
    fs::create_dir(folder.path().join("some")).unwrap();
    refused("some is not a collection folder: it has no manifest.json");
    fs::write(folder.path().join("some/manifest.json"), "{\"kind\": \"recipe\"}").unwrap();
    refused("its manifest.json is that of something else");
}

#[test]
fn a_label_stays_a_label_whatever_it_says() {
    let folder = tempfile::tempdir().unwrap();
    let made = puzzles();
    let table = format!("puzzle,label\n{},weight=2 family=3\n{},plain\n", made[0], made[1]);
    fs::write(folder.path().join("in.csv"), table).unwrap();
    good(folder.path(), &["collect", "in.csv", "--out", "collection"]);
    good(folder.path(), &["census", "collection", "--out", "census"]);
    let totals = &json(&folder.path().join("census/manifest.json"))["totals"];
    assert_eq!((&totals["puzzles"], &totals["weighted"]), (&2.into(), &0.into()));
    let collected = json(&folder.path().join("collection/manifest.json"));
    let scanned = json(&folder.path().join("census/manifest.json"));
    assert_eq!(scanned["collection"]["blake3"], collected["blake3"]);
}

#[test]
fn weights_and_families_reach_the_tables_and_the_shares() {
    let folder = tempfile::tempdir().unwrap();
    let made = puzzles();
    let weight = |index: usize| 1 + index % 7;
    let lines: Vec<String> = made
        .iter()
        .enumerate()
        .map(|(i, puzzle)| format!("{puzzle} no. {i} weight={} family={}", weight(i), i / 4))
        .collect();
    fs::write(folder.path().join("in.txt"), lines.join("\n")).unwrap();
    good(folder.path(), &["collect", "in.txt", "--out", "collection"]);
    let ran = good(folder.path(), &["census", "collection", "--out", "census"]);
    let (counts, shares) = ran.out.split_once("\nBy weight, with 95 % intervals: ").unwrap();
    assert!(shares.starts_with("the walk solved "), "{shares}");
    // Without weights nothing is told but counts.
    assert!(counts.starts_with("Scanned 40 puzzles, counted here"), "{counts}");
    assert!(!counts.contains(" %") && !counts.contains("mean"), "{counts}");

    // Their interval is not that of a plain share.
    let chart = ["chart", "narrowing", "census", "--out", "charts"];
    let refused = run(folder.path(), &chart);
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("census has weights or families"), "{}", refused.err);

    let table = |name: &str| {
        let path = folder.path().join("census").join(name).join("part-00000000.parquet");
        ParquetReader::new(File::open(path).unwrap()).finish().unwrap()
    };
    let puzzles = table("puzzles");
    let weights = puzzles.column("weight").unwrap().f64().unwrap();
    let families = puzzles.column("family").unwrap().i64().unwrap();
    for row in 0..made.len() {
        assert_eq!(weights.get(row), Some(weight(row) as f64));
        assert_eq!(families.get(row), Some(row as i64 / 4));
    }

    // The shares once more, by hand from the table of subsets.
    let subsets = table("subsets");
    let number = |column: &str, row: usize| -> u64 {
        subsets.column(column).unwrap().get(row).unwrap().extract().unwrap()
    };
    let proper = |row: usize| {
        ["naked_proper", "hidden_proper"]
            .iter()
            .any(|side| subsets.column(side).unwrap().bool().unwrap().get(row) == Some(true))
    };
    let mut reader = csv::Reader::from_path(folder.path().join("census/shares.csv")).unwrap();
    let total: usize = (0..made.len()).map(weight).sum();
    let mut seen = 0;
    for record in reader.records().map(Result::unwrap) {
        let (open, naked): (u64, u64) = (record[0].parse().unwrap(), record[1].parse().unwrap());
        let mut with: Vec<u64> = (0..subsets.height())
            .filter(|&row| number("open", row) == open && number("naked", row) == naked)
            .filter(|&row| proper(row))
            .map(|row| number("puzzle", row))
            .collect();
        with.dedup();
        assert_eq!(record[3].parse(), Ok(with.len()));
        let share: f64 = record[4].parse().unwrap();
        let exact = with.iter().map(|&p| weight(p as usize)).sum::<usize>() as f64 / total as f64;
        assert!((share - exact).abs() < 1e-12, "{record:?} {exact}");
        seen += with.len();
    }
    assert!(seen > 50, "{seen}");
}

#[test]
fn a_description_is_the_same_for_a_file_and_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    let text: Vec<String> = puzzles().iter().map(ToString::to_string).collect();
    fs::write(folder.path().join("in.txt"), text.join("\n")).unwrap();
    good(folder.path(), &["collect", "in.txt", "--out", "collection"]);
    let of = |source: &str, threads: &str| -> serde_json::Value {
        let ran = good(folder.path(), &["describe", source, "--json", "--threads", threads]);
        let mut value: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        value["sources"] = serde_json::Value::Null;
        value
    };
    let described = of("in.txt", "1");
    assert_eq!(described, of("collection", "2"));
    assert_eq!(described["puzzles"], 40);
    assert_eq!(described["minimal_puzzles"], 40);
    good(folder.path(), &["describe", "in.txt", "--out", "described"]);
    for file in
        ["description.txt", "description.json", "clues.svg", "clues.png", "clues.pdf", "clues.csv"]
    {
        assert!(folder.path().join("described").join(file).metadata().unwrap().len() > 0, "{file}");
    }
}

#[test]
fn made_puzzles_resume_to_the_same_bytes_and_wishes_are_checked() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let make = ["make", "--count", "600", "--seed", "5", "--symmetry", "half-turn"];
    good(folder.path(), &[&make[..], &["--out", "whole.txt"]].concat());
    let whole = fs::read(at("whole.txt")).unwrap();
    // What an interrupted run leaves.
    let left = at(".part.txt.tallyhouse-aaaaaa");
    fs::write(&left, &whole[..whole.len() / 2]).unwrap();
    let begin = run(folder.path(), &[&make[..], &["--out", "part.txt"]].concat());
    assert_eq!(begin.code, Some(1));
    assert!(begin.err.contains("is unfinished: continue it with --resume"), "{}", begin.err);
    let resumed = [&make[..], &["--out", "part.txt", "--resume"]].concat();
    good(folder.path(), &resumed);
    assert_eq!(fs::read(at("part.txt")).unwrap(), whole);
    assert!(!left.exists());
    // Stopped when all was done, it has nothing left to do.
    good(folder.path(), &resumed);
    fs::write(&left, &whole[..whole.len() / 2]).unwrap();
    let other = ["make", "--count", "600", "--seed", "6", "--out", "part.txt", "--resume"];
    let other = run(folder.path(), &[&other[..], &["--replace"]].concat());
    assert!(other.err.contains("was begun with other options"), "{}", other.err);
    // Of one that was stopped in its first milliseconds nothing is lost.
    fs::write(&left, &whole[..20]).unwrap();
    good(folder.path(), &[&make[..], &["--out", "part.txt", "--replace"]].concat());
    assert_eq!((fs::read(at("part.txt")).unwrap(), left.exists()), (whole, false));
    let impossible = [
        "make",
        "--count",
        "1",
        "--seed",
        "1",
        "--out",
        "-",
        "--method",
        "addition",
        "--redundant",
    ];
    let ran = run(folder.path(), &[&impossible[..], &["--clues", "30"]].concat());
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("goes with random deletion only"), "{}", ran.err);
    let ran = run(
        folder.path(),
        &["make", "--count", "1", "--seed", "1", "--out", "-", "--clues", "9..3"],
    );
    assert_eq!(ran.code, Some(2));
}
