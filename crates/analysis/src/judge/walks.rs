//! Where the walk of each rulebook ends.

use serde::{Deserialize, Serialize};
use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_engine::{
    AppliedLook, CourseKind, Order, Outcome, QuietPosition, Recorder, Subset, WalkEnd, WalkOptions,
    Walker,
};

use crate::reach::subsets_at;

tallyhouse_words::choice! {
    /// How the puzzles of a trial are walked.
    #[derive(Default, Serialize, Deserialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum TrialWalk {
        /// All finds of a look are applied together.
        #[default]
        Together,
        /// As a person works: the first find is applied at once.
        OneByOne,
        /// Together, with box-line intersections after the pairs.
        WithIntersections,
    }
}

impl TrialWalk {
    /// Returns the walk under an order.
    pub(super) fn under(self, order: &Order) -> WalkOptions {
        let course = match self {
            Self::OneByOne => CourseKind::OneByOne,
            Self::Together | Self::WithIntersections => CourseKind::Together,
        };
        let options = WalkOptions { course: course.into(), ..WalkOptions::default() };
        WalkOptions { order: self.order(order), ..options }
    }

    /// Returns an order as it is walked.
    pub(super) fn order(self, order: &Order) -> Order {
        match self {
            Self::WithIntersections => order.clone().with_intersections(),
            Self::Together | Self::OneByOne => order.clone(),
        }
    }
}

/// The end of a walk that does not solve its puzzle.
#[derive(Clone, Debug)]
pub(crate) struct StuckEnd {
    /// Every subset that remains: houses in order, then rising masks of cells.
    pub(crate) subsets: Vec<Subset>,
    /// The board state.
    pub(crate) states: [u16; Cell::COUNT],
    /// How many quiet positions came before.
    pub(crate) position: u16,
}

/// Walks puzzles under one rulebook.
pub(super) struct BookWalker(Walker);

impl BookWalker {
    pub(super) fn new(options: WalkOptions) -> Self {
        Self(Walker::new(options))
    }

    /// Returns where each walk gets stuck; `None` for the puzzles that it solves.
    pub(super) fn ends(&mut self, puzzles: &[Puzzle]) -> Vec<Option<StuckEnd>> {
        let mut ends = Ends(vec![None; puzzles.len()]);
        self.0.walk(puzzles, &mut ends);
        ends.0
    }
}

struct Ends(Vec<Option<StuckEnd>>);

impl Recorder for Ends {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        if position.applied == AppliedLook::Nothing {
            self.0[position.puzzle] = Some(StuckEnd {
                subsets: position.subsets.to_vec(),
                states: (position.states)(),
                position: position.number,
            });
        }
    }

    fn end(&mut self, puzzle: usize, end: &WalkEnd, states: &dyn Fn() -> [u16; Cell::COUNT]) {
        if end.outcome != Outcome::Solved && self.0[puzzle].is_none() {
            self.0[puzzle] = Some(end_with_singles(end, states()));
        }
    }
}

/// Without looks for singles the end need not be quiet, so its subsets are sought anew.
fn end_with_singles(end: &WalkEnd, states: [u16; Cell::COUNT]) -> StuckEnd {
    StuckEnd { subsets: subsets_at(&states), states, position: end.quiet_positions }
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::MinimalByDeletion;

    use super::*;

    /// The same looks, once in an order that the fast walk knows and once in one that it doesn't.
    #[test]
    fn both_walks_number_the_end_alike() {
        let puzzles = MinimalByDeletion { seed: 27 }.puzzles(0..200);
        let numbers = |order: Order| -> Vec<Option<u16>> {
            let ends = BookWalker::new(TrialWalk::Together.under(&order)).ends(&puzzles);
            ends.iter().map(|end| end.as_ref().map(|end| end.position)).collect()
        };
        let mut turned = Order::ladder().looks().to_vec();
        turned.swap(0, 1);
        let expected = numbers(Order::ladder());
        assert!(expected.iter().flatten().any(|number| *number > 0));
        assert_eq!(numbers(Order::new(turned).unwrap()), expected);
    }
}
