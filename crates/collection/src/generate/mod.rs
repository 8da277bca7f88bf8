//! Generating puzzles from a seed.

mod addition;
mod asking;
mod controlled;
mod deletion;
mod descent;
mod pattern;
mod recipe;
mod redundancy;
mod sight;
#[cfg(test)]
mod small;
mod solved;
mod splitting;
mod wishes;
mod write;

use tallyhouse_board::{Clues, Frame9, Puzzle};
use tallyhouse_engine::unique_solutions;

pub use pattern::GivensSymmetry;
pub use recipe::{Made, MakeError, Recipe, RecipeError, Sampling, SamplingMethod, Unit};
pub use wishes::{Likeness, Wishes};
pub use write::WriteError;

use asking::MakingFrame;
use redundancy::Redundancy;
use sight::Sight;

/// Minimal puzzles by random deletion, the sampling that is used most.
///
/// Puzzle i depends on the seed and i alone.
///
/// ```
/// use tallyhouse_collection::{MinimalByDeletion, validity};
///
/// let generator = MinimalByDeletion { seed: 7 };
/// let puzzles = generator.puzzles(0..3);
/// assert_eq!(puzzles[2], generator.puzzle(2));
/// assert!(puzzles.iter().all(|puzzle| validity(puzzle).is_ok()));
/// ```
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
        let puzzle = |unit: Result<Unit<Puzzle>, MakeError>| Some(unit.ok()?.made.first()?.puzzle);
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

/// Tests for each valid puzzle if leaving out any given was shown to give it more than one solution;
/// the faster way for many. A puzzle with a given that could not be decided about is not minimal.
#[must_use]
pub fn are_minimal(puzzles: &[Puzzle]) -> Vec<bool> {
    // With the solution known, about half of the clues are seen to be needed without a search.
    let sights: Vec<Sight<Frame9>> = unique_solutions(puzzles)
        .iter()
        .zip(puzzles)
        .map(|(solution, puzzle)| Sight::of(solution.as_ref().unwrap_or(puzzle).into()))
        .collect();
    let inquiry = |(puzzle, sight)| {
        let clues = Clues::from(puzzle);
        Redundancy::among(clues.given(), clues, sight).one_is_enough()
    };
    let mut inquiries: Vec<Redundancy<'_, Frame9>> =
        puzzles.iter().zip(&sights).map(inquiry).collect();
    Frame9::run(&mut inquiries);
    inquiries.iter().map(|inquiry| inquiry.result() == Some(0)).collect()
}
