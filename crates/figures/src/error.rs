/// Why a figure can't be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FigureError {
    /// There is nothing to draw.
    #[error("cannot draw '{title}': it has no {what}")]
    NoData {
        /// The title of the figure.
        title: String,
        /// What is missing, in the plural.
        what: &'static str,
    },
    /// A value does not suit the figure.
    #[error("cannot draw '{title}': {place}: found {found}, expected {expected}")]
    Unfit {
        /// The title of the figure.
        title: String,
        /// Where the value stands.
        place: String,
        /// The value.
        found: String,
        /// What would do.
        expected: String,
    },
    /// A mark can't be drawn.
    #[error("cannot draw the figure: {0}")]
    Draw(String),
    /// The SVG can't be turned into another kind of file.
    #[error("cannot turn the figure into {into}: {reason}")]
    Convert {
        /// The kind of file.
        into: &'static str,
        /// What stands in the way.
        reason: String,
    },
    /// The data can't be written as CSV.
    #[error("cannot write the figure's data")]
    Data(#[from] csv::Error),
}
