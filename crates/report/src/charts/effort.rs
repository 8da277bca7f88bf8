//! A look beside its complement.

use tallyhouse_analysis::{Cheaper, SideComparison};
use tallyhouse_figures::{
    Axis, Heading, IntervalChart, IntervalMark, IntervalRow, PairedChart, PairedSide,
    ReferenceLine, Side, Unit,
};
use tallyhouse_words::{Measured, count, counted, fixed, number_word, sentence_start, set_name};

use super::words::puzzles;
use crate::few::{FEW, hollow_note, is_few};
use crate::shapes;

/// Which puzzles were walked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Walked {
    /// What they are a sample of.
    pub population: String,
    /// How many there are.
    pub puzzles: u64,
}

/// Whose effort is counted, and how.
const EFFORT: &str = "for a reader who sees marks, in a model of effort";

/// Draws the costs of a look and its complement in each house; `None` where no house holds the shape.
#[must_use]
pub fn paired(side: &SideComparison, costs: &[(f64, f64)], walked: &Walked) -> Option<PairedChart> {
    let SideComparison { open, naked, puzzles: with_split, .. } = *side;
    let hidden = open - naked;
    let ratio = side.ratio.map_or_else(String::new, |ratio| {
        format!(
            "On average naked {naked} takes {} of the glances of hidden {hidden} ({} interval).",
            Measured::from(ratio).percent_change(),
            ratio.level
        )
    });
    let both = || costs.iter().flat_map(|&(a, b)| [a, b]);
    let (least, most) = both().fold((f64::INFINITY, 0.0f64), |(a, b), c| (a.min(c), b.max(c)));
    if !least.is_finite() || most <= 0.0 {
        return None;
    }
    const BINS: usize = 24;
    let (low, high) = ((least * 0.95).max(0.5), most * 1.05);
    let step = (high / low).powf(1.0 / BINS as f64);
    let edges: Vec<f64> = (0..=BINS).map(|bin| low * step.powi(bin as i32)).collect();
    let curve = |label: String, pick: fn(&(f64, f64)) -> f64| {
        let mut values: Vec<f64> = costs.iter().map(pick).collect();
        values.sort_unstable_by(f64::total_cmp);
        let mut counts = vec![0u64; BINS];
        for value in &values {
            let bin = edges.partition_point(|edge| edge <= value).clamp(1, BINS) - 1;
            counts[bin] += 1;
        }
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        PairedSide { label, counts, median: values[values.len() / 2], mean }
    };
    let sides = [
        curve(format!("naked {naked}"), |cost| cost.0),
        curve(format!("hidden {hidden}"), |cost| cost.1),
    ];
    let mut notes = Vec::new();
    if with_split < FEW {
        notes.push(format!(
            "Only {} with such a split, fewer than {FEW}: add more before relying on the ratio.",
            puzzles(with_split)
        ));
    }
    Some(PairedChart {
        heading: Heading {
            title: paired_title(side),
            subtitle: format!(
                "{}: glances until the look ends, {EFFORT}, in the {} of {} that hold this split; {} \
                 walked.",
                sentence_start(&walked.population),
                counted(costs.len() as u64, "house", "houses"),
                puzzles(with_split),
                puzzles(walked.puzzles)
            ),
            notes,
            alt: paired_alt(side, costs.len(), (sides[0].median, sides[1].median), &ratio),
        },
        axis: Axis::log("glances", Unit::Number),
        share_title: "share of houses".to_owned(),
        edges,
        sides,
        ratio,
    })
}

/// What the naked look costs beside the hidden one, shape by shape; `None` if no shape has a ratio.
#[must_use]
pub fn side_ratios(sides: &[SideComparison], walked: &Walked) -> Option<IntervalChart> {
    let told = || sides.iter().filter_map(|side| Some((side, side.ratio.as_ref()?)));
    let level = told().next()?.1.level;
    let rows = told().map(|(side, ratio)| IntervalRow {
        label: shapes::short(side.open, side.naked),
        estimates: vec![Some(IntervalMark {
            count: side.houses,
            of: side.puzzles,
            label: Measured::from(*ratio).number(),
            value: ratio.value,
            low: ratio.interval.low,
            high: ratio.interval.high,
            is_few: is_few(side.puzzles, Some(ratio.interval.low)),
        })],
    });
    let rows: Vec<IntervalRow> = rows.collect();
    let named = |wanted: Cheaper| {
        let names = told().filter(|(side, _)| settled(side) == wanted);
        let names: Vec<String> =
            names.map(|(side, _)| shapes::short(side.open, side.naked)).collect();
        if names.is_empty() { "none".to_owned() } else { names.join(", ") }
    };
    let without = sides.iter().filter(|side| side.houses > 0 && side.ratio.is_none()).count();
    let mut notes = vec![
        "Settled: clear of 1, also after Holm's correction.".to_owned(),
        "Looks in vain are not counted.".to_owned(),
    ];
    if rows.iter().flat_map(|row| row.estimates.iter().flatten()).any(|mark| mark.is_few) {
        notes.push(hollow_note());
    }
    let of: Vec<u64> = told().map(|(side, _)| side.puzzles).collect();
    let of = match (of.iter().min(), of.iter().max()) {
        (Some(least), Some(most)) if least < most => {
            format!("{} to {}", count(*least), count(*most))
        }
        _ => count(of.first().copied().unwrap_or_default()),
    };
    if without > 0 {
        let shapes = counted(without as u64, "shape", "shapes");
        notes.push(format!("Not drawn: {shapes} in too few puzzles."));
    }
    Some(IntervalChart {
        heading: Heading {
            title: sides_title(sides.iter().filter(|side| side.houses > 0).map(settled)),
            subtitle: format!(
                "{}: naked over hidden glances in the same houses, {EFFORT}; {level} intervals, from {of} \
                 of {} walked.",
                sentence_start(&walked.population),
                puzzles(walked.puzzles)
            ),
            notes,
            alt: format!(
                "Dots with intervals: for each shape the glances of the naked look divided by those \
                 of the hidden look. The naked look costs less for {}; the hidden look for {}; not \
                 settled: {}.",
                named(Cheaper::Naked),
                named(Cheaper::Hidden),
                named(Cheaper::Unsettled)
            ),
        },
        axis: Axis::log("naked glances over hidden ones", Unit::Number),
        series: vec!["ratio".to_owned()],
        sides: false,
        looks_from: 0,
        rows,
        threshold: Some(ReferenceLine { value: 1.0, label: "equal".to_owned() }),
        ways: None,
        worth: told().map(|(side, _)| worth(settled(side))).collect(),
        beside: Vec::new(),
    })
}

/// Returns which look costs less; few puzzles settle nothing.
pub(crate) fn settled(side: &SideComparison) -> Cheaper {
    let low = side.ratio.as_ref().map(|ratio| ratio.interval.low);
    if is_few(side.puzzles, low) { Cheaper::Unsettled } else { side.cheaper }
}

/// Returns the side that costs less, if that is settled.
const fn worth(cheaper: Cheaper) -> Option<Side> {
    match cheaper {
        Cheaper::Naked => Some(Side::Naked),
        Cheaper::Hidden => Some(Side::Hidden),
        Cheaper::Unsettled => None,
    }
}

/// Which side takes fewer glances where the split is there, if that is settled.
fn paired_title(side: &SideComparison) -> String {
    let SideComparison { open, naked, .. } = *side;
    let hidden = open - naked;
    let looks = [format!("naked {}", set_name(naked)), format!("hidden {}", set_name(hidden))];
    let [naked, hidden] = looks;
    let cells = number_word(open);
    let finding = |one: &str| {
        format!("Where a house with {cells} open cells holds both, the {one} takes fewer glances")
    };
    match settled(side) {
        Cheaper::Naked => finding(&naked),
        Cheaper::Hidden => finding(&hidden),
        Cheaper::Unsettled => {
            format!("With {cells} open cells, {naked} or {hidden}?")
        }
    }
}

/// How many shapes each side wins.
fn sides_title(cheaper: impl Iterator<Item = Cheaper>) -> String {
    let (mut naked, mut hidden, mut all) = (0u64, 0u64, 0u64);
    for side in cheaper {
        all += 1;
        naked += u64::from(side == Cheaper::Naked);
        hidden += u64::from(side == Cheaper::Hidden);
    }
    let shapes = counted(all, "shape", "shapes");
    match naked.cmp(&hidden) {
        std::cmp::Ordering::Greater => {
            format!("Where both are there, the naked look costs less in {naked} of {shapes}")
        }
        std::cmp::Ordering::Less => {
            format!("Where both are there, the hidden look costs less in {hidden} of {shapes}")
        }
        std::cmp::Ordering::Equal => "Naked or hidden: which look costs less?".to_owned(),
    }
}

/// Describes the glances of a look and of its complement.
fn paired_alt(side: &SideComparison, houses: usize, medians: (f64, f64), ratio: &str) -> String {
    let SideComparison { open, naked, .. } = *side;
    let houses = counted(houses as u64, "house", "houses");
    let ratio = if ratio.is_empty() { String::new() } else { format!(" {ratio}") };
    format!(
        "Two step curves: glances in the same {houses} with {open} open cells, from {}. The median is \
         {} for naked {naked} and {} for hidden {}.{ratio}",
        puzzles(side.puzzles),
        glances(medians.0),
        glances(medians.1),
        open - naked
    )
}

/// Writes a median: a count of glances, or half-way between two.
fn glances(median: f64) -> String {
    fixed(median, usize::from(median.fract() != 0.0))
}
