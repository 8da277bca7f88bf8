//! What occurs: heat maps and sizes by open cells.

use tallyhouse_census::Counts;
use tallyhouse_figures::{BarLength, Heading, HeatMap, ShapeCell, ShareBar, ShareBars};

use super::possible_shapes;
use super::words;
use crate::numbers::{FEW, compact, per_thousand};

/// How many proper subsets of each shape were found.
#[must_use]
pub fn occurrence_counts(counts: &Counts) -> HeatMap {
    let totals = &counts.totals;
    let cells = cells(counts, |count, _, _| (count as f64, compact(count)));
    HeatMap {
        heading: Heading {
            title: "Which subsets occur".to_owned(),
            alt: words::occurrence_counts(&cells, counts),
            subtitle: vec![
                format!(
                    "Proper subsets in {} of {};",
                    words::positions(totals.quiet_positions),
                    words::puzzles(totals.puzzles)
                ),
                format!(
                    "{} such a position.",
                    words::count_of(
                        totals.puzzles_with_quiet_positions,
                        "puzzle has",
                        "puzzles have"
                    )
                ),
            ],
            notes: notes(&cells, None),
        },
        scale_title: "proper subsets found (logarithmic scale)".to_owned(),
        cells,
    }
}

/// How many proper subsets of each shape there are per thousand houses of its open count.
#[must_use]
pub fn occurrence_rates(counts: &Counts) -> HeatMap {
    let totals = &counts.totals;
    let cells = cells(counts, |count, houses, puzzles| {
        if houses == 0 {
            return (0.0, NO_HOUSE.to_owned());
        }
        let rate = 1000.0 * count as f64 / houses as f64;
        (rate, per_thousand(count, houses) + words::star(puzzles))
    });
    let houses: u64 = counts.exposure.iter().skip(2).sum();
    HeatMap {
        heading: Heading {
            title: "How often a house shows each subset".to_owned(),
            alt: words::occurrence_rates(&cells, counts),
            subtitle: vec![
                "Proper subsets per 1,000 houses with that many open cells;".to_owned(),
                format!(
                    "{} in {} of {}.",
                    words::count_of(houses, "house", "houses"),
                    words::positions(totals.quiet_positions),
                    words::puzzles(totals.puzzles)
                ),
            ],
            notes: notes(&cells, Some(counts)),
        },
        scale_title: "proper subsets per 1,000 houses (logarithmic scale)".to_owned(),
        cells,
    }
}

/// What stands for a rate of nothing.
const NO_HOUSE: &str = "–";

/// Returns the cells; `value` takes the subsets found, the houses, and the puzzles that show one.
fn cells(counts: &Counts, value: impl Fn(u64, u64, u64) -> (f64, String)) -> Vec<ShapeCell> {
    possible_shapes()
        .map(|(open, naked)| {
            let found = counts.shape(open, naked);
            let count = found.proper;
            let denominator = counts.exposure[usize::from(open)];
            let (value, label) = value(count, denominator, found.puzzles);
            ShapeCell { open, naked, value, label, denominator, count }
        })
        .collect()
}

/// Says what the cells mean; of rates also which rest on few puzzles.
fn notes(cells: &[ShapeCell], rates_of: Option<&Counts>) -> Vec<String> {
    let mut notes = vec![
        "Left out: shapes with a side of one cell, which are singles; a quiet position has none."
            .to_owned(),
    ];
    let any = |test: &dyn Fn(&ShapeCell) -> bool| cells.iter().any(test);
    if any(&|cell| cell.count == 0 && cell.label != NO_HOUSE) {
        notes.push("0: looked for, but not seen; that is not never.".to_owned());
    }
    if any(&|cell| cell.label == NO_HOUSE) {
        notes.push(format!("{NO_HOUSE}: no house had that many open cells."));
    }
    if any(&|cell| cell.label.ends_with('M')) {
        notes.push("M: million.".to_owned());
    }
    if let Some(counts) = rates_of {
        let showing = |cell: &ShapeCell| counts.shape(cell.open, cell.naked).puzzles;
        let few = |cell: &ShapeCell| !words::star(showing(cell)).is_empty();
        if any(&few) {
            notes.push(format!(
                "* Fewer than {FEW} puzzles show the shape: add more before relying on the rate."
            ));
        }
        notes.extend(words::few_puzzles(counts.totals.puzzles, "any rate"));
    }
    notes
}

/// How the proper subsets of each open count are spread over naked sizes.
#[must_use]
pub fn shapes_by_open(counts: &Counts) -> ShareBars {
    let bars = (4..=9u8).map(|open| {
        let of = |naked: u8| {
            if naked + 2 <= open { counts.shape(open, naked).proper } else { 0 }
        };
        ShareBar { label: format!("{open} open"), counts: (2..=7).map(of).collect(), n: None }
    });
    let all = |bar: &ShareBar| bar.counts.iter().sum::<u64>();
    let bars: Vec<ShareBar> = bars.filter(|bar| all(bar) > 0).collect();
    let few = bars.iter().any(|bar| all(bar) < FEW);
    let mut chart = ShareBars {
        heading: Heading {
            title: "Sizes of the naked side, by open cells".to_owned(),
            subtitle: vec![format!(
                "Proper subsets in {} of {}, n for each number of open cells; the hidden side has the \
                 other open cells.",
                words::positions(counts.totals.quiet_positions),
                words::puzzles(counts.totals.puzzles)
            )],
            notes: few
                .then(|| format!("Bars with n below {FEW} rest on few subsets."))
                .into_iter()
                .collect(),
            alt: String::new(),
        },
        axis_title: "share of proper subsets".to_owned(),
        length: BarLength::Share,
        parts: (2..=7).map(|naked| format!("naked {naked}")).collect(),
        bars,
    };
    chart.heading.alt = words::shapes_by_open(&chart, counts);
    chart
}
