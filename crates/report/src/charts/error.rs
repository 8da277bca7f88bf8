//! Why a chart can't be made.

use std::path::{Path, PathBuf};

use tallyhouse_census::CensusError;
use tallyhouse_storage::{MANIFEST, StorageError, contents};

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
    /// A file is not as it was written.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// Data can't be read.
    #[error(transparent)]
    Census(#[from] CensusError),
}

/// Fails if a folder that another command wrote is not as it was written. What has no list of its files
/// is not found good either.
pub(super) fn check(folder: &Path) -> Result<(), ChartError> {
    let files = contents(folder)?.ok_or_else(|| CensusError::Damaged {
        path: folder.join(MANIFEST),
        reason: "it is not there, so the folder is not finished".to_owned(),
    })?;
    Ok(files.check(folder)?)
}
