use tallyhouse_board::{Cell, Digit, House};
use tallyhouse_census::CensusError;
use tallyhouse_collection::{ReadError, RejectsError};
use tallyhouse_document::DocumentError;
use tallyhouse_engine::Contradiction;

use super::NoSuchSplit;
use crate::saving::SaveError;

/// Why specimens can't be found, drawn or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SpecimenError {
    /// No quiet position can fit what is wanted.
    #[error(transparent)]
    Wanted(#[from] NoSuchSplit),
    /// A source can't be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The list of rejected rows can't be written.
    #[error(transparent)]
    Rejects(#[from] RejectsError),
    /// No row is a valid puzzle.
    #[error("none of the {rows} rows is a valid puzzle; the first: {first}")]
    AllRejected {
        /// How many rows were read.
        rows: u64,
        /// The first reject.
        first: String,
    },
    /// The position has no solution.
    #[error("the position has no solution")]
    Contradiction(#[from] Contradiction),
    /// The position belongs to some other puzzle.
    #[error("the position does not go with the puzzle: expected the given {digit} in {cell}")]
    OtherPuzzle {
        /// The cell of the given.
        cell: Cell,
        /// The given.
        digit: Digit,
    },
    /// The cells are no productive split.
    #[error(
        "{} of {house} make no split with eliminations: expected open cells with as many candidates \
         between them as they are, some of which stand in the other open cells",
        super::cell_words(cells.iter().copied()).join(", ")
    )]
    NoSubset {
        /// The house.
        house: House,
        /// The cells.
        cells: Vec<Cell>,
    },
    /// A dataset records a split that its board does not show.
    #[error(
        "the dataset is damaged: puzzle {number} at quiet position {quiet_position} (both counted \
         from 0) does not show the split recorded for {house}"
    )]
    OtherSplit {
        /// The position of the puzzle in the collection.
        number: u64,
        /// The number of the quiet position.
        quiet_position: u16,
        /// The house.
        house: House,
    },
    /// A specimen that was kept can't be read again.
    #[error("the specimen of puzzle {number} that was kept is damaged")]
    Kept {
        /// The position of the puzzle in the collection.
        number: u64,
    },
    /// The walk has no quiet position of this number.
    #[error("the walk has {positions} quiet positions: found position {wanted} wanted")]
    NoSuchPosition {
        /// The number, counted from 1.
        wanted: u32,
        /// How many there are.
        positions: usize,
    },
    /// A figure or a table can't be made or written.
    #[error(transparent)]
    Save(#[from] SaveError),
    /// A dataset can't be read.
    #[error(transparent)]
    Census(#[from] CensusError),
    /// The page can't be put together.
    #[error(transparent)]
    Document(#[from] DocumentError),
}
