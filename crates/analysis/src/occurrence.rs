//! What a census found, as shares and rates with intervals: by weight where puzzles carry weights.

use std::path::Path;

use serde::Serialize;
use tallyhouse_census::{CensusError, ClusterSums, Counts, HouseRate};
use tallyhouse_stats::{Estimate, Level, Limits};

use crate::csv_file::{estimate_fields, to_csv};

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
    /// Houses of that open count, over all quiet positions.
    pub houses: u64,
    /// Those of them with at least one proper subset of the shape.
    pub houses_with: u64,
    /// Their share of these houses, by weight where puzzles carry weights, and its interval as far as the
    /// data tell it.
    pub house_share: Limits,
    /// What the proper subsets weigh, in millionths: each as much as its puzzle.
    #[serde(skip)]
    pub weight: i128,
}

impl Occurrence {
    /// Asks a dataset what occurs; all intervals have this level, but for those of houses, which have
    /// that of the dataset.
    ///
    /// # Errors
    /// If the dataset can't be read.
    pub fn of(folder: &Path, counts: &Counts, level: Level) -> Result<Self, CensusError> {
        let (sums, rates) = (ClusterSums::of_dataset(folder)?, HouseRate::of_dataset(folder)?);
        Ok(Self::of_sums(counts, sums.as_ref(), &rates, level))
    }

    /// Takes what occurs from counts, from rates of houses and, where some puzzle has a weight or a family,
    /// from sums by weight.
    #[must_use]
    pub fn of_sums(
        counts: &Counts,
        sums: Option<&ClusterSums>,
        rates: &[HouseRate],
        level: Level,
    ) -> Self {
        let weighted = sums.is_some();
        let sums = sums.cloned().unwrap_or_else(|| ClusterSums::of_counts(counts));
        let shapes = counts.shapes().map(|(open, naked, found)| {
            let shape = sums.shape(open, naked);
            let of_houses = HouseRate::overall(rates, open, naked);
            ShapeShare {
                open,
                naked,
                puzzles: found.puzzles,
                share: shape.puzzles.share_by_weight(level).ok(),
                houses: of_houses.map_or(0, |rate| rate.houses),
                houses_with: of_houses.map_or(0, |rate| rate.houses_with),
                house_share: of_houses.map(|rate| rate.share).unwrap_or_default(),
                weight: shape.proper(),
            }
        });
        Self {
            weighted,
            units: sums.quiet.clusters(),
            quiet: sums.quiet.share_by_weight(level).ok(),
            solved: sums.solved.share_by_weight(level).ok(),
            shapes: shapes.collect(),
        }
    }

    /// Returns a shape.
    #[must_use]
    pub fn shape(&self, open: u8, naked: u8) -> Option<&ShapeShare> {
        self.shapes.iter().find(|shape| (shape.open, shape.naked) == (open, naked))
    }
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
