//! Which look puzzles need first and last: the shares of a dataset against the plain walk.

use std::collections::BTreeMap;
use std::fs;

use tallyhouse_analysis::{LookShare, look_shares, look_shares_csv};
use tallyhouse_board::Puzzle;
use tallyhouse_census::{Counts, manifest};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{AppliedLook, QuietPosition, Recorder, WalkOptions, walk};
use tallyhouse_stats::Level;
use tallyhouse_tests::command::run;

#[derive(Default)]
struct FirstLook(Option<AppliedLook>);

impl Recorder for FirstLook {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.0.get_or_insert(position.applied);
    }
}

/// The names of the first and the last look.
fn walked(puzzle: &Puzzle) -> [String; 2] {
    let options = WalkOptions::default();
    let name = |index: usize| options.order.looks()[index].to_string();
    let mut first = FirstLook::default();
    let end = walk(puzzle, &options, &mut first).end;
    [
        match first.0 {
            None => "singles alone".to_owned(),
            Some(AppliedLook::Look(index)) => name(index),
            Some(_) => "stuck after singles".to_owned(),
        },
        end.hardest.map_or_else(|| "nothing found".to_owned(), name),
    ]
}

fn weight(index: usize) -> u64 {
    1 + index as u64 % 5
}

#[test]
fn shares_of_looks_are_those_of_plain_walks_by_puzzles_and_by_weight() {
    let puzzles = MinimalByDeletion { seed: 5 }.puzzles(0..2100);
    let found: Vec<[String; 2]> = puzzles.iter().map(walked).collect();
    let folder = tempfile::tempdir().unwrap();
    for weighted in [false, true] {
        let lines = puzzles.iter().enumerate().map(|(index, puzzle)| {
            let more = format!(" weight={} family={}", weight(index), index / 4);
            format!("{puzzle}{}\n", if weighted { more } else { String::new() })
        });
        fs::write(folder.path().join("in.txt"), lines.collect::<String>()).unwrap();
        let name = format!("census-{weighted}");
        let scan = ["census", "in.txt", "--part-size", "1000", "--out", &name];
        assert_eq!(run(folder.path(), &scan).code, Some(0));
        let dataset = folder.path().join(name);
        let (manifest, counts) =
            (manifest(&dataset).unwrap(), Counts::of_dataset(&dataset).unwrap());
        let shares = look_shares(&dataset, &manifest, &counts, Level::default()).unwrap();
        assert_eq!((shares.puzzles, shares.weighted), (2100, weighted));
        let as_far = |found: &&[String; 2]| {
            ["nothing found", "naked 1", "hidden 1"].contains(&found[1].as_str())
        };
        let by_singles = shares.by_singles.as_ref().unwrap().puzzles;
        assert_eq!(by_singles, found.iter().filter(as_far).count() as u64);
        // Some puzzles stop the whole walk where singles stop.
        assert!(by_singles > shares.first[0].puzzles);
        let total: u64 = if weighted { (0..2100).map(weight).sum() } else { 2100 };
        for (which, rows) in [&shares.first, &shares.last].into_iter().enumerate() {
            let mut expected: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
            for (index, found) in found.iter().enumerate() {
                let sums = expected.entry(found[which].as_str()).or_default();
                sums.0 += 1;
                sums.1 += if weighted { weight(index) } else { 1 };
            }
            assert!(expected.len() > 3, "the puzzles differ: {expected:?}");
            assert_eq!(rows.iter().map(|row| row.puzzles).sum::<u64>(), 2100);
            for LookShare { look, puzzles, weight, share } in rows {
                let (count, sum) = expected.get(look.as_str()).copied().unwrap_or_default();
                assert_eq!((*puzzles, *weight), (count, i128::from(sum) * 1_000_000), "{look}");
                let share = share.as_ref().unwrap();
                assert!((share.value - sum as f64 / total as f64).abs() < 1e-12, "{look}");
                let interval = share.interval;
                assert!(0.0 <= interval.low && interval.low <= share.value, "{look}");
                assert!(share.value <= interval.high && interval.high <= 1.0, "{look}");
            }
        }
        let csv = String::from_utf8(look_shares_csv(&shares).unwrap()).unwrap();
        assert_eq!(csv.lines().count(), 1 + shares.first.len() + shares.last.len());
        assert!(!csv.contains("first,naked 1") && csv.contains("last,naked 1"));
    }
}

#[test]
fn without_tables_the_last_look_is_known_and_the_first_is_not() {
    let folder = tempfile::tempdir().unwrap();
    let puzzles = MinimalByDeletion { seed: 6 }.puzzles(0..60);
    let lines: String = puzzles.iter().map(|puzzle| format!("{puzzle}\n")).collect();
    fs::write(folder.path().join("in.txt"), lines).unwrap();
    for tables in ["all", "none"] {
        let scan = ["census", "in.txt", "--tables", tables, "--out", tables];
        assert_eq!(run(folder.path(), &scan).code, Some(0));
    }
    let of = |name: &str| {
        let dataset = folder.path().join(name);
        let manifest = manifest(&dataset).unwrap();
        {
            let counts = Counts::of_dataset(&dataset).unwrap();
            look_shares(&dataset, &manifest, &counts, Level::default()).unwrap()
        }
    };
    let (all, none) = (of("all"), of("none"));
    assert_eq!(all.last, none.last);
    assert!(!all.first.is_empty() && none.first.is_empty());
    let chart = |kind: &str| run(folder.path(), &["chart", kind, "none", "--out", "charts"]);
    assert_eq!(chart("hardest").code, Some(0));
    // Datasets of one name keep apart.
    for folder_name in ["one", "two"] {
        fs::create_dir(folder.path().join(folder_name)).unwrap();
        let scan = ["census", "in.txt", "--out", &format!("{folder_name}/census")];
        assert_eq!(run(folder.path(), &scan).code, Some(0));
    }
    let both = ["chart", "first", "one/census", "two/census", "--out", "charts"];
    assert_eq!(run(folder.path(), &both).code, Some(0));
    let csv = fs::read_to_string(folder.path().join("charts/first.csv")).unwrap();
    assert!(csv.contains("one/census,") && csv.contains("two/census,"), "{csv}");
    let refused = chart("first");
    assert_eq!(refused.code, Some(1));
    assert!(refused.err.contains("no tables"), "{}", refused.err);
}
