//! The stream of puzzle rows of one or more sources.

use std::io::{BufRead, BufReader, Read};

use tallyhouse_board::{ParsePuzzleError, Puzzle};

use crate::{ReadError, Source};

/// One row: a line that is neither blank nor a comment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// The index of its source.
    pub source: usize,
    /// The line in the source, counted from 1.
    pub line: u64,
    /// The text without line end and surrounding white space; bytes that are not UTF-8 are
    /// replaced.
    pub text: String,
}

impl Row {
    /// Reads the puzzle: everything up to the first white space or comma; the rest is a label.
    ///
    /// # Errors
    /// What is wrong with the text.
    pub fn puzzle(&self) -> Result<Puzzle, ParsePuzzleError> {
        let end = |c: char| c.is_whitespace() || c == ',';
        self.text.split(end).next().unwrap_or_default().parse()
    }
}

/// Reads the rows of all sources, one source after the other.
///
/// Blank lines and lines that begin with `#` are passed over. The digest covers the text of every
/// row, each followed by a line feed: the same rows give the same digest, however they are spread
/// over files and whatever their line ends.
pub struct Rows {
    sources: Vec<Source>,
    current: Option<OpenSource>,
    next: usize,
    hasher: blake3::Hasher,
    rows: u64,
    bytes: u64,
    notes: Vec<String>,
    buffer: Vec<u8>,
}

struct OpenSource {
    reader: BufReader<Box<dyn Read + Send>>,
    index: usize,
    lines: u64,
}

impl Rows {
    /// Opens all sources once, so that a missing one is known at the start, and reads from the
    /// first.
    ///
    /// # Errors
    /// If a source does not open.
    pub fn open(sources: Vec<Source>) -> Result<Self, ReadError> {
        for source in &sources {
            if !source.is_stdin() {
                source.open()?;
            }
        }
        Ok(Self {
            sources,
            current: None,
            next: 0,
            hasher: blake3::Hasher::new(),
            rows: 0,
            bytes: 0,
            notes: Vec::new(),
            buffer: Vec::new(),
        })
    }

    /// Returns the sources.
    #[must_use]
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// Returns how many rows were read.
    #[must_use]
    pub const fn rows(&self) -> u64 {
        self.rows
    }

    /// Returns how many bytes were read.
    #[must_use]
    pub const fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Returns the comment lines that stand before the first row of a source: what a collection
    /// says of itself.
    #[must_use]
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// Returns the BLAKE3 digest of the rows read so far, in hexadecimal.
    #[must_use]
    pub fn digest(&self) -> String {
        self.hasher.finalize().to_hex().to_string()
    }

    /// Reads up to `most` rows; fewer only at the end of the last source.
    ///
    /// # Errors
    /// If a source does not open or breaks off.
    pub fn take(&mut self, most: usize) -> Result<Vec<Row>, ReadError> {
        let mut rows = Vec::with_capacity(most.min(1 << 16));
        while rows.len() < most {
            match self.row()? {
                Some(row) => rows.push(row),
                None => break,
            }
        }
        Ok(rows)
    }

    fn row(&mut self) -> Result<Option<Row>, ReadError> {
        loop {
            let Some(OpenSource { reader, index, lines }) = &mut self.current else {
                let Some(source) = self.sources.get(self.next) else { return Ok(None) };
                let reader = BufReader::with_capacity(1 << 16, source.open()?);
                self.current = Some(OpenSource { reader, index: self.next, lines: 0 });
                self.next += 1;
                continue;
            };
            self.buffer.clear();
            let read =
                reader.read_until(b'\n', &mut self.buffer).map_err(|error| ReadError::Read {
                    source_name: self.sources[*index].name().to_owned(),
                    line: *lines,
                    error,
                })?;
            if read == 0 {
                self.current = None;
                continue;
            }
            *lines += 1;
            self.bytes += read as u64;
            let mut bytes = self.buffer.as_slice();
            if *lines == 1 {
                bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
            }
            let text = String::from_utf8_lossy(bytes.trim_ascii());
            if text.is_empty() {
                continue;
            }
            if let Some(comment) = text.strip_prefix('#') {
                if self.rows == 0 && self.notes.len() < 100 {
                    self.notes.push(comment.trim().to_owned());
                }
                continue;
            }
            self.rows += 1;
            self.hasher.update(text.as_bytes());
            self.hasher.update(b"\n");
            return Ok(Some(Row { source: *index, line: *lines, text: text.into_owned() }));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BLANK: &str =
        ".................................................................................";

    fn rows_of(contents: &[&[u8]]) -> (Vec<Row>, String, Vec<String>) {
        let folder = tempfile::tempdir().unwrap();
        let sources = contents.iter().enumerate().map(|(i, bytes)| {
            let path = folder.path().join(i.to_string());
            std::fs::write(&path, bytes).unwrap();
            Source::file(&path)
        });
        let mut rows = Rows::open(sources.collect()).unwrap();
        let mut all = Vec::new();
        loop {
            let some = rows.take(2).unwrap();
            if some.is_empty() {
                break;
            }
            all.extend(some);
        }
        (all, rows.digest(), rows.notes().to_vec())
    }

    #[test]
    fn labels_comments_and_line_ends_do_not_matter() {
        let text = format!("\u{feff}# seed: 7\r\n\r\n {BLANK} first, easy\r\n# note\n{BLANK},x\n");
        let (rows, digest, notes) = rows_of(&[text.as_bytes()]);
        assert_eq!(rows.iter().map(|row| row.line).collect::<Vec<_>>(), [3, 5]);
        assert!(rows.iter().all(|row| row.puzzle().unwrap().clues() == 0));
        assert_eq!(notes, ["seed: 7"]);
        let first = format!("{BLANK} first, easy");
        let second = format!("{BLANK},x");
        let (apart, same_digest, _) = rows_of(&[first.as_bytes(), second.as_bytes()]);
        assert_eq!((apart[1].source, apart[1].line, same_digest), (1, 1, digest));
    }

    #[test]
    fn bytes_that_are_no_text_become_a_bad_row() {
        let (rows, ..) = rows_of(&[b"\xff\xfe123\n"]);
        assert_eq!(rows.len(), 1);
        assert_eq!(rows[0].puzzle(), Err(ParsePuzzleError::Length { found: 5 }));
    }

    #[test]
    fn a_missing_source_is_named_at_the_start() {
        let missing = Source::file("no/such/file.txt".as_ref());
        let error = Rows::open(vec![missing]).err().unwrap();
        assert!(error.to_string().starts_with("cannot open no/such/file.txt: "), "{error}");
    }
}
