//! What occurs: heat maps and sizes by open cells.

use tallyhouse_analysis::{Occurrence, ShapeShare};
use tallyhouse_census::{Counts, Moment};
use tallyhouse_figures::{Heading, HeatMap, ShapeCell, ShareBar, ShareBars};
use tallyhouse_stats::Limits;
use tallyhouse_words::{compact, count, counted, list_some, share_of, thousandths};

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
    let cell = |(open, naked): (u8, u8)| {
        let count = counts.shape(open, naked).proper;
        let (value, label) = (count as f64, compact(count));
        let denominator = counts.exposure[usize::from(open)];
        ShapeCell { open, naked, value, label, ends: [None; 2], denominator, count }
    };
    let cells: Vec<ShapeCell> = possible_shapes().map(cell).collect();
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

/// In how many of a thousand houses of its open count each shape shows, by weight where puzzles carry
/// weights.
#[must_use]
pub fn occurrence_rates(counts: &Counts, occurrence: &Occurrence) -> HeatMap {
    let totals = &counts.totals;
    let shapes = possible_shapes().filter_map(|(open, naked)| occurrence.shape(open, naked));
    let cell = |shape: &ShapeShare| {
        let Limits { value, low, high } = shape.house_share;
        let star = if shape.houses > 0 { words::star(shape.puzzles) } else { "" };
        ShapeCell {
            open: shape.open,
            naked: shape.naked,
            value: 1000.0 * value.unwrap_or_default(),
            label: thousandths(value, low, high) + star,
            ends: [low, high].map(|end| end.map(|end| 1000.0 * end)),
            denominator: shape.houses,
            count: shape.houses_with,
        }
    };
    let cells: Vec<ShapeCell> = shapes.map(cell).collect();
    let by_weight = if occurrence.weighted { ", by weight" } else { "" };
    let houses: u64 = counts.exposure.iter().skip(2).sum();
    HeatMap {
        heading: Heading {
            title: "How often a house shows each subset".to_owned(),
            alt: rates_alt(&cells, counts, occurrence),
            subtitle: format!(
                "Of 1,000 houses with that many open cells, so many show a proper subset{by_weight}; {} \
                 at {}: {} of {}.",
                counted(houses, "house", "houses"),
                Moment::Every.in_words(),
                count(totals.quiet_positions),
                puzzles(totals.puzzles)
            ),
            notes: notes(&cells, Some(counts)),
        },
        scale_title: "of 1,000 houses (logarithmic scale)".to_owned(),
        cells,
    }
}

/// What stands for a rate of nothing.
const NO_HOUSE: &str = "–";

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
    let found: u64 = cells.iter().map(|cell| counts.shape(cell.open, cell.naked).proper).sum();
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
    let what = "how many of 1,000 houses with that many open cells show a proper subset";
    let by_weight = if found.weighted { " by weight" } else { "" };
    occurrence(what, cells, counts, |cell| {
        let houses = counted(cell.denominator, "house", "houses");
        let rate = cell.label.trim_end_matches('*');
        format!("{rate}{by_weight}: {} of {houses}", count(cell.count))
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
