use std::fmt;
use std::io::Write;

use tallyhouse_board::ParsePuzzleError;

use crate::RowError;

/// Why a row is not scanned.
#[derive(Clone, Debug, PartialEq, Eq)]
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

impl Reason {
    /// All kinds, in the order of [`Reason::kind`].
    pub const KINDS: [&'static str; 8] = [
        "wrong length",
        "bad character",
        "repeated digit",
        "no solution",
        "several solutions",
        "undecided",
        "bad weight",
        "too long",
    ];

    /// Returns the index in [`Reason::KINDS`] of what is wrong.
    #[must_use]
    pub const fn kind(&self) -> usize {
        match self {
            Self::Unreadable(error) => match error {
                RowError::Puzzle(ParsePuzzleError::Length { .. })
                | RowError::GridRows { .. }
                | RowError::GridCells { .. }
                | RowError::MissingField { .. } => 0,
                RowError::Puzzle(ParsePuzzleError::Repeated(_)) => 2,
                RowError::Puzzle(_) | RowError::GridCharacter { .. } | RowError::GridDashes => 1,
                RowError::Weight(_) | RowError::Family(_) | RowError::Twice(_) => 6,
                RowError::TooLong => 7,
            },
            Self::NoSolution => 3,
            Self::SeveralSolutions => 4,
            Self::Undecided => 5,
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

/// A row that is not scanned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reject {
    /// The name of its source.
    pub file: String,
    /// The line, counted from 1.
    pub line: u64,
    /// The text of the row.
    pub text: String,
    /// What is wrong with it.
    pub reason: Reason,
}

impl fmt::Display for Reject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}: {}", self.file, self.line, self.reason)
    }
}

/// Writes rejects as CSV with the header `file,line,text,reason`.
pub struct RejectsFile<W: Write>(csv::Writer<W>);

impl<W: Write> RejectsFile<W> {
    /// Starts a file without its header; see [`RejectsFile::header`].
    pub fn new(writer: W) -> Self {
        Self(csv::Writer::from_writer(writer))
    }

    /// Writes the header.
    ///
    /// # Errors
    /// If writing fails.
    pub fn header(&mut self) -> csv::Result<()> {
        self.0.write_record(["file", "line", "text", "reason"])
    }

    /// Writes one reject.
    ///
    /// # Errors
    /// If writing fails.
    pub fn write(&mut self, reject: &Reject) -> csv::Result<()> {
        let (line, reason) = (reject.line.to_string(), reject.reason.to_string());
        self.0.write_record([&reject.file, &line, &reject.text, &reason])
    }

    /// Writes a row read from another such file.
    ///
    /// # Errors
    /// If writing fails.
    pub fn copy(&mut self, row: &csv::StringRecord) -> csv::Result<()> {
        self.0.write_record(row)
    }

    /// Flushes and returns the writer.
    ///
    /// # Errors
    /// If writing fails.
    pub fn finish(self) -> std::io::Result<W> {
        self.0.into_inner().map_err(csv::IntoInnerError::into_error)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_with_commas_and_quotes_survives() {
        let mut file = RejectsFile::new(Vec::new());
        file.header().unwrap();
        let reject = Reject {
            file: "a.txt".into(),
            line: 3,
            text: "x,\"y\"".into(),
            reason: Reason::Unreadable(ParsePuzzleError::Length { found: 5 }.into()),
        };
        file.write(&reject).unwrap();
        let text = String::from_utf8(file.finish().unwrap()).unwrap();
        assert_eq!(
            text,
            "file,line,text,reason\na.txt,3,\"x,\"\"y\"\"\",5 characters instead of 81\n"
        );
        assert_eq!(reject.to_string(), "a.txt, line 3: 5 characters instead of 81");
        assert_eq!(Reason::KINDS[reject.reason.kind()], "wrong length");
    }
}
