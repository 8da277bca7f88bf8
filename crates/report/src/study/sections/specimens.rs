//! Positions chosen to show splits.

use tallyhouse_document::{Block, Section, Specimen as ShownSpecimen};
use tallyhouse_figures::{Diagram, Figure as _, HouseStrip, Theme, Width};

use super::parts::warning;
use crate::numbers::grouped;
use crate::specimen::{Gallery, Specimen, WEIGHTS};
use crate::study::StudyError;

/// Specimens of one kind.
pub(in crate::study) struct SpecimenGroup {
    pub(in crate::study) title: String,
    /// What was wanted, in words.
    pub(in crate::study) wanted: String,
    /// How many puzzles were searched.
    pub(in crate::study) puzzles: u64,
    pub(in crate::study) shown: Vec<ShownSpecimen>,
}

/// Positions chosen to show splits: those asked for, then one of each shape.
pub(in crate::study) fn specimens(
    groups: Vec<SpecimenGroup>,
    gallery: Option<(Gallery, Vec<ShownSpecimen>)>,
) -> Section {
    let mut blocks = Vec::new();
    for group in groups {
        blocks.push(Block::Paragraph(format!(
            "{}: wanted {}; the clearest {} of {} puzzles.",
            group.title,
            group.wanted,
            group.shown.len(),
            grouped(group.puzzles)
        )));
        if group.shown.is_empty() {
            blocks.push(warning(format!("{}: not seen in these puzzles.", group.title)));
        }
        blocks.extend(group.shown.into_iter().map(Block::Specimen));
    }
    if let Some((gallery, shown)) = gallery {
        blocks.push(Block::Paragraph(format!(
            "One position for each shape, the clearest of {} puzzles.",
            grouped(gallery.examined.puzzles)
        )));
        blocks.extend(shown.into_iter().map(Block::Specimen));
        let missing: Vec<String> = gallery.missing().iter().map(ToString::to_string).collect();
        if !missing.is_empty() {
            blocks.push(warning(format!("Not seen in these puzzles: {}.", missing.join(", "))));
        }
    }
    let weights = WEIGHTS;
    Section {
        id: "specimens".to_owned(),
        title: "Specimens".to_owned(),
        intro: format!(
            "Clarity is a stated choice, not a measurement: {} less {} for each other subset in the \
             position and {} for each candidate to read in the house, plus {} for each elimination, \
             {} if nothing easier is there and {} if a single follows at once.",
            weights.start,
            weights.other_subset,
            weights.candidate_to_read,
            weights.elimination,
            weights.nothing_easier,
            weights.leads_to_placement
        ),
        blocks,
    }
}

/// A specimen for the report, with the files of its pictures.
pub(in crate::study) fn specimen(
    specimen: &Specimen,
    name: &str,
    theme: Theme,
    files: Vec<(String, String)>,
) -> Result<ShownSpecimen, StudyError> {
    let failed = |error| crate::charts::ChartError::Figure { name: specimen.title(), error };
    // In the report the description stands beside the figures.
    let board = Diagram { caption: String::new(), ..specimen.diagram() };
    let board = board.svg(theme, Width::Column).map_err(failed)?;
    let strip = HouseStrip { key: false, ..specimen.strip() };
    let strip = strip.svg(theme, Width::Column).map_err(failed)?;
    Ok(ShownSpecimen {
        id: name.to_owned(),
        title: specimen.shape().to_string(),
        svg: board,
        strip_svg: Some(strip),
        line: specimen.puzzle.to_string(),
        description: specimen.description(),
        origin: format!(
            "{}, quiet position {}",
            specimen.origin,
            u32::from(specimen.quiet_position) + 1
        ),
        score: format!("Clarity {}", specimen.score()),
        files,
    })
}
