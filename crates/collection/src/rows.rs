//! The stream of puzzle rows of one or more sources.

use crate::lines::{Lines, MOST_NOTES};
use crate::table::{LineError, TableRows};
use crate::text_rows::TextRows;
use crate::{Format, ReadError, Row, Source};

/// Reads the rows of all sources, one source after the other.
///
/// Compression (gzip, zstd) and encoding (UTF-8, UTF-16 with a byte order mark, else Windows-1252) of
/// a source are told by its bytes, its [`Format`] by its first lines if it isn't set. Lines end with a
/// line feed, a carriage return or both. Blank lines and lines that begin with `#` are passed over.
///
/// The digest covers every row as one line of text, [`Row::as_line`], each followed by a line feed:
/// the same rows give the same digest, however they are spread over files and stand in them.
pub struct Rows {
    sources: Vec<Source>,
    current: Option<OpenSource>,
    next: usize,
    hasher: blake3::Hasher,
    /// What is not hashed yet: hashing much at once is faster.
    unhashed: Vec<u8>,
    rows: u64,
    /// The bytes of all sources, where each has a size.
    size: Option<u64>,
    /// The bytes of the sources that are done with.
    bytes: u64,
    notes: Vec<String>,
    /// What broke off the reading after rows that were given first.
    error: Option<ReadError>,
}

const HASHED_AT_ONCE: usize = 1 << 16;

struct OpenSource {
    index: usize,
    lines: Lines,
    reader: Reader,
}

enum Reader {
    Text(TextRows),
    Table(TableRows),
    Nothing,
}

impl OpenSource {
    fn next(&mut self) -> Option<Row> {
        let row = match &mut self.reader {
            Reader::Text(reader) => reader.next(&mut self.lines),
            Reader::Table(reader) => reader.next(&mut self.lines),
            Reader::Nothing => None,
        };
        row.map(|row| Row { source: self.index, ..row })
    }
}

impl Reader {
    fn new(lines: &mut Lines, format: &Format) -> Result<Self, LineError> {
        Ok(match format {
            Format::Auto => {
                let table = TableRows::detect(lines)?;
                table.map_or_else(|| Self::Text(TextRows::new(true)), Self::Table)
            }
            Format::Lines => Self::Text(TextRows::new(false)),
            Format::Grids => Self::Text(TextRows::new(true)),
            Format::Table { column } => {
                TableRows::new(lines, column.as_ref())?.map_or(Self::Nothing, Self::Table)
            }
        })
    }
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
            size: sources.iter().map(Source::size).sum(),
            sources,
            current: None,
            next: 0,
            hasher: blake3::Hasher::new(),
            unhashed: Vec::with_capacity(HASHED_AT_ONCE),
            rows: 0,
            bytes: 0,
            notes: Vec::new(),
            error: None,
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

    /// Returns a guess of the number of all rows, from the part of the bytes read so far; nothing if
    /// some source has no size.
    #[must_use]
    pub fn expected(&self) -> Option<u64> {
        let (size, bytes) = (self.size?, self.bytes());
        (bytes > 0).then(|| (self.rows as f64 * size as f64 / bytes as f64).round() as u64)
    }

    /// Returns how many bytes of the sources were read; compressed ones, if they are compressed.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.bytes + self.current.as_ref().map_or(0, |open| open.lines.bytes())
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
        self.hasher.clone().update(&self.unhashed).finalize().to_hex().to_string()
    }

    /// Reads up to `most` rows; fewer at the end of the last source, and before an error.
    ///
    /// # Errors
    /// If a source does not open, breaks off, or is a table without the column of puzzles. All rows
    /// before it are given first, but not a line that broke off; the next call goes on with the next
    /// source.
    pub fn take(&mut self, most: usize) -> Result<Vec<Row>, ReadError> {
        if let Some(error) = self.error.take() {
            return Err(error);
        }
        let mut rows = Vec::with_capacity(most.min(1 << 16));
        while rows.len() < most {
            match self.row() {
                Ok(Some(row)) => rows.push(row),
                Ok(None) => break,
                Err(error) if rows.is_empty() => return Err(error),
                Err(error) => {
                    self.error = Some(error);
                    break;
                }
            }
        }
        Ok(rows)
    }

    fn row(&mut self) -> Result<Option<Row>, ReadError> {
        loop {
            let Some(open) = &mut self.current else {
                if !self.open_next()? {
                    return Ok(None);
                }
                continue;
            };
            let row = open.next();
            if self.rows == 0 {
                // The row may have been found by reading further.
                let end = row.as_ref().map_or(u64::MAX, |row| row.line);
                let notes = open.lines.notes.drain(..).filter(|&(line, _)| line < end);
                let room = MOST_NOTES - self.notes.len();
                self.notes.extend(notes.map(|(_, note)| note).take(room));
            }
            let Some(row) = row else {
                self.close()?;
                continue;
            };
            self.rows += 1;
            self.unhashed.extend_from_slice(row.as_line().as_bytes());
            self.unhashed.push(b'\n');
            if self.unhashed.len() >= HASHED_AT_ONCE {
                self.hasher.update(&self.unhashed);
                self.unhashed.clear();
            }
            return Ok(Some(row));
        }
    }

    /// Opens the next source; there may be none.
    fn open_next(&mut self) -> Result<bool, ReadError> {
        let index = self.next;
        let Some(source) = self.sources.get(index) else { return Ok(false) };
        self.next += 1;
        let mut lines = Lines::new(source.open()?);
        let reader = Reader::new(&mut lines, source.format()).map_err(|(line, error)| {
            ReadError::Table { source_name: source.name().to_owned(), line, error }
        })?;
        self.current = Some(OpenSource { index, lines, reader });
        Ok(true)
    }

    fn close(&mut self) -> Result<(), ReadError> {
        let Some(mut open) = self.current.take() else { return Ok(()) };
        self.bytes += open.lines.bytes();
        open.lines.error.take().map_or(Ok(()), |error| {
            Err(ReadError::Read {
                source_name: self.sources[open.index].name().to_owned(),
                line: open.lines.number(),
                error,
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::ParsePuzzleError;

    use super::*;

    const BLANK: &str =
        ".................................................................................";

    /// Rows are read by several threads in turn.
    const fn is_send<T: Send>() {}
    const _: () = is_send::<Rows>();

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
        let (rows, ..) = rows_of(&[b"\xfd\xfe123\n"]);
        assert_eq!(rows.len(), 1);
        assert_eq!(rows[0].puzzle(), Err(ParsePuzzleError::Length { found: 5 }.into()));
    }

    #[test]
    fn a_missing_source_is_named_at_the_start() {
        let missing = Source::file("no/such/file.txt".as_ref());
        let error = Rows::open(vec![missing]).err().unwrap();
        assert!(error.to_string().starts_with("cannot open no/such/file.txt: "), "{error}");
    }
}
