//! The folders that commands write.

use std::fs;
use std::path::Path;

use tallyhouse_analysis::AnalysisError;
use tallyhouse_census::CensusError;
use tallyhouse_collection::Rejects;
use tallyhouse_storage::{NewFolder, OutFolder, Sharing, StorageError};

/// Keeps the list of rejected rows, which is all there is if no row is a valid puzzle, and says where
/// it lies.
pub(crate) fn all_rejected(folder: NewFolder, error: CensusError) -> anyhow::Error {
    let list = folder.path().join(Rejects::FILE_NAME);
    if let Err(error) = folder.finish_failed() {
        return error.into();
    }
    match error {
        CensusError::AllRejected { rows, first, .. } => {
            CensusError::AllRejected { rows, first, rejects: list }.into()
        }
        other => other.into(),
    }
}

/// Hands over what came of puzzles with the folder to go on with. If no row was a valid puzzle, the folder
/// keeps what [`all_rejected`] keeps.
pub(crate) fn unless_all_rejected<T>(
    folder: NewFolder,
    result: Result<T, AnalysisError>,
) -> anyhow::Result<(T, NewFolder)> {
    match result {
        Err(AnalysisError::Census(error @ CensusError::AllRejected { .. })) => {
            Err(all_rejected(folder, error))
        }
        result => Ok((result?, folder)),
    }
}

/// Locks a folder that files are added to, and makes it first where it is not there.
pub(crate) fn shared_folder(path: &Path) -> Result<OutFolder, StorageError> {
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(StorageError::write(parent))?;
    }
    OutFolder::claim(path, Sharing::Exclusive)
}
