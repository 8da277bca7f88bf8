//! The stream of puzzle rows of one or more sources.

use std::collections::VecDeque;
use std::ops::Range;

use crate::digest::BlockHasher;
use crate::lines::{Lines, MOST_NOTES};
use crate::reader::Reader;
use crate::row::Row;
use crate::{Block, Families, Format, Numbering, Place, ReadError, Source};

/// Reads the rows of all sources, one source after the other.
///
/// Compression (gzip, zstd) and encoding (UTF-8, UTF-16 with a byte order mark, else Windows-1252) of
/// a source are told by its bytes, its [`Format`] by its first lines if it isn't set. Lines end with a
/// line feed, a carriage return or both. Blank lines and lines that begin with `#` are passed over.
///
/// The digest covers every row as one line of text, each followed by a line feed: a line as it
/// stands, a grid or a record in the text form of its [`Entry`](crate::Entry). It is BLAKE3 over the
/// digests of blocks of 1,000 rows. The same rows give the same digest, however they are spread over
/// files.
pub struct Rows {
    sources: Vec<Source>,
    current: Option<OpenSource>,
    next: usize,
    /// How sources are opened.
    opening: Opening,
    numbering: Numbering,
    /// The number of the next row, if nothing else makes it another.
    number: u64,
    /// None if nobody asks for it.
    digest: Option<BlockHasher>,
    /// Watched if families have to stand together.
    families: Option<Families>,
    rows: u64,
    /// Rows read ahead, to be given first.
    ahead: VecDeque<Row>,
    /// How many rows there have to be.
    wanted: Option<u64>,
    /// The bytes of all sources, where each has a size.
    size: Option<u64>,
    /// The bytes of the sources that are done with.
    bytes: u64,
    notes: Vec<String>,
    /// What broke off the reading after rows that were given first.
    error: Option<ReadError>,
}

/// How sources are opened.
#[derive(Clone, Copy)]
enum Opening {
    /// By what their bytes say they are.
    Told,
    /// As plain text, the first one from a place in it on, up to a unit.
    Plain { offset: u64, line: u64, until: u64 },
}

struct OpenSource {
    index: usize,
    /// How many rows came from it, those before the place where it was opened included.
    rows: u64,
    lines: Lines,
    reader: Reader,
}

/// The rows of a part.
pub(crate) struct PartRows {
    pub(crate) units: Range<u64>,
    pub(crate) rows: Vec<Row>,
}

impl OpenSource {
    fn next(&mut self) -> Option<Row> {
        self.reader.next(&mut self.lines).map(|mut row| {
            row.source = self.index;
            self.rows += 1;
            row
        })
    }
}

impl Rows {
    /// Looks at all sources, so that a missing one is known at the start, and reads from the first.
    ///
    /// # Errors
    /// If a source is not there or may not be read.
    pub fn open(sources: Vec<Source>) -> Result<Self, ReadError> {
        sources.iter().try_for_each(Source::check)?;
        let numbering = sources.first().map(Source::numbering).unwrap_or_default();
        Ok(Self {
            size: sources.iter().map(Source::size).sum(),
            sources,
            current: None,
            next: 0,
            opening: Opening::Told,
            numbering,
            number: 0,
            digest: Some(BlockHasher::new(numbering, 0)),
            families: None,
            rows: 0,
            ahead: VecDeque::new(),
            wanted: None,
            bytes: 0,
            notes: Vec::new(),
            error: None,
        })
    }

    /// Opens sources of plain text.
    pub(crate) fn open_plain(sources: &[Source]) -> Result<Self, ReadError> {
        let opening = Opening::Plain { offset: 0, line: 0, until: u64::MAX };
        let plain = sources.iter().map(|source| source.clone().with_format(Format::Lines));
        Ok(Self { opening, ..Self::open(plain.collect())? })
    }

    /// Opens sources of plain text at a place, whose first row has a number.
    pub(crate) fn open_at(
        sources: &[Source],
        place: &Place,
        number: u64,
        until: u64,
    ) -> Result<Self, ReadError> {
        let &Place { source, offset, line } = place;
        let opening = Opening::Plain { offset, line, until };
        let opened = Self::open_plain(sources)?.without_digest();
        Ok(Self { opening, next: source, number, ..opened })
    }

    /// Leaves out the digest.
    #[must_use]
    pub fn without_digest(self) -> Self {
        Self { digest: None, ..self }
    }

    /// Demands that families stand together: a family that returns after another one ends the reading
    /// with an error.
    #[must_use]
    pub fn with_families_together(self) -> Self {
        Self { families: Some(Families::default()), ..self }
    }

    /// Returns how the rows are numbered.
    #[must_use]
    pub const fn numbering(&self) -> Numbering {
        self.numbering
    }

    /// Returns the place from which all rows that were not given yet can be read, of plain text.
    pub(crate) fn place(&mut self) -> Result<Place, ReadError> {
        let Some(open) = &mut self.current else {
            return Ok(Place { source: self.next, offset: 0, line: 0 });
        };
        let source = &self.sources[open.index];
        let line = open.lines.number();
        open.lines.end_line().map_err(|error| ReadError::Read {
            source_name: source.name().to_owned(),
            line,
            error,
        })?;
        let offset = if source.is_counted_in_units() { open.rows } else { open.lines.bytes() };
        Ok(Place { source: open.index, offset, line })
    }

    /// Demands so many rows of all sources together: another number of them ends the reading with an
    /// error. A stream that was cut off looks like a whole one otherwise.
    #[must_use]
    pub fn expecting(self, rows: Option<u64>) -> Self {
        Self { wanted: rows, ..self }
    }

    /// Reads up to `most` rows ahead, so that what goes wrong there is known before anything is made
    /// of them.
    ///
    /// # Errors
    /// As [`Rows::block`], and [`ReadError::Empty`] if there is no row.
    pub fn read_ahead(&mut self, most: usize) -> Result<(), ReadError> {
        let rows = self.take_whole(most)?;
        if rows.is_empty() {
            let names: Vec<&str> = self.sources.iter().map(Source::name).collect();
            return Err(ReadError::Empty(names.join(", ")));
        }
        self.ahead = rows.into();
        Ok(())
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

    /// Returns the number of all rows if it is demanded or known, else a guess from the part of the bytes read
    /// so far; nothing if some source has no size.
    #[must_use]
    pub fn expected(&self) -> Option<u64> {
        if self.wanted.is_some() {
            return self.wanted;
        }
        if self.numbering == Numbering::Rows
            && let Some(units) = self.sources.iter().map(Source::units).sum()
        {
            return Some(units);
        }
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

    /// Returns the digest of the rows read so far, in hexadecimal; of none if it is left out.
    #[must_use]
    pub fn digest(&self) -> String {
        self.digest.clone().map(BlockHasher::finish).unwrap_or_default().digest()
    }

    /// Reads up to `most` rows; fewer at the end of the last source, and before an error.
    ///
    /// # Errors
    /// If a source does not open, breaks off, or is a table without the column of puzzles, or if there
    /// is another number of rows than demanded. All rows before it are given first, but not a line
    /// that broke off; the next call goes on with the next source.
    pub fn block(&mut self, most: usize) -> Result<Block, ReadError> {
        Ok(self.take(most)?.into_iter().map(Row::into_entry).collect())
    }

    /// Reads all rows that are left, for their number, digest and notes.
    ///
    /// # Errors
    /// As [`Rows::block`].
    pub fn read_to_end(&mut self) -> Result<(), ReadError> {
        while !self.take_whole(1000)?.is_empty() {}
        Ok(())
    }

    pub(crate) fn take(&mut self, most: usize) -> Result<Vec<Row>, ReadError> {
        if let Some(error) = self.error.take() {
            return Err(error);
        }
        let mut rows = match self.ahead.len() {
            0 => Vec::with_capacity(most.min(1 << 16)),
            ahead if ahead <= most => std::mem::take(&mut self.ahead).into(),
            _ => self.ahead.drain(..most).collect(),
        };
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

    /// Reads `most` rows; fewer at the end of the last source only.
    pub(crate) fn take_whole(&mut self, most: usize) -> Result<Vec<Row>, ReadError> {
        let rows = self.take(most)?;
        match self.error.take() {
            Some(error) => Err(error),
            None => Ok(rows),
        }
    }

    /// Reads the rows of a part of so many units; `None` after the last part.
    pub(crate) fn take_part(
        &mut self,
        part: u64,
        size: u64,
    ) -> Result<Option<PartRows>, ReadError> {
        let first = part * size;
        if self.numbering == Numbering::Rows {
            let rows = self.take_whole(size as usize)?;
            let units = first..first + rows.len() as u64;
            return Ok((!rows.is_empty()).then_some(PartRows { units, rows }));
        }
        let all = self.sources.first().and_then(Source::units).unwrap_or_default();
        if first >= all {
            return Ok(None);
        }
        let units = first..all.min(first + size);
        let mut rows = Vec::new();
        while let Some(row) = self.take_whole(1)?.pop() {
            if self.numbering.unit(row.number) >= units.end {
                self.ahead.push_front(row);
                break;
            }
            rows.push(row);
        }
        Ok(Some(PartRows { units, rows }))
    }

    fn row(&mut self) -> Result<Option<Row>, ReadError> {
        loop {
            let Some(open) = &mut self.current else {
                if !self.open_next()? {
                    let wanted = self.wanted.take_if(|wanted| *wanted != self.rows);
                    return wanted.map_or(Ok(None), |wanted| Err(self.other_number(wanted)));
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
            let Some(mut row) = row else {
                self.close()?;
                continue;
            };
            if let Some(wanted) = self.wanted.take_if(|wanted| *wanted == self.rows) {
                return Err(self.other_number(wanted));
            }
            self.rows += 1;
            self.give_number(&mut row);
            if let (Some(families), Some(family)) = (&mut self.families, row.family)
                && !families.take(family)
            {
                let source_name = self.sources[row.source].name().to_owned();
                return Err(ReadError::FamilyReturns { source_name, line: row.line, family });
            }
            if let Some(digest) = &mut self.digest {
                digest.row(row.number, &row.as_line());
            }
            return Ok(Some(row));
        }
    }

    fn give_number(&mut self, row: &mut Row) {
        if let (Numbering::Families, Some(family)) = (self.numbering, row.family) {
            self.number = self.number.max(self.numbering.first(family));
            // Its line depends on the families before.
            row.line = family;
        }
        row.number = self.number;
        self.number += 1;
    }

    fn other_number(&self, wanted: u64) -> ReadError {
        let names: Vec<&str> = self.sources.iter().map(Source::name).collect();
        let (source_name, found) = (names.join(", "), self.rows);
        match found < wanted {
            true => ReadError::TooFewRows { source_name, wanted, found },
            false => ReadError::TooManyRows { source_name, wanted },
        }
    }

    /// Opens the next source; there may be none.
    fn open_next(&mut self) -> Result<bool, ReadError> {
        let index = self.next;
        let Some(source) = self.sources.get(index) else { return Ok(false) };
        self.next += 1;
        let mut rows = 0;
        let mut lines = match &mut self.opening {
            Opening::Told => Lines::new(source.open()?),
            Opening::Plain { offset, line, until } => {
                let (offset, line) = (std::mem::take(offset), std::mem::take(line));
                let bytes = source.open_at(offset, *until)?;
                let in_units = source.is_counted_in_units();
                rows = if in_units { offset } else { 0 };
                Lines::plain(bytes, if in_units { 0 } else { offset }, line)
            }
        };
        let reader = Reader::new(&mut lines, source.format()).map_err(|(line, error)| {
            ReadError::Table { source_name: source.name().to_owned(), line, error }
        })?;
        self.current = Some(OpenSource { index, rows, lines, reader });
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
    use crate::{Entry, Reason};

    const BLANK: &str =
        ".................................................................................";

    /// Rows are read by several threads in turn.
    const fn is_send<T: Send>() {}
    const _: () = is_send::<Rows>();

    fn rows_of(contents: &[&[u8]]) -> (Block, String, Vec<String>) {
        let folder = tempfile::tempdir().unwrap();
        let sources = contents.iter().enumerate().map(|(i, bytes)| {
            let path = folder.path().join(i.to_string());
            std::fs::write(&path, bytes).unwrap();
            Source::file(&path)
        });
        let mut rows = Rows::open(sources.collect()).unwrap();
        let mut all = Vec::new();
        loop {
            let some = rows.block(2).unwrap();
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
        let entries: Vec<Entry> = rows.into_iter().map(Result::unwrap).collect();
        assert_eq!(entries.iter().map(|entry| entry.line).collect::<Vec<_>>(), [3, 5]);
        assert!(entries.iter().all(|entry| entry.puzzle.clues() == 0));
        assert_eq!(notes, ["seed: 7"]);
        let first = format!("{BLANK} first, easy");
        let second = format!("{BLANK},x");
        let (apart, same_digest, _) = rows_of(&[first.as_bytes(), second.as_bytes()]);
        let last = apart[1].as_ref().unwrap();
        assert_eq!((last.number, last.source, last.line, same_digest), (1, 1, 1, digest));
    }

    #[test]
    fn bytes_that_are_no_text_become_a_bad_row() {
        let (rows, ..) = rows_of(&[b"\xfd\xfe123\n"]);
        assert_eq!(rows.len(), 1);
        let reason = Reason::Unreadable(ParsePuzzleError::Length { found: 5 }.into());
        assert_eq!(rows[0].as_ref().unwrap_err().reason, reason);
    }

    #[test]
    fn a_missing_source_is_named_at_the_start() {
        let missing = Source::file("no/such/file.txt".as_ref());
        let error = Rows::open(vec![missing]).err().unwrap();
        assert!(error.to_string().starts_with("cannot open no/such/file.txt: "), "{error}");
        // The cause stands in the text, so it is not told again as a source.
        assert!(std::error::Error::source(&error).is_none());
    }

    fn numbers(rows: &Block) -> Vec<u64> {
        rows.iter().map(|row| row.as_ref().unwrap().number).collect()
    }

    #[test]
    fn rows_read_ahead_are_given_first() {
        let text = format!("{BLANK}\n").repeat(5);
        let mut rows = Rows::open(vec![Source::memory("in", text.as_bytes())]).unwrap();
        rows.read_ahead(3).unwrap();
        assert_eq!(numbers(&rows.block(2).unwrap()), [0, 1]);
        assert_eq!(numbers(&rows.block(2).unwrap()), [2, 3]);
        assert_eq!(numbers(&rows.block(2).unwrap()), [4]);
        assert_eq!(rows.block(2).unwrap(), []);
        let mut none = Rows::open(vec![Source::memory("none", *b"# nothing\n")]).unwrap();
        let error = none.read_ahead(3).unwrap_err().to_string();
        assert!(error.starts_with("no puzzles in none: expected "), "{error}");
    }

    #[test]
    fn another_number_of_rows_than_demanded_is_an_error() {
        // Comments and blank lines are no rows; rejected rows are.
        let text = format!("# note\n{BLANK}\nspoilt\n\n{BLANK}\n");
        let read = |wanted| {
            let source = Source::memory("in", text.as_bytes());
            let mut rows = Rows::open(vec![source]).unwrap().expecting(Some(wanted));
            rows.read_to_end().map_err(|error| error.to_string())
        };
        assert_eq!(read(3), Ok(()));
        let few = "in: 3 rows, expected 4; it may have been cut off";
        assert_eq!(read(4), Err(few.to_owned()));
        assert_eq!(read(2), Err("in: more rows than the 2 expected".to_owned()));
    }

    /// A writer that meets nobody reading is told that the pipe is broken.
    #[cfg(unix)]
    #[test]
    fn a_named_pipe_is_opened_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("pipe");
        assert!(std::process::Command::new("mkfifo").arg(&path).status().unwrap().success());
        let writer = {
            let path = path.clone();
            std::thread::spawn(move || {
                use std::io::Write;
                let mut pipe = std::fs::OpenOptions::new().write(true).open(path).unwrap();
                let line = format!("{BLANK}\n");
                // More than a pipe holds.
                (0..4000).try_for_each(|_| pipe.write_all(line.as_bytes()))
            })
        };
        let mut rows = Rows::open(vec![Source::file(&path)]).unwrap();
        let mut read = 0;
        loop {
            let block = rows.block(1000).unwrap();
            if block.is_empty() {
                break;
            }
            read += block.len();
        }
        assert_eq!(read, 4000);
        writer.join().unwrap().unwrap();
    }
}
