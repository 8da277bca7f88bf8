//! Folders, copied and compared.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use tallyhouse_storage::is_temporary;
use tempfile::TempDir;

/// The files of a folder by their paths, without what tells the time.
pub(crate) type Tree = BTreeMap<PathBuf, Vec<u8>>;

/// Copies a folder.
pub(crate) fn copied(folder: &Path) -> TempDir {
    let copy = tempfile::tempdir().unwrap();
    copy_to(folder, copy.path());
    copy
}

/// Copies a file, or a folder with all that is in it.
pub(crate) fn copy_to(from: &Path, to: &Path) {
    if from.is_file() {
        fs::copy(from, to).unwrap();
        return;
    }
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let at = entry.unwrap().path();
        copy_to(&at, &to.join(at.file_name().unwrap()));
    }
}

/// Returns all files, hidden ones and empty folders too.
pub(crate) fn tree(folder: &Path) -> Tree {
    let mut all = Tree::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let at = entry.unwrap().path();
            let name = at.strip_prefix(folder).unwrap().to_owned();
            if at.is_dir() {
                all.insert(name, b"folder".to_vec());
                folders.push(at);
            } else {
                all.insert(name, timeless(&at));
            }
        }
    }
    all
}

fn timeless(file: &Path) -> Vec<u8> {
    let bytes = fs::read(file).unwrap();
    if !file.ends_with("manifest.json") {
        return bytes;
    }
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let kept = text.lines().filter(|line| !line.contains("\"wall_seconds\""));
    kept.collect::<Vec<_>>().join("\n").into_bytes()
}

/// Names the first file in which two trees differ.
pub(crate) fn difference(found: &Tree, expected: &Tree) -> Option<String> {
    let names = found.keys().chain(expected.keys());
    let mut different = names.filter(|name| found.get(*name) != expected.get(*name));
    different.next().map(|name| match (found.get(name), expected.get(name)) {
        (None, _) => format!("{} is missing", name.display()),
        (_, None) => format!("{} is too much", name.display()),
        _ => format!("{} differs", name.display()),
    })
}

/// The files below a folder, temporary ones left out.
pub(crate) fn files(folder: &Path) -> Vec<PathBuf> {
    let is_file = |path: &PathBuf| folder.join(path).is_file();
    let is_result = |path: &PathBuf| !is_temporary(path.file_name().unwrap());
    tree(folder).into_keys().filter(is_file).filter(is_result).collect()
}
