//! What is wrong with sources, tables and rows.

use std::io;

use tallyhouse_board::ParsePuzzleError;

use crate::lines::LONGEST_LINE;
use crate::{Column, ParseWeightError};

/// A source that can't be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// The source does not open.
    #[error("cannot open {source_name}: {error}")]
    Open {
        /// The path as given.
        source_name: String,
        /// What the system says.
        error: io::Error,
    },
    /// Reading broke off.
    #[error("cannot read {source_name} after line {line}: {error}")]
    Read {
        /// The path as given.
        source_name: String,
        /// The last line read, counted from 1; 0 if none was.
        line: u64,
        /// What the system says.
        error: io::Error,
    },
    /// The source is a table, but not one with a column of puzzles.
    #[error("cannot read {source_name}, line {line}: {error}")]
    Table {
        /// The path as given.
        source_name: String,
        /// The line of the header or of the first record, counted from 1.
        line: u64,
        /// What is wrong.
        error: TableError,
    },
    /// A family comes again after another one.
    #[error(
        "cannot read {source_name}, line {line}: family {family} has puzzles further up, before those \
         of another family; expected families to stand together: run collect first, it puts them so"
    )]
    FamilyReturns {
        /// The path as given.
        source_name: String,
        /// The line, counted from 1.
        line: u64,
        /// The family.
        family: u64,
    },
    /// No source has a row.
    #[error(
        "no puzzles in {0}: expected lines of 81 characters, grids of 9 lines, or a table with a \
         column of puzzles"
    )]
    Empty(String),
    /// No row is a valid puzzle, where at least one has to be.
    #[error("{source_name}: none of the {rows} rows is a valid puzzle; the first: {first}")]
    NoneValid {
        /// The names of the sources.
        source_name: String,
        /// How many rows there are.
        rows: u64,
        /// The first of them, and what is wrong with it.
        first: String,
    },
    /// The sources end before all rows that were demanded.
    #[error("{source_name}: {found} rows, expected {wanted}; it may have been cut off")]
    TooFewRows {
        /// The names of the sources.
        source_name: String,
        /// How many rows were demanded.
        wanted: u64,
        /// How many there are.
        found: u64,
    },
    /// The sources have more rows than were demanded.
    #[error("{source_name}: more rows than the {wanted} expected")]
    TooManyRows {
        /// The names of the sources.
        source_name: String,
        /// How many rows were demanded.
        wanted: u64,
    },
}

/// Why a table can't be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TableError {
    /// The column that was asked for isn't there.
    #[error("no column {column}: expected one of {found}")]
    NoColumn {
        /// The column that was asked for.
        column: Column,
        /// The columns with their numbers.
        found: String,
    },
    /// No column was asked for, and none shows a puzzle.
    #[error("no puzzle in the first record: expected 81 characters in one of {found}")]
    NoPuzzles {
        /// The columns with their numbers.
        found: String,
    },
    /// No column was asked for, and several show a puzzle.
    #[error("puzzles in {found}: expected the name or number of one column")]
    SeveralColumns {
        /// Those columns with their numbers.
        found: String,
    },
}

/// Why a row gives no puzzle.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RowError {
    /// The text is not a puzzle.
    #[error(transparent)]
    Puzzle(#[from] ParsePuzzleError),
    /// A grid has another number of rows.
    #[error("a grid of {found} {}: expected 9", if *.found == 1 { "row" } else { "rows" })]
    GridRows {
        /// How many rows of cells were found.
        found: usize,
    },
    /// A row of a grid has another number of cells.
    #[error("row {row} of the grid has {found} cells: expected 9")]
    GridCells {
        /// The row, counted from 1.
        row: usize,
        /// How many cells were found.
        found: usize,
    },
    /// A row of a grid has a character that is neither a cell nor a frame.
    #[error("row {row} of the grid has '{}': expected 1-9, or one of . 0 _ - for a blank", found.escape_debug())]
    GridCharacter {
        /// The row, counted from 1.
        row: usize,
        /// The first such character.
        found: char,
    },
    /// In a grid where `-` is a blank there are lines of dashes that may be rules or rows.
    #[error("lines of dashes that may be rules or blank rows: expected . or 0 for a blank")]
    GridDashes,
    /// The record has no field in the column of puzzles.
    #[error("a record of {found} fields: expected a puzzle in field {column}")]
    MissingField {
        /// How many fields there are.
        found: usize,
        /// The column of puzzles, counted from 1.
        column: usize,
    },
    /// The weight can't be used.
    #[error(transparent)]
    Weight(#[from] ParseWeightError),
    /// The family can't be used.
    #[error("family is '{}': expected a whole number from 0 to {}", .0.escape_debug(), i64::MAX)]
    Family(String),
    /// A weight or a family is given twice.
    #[error("{0} is given twice: expected it once")]
    Twice(&'static str),
    /// The line is too long to be kept.
    #[error(
        "a line of more than {} bytes, of which the beginning is shown: expected a puzzle of 81 characters",
        LONGEST_LINE
    )]
    TooLong,
}
