//! The one way to files: pictures as SVG and PNG, data as they are. What was written is returned, and
//! pages link nothing else.

use std::io::Write;
use std::path::{Path, PathBuf};

use tallyhouse_figures::{Figure, Picture, Theme, Width};
use tallyhouse_storage::{StorageError, write_file};

use crate::ReportError;

/// Pixels per unit of 0.25 mm in PNGs: 305 dots per inch.
const PNG_SCALE: f32 = 3.0;

/// A file that was written below a folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The path from that folder, its parts joined by `/`.
    path: String,
}

impl Written {
    /// Returns the path from the folder, for links.
    #[must_use]
    pub fn link(&self) -> String {
        self.path.clone()
    }

    /// Returns where the file is, if that folder is there.
    #[must_use]
    pub fn below(&self, folder: &Path) -> PathBuf {
        folder.join(&self.path)
    }

    /// Returns what kind of file it is, in capitals: `SVG`, `PNG`, `CSV`.
    #[must_use]
    pub fn kind(&self) -> String {
        let (_, ending) = self.path.rsplit_once('.').unwrap_or_default();
        ending.to_ascii_uppercase()
    }

    /// Returns a link that is called by what it shows and the kind of file.
    #[must_use]
    pub fn labelled(&self, what: &str) -> (String, String) {
        let words: Vec<&str> = what.split_whitespace().collect();
        (format!("{} {}", words.join(" "), self.kind()).trim_start().to_owned(), self.link())
    }
}

/// Writes files below a folder, each aside and then renamed.
#[derive(Clone, Copy, Debug)]
pub struct Saver<'a> {
    folder: &'a Path,
}

impl<'a> Saver<'a> {
    /// Writes below this folder.
    #[must_use]
    pub const fn below(folder: &'a Path) -> Self {
        Self { folder }
    }

    /// Writes a file; `path` is relative to the folder, its parts joined by `/`.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn file(&self, path: &str, bytes: &[u8]) -> Result<Written, ReportError> {
        let target = self.folder.join(path);
        if let Some(parent) = target.parent() {
            std::fs::create_dir_all(parent).map_err(StorageError::write(parent))?;
        }
        write_file(&target, |writer| writer.write_all(bytes))?;
        Ok(Written { path: path.to_owned() })
    }

    /// Writes a picture as SVG and as PNG; `name` is a path as of [`Saver::file`], without an ending.
    ///
    /// # Errors
    /// If it can't be rasterised or a file can't be written.
    pub fn picture(&self, name: &str, picture: &Picture) -> Result<Vec<Written>, ReportError> {
        let png = picture.png(PNG_SCALE)?;
        let files = [("svg", picture.svg.as_bytes()), ("png", &png)];
        files.iter().map(|(ending, bytes)| self.file(&format!("{name}.{ending}"), bytes)).collect()
    }

    /// Draws a figure and writes it as SVG, PNG and CSV, the SVG first; `name` as of
    /// [`Saver::picture`].
    ///
    /// # Errors
    /// If it can't be drawn or a file can't be written.
    pub fn figure(
        &self,
        figure: &dyn Figure,
        name: &str,
        theme: Theme,
        width: Width,
    ) -> Result<Vec<Written>, ReportError> {
        let mut written = self.picture(name, &figure.draw(theme, width)?)?;
        written.push(self.data(name, figure)?);
        Ok(written)
    }

    /// Writes the data of a figure as CSV; `name` as of [`Saver::picture`].
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn data(&self, name: &str, figure: &dyn Figure) -> Result<Written, ReportError> {
        self.file(&format!("{name}.csv"), figure.csv()?.as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_figures::{Heading, HeatMap, ShapeCell};

    use super::*;

    #[test]
    fn what_was_written_is_returned_and_is_there() {
        let label = "7".to_owned();
        let cell = ShapeCell {
            open: 6,
            naked: 2,
            value: 7.0,
            label,
            ends: [None; 2],
            denominator: 9,
            count: 7,
        };
        let heading = Heading { title: "Counts".to_owned(), ..Heading::default() };
        let chart = HeatMap { heading, scale_title: "subsets".to_owned(), cells: vec![cell] };
        let folder = tempfile::tempdir().unwrap();
        let saver = Saver::below(folder.path());
        let written = saver.figure(&chart, "deep/in/a.b", Theme::Dark, Width::Column).unwrap();
        let links: Vec<_> = written.iter().map(|file| file.labelled("dark  column")).collect();
        let link = |kind: &str| {
            let path = format!("deep/in/a.b.{}", kind.to_lowercase());
            (format!("dark column {kind}"), path)
        };
        assert_eq!(links, ["SVG", "PNG", "CSV"].map(link));
        assert!(written.iter().all(|file| file.below(folder.path()).is_file()));
        assert_eq!(written[2].labelled("").0, "CSV");
        // What can't be drawn leaves nothing.
        let none = HeatMap { cells: Vec::new(), ..chart };
        let error = saver.figure(&none, "none", Theme::Dark, Width::Column).unwrap_err();
        assert!(matches!(error, ReportError::Figure(_)), "{error}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
