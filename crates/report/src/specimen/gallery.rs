//! A page with the clearest specimen of each shape.

use tallyhouse_document::{Block, Document, Note, NoteKind, Section};
use tallyhouse_engine::Shape;
use tallyhouse_words::count;

use super::search::search;
use super::selection::Selection;
use super::{Drawing, Examined, Hearing, Puzzles, Specimen, WEIGHTS, Wanted};
use crate::ReportError;
use crate::saving::Written;

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
) -> Result<Gallery, ReportError> {
    let selection = Selection::one_of_each_shape();
    let (selection, examined) = search(puzzles, wanted, selection, hearing.into())?;
    let specimens = selection.into_specimens(wanted.lead());
    Ok(Gallery { specimens, wanted: wanted.to_string(), examined })
}

impl Gallery {
    /// Returns the shapes a quiet position can have that were not found.
    #[must_use]
    pub fn missing(&self) -> Vec<Shape> {
        let found: Vec<Shape> = self.specimens.iter().map(Specimen::shape).collect();
        Shape::all_quiet().filter(|shape| !found.contains(shape)).collect()
    }

    /// Returns the gallery as a document; `links` lead to the files of each specimen.
    pub(super) fn document(
        &self,
        drawing: &Drawing,
        links: Vec<Vec<(String, String)>>,
        tables: &[Written],
    ) -> Result<Document, ReportError> {
        let shown = self.specimens.iter().zip(links).map(|(specimen, links)| {
            let name = file_name(specimen.shape());
            Ok(Block::Specimen(specimen.on_page(&name, drawing, links)?))
        });
        let shown: Vec<Block> = shown.collect::<Result<_, ReportError>>()?;
        Ok(Document {
            leads: false,
            title: "Specimens of splits".to_owned(),
            subtitle: "The clearest position for each shape of split that was found".to_owned(),
            sections: vec![
                Section {
                    id: "splits".to_owned(),
                    title: "What a split is".to_owned(),
                    intro:
                        "Some cells of a house that hold as many candidates between them as they \
                            are cells make a split: these candidates fill these cells (the naked \
                            side), and all other digits that are missing from the house fill its \
                            other open cells (the hidden side). The two sides are one and the same \
                            fact."
                            .to_owned(),
                    blocks: Vec::new(),
                },
                self.source(tables),
                Section {
                    id: "specimens".to_owned(),
                    title: "Specimens".to_owned(),
                    intro: format!(
                        "{} Equal scores: the puzzle that comes first. Puzzles are numbered from 0, \
                         quiet positions from 1.",
                        clarity_words()
                    ),
                    blocks: shown,
                },
            ],
            provenance: self.provenance(),
            command: String::new(),
            ..Document::default()
        })
    }

    /// Says which puzzles were examined.
    fn source(&self, tables: &[Written]) -> Section {
        let examined = &self.examined;
        let were = if examined.puzzles == 1 { "puzzle was" } else { "puzzles were" };
        let mut blocks = Vec::new();
        let mut warn = |text| blocks.push(Block::Note(Note { kind: NoteKind::Warning, text }));
        if let Some(first) = &examined.first_reject {
            let were = if examined.rejected == 1 { "row was" } else { "rows were" };
            let rejected = count(examined.rejected);
            warn(format!("{rejected} {were} rejected; the first: {first}."));
        }
        let missing: Vec<String> = self.missing().iter().map(ToString::to_string).collect();
        if !missing.is_empty() {
            warn(format!(
                "Not found among these puzzles, which does not mean that there are none elsewhere: \
                 {}.",
                missing.join("; ")
            ));
        }
        blocks.push(Block::Files(
            tables.iter().map(|file| file.labelled("All specimens as")).collect(),
        ));
        Section {
            id: "source".to_owned(),
            title: "Where they come from".to_owned(),
            intro: format!(
                "{} valid {were} walked: {}. The walk: {}. Wanted: {}.",
                count(examined.puzzles),
                examined.collection,
                examined.walk,
                self.wanted
            ),
            blocks,
        }
    }

    fn provenance(&self) -> Vec<(String, String)> {
        let examined = &self.examined;
        let program = concat!("tallyhouse ", env!("CARGO_PKG_VERSION"));
        let mut provenance = vec![
            ("Program".to_owned(), program.to_owned()),
            ("Collection".to_owned(), examined.collection.clone()),
        ];
        provenance.extend(examined.notes.iter().map(|note| ("Note".to_owned(), note.clone())));
        let digest = examined.digest.iter();
        provenance.extend(digest.map(|digest| ("BLAKE3 of the rows".to_owned(), digest.clone())));
        provenance
    }
}

/// Says how specimens are chosen.
pub(crate) fn clarity_words() -> String {
    let weights = WEIGHTS;
    format!(
        "Clarity is a stated choice, not a measurement: {} less {} for each other subset in the \
         position and {} for each candidate to read in the house, plus {} for each elimination, {} if \
         nothing easier is there and {} if a single follows at once.",
        weights.start,
        weights.other_subset,
        weights.candidate_to_read,
        weights.elimination,
        weights.nothing_easier,
        weights.leads_to_placement
    )
}

/// Returns what the files and the page's section of a shape are called.
pub(super) fn file_name(shape: Shape) -> String {
    format!("open{}-naked{}", shape.open(), shape.naked())
}
