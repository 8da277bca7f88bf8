//! A file that must not get shorter while it is read.

use std::fs::File;
use std::io::{self, Read};

/// A file, the end of which is an error where it comes before the size that the file had when it was
/// opened.
pub(crate) struct WholeFile {
    file: File,
    size: u64,
    read: u64,
}

impl WholeFile {
    /// Takes a file that had so many bytes, of which so many were passed over.
    pub(crate) const fn new(file: File, size: u64, passed: u64) -> Self {
        Self { file, size, read: passed }
    }
}

impl Read for WholeFile {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.file.read(buffer)?;
        self.read += read as u64;
        if read == 0 && !buffer.is_empty() && self.read < self.size {
            let cut = CutWhileRead { read: self.read, size: self.size };
            return Err(io::Error::other(cut));
        }
        Ok(read)
    }
}

/// A file got shorter while it was read.
#[derive(Debug, thiserror::Error)]
#[error(
    "it ends after {read} of the {size} bytes that it had: it was cut while it was read; run the command \
     again when the file is whole"
)]
pub(crate) struct CutWhileRead {
    read: u64,
    size: u64,
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;
    use crate::{Rows, Source};

    #[test]
    fn a_file_that_is_cut_while_it_is_read_is_not_taken_for_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("in.txt");
        // More than a buffer holds.
        let line = format!("{}\n", ".".repeat(81));
        std::fs::write(&path, line.repeat(5000)).unwrap();
        let mut rows = Rows::open(vec![Source::file(&path)]).unwrap();
        assert_eq!(rows.block(10).unwrap().len(), 10);
        File::options().write(true).open(&path).unwrap().set_len(82 * 3000).unwrap();
        let error = rows.read_to_end().unwrap_err().to_string();
        assert!(
            error.contains("in.txt after line 3000: it ends after 246000 of the 410000 bytes"),
            "{error}"
        );
    }

    #[test]
    fn a_file_that_grows_while_it_is_read_is_read_on() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("in.txt");
        let line = format!("{}\n", ".".repeat(81));
        std::fs::write(&path, line.repeat(5000)).unwrap();
        let mut rows = Rows::open(vec![Source::file(&path)]).unwrap();
        assert_eq!(rows.block(10).unwrap().len(), 10);
        File::options().append(true).open(&path).unwrap().write_all(line.as_bytes()).unwrap();
        rows.read_to_end().unwrap();
        assert_eq!(rows.rows(), 5001);
    }
}
