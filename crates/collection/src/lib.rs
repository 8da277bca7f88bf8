//! Reading, checking and generating puzzles.
//!
//! Reading is a stream: a row at a time, whatever the size of the input. A row that can't be used is
//! never dropped silently; it becomes a [`Reject`] with its file, line, text and reason.
#![forbid(unsafe_code)]

mod generate;
mod reject;
mod rows;
mod source;
mod validity;

pub use generate::{
    GivensSymmetry, Made, MakeError, MakingFrame, MinimalByDeletion, NoSuchSymmetry, Recipe,
    RecipeError, Sampling, Wishes, WriteError, are_minimal, is_minimal, small_boards, solved_board,
};
pub use reject::{Reason, Reject, RejectsFile};
pub use rows::{Row, Rows};
pub use source::{ReadError, Source};
pub use validity::{validities, validity};
