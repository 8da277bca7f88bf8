//! What an unfinished run knows of itself: its settings and the parts that are whole.
//!
//! The ledger folder lives inside the dataset while the run goes on and is removed after the
//! manifest is written.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tallyhouse_storage::{read_json, write_json};

use crate::layout::{file_stem, ledger_folder, plan_path};
use crate::{CensusError, Counts};

/// The record of a whole part.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct PartLedger {
    /// BLAKE3 of the part's rows, so that a changed collection is noticed.
    pub(crate) digest: String,
    pub(crate) first_reject: Option<String>,
    pub(crate) counts: Counts,
}

/// Removes the ledger of a finished run in an order in which a removal that is broken off can be
/// resumed like any other run: the records of parts before what they vouch for, the plan last.
pub(crate) fn remove(out: &Path) -> Result<(), CensusError> {
    let folder = ledger_folder(out);
    let plan = plan_path(out);
    let remove = || -> io::Result<()> {
        let entries: io::Result<Vec<_>> = fs::read_dir(&folder)?.collect();
        let paths = entries?.into_iter().map(|entry| entry.path()).filter(|path| *path != plan);
        let (records, others): (Vec<_>, Vec<_>) =
            paths.partition(|path| path.extension().is_some_and(|kind| kind == "json"));
        records.iter().chain(&others).chain([&plan]).try_for_each(fs::remove_file)?;
        fs::remove_dir(&folder)
    };
    remove().map_err(CensusError::write(&folder))
}

/// Returns the path of the list of a part's rejected rows.
pub(crate) fn rejects_path(out: &Path, number: u64) -> PathBuf {
    ledger_folder(out).join(format!("{}.rejects.csv", file_stem(number)))
}

fn part_path(out: &Path, number: u64) -> PathBuf {
    ledger_folder(out).join(format!("{}.json", file_stem(number)))
}

impl PartLedger {
    pub(crate) fn write(&self, out: &Path, number: u64) -> Result<(), CensusError> {
        write_json(&part_path(out, number), self)?;
        Ok(())
    }

    /// Reads the record of a part, `None` if the part is not whole yet.
    pub(crate) fn read(out: &Path, number: u64) -> Result<Option<Self>, CensusError> {
        Ok(read_json(&part_path(out, number))?)
    }
}
