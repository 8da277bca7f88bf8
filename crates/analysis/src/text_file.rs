use std::io;
use std::ops::Range;

use serde::de::DeserializeOwned;

/// A rulebook or claim file that can't be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FileError {
    /// Something in the file is not as expected.
    #[error("{file}, line {line}: {what}")]
    Content {
        /// The file or built-in name.
        file: String,
        /// The line, counted from 1.
        line: usize,
        /// What was found and what was expected.
        what: String,
    },
    /// The file can't be read.
    #[error("cannot read {file}: {error}")]
    Unreadable {
        /// The file.
        file: String,
        /// What the system says.
        error: io::Error,
    },
    /// A name that is neither built in nor a file.
    #[error("no {kind} '{name}': expected a file, or one of {known}")]
    Unknown {
        /// `rulebook` or `claim file`.
        kind: &'static str,
        /// What was asked for.
        name: String,
        /// The built-in names.
        known: String,
    },
}

/// The text of a file and its name for messages.
#[derive(Clone, Copy, Debug)]
pub struct TextFile<'a> {
    name: &'a str,
    text: &'a str,
}

impl<'a> TextFile<'a> {
    /// Takes the name for messages and the text.
    #[must_use]
    pub const fn new(name: &'a str, text: &'a str) -> Self {
        Self { name, text }
    }

    /// Reads the text as TOML.
    ///
    /// # Errors
    /// [`FileError::Content`] with the line.
    pub fn parse<T: DeserializeOwned>(self) -> Result<T, FileError> {
        toml::from_str(self.text).map_err(|error| self.unreadable(&error))
    }

    /// Says where and why the text is not what was expected.
    pub(crate) fn unreadable(self, error: &toml::de::Error) -> FileError {
        let start = error.span().unwrap_or(0..0).start;
        self.error_in_value(start, &error.message().replace('\n', ", "))
    }

    /// Makes an error for what begins at this byte, and names its key where the words don't.
    #[must_use]
    pub fn error_in_value(self, start: usize, what: &str) -> FileError {
        match self.key_at(start) {
            Some(key) if !what.contains(key) => self.error_at(start, format!("{key}: {what}")),
            _ => self.error_at(start, what),
        }
    }

    /// Returns the key of the line that this byte is in, if the byte belongs to its value.
    fn key_at(self, at: usize) -> Option<&'a str> {
        let before = self.text.get(..at)?;
        let line = before.rsplit('\n').next()?;
        let key = line.split_once('=')?.0.trim();
        let is_bare = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
        (!key.is_empty() && key.chars().all(is_bare)).then_some(key)
    }

    /// Makes an error for a stretch of the text.
    pub(crate) fn error(self, span: &Range<usize>, what: impl Into<String>) -> FileError {
        self.error_at(span.start, what)
    }

    /// Makes an error for what begins at this byte.
    #[must_use]
    pub fn error_at(self, start: usize, what: impl Into<String>) -> FileError {
        let before = self.text.get(..start).unwrap_or(self.text);
        let line = before.matches('\n').count() + 1;
        FileError::Content { file: self.name.to_owned(), line, what: what.into() }
    }

    /// Checks a name that will be that of a folder.
    ///
    /// # Errors
    /// [`FileError::Content`] with the line.
    pub fn check_name(self, name: &toml::Spanned<String>) -> Result<(), FileError> {
        checked_name(name.get_ref()).map_err(|what| self.error(&name.span(), what))
    }
}

/// Checks a name that will be that of a folder.
pub(crate) fn checked_name(name: &str) -> Result<(), String> {
    let fits = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-';
    if !name.is_empty() && name.len() <= 60 && name.bytes().all(fits) {
        return Ok(());
    }
    Err(format!(
        "found '{}', expected 1 to 60 lower-case letters, digits and hyphens",
        name.escape_debug()
    ))
}

/// Takes the text of a built-in file or reads one; hands its name for messages and the text to `parse`.
pub(crate) fn load<T>(
    kind: &'static str,
    built_in: &[(&str, &str)],
    name_or_file: &str,
    parse: impl FnOnce(&str, &str) -> Result<T, FileError>,
) -> Result<T, FileError> {
    parse(name_or_file, &text(kind, built_in, name_or_file)?)
}

/// Returns the text of a built-in file, or reads one.
pub(crate) fn text(
    kind: &'static str,
    built_in: &[(&str, &str)],
    name_or_file: &str,
) -> Result<String, FileError> {
    if let Some((_, text)) = built_in.iter().find(|(name, _)| *name == name_or_file) {
        return Ok((*text).to_owned());
    }
    std::fs::read_to_string(name_or_file).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => FileError::Unknown {
            kind,
            name: name_or_file.to_owned(),
            known: built_in.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", "),
        },
        _ => FileError::Unreadable { file: name_or_file.to_owned(), error },
    })
}
