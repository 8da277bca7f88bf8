//! What an unfinished run knows of itself: its settings and the parts that are whole.
//!
//! The ledger folder lives inside the dataset while the run goes on and is removed after the
//! manifest is written.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::aside::write_file;
use crate::part::file_stem;
use crate::{CensusError, Counts};

/// The record of a whole part.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct PartLedger {
    /// BLAKE3 of the part's rows, so that a changed collection is noticed.
    pub(crate) digest: String,
    pub(crate) first_reject: Option<String>,
    pub(crate) counts: Counts,
}

/// Returns the folder of the ledger.
pub(crate) fn folder(out: &Path) -> PathBuf {
    out.join("unfinished")
}

fn part_path(out: &Path, number: u64) -> PathBuf {
    folder(out).join(format!("{}.json", file_stem(number)))
}

impl PartLedger {
    pub(crate) fn write(&self, out: &Path, number: u64) -> Result<(), CensusError> {
        write_json(&part_path(out, number), self)
    }

    /// Reads the record of a part, `None` if the part is not whole yet.
    pub(crate) fn read(out: &Path, number: u64) -> Result<Option<Self>, CensusError> {
        read_json(&part_path(out, number))
    }
}

pub(crate) fn write_json(path: &Path, value: &impl Serialize) -> Result<(), CensusError> {
    write_file(path, |writer| {
        serde_json::to_writer_pretty(&mut *writer, value).map_err(io::Error::from)?;
        writer.write_all(b"\n")
    })
}

pub(crate) fn read_json<T: DeserializeOwned>(path: &Path) -> Result<Option<T>, CensusError> {
    let damaged = |reason: String| CensusError::Damaged { path: path.to_owned(), reason };
    match fs::read(path) {
        Ok(bytes) => serde_json::from_slice(&bytes).map(Some).map_err(|e| damaged(e.to_string())),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(damaged(error.to_string())),
    }
}
