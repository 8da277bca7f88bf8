//! A page with the clearest specimen of each shape.

use minijinja::{Environment, UndefinedBehavior, Value};
use serde::Serialize;
use tallyhouse_engine::Shape;
use tallyhouse_figures::{HouseStrip, Width};

use crate::numbers::grouped;

use super::description::sentence_start;
use super::search::search;
use super::selection::Selection;
use super::{
    Caption, Content, Drawing, Examined, Hearing, Puzzles, Specimen, SpecimenError, WEIGHTS,
    Wanted, Weights,
};

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
pub fn gallery<'a>(
    puzzles: &Puzzles,
    wanted: &Wanted,
    hearing: impl Into<Hearing<'a>>,
) -> Result<Gallery, SpecimenError> {
    let selection = Selection::one_of_each_shape();
    let (selection, examined) = search(puzzles, wanted, selection, hearing.into())?;
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

    /// Returns the page. Its figures are part of it, as wide as a column; captions stand beside them.
    ///
    /// # Errors
    /// If a figure can't be made.
    pub fn html(&self, drawing: &Drawing) -> Result<String, SpecimenError> {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_trim_blocks(true);
        environment.set_lstrip_blocks(true);
        // The ending .html turns escaping on.
        environment.add_template("gallery.html", PAGE)?;
        let entries: Vec<Entry> = self
            .specimens
            .iter()
            .map(|specimen| entry(specimen, drawing))
            .collect::<Result<_, SpecimenError>>()?;
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

/// Returns what the files and the page's section of a shape are called.
pub(super) fn file_name(shape: Shape) -> String {
    format!("open{}-naked{}", shape.open(), shape.naked())
}

fn entry(specimen: &Specimen, drawing: &Drawing) -> Result<Entry, SpecimenError> {
    let shape = specimen.shape();
    let name = file_name(shape);
    let drawing = Drawing { width: Width::Column, ..drawing.clone() };
    // On the page the description stands beside the figures, and one key is enough for both.
    let board = specimen.diagram();
    let strip = HouseStrip { key: false, ..specimen.strip() };
    let without_words = Drawing { caption: Caption::None, ..drawing.clone() };
    let inline = |svg: &str, kind: &str| {
        Value::from_safe_string(with_own_ids(svg, &format!("{name}-{kind}")))
    };
    let board = without_words.svg(&Content::Board(Box::new(board)))?;
    let strip = drawing.svg(&Content::House(Box::new(strip)))?;
    Ok(Entry {
        heading: shape.to_string(),
        board: inline(&board, "board"),
        strip: inline(&strip, "house"),
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
