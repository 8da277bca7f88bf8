/// Why a figure can't be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FigureError {
    /// The drawing library refused.
    #[error("cannot draw the figure: {0}")]
    Draw(String),
    /// The SVG can't be turned into pixels.
    #[error("cannot turn the figure into a PNG: {0}")]
    Rasterise(String),
    /// The data can't be written as CSV.
    #[error("cannot write the figure's data: {0}")]
    Data(#[from] csv::Error),
}
