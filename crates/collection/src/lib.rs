//! Reading, checking and generating puzzles.
//!
//! Reading is a stream: a row at a time, whatever the size of the input. A row that can't be used is
//! never dropped silently; it becomes a [`Reject`] with its file, line, text and reason.
#![deny(missing_docs)]
#![forbid(unsafe_code)]

mod canonical;
mod digest;
mod duplicates;
mod encoding;
mod entry;
mod error;
mod families;
mod format;
mod generate;
mod grid;
mod key_table;
mod layout;
mod lines;
mod pass;
mod place;
mod places;
mod reader;
mod reject;
mod row;
mod rows;
mod seen;
mod source;
mod table;
mod text_rows;
mod unpack;
mod validity;
mod weight;
mod whole_file;

pub use canonical::{Canonical, canonical, class_key};
pub use digest::{BLOCK_ROWS, BlockDigests, BlockHasher, Numbering};
pub use duplicates::{Duplicates, fingerprint};
pub use entry::{Block, Entry, EntryText};
pub use error::{ReadError, RowError, TableError};
pub use families::Families;
pub use format::{Column, Format, FormatKind};
pub use generate::{
    GivensSymmetry, Likeness, Made, MakeError, MinimalByDeletion, Recipe, RecipeError, Sampling,
    SamplingMethod, Unit, Wishes, WriteError, are_minimal, solved_board,
};
pub use pass::{Part, Progress, Silent};
pub use place::Place;
pub use places::{PlacedPart, Survey, SurveyError, survey};
pub use reject::{Reason, ReasonKind, Reject, RejectCounts, Rejects, RejectsError};
pub use rows::Rows;
pub use seen::{Origin, Seen, SeenBefore, SeenKeys};
pub use source::Source;
pub use validity::{only_valid, validities, validity, validity_of};
pub use weight::{ParseWeightError, Weight};
