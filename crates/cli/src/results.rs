//! The folders that commands write.

use std::fs;
use std::path::Path;

use anyhow::bail;
use tallyhouse_analysis::AnalysisError;
use tallyhouse_census::CensusError;
use tallyhouse_collection::Rejects;
use tallyhouse_report::ReportError;
use tallyhouse_report::specimen::Examined;
use tallyhouse_storage::{NewFolder, OutFolder, Sharing, StorageError};

use crate::messages::{self, Rejected};

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

/// Hands over what a search gave with the folder to go on with. If no row was a valid puzzle, the folder
/// keeps the list of rejected rows: it is all there is.
pub(crate) fn unless_no_puzzle<T>(
    folder: NewFolder,
    result: Result<T, ReportError>,
) -> anyhow::Result<(T, NewFolder)> {
    match result {
        Err(error @ ReportError::AllRejected { .. }) => {
            let list = folder.path().join(Rejects::FILE_NAME);
            folder.finish_failed()?;
            bail!("{error}; all are listed in {}", list.display());
        }
        result => Ok((result?, folder)),
    }
}

/// Says which of so many rows were rejected; a folder lists them.
pub(crate) fn warn_listed(rejects: &Rejects, of: u64, folder: &Path) {
    messages::warn_rejected(&Rejected {
        rows: rejects.counts().total(),
        of,
        reasons: Some(rejects.counts()),
        first: rejects.first(),
        list: &folder.join(Rejects::FILE_NAME),
    });
}

/// Says which rows of a search were rejected, if a folder lists them.
pub(crate) fn warn_rejected(examined: &Examined, folder: &Path) {
    let list = folder.join(Rejects::FILE_NAME);
    if !list.exists() {
        return;
    }
    let Examined { rejected, puzzles, first_reject, .. } = examined;
    messages::warn_rejected(&Rejected {
        rows: *rejected,
        of: puzzles + rejected,
        reasons: None,
        first: first_reject.as_deref(),
        list: &list,
    });
}

/// Locks a folder that files are added to, and makes it first where it is not there.
pub(crate) fn shared_folder(path: &Path) -> Result<OutFolder, StorageError> {
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(StorageError::write(parent))?;
    }
    OutFolder::claim(path, Sharing::Exclusive)
}
