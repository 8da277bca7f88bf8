//! Own captions from a file.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use tallyhouse_words::list_or;

use crate::ReportError;
use crate::error::io_error;

/// Captions by the names of their figures, read from a file.
///
/// The file is TOML: on each line the name of a figure without its ending, `=`, and the caption in
/// quotation marks, as in `specimen-1-board = "The pair in row 4."`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Captions {
    path: PathBuf,
    by_name: BTreeMap<String, String>,
}

impl Captions {
    /// Reads a file.
    ///
    /// # Errors
    /// If it can't be read, or a line is not of the form above.
    pub fn read(path: &Path) -> Result<Self, ReportError> {
        let text = std::fs::read_to_string(path).map_err(io_error(path))?;
        let by_name = toml::from_str(&text).map_err(|error| ReportError::Captions {
            path: path.to_owned(),
            line: error.span().map_or(1, |span| 1 + text[..span.start].matches('\n').count()),
            reason: error.message().to_owned(),
        })?;
        Ok(Self { path: path.to_owned(), by_name })
    }

    /// Returns the caption of a figure.
    pub(super) fn of(&self, name: &str) -> Option<&str> {
        self.by_name.get(name).map(String::as_str)
    }

    /// Fails if a caption belongs to none of the figures that are drawn.
    pub(super) fn check<'a>(
        &self,
        drawn: impl Iterator<Item = &'a str> + Clone,
    ) -> Result<(), ReportError> {
        let stray = self.by_name.keys().find(|name| !drawn.clone().any(|other| other == **name));
        stray.map_or(Ok(()), |name| {
            Err(ReportError::NoSuchFigure {
                path: self.path.clone(),
                name: name.clone(),
                figures: list_or(drawn),
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Captions, ReportError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("captions.toml");
        std::fs::write(&path, text).unwrap();
        Captions::read(&path)
    }

    #[test]
    fn each_line_names_a_figure_and_its_caption() {
        let captions = read("# ours\na-board = \"One.\"\n\na-house = \"\"\n").unwrap();
        assert_eq!(captions.of("a-board"), Some("One."));
        assert_eq!((captions.of("a-house"), captions.of("b")), (Some(""), None));
        assert!(captions.check(["a-board", "a-house", "b"].into_iter()).is_ok());
        let error = captions.check(["a-board", "b"].into_iter()).unwrap_err().to_string();
        assert!(error.contains("'a-house'") && error.ends_with("a-board or b"), "{error}");
    }

    #[test]
    fn bad_lines_are_named() {
        for (text, line) in [
            ("a-board = \"One.\"\nno caption here\n", 2),
            ("a-board = 7\n", 1),
            ("a = \"x\"\nb = \"y\"\na = \"z\"\n", 3),
            ("a-board = \"One.\n", 1),
        ] {
            let error = read(text).unwrap_err().to_string();
            assert!(error.contains(&format!("captions.toml, line {line}: ")), "{error}");
        }
        assert!(matches!(Captions::read(Path::new("no such file")), Err(ReportError::Io { .. })));
    }
}
