use std::io;
use std::path::{Path, PathBuf};

use tallyhouse_analysis::order_search::OrderError;
use tallyhouse_analysis::{AnalysisError, FileError};
use tallyhouse_board::{Cell, Digit, House};
use tallyhouse_census::CensusError;
use tallyhouse_collection::{ReadError, RejectsError, WriteError};
use tallyhouse_document::DocumentError;
use tallyhouse_engine::Contradiction;
use tallyhouse_figures::{FigureError, NoSuchWidth};
use tallyhouse_storage::StorageError;
use tallyhouse_words::{count, counted, list};

use crate::specimen::NoSuchSplit;
use crate::worksheet::NoSuchWish;

/// Why a chart, a specimen or a study could not be made. Stages of a study that were done stay done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// The folder holds something else.
    #[error("{} {reason}", .path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A file can't be read or written.
    #[error("{}: {error}", .path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// The recipe, a rulebook or a claim file can't be used.
    #[error(transparent)]
    File(#[from] FileError),
    /// A file or folder can't be written, or is not as it was written.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// A scan failed, or a dataset can't be read.
    #[error(transparent)]
    Census(#[from] CensusError),
    /// A collection can't be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The list of rejected rows can't be written.
    #[error(transparent)]
    Rejects(#[from] RejectsError),
    /// A collection can't be made.
    #[error(transparent)]
    Make(#[from] WriteError),
    /// A trial failed.
    #[error(transparent)]
    Analysis(#[from] AnalysisError),
    /// A search for orders failed.
    #[error(transparent)]
    Order(#[from] OrderError),
    /// The chart counts puzzles, and these are not all worth the same.
    #[error(
        "{} has weights or families: expected puzzles that count alike and stand alone, for the \
         interval is that of a plain share",
        .0.display()
    )]
    Weighted(PathBuf),
    /// No quiet position can fit what is wanted.
    #[error(transparent)]
    Wanted(#[from] NoSuchSplit),
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
        cells.join(", ")
    )]
    NoSubset {
        /// The house.
        house: House,
        /// The cells.
        cells: Vec<String>,
    },
    /// No puzzle can be practised on as wanted.
    #[error(transparent)]
    Wish(#[from] NoSuchWish),
    /// Too few puzzles fit for a worksheet.
    #[error(
        "found {} of the {wanted} items asked for in {}, repeats up to symmetry left out: give more \
         puzzles or ask for fewer items",
        if *found == 0 { "none".to_owned() } else { count(*found as u64) },
        counted(*puzzles, "valid puzzle", "valid puzzles")
    )]
    TooFewItems {
        /// How many were found.
        found: usize,
        /// How many were asked for.
        wanted: usize,
        /// How many puzzles were examined.
        puzzles: u64,
    },
    /// A page is too narrow for a figure.
    #[error(transparent)]
    Width(#[from] NoSuchWidth),
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
    #[error(
        "the walk of this puzzle has {}: found --position {wanted}",
        counted(*positions as u64, "quiet position", "quiet positions")
    )]
    NoSuchPosition {
        /// The number, counted from 1.
        wanted: u32,
        /// How many there are.
        positions: usize,
    },
    /// A house without a subset is to be explained.
    #[error(
        "{house} has no subset at quiet position {number}; {}",
        if houses.is_empty() {
            "no house has one there".to_owned()
        } else {
            format!("there is one in {}", list(houses))
        }
    )]
    NothingToExplain {
        /// The house.
        house: House,
        /// The number of the position, from 1.
        number: u16,
        /// The houses that have one.
        houses: Vec<String>,
    },
    /// A file of captions can't be understood.
    #[error(
        "{}, line {line}: {reason}; expected lines as in specimen-1-board = \"The pair in row 4.\"",
        path.display()
    )]
    Captions {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
        /// What is wrong with it.
        reason: String,
    },
    /// A caption belongs to no figure.
    #[error("{}: '{name}' is none of the figures that are drawn: {figures}", path.display())]
    NoSuchFigure {
        /// The file of captions.
        path: PathBuf,
        /// The name in the file.
        name: String,
        /// The figures.
        figures: String,
    },
    /// A mark was asked for where no figure shows the digit.
    #[error("the mark {cell}:{digit} is in no figure: expected a digit that stands in {cell}")]
    NoSuchMark {
        /// The cell.
        cell: Cell,
        /// The digit.
        digit: Digit,
    },
    /// A figure can't be drawn.
    #[error(transparent)]
    Figure(#[from] FigureError),
    /// The report can't be written.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// Data can't be written as JSON.
    #[error(transparent)]
    Json(#[from] serde_json::Error),
    /// Data can't be written as CSV.
    #[error(transparent)]
    Csv(#[from] csv::Error),
}

/// Says which file could not be read or written.
pub(crate) fn io_error(path: &Path) -> impl FnOnce(io::Error) -> ReportError + '_ {
    move |error| ReportError::Io { path: path.to_owned(), error }
}

impl ReportError {
    /// The list of rejected rows that the error names, if it names one.
    pub(crate) const fn rejects_mut(&mut self) -> Option<&mut PathBuf> {
        match self {
            Self::Census(CensusError::AllRejected { rejects, .. })
            | Self::Analysis(AnalysisError::Census(CensusError::AllRejected { rejects, .. })) => {
                Some(rejects)
            }
            _ => None,
        }
    }
}
