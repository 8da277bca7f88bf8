//! What occurs, and collections side by side.

use tallyhouse_analysis::{LookShare, LookShares};
use tallyhouse_census::Manifest;
use tallyhouse_document::{Block, Cell, Illustration, Section, Table};
use tallyhouse_engine::Order;

use super::parts::{column, number, remark, share_cells, sorted, text, warning, words};
use crate::charts::{Census, possible_shapes};
use crate::numbers::{FEW, grouped, per_thousand, percent};
use crate::saving::Written;
use crate::study::{StudyCollection, StudyError};

/// The files that say what a census found.
pub(in crate::study) struct OccurrenceData {
    pub(in crate::study) shares: Written,
    pub(in crate::study) looks: Written,
    /// Where there were any.
    pub(in crate::study) rejects: Option<Written>,
}

/// Says how many rows were rejected, and why.
pub(in crate::study) fn rejected_words(manifest: &Manifest) -> String {
    let reasons = manifest.rejected.iter().filter(|(_, rows)| *rows > 0);
    let reasons: Vec<String> =
        reasons.map(|(reason, rows)| format!("{} {reason}", grouped(*rows))).collect();
    format!(
        "{} of {} rows rejected ({})",
        grouped(manifest.rejected_rows()),
        grouped(manifest.totals.rows),
        reasons.join(", ")
    )
}

/// Says how puzzles were walked.
fn walk_words(manifest: &Manifest) -> String {
    let walk = &manifest.walk;
    let ladder: Vec<String> = Order::ladder().looks().iter().map(ToString::to_string).collect();
    let order = if walk.order == ladder {
        format!("the full ladder ({})", walk.order.join(", "))
    } else {
        walk.order.join(", ")
    };
    let course = if walk.houses.is_empty() {
        "all finds of a look together"
    } else {
        "one find after the other, houses in order"
    };
    let stuck = if walk.when_stuck == "stop" {
        "stopping when nothing is found"
    } else {
        "with a digit of the solution given when nothing is found"
    };
    format!("The walk: {order}; {course}, {stuck}.")
}

/// What occurs.
pub(in crate::study) fn occurrence(
    collection: &StudyCollection,
    census: &Census,
    figures: Vec<Illustration>,
    data: &OccurrenceData,
) -> Result<Section, StudyError> {
    let Census { counts, manifest, .. } = census;
    let (shares, needed) = (census.shares()?, census.needed()?);
    let name = &collection.name;
    let totals = &counts.totals;
    let mut few = false;
    let rows: Vec<Vec<Cell>> = possible_shapes()
        .map(|(open, naked)| {
            let shape = counts.shape(open, naked);
            let houses = counts.exposure[usize::from(open)];
            let estimate = shares.iter().find(|s| (s.open, s.naked) == (open, naked));
            let [value, interval] = share_cells(estimate.and_then(|s| s.share.as_ref()));
            let rests_on_few = shape.puzzles < FEW;
            few |= rests_on_few;
            let mark = if rests_on_few { " *" } else { "" };
            vec![
                number(open.into()),
                number(naked.into()),
                number((open - naked).into()),
                number(houses),
                number(shape.proper),
                sorted(
                    per_thousand(shape.proper, houses),
                    shape.proper as f64 / houses.max(1) as f64,
                ),
                sorted(grouped(shape.puzzles) + mark, shape.puzzles as f64),
                value,
                interval,
            ]
        })
        .collect();
    let mut blocks: Vec<Block> = figures.into_iter().map(Block::Figure).collect();
    blocks.push(Block::Table(Table {
        id: format!("shapes-{name}"),
        caption: format!(
            "Proper subsets by shape in {} quiet positions of {} puzzles",
            grouped(totals.quiet_positions),
            grouped(totals.puzzles)
        ),
        columns: vec![
            column("open", "open cells of the house"),
            column("naked", "size of the naked side"),
            column("hidden", "size of the hidden side"),
            column("houses", "houses with that many open cells, over all quiet positions"),
            column("subsets", "proper subsets"),
            column("per 1,000", "proper subsets per 1,000 of those houses"),
            column("puzzles", "puzzles with at least one"),
            column("share", "of puzzles; of weight where puzzles carry weights"),
            column("95 % interval", ""),
        ],
        rows,
        file: Some(data.shares.link()),
    }));
    if few {
        blocks.push(warning(format!(
            "* rests on fewer than {FEW} puzzles: scan more before relying on the rate. 0 means not \
             seen here, not never."
        )));
    }
    blocks.push(Block::Table(needed_table(name, needed, &data.looks)));
    if needed.weighted {
        blocks.push(remark(
            "Puzzles of this collection carry weights or belong to families. The charts of this section \
             and the counts count them alike; shares and their intervals are by weight, with families \
             as independent units.",
        ));
    }
    blocks.push(remark(walk_words(manifest)));
    if let Some(rejects) = &data.rejects {
        blocks.push(warning(format!(
            "{}. They are listed with file, line and reason in {}.",
            rejected_words(manifest),
            rejects.link()
        )));
    }
    Ok(Section {
        id: format!("occurrence-{name}"),
        title: format!("Which subsets occur: {}", collection.title),
        intro: format!(
            "{} of {} puzzles ({}) have a quiet position, one without any single left; in these {} \
             positions {} subsets were recorded. The walk solved {} puzzles ({}).",
            grouped(totals.puzzles_with_quiet_positions),
            grouped(totals.puzzles),
            percent(totals.puzzles_with_quiet_positions, totals.puzzles),
            grouped(totals.quiet_positions),
            grouped(totals.subsets),
            grouped(totals.solved),
            percent(totals.solved, totals.puzzles)
        ),
        blocks,
    })
}

/// Which looks come first and last.
fn needed_table(name: &str, needed: &LookShares, file: &Written) -> Table {
    let columns = |row: Option<&LookShare>| {
        let [value, interval] = share_cells(row.and_then(|row| row.share.as_ref()));
        [row.map_or_else(|| text("-"), |row| number(row.puzzles)), value, interval]
    };
    // Those without a look stand at the ends: the easiest first, the hardest last.
    let without = |row: &&LookShare| !needed.last.iter().any(|other| other.look == row.look);
    let mut looks: Vec<&str> =
        needed.first.iter().filter(without).map(|row| row.look.as_str()).collect();
    looks.extend(needed.last.iter().skip(1).map(|row| row.look.as_str()));
    looks.extend(needed.last.first().map(|row| row.look.as_str()));
    let rows = looks.iter().map(|look| {
        let of = |rows: &'_ [LookShare]| columns(rows.iter().find(|row| row.look == *look));
        let mut cells = vec![text(*look)];
        cells.extend(of(&needed.first));
        cells.extend(of(&needed.last));
        cells
    });
    let share_of = if needed.weighted { "of the weight of all puzzles" } else { "of all puzzles" };
    Table {
        id: format!("looks-{name}"),
        caption: format!(
            "Which look {} puzzles need: first, the one that finds something at the first quiet \
             position; last, the one furthest down the order that the walk needed, solved or not",
            grouped(needed.puzzles)
        ),
        columns: vec![
            words(
                "look",
                "singles alone: no quiet position comes up; nothing found: no look helps",
            ),
            column("first", "puzzles"),
            column("share first", share_of),
            column("95 % first", "interval"),
            column("last", "puzzles"),
            column("share last", share_of),
            column("95 % last", "interval"),
        ],
        rows: rows.collect(),
        file: Some(file.link()),
    }
}

/// Collections side by side.
pub(in crate::study) fn comparison(figures: Vec<Illustration>) -> Section {
    Section {
        id: "comparison".to_owned(),
        title: "Collections compared".to_owned(),
        intro: "How much of the picture is the puzzles, and how much is how they were drawn."
            .to_owned(),
        blocks: figures.into_iter().map(Block::Figure).collect(),
    }
}
