//! Positions chosen to show splits.

use tallyhouse_document::{Block, Section, Specimen as ShownSpecimen};

use super::parts::warning;
use crate::numbers::grouped;
use crate::specimen::{Gallery, clarity_words};

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
    Section {
        id: "specimens".to_owned(),
        title: "Specimens".to_owned(),
        intro: clarity_words(),
        blocks,
    }
}
