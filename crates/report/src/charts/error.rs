//! Why a chart can't be made.

use std::path::PathBuf;

use tallyhouse_census::CensusError;

/// Why a chart could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ChartError {
    /// The chart counts puzzles, and these are not all worth the same.
    #[error(
        "{} has weights or families: expected puzzles that count alike and stand alone, for the \
         interval is that of a plain share",
        .0.display()
    )]
    Weighted(PathBuf),
    /// Data can't be read.
    #[error(transparent)]
    Census(#[from] CensusError),
}
