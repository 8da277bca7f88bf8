//! Equivalent clue sets and their canonical form.
//!
//! Two clue sets are equivalent if a board symmetry (transposition, and every reordering of lines that
//! keeps bands and stacks together) followed by a relabelling of the digits turns one into the other.
//!
//! # The order
//! Clue sets are compared as [`Clues`] are: cell by cell, row by row from the upper left corner, a
//! blank before any digit, digits by value. The canonical form is the least of all images in this
//! order. In it digits are numbered in the order in which they first appear.

mod invariant;
mod lines;
mod partial;
mod search;
#[cfg(test)]
mod tests;

use tallyhouse_board::{Clues, Frame};

pub use invariant::class_key;

/// What all equivalent clue sets have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Canonical<F: Frame> {
    /// The least image.
    pub form: Clues<F>,
    /// How many board symmetries map the clue set to itself when followed by a fitting relabelling of
    /// the digits that occur in it. Relabellings of digits that don't occur are not counted.
    ///
    /// Of the images under the 3,359,232 symmetries of the 9×9 board, each taken up to relabelling, as
    /// many differ as this number of them.
    pub automorphisms: u32,
}

/// Returns the canonical form of a clue set, and its automorphisms.
///
/// Any clue set will do: a solved board, a puzzle, a blank board, or clues that repeat a digit in a
/// house.
///
/// ```
/// use tallyhouse_board::{Clues, Frame9, Puzzle};
/// use tallyhouse_collection::canonical;
///
/// let first: Puzzle = format!("12{}", ".".repeat(79)).parse()?;
/// let turned: Puzzle = format!("{}85", ".".repeat(79)).parse()?;
/// let form = |puzzle: &Puzzle| canonical(&Clues::<Frame9>::from(puzzle)).form;
/// assert_eq!(form(&first), form(&turned));
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
#[must_use]
pub fn canonical<F: Frame>(clues: &Clues<F>) -> Canonical<F> {
    search::least_image(clues, |_| ())
}
