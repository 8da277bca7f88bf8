//! What collections and censuses say: descriptions, shares with intervals, rules of thumb on trial.
#![forbid(unsafe_code)]

mod describe;
mod occurrence;
mod published;

pub use describe::{ClueRow, Description, HardestRow, describe};
pub use occurrence::{ShapeShare, shape_shares, shares_csv};
pub use published::{MINIMAL_BY_ADDITION, MINIMAL_BY_DELETION, MINIMAL_PUZZLES, PublishedClues};
