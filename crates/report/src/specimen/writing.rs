//! The files of specimens and galleries.

use std::path::Path;

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
use tallyhouse_collection::Progress;
use tallyhouse_document::{to_html, to_markdown};

use super::gallery::file_name;
use super::{Drawing, Examined, Found, Gallery, Specimen, View, csv, json};
use crate::ReportError;
use crate::saving::{Saver, Written};

/// Where the figures of specimens lie.
const FIGURES: &str = "figures/";

impl Found {
    /// Writes `specimens.csv`, `specimens.json` and the folder `figures` into a folder.
    ///
    /// # Errors
    /// If a figure can't be made or a file can't be written.
    pub fn write(
        &self,
        folder: &Path,
        drawing: &Drawing,
        progress: &dyn Progress,
    ) -> Result<(), ReportError> {
        let saver = Saver::below(folder);
        let views = (1..).zip(&self.specimens);
        let views = views
            .flat_map(|(number, one)| one.all_views(&format!("specimen-{number}"), drawing.shown));
        save_all(&views.collect::<Vec<_>>(), saver, FIGURES, drawing, progress)?;
        write_tables(saver, &self.specimens, &self.examined)?;
        Ok(())
    }
}

impl Gallery {
    /// Writes `gallery.html`, `gallery.md`, `specimens.csv`, `specimens.json` and the folder `figures`
    /// into a folder, the page last.
    ///
    /// # Errors
    /// If a figure can't be made or a file can't be written.
    pub fn write(
        &self,
        folder: &Path,
        drawing: &Drawing,
        progress: &dyn Progress,
    ) -> Result<(), ReportError> {
        let saver = Saver::below(folder);
        let views =
            self.specimens.iter().flat_map(|one| one.views(&file_name(one.shape()), drawing.shown));
        let links = save_all(&views.collect::<Vec<_>>(), saver, FIGURES, drawing, progress)?;
        let tables = write_tables(saver, &self.specimens, &self.examined)?;
        let links: Vec<_> = links.chunks(2).map(<[_]>::concat).collect();
        let document = self.document(drawing, links, &tables)?;
        saver.file("gallery.md", to_markdown(&document).as_bytes())?;
        saver.file("gallery.html", to_html(&document)?.as_bytes())?;
        Ok(())
    }
}

/// Saves views in a folder, tells of each, and returns the links to the files of each; `under` is as
/// of [`View::save`].
///
/// # Errors
/// If a caption or a ring belongs to no view, one can't be drawn, or a file can't be written.
pub fn save_all(
    views: &[View],
    saver: Saver<'_>,
    under: &str,
    drawing: &Drawing,
    progress: &dyn Progress,
) -> Result<Vec<Vec<(String, String)>>, ReportError> {
    drawing.check(views)?;
    progress.expect(views.len() as u64);
    let saved = views.par_iter().map(|view| {
        let links = view.save(saver, under, drawing)?;
        progress.advance(1);
        Ok(links)
    });
    saved.collect()
}

fn write_tables(
    saver: Saver<'_>,
    specimens: &[Specimen],
    examined: &Examined,
) -> Result<[Written; 2], ReportError> {
    let csv = saver.file("specimens.csv", &csv(specimens)?)?;
    Ok([csv, saver.file("specimens.json", json(specimens, examined)?.as_bytes())?])
}
