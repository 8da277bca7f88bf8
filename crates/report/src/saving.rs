//! The one way to files: pictures as SVG, PNG and PDF, data as they are. What was written is returned,
//! and pages link nothing else.

use std::io::Write;
use std::path::{Path, PathBuf};

use tallyhouse_figures::{Dpi, Figure, Lettering, Picture, Theme, Width};
use tallyhouse_storage::{StorageError, write_file};

use crate::ReportError;

/// How pictures become files.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Print {
    /// The resolution of PNGs, if not each picture's own.
    pub dpi: Option<Dpi>,
    /// If the text of SVG and PDF is drawn as outlines.
    pub outlines: bool,
}

impl Print {
    const fn lettering(self) -> Lettering {
        if self.outlines { Lettering::Outlines } else { Lettering::Text }
    }
}

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

    /// Returns what kind of file it is, in capitals: `SVG`, `PNG`, `PDF`, `CSV`.
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
    print: Print,
}

impl<'a> Saver<'a> {
    /// Writes below this folder.
    #[must_use]
    pub fn below(folder: &'a Path) -> Self {
        Self { folder, print: Print::default() }
    }

    /// Writes pictures in another way.
    #[must_use]
    pub const fn printing(self, print: Print) -> Self {
        Self { print, ..self }
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

    /// Writes a picture as SVG, PNG and PDF; `name` is a path as of [`Saver::file`], without an ending.
    ///
    /// # Errors
    /// If it can't be turned into one of them or a file can't be written.
    pub fn picture(&self, name: &str, picture: &Picture) -> Result<Vec<Written>, ReportError> {
        let lettering = self.print.lettering();
        let files = [
            ("svg", picture.svg_in(lettering)?.into_bytes()),
            ("png", picture.png(self.print.dpi.unwrap_or(picture.dpi))?),
            ("pdf", picture.pdf(lettering)?),
        ];
        files.iter().map(|(ending, bytes)| self.file(&format!("{name}.{ending}"), bytes)).collect()
    }

    /// Draws a figure and writes it as SVG, PNG, PDF and CSV, the SVG first; `name` as of
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
            shaded: true,
            framed: false,
            link: None,
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
        assert_eq!(links, ["SVG", "PNG", "PDF", "CSV"].map(link));
        assert!(written.iter().all(|file| file.below(folder.path()).is_file()));
        assert_eq!(written[3].labelled("").0, "CSV");
        // Printed in another way, only the pixels and the letters are others.
        let read = |file: &Written| std::fs::read(file.below(folder.path())).unwrap();
        let first: Vec<_> = written.iter().map(read).collect();
        let print = Print { dpi: Some(Dpi::DIAGRAM), outlines: true };
        let again = saver.printing(print).figure(&chart, "deep/in/b", Theme::Dark, Width::Column);
        let again: Vec<_> = again.unwrap().iter().map(read).collect();
        assert!(first[1].len() < again[1].len() && first[2] != again[2] && first[3] == again[3]);
        let has_text = |svg: &[u8]| String::from_utf8_lossy(svg).contains("<text");
        assert!(has_text(&first[0]) && !has_text(&again[0]));
        // What can't be drawn leaves nothing.
        let none = HeatMap { cells: Vec::new(), ..chart };
        let error = saver.figure(&none, "none", Theme::Dark, Width::Column).unwrap_err();
        assert!(matches!(error, ReportError::Figure(_)), "{error}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
