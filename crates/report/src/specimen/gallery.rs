//! A page with the clearest specimen of each shape.

use std::fs;
use std::io;
use std::path::Path;

use minijinja::{Environment, UndefinedBehavior, Value};
use serde::Serialize;
use tallyhouse_census::{CensusError, Progress, write_file};
use tallyhouse_figures::{Diagram, Figure, HouseStrip, Theme, Width, rasterise};

use crate::numbers::grouped;

use super::description::sentence_start;
use super::search::search;
use super::selection::Selection;
use super::{
    Examined, Puzzles, Shape, Specimen, SpecimenError, WEIGHTS, Wanted, Weights, write_csv,
    write_json,
};

/// Pixels per unit of 0.25 mm in PNGs: 305 dots per inch.
const PNG_SCALE: f32 = 3.0;
const PAGE: &str = include_str!("gallery.html");

/// The clearest specimen of each shape.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gallery {
    /// One specimen of each shape that was found, by open cells, then naked side.
    pub specimens: Vec<Specimen>,
    /// What was wanted, in words.
    pub wanted: String,
    /// What was examined.
    pub examined: Examined,
}

/// Examines all puzzles and keeps the clearest specimen of each shape that fits.
///
/// # Errors
/// If nothing can fit, a source can't be read, or no row is a valid puzzle.
pub fn gallery(
    puzzles: &Puzzles,
    wanted: &Wanted,
    progress: &dyn Progress,
) -> Result<Gallery, SpecimenError> {
    let (selection, examined) = search(puzzles, wanted, Selection::one_of_each_shape(), progress)?;
    let specimens = selection.into_specimens();
    Ok(Gallery { specimens, wanted: wanted.to_string(), examined })
}

#[derive(Serialize)]
struct Entry {
    name: String,
    heading: String,
    board: Value,
    strip: Value,
    description: String,
    origin: String,
    line: String,
    specimen: Value,
}

impl Gallery {
    /// Returns the shapes a quiet position can have that were not found.
    #[must_use]
    pub fn missing(&self) -> Vec<Shape> {
        let found: Vec<Shape> = self.specimens.iter().map(Specimen::shape).collect();
        Shape::all_quiet().filter(|shape| !found.contains(shape)).collect()
    }

    /// Writes `gallery.html`, `specimens.csv`, `specimens.json` and the folder `figures` with an
    /// SVG, a PNG and a CSV of each figure. Files are written aside and renamed, the page last.
    ///
    /// # Errors
    /// If the folder holds anything already, a figure can't be made or a file can't be written.
    pub fn write_gallery(&self, folder: &Path) -> Result<(), SpecimenError> {
        let figures = folder.join("figures");
        let failed = |error| CensusError::Write { path: folder.to_owned(), error };
        if fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some()) {
            return Err(CensusError::Exists { path: folder.to_owned(), advice: "" }.into());
        }
        fs::create_dir_all(&figures).map_err(failed)?;
        let page = self.html()?;
        for specimen in &self.specimens {
            let name = file_name(specimen.shape());
            specimen.write_figures(&figures, &name)?;
        }
        write_file(&folder.join("specimens.csv"), |writer| write_csv(&self.specimens, writer))?;
        write_file(&folder.join("specimens.json"), |writer| {
            write_json(&self.specimens, &self.examined, writer)
        })?;
        Ok(write_file(&folder.join("gallery.html"), |writer| {
            io::Write::write_all(writer, page.as_bytes())
        })?)
    }

    /// Returns the page; its figures are part of it.
    ///
    /// # Errors
    /// If a figure can't be made.
    pub fn html(&self) -> Result<String, SpecimenError> {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_trim_blocks(true);
        environment.set_lstrip_blocks(true);
        // The ending .html turns escaping on.
        environment.add_template("gallery.html", PAGE)?;
        let entries: Vec<Entry> =
            self.specimens.iter().map(entry).collect::<Result<_, SpecimenError>>()?;
        let missing: Vec<String> = self.missing().iter().map(ToString::to_string).collect();
        #[derive(Serialize)]
        struct Page<'a> {
            entries: Vec<Entry>,
            missing: Vec<String>,
            wanted: &'a str,
            examined: &'a Examined,
            puzzles: String,
            weights: Weights,
        }
        let page = Page {
            entries,
            missing,
            wanted: &self.wanted,
            examined: &self.examined,
            puzzles: grouped(self.examined.puzzles),
            weights: WEIGHTS,
        };
        Ok(environment.get_template("gallery.html")?.render(page)?)
    }
}

impl Specimen {
    /// Writes the board and the strip of the house as `NAME-board` and `NAME-house`, each as SVG,
    /// PNG and CSV.
    ///
    /// # Errors
    /// If a figure can't be made or a file can't be written.
    pub fn write_figures(&self, folder: &Path, name: &str) -> Result<(), SpecimenError> {
        let (board, strip) = (self.diagram(), self.strip());
        for (kind, figure) in [("board", &board as &dyn Figure), ("house", &strip)] {
            let svg = figure.svg(Theme::Light, Width::Column)?;
            let (png, csv) = (rasterise(&svg, PNG_SCALE)?, figure.csv()?);
            for (ending, bytes) in
                [("svg", svg.as_bytes()), ("png", &png[..]), ("csv", csv.as_bytes())]
            {
                let path = folder.join(format!("{name}-{kind}.{ending}"));
                write_file(&path, |writer| io::Write::write_all(writer, bytes))?;
            }
        }
        Ok(())
    }
}

/// Returns what the files and the page's section of a shape are called.
fn file_name(shape: Shape) -> String {
    format!("open{}-naked{}", shape.open, shape.naked)
}

fn entry(specimen: &Specimen) -> Result<Entry, SpecimenError> {
    let shape = specimen.shape();
    let name = file_name(shape);
    // On the page the description stands beside the figures.
    let board = Diagram { caption: String::new(), ..specimen.diagram() };
    let strip = HouseStrip { key: false, ..specimen.strip() };
    let inline = |figure: &dyn Figure, kind: &str| -> Result<Value, SpecimenError> {
        let svg = figure.svg(Theme::Light, Width::Column)?;
        Ok(Value::from_safe_string(with_own_ids(&svg, &format!("{name}-{kind}"))))
    };
    Ok(Entry {
        heading: sentence_start(&shape.to_string()),
        board: inline(&board, "board")?,
        strip: inline(&strip, "house")?,
        description: specimen.words(),
        origin: sentence_start(&specimen.origin.to_string()),
        line: specimen.puzzle.to_string(),
        specimen: Value::from_serialize(super::Record::from(specimen)),
        name,
    })
}

/// Names the title and the description of a figure for a page that has many: they have the same
/// names in every figure.
fn with_own_ids(svg: &str, prefix: &str) -> String {
    svg.replacen(
        "aria-labelledby=\"title description\"",
        &format!("aria-labelledby=\"{prefix}-title {prefix}-description\""),
        1,
    )
    .replacen("id=\"title\"", &format!("id=\"{prefix}-title\""), 1)
    .replacen("id=\"description\"", &format!("id=\"{prefix}-description\""), 1)
}
