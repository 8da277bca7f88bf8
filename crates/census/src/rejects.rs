//! The list of rejected rows of a run that reads rows one after the other.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use tallyhouse_collection::{Reject, RejectsFile};

use crate::CensusError;

/// A file `rejects.csv` that comes into being with its first row.
pub struct RejectsList {
    path: PathBuf,
    file: Option<RejectsFile<File>>,
}

impl RejectsList {
    /// The name of the file in an output folder.
    pub const FILE_NAME: &'static str = "rejects.csv";

    /// Begins an empty list in a folder; nothing is written yet.
    #[must_use]
    pub fn in_folder(folder: &Path) -> Self {
        Self { path: folder.join(Self::FILE_NAME), file: None }
    }

    /// Adds a row.
    ///
    /// # Errors
    /// [`CensusError::Write`] with what the system says.
    pub fn write(&mut self, reject: &Reject) -> Result<(), CensusError> {
        let mut write = || -> io::Result<()> {
            let file = match &mut self.file {
                Some(file) => file,
                None => {
                    let mut file = RejectsFile::new(File::create(&self.path)?);
                    file.header()?;
                    self.file.insert(file)
                }
            };
            Ok(file.write(reject)?)
        };
        write().map_err(CensusError::write(&self.path))
    }

    /// Flushes the file to disk, if there is one.
    ///
    /// # Errors
    /// [`CensusError::Write`] with what the system says.
    pub fn finish(&mut self) -> Result<(), CensusError> {
        let Some(file) = self.file.take() else { return Ok(()) };
        let written = file.finish().and_then(|file| file.sync_data());
        written.map_err(CensusError::write(&self.path))
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::Reason;

    use super::*;

    #[test]
    fn the_file_comes_with_the_first_row() {
        let folder = tempfile::tempdir().unwrap();
        RejectsList::in_folder(folder.path()).finish().unwrap();
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        let mut list = RejectsList::in_folder(folder.path());
        for line in 1..=2 {
            let (file, text) = ("a.txt".to_owned(), "x".to_owned());
            list.write(&Reject { file, line, text, reason: Reason::NoSolution }).unwrap();
        }
        list.finish().unwrap();
        assert_eq!(
            std::fs::read_to_string(folder.path().join("rejects.csv")).unwrap(),
            "file,line,text,reason\na.txt,1,x,no solution: expected exactly one\n\
             a.txt,2,x,no solution: expected exactly one\n"
        );
        let mut nowhere = RejectsList::in_folder(&folder.path().join("missing"));
        let (file, text) = ("a.txt".to_owned(), "x".to_owned());
        let reject = Reject { file, line: 1, text, reason: Reason::NoSolution };
        assert!(nowhere.write(&reject).unwrap_err().to_string().contains("rejects.csv: "));
    }
}
