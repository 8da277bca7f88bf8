//! Rows that are not scanned, why, and the one file that lists them.

use std::fmt;
use std::fs::File;
use std::io;
use std::ops::{AddAssign, Index};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use strum::VariantArray;
use tallyhouse_board::ParsePuzzleError;
use tallyhouse_storage::{NewFile, StorageError};
use tallyhouse_words::{as_field, from_field, shown};

use crate::{RowError, Source};

/// Why a row is not scanned.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Reason {
    /// The row gives no puzzle.
    Unreadable(RowError),
    /// The puzzle has no solution.
    NoSolution,
    /// The puzzle has more than one solution.
    SeveralSolutions,
    /// The search for solutions was given up.
    Undecided,
}

/// What kind of reason it is, by the name that manifests count it under.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    strum::Display,
    strum::EnumString,
    strum::IntoStaticStr,
    strum::VariantArray,
)]
#[non_exhaustive]
pub enum ReasonKind {
    /// Too many or too few characters, cells, rows or fields.
    #[strum(serialize = "wrong length")]
    WrongLength,
    /// A character that is neither a digit nor a blank.
    #[strum(serialize = "bad character")]
    BadCharacter,
    /// A house shows a digit twice.
    #[strum(serialize = "repeated digit")]
    RepeatedDigit,
    /// There is no solution.
    #[strum(serialize = "no solution")]
    NoSolution,
    /// There is more than one solution.
    #[strum(serialize = "several solutions")]
    SeveralSolutions,
    /// The search for solutions was given up.
    #[strum(serialize = "undecided")]
    Undecided,
    /// A weight or a family that can't be used.
    #[strum(serialize = "bad weight")]
    BadWeight,
    /// A line too long to be kept.
    #[strum(serialize = "too long")]
    TooLong,
}

impl Reason {
    /// Returns what kind it is.
    #[must_use]
    pub const fn kind(&self) -> ReasonKind {
        match self {
            Self::Unreadable(error) => match error {
                RowError::Puzzle(ParsePuzzleError::Length { .. })
                | RowError::GridRows { .. }
                | RowError::GridCells { .. }
                | RowError::MissingField { .. } => ReasonKind::WrongLength,
                RowError::Puzzle(ParsePuzzleError::Repeated(_)) => ReasonKind::RepeatedDigit,
                RowError::Puzzle(_) | RowError::GridCharacter { .. } | RowError::GridDashes => {
                    ReasonKind::BadCharacter
                }
                RowError::Weight(_) | RowError::Family(_) | RowError::Twice(_) => {
                    ReasonKind::BadWeight
                }
                RowError::TooLong => ReasonKind::TooLong,
            },
            Self::NoSolution => ReasonKind::NoSolution,
            Self::SeveralSolutions => ReasonKind::SeveralSolutions,
            Self::Undecided => ReasonKind::Undecided,
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable(error) => error.fmt(f),
            Self::NoSolution => f.write_str("no solution: expected exactly one"),
            Self::SeveralSolutions => f.write_str("several solutions: expected exactly one"),
            Self::Undecided => {
                write!(
                    f,
                    "undecided after {} guesses: expected exactly one solution",
                    tallyhouse_engine::MOST_GUESSES
                )
            }
        }
    }
}

/// How many rows were rejected, by kind of reason.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RejectCounts([u64; ReasonKind::VARIANTS.len()]);

impl RejectCounts {
    /// Counts one more.
    pub const fn add(&mut self, kind: ReasonKind) {
        self.0[kind as usize] += 1;
    }

    /// Returns how many there are of all kinds.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.0.iter().sum()
    }

    /// Iterates over all kinds, those without a row included.
    pub fn iter(&self) -> impl Iterator<Item = (ReasonKind, u64)> + '_ {
        ReasonKind::VARIANTS.iter().copied().zip(self.0)
    }

    /// Returns them by name, as manifests hold them.
    #[must_use]
    pub fn named(&self) -> Vec<(String, u64)> {
        self.iter().map(|(kind, rows)| (kind.to_string(), rows)).collect()
    }

    /// Takes counts by name; `None` if a name is unknown.
    #[must_use]
    pub fn from_named(named: &[(String, u64)]) -> Option<Self> {
        let mut counts = Self::default();
        for (name, rows) in named {
            let kind: ReasonKind = name.parse().ok()?;
            counts.0[kind as usize] += rows;
        }
        Some(counts)
    }
}

impl Index<ReasonKind> for RejectCounts {
    type Output = u64;

    fn index(&self, kind: ReasonKind) -> &u64 {
        &self.0[kind as usize]
    }
}

impl AddAssign<&Self> for RejectCounts {
    fn add_assign(&mut self, more: &Self) {
        for (sum, more) in self.0.iter_mut().zip(more.0) {
            *sum += more;
        }
    }
}

/// A row that is not scanned.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Reject {
    /// The index of its source.
    pub source: usize,
    /// The line, counted from 1.
    pub line: u64,
    /// A line as it stands, label included; a grid or field of 81 cells as 81 characters, another one
    /// as it stands, its lines joined by `⏎`.
    pub text: String,
    /// The label of a grid or a record; that of a line stands in its text.
    pub label: Option<String>,
    /// What is wrong with it.
    pub reason: Reason,
}

/// A list of rejected rows can't be written or read.
#[derive(Debug, thiserror::Error)]
#[error(transparent)]
pub struct RejectsError(#[from] StorageError);

/// Counts rejected rows and lists them in a CSV file with the header `file,line,text,reason`.
///
/// The file is made with the first row, written aside and named when it is whole. Of its text, control
/// characters are replaced, and what a spreadsheet would take for a formula has an apostrophe before it.
///
/// ```
/// use tallyhouse_collection::{Rejects, Rows, Source};
///
/// let sources = vec![Source::memory("in.txt", *b"12345\n")];
/// let mut rejects = Rejects::counted(&sources);
/// for row in Rows::open(sources)?.block(10)? {
///     if let Err(reject) = row {
///         rejects.take(&reject)?;
///     }
/// }
/// assert_eq!(rejects.first(), Some("in.txt, line 1: 5 characters instead of 81"));
/// assert_eq!(rejects.counts().total(), 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct Rejects {
    names: Vec<String>,
    path: Option<PathBuf>,
    file: Option<csv::Writer<NewFile>>,
    counts: RejectCounts,
    first: Option<String>,
}

impl Rejects {
    /// The name of the list in an output folder.
    pub const FILE_NAME: &'static str = "rejects.csv";
    const HEADER: [&'static str; 4] = ["file", "line", "text", "reason"];

    /// Begins to count the rejected rows of some sources, and lists them nowhere.
    #[must_use]
    pub fn counted(sources: &[Source]) -> Self {
        let names = sources.iter().map(|source| source.name().to_owned()).collect();
        Self { names, path: None, file: None, counts: RejectCounts::default(), first: None }
    }

    /// Begins a list in a file; nothing is written yet.
    #[must_use]
    pub fn in_file(sources: &[Source], path: PathBuf) -> Self {
        Self { path: Some(path), ..Self::counted(sources) }
    }

    /// Begins a list in a folder; nothing is written yet.
    #[must_use]
    pub fn in_folder(sources: &[Source], folder: &Path) -> Self {
        Self::in_file(sources, folder.join(Self::FILE_NAME))
    }

    /// Adds a row.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn take(&mut self, reject: &Reject) -> Result<(), RejectsError> {
        self.count(reject);
        let name = self.name(reject).to_owned();
        self.list(&name, reject.line, &reject.text, &reject.reason.to_string())
    }

    /// Counts a row, and lists it nowhere.
    pub fn count(&mut self, reject: &Reject) {
        self.counts.add(reject.reason.kind());
        if self.first.is_none() {
            let (line, reason) = (reject.line.to_string(), reject.reason.to_string());
            self.first = Some(in_words(self.name(reject), &line, &reason));
        }
    }

    fn name(&self, reject: &Reject) -> &str {
        self.names.get(reject.source).map_or("", String::as_str)
    }

    /// Adds a row of a file that holds no puzzles; it counts among no kind.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn list(
        &mut self,
        file: &str,
        line: u64,
        text: &str,
        reason: &str,
    ) -> Result<(), RejectsError> {
        let line = line.to_string();
        self.first.get_or_insert_with(|| in_words(file, &line, reason));
        self.write(&[file, &line, &shown(text), reason])
    }

    /// Adds a row of another such file, uncounted.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn copy(&mut self, row: &csv::StringRecord) -> Result<(), RejectsError> {
        self.write(&row.iter().map(from_field).collect::<Vec<_>>())
    }

    /// Reads the rows of such a file; none if there is no such file.
    ///
    /// # Errors
    /// If the file can't be read.
    pub fn read(path: &Path) -> Result<Vec<csv::StringRecord>, RejectsError> {
        Self::read_up_to(path, usize::MAX)
    }

    /// Reads the first row of such a file, in words; none if there is no such file.
    ///
    /// # Errors
    /// If the file can't be read.
    pub fn read_first(path: &Path) -> Result<Option<String>, RejectsError> {
        let first = |row: &csv::StringRecord| {
            let field = |index| from_field(row.get(index).unwrap_or_default());
            in_words(field(0), field(1), field(3))
        };
        Ok(Self::read_up_to(path, 1)?.first().map(first))
    }

    fn read_up_to(path: &Path, most: usize) -> Result<Vec<csv::StringRecord>, RejectsError> {
        let rows = || -> io::Result<Vec<csv::StringRecord>> {
            let file = io::BufReader::new(File::open(path)?);
            let rows = csv::Reader::from_reader(file).into_records().take(most);
            Ok(rows.collect::<Result<_, _>>()?)
        };
        match rows() {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
            rows => Ok(rows.map_err(StorageError::read(path))?),
        }
    }

    fn write(&mut self, row: &[&str]) -> Result<(), RejectsError> {
        let Some(path) = &self.path else { return Ok(()) };
        let (file, is_new) = match &mut self.file {
            Some(file) => (file, false),
            None => (self.file.insert(csv::Writer::from_writer(NewFile::begin(path)?)), true),
        };
        let mut write = || -> io::Result<()> {
            if is_new {
                file.write_record(Self::HEADER)?;
            }
            Ok(file.write_record(row.iter().map(|field| as_field(field).into_owned()))?)
        };
        Ok(write().map_err(StorageError::write(path))?)
    }

    /// Returns how many rows were rejected.
    #[must_use]
    pub const fn counts(&self) -> &RejectCounts {
        &self.counts
    }

    /// Returns the first rejected row, in words.
    #[must_use]
    pub fn first(&self) -> Option<&str> {
        self.first.as_deref()
    }

    /// Flushes the file to disk, gives it its name and returns it, if there are rejected rows.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn finish(&mut self) -> Result<Option<PathBuf>, RejectsError> {
        let (Some(path), Some(file)) = (&self.path, self.file.take()) else { return Ok(None) };
        let file = file.into_inner().map_err(csv::IntoInnerError::into_error);
        file.map_err(StorageError::write(path))?.finish()?;
        Ok(Some(path.clone()))
    }
}

fn in_words(file: &str, line: &str, reason: &str) -> String {
    format!("{file}, line {line}: {reason}")
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn reject(line: u64, text: &str) -> Reject {
        let reason = Reason::Unreadable(ParsePuzzleError::Length { found: 5 }.into());
        Reject { source: 0, line, text: text.to_owned(), label: None, reason }
    }

    #[test]
    fn the_file_comes_with_the_first_row_and_is_named_when_whole() {
        let folder = tempfile::tempdir().unwrap();
        let sources = [Source::memory("a.txt", *b"")];
        let mut none = Rejects::in_folder(&sources, folder.path());
        assert_eq!(none.finish().unwrap(), None);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);

        let mut list = Rejects::in_folder(&sources, folder.path());
        list.take(&reject(3, "x,\"y\"")).unwrap();
        list.take(&reject(7, "z")).unwrap();
        let path = folder.path().join("rejects.csv");
        assert!(!path.exists());
        assert_eq!(list.finish().unwrap(), Some(path.clone()));
        assert_eq!(
            fs::read_to_string(&path).unwrap(),
            "file,line,text,reason\na.txt,3,\"x,\"\"y\"\"\",5 characters instead of 81\n\
             a.txt,7,z,5 characters instead of 81\n"
        );
        assert_eq!(list.first(), Some("a.txt, line 3: 5 characters instead of 81"));
        assert_eq!(list.counts()[ReasonKind::WrongLength], 2);

        let again = folder.path().join("again.csv");
        let mut copied = Rejects::in_file(&[], again.clone());
        Rejects::read(&path).unwrap().iter().try_for_each(|row| copied.copy(row)).unwrap();
        assert_eq!(Rejects::read(&folder.path().join("missing.csv")).unwrap().len(), 0);
        copied.finish().unwrap();
        assert_eq!(fs::read(again).unwrap(), fs::read(path).unwrap());
    }

    #[test]
    fn fields_are_no_formulas_and_no_orders_to_a_terminal() {
        let folder = tempfile::tempdir().unwrap();
        let sources = [Source::memory("+a\u{7}.txt", *b"")];
        let mut list = Rejects::in_folder(&sources, folder.path());
        list.take(&reject(1, "=HYPERLINK(1)")).unwrap();
        list.take(&reject(2, "a\u{1b}[2Jb")).unwrap();
        let path = list.finish().unwrap().unwrap();
        assert_eq!(
            fs::read_to_string(&path).unwrap(),
            "file,line,text,reason\n\
             '+a\u{fffd}.txt,1,'=HYPERLINK(1),5 characters instead of 81\n\
             '+a\u{fffd}.txt,2,a\u{fffd}[2Jb,5 characters instead of 81\n"
        );
        let first = Rejects::read_first(&path).unwrap();
        assert_eq!(first.as_deref(), list.first());
        let again = folder.path().join("again.csv");
        let mut copied = Rejects::in_file(&[], again.clone());
        Rejects::read(&path).unwrap().iter().try_for_each(|row| copied.copy(row)).unwrap();
        copied.finish().unwrap();
        assert_eq!(fs::read(again).unwrap(), fs::read(path).unwrap());
    }

    #[test]
    fn a_file_that_can_not_be_written_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let mut nowhere = Rejects::in_folder(&[], &folder.path().join("missing"));
        let error = nowhere.take(&reject(1, "x")).unwrap_err().to_string();
        assert!(error.contains("rejects.csv: "), "{error}");
    }

    #[test]
    fn counts_are_read_by_their_names() {
        let mut counts = RejectCounts::default();
        counts.add(ReasonKind::Undecided);
        let mut named = counts.named();
        named.reverse();
        assert_eq!(RejectCounts::from_named(&named), Some(counts));
        assert_eq!(RejectCounts::from_named(&[("unheard of".to_owned(), 1)]), None);
    }
}
