//! What a collection is like.

use tallyhouse_analysis::{Description, MINIMAL_PUZZLES};
use tallyhouse_document::{Block, Figure, Section, Table};

use super::parts::{column, number, remark, share_cells, sorted, text};
use crate::numbers::grouped;
use crate::study::StudyCollection;

/// What a collection is like.
pub(in crate::study) fn description(
    collection: &StudyCollection,
    description: &Description,
    figure: Option<Figure>,
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
        file: Some(format!("figures/collection-{name}-clues.csv")),
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
    let mut blocks: Vec<Block> = figure.map(Block::Figure).into_iter().collect();
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
