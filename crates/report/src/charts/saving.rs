//! The files of a figure.

use std::io::Write;
use std::path::{Path, PathBuf};

use tallyhouse_census::{CensusError, write_file};
use tallyhouse_figures::{Figure, FigureError, Theme, Width, rasterise};

/// Pixels per SVG unit of 0.25 mm: about 300 dots per inch.
const PNG_SCALE: f32 = 3.0;

/// Why a figure could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ChartError {
    /// The figure can't be drawn.
    #[error("{name}: {error}")]
    Figure {
        /// The name of the figure.
        name: String,
        /// What is wrong.
        error: FigureError,
    },
    /// The chart counts puzzles, and these are not all worth the same.
    #[error(
        "{} has weights or families: expected puzzles that count alike and stand alone, for the \
         interval is that of a plain share",
        .0.display()
    )]
    Weighted(PathBuf),
    /// Data can't be read or files can't be written.
    #[error(transparent)]
    Census(#[from] CensusError),
}

/// Saves a figure as SVG, PNG and CSV under a name.
///
/// # Errors
/// If the figure can't be drawn or a file can't be written.
pub fn save(
    figure: &dyn Figure,
    folder: &Path,
    name: &str,
    theme: Theme,
    width: Width,
) -> Result<(), ChartError> {
    let failed = |error| ChartError::Figure { name: name.to_owned(), error };
    let svg = figure.svg(theme, width).map_err(failed)?;
    save_picture(&svg, folder, name)?;
    save_data(figure, folder, name)
}

/// Saves a drawn figure as SVG and PNG under a name.
///
/// # Errors
/// If a file can't be written.
pub fn save_picture(svg: &str, folder: &Path, name: &str) -> Result<(), ChartError> {
    let failed = |error| ChartError::Figure { name: name.to_owned(), error };
    let png = rasterise(svg, PNG_SCALE).map_err(failed)?;
    let path = |extension: &str| folder.join(format!("{name}.{extension}"));
    write_file(&path("svg"), |writer| writer.write_all(svg.as_bytes()))?;
    Ok(write_file(&path("png"), |writer| writer.write_all(&png))?)
}

/// Saves the data of a figure as CSV under a name.
///
/// # Errors
/// If the file can't be written.
pub fn save_data(figure: &dyn Figure, folder: &Path, name: &str) -> Result<(), ChartError> {
    let failed = |error| ChartError::Figure { name: name.to_owned(), error };
    let csv = figure.csv().map_err(failed)?;
    let path = folder.join(format!("{name}.csv"));
    Ok(write_file(&path, |writer| writer.write_all(csv.as_bytes()))?)
}
