//! What occurs: heat maps and sizes by open cells.

use tallyhouse_census::Counts;
use tallyhouse_figures::{BarLength, Heading, HeatMap, ShapeCell, ShareBar, ShareBars};
use tallyhouse_words::{compact, count, counted, list_some, per_thousand, share_of};

use super::possible_shapes;
use super::words::{self, positions, puzzles};
use crate::FEW;
use crate::shapes;

/// How many proper subsets of each shape were found.
#[must_use]
pub fn occurrence_counts(counts: &Counts) -> HeatMap {
    let totals = &counts.totals;
    let cells = cells(counts, |found, _, _| (found as f64, compact(found)));
    HeatMap {
        heading: Heading {
            title: "Which subsets occur".to_owned(),
            alt: counts_alt(&cells, counts),
            subtitle: vec![
                format!(
                    "Proper subsets in {} of {};",
                    positions(totals.quiet_positions),
                    puzzles(totals.puzzles)
                ),
                format!(
                    "{} such a position.",
                    counted(totals.puzzles_with_quiet_positions, "puzzle has", "puzzles have")
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
    let cells = cells(counts, |found, houses, puzzles| {
        if houses == 0 {
            return (0.0, NO_HOUSE.to_owned());
        }
        let rate = 1000.0 * found as f64 / houses as f64;
        (rate, per_thousand(found, houses) + words::star(puzzles))
    });
    let houses: u64 = counts.exposure.iter().skip(2).sum();
    HeatMap {
        heading: Heading {
            title: "How often a house shows each subset".to_owned(),
            alt: rates_alt(&cells, counts),
            subtitle: vec![
                "Proper subsets per 1,000 houses with that many open cells;".to_owned(),
                format!(
                    "{} in {} of {}.",
                    counted(houses, "house", "houses"),
                    positions(totals.quiet_positions),
                    puzzles(totals.puzzles)
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
            let denominator = counts.exposure[usize::from(open)];
            let (value, label) = value(found.proper, denominator, found.puzzles);
            ShapeCell { open, naked, value, label, denominator, count: found.proper }
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
                positions(counts.totals.quiet_positions),
                puzzles(counts.totals.puzzles)
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
    chart.heading.alt = sizes_alt(&chart, counts);
    chart
}

/// Names the shapes of which nothing was seen.
fn unseen(cells: &[ShapeCell]) -> String {
    let none: Vec<String> = cells
        .iter()
        .filter(|cell| cell.count == 0 && cell.denominator > 0)
        .map(|cell| shapes::short(cell.open, cell.naked))
        .collect();
    match none.len() {
        0 => String::new(),
        1 => format!(" One shape was looked for but not seen: {}.", none[0]),
        n => format!(" {n} shapes were looked for but not seen: {}.", list_some(&none, 4)),
    }
}

/// Describes a heat map of counts or rates; `rate` writes what is compared.
fn occurrence(
    what: &str,
    cells: &[ShapeCell],
    counts: &Counts,
    rate: impl Fn(&ShapeCell) -> String,
) -> String {
    let totals = &counts.totals;
    let scanned = format!("{} of {}", positions(totals.quiet_positions), puzzles(totals.puzzles));
    let found: u64 = cells.iter().map(|cell| cell.count).sum();
    let by_value = |one: &&ShapeCell, other: &&ShapeCell| one.value.total_cmp(&other.value);
    let seen = || cells.iter().filter(|cell| cell.count > 0);
    let named =
        |cell: &ShapeCell| format!("{} ({})", shapes::short(cell.open, cell.naked), rate(cell));
    let (Some(most), Some(least)) = (seen().max_by(by_value), seen().min_by(by_value)) else {
        return format!(
            "Heat map of {what}: none of {} shapes was seen in {scanned}.",
            cells.len()
        );
    };
    let found = counted(found, "proper subset", "proper subsets");
    let ends = if seen().count() == 1 {
        format!("All have one shape: {}.", named(most))
    } else {
        format!("Most frequent: {}; rarest seen: {}.", named(most), named(least))
    };
    format!(
        "Heat map of {what}, for {} shapes by open cells and naked side: {found} in {scanned}. \
         {ends}{}",
        cells.len(),
        unseen(cells)
    )
}

fn counts_alt(cells: &[ShapeCell], counts: &Counts) -> String {
    occurrence("the number of proper subsets", cells, counts, |cell| count(cell.count))
}

fn rates_alt(cells: &[ShapeCell], counts: &Counts) -> String {
    let what = "proper subsets per 1,000 houses with that many open cells";
    occurrence(what, cells, counts, |cell| {
        let houses = counted(cell.denominator, "house", "houses");
        format!("{}: {} in {houses}", per_thousand(cell.count, cell.denominator), count(cell.count))
    })
}

/// Describes bars of the sizes of the naked side: the most frequent one in each.
fn sizes_alt(bars: &ShareBars, counts: &Counts) -> String {
    let totals = &counts.totals;
    let scanned = format!("{} of {}", positions(totals.quiet_positions), puzzles(totals.puzzles));
    let most = bars.bars.iter().filter_map(|bar| {
        let all: u64 = bar.counts.iter().sum();
        let (part, &most) = bar.counts.iter().enumerate().rev().max_by_key(|(_, size)| **size)?;
        let share = share_of(most, all);
        Some(format!("{}: {} ({share} of {})", bar.label, bars.parts[part], count(all)))
    });
    let most: Vec<String> = most.collect();
    if most.is_empty() {
        return format!("No proper subset was found in {scanned}.");
    }
    format!(
        "Stacked bars: proper subsets in {scanned} by the size of their naked side, one bar for each \
         number of open cells. The most frequent size: {}.",
        most.join("; ")
    )
}
