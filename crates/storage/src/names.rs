//! Temporary names: all begin with a dot and tell for what they stand, and no two runs share one.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What all temporary names hold.
const MARK: &str = ".tallyhouse-";
/// How many letters tell one temporary name from another.
const LETTERS: usize = 6;
/// The end of the name of a lock.
const LOCK: &str = "lock";
/// How much of a file's own name its temporary names keep, so that they are not too long.
const KEPT: usize = 150;

/// Returns how the temporary names of a file begin; with no file, those of a folder's own.
pub(crate) fn prefix(file: Option<&OsStr>) -> String {
    let Some(name) = file else { return MARK.to_owned() };
    let name: String = name.to_string_lossy().into_owned();
    let kept = (0..=KEPT.min(name.len())).rev().find(|&end| name.is_char_boundary(end));
    format!(".{}{MARK}", &name[..kept.unwrap_or(0)])
}

/// Returns the name of the lock of a file; with no file, that of a folder.
pub(crate) fn lock_name(file: Option<&OsStr>) -> String {
    prefix(file) + LOCK
}

/// Tests if a name is a temporary one of this program: not of a result, and nobody else's.
///
/// ```
/// use tallyhouse_storage::is_temporary;
///
/// assert!(is_temporary(".tallyhouse-aB3xY9".as_ref()));
/// assert!(is_temporary(".a.csv.tallyhouse-aB3xY9".as_ref()));
/// assert!(!is_temporary("a.csv".as_ref()));
/// assert!(!is_temporary(".tallyhouse-settings".as_ref()));
/// ```
#[must_use]
pub fn is_temporary(name: &OsStr) -> bool {
    let name = name.to_string_lossy();
    let Some((_, last)) = name.rsplit_once(MARK) else { return false };
    name.starts_with('.') && is_ending(last)
}

fn is_ending(last: &str) -> bool {
    let drawn = last.len() == LETTERS && last.bytes().all(|b| b.is_ascii_alphanumeric());
    last == LOCK || drawn
}

/// Begins a temporary file or folder of `file`, or of a folder itself.
pub(crate) fn builder(prefix: &str) -> tempfile::Builder<'_, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(prefix).rand_bytes(LETTERS);
    builder
}

/// Returns the folder that a file lies in.
pub(crate) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Returns the place that something in a staging folder is made for.
pub(crate) fn meant(path: &Path) -> PathBuf {
    let is_staging = |part: &OsStr| {
        is_temporary(part) && part.to_string_lossy().starts_with(MARK) && part != &*lock_name(None)
    };
    let mut parts = path.components();
    let mut place: PathBuf =
        parts.by_ref().take_while(|part| !is_staging(part.as_os_str())).collect();
    // Its first folder is where files are made.
    place.extend(parts.skip(1));
    place
}

/// Lists what runs that were ended before their time, or are not at their end yet, have written of a
/// file, in the order of names.
///
/// # Errors
/// If the folder can't be read.
pub fn unfinished(file: &Path) -> io::Result<Vec<PathBuf>> {
    let prefix = prefix(file.file_name());
    let is_of_file = |path: &PathBuf| {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let ending = name.strip_prefix(&prefix);
        ending.is_some_and(|ending| ending != LOCK && is_ending(ending))
    };
    let entries = match fs::read_dir(folder_of(file)) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries?,
    };
    let paths: io::Result<Vec<PathBuf>> =
        entries.map(|entry| entry.map(|entry| entry.path())).collect();
    let mut paths: Vec<PathBuf> = paths?.into_iter().filter(is_of_file).collect();
    paths.sort();
    Ok(paths)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temporary_names_are_known_and_never_too_long() {
        let name = |file: &str| prefix(Some(OsStr::new(file))) + "aaaaaa";
        for name in
            [name("a.csv"), name(&"ü".repeat(120)), lock_name(None), prefix(None) + "Zz0000"]
        {
            assert!(is_temporary(OsStr::new(&name)), "{name}");
            assert!(name.len() < 200, "{name}");
        }
        for name in ["tallyhouse-aaaaaa", "a.tallyhouse-aaaaaa", ".tallyhouse-aaaa", ".tallyhouse-"]
        {
            assert!(!is_temporary(OsStr::new(name)), "{name}");
        }
    }

    #[test]
    fn what_is_unfinished_of_a_file_is_found() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a");
        assert_eq!(unfinished(&folder.path().join("no/such")).unwrap(), Vec::<PathBuf>::new());
        for name in [".a.tallyhouse-aaaaaa", ".a.tallyhouse-lock", ".b.tallyhouse-aaaaaa", "a"] {
            fs::write(folder.path().join(name), "").unwrap();
        }
        assert_eq!(unfinished(&file).unwrap(), [folder.path().join(".a.tallyhouse-aaaaaa")]);
    }
}
