//! What a collection is like.

use tallyhouse_analysis::{Description, MINIMAL_PUZZLES};
use tallyhouse_document::{Block, Illustration, Section, Table};

use super::parts::{column, csv, field, number, remark, share_cells, sorted, text};
use crate::numbers::grouped;
use crate::saving::Written;
use crate::study::{StudyCollection, StudyError};

/// Writes the clue counts as CSV.
pub(in crate::study) fn clues_csv(description: &Description) -> Result<Vec<u8>, StudyError> {
    let records = description.clues.iter().map(|row| {
        let share = row.share.as_ref();
        [
            row.clues.to_string(),
            row.puzzles.to_string(),
            field(share.map(|share| share.value)),
            field(share.map(|share| share.interval.low)),
            field(share.map(|share| share.interval.high)),
            field(row.published_percent),
        ]
    });
    csv(&["clues", "puzzles", "share", "low", "high", "published_percent"], records)
}

/// What a collection is like.
pub(in crate::study) fn description(
    collection: &StudyCollection,
    description: &Description,
    figures: Vec<Illustration>,
    data: &Written,
) -> Section {
    let name = &collection.name;
    let rows = description.clues.iter().map(|row| {
        let [value, interval] = share_cells(row.share.as_ref());
        let published = row
            .published_percent
            .map_or_else(|| text("-"), |percent| sorted(format!("{percent} %"), percent));
        vec![number(row.clues.into()), number(row.puzzles), value, interval, published]
    });
    let table = Table {
        id: format!("clues-{name}"),
        caption: format!(
            "Clue counts of {} puzzles; published: all minimal puzzles, {}",
            grouped(description.puzzles),
            MINIMAL_PUZZLES.source
        ),
        columns: vec![
            column("clues", ""),
            column("puzzles", ""),
            column("share", "of puzzles; of weight where puzzles carry weights"),
            column("95 % interval", ""),
            column("published", "share among all minimal puzzles"),
        ],
        rows: rows.collect(),
        file: Some(data.link()),
    };
    let mean = description.mean_clues.as_ref().map_or_else(String::new, |mean| {
        format!(
            "Clues: mean {:.3} (95 %: {:.3} to {:.3}), standard deviation {:.3}. ",
            mean.value, mean.interval.low, mean.interval.high, description.sd_clues
        )
    });
    let weighted = if description.weighted > 0 {
        format!(
            "{} puzzles carry weights, in {} families, worth {:.0} independent draws. ",
            grouped(description.weighted),
            grouped(description.families),
            description.effective_size
        )
    } else {
        String::new()
    };
    let mut blocks: Vec<Block> = figures.into_iter().map(Block::Figure).collect();
    blocks.push(Block::Table(table));
    if !description.notes.is_empty() {
        let notes = description.notes.join("; ");
        blocks.push(remark(format!("The collection says of itself: {notes}.")));
    }
    Section {
        id: format!("collection-{name}"),
        title: format!("The collection: {}", collection.title),
        intro: format!(
            "{} valid puzzles in {} rows. {weighted}{mean}{} of {} are minimal; {} repeat an earlier \
             puzzle exactly and {} up to symmetry and relabelling; singles solve {}.",
            grouped(description.puzzles),
            grouped(description.rows),
            grouped(description.minimal_puzzles),
            grouped(description.puzzles),
            grouped(description.repeated),
            grouped(description.equivalent),
            grouped(description.by_singles_puzzles)
        ),
        blocks,
    }
}
