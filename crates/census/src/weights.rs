//! What the puzzles of each cluster weigh: those that the walk solved, those that show a shape, and so
//! on.

use std::path::Path;

use polars::prelude::{DataType, LazyFrame, col, len, lit};

use crate::clusters::{Counted, counted, each_counted};
use crate::tables::{POSITIONS, PUZZLES, SUBSETS};
use crate::{CensusError, Dataset};

/// What the puzzles of a cluster weigh, in millionths. Positions, houses and subsets weigh as much as
/// their puzzles, each time they are counted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ClusterWeights {
    /// All puzzles.
    pub all: i128,
    /// Puzzles that the walk solved.
    pub solved: i128,
    /// Puzzles with at least one quiet position.
    pub with_quiet_positions: i128,
    /// Quiet positions.
    pub quiet_positions: i128,
    /// Houses at quiet positions, by open count.
    pub houses: [i128; 10],
    /// Shapes, by open count and naked size.
    pub shapes: [[ShapeWeights; 10]; 10],
}

/// What the puzzles of a cluster that show a shape weigh, in millionths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ShapeWeights {
    /// Puzzles with at least one proper subset of the shape at a quiet position.
    pub puzzles: i128,
    /// Proper subsets of the shape at quiet positions.
    pub proper: i128,
}

/// What is counted for [`ClusterWeights`]. Open counts, and shapes as `10 * open + naked`, are added.
mod code {
    pub(super) const ALL: u16 = 0;
    pub(super) const SOLVED: u16 = 1;
    pub(super) const WITH_QUIET_POSITIONS: u16 = 2;
    pub(super) const QUIET_POSITIONS: u16 = 3;
    pub(super) const HOUSES: u16 = 10;
    pub(super) const PUZZLES: u16 = 100;
    pub(super) const PROPER: u16 = 200;
}

/// Visits the clusters of a dataset with tables: puzzles without a family in the order of the
/// collection, then the families.
///
/// Memory is bounded by one part and the number of families.
///
/// # Errors
/// If the dataset is not whole, has no tables, or can't be read.
pub fn each_cluster(
    folder: &Path,
    visit: &mut dyn FnMut(&ClusterWeights),
) -> Result<(), CensusError> {
    let dataset = Dataset::open(folder)?;
    let ask = |part| {
        let mut counted = puzzles(&dataset, part)?;
        counted.extend(houses(&dataset, part)?);
        counted.extend(shapes(&dataset, part)?);
        Ok(counted)
    };
    each_counted(&dataset, &ask, &mut |counted| visit(&weights(counted)))
}

fn puzzles(dataset: &Dataset, part: u64) -> Result<Vec<LazyFrame>, CensusError> {
    let table = dataset.table(&PUZZLES, part, &["puzzle", "outcome", "quiet_positions"])?;
    let solved = col("outcome").cast(DataType::String).eq(lit("solved"));
    let quiet = col("quiet_positions");
    let once = lit(1u64);
    Ok(vec![
        table.lazy().select(counted(lit(code::ALL), once.clone())),
        table.lazy().filter(solved).select(counted(lit(code::SOLVED), once.clone())),
        table
            .lazy()
            .filter(quiet.clone().gt(lit(0u16)))
            .select(counted(lit(code::WITH_QUIET_POSITIONS), once)),
        table.lazy().select(counted(lit(code::QUIET_POSITIONS), quiet)),
    ])
}

fn houses(dataset: &Dataset, part: u64) -> Result<Vec<LazyFrame>, CensusError> {
    let names: Vec<String> = (2..=9).map(|open| format!("houses_open_{open}")).collect();
    let columns: Vec<&str> =
        ["puzzle"].into_iter().chain(names.iter().map(String::as_str)).collect();
    let table = dataset.table(&POSITIONS, part, &columns)?;
    let sums = names.iter().map(|name| col(name.as_str()).cast(DataType::UInt64).sum());
    let sums =
        table.collect(table.lazy().group_by([col("puzzle")]).agg(sums.collect::<Vec<_>>()))?;
    let of_open = |(open, name): (u16, &String)| {
        let some = sums.lazy().filter(col(name.as_str()).gt(lit(0u64)));
        some.select(counted(lit(code::HOUSES + open), col(name.as_str())))
    };
    Ok((2..).zip(&names).map(of_open).collect())
}

fn shapes(dataset: &Dataset, part: u64) -> Result<Vec<LazyFrame>, CensusError> {
    let columns = ["puzzle", "open", "naked", "naked_proper", "hidden_proper"];
    let table = dataset.table(&SUBSETS, part, &columns)?;
    let impossible = col("open").gt(lit(9u8)).or(col("naked").gt_eq(col("open")));
    if table.collect(table.lazy().filter(impossible))?.height() > 0 {
        return Err(table.damaged("a row has sizes that no house can have"));
    }
    let number = |name: &str| col(name).cast(DataType::UInt16);
    let shape = number("open") * lit(10u16) + number("naked");
    let proper = table
        .lazy()
        .filter(col("naked_proper").or(col("hidden_proper")))
        .group_by([col("puzzle"), shape.alias("shape")])
        .agg([len().alias("subsets")]);
    let proper = table.collect(proper)?;
    Ok(vec![
        proper.lazy().select(counted(col("shape") + lit(code::PUZZLES), lit(1u64))),
        proper.lazy().select(counted(col("shape") + lit(code::PROPER), col("subsets"))),
    ])
}

fn weights(counted: &[Counted]) -> ClusterWeights {
    let mut weights = ClusterWeights::default();
    for &Counted { code, weight, .. } in counted {
        let digits = |shape: u16| (usize::from(shape / 10), usize::from(shape % 10));
        match code {
            code::ALL => weights.all = weight,
            code::SOLVED => weights.solved = weight,
            code::WITH_QUIET_POSITIONS => weights.with_quiet_positions = weight,
            code::QUIET_POSITIONS => weights.quiet_positions = weight,
            code::PROPER.. => {
                let (open, naked) = digits(code - code::PROPER);
                weights.shapes[open][naked].proper = weight;
            }
            code::PUZZLES.. => {
                let (open, naked) = digits(code - code::PUZZLES);
                weights.shapes[open][naked].puzzles = weight;
            }
            open => weights.houses[usize::from(open - code::HOUSES)] = weight,
        }
    }
    weights
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::path::PathBuf;

    use tallyhouse_collection::{Entry, MinimalByDeletion, Silent, Source, Weight};
    use tallyhouse_engine::{Outcome, WalkOptions};

    use super::*;
    use crate::{Scanner, Settings, Tables, each_needed};

    fn scanned(folder: &Path, lines: &str, part_size: u64) -> PathBuf {
        let settings = Settings {
            sources: vec![Source::memory("in.txt", lines.as_bytes().to_vec())],
            out: folder.join("census"),
            walk: WalkOptions::default(),
            tables: Tables::All,
            keep_states: false,
            part_size,
            seed: None,
            shard: None,
            resume: false,
            expect_rows: None,
        };
        crate::run(&settings, &Silent).unwrap();
        settings.out
    }

    /// The cluster of a puzzle: families come after puzzles without one.
    type Cluster = (bool, u64);

    /// Adds up scans one by one.
    fn expected(entries: &[Entry]) -> BTreeMap<Cluster, ClusterWeights> {
        let walk = WalkOptions::default();
        let mut clusters: BTreeMap<Cluster, ClusterWeights> = BTreeMap::new();
        for scan in Scanner::new(&walk, false).scan(entries.iter().cloned().map(Ok).collect()) {
            let scan = scan.unwrap();
            let weight = i128::from(scan.entry.weight.unwrap_or(Weight::ONE).millionths());
            let cluster = (scan.entry.family.is_some(), scan.entry.number);
            let cluster = scan.entry.family.map_or(cluster, |family| (true, family));
            let sums = clusters.entry(cluster).or_default();
            sums.all += weight;
            if scan.outcome == Outcome::Solved {
                sums.solved += weight;
            }
            if !scan.positions.is_empty() {
                sums.with_quiet_positions += weight;
            }
            for position in &scan.positions {
                sums.quiet_positions += weight;
                for open in 2..10 {
                    sums.houses[open] += weight * i128::from(position.exposure[open]);
                }
            }
            let mut shown = [[0; 10]; 10];
            for (_, subset) in scan.subsets.iter().filter(|(_, subset)| subset.is_proper()) {
                let (open, naked) = (usize::from(subset.open), usize::from(subset.naked));
                sums.shapes[open][naked].proper += weight;
                shown[open][naked] = weight;
            }
            for (sums, shown) in sums.shapes.iter_mut().flatten().zip(shown.iter().flatten()) {
                sums.puzzles += shown;
            }
        }
        clusters
    }

    #[test]
    fn weights_of_clusters_are_those_of_their_scans() {
        let puzzles = MinimalByDeletion { seed: 9 }.puzzles(0..400);
        let entry = |(number, puzzle)| {
            let mut entry = Entry::new(number, puzzle);
            entry.weight = Weight::from_millionths(1 + 999_999_999_999_999 * (number % 3) / 2);
            // Scattered over the parts; a third has none.
            entry.family = (number % 3 > 0).then_some(number % 31);
            entry
        };
        let entries: Vec<Entry> = (0..).zip(puzzles).map(entry).collect();
        let folder = tempfile::tempdir().unwrap();
        let lines: String = entries.iter().map(|entry| format!("{entry}\n")).collect();
        let mut found = Vec::new();
        let dataset = scanned(folder.path(), &lines, 90);
        each_cluster(&dataset, &mut |cluster| found.push(cluster.clone())).unwrap();
        let expected: Vec<ClusterWeights> = expected(&entries).into_values().collect();
        assert!(expected.len() > 150);
        assert_eq!(found, expected);
    }

    /// The weight of 18,447 puzzles at the greatest weight does not fit 64 bits.
    #[test]
    fn sums_of_great_weights_do_not_wrap() {
        let puzzle = MinimalByDeletion { seed: 2 }.puzzle(0);
        let lines = format!("{puzzle} weight=1000000000 family=7\n").repeat(18_500);
        let folder = tempfile::tempdir().unwrap();
        let dataset = scanned(folder.path(), &lines, 5_000);
        let whole = 18_500 * 1_000_000_000_000_000;
        let mut clusters = 0;
        each_cluster(&dataset, &mut |cluster| {
            clusters += 1;
            assert_eq!(cluster.all, whole);
        })
        .unwrap();
        each_needed(&dataset, &mut |cluster| {
            clusters += 1;
            assert_eq!((cluster.all.puzzles, cluster.all.weight), (18_500, whole));
        })
        .unwrap();
        assert_eq!(clusters, 2);
    }
}
