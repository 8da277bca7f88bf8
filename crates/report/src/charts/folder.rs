use std::path::Path;

use serde::de::DeserializeOwned;
use tallyhouse_census::CensusError;
use tallyhouse_storage::{MANIFEST, contents};

use crate::ReportError;
use crate::error::io_error;

/// Fails if a folder that another command wrote is not as it was written. What has no list of its files
/// is not found good either.
pub(super) fn check(folder: &Path) -> Result<(), ReportError> {
    let files = contents(folder)?.ok_or_else(|| CensusError::Damaged {
        path: folder.join(MANIFEST),
        reason: "it is not there, so the folder is not finished".to_owned(),
    })?;
    Ok(files.check(folder)?)
}

/// Reads a JSON file of such a folder.
pub(super) fn read_json<T: DeserializeOwned>(folder: &Path, name: &str) -> Result<T, ReportError> {
    let path = folder.join(name);
    let text = std::fs::read_to_string(&path).map_err(io_error(&path))?;
    Ok(serde_json::from_str(&text)?)
}
