//! What is wanted of the puzzles, and the test for it.

use std::ops::RangeInclusive;

use tallyhouse_board::Puzzle;
use tallyhouse_engine::{
    BatchEnd, BatchOutcome, BatchRecorder, FastWalk, Look, QuietPosition, WalkOptions,
};

use super::GivensSymmetry;

/// What is wanted of the puzzles; those that don't fit are drawn again.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wishes {
    /// How many clues.
    pub clues: Option<RangeInclusive<u8>>,
    /// Deletion stops at a number of clues drawn from `clues`, so that clues may be left that could
    /// go.
    pub redundant: bool,
    /// The pattern of givens has this symmetry. Clues are deleted in groups, so a single clue may be
    /// left that could go.
    pub symmetry: Option<GivensSymmetry>,
    /// Singles alone don't solve the puzzle.
    pub needs_subset: bool,
    /// Each of these looks finds something at a quiet position of the full ladder's walk.
    pub finds: Vec<Look>,
}

impl Wishes {
    /// Tests if the number of clues is wanted.
    pub(super) fn allow_clues(&self, count: usize) -> bool {
        self.clues.as_ref().is_none_or(|range| {
            (usize::from(*range.start())..=usize::from(*range.end())).contains(&count)
        })
    }

    /// Tests for each puzzle if its walk is as wanted.
    pub(super) fn allow_walks(&self, puzzles: &[Puzzle]) -> Vec<bool> {
        if !self.needs_subset && self.finds.is_empty() {
            return vec![true; puzzles.len()];
        }
        let options = WalkOptions::default();
        let Some(mut fast) = FastWalk::new(&options) else {
            unreachable!("the full ladder is what the fast walk is for")
        };
        let missing = vec![!0u64 >> (64 - self.finds.len().clamp(1, 64)); puzzles.len()];
        let mut seen = Seen { wishes: self, missing, by_singles: vec![false; puzzles.len()] };
        if self.finds.is_empty() {
            seen.missing.fill(0);
        }
        fast.walk(puzzles, &mut seen);
        let both = seen.missing.iter().zip(&seen.by_singles);
        both.map(|(&missing, by_singles)| missing == 0 && !(self.needs_subset && *by_singles))
            .collect()
    }
}

struct Seen<'a> {
    wishes: &'a Wishes,
    /// The wished looks that have found nothing yet, a bit each.
    missing: Vec<u64>,
    by_singles: Vec<bool>,
}

impl BatchRecorder for Seen<'_> {
    fn quiet_position(&mut self, index: usize, position: &QuietPosition<'_>) {
        for (bit, look) in self.wishes.finds.iter().enumerate() {
            if position.subsets.iter().any(|subset| look.finds(subset)) {
                self.missing[index] &= !(1 << bit);
            }
        }
    }

    fn end(&mut self, index: usize, end: &BatchEnd) {
        self.by_singles[index] = end.outcome == BatchOutcome::Solved && end.quiet_positions == 0;
    }
}

/// Returns the first wished look that finds nothing in any quiet position: both sides of a split have
/// two cells or more there.
pub(super) fn unanswerable(finds: &[Look]) -> Option<Look> {
    let may_find = |look: &Look| match look {
        Look::Naked(size) | Look::Hidden(size) => {
            size.get() >= 2 && size.open().any(|open| open >= size.get() + 2)
        }
        _ => false,
    };
    finds.iter().copied().find(|look| !may_find(look))
}
