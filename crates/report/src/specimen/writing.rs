//! The files of specimens and galleries.

use std::fs;
use std::io::Write;
use std::path::Path;

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
use tallyhouse_census::{CensusError, write_file};
use tallyhouse_collection::Progress;

use super::gallery::file_name;
use super::{
    Drawing, Examined, Found, Gallery, Picture, Specimen, SpecimenError, write_csv, write_json,
};

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
    ) -> Result<(), SpecimenError> {
        let pictures = (1..).zip(&self.specimens);
        let pictures =
            pictures.flat_map(|(number, one)| one.pictures(&format!("specimen-{number}")));
        save_all(&pictures.collect::<Vec<_>>(), &folder.join("figures"), drawing, progress)?;
        write_tables(folder, &self.specimens, &self.examined)
    }
}

impl Gallery {
    /// Writes `gallery.html`, `specimens.csv`, `specimens.json` and the folder `figures` into a
    /// folder, the page last.
    ///
    /// # Errors
    /// If a figure can't be made or a file can't be written.
    pub fn write(
        &self,
        folder: &Path,
        drawing: &Drawing,
        progress: &dyn Progress,
    ) -> Result<(), SpecimenError> {
        let pictures = self.specimens.iter().flat_map(|one| one.pictures(&file_name(one.shape())));
        save_all(&pictures.collect::<Vec<_>>(), &folder.join("figures"), drawing, progress)?;
        write_tables(folder, &self.specimens, &self.examined)?;
        let page = self.html(drawing)?;
        Ok(write_file(&folder.join("gallery.html"), |writer| writer.write_all(page.as_bytes()))?)
    }
}

/// Saves pictures in a new folder and tells of each.
///
/// # Errors
/// If a picture can't be drawn or a file can't be written.
pub fn save_all(
    pictures: &[Picture],
    folder: &Path,
    drawing: &Drawing,
    progress: &dyn Progress,
) -> Result<(), SpecimenError> {
    fs::create_dir_all(folder)
        .map_err(|error| CensusError::Write { path: folder.to_owned(), error })?;
    progress.expect(pictures.len() as u64);
    pictures.par_iter().try_for_each(|picture| {
        picture.save(folder, drawing)?;
        progress.advance(1);
        Ok(())
    })
}

fn write_tables(
    folder: &Path,
    specimens: &[Specimen],
    examined: &Examined,
) -> Result<(), SpecimenError> {
    write_file(&folder.join("specimens.csv"), |writer| write_csv(specimens, writer))?;
    Ok(write_file(&folder.join("specimens.json"), |writer| {
        write_json(specimens, examined, writer)
    })?)
}
