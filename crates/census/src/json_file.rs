//! JSON files, written aside and then renamed.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::CensusError;
use crate::aside::write_file;

/// Writes a value with a line feed at the end.
pub(crate) fn write_json(path: &Path, value: &impl Serialize) -> Result<(), CensusError> {
    write_file(path, |writer| {
        serde_json::to_writer_pretty(&mut *writer, value).map_err(io::Error::from)?;
        writer.write_all(b"\n")
    })
}

/// Reads a value, `None` if there is no file.
pub(crate) fn read_json<T: DeserializeOwned>(path: &Path) -> Result<Option<T>, CensusError> {
    let damaged = |reason: String| CensusError::Damaged { path: path.to_owned(), reason };
    match fs::read(path) {
        Ok(bytes) => serde_json::from_slice(&bytes).map(Some).map_err(|e| damaged(e.to_string())),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(damaged(error.to_string())),
    }
}
