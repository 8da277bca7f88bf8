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

/// What an order and the start cost a reader, on puzzles that come block by block.
pub(super) struct PriceSums<'a> {
    reader: &'a ReaderFile,
    costs: Clusters<3>,
}

impl<'a> PriceSums<'a> {
    pub(super) fn new(reader: &'a ReaderFile) -> Self {
        Self { reader, costs: Clusters::default() }
    }

    /// Adds puzzles.
    pub(super) fn add(&mut self, here: &ByLearning, start: &ByLearning) {
        let model = &self.reader.model;
        for puzzle in here.iter().zip(start) {
            let [here, start] = [puzzle.0, puzzle.1]
                .map(|glances| glances[model.learning as usize].millionths(&model.weights));
            self.costs.add([here, start, PUZZLE]);
        }
    }

    /// Prices the order, and against the start if it is another.
    pub(super) fn finish(&self, is_start: bool, level: Level) -> Result<ReaderPrice, StatsError> {
        let (glances, glances_estimate) = PuzzleMean::of_costs(&self.costs.pick([0, 2]), level)?;
        let against_start =
            (!is_start).then(|| CostDifference::of_costs(&self.costs, level)).transpose()?;
        let reader = self.reader.name.clone();
        Ok(ReaderPrice { reader, glances, glances_estimate, against_start })
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
