//! What is wanted of the puzzles, and the test for it.

use std::ops::RangeInclusive;

use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_engine::{
    Look, Outcome, QuietPosition, Recorder, Shape, WalkEnd, WalkOptions, Walker,
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

tallyhouse_words::choice! {
    /// What puzzles are made like: wishes that go together.
    #[derive(serde::Serialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Likeness {
        /// Like those in print: half-turn symmetry, 26 to 32 clues, redundant clues allowed (common
        /// practice, no source)
        InPrint,
    }
}

impl Likeness {
    /// Names the population of such puzzles, whatever the method.
    #[must_use]
    pub const fn population(self) -> &'static str {
        match self {
            Self::InPrint => "puzzles like those in print",
        }
    }

    /// Returns the wishes.
    #[must_use]
    pub fn wishes(self) -> Wishes {
        match self {
            Self::InPrint => Wishes {
                clues: Some(26..=32),
                redundant: true,
                symmetry: Some(GivensSymmetry::HalfTurn),
                ..Wishes::default()
            },
        }
    }
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
        let missing = vec![!0u64 >> (64 - self.finds.len().clamp(1, 64)); puzzles.len()];
        let mut seen = Seen { wishes: self, missing, by_singles: vec![false; puzzles.len()] };
        if self.finds.is_empty() {
            seen.missing.fill(0);
        }
        Walker::new(WalkOptions::default()).walk(puzzles, &mut seen);
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

impl Recorder for Seen<'_> {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        for (bit, look) in self.wishes.finds.iter().enumerate() {
            if position.subsets.iter().any(|subset| look.finds(subset)) {
                self.missing[position.puzzle] &= !(1 << bit);
            }
        }
    }

    fn end(&mut self, puzzle: usize, end: &WalkEnd, _: &dyn Fn() -> [u16; Cell::COUNT]) {
        self.by_singles[puzzle] = end.outcome == Outcome::Solved && end.quiet_positions == 0;
    }
}

/// Returns the first wished look that finds nothing in any quiet position: both sides of a split have
/// two cells or more there.
pub(super) fn unanswerable(finds: &[Look]) -> Option<Look> {
    let may_find = |look: &Look| Shape::all_quiet().any(|shape| look.covers(shape));
    finds.iter().copied().find(|look| !may_find(look))
}
