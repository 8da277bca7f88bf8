//! Folders that commands write into.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::files::{identity, walk};
use crate::listing::{FAILED, MANIFEST, contents, is_of_failed_run};
use crate::staging::{self, Staging, remove_empty_above};
use crate::{Files, Lock, RelativePath, Replace, Sharing, StorageError, names, write_sealed};

/// A folder that a command writes into, made if it is not there, and locked until this is dropped.
/// A folder that was made for it and is still empty then goes.
///
/// ```
/// use tallyhouse_storage::{Files, OutFolder, Sharing};
///
/// let parent = tempfile::tempdir()?;
/// let path = parent.path().join("out");
/// let folder = OutFolder::claim(&path, Sharing::Exclusive)?;
/// assert!(OutFolder::claim(&path, Sharing::Exclusive).is_err());
/// // A file of somebody else's is named.
/// std::fs::write(path.join("thesis.txt"), "mine")?;
/// let foreign = folder.expect_only(&Files::default(), &[]).unwrap_err().to_string();
/// assert!(foreign.contains("holds thesis.txt"));
/// drop(folder);
/// assert!(path.join("thesis.txt").exists());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct OutFolder {
    path: PathBuf,
    lock: Option<Lock>,
    is_new: bool,
}

impl OutFolder {
    /// Makes a folder if it is not there, locks it and, if nobody shares it, removes what killed runs
    /// left in it: what they were filling aside, and what they had begun to put in place.
    ///
    /// # Errors
    /// [`StorageError::Busy`] if another run writes there, [`StorageError::NotAFolder`] or what the
    /// system says if nothing can be written there.
    pub fn claim(path: &Path, sharing: Sharing) -> Result<Self, StorageError> {
        let mut turns = 0;
        let folder = loop {
            let is_new = make(path)?;
            match Lock::of_folder(path, sharing) {
                Ok(lock) => break Self { path: path.to_owned(), lock: Some(lock), is_new },
                // A run that failed has just removed the folder that it had made.
                Err(StorageError::Write { error, .. })
                    if error.kind() == io::ErrorKind::NotFound && turns < 10 =>
                {
                    turns += 1;
                }
                Err(error) => {
                    if is_new {
                        let _ = fs::remove_dir(path);
                    }
                    return Err(error);
                }
            }
        };
        if sharing == Sharing::Exclusive && folder.lock.as_ref().is_some_and(Lock::holds) {
            staging::sweep(path)?;
        }
        Ok(folder)
    }

    /// Returns the folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Returns the path of something in it, if there is anything but temporary files.
    ///
    /// # Errors
    /// If it can't be read.
    pub fn something(&self) -> Result<Option<String>, StorageError> {
        let entries = fs::read_dir(&self.path).map_err(StorageError::read(&self.path))?;
        let mut names = Vec::new();
        for entry in entries {
            let name = entry.map_err(StorageError::read(&self.path))?.file_name();
            if !crate::is_temporary(&name) {
                names.push(name.to_string_lossy().into_owned());
            }
        }
        Ok(names.into_iter().min())
    }

    /// Fails if the folder holds a file that is not on a list, and is not one of those that may be
    /// there besides.
    ///
    /// # Errors
    /// [`StorageError::Foreign`] with the first such file.
    pub fn expect_only(&self, files: &Files, besides: &[RelativePath]) -> Result<(), StorageError> {
        let is_known = |found: &Result<RelativePath, PathBuf>| {
            found.as_ref().is_ok_and(|path| files.get(path).is_some() || besides.contains(path))
        };
        let foreign = walk(&self.path)?.into_iter().filter(|found| !is_known(found));
        let name = |found: Result<RelativePath, PathBuf>| match found {
            Ok(path) => path.to_string(),
            Err(path) => path.display().to_string(),
        };
        foreign
            .map(name)
            .min()
            .map_or(Ok(()), |found| Err(StorageError::Foreign { folder: self.path.clone(), found }))
    }

    /// Fails if a file of a list is there but not as it was written.
    ///
    /// # Errors
    /// [`StorageError::Edited`] with the first such file.
    pub fn expect_unchanged(&self, files: &Files) -> Result<(), StorageError> {
        for (path, written) in files.iter() {
            let at = path.below(&self.path);
            match identity(&at) {
                Ok(found) if found == written => {}
                Err(error) if error.kind() == io::ErrorKind::NotFound => {}
                _ => return Err(self.edited(path)),
            }
        }
        Ok(())
    }

    fn edited(&self, path: &RelativePath) -> StorageError {
        StorageError::Edited { folder: self.path.clone(), found: path.to_string() }
    }

    /// Removes the files of a list, the file named `last` after the others, and the folders that are
    /// empty then. A file that is not there is removed already.
    ///
    /// # Errors
    /// [`StorageError::Edited`] if a file is not as it was written; it stays.
    pub fn remove(&self, files: &Files, last: Option<&str>) -> Result<(), StorageError> {
        self.expect_unchanged(files)?;
        self.discard(files, last)
    }

    /// Removes the files of a list as [`OutFolder::remove`], as they are.
    ///
    /// # Errors
    /// If one can't be removed.
    pub fn discard(&self, files: &Files, last: Option<&str>) -> Result<(), StorageError> {
        let is_last = |path: &RelativePath| Some(path.as_str()) == last;
        let mut paths: Vec<&RelativePath> = files.iter().map(|(path, _)| path).collect();
        paths.sort_by_key(|path| is_last(path));
        for path in paths {
            let at = path.below(&self.path);
            match fs::remove_file(&at) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => {
                    return Err(StorageError::write(&at)(error));
                }
                _ => remove_empty_above(&self.path, path),
            }
        }
        Ok(())
    }

    /// Removes what this program wrote in it, the manifest last.
    ///
    /// # Errors
    /// [`StorageError::Foreign`] or [`StorageError::Edited`] if it holds anything else; nothing is
    /// removed then.
    pub fn clear(&self) -> Result<(), StorageError> {
        self.remove(&replaced(self, Replace::Yes)?, Some(MANIFEST))
    }

    /// Removes what killed runs left of a file of the folder, if nobody is at work on it.
    ///
    /// # Errors
    /// If it can't be removed.
    pub fn sweep_file(&self, name: &str) -> Result<(), StorageError> {
        let file = self.path.join(name);
        for left in names::unfinished(&file).map_err(StorageError::read(&self.path))? {
            remove_if_free(&left)?;
        }
        Ok(())
    }

    /// Begins to fill something aside.
    ///
    /// # Errors
    /// If nothing can be written there.
    pub fn stage(&self) -> Result<Staging, StorageError> {
        Staging::begin(&self.path)
    }
}

impl Drop for OutFolder {
    fn drop(&mut self) {
        self.lock = None;
        if self.is_new {
            // Only an empty one goes.
            let _ = fs::remove_dir(&self.path);
        }
    }
}

/// Removes an unfinished file unless a run is at work on it.
fn remove_if_free(path: &Path) -> Result<(), StorageError> {
    let is_free = File::open(path).is_ok_and(|file| file.try_lock().is_ok());
    if is_free { fs::remove_file(path).map_err(StorageError::write(path)) } else { Ok(()) }
}

fn make(path: &Path) -> Result<bool, StorageError> {
    match fs::create_dir(path) {
        Ok(()) => Ok(true),
        Err(_) if path.is_dir() => Ok(false),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            Err(StorageError::NotAFolder { path: path.to_owned() })
        }
        Err(error) => Err(StorageError::write(path)(error)),
    }
}

/// A folder whose files all get their places at the end, its manifest last. Dropped unfinished, it
/// leaves nothing.
#[derive(Debug)]
pub struct NewFolder {
    // Dropped before the folder's lock.
    staging: Staging,
    old: Files,
    folder: OutFolder,
}

impl NewFolder {
    /// Begins a folder: a new or empty one, or one that this program wrote and that is to be replaced.
    ///
    /// # Errors
    /// [`StorageError::Exists`], [`StorageError::Foreign`] or [`StorageError::Edited`] if what is there
    /// is not to be replaced; as [`OutFolder::claim`].
    pub fn begin(path: &Path, replace: Replace) -> Result<Self, StorageError> {
        let folder = OutFolder::claim(path, Sharing::Exclusive)?;
        let old = replaced(&folder, replace)?;
        Ok(Self { staging: folder.stage()?, old, folder })
    }

    /// Returns where the folder is filled.
    #[must_use]
    pub fn aside(&self) -> &Path {
        self.staging.made()
    }

    /// Returns the folder itself.
    #[must_use]
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Puts all in place with a manifest that tells of what kind the results are and which program made
    /// them.
    ///
    /// # Errors
    /// As [`NewFolder::finish`].
    pub fn finish_as(self, kind: &str) -> Result<(), StorageError> {
        self.finish(|files| Results { kind, tool: TOOL, files }).map(drop)
    }

    /// Puts in place what a run that failed has to tell. The next run may replace it unasked.
    ///
    /// # Errors
    /// As [`NewFolder::finish`].
    pub fn finish_failed(self) -> Result<(), StorageError> {
        self.finish_as(FAILED)
    }

    /// Writes the manifest that `manifest` makes of the list of files, which it must have as `files`,
    /// and puts all in place.
    ///
    /// # Errors
    /// If something can't be written, or what is to be replaced has changed in the meantime.
    pub fn finish<M: Serialize>(
        self,
        manifest: impl FnOnce(Files) -> M,
    ) -> Result<M, StorageError> {
        self.finish_with(|path, files| {
            let manifest = manifest(files);
            write_sealed(path, &manifest)?;
            Ok(manifest)
        })
    }

    /// Puts all in place as [`NewFolder::finish`]; `write` writes the manifest under the path it is
    /// given.
    ///
    /// # Errors
    /// As [`NewFolder::finish`], and those of `write`.
    pub fn finish_with<M>(
        self,
        write: impl FnOnce(&Path, Files) -> Result<M, StorageError>,
    ) -> Result<M, StorageError> {
        let Self { staging, old, folder } = self;
        let manifest = write(&staging.made().join(MANIFEST), Files::of(staging.made())?)?;
        folder.expect_only(&old, &[])?;
        folder.remove(&old, Some(MANIFEST))?;
        staging.install(None, Some(MANIFEST))?;
        Ok(manifest)
    }
}

/// The manifest of results that need no other.
#[derive(Serialize)]
struct Results<'a> {
    kind: &'a str,
    tool: &'static str,
    files: Files,
}

/// The program and its version.
const TOOL: &str = concat!("tallyhouse ", env!("CARGO_PKG_VERSION"));

/// Returns the files that are replaced.
fn replaced(folder: &OutFolder, replace: Replace) -> Result<Files, StorageError> {
    let Some(found) = folder.something()? else { return Ok(Files::default()) };
    let path = folder.path().to_owned();
    match (contents(&path), replace) {
        (Ok(Some(_)), Replace::No) if !is_of_failed_run(&path) => {
            Err(StorageError::Exists { folder: path })
        }
        (Ok(Some(files)), _) => {
            folder.expect_only(&files, &[])?;
            folder.expect_unchanged(&files)?;
            Ok(files)
        }
        (Ok(None), _) => Err(StorageError::Foreign { folder: path, found }),
        (Err(StorageError::Seal { path: manifest, .. }), _) => {
            let found = manifest.file_name().unwrap_or_default().to_string_lossy().into_owned();
            Err(StorageError::Foreign { folder: path, found })
        }
        (Err(error), _) => Err(error),
    }
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Manifest {
        kind: String,
        files: Files,
    }

    fn manifest(files: Files) -> Manifest {
        Manifest { kind: "test".to_owned(), files }
    }

    /// Fills a folder with files of these names and contents.
    fn fill(folder: &NewFolder, files: &[(&str, &str)]) {
        for (name, text) in files {
            let path = folder.aside().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
    }

    fn make(path: &Path, replace: Replace, files: &[(&str, &str)]) -> Result<(), StorageError> {
        let folder = NewFolder::begin(path, replace)?;
        fill(&folder, files);
        folder.finish(manifest).map(drop)
    }

    fn all(path: &Path) -> Vec<(String, String)> {
        let mut all = Vec::new();
        let mut folders = vec![path.to_owned()];
        while let Some(next) = folders.pop() {
            for entry in fs::read_dir(&next).unwrap() {
                let at = entry.unwrap().path();
                if at.is_dir() {
                    folders.push(at);
                } else {
                    let name = at.strip_prefix(path).unwrap().display().to_string();
                    all.push((name, fs::read_to_string(&at).unwrap()));
                }
            }
        }
        all.sort();
        all
    }

    const FILES: &[(&str, &str)] = &[("a", "1"), ("data/deep/b", "2"), ("z", "3")];

    #[test]
    fn files_get_their_places_when_all_are_whole() {
        let parent = tempfile::tempdir().unwrap();
        let path = parent.path().join("new/");
        let folder = NewFolder::begin(&path, Replace::No).unwrap();
        fill(&folder, FILES);
        assert!(folder.folder.something().unwrap().is_none());
        drop(folder);
        assert!(!path.exists(), "nothing is left");
        fs::create_dir(&path).unwrap();
        make(&path, Replace::No, FILES).unwrap();
        let names: Vec<String> = all(&path).into_iter().map(|(name, _)| name).collect();
        assert_eq!(names, ["a", "data/deep/b", MANIFEST, "z"]);
        contents(&path).unwrap().unwrap().check(&path).unwrap();
        let error = make(&path, Replace::No, FILES).unwrap_err().to_string();
        assert!(error.contains("new/ exists already: choose another folder, or allow"), "{error}");
        let error = make(&parent.path().join("no/such"), Replace::No, FILES).unwrap_err();
        assert!(error.to_string().starts_with("cannot write "), "{error}");
        let error = make(&path.join("a"), Replace::No, FILES).unwrap_err().to_string();
        assert!(error.contains("a is a file"), "{error}");
    }

    #[test]
    fn only_what_is_listed_and_unchanged_is_replaced() {
        let parent = tempfile::tempdir().unwrap();
        let path = parent.path().join("out");
        make(&path, Replace::Yes, FILES).unwrap();
        make(&path, Replace::Yes, &[("data/c", "4"), ("a", "5")]).unwrap();
        let names: Vec<String> = all(&path).into_iter().map(|(name, _)| name).collect();
        assert_eq!(names, ["a", "data/c", MANIFEST]);
        let refused = |name: &str, text: &str, words: &str| {
            let old = fs::read(path.join(name)).ok();
            fs::write(path.join(name), text).unwrap();
            let before = all(&path);
            let error = make(&path, Replace::Yes, FILES).unwrap_err().to_string();
            assert!(error.contains(words), "{error}");
            assert_eq!(all(&path), before);
            match old {
                Some(old) => fs::write(path.join(name), old).unwrap(),
                None => fs::remove_file(path.join(name)).unwrap(),
            }
        };
        refused("data/mine", "mine", "holds data/mine, which is not on the list");
        refused("a", "mine", "holds a, which was changed");
        refused(MANIFEST, "{}", "holds manifest.json, which is not on the list");
        fs::remove_file(path.join("a")).unwrap();
        make(&path, Replace::Yes, FILES).unwrap();
        assert_eq!(all(&path).len(), 4, "a file that is missing is no hindrance");
        let mine = parent.path().join("mine");
        fs::create_dir(&mine).unwrap();
        fs::write(mine.join("thesis"), "mine").unwrap();
        let error = make(&mine, Replace::Yes, FILES).unwrap_err().to_string();
        assert!(error.contains("mine holds thesis, which is not on the list"), "{error}");
        assert_eq!(all(&mine), [("thesis".to_owned(), "mine".to_owned())]);
    }

    #[test]
    fn what_changes_while_a_run_goes_on_stays() {
        let parent = tempfile::tempdir().unwrap();
        let path = parent.path().join("out");
        let folder = NewFolder::begin(&path, Replace::No).unwrap();
        fill(&folder, FILES);
        fs::write(path.join("a"), "mine").unwrap();
        let error = folder.finish(manifest).unwrap_err().to_string();
        assert!(error.contains("holds a, which is not on the list"), "{error}");
        assert_eq!(all(&path), [("a".to_owned(), "mine".to_owned())]);
    }

    /// Copies what a run has at a moment, as if it were killed then.
    fn copy(from: &Path, to: &Path) {
        fs::create_dir_all(to).unwrap();
        for entry in fs::read_dir(from).unwrap() {
            let at = entry.unwrap().path();
            let target = to.join(at.file_name().unwrap());
            if at.is_dir() { copy(&at, &target) } else { fs::copy(&at, &target).map(drop).unwrap() }
        }
    }

    #[test]
    fn broken_off_anywhere_the_same_command_works() {
        let parent = tempfile::tempdir().unwrap();
        let whole = parent.path().join("whole");
        make(&whole, Replace::No, FILES).unwrap();
        let expected = all(&whole);
        // A run with its list written, so many of its files in place, and the folder for the next.
        for placed in 0..=FILES.len() {
            let path = parent.path().join(format!("killed-{placed}"));
            let folder = NewFolder::begin(&path, Replace::No).unwrap();
            fill(&folder, FILES);
            let files = Files::of(folder.aside()).unwrap();
            write_sealed(&folder.aside().join(MANIFEST), &manifest(files)).unwrap();
            let staged = folder.aside().parent().unwrap().to_owned();
            let list = manifest(Files::of(folder.aside()).unwrap());
            write_sealed(&staged.join("list.json"), &list).unwrap();
            for (name, _) in &FILES[..placed] {
                fs::create_dir_all(path.join(name).parent().unwrap()).unwrap();
                fs::rename(folder.aside().join(name), path.join(name)).unwrap();
            }
            if let Some((next, _)) = FILES.get(placed) {
                fs::create_dir_all(path.join(next).parent().unwrap()).unwrap();
            }
            let killed = parent.path().join(format!("copy-{placed}"));
            copy(&path, &killed);
            drop(folder);
            assert!(killed.join(names::lock_name(None)).exists());
            make(&killed, Replace::No, FILES).unwrap();
            assert_eq!(all(&killed), expected);
        }
        // Killed when all was in place but the staging folder.
        let staging = whole.join(".tallyhouse-aaaaaa");
        fs::create_dir(&staging).unwrap();
        let list = manifest(contents(&whole).unwrap().unwrap());
        write_sealed(&staging.join("list.json"), &list).unwrap();
        assert!(make(&whole, Replace::No, FILES).unwrap_err().to_string().contains("exists"));
        assert_eq!(all(&whole), expected);
    }

    #[test]
    fn what_no_list_names_is_known_by_what_is_aside() {
        let parent = tempfile::tempdir().unwrap();
        let path = parent.path().join("out");
        let folder = OutFolder::claim(&path, Sharing::Exclusive).unwrap();
        let staging = folder.stage().unwrap();
        fs::write(staging.made().join("a"), "1").unwrap();
        let at: RelativePath = "work/stage".parse().unwrap();
        let files = staging.install(Some(&at), None).unwrap();
        assert_eq!(files.iter().next().unwrap().0.as_str(), "work/stage/a");
        let killed = parent.path().join("killed");
        copy(&path, &killed);
        drop(OutFolder::claim(&killed, Sharing::Exclusive).unwrap());
        assert_eq!(fs::read_dir(&killed).unwrap().count(), 0);
        // Once it is on the list, it stays.
        copy(&path, &killed);
        write_sealed(&killed.join(MANIFEST), &manifest(files)).unwrap();
        drop(OutFolder::claim(&killed, Sharing::Exclusive).unwrap());
        assert_eq!(all(&killed).len(), 2);
    }

    #[test]
    fn a_second_run_is_refused_and_harms_nothing() {
        let parent = tempfile::tempdir().unwrap();
        let path = parent.path().join("out");
        let folder = NewFolder::begin(&path, Replace::No).unwrap();
        let error = NewFolder::begin(&path, Replace::Yes).unwrap_err().to_string();
        assert!(error.starts_with("another command writes "), "{error}");
        fill(&folder, FILES);
        folder.finish(manifest).unwrap();
        assert_eq!(all(&path).len(), 4);
    }
}
