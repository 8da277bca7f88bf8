//! Where the files of a dataset lie.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use tallyhouse_collection::Rejects;
use tallyhouse_storage::{RelativePath, StorageError, is_temporary, unfinished};

use crate::tables;

/// The file that is written last.
pub(crate) const MANIFEST: &str = "manifest.json";
/// The list of all other files.
pub(crate) const FILES: &str = "files.json";
/// Sums over clusters, where puzzles have weights or families.
pub(crate) const SUMS: &str = "sums.json";
pub(crate) const COUNTS: &str = "counts.csv";
pub(crate) const EXPOSURE: &str = "exposure.csv";
/// Rates of houses with their intervals.
pub(crate) const RATES: &str = "rates.csv";
/// Shares with their intervals, which are made of counts and sums.
pub(crate) const SHARES: &str = "shares.csv";

/// The files that a finished scan has beside its tables, but for the list and the manifest; not all
/// need be there.
pub(crate) const RESULTS: [&str; 6] = [COUNTS, EXPOSURE, RATES, Rejects::FILE_NAME, SHARES, SUMS];

/// Where the ledger lies while a scan is unfinished.
const LEDGER: &str = "unfinished";
const PLAN: &str = "plan.json";

/// Returns the name of a part's files, without what follows the dot. Names sort as the parts do.
pub(crate) fn file_stem(number: u64) -> String {
    format!("part-{number:08}")
}

/// Returns the path of a part of a table.
pub(crate) fn table_path(folder: &Path, table: &str, part: u64) -> PathBuf {
    folder.join(table).join(format!("{}.parquet", file_stem(part)))
}

/// Returns the folder of the ledger, which is there while a run is unfinished.
pub(crate) fn ledger_folder(out: &Path) -> PathBuf {
    out.join(LEDGER)
}

/// Returns the path of the settings of an unfinished run.
pub(crate) fn plan_path(out: &Path) -> PathBuf {
    ledger_folder(out).join(PLAN)
}

/// Returns the path of what is known of a part that is whole.
pub(crate) fn ledger_path(out: &Path, part: u64) -> PathBuf {
    ledger_folder(out).join(format!("{}.json", file_stem(part)))
}

/// Returns the parts of an unfinished run of which something is known.
///
/// # Errors
/// If the folder can't be read.
pub(crate) fn ledgers(out: &Path) -> Result<Vec<u64>, StorageError> {
    let names = names(&ledger_folder(out))?;
    Ok(names.iter().filter_map(|name| number_of(name, "json")).collect())
}

/// Returns the path of the list of a part's rejected rows.
pub(crate) fn rejects_path(out: &Path, part: u64) -> PathBuf {
    ledger_folder(out).join(format!("{}.rejects.csv", file_stem(part)))
}

/// Returns a path below a dataset as lists have it.
///
/// # Errors
/// If it is no path below it.
pub(crate) fn listed(out: &Path, path: &Path) -> Result<RelativePath, StorageError> {
    let below = path.strip_prefix(out).ok().and_then(Path::to_str);
    below.and_then(|below| below.parse().ok()).ok_or_else(|| StorageError::Foreign {
        folder: out.to_owned(),
        found: path.display().to_string(),
    })
}

/// Returns something in a folder that no scan puts there, if there is anything.
///
/// # Errors
/// If a folder can't be read.
pub(crate) fn foreign(out: &Path) -> Result<Option<String>, StorageError> {
    let own = |name: &str| {
        let results = RESULTS.iter().chain(&[MANIFEST, FILES, LEDGER]).chain(&tables::NAMES);
        results.into_iter().any(|own| *own == name)
    };
    if let Some(found) = first_unless(out, &own)? {
        return Ok(Some(found));
    }
    for table in tables::NAMES {
        let of_part = |name: &str| is_of_part(name, &["parquet"]);
        if let Some(found) = first_unless(&out.join(table), &of_part)? {
            return Ok(Some(format!("{table}/{found}")));
        }
    }
    let found = first_unless(&ledger_folder(out), &is_of_ledger)?;
    Ok(found.map(|found| format!("{LEDGER}/{found}")))
}

/// Returns the part that a file of a table belongs to; none if it is no such file.
pub(crate) fn part_of(path: &RelativePath) -> Option<u64> {
    let (table, name) = path.as_str().split_once('/')?;
    number_of(name, "parquet").filter(|_| tables::NAMES.contains(&table))
}

fn is_of_ledger(name: &str) -> bool {
    name == PLAN || is_of_part(name, &["json", "rejects.csv"])
}

fn is_of_part(name: &str, endings: &[&str]) -> bool {
    endings.iter().any(|ending| number_of(name, ending).is_some())
}

/// Returns the part that a file with such an ending belongs to.
fn number_of(name: &str, ending: &str) -> Option<u64> {
    let (number, found) = name.strip_prefix("part-")?.split_once('.')?;
    number.parse().ok().filter(|_| found == ending)
}

fn first_unless(folder: &Path, own: &dyn Fn(&str) -> bool) -> Result<Option<String>, StorageError> {
    let mut names = names(folder)?;
    names.retain(|name| !own(name) && !is_temporary(name.as_ref()));
    Ok(names.into_iter().min())
}

fn names(folder: &Path) -> Result<Vec<String>, StorageError> {
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries.map_err(StorageError::read(folder))?,
    };
    let name = |entry: io::Result<fs::DirEntry>| {
        entry.map(|entry| entry.file_name().to_string_lossy().into_owned())
    };
    entries.map(name).collect::<io::Result<_>>().map_err(StorageError::read(folder))
}

/// Removes what killed runs left of files of a dataset. Nobody else may be at work there.
///
/// # Errors
/// If something can't be removed.
pub(crate) fn sweep(out: &Path) -> Result<(), StorageError> {
    let folders = tables::NAMES.iter().map(|table| out.join(table));
    for folder in folders.chain([ledger_folder(out)]) {
        for name in names(&folder)?.iter().filter(|name| is_temporary(name.as_ref())) {
            remove(&folder.join(name))?;
        }
    }
    for name in RESULTS.iter().chain(&[FILES, MANIFEST]) {
        let file = out.join(name);
        let left = unfinished(&file).map_err(StorageError::read(out))?;
        left.iter().try_for_each(|path| remove(path))?;
    }
    Ok(())
}

/// Removes all that an unfinished run has written, the plan last.
///
/// # Errors
/// If something can't be removed.
pub(crate) fn remove_unfinished(out: &Path) -> Result<(), StorageError> {
    for folder in tables::NAMES.iter().map(|table| out.join(table)) {
        names(&folder)?.iter().try_for_each(|name| remove(&folder.join(name)))?;
        remove_folder(&folder)?;
    }
    RESULTS.iter().chain([&FILES]).try_for_each(|name| remove(&out.join(name)))?;
    remove_ledger(out)
}

/// Removes the ledger of a finished run, in an order in which a removal that is broken off can be
/// taken up again: the plan last.
///
/// # Errors
/// If something can't be removed.
pub(crate) fn remove_ledger(out: &Path) -> Result<(), StorageError> {
    sweep(out)?;
    let folder = ledger_folder(out);
    let mut names = names(&folder)?;
    names.retain(|name| is_of_ledger(name));
    names.sort_by_key(|name| name == PLAN);
    names.iter().try_for_each(|name| remove(&folder.join(name)))?;
    remove_folder(&folder)
}

fn remove_folder(folder: &Path) -> Result<(), StorageError> {
    match fs::remove_dir(folder) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => {
            Err(StorageError::write(folder)(error))
        }
        _ => Ok(()),
    }
}

fn remove(path: &Path) -> Result<(), StorageError> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => {
            Err(StorageError::write(path)(error))
        }
        _ => Ok(()),
    }
}

/// Tests if a folder holds nothing, or no more than what a run makes before it has a plan.
///
/// # Errors
/// If a folder can't be read.
pub(crate) fn is_unused(out: &Path) -> Result<bool, StorageError> {
    let made = |name: &str| name == LEDGER || tables::NAMES.contains(&name);
    let inside = tables::NAMES.iter().chain([&LEDGER]).map(|name| out.join(name));
    for (folder, own) in [(out.to_owned(), &made as &dyn Fn(&str) -> bool)]
        .into_iter()
        .chain(inside.map(|folder| (folder, &(|_: &str| false) as &dyn Fn(&str) -> bool)))
    {
        if first_unless(&folder, own)?.is_some() {
            return Ok(false);
        }
    }
    Ok(true)
}
