//! Where the files of a dataset lie.

use std::path::{Path, PathBuf};

/// The file that is written last.
pub(crate) const MANIFEST: &str = "manifest.json";

/// Returns the name of a part's files, without what follows the dot.
pub(crate) fn file_stem(number: u64) -> String {
    format!("part-{number:05}")
}

/// Returns the path of a part of a table.
pub(crate) fn table_path(folder: &Path, table: &str, part: u64) -> PathBuf {
    folder.join(table).join(format!("{}.parquet", file_stem(part)))
}

/// Returns the folder of the ledger, which is there while a run is unfinished.
pub(crate) fn ledger_folder(out: &Path) -> PathBuf {
    out.join("unfinished")
}

/// Returns the path of the settings of an unfinished run.
pub(crate) fn plan_path(out: &Path) -> PathBuf {
    ledger_folder(out).join("plan.json")
}
