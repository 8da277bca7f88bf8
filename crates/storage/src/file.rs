//! Files that get their names when they are on the disk.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tempfile::NamedTempFile;

use crate::names::{self, folder_of};
use crate::{Digest, Hasher, StorageError};

/// What was written: how to know it again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Written {
    /// The number of bytes.
    pub bytes: u64,
    /// The digest of the bytes.
    pub blake3: Digest,
}

impl Written {
    /// Reads a file for what it is known by.
    ///
    /// # Errors
    /// If it can't be read.
    pub fn of_file(path: &Path) -> Result<Self, StorageError> {
        let read = || -> io::Result<Self> {
            Ok(Self { bytes: std::fs::metadata(path)?.len(), blake3: Digest::of_file(path)? })
        };
        read().map_err(StorageError::read(path))
    }
}

/// A file that is written under a name of its own, beside the one that it will have. Dropped
/// unfinished, it goes.
///
/// ```
/// use std::io::Write;
/// use tallyhouse_storage::NewFile;
///
/// let folder = tempfile::tempdir()?;
/// let path = folder.path().join("a.csv");
/// let mut file = NewFile::begin(&path)?;
/// file.write_all(b"open,houses\n")?;
/// assert!(!path.exists());
/// let written = file.finish()?;
/// assert_eq!(written.bytes, std::fs::metadata(&path)?.len());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct NewFile {
    path: PathBuf,
    file: BufWriter<Counted>,
}

/// Counts and digests what goes to a file.
#[derive(Debug)]
struct Counted {
    file: NamedTempFile,
    hasher: Hasher,
    bytes: u64,
    /// If the disk is full, how the system says so: libraries that write use words of their own.
    full: Option<io::ErrorKind>,
}

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.file.as_file_mut().write(bytes);
        let written = written.inspect_err(|error| self.full = full(error.kind()))?;
        self.hasher.update(&bytes[..written]);
        self.bytes += written as u64;
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.as_file_mut().flush()
    }
}

fn full(kind: io::ErrorKind) -> Option<io::ErrorKind> {
    Some(kind).filter(|kind| StorageError::is_no_room(*kind))
}

impl NewFile {
    /// Begins a file.
    ///
    /// # Errors
    /// If nothing can be written beside it.
    pub fn begin(path: &Path) -> Result<Self, StorageError> {
        let prefix = names::prefix(path.file_name());
        let mut builder = names::builder(&prefix);
        // Temporary files are private unless told otherwise; results are for everybody.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let file = builder.tempfile_in(folder_of(path)).map_err(StorageError::write(path))?;
        // Who sweeps up knows by this that somebody is at work.
        let _ = file.as_file().try_lock();
        let counted = Counted { file, hasher: Hasher::new(), bytes: 0, full: None };
        Ok(Self { path: path.to_owned(), file: BufWriter::with_capacity(1 << 16, counted) })
    }

    /// Lets what is written so far stay, whatever happens, until the file is finished:
    /// [`unfinished`](crate::unfinished) finds it.
    pub fn stay(&mut self) {
        self.file.get_mut().file.disable_cleanup(true);
    }

    /// Returns the name that it has until it is finished.
    #[must_use]
    pub fn aside(&self) -> &Path {
        self.file.get_ref().file.path()
    }

    /// Puts the file on the disk and gives it its name. One that had the name before is gone.
    ///
    /// # Errors
    /// With what the system says; a file that had the name before stays as it was.
    pub fn finish(self) -> Result<Written, StorageError> {
        let Self { path, file } = self;
        let finish = || -> io::Result<Written> {
            let Counted { file, hasher, bytes, .. } =
                file.into_inner().map_err(io::IntoInnerError::into_error)?;
            file.as_file().sync_all()?;
            file.persist(&path).map_err(|error| error.error)?;
            sync_folder(folder_of(&path))?;
            Ok(Written { bytes, blake3: hasher.finish() })
        };
        finish().map_err(StorageError::write(&path))
    }
}

impl Write for NewFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// Writes a file under a name of its own, puts it on the disk and gives it its name. On failure what
/// was written goes, and a file that had the name before stays as it was.
///
/// ```
/// use std::io::Write;
///
/// let folder = tempfile::tempdir()?;
/// let path = folder.path().join("a.csv");
/// tallyhouse_storage::write_file(&path, |file| writeln!(file, "open,houses"))?;
/// assert_eq!(std::fs::read_to_string(path)?, "open,houses\n");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// With what `fill` or the system says.
pub fn write_file(
    path: &Path,
    fill: impl FnOnce(&mut NewFile) -> io::Result<()>,
) -> Result<Written, StorageError> {
    let mut file = NewFile::begin(path)?;
    if let Err(error) = fill(&mut file) {
        let full = file.file.get_ref().full;
        return Err(StorageError::write(path)(full.map_or(error, io::Error::from)));
    }
    file.finish()
}

/// Puts the names in a folder on the disk, where the system can.
///
/// # Errors
/// If that fails.
pub fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let name =
            |entry: io::Result<fs::DirEntry>| entry.unwrap().file_name().into_string().unwrap();
        fs::read_dir(folder).unwrap().map(name).collect()
    }

    #[test]
    fn a_failed_write_leaves_the_old_file_and_no_litter() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        let old = write_file(&path, |writer| writer.write_all(b"old")).unwrap();
        assert_eq!(old, Written { bytes: 3, blake3: Digest::of(b"old") });
        let fail = |error: fn() -> io::Error| {
            let failed = write_file(&path, |writer| {
                writer.write_all(b"half")?;
                Err(error())
            });
            failed.unwrap_err().to_string()
        };
        assert!(fail(|| io::Error::other("no luck")).ends_with("a.csv: no luck"));
        let full = fail(|| io::ErrorKind::StorageFull.into());
        let disk = format!("no room left on the disk of {}, for ", folder.path().display());
        assert!(full.starts_with(&disk), "{full}");
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()), ["a.csv"]);
        let nowhere = write_file(&folder.path().join("no/such"), |_| Ok(())).unwrap_err();
        assert!(nowhere.to_string().starts_with("cannot write "), "{nowhere}");
    }

    #[test]
    fn files_have_names_of_their_own_until_they_are_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        let mut files: Vec<NewFile> = (0..3).map(|_| NewFile::begin(&path).unwrap()).collect();
        for (number, file) in files.iter_mut().enumerate() {
            write!(file, "{number}").unwrap();
        }
        assert_eq!(crate::unfinished(&path).unwrap().len(), 3);
        files.into_iter().for_each(|file| assert_eq!(file.finish().unwrap().bytes, 1));
        assert_eq!(
            (names(folder.path()), fs::read(&path).unwrap()),
            (vec!["a".into()], b"2".into())
        );
    }

    #[test]
    fn what_stays_is_found_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        let mut file = NewFile::begin(&path).unwrap();
        file.stay();
        file.write_all(b"begun").unwrap();
        file.flush().unwrap();
        let aside = file.aside().to_owned();
        drop(file);
        assert_eq!(crate::unfinished(&path).unwrap(), std::slice::from_ref(&aside));
        assert_eq!(fs::read(aside).unwrap(), b"begun");
    }

    #[cfg(unix)]
    #[test]
    fn others_may_read_what_is_written() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let (ours, plain) = (folder.path().join("a"), folder.path().join("b"));
        write_file(&ours, |_| Ok(())).unwrap();
        File::create(&plain).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&ours), mode(&plain));
    }
}
