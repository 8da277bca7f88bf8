//! What orders cost readers of several kinds, and whether a saving holds for all of them.

use rayon::prelude::*;
use serde::Serialize;
use tallyhouse_board::Puzzle;
use tallyhouse_engine::Order;
use tallyhouse_engine::effort::{DueWalker, Glances, Learning};
use tallyhouse_stats::{Clusters, Estimate, Level, StatsError};

use super::measured::{Comparison, CostDifference, PUZZLE, PuzzleMean};
use crate::ReaderFile;

/// Puzzles per piece of parallel work.
const BLOCK: usize = 32;

/// What an order costs one reader on the held-out puzzles.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReaderPrice {
    /// The name of the reader.
    pub reader: String,
    /// Weighted glances per puzzle.
    pub glances: PuzzleMean,
    /// The mean glances with their interval; none if all puzzles cost the same.
    pub glances_estimate: Option<Estimate>,
    /// Against the start; none if it is the same.
    pub against_start: Option<CostDifference>,
}

/// The glances of each puzzle for each way of learning, in the order of [`Learning::ALL`].
pub(super) type ByLearning = Vec<[Glances; Learning::ALL.len()]>;

/// Walks the puzzles one by one and counts for all readers at once.
pub(super) fn by_learning(puzzles: &[Puzzle], order: &Order) -> ByLearning {
    let walk = |walker: &mut DueWalker, puzzles: &[Puzzle]| {
        let mut all = ByLearning::with_capacity(puzzles.len());
        walker.walk(puzzles, |_, due| {
            let mut sums = [Glances::default(); Learning::ALL.len()];
            for (sum, &learning) in sums.iter_mut().zip(Learning::ALL) {
                *sum = due.looks.iter().map(|look| look.of(learning).glances).sum();
            }
            all.push(sums);
        });
        all
    };
    puzzles.par_chunks(BLOCK).map_init(|| DueWalker::new(order), walk).flatten_iter().collect()
}

impl ReaderPrice {
    /// Prices an order for each reader, and against the start if there is one.
    pub(super) fn all(
        readers: &[ReaderFile],
        here: &ByLearning,
        start: Option<&ByLearning>,
        level: Level,
    ) -> Result<Vec<Self>, StatsError> {
        readers.iter().map(|reader| Self::of(reader, here, start, level)).collect()
    }

    fn of(
        reader: &ReaderFile,
        here: &ByLearning,
        start: Option<&ByLearning>,
        level: Level,
    ) -> Result<Self, StatsError> {
        let costs = |glances: &ByLearning| -> Vec<i128> {
            let of_reader = |glances: &[Glances; 4]| {
                glances[reader.model.learning as usize].millionths(&reader.model.weights)
            };
            glances.iter().map(of_reader).collect()
        };
        let here = costs(here);
        let mut sums = Clusters::default();
        here.iter().for_each(|cost| sums.add([*cost, PUZZLE]));
        let (glances, glances_estimate) = PuzzleMean::of_costs(&sums, level)?;
        let against_start =
            start.map(|start| CostDifference::of(&here, &costs(start), level)).transpose()?;
        Ok(Self { reader: reader.name.clone(), glances, glances_estimate, against_start })
    }
}

/// Tests if an order beats the start whoever reads: for each reader the interval of the difference lies
/// below 0, and no fewer puzzles are fully reached.
///
/// Each reader must say so, so no correction for several tests is due.
pub(super) fn is_robust<'a>(
    differences: impl IntoIterator<Item = &'a CostDifference>,
    compared: &Comparison,
) -> bool {
    differences.into_iter().all(CostDifference::saves) && compared.this_only >= compared.other_only
}
