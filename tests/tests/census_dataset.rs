//! The dataset that `census` writes: its tables agree with a walk of each puzzle and with its own
//! counts, and its bytes do not depend on the number of threads.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::Path;

use polars::prelude::{AnyValue, DataFrame};
use polars_io::SerReader;
use polars_io::prelude::ParquetReader;
use tallyhouse_board::Puzzle;
use tallyhouse_engine::{Outcome, QuietPosition, Recorder, Subset, WalkOptions, walk};
use tallyhouse_tests::command::{dataset_bytes, run};

fn make(folder: &Path, count: u32) -> String {
    let count = count.to_string();
    let made = run(folder, &["make", "--count", &count, "--seed", "3", "--out", "puzzles.txt"]);
    assert_eq!((made.code, made.err.as_str()), (Some(0), ""));
    fs::read_to_string(folder.join("puzzles.txt")).unwrap()
}

fn census(folder: &Path, arguments: &[&str]) {
    let ran = run(folder, &[&["census"], arguments].concat());
    assert_eq!(ran.code, Some(0), "{ran:?}");
}

fn table(dataset: &Path, name: &str, part: u32) -> DataFrame {
    let path = dataset.join(name).join(format!("part-{part:08}.parquet"));
    ParquetReader::new(File::open(path).unwrap()).finish().unwrap()
}

#[derive(Default)]
struct Gather {
    subsets: Vec<(u16, Subset)>,
    positions: Vec<(u16, u16, [u16; 81])>,
}

impl Recorder for Gather {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.subsets.extend(position.subsets.iter().map(|subset| (position.number, *subset)));
        let states = (position.states)();
        self.positions.push((position.number, position.candidates_left, states));
    }
}

fn number(frame: &DataFrame, column: &str, row: usize) -> u64 {
    frame.column(column).unwrap().get(row).unwrap().extract().unwrap()
}

fn word(frame: &DataFrame, column: &str, row: usize) -> String {
    frame.column(column).unwrap().get(row).unwrap().to_string().replace('"', "")
}

fn truth(frame: &DataFrame, column: &str, row: usize) -> bool {
    frame.column(column).unwrap().get(row).unwrap() == AnyValue::Boolean(true)
}

#[test]
fn tables_hold_what_the_walks_see() {
    let folder = tempfile::tempdir().unwrap();
    let text = make(folder.path(), 300);
    census(
        folder.path(),
        &["puzzles.txt", "--out", "data", "--keep-states", "--part-size", "1000"],
    );
    let data = folder.path().join("data");
    let [puzzles, positions, subsets] =
        ["puzzles", "positions", "subsets"].map(|name| table(&data, name, 0));
    let lines: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
    assert_eq!(puzzles.height(), 300);
    let (mut position_row, mut subset_row) = (0, 0);
    for (index, line) in lines.iter().enumerate() {
        let puzzle: Puzzle = line.parse().unwrap();
        let mut seen = Gather::default();
        let result = walk(&puzzle, &WalkOptions::default(), &mut seen).end;
        assert_eq!(word(&puzzles, "line", index), *line);
        assert_eq!(number(&puzzles, "puzzle", index), index as u64);
        assert_eq!(number(&puzzles, "clues", index), puzzle.clues() as u64);
        let outcome = if result.outcome == Outcome::Solved { "solved" } else { "stuck" };
        assert_eq!(word(&puzzles, "outcome", index), outcome);
        let hardest = result.hardest.map_or("null".to_owned(), |index| {
            WalkOptions::default().order.looks()[index].to_string()
        });
        assert_eq!(word(&puzzles, "hardest_look", index), hardest);
        for (at, candidates, states) in seen.positions {
            assert_eq!(number(&positions, "puzzle", position_row), index as u64);
            assert_eq!(number(&positions, "position", position_row), u64::from(at));
            let left = number(&positions, "candidates_left", position_row);
            assert_eq!(left, u64::from(candidates));
            let AnyValue::List(state) =
                positions.column("state").unwrap().get(position_row).unwrap()
            else {
                panic!("state is a list");
            };
            assert_eq!(state.u16().unwrap().into_no_null_iter().collect::<Vec<_>>(), states);
            position_row += 1;
        }
        let splits: Vec<_> =
            seen.subsets.iter().map(|(at, subset)| (*at, subset.house, subset.cells)).collect();
        for (at, subset) in seen.subsets {
            let n = |column: &str| number(&subsets, column, subset_row);
            assert_eq!((n("puzzle"), n("position")), (index as u64, u64::from(at)));
            assert_eq!(word(&subsets, "house_kind", subset_row), subset.house.kind().name());
            assert_eq!(n("house"), u64::from(subset.house.number()));
            assert_eq!(n("open"), u64::from(subset.open));
            assert_eq!(n("naked"), u64::from(subset.naked));
            assert_eq!(n("hidden"), u64::from(subset.hidden()));
            assert_eq!(n("live_open"), u64::from(subset.live_open));
            assert_eq!(n("live_naked"), u64::from(subset.live_naked));
            assert_eq!(n("live_hidden"), u64::from(subset.live_hidden()));
            assert_eq!(n("cells"), u64::from(subset.cells.bits()));
            assert_eq!(n("digits"), u64::from(subset.digits.bits()));
            assert_eq!(n("eliminations"), u64::from(subset.eliminations));
            assert_eq!(truth(&subsets, "naked_proper", subset_row), subset.naked_proper);
            assert_eq!(truth(&subsets, "hidden_proper", subset_row), subset.hidden_proper);
            assert_eq!(truth(&subsets, "applied", subset_row), subset.applied);
            let before = |&(position, house, cells): &_| {
                at.checked_sub(1) == Some(position)
                    && (house, cells) == (subset.house, subset.cells)
            };
            assert_eq!(truth(&subsets, "new", subset_row), !splits.iter().any(before));
            subset_row += 1;
        }
    }
    assert_eq!((position_row, subset_row), (positions.height(), subsets.height()));
    assert!(subset_row > 300);
}

#[test]
fn counts_agree_with_the_tables() {
    let folder = tempfile::tempdir().unwrap();
    make(folder.path(), 500);
    census(folder.path(), &["puzzles.txt", "--out", "data", "--part-size", "10000"]);
    let data = folder.path().join("data");
    let subsets = table(&data, "subsets", 0);
    let positions = table(&data, "positions", 0);
    let mut rows: BTreeMap<(u64, u64), [u64; 3]> = BTreeMap::new();
    let mut with_proper = std::collections::BTreeSet::new();
    for row in 0..subsets.height() {
        let n = |column: &str| number(&subsets, column, row);
        let proper = truth(&subsets, "naked_proper", row) || truth(&subsets, "hidden_proper", row);
        let counts = rows.entry((n("open"), n("naked"))).or_default();
        counts[0] += 1;
        counts[1] += u64::from(proper);
        counts[2] += u64::from(truth(&subsets, "applied", row));
        if proper {
            with_proper.insert((n("open"), n("naked"), n("puzzle"), Some(n("position"))));
            with_proper.insert((n("open"), n("naked"), n("puzzle"), None));
        }
    }
    let mut expected = "open,naked,hidden,subsets,proper,applied,positions,puzzles\n".to_owned();
    for open in 2..=9 {
        for naked in 1..open {
            let [all, proper, applied] = rows.get(&(open, naked)).copied().unwrap_or_default();
            let having = |position: bool| {
                let of_shape = with_proper.iter().filter(|(o, n, ..)| (*o, *n) == (open, naked));
                of_shape.filter(|(.., at)| at.is_some() == position).count()
            };
            expected += &format!(
                "{open},{naked},{},{all},{proper},{applied},{},{}\n",
                open - naked,
                having(true),
                having(false)
            );
        }
    }
    assert_eq!(fs::read_to_string(data.join("counts.csv")).unwrap(), expected);
    let mut expected = "open,houses\n".to_owned();
    for open in 2..=9 {
        let column = format!("houses_open_{open}");
        let houses: u64 = (0..positions.height()).map(|row| number(&positions, &column, row)).sum();
        expected += &format!("{open},{houses}\n");
    }
    assert_eq!(fs::read_to_string(data.join("exposure.csv")).unwrap(), expected);
}

#[test]
fn bytes_do_not_depend_on_threads_or_on_how_rows_are_spread() {
    let folder = tempfile::tempdir().unwrap();
    let text = make(folder.path(), 2500);
    let again = run(
        folder.path(),
        &["make", "--count", "2500", "--seed", "3", "--out", "-", "--threads", "1"],
    );
    assert_eq!(again.out, text);
    let shorter = run(folder.path(), &["make", "--count", "20", "--seed", "3", "--out", "-"]);
    assert_eq!(shorter.out.lines().nth(10), text.lines().nth(10));
    let rows: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
    let odd = [rows[0], "broken", &rows[1].replace('.', "0"), "# a remark", &"1".repeat(81)];
    fs::write(folder.path().join("odd.txt"), odd.join("\r\n")).unwrap();
    let scan = |out: &str, threads: &str| {
        census(
            folder.path(),
            &["puzzles.txt", "odd.txt", "--out", out, "--part-size", "1000", "--threads", threads],
        );
        dataset_bytes(&folder.path().join(out))
    };
    let (one, two, three) = (scan("one", "1"), scan("two", "2"), scan("three", "3"));
    assert_eq!(one.len(), 3 * 3 + 7, "3 parts of 3 tables, and 7 files");
    assert!(one == two && one == three);
    let rejects = fs::read_to_string(folder.path().join("one/rejects.csv")).unwrap();
    assert_eq!(
        rejects,
        format!(
            "file,line,text,reason\n\
             odd.txt,2,broken,6 characters instead of 81\n\
             odd.txt,5,{},1 stands twice in row 1: r1c1 and r1c2\n",
            "1".repeat(81)
        )
    );
    census(folder.path(), &["puzzles.txt", "odd.txt", "--out", "none", "--tables", "none"]);
    for file in ["counts.csv", "exposure.csv", "rates.csv", "rejects.csv"] {
        assert_eq!(fs::read(folder.path().join("none").join(file)).unwrap(), one[Path::new(file)]);
    }
    assert_eq!(dataset_bytes(&folder.path().join("none")).len(), 7);
}
