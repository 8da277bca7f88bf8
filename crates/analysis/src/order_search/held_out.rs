//! What orders cost and reach on the held-out puzzles, summed block by block: no more than one block of
//! walks lies in memory.

use tallyhouse_board::Puzzle;
use tallyhouse_engine::effort::GlanceWeights;

use super::agreement::RunSums;
use super::draft::Draft;
use super::evaluate::{MOST_KEPT, PuzzleEffort, PuzzleSet};
use super::measured::{self, EffortSums, PairSums};
use super::reader_price::{ByLearning, ReaderSums, by_learning};
use crate::ReaderFile;

/// What is summed of one order.
#[derive(Default)]
pub(super) struct OrderSums {
    pub(super) efforts: EffortSums,
    /// Against the start.
    pub(super) pairs: PairSums,
    /// By reader.
    pub(super) readers: Vec<ReaderSums>,
}

impl OrderSums {
    fn add(
        &mut self,
        here: &Walks,
        start: &Walks,
        weights: &GlanceWeights,
        readers: &[ReaderFile],
    ) {
        self.efforts.add(&here.efforts, weights);
        self.pairs.add(&here.efforts, &start.efforts, weights);
        self.readers.resize_with(readers.len(), ReaderSums::default);
        for (sums, reader) in self.readers.iter_mut().zip(readers) {
            sums.add(&here.by_learning, &start.by_learning, reader);
        }
    }
}

/// The walks of one order on a block of puzzles.
struct Walks {
    efforts: Vec<PuzzleEffort>,
    by_learning: ByLearning,
}

impl Walks {
    fn of(set: &PuzzleSet<'_>, draft: &Draft) -> Self {
        let order = draft.order();
        Self { efforts: set.evaluate_all(&order), by_learning: by_learning(set.puzzles(), &order) }
    }
}

/// The best orders of the runs at one reach, and what is summed of them.
pub(super) struct RunsAtReach<'a> {
    /// How many training puzzles are fully reached there; none for the orders that look for all that the
    /// start looks for.
    pub(super) reached: Option<u64>,
    pub(super) best: Vec<&'a Draft>,
    pub(super) sums: RunSums,
}

/// Walks all held-out puzzles by the orders that are reported, of which the first is the start, and by
/// the best of the runs.
pub(super) fn walk_held_out(
    puzzles: &[Puzzle],
    drafts: &[Draft],
    runs: &mut [RunsAtReach<'_>],
    weights: &GlanceWeights,
    readers: &[ReaderFile],
) -> Vec<OrderSums> {
    let mut sums: Vec<OrderSums> = drafts.iter().map(|_| OrderSums::default()).collect();
    for block in puzzles.chunks(MOST_KEPT) {
        let set = PuzzleSet::new(block);
        add_runs(runs, &set, weights);
        let Some(start) = drafts.first().map(|start| Walks::of(&set, start)) else { continue };
        for (index, (sums, draft)) in sums.iter_mut().zip(drafts).enumerate() {
            let walks = (index > 0).then(|| Walks::of(&set, draft));
            sums.add(walks.as_ref().unwrap_or(&start), &start, weights, readers);
        }
    }
    sums
}

fn add_runs(runs: &mut [RunsAtReach<'_>], set: &PuzzleSet<'_>, weights: &GlanceWeights) {
    for RunsAtReach { best, sums, .. } in runs {
        let mut costs: Vec<(&Draft, Vec<i128>)> = Vec::new();
        for draft in best.iter() {
            if costs.iter().all(|(known, _)| known != draft) {
                let efforts = set.evaluate_all(&draft.order());
                costs.push((draft, measured::costs(&efforts, weights)));
            }
        }
        let of_draft = |draft: &&Draft| {
            let known = costs.iter().find(|(known, _)| known == draft);
            known.map_or(&[][..], |(_, costs)| costs)
        };
        sums.add(&best.iter().map(of_draft).collect::<Vec<_>>());
    }
}
