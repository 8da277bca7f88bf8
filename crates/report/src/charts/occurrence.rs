//! What occurs: heat maps and sizes by open cells.

use tallyhouse_analysis::Occurrence;
use tallyhouse_census::Counts;
use tallyhouse_figures::{Heading, HeatMap, ShapeCell, ShareBar, ShareBars};
use tallyhouse_words::{compact, count, counted, list_some, per_thousand, rounded, share_of};

use super::possible_shapes;
use super::words::{self, positions, puzzles};
use crate::FEW;
use crate::shapes;

/// How many proper subsets of each shape were found.
#[must_use]
pub fn occurrence_counts(counts: &Counts) -> HeatMap {
    let totals = &counts.totals;
    let unweighted =
        if totals.weighted > 0 { ", each counted once whatever it weighs" } else { "" };
    let cells = cells(
        |open, naked| {
            let found = counts.shape(open, naked).proper;
            (found as f64, compact(found))
        },
        counts,
    );
    HeatMap {
        heading: Heading {
            title: "Which subsets occur".to_owned(),
            alt: counts_alt(&cells, counts),
            subtitle: format!(
                "Proper subsets in {} of {}{unweighted}; {} such a position.",
                positions(totals.quiet_positions),
                puzzles(totals.puzzles),
                counted(totals.puzzles_with_quiet_positions, "puzzle has", "puzzles have")
            ),
            notes: notes(&cells, None),
        },
        scale_title: "proper subsets found (logarithmic scale)".to_owned(),
        cells,
    }
}

/// How many proper subsets of each shape there are per thousand houses of its open count, by weight
/// where puzzles carry weights.
#[must_use]
pub fn occurrence_rates(counts: &Counts, occurrence: &Occurrence) -> HeatMap {
    let totals = &counts.totals;
    let rate = |open, naked| {
        let found = counts.shape(open, naked);
        let houses = counts.exposure[usize::from(open)];
        if houses == 0 {
            return (0.0, NO_HOUSE.to_owned());
        }
        let (rate, words) = match weighted_rate(occurrence, open, naked) {
            Some(rate) => (1000.0 * rate, thousandth(rate)),
            None => {
                let rate = 1000.0 * found.proper as f64 / houses as f64;
                (rate, per_thousand(found.proper, houses))
            }
        };
        (rate, words + words::star(found.puzzles))
    };
    let cells = cells(rate, counts);
    let by_weight = if occurrence.weighted { ", by weight" } else { "" };
    let houses: u64 = counts.exposure.iter().skip(2).sum();
    HeatMap {
        heading: Heading {
            title: "How often a house shows each subset".to_owned(),
            alt: rates_alt(&cells, counts, occurrence),
            subtitle: format!(
                "Proper subsets per 1,000 houses with that many open cells{by_weight}; {} in {} of {}.",
                counted(houses, "house", "houses"),
                positions(totals.quiet_positions),
                puzzles(totals.puzzles)
            ),
            notes: notes(&cells, Some(counts)),
        },
        scale_title: "proper subsets per 1,000 houses (logarithmic scale)".to_owned(),
        cells,
    }
}

/// What stands for a rate of nothing.
const NO_HOUSE: &str = "–";

/// Returns the cells with what `value` says of an open count and a naked size.
fn cells(value: impl Fn(u8, u8) -> (f64, String), counts: &Counts) -> Vec<ShapeCell> {
    possible_shapes()
        .map(|(open, naked)| {
            let (value, label) = value(open, naked);
            let denominator = counts.exposure[usize::from(open)];
            let count = counts.shape(open, naked).proper;
            ShapeCell { open, naked, value, label, denominator, count }
        })
        .collect()
}

/// Returns the rate in houses where puzzles carry weights.
fn weighted_rate(occurrence: &Occurrence, open: u8, naked: u8) -> Option<f64> {
    occurrence.shape(open, naked).filter(|_| occurrence.weighted).and_then(|shape| shape.rate)
}

/// Writes a rate by weight per thousand.
pub(crate) fn thousandth(rate: f64) -> String {
    if rate == 0.0 { "0".to_owned() } else { rounded(1000.0 * rate, 3) }
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

/// How the proper subsets of each open count are spread over naked sizes, by weight where puzzles carry
/// weights.
#[must_use]
pub fn shapes_by_open(counts: &Counts, occurrence: &Occurrence) -> ShareBars {
    let weighted = occurrence.weighted;
    // Shares are all that is drawn, so any unit of weight will do that fits.
    let heaviest = occurrence.shapes.iter().map(|shape| shape.weight).max().unwrap_or(0);
    let unit = heaviest / 1_000_000_000_000 + 1;
    let bars = (4..=9u8).map(|open| {
        let proper = |naked: u8| counts.shape(open, naked).proper;
        let by_weight = |naked: u8| {
            let weight = occurrence.shape(open, naked).map_or(0, |shape| shape.weight);
            u64::try_from(weight / unit).unwrap_or(u64::MAX)
        };
        let of = |naked: u8| match naked + 2 <= open {
            true if weighted => by_weight(naked),
            true => proper(naked),
            false => 0,
        };
        ShareBar {
            label: format!("{open} open"),
            counts: (2..=7).map(of).collect(),
            n: weighted.then(|| (2..=open - 2).map(proper).sum()),
        }
    });
    let all = |bar: &ShareBar| bar.n.unwrap_or_else(|| bar.counts.iter().sum());
    let bars: Vec<ShareBar> = bars.filter(|bar| all(bar) > 0).collect();
    let few = bars.iter().any(|bar| all(bar) < FEW);
    let mut chart = ShareBars {
        heading: Heading {
            title: "Sizes of the naked side, by open cells".to_owned(),
            subtitle: format!(
                "Proper subsets in {} of {}, n for each number of open cells{}; the hidden side has \
                 the other open cells.",
                positions(counts.totals.quiet_positions),
                puzzles(counts.totals.puzzles),
                if weighted { ", shares by weight" } else { "" }
            ),
            notes: few
                .then(|| format!("Bars with n below {FEW} rest on few subsets."))
                .into_iter()
                .collect(),
            alt: String::new(),
        },
        axis_title: "share of proper subsets".to_owned(),
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

fn rates_alt(cells: &[ShapeCell], counts: &Counts, found: &Occurrence) -> String {
    let what = "proper subsets per 1,000 houses with that many open cells";
    let by_weight = if found.weighted { " by weight" } else { "" };
    occurrence(what, cells, counts, |cell| {
        let houses = counted(cell.denominator, "house", "houses");
        let rate = weighted_rate(found, cell.open, cell.naked)
            .map_or_else(|| per_thousand(cell.count, cell.denominator), thousandth);
        format!("{rate}{by_weight}: {} in {houses}", count(cell.count))
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
        let n = count(bar.n.unwrap_or(all));
        Some(format!("{}: {} ({share} of {n})", bar.label, bars.parts[part]))
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
