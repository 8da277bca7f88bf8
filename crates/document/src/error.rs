/// Why a document can't become a page.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DocumentError {
    /// Two parts have the same id, or one has an id of the page itself.
    #[error("the id '{0}' stands for two parts of the page; each part needs its own")]
    DuplicateId(String),
    /// An id can't be an anchor.
    #[error(
        "the id '{0}' can't be linked to; expected a letter, then letters, digits, '-', '_' or '.'"
    )]
    UnfitId(String),
    /// A row has too few or too many cells.
    #[error("table '{table}', row {row}: found {found} cells, expected {expected}")]
    Row {
        /// The id of the table.
        table: String,
        /// The number of the row, counted from 1.
        row: usize,
        /// How many cells it has.
        found: usize,
        /// How many columns there are.
        expected: usize,
    },
    /// A picture can't be shown.
    #[error("{place}: found {found}, expected an SVG document with a size in millimetres")]
    Picture {
        /// Where the picture stands.
        place: String,
        /// What it is instead.
        found: String,
    },
    /// A path leads away from the report.
    #[error("{place}: found the path '{path}', expected one relative to the report, with '/'")]
    Path {
        /// Where the path stands.
        place: String,
        /// The path.
        path: String,
    },
    /// The page can't be put together.
    #[error("cannot put the page together")]
    Template(#[from] minijinja::Error),
}
