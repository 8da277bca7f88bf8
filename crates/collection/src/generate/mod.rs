//! Generating puzzles from a seed.

mod addition;
mod asking;
mod controlled;
mod deletion;
mod pattern;
mod recipe;
mod solved;
mod splitting;
mod wishes;
mod write;

use tallyhouse_board::{Clues, Frame9, Puzzle};
use tallyhouse_engine::has_other_solution;

pub use asking::{MakingFrame, small_boards};
pub use pattern::GivensSymmetry;
pub use recipe::{Made, MakeError, Recipe, RecipeError, Sampling, SamplingMethod};
pub use wishes::Wishes;
pub use write::WriteError;

/// Minimal puzzles by random deletion, the sampling that is used most.
///
/// Puzzle i depends on the seed and i alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MinimalByDeletion {
    /// The seed.
    pub seed: u64,
}

impl MinimalByDeletion {
    /// Returns puzzle number `index`.
    #[must_use]
    pub fn puzzle(&self, index: u64) -> Puzzle {
        self.puzzles(index..index + 1)[0]
    }

    /// Returns the puzzles of a range, the faster way to make many.
    #[must_use]
    pub fn puzzles(&self, indices: std::ops::Range<u64>) -> Vec<Puzzle> {
        let made = Recipe::plain(Sampling::Deletion, self.seed).make(indices);
        let puzzle = |made: Result<Vec<Made<Puzzle>>, MakeError>| {
            made.ok().and_then(|made| Some(made.first()?.puzzle))
        };
        // Without wishes the first try is taken.
        made.into_iter().filter_map(puzzle).collect()
    }
}

/// Draws a solved board, each as likely as any other.
#[must_use]
pub fn solved_board(seed: u64, index: u64) -> Puzzle {
    let board: Clues<Frame9> = MakingFrame::solved_board(&mut recipe::stream(seed, index));
    Puzzle::try_from(&board).unwrap_or_else(|repeat| unreachable!("{repeat:?}"))
}

/// Tests if leaving out any given of a valid puzzle gives it more than one solution.
#[must_use]
pub fn is_minimal(puzzle: &Puzzle) -> bool {
    puzzle.givens().all(|(cell, digit)| has_other_solution(&puzzle.without(cell), cell, digit))
}

/// Tests for each valid puzzle if leaving out any given gives it more than one solution; the faster
/// way for many.
#[must_use]
pub fn are_minimal(puzzles: &[Puzzle]) -> Vec<bool> {
    let mut courses: Vec<splitting::Minimality<Frame9>> =
        puzzles.iter().map(|puzzle| splitting::Minimality::of(puzzle.into())).collect();
    Frame9::run(&mut courses);
    courses.iter().map(|course| course.minimal).collect()
}
