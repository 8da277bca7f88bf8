//! What looks yield, counted a second time: from the words of the model, by brute force.

use std::collections::{BTreeMap, BTreeSet};

use tallyhouse_analysis::ReaderFile;
use tallyhouse_analysis::yields::{Frame, YieldReport, YieldSettings, yields};
use tallyhouse_collection::{MinimalByDeletion, Rejects, Rows, Silent, Source};
use tallyhouse_oracles::brute_force::{Tight, house_cells, tight_sets, walk};
use tallyhouse_stats::Level;

/// Frame, reader, look, open count and kind of house.
type Key = (String, String, String, usize, &'static str);

/// Times made, finds, cells seen, places gathered, tries.
type Counts = [u64; 5];

fn settings() -> YieldSettings {
    let readers = ReaderFile::built_in().map(|name| ReaderFile::load(name).unwrap());
    YieldSettings { readers: readers.collect(), looks: None, level: Level::default() }
}

fn count(text: &str) -> YieldReport {
    let sources = vec![Source::memory("memory", text.as_bytes().to_vec())];
    let mut rejects = Rejects::counted(&sources);
    let mut rows = Rows::open(sources).unwrap();
    yields(&settings(), &mut rows, &mut rejects, &Silent).unwrap()
}

/// Elements with 2 to `size` marks are tried depth-first, each later one beside those chosen; a set is
/// kept while its marks are at most `size`; the search ends at the first full set that is wanted.
fn search(
    marks: &[(usize, BTreeSet<usize>)],
    size: usize,
    wanted: &[BTreeSet<usize>],
) -> (u64, bool) {
    fn deeper(
        chosen: &[usize],
        marks: &[(usize, BTreeSet<usize>)],
        size: usize,
        wanted: &[BTreeSet<usize>],
        tries: &mut u64,
    ) -> bool {
        let last = *chosen.last().unwrap();
        for next in last + 1..marks.len() {
            *tries += 1;
            let more: Vec<usize> = chosen.iter().copied().chain([next]).collect();
            let union: BTreeSet<usize> =
                more.iter().flat_map(|&element| marks[element].1.iter().copied()).collect();
            if union.len() > size {
                continue;
            }
            let found = if more.len() == size {
                wanted.contains(&more.iter().map(|&element| marks[element].0).collect())
            } else {
                deeper(&more, marks, size, wanted, tries)
            };
            if found {
                return true;
            }
        }
        false
    }
    let eligible: Vec<_> =
        marks.iter().filter(|(_, of)| (2..=size).contains(&of.len())).cloned().collect();
    let mut tries = 0;
    let found =
        (0..eligible.len()).any(|start| deeper(&[start], &eligible, size, wanted, &mut tries));
    (tries, found)
}

/// Makes every look in a house; returns for each its words, the size of the naked side, tries and
/// whether it found something.
fn looks(house: &[Option<BTreeSet<u8>>], tight: &[Tight]) -> Vec<(String, usize, u64, bool)> {
    let open: Vec<usize> = (0..9).filter(|&place| house[place].is_some()).collect();
    let cells: Vec<(usize, BTreeSet<usize>)> = open
        .iter()
        .map(|&place| (place, house[place].iter().flatten().map(|&d| d.into()).collect()))
        .collect();
    let missing: BTreeSet<usize> = cells.iter().flat_map(|(_, marks)| marks.clone()).collect();
    let digits: Vec<(usize, BTreeSet<usize>)> = missing
        .iter()
        .map(|digit| {
            let holds = cells.iter().filter(|(_, marks)| marks.contains(digit));
            (*digit, holds.map(|(place, _)| *place).collect())
        })
        .collect();
    let mut all = Vec::new();
    for size in 2..=open.len().saturating_sub(2) {
        let productive = || tight.iter().filter(|set| set.eliminations > 0);
        let naked: Vec<BTreeSet<usize>> =
            productive().filter(|set| set.naked_proper).map(|set| set.cells.clone()).collect();
        let (tries, found) = search(&cells, size, &naked);
        all.push((format!("naked {size}"), size, tries, found));
        let hidden: Vec<BTreeSet<usize>> = productive()
            .filter(|set| set.hidden_proper)
            .map(|set| &missing - &set.digits.iter().map(|&digit| digit.into()).collect())
            .collect();
        let (tries, found) = search(&digits, size, &hidden);
        all.push((format!("hidden {size}"), open.len() - size, tries, found));
    }
    all
}

fn slow(text: &str) -> (BTreeMap<Key, Counts>, u64) {
    let mut all: BTreeMap<Key, Counts> = BTreeMap::new();
    let mut positions = 0;
    for line in text.lines() {
        let givens: Vec<u8> =
            line.bytes().map(|byte| if byte == b'.' { 0 } else { byte - b'0' }).collect();
        let walked = walk(&givens.try_into().unwrap());
        positions += walked.quiet.len() as u64;
        for quiet in &walked.quiet {
            for house in 0..27 {
                let places = house_cells(house);
                let marks = places.map(|cell| quiet.candidates[cell].clone());
                let n = marks.iter().flatten().count() as u64;
                let open = (0..9).filter(|&place| marks[place].is_some());
                let open: Vec<usize> = open.map(|place| places[place]).collect();
                let crossing = (0..27)
                    .filter(|&other| other != house)
                    .filter(|&other| open.iter().any(|cell| house_cells(other).contains(cell)))
                    .count() as u64;
                let tight = tight_sets(&marks).unwrap();
                let kind = ["row", "column", "box"][house / 9];
                for (look, naked, tries, found) in looks(&marks, &tight) {
                    let present = tight.iter().any(|set| {
                        let proper = set.naked_proper || set.hidden_proper;
                        set.eliminations > 0 && proper && set.cells.len() == naked
                    });
                    let is_naked = look.starts_with("naked");
                    let [own, shared, without] = if is_naked {
                        [[n, 0], [n, 0], [n, 0]]
                    } else {
                        [[0, n * n], [n, 0], [0, n * crossing]]
                    };
                    for frame in ["every", "present", "moving"] {
                        if frame == "present" && !present
                            || frame == "moving" && quiet.look.is_none()
                        {
                            continue;
                        }
                        for (reader, [cells, places]) in
                            [("marking", own), ("sharing", shared), ("unmarked", without)]
                        {
                            for kind in ["all", kind] {
                                let words = [frame, reader, &look].map(str::to_owned);
                                let [frame, reader, look] = words;
                                let key = (frame, reader, look, n as usize, kind);
                                let sums = all.entry(key).or_default();
                                let more = [1, found.into(), cells, places, tries];
                                sums.iter_mut().zip(more).for_each(|(sum, more)| *sum += more);
                            }
                        }
                    }
                }
            }
        }
    }
    (all, positions)
}

#[test]
fn what_looks_yield_agrees_with_a_slow_count_from_the_model() {
    agrees(200);
}

#[test]
#[ignore = "long: brute force on 5,000 positions and more"]
fn what_looks_yield_agrees_with_a_slow_count_on_many_puzzles() {
    assert!(agrees(4500) > 5000);
}

/// Compares both counts on so many puzzles; returns how many quiet positions they have.
fn agrees(count_of: u64) -> u64 {
    let text: String = (0..count_of)
        .map(|index| MinimalByDeletion { seed: 41 }.puzzle(index).to_string() + "\n")
        .collect();
    let (expected, positions) = slow(&text);
    let report = count(&text);
    assert_eq!((report.puzzles, report.clusters), (count_of, count_of));
    assert_eq!(report.positions, positions);
    let mut found = 0;
    for row in &report.yields {
        let key = (
            row.frame.to_string(),
            row.reader.clone(),
            row.look.to_string(),
            usize::from(row.open),
            row.house_kind,
        );
        let counts = expected.get(&key).copied().unwrap_or_default();
        found += u64::from(counts[0] > 0);
        let ours = [row.made, row.finds, row.cells_seen, row.places_gathered, row.tries];
        assert_eq!(ours, counts, "{key:?}");
        let weight = if row.reader == "unmarked" { 3 } else { 1 };
        let glances = (weight * counts[2] + counts[3] + counts[4]) as f64;
        assert_eq!(row.glances, glances);
        let close = |value: Option<f64>, expected: f64| match value {
            Some(value) => (value - expected).abs() <= 1e-12 * expected,
            None => expected.is_nan() || expected.is_infinite(),
        };
        assert!(close(row.share.value, counts[1] as f64 / counts[0] as f64), "{key:?}");
        assert!(close(row.price.value, glances / counts[1] as f64), "{key:?}");
    }
    assert_eq!(found, expected.len() as u64);
    // Three readers in three frames: 42 kinds of looks and open counts, in four kinds of houses.
    assert_eq!(report.yields.len(), 3 * 3 * 42 * 4);
    let frames: BTreeSet<Frame> = report.yields.iter().map(|row| row.frame).collect();
    assert_eq!(frames.len(), 3);
    positions
}
