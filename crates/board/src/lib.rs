//! The 9×9 board: cells, digits, houses, the sets of them, and puzzle lines.
//!
//! This crate knows nothing of files, threads or solving. A [`Puzzle`] is any arrangement of givens
//! in which no house repeats a digit; whether it has exactly one solution is for the engine to say.
#![forbid(unsafe_code)]

#[macro_use]
mod nine;

mod cell;
mod cell_set;
mod digit;
mod digit_set;
mod frame;
mod house;
mod place_set;
mod puzzle;

pub use cell::{Cell, ParseCellError};
pub use cell_set::CellSet;
pub use digit::Digit;
pub use digit_set::DigitSet;
pub use frame::{Clues, Frame, Frame4, Frame9};
pub use house::{House, HouseKind};
pub use place_set::PlaceSet;
pub use puzzle::{ParsePuzzleError, Puzzle, Repeat};
