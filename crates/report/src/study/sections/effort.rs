//! Looks beside their complements.

use tallyhouse_analysis::SideComparison;
use tallyhouse_document::{Block, Cell, Illustration, Section, Table};
use tallyhouse_stats::Interval;

use super::parts::{column, csv, field, number, remark, sorted, text, warning, words};
use crate::numbers::{self, FEW, grouped};
use crate::saving::Written;
use crate::study::StudyError;

/// Writes what the looks cost as CSV.
pub(in crate::study) fn effort_csv(sides: &[SideComparison]) -> Result<Vec<u8>, StudyError> {
    let header = [
        "open",
        "naked",
        "hidden",
        "houses",
        "puzzles",
        "mean_naked",
        "mean_hidden",
        "ratio",
        "low",
        "high",
        "p_adjusted",
        "cheaper",
        "equal_place_weight",
    ];
    let records = sides.iter().map(|side| {
        let ratio = side.ratio.as_ref();
        [
            side.open.to_string(),
            side.naked.to_string(),
            side.hidden().to_string(),
            side.houses.to_string(),
            side.puzzles.to_string(),
            side.mean_naked.to_string(),
            side.mean_hidden.to_string(),
            field(ratio.map(|ratio| ratio.value)),
            field(ratio.map(|ratio| ratio.interval.low)),
            field(ratio.map(|ratio| ratio.interval.high)),
            side.p_adjusted.to_string(),
            side.cheaper.name().to_owned(),
            field(side.equal_place_weight),
        ]
    });
    csv(&header, records)
}

/// Says why looks are not compared with their complements.
pub(in crate::study) fn effort_of_weighted(title: &str) -> Section {
    Section {
        id: "effort".to_owned(),
        title: "A look and its complement".to_owned(),
        intro: String::new(),
        blocks: vec![warning(format!(
            "Not compared: puzzles of \"{title}\" carry weights or belong to families, and this \
             comparison counts puzzles alike. Name another collection under [effort]."
        ))],
    }
}

/// What looks and their complements cost.
pub(in crate::study) fn effort(
    sides: &[SideComparison],
    puzzles: u64,
    weights: [f64; 3],
    figures: Vec<Illustration>,
    data: &Written,
) -> Section {
    let mut few = false;
    let rows: Vec<Vec<Cell>> = sides
        .iter()
        .map(|side| {
            let rests_on_few = side.puzzles < FEW;
            few |= rests_on_few;
            let mark = if rests_on_few { " *" } else { "" };
            let mean = |mean: f64| {
                if side.houses == 0 { text("-") } else { sorted(format!("{mean:.1}"), mean) }
            };
            let ratio = side.ratio.as_ref().map_or_else(
                || text("-"),
                |ratio| {
                    let Interval { low, high } = ratio.interval;
                    let digits = numbers::decimals(low, high);
                    let value = ratio.value;
                    let words = format!("{value:.digits$} ({low:.digits$}–{high:.digits$})");
                    sorted(words, value)
                },
            );
            vec![
                number(side.open.into()),
                number(side.naked.into()),
                number(side.houses),
                sorted(grouped(side.puzzles) + mark, side.puzzles as f64),
                mean(side.mean_naked),
                mean(side.mean_hidden),
                ratio,
                text(side.cheaper.name()),
                side.equal_place_weight
                    .map_or_else(|| text("-"), |weight| sorted(format!("{weight:.2}"), weight)),
            ]
        })
        .collect();
    let table = Table {
        id: "effort-table".to_owned(),
        caption: format!(
            "Mean glances per house, and the ratio of their sums with the puzzle as cluster; the \
             first {} puzzles were walked",
            grouped(puzzles)
        ),
        columns: vec![
            column("open", "open cells of the house"),
            column("naked", "size of the naked side; the hidden side has the other open cells"),
            column("houses", "that hold a proper subset of the shape"),
            column("puzzles", "with such a house"),
            column("naked look", "mean glances"),
            column("hidden look", "mean glances"),
            column("ratio (95 %)", "naked over hidden, with its 95 % interval"),
            words(
                "cheaper",
                "the side whose look costs less: the interval is clear of 1, and p is below 0.05 \
                 after Holm's correction over all shapes",
            ),
            column(
                "equal at",
                "the weight of a place gathered at which both looks would cost the same, the other \
                 weights as they are; - if none above 0 does that",
            ),
        ],
        rows,
        file: Some(data.link()),
    };
    let [cell, place, try_] = weights;
    let mut blocks = vec![remark(format!(
        "Effort is a model with stated assumptions, not difficulty: pencil marks are visible; a \
             naked look sees each open cell once and tries sets cell by cell; a hidden look first \
             gathers the places of each missing digit. A cell seen weighs {cell}, a place gathered \
             {place}, a try {try_}."
    ))];
    let mut figures = figures.into_iter().map(Block::Figure);
    blocks.extend(figures.next());
    blocks.push(Block::Table(table));
    if few {
        blocks.push(warning(format!("* rests on fewer than {FEW} puzzles.")));
    }
    blocks.extend(figures);
    Section {
        id: "effort".to_owned(),
        title: "A look and its complement".to_owned(),
        intro:
            "Which of the two to look for: both looks are made in the same houses, which hold the \
             split, at the same positions, until they end. A look that costs less here may still be \
             rare; the tables of what occurs say how rare."
                .to_owned(),
        blocks,
    }
}
