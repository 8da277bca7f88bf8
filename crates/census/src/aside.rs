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

#[cfg(test)]
mod tests {
    use super::*;

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
