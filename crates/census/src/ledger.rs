//! What an unfinished run knows of the parts that are whole.
//!
//! The ledger folder lives inside the dataset while the run goes on and is removed after the
//! manifest is written.

use std::fs;
use std::io;
use std::path::Path;
use std::time::UNIX_EPOCH;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::BlockDigests;
use tallyhouse_storage::{
    Digest, Files, RelativePath, StorageError, Written, read_sealed, write_sealed,
};

use crate::layout::{ledger_path, ledgers, listed};
use crate::rates::PartRates;
use crate::sums::PartSums;
use crate::{CensusError, Counts};

/// The record of a whole part, written after its files.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PartLedger {
    /// The digest of the plan that the part was scanned by.
    pub(crate) plan: Digest,
    /// The digests of its blocks of rows, so that a changed collection is noticed.
    blocks: String,
    pub(crate) first_reject: Option<String>,
    pub(crate) counts: Counts,
    /// None if no puzzle has a weight or a family.
    pub(crate) sums: Option<PartSums>,
    pub(crate) rates: PartRates,
    files: Vec<PartFile>,
    pub(crate) seconds: f64,
}

/// A file of a part.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PartFile {
    path: RelativePath,
    bytes: u64,
    blake3: Digest,
    /// When it was written, in nanoseconds since 1970: who finds the same need not read it again.
    modified: u64,
}

/// What a part gave.
pub(crate) struct PartResults {
    pub(crate) blocks: BlockDigests,
    pub(crate) first_reject: Option<String>,
    pub(crate) counts: Counts,
    pub(crate) sums: Option<PartSums>,
    pub(crate) rates: PartRates,
    pub(crate) seconds: f64,
}

impl PartLedger {
    /// Makes the record of a part whose files lie in a folder.
    pub(crate) fn new(
        plan: Digest,
        results: PartResults,
        out: &Path,
        files: &[(std::path::PathBuf, Written)],
    ) -> Result<Self, StorageError> {
        let PartResults { blocks, first_reject, counts, sums, rates, seconds } = results;
        let file = |(path, written): &(std::path::PathBuf, Written)| {
            let modified = modified(path).map_err(StorageError::read(path))?;
            let &Written { bytes, blake3 } = written;
            Ok(PartFile { path: listed(out, path)?, bytes, blake3, modified })
        };
        let files = files.iter().map(file).collect::<Result<_, StorageError>>()?;
        let blocks = blocks.to_hex();
        Ok(Self { plan, blocks, first_reject, counts, sums, rates, files, seconds })
    }

    pub(crate) fn write(&self, out: &Path, number: u64) -> Result<(), StorageError> {
        write_sealed(&ledger_path(out, number), self).map(drop)
    }

    /// Reads the record of a part, `None` if the part is not whole yet.
    pub(crate) fn read(out: &Path, number: u64) -> Result<Option<Self>, StorageError> {
        read_sealed(&ledger_path(out, number))
    }

    /// Reads the record of a part that a plan has scanned, and whose files are as they were written;
    /// `None` if there is none, so that the part is to be scanned.
    pub(crate) fn of_whole_part(out: &Path, plan: Digest, number: u64) -> Option<Self> {
        let ledger = Self::read(out, number).ok()??;
        let whole = ledger.plan == plan && ledger.files().check(out).is_ok();
        whole.then_some(ledger)
    }

    /// Lists the files of all parts of an unfinished run that are whole.
    pub(crate) fn files_of_all(out: &Path) -> Result<Files, StorageError> {
        let mut files = Files::default();
        for number in ledgers(out)? {
            if let Some(ledger) = Self::read(out, number)? {
                files.extend(&ledger.files());
            }
        }
        Ok(files)
    }

    /// Returns the digests of the blocks of rows.
    pub(crate) fn blocks(&self, out: &Path, number: u64) -> Result<BlockDigests, CensusError> {
        BlockDigests::from_hex(&self.blocks).ok_or_else(|| CensusError::Damaged {
            path: ledger_path(out, number),
            reason: "it has no digests of rows".to_owned(),
        })
    }

    /// Lists the files of the part.
    pub(crate) fn files(&self) -> Files {
        let mut files = Files::default();
        for file in &self.files {
            let written = Written { bytes: file.bytes, blake3: file.blake3 };
            files.insert(file.path.clone(), written);
        }
        files
    }

    /// Fails if a file of the part is not as it was written. Reads only what was touched since then.
    pub(crate) fn check(&self, out: &Path) -> Result<(), StorageError> {
        let is_touched = |file: &&PartFile| {
            let path = file.path.below(out);
            let same = || -> io::Result<bool> {
                Ok(fs::metadata(&path)?.len() == file.bytes && modified(&path)? == file.modified)
            };
            !same().unwrap_or(false)
        };
        let files = self.files();
        let mut touched = self.files.iter().filter(is_touched);
        touched.try_for_each(|file| files.check_one(out, &file.path))
    }
}

fn modified(path: &Path) -> io::Result<u64> {
    let since = fs::metadata(path)?.modified()?.duration_since(UNIX_EPOCH);
    Ok(since.map_or(0, |since| since.as_nanos() as u64))
}
