//! What a census found, as shares and rates with intervals: by weight where puzzles carry weights.

use std::path::Path;

use serde::Serialize;
use tallyhouse_census::{CensusError, ClusterWeights, Counts, each_cluster};
use tallyhouse_stats::{Clusters, Estimate, Level};

use crate::csv_file::{estimate_fields, to_csv};

/// The millionths that a puzzle without a weight weighs.
const MILLION: i128 = 1_000_000;

/// What a census found. Without weights and families the puzzle is the unit; with them shares are
/// ratios of weights, and families are the clusters.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Occurrence {
    /// Whether puzzles count by weight.
    pub weighted: bool,
    /// The independent units: families, and puzzles without one.
    pub units: u64,
    /// The share of puzzles with a quiet position.
    pub quiet: Option<Estimate>,
    /// The share of puzzles that the walk solved.
    pub solved: Option<Estimate>,
    /// The shapes with 2 ≤ open ≤ 9.
    pub shapes: Vec<ShapeShare>,
}

/// How often a shape occurs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ShapeShare {
    /// The open count.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// How many puzzles have at least one proper subset of the shape, whatever they weigh.
    pub puzzles: u64,
    /// The share of puzzles with one, with its interval; `None` where the clusters of a weighted
    /// collection are too few or too much alike.
    pub share: Option<Estimate>,
    /// Proper subsets for each house of that open count at quiet positions, by weight; `None` if there
    /// is no such house.
    pub rate: Option<f64>,
    /// What the proper subsets weigh, in millionths: each as much as its puzzle.
    #[serde(skip)]
    pub weight: i128,
}

impl Occurrence {
    /// Asks a dataset what occurs; all intervals have this level. Reads the tables of a dataset with
    /// weights or families.
    ///
    /// # Errors
    /// If the dataset can't be read, or is weighted and has no tables.
    pub fn of(folder: &Path, counts: &Counts, level: Level) -> Result<Self, CensusError> {
        let mut sums = Sums::default();
        if counts.totals.weighted == 0 {
            sums = Sums::of_counts(counts);
        } else {
            each_cluster(folder, &mut |cluster| sums.add(cluster))?;
        }
        Ok(sums.finish(counts, level))
    }

    /// Returns a shape.
    #[must_use]
    pub fn shape(&self, open: u8, naked: u8) -> Option<&ShapeShare> {
        self.shapes.iter().find(|shape| (shape.open, shape.naked) == (open, naked))
    }
}

/// Sums over the clusters of a dataset.
#[derive(Default)]
struct Sums {
    quiet: Clusters<2>,
    solved: Clusters<2>,
    houses: [i128; 10],
    /// By open count and naked size.
    shapes: [[Clusters<2>; 10]; 10],
    proper: [[i128; 10]; 10],
}

impl Sums {
    /// Takes puzzles that count alike and stand alone.
    fn of_counts(counts: &Counts) -> Self {
        let totals = &counts.totals;
        let clusters = |hits: u64| {
            let mut clusters = Clusters::default();
            clusters.add_times([MILLION; 2], hits);
            clusters.add_times([0, MILLION], totals.puzzles.saturating_sub(hits));
            clusters
        };
        let mut sums = Self {
            quiet: clusters(totals.puzzles_with_quiet_positions),
            solved: clusters(totals.solved),
            houses: counts.exposure.map(|houses| i128::from(houses) * MILLION),
            ..Self::default()
        };
        for (open, naked, found) in counts.shapes() {
            let (row, column) = (usize::from(open), usize::from(naked));
            sums.shapes[row][column] = clusters(found.puzzles);
            sums.proper[row][column] = i128::from(found.proper) * MILLION;
        }
        sums
    }

    fn add(&mut self, cluster: &ClusterWeights) {
        self.quiet.add([cluster.with_quiet_positions, cluster.all]);
        self.solved.add([cluster.solved, cluster.all]);
        for (sum, more) in self.houses.iter_mut().zip(cluster.houses) {
            *sum += more;
        }
        for open in 0..10 {
            for naked in 0..10 {
                let found = &cluster.shapes[open][naked];
                self.shapes[open][naked].add([found.puzzles, cluster.all]);
                self.proper[open][naked] += found.proper;
            }
        }
    }

    fn finish(&self, counts: &Counts, level: Level) -> Occurrence {
        let shapes = counts.shapes().map(|(open, naked, found)| {
            let (row, column) = (usize::from(open), usize::from(naked));
            let weight = self.proper[row][column];
            ShapeShare {
                open,
                naked,
                puzzles: found.puzzles,
                share: self.shapes[row][column].share(level).ok(),
                rate: quotient(weight, self.houses[row]),
                weight,
            }
        });
        Occurrence {
            weighted: counts.totals.weighted > 0,
            units: self.quiet.clusters(),
            quiet: self.quiet.share(level).ok(),
            solved: self.solved.share(level).ok(),
            shapes: shapes.collect(),
        }
    }
}

fn quotient(count: i128, of: i128) -> Option<f64> {
    (of > 0).then(|| count as f64 / of as f64)
}

/// Writes shares as CSV: `open,naked,hidden,puzzles,share,low,high,method`; empty fields where there
/// is no estimate.
///
/// # Errors
/// If the data can't be written.
pub fn shares_csv(shares: &[ShapeShare]) -> Result<Vec<u8>, csv::Error> {
    let records = shares.iter().map(|row| {
        let hidden = row.open - row.naked;
        (row.open, row.naked, hidden, row.puzzles, estimate_fields(row.share.as_ref()))
    });
    to_csv("open,naked,hidden,puzzles,share,low,high,method", records)
}

#[cfg(test)]
mod tests {
    use tallyhouse_engine::Order;

    use super::*;

    /// A family of weight 3 that singles solve, and one of weight 1 that keeps a quiet position.
    #[test]
    fn shares_and_rates_go_by_weight() {
        let easy =
            ClusterWeights { all: 3 * MILLION, solved: 3 * MILLION, ..ClusterWeights::default() };
        let mut hard = ClusterWeights {
            all: MILLION,
            with_quiet_positions: MILLION,
            ..ClusterWeights::default()
        };
        hard.houses[7] = 4 * MILLION;
        hard.shapes[7][4].puzzles = MILLION;
        hard.shapes[7][4].proper = 2 * MILLION;
        let mut sums = Sums::default();
        [easy, hard].iter().for_each(|cluster| sums.add(cluster));
        let mut counts = Counts::new(&Order::ladder());
        counts.totals.weighted = 2;
        let found = sums.finish(&counts, Level::default());
        assert_eq!((found.weighted, found.units), (true, 2));
        assert_eq!(found.quiet.unwrap().value, 0.25);
        assert_eq!(found.solved.unwrap().value, 0.75);
        let shape = found.shape(7, 4).unwrap();
        assert_eq!((shape.share.unwrap().value, shape.rate), (0.25, Some(0.5)));
        assert_eq!(found.shape(9, 4).unwrap().rate, None);
    }
}
