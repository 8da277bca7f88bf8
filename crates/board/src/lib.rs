//! The 9×9 board: cells, digits, houses, the sets of them, and puzzle lines.
//!
//! This crate knows nothing of files, threads or solving. A [`Puzzle`] is any arrangement of givens
//! in which no house repeats a digit; whether it has exactly one solution is for the engine to say.
//!
//! ```
//! use tallyhouse_board::{Cell, Digit, Puzzle};
//!
//! let puzzle: Puzzle = format!("..7{}", "0".repeat(78)).parse()?;
//! assert_eq!(puzzle.givens().collect::<Vec<_>>(), [(Cell::at(0, 2), Digit::new(7).unwrap())]);
//! assert!(Cell::at(0, 2).peers().contains(Cell::at(2, 0)));
//! # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
//! ```
#![forbid(unsafe_code)]
#![deny(missing_docs)]

#[macro_use]
mod element_set;

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
pub use house::{House, HouseKind, ParseHouseError};
pub use place_set::PlaceSet;
pub use puzzle::{ParsePuzzleError, Puzzle, Repeat};
