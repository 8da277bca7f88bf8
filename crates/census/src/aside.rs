//! Writing aside, then renaming: a file under its final name is always whole.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use crate::CensusError;

const SUFFIX: &str = ".partial";

fn aside(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(SUFFIX);
    name.into()
}

/// Writes a file aside, flushes it to disk and gives it its name. On failure the unfinished file
/// is removed and a file that had the name before stays as it was.
///
/// # Errors
/// [`CensusError::Write`] with what `fill` or the system says.
pub fn write_file(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<&File>) -> io::Result<()>,
) -> Result<(), CensusError> {
    let unfinished = aside(path);
    let write = || -> io::Result<()> {
        let file = File::create(&unfinished)?;
        let mut writer = BufWriter::with_capacity(1 << 16, &file);
        fill(&mut writer)?;
        writer.flush()?;
        drop(writer);
        file.sync_data()?;
        std::fs::rename(&unfinished, path)
    };
    write().map_err(|error| {
        // The first error is the one to tell; a leftover is overwritten by the next try.
        let _ = std::fs::remove_file(&unfinished);
        CensusError::Write { path: path.to_owned(), error }
    })
}

/// Makes a new folder; an empty one will do as well.
///
/// # Errors
/// [`CensusError::Exists`] with the advice if it is in use, [`CensusError::Write`] with what the system
/// says.
pub fn make_folder(path: &Path, advice: &'static str) -> Result<(), CensusError> {
    match std::fs::create_dir(path) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            if std::fs::read_dir(path).is_ok_and(|mut entries| entries.next().is_none()) {
                Ok(())
            } else {
                Err(CensusError::Exists { path: path.to_owned(), advice })
            }
        }
        Err(error) => Err(CensusError::write(path)(error)),
    }
}

/// A folder that is filled aside and gets its name when it is whole. What is aside goes when it is
/// dropped unfinished.
#[derive(Debug)]
pub struct NewFolder {
    path: PathBuf,
    aside: PathBuf,
    finished: bool,
}

impl NewFolder {
    /// Begins a folder; an empty one may have the name already.
    ///
    /// # Errors
    /// [`CensusError::Exists`] if the name is in use, [`CensusError::Write`] with what the system says.
    pub fn begin(path: &Path) -> Result<Self, CensusError> {
        refuse_used(path)?;
        // The process tells it from what another run is filling or has left.
        let mut name = path.components().as_path().as_os_str().to_owned();
        name.push(format!("{SUFFIX}-{}", std::process::id()));
        let aside = PathBuf::from(name);
        std::fs::create_dir(&aside).map_err(CensusError::write(path))?;
        Ok(Self { path: path.to_owned(), aside, finished: false })
    }

    /// Returns where the folder is filled.
    #[must_use]
    pub fn aside(&self) -> &Path {
        &self.aside
    }

    /// Returns the name that it will have.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Gives the folder its name.
    ///
    /// # Errors
    /// [`CensusError::Exists`] if the name has come into use, [`CensusError::Write`] with what the
    /// system says.
    pub fn finish(mut self) -> Result<(), CensusError> {
        refuse_used(&self.path)?;
        if self.path.exists() {
            // Not every system renames onto an empty folder.
            std::fs::remove_dir(&self.path).map_err(CensusError::write(&self.path))?;
        }
        std::fs::rename(&self.aside, &self.path).map_err(CensusError::write(&self.path))?;
        self.finished = true;
        Ok(())
    }
}

impl Drop for NewFolder {
    fn drop(&mut self) {
        if !self.finished {
            // There is an error to tell already; a leftover is in nobody's way.
            let _ = std::fs::remove_dir_all(&self.aside);
        }
    }
}

fn refuse_used(path: &Path) -> Result<(), CensusError> {
    let is_empty = || std::fs::read_dir(path).is_ok_and(|mut entries| entries.next().is_none());
    if path.symlink_metadata().is_ok() && !is_empty() {
        return Err(CensusError::Exists { path: path.to_owned(), advice: "" });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_folder_has_its_name_only_when_it_is_whole() {
        let parent = tempfile::tempdir().unwrap();
        let entries = || std::fs::read_dir(parent.path()).unwrap().count();
        let path = parent.path().join("new/");
        let folder = NewFolder::begin(&path).unwrap();
        std::fs::write(folder.aside().join("a"), "a").unwrap();
        assert!(!path.exists());
        drop(folder);
        assert_eq!(entries(), 0);
        // An empty folder will do.
        std::fs::create_dir(&path).unwrap();
        let folder = NewFolder::begin(&path).unwrap();
        std::fs::write(folder.aside().join("a"), "a").unwrap();
        folder.finish().unwrap();
        assert_eq!((entries(), std::fs::read(path.join("a")).unwrap()), (1, b"a".to_vec()));
        let error = NewFolder::begin(&path).unwrap_err().to_string();
        assert!(error.contains("new/ exists already: choose another folder"), "{error}");
        // Somebody else may take the name in the meantime.
        let late = parent.path().join("late");
        let folder = NewFolder::begin(&late).unwrap();
        std::fs::write(&late, "a file").unwrap();
        assert!(folder.finish().unwrap_err().to_string().contains("late exists already"));
        assert_eq!(entries(), 2);
        let error = NewFolder::begin(&parent.path().join("no/such")).unwrap_err().to_string();
        assert!(error.starts_with("cannot write "), "{error}");
    }

    #[test]
    fn a_failed_write_leaves_the_old_file_and_no_litter() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        write_file(&path, |writer| writer.write_all(b"old")).unwrap();
        let failed = write_file(&path, |writer| {
            writer.write_all(b"half")?;
            Err(io::Error::other("no room"))
        });
        assert!(failed.unwrap_err().to_string().ends_with("a.csv: no room"));
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
