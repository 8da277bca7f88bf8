//! What is filled aside, inside the folder that it is for, and put in place file by file.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use crate::files::identity;
use crate::listing::contents;
use crate::names::{self, folder_of};
use crate::{Files, RelativePath, Replace, StorageError, sync_folder, write_sealed};

/// Where files are made.
const MADE: &str = "made";
/// The list of those that are being put in place: by it the next run knows what a killed one did.
const LIST: &str = "list.json";

/// A folder inside an output folder that is filled aside. Dropped, it goes with all that is in it.
#[derive(Debug)]
pub struct Staging {
    folder: PathBuf,
    dir: TempDir,
    made: PathBuf,
}

impl Staging {
    pub(crate) fn begin(folder: &Path) -> Result<Self, StorageError> {
        let prefix = names::prefix(None);
        let dir =
            names::builder(&prefix).tempdir_in(folder).map_err(StorageError::write(folder))?;
        let made = dir.path().join(MADE);
        fs::create_dir(&made).map_err(StorageError::write(&made))?;
        Ok(Self { folder: folder.to_owned(), dir, made })
    }

    /// Returns the folder to fill.
    #[must_use]
    pub fn made(&self) -> &Path {
        &self.made
    }

    /// Puts all files in place in the output folder itself, beside those of others. A file that is
    /// there already with the same bytes stays; one with others is in the way unless it may be replaced.
    ///
    /// # Errors
    /// [`StorageError::InTheWay`] before anything is changed; as [`Staging::install`].
    pub fn install_beside(self, replace: Replace) -> Result<Files, StorageError> {
        let files = Files::of(&self.made)?;
        for (path, written) in files.iter() {
            let (target, made) = (path.below(&self.folder), path.below(&self.made));
            match identity(&target) {
                Ok(found) if found == written => {
                    fs::remove_file(&made).map_err(StorageError::write(&made))?;
                }
                Err(error) if error.kind() == io::ErrorKind::NotFound => {}
                _ if replace == Replace::Yes => {}
                _ => return Err(StorageError::InTheWay { path: target }),
            }
        }
        self.install(None, None)?;
        Ok(files)
    }

    /// Puts all files in place, below `at` or in the output folder itself, and returns the list of
    /// them as seen from the output folder; the file named `last` is put there last. Files of the same
    /// names are replaced.
    ///
    /// If the run is broken off before this is dropped, what was put in place is removed when the output
    /// folder is claimed again, unless the folder's own list names it: that list is written first.
    ///
    /// # Errors
    /// With what the system says.
    pub fn install(
        &self,
        at: Option<&RelativePath>,
        last: Option<&str>,
    ) -> Result<Files, StorageError> {
        let made = Files::of(&self.made)?;
        let files = match at {
            Some(at) => made.seen_from_above(at),
            None => made,
        };
        write_sealed(&self.dir.path().join(LIST), &List { files: files.clone() })?;
        let is_last = |path: &&RelativePath| Some(path.as_str()) == last;
        let first: Vec<&RelativePath> =
            files.iter().map(|(path, _)| path).filter(|path| !is_last(path)).collect();
        let last: Vec<&RelativePath> = files.iter().map(|(path, _)| path).filter(is_last).collect();
        self.put(at, &first)?;
        self.put(at, &last)?;
        Ok(files)
    }

    fn put(&self, at: Option<&RelativePath>, files: &[&RelativePath]) -> Result<(), StorageError> {
        let mut folders: Vec<PathBuf> = Vec::new();
        for path in files {
            let within =
                at.map_or_else(|| Some((*path).clone()), |at| path.from_within(at.as_str()));
            let Some(within) = within else { continue };
            let target = path.below(&self.folder);
            let parent = folder_of(&target).to_owned();
            let put = || -> io::Result<()> {
                fs::create_dir_all(&parent)?;
                fs::rename(within.below(&self.made), &target)
            };
            put().map_err(StorageError::write(&target))?;
            if !folders.contains(&parent) {
                folders.push(parent);
            }
        }
        folders
            .iter()
            .try_for_each(|folder| sync_folder(folder).map_err(StorageError::write(folder)))
    }
}

#[derive(serde::Serialize, serde::Deserialize)]
struct List {
    files: Files,
}

/// Removes what a killed run left in a folder: what it was filling, and what it had put in place
/// already unless the folder's own list names it.
pub(crate) fn sweep(folder: &Path) -> Result<(), StorageError> {
    let prefix = names::prefix(None);
    for entry in fs::read_dir(folder).map_err(StorageError::read(folder))? {
        let entry = entry.map_err(StorageError::read(folder))?;
        let (name, path) = (entry.file_name(), entry.path());
        let is_staging = names::is_temporary(&name)
            && name.to_string_lossy().starts_with(&prefix)
            && entry.file_type().is_ok_and(|kind| kind.is_dir());
        if is_staging {
            take_back(folder, &path)?;
            fs::remove_dir_all(&path).map_err(StorageError::write(&path))?;
        }
    }
    Ok(())
}

fn take_back(folder: &Path, staging: &Path) -> Result<(), StorageError> {
    // A list that is not whole was not used yet. If the folder's own list can't be read, nothing is
    // known to be the killed run's alone.
    let Ok(Some(List { files })) = crate::read_sealed(&staging.join(LIST)) else { return Ok(()) };
    let Ok(own) = contents(folder) else { return Ok(()) };
    let own = own.unwrap_or_default();
    for (path, written) in files.iter() {
        let at = path.below(folder);
        let is_there = || identity(&at).is_ok_and(|found| found == written);
        if own.get(path) != Some(written) && is_there() {
            fs::remove_file(&at).map_err(StorageError::write(&at))?;
        }
        // Its folder may have been made for it, before it was there itself.
        remove_empty_above(folder, path);
    }
    Ok(())
}

/// Removes the folders that lead to a path, as far as they are empty.
pub(crate) fn remove_empty_above(folder: &Path, path: &RelativePath) {
    let mut names = path.as_str();
    while let Some((parent, _)) = names.rsplit_once('/') {
        if fs::remove_dir(folder.join(parent)).is_err() {
            return;
        }
        names = parent;
    }
}
