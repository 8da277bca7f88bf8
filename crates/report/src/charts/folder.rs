use std::path::Path;

use tallyhouse_census::CensusError;
use tallyhouse_storage::{MANIFEST, contents};

use crate::ReportError;

/// Fails if a folder that another command wrote is not as it was written. What has no list of its files
/// is not found good either.
pub(super) fn check(folder: &Path) -> Result<(), ReportError> {
    let files = contents(folder)?.ok_or_else(|| CensusError::Damaged {
        path: folder.join(MANIFEST),
        reason: "it is not there, so the folder is not finished".to_owned(),
    })?;
    Ok(files.check(folder)?)
}
