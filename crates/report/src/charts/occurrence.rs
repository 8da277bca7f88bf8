//! What occurs: heat maps and sizes by open cells.

use tallyhouse_analysis::{Occurrence, ShapeShare};
use tallyhouse_census::Counts;
use tallyhouse_figures::{
    Heading, HeatMap, PartLook, ShapeCell, ShareBar, ShareBars, SharePart, Side,
};
use tallyhouse_stats::Limits;
use tallyhouse_words::{
    compact, count, counted, list_some, number_range, number_word, sentence_start, set_name,
    share_of, thousandths,
};

use super::census::CellLinks;
use super::possible_shapes;
use super::words::{self, scanned};
use crate::few::{UNSEEN, is_few, star_note, stars};
use crate::shapes;

/// How many proper subsets of each shape were found in a population.
#[must_use]
pub fn occurrence_counts(population: &str, counts: &Counts, occurrence: &Occurrence) -> HeatMap {
    let totals = &counts.totals;
    let unweighted =
        if totals.weighted > 0 { ", each counted once whatever it weighs" } else { "" };
    let cell = |(open, naked): (u8, u8)| {
        let count = counts.shape(open, naked).proper;
        let (value, label) = (count as f64, compact(count));
        let denominator = counts.exposure[usize::from(open)];
        ShapeCell {
            open,
            naked,
            value,
            label,
            ends: [None; 2],
            denominator,
            count,
            shaded: true,
            framed: false,
            link: None,
        }
    };
    let cells: Vec<ShapeCell> = possible_shapes().map(cell).collect();
    HeatMap {
        heading: Heading {
            title: counts_title(&cells),
            alt: counts_alt(&cells, counts, occurrence),
            subtitle: format!(
                "{}: proper subsets in {}{unweighted}; {} such a position.",
                sentence_start(population),
                scanned(totals, occurrence.units),
                counted(totals.puzzles_with_quiet_positions, "puzzle has", "puzzles have")
            ),
            notes: notes(&cells, None),
        },
        scale_title: "proper subsets found (logarithmic scale)".to_owned(),
        cells,
    }
}

/// In which houses more than half of the subsets stand that were found, if there are enough of them.
fn counts_title(cells: &[ShapeCell]) -> String {
    let with = |open: u8| -> u64 {
        cells.iter().filter(|cell| cell.open == open).map(|cell| cell.count).sum()
    };
    let all: u64 = (4..=9).map(with).sum();
    let pair = (4..9u8).max_by_key(|&open| with(open) + with(open + 1));
    match pair.filter(|&open| all >= 100 && 2 * (with(open) + with(open + 1)) > all) {
        Some(open) => format!(
            "More than half of the subsets found stand in houses with {} open cells",
            number_range(open, open + 1)
        ),
        None => "How many subsets of each shape were found?".to_owned(),
    }
}

/// In how many of a thousand houses of its open count each shape shows in a population, by weight where
/// puzzles carry weights.
#[must_use]
pub fn occurrence_rates(population: &str, counts: &Counts, occurrence: &Occurrence) -> HeatMap {
    let totals = &counts.totals;
    let shapes = possible_shapes().filter_map(|(open, naked)| occurrence.shape(open, naked));
    let cell = |shape: &ShapeShare| {
        let Limits { value, low, high } = shape.house_share;
        let [star, _] = stars(shape);
        ShapeCell {
            open: shape.open,
            naked: shape.naked,
            value: 1000.0 * value.unwrap_or_default(),
            label: thousandths(value, low, high) + star,
            ends: [low, high].map(|end| end.map(|end| 1000.0 * end)),
            denominator: shape.houses,
            count: shape.houses_with,
            // A grey tells no more than the order of magnitude.
            shaded: low.zip(high).is_some_and(|(low, high)| high < 10.0 * low),
            framed: false,
            link: None,
        }
    };
    let mut cells: Vec<ShapeCell> = shapes.map(cell).collect();
    let commonest = frame_commonest(&mut cells);
    let by_weight = if occurrence.weighted { ", by weight" } else { "" };
    let houses: u64 = counts.exposure.iter().skip(2).sum();
    HeatMap {
        heading: Heading {
            title: rates_title(&commonest),
            alt: rates_alt(&cells, counts, occurrence),
            subtitle: format!(
                "{}: how many of 1,000 houses with that many open cells show a proper subset of the \
                 shape{by_weight}; {} in {}.",
                sentence_start(population),
                counted(houses, "house", "houses"),
                scanned(totals, occurrence.units)
            ),
            notes: notes(&cells, Some(counts)),
        },
        scale_title: "of 1,000 houses (logarithmic scale)".to_owned(),
        cells,
    }
}

/// Frames the shape of each open count whose interval lies above those of all others, and returns
/// their shapes.
fn frame_commonest(cells: &mut [ShapeCell]) -> Vec<(u8, u8)> {
    let mut framed = Vec::new();
    for open in 5..=9u8 {
        let of: Vec<usize> = (0..cells.len()).filter(|&index| cells[index].open == open).collect();
        let by_value =
            |&one: &&usize, &other: &&usize| cells[*one].value.total_cmp(&cells[*other].value);
        let Some(&most) = of.iter().max_by(by_value) else { continue };
        let high = |&index: &usize| cells[index].ends[1].unwrap_or(f64::INFINITY);
        let others = of.iter().filter(|&&index| index != most).map(high);
        let others = others.fold(0.0, f64::max);
        if cells[most].ends[0].is_some_and(|low| low > others) {
            framed.push((open, cells[most].naked));
            cells[most].framed = true;
        }
    }
    framed
}

/// The finding where a hidden pair is the commonest subset from five open cells on; a question where it
/// isn't, or where data are few.
fn rates_title(commonest: &[(u8, u8)]) -> String {
    let pairs = (5..=9u8).take_while(|open| commonest.contains(&(*open, open - 2)));
    let last = pairs.last().filter(|_| commonest.iter().all(|(open, naked)| naked + 2 == *open));
    match last {
        Some(9) => {
            "With five or more open cells, hidden pairs are the commonest subsets".to_owned()
        }
        Some(last) if last > 5 => format!(
            "With five to {} open cells, hidden pairs are the commonest subsets",
            number_word(last)
        ),
        _ => "How often does a house show each subset?".to_owned(),
    }
}

/// Links the cells of what was seen.
#[must_use]
pub fn linked(mut map: HeatMap, to: &CellLinks) -> HeatMap {
    for cell in map.cells.iter_mut().filter(|cell| cell.count > 0) {
        cell.link = match to {
            CellLinks::Nothing => None,
            CellLinks::Specimens => Some(specimen_name(cell.open, cell.naked)),
            CellLinks::Rows(table) => Some(row_name(table, cell.open, cell.naked)),
        }
        .map(|id| format!("#{id}"));
    }
    map
}

/// What the row of a shape is called in a table.
#[must_use]
pub fn row_name(table: &str, open: u8, naked: u8) -> String {
    format!("{table}-{open}-open-naked-{naked}")
}

/// What the specimen of a shape is called where a study shows one of each.
#[must_use]
pub fn specimen_name(open: u8, naked: u8) -> String {
    format!("specimen-{open}-open-naked-{naked}")
}

/// What stands for a rate of nothing.
const NO_HOUSE: &str = "–";

/// Says what the cells mean; of rates also which rest on few puzzles.
fn notes(cells: &[ShapeCell], rates_of: Option<&Counts>) -> Vec<String> {
    let mut notes =
        vec!["Sides of one cell are singles, of which these positions have none.".to_owned()];
    let any = |test: &dyn Fn(&ShapeCell) -> bool| cells.iter().any(test);
    if any(&|cell| cell.count == 0 && cell.label != NO_HOUSE) {
        notes.push(UNSEEN.to_owned());
    }
    if any(&|cell| cell.label == NO_HOUSE) {
        notes.push(format!("{NO_HOUSE}: no house had that many open cells."));
    }
    if any(&|cell| cell.framed) {
        let framed = "Framed: the commonest with that many open cells, clear of all others.";
        notes.push(framed.to_owned());
    }
    if any(&|cell| cell.label.ends_with('M')) {
        notes.push("M: million.".to_owned());
    }
    if let Some(counts) = rates_of {
        let few = |cell: &ShapeCell| cell.label.ends_with('*');
        if any(&few) {
            notes.push(star_note());
        }
        if any(&|cell| cell.count > 0 && !cell.shaded) {
            notes.push("Blank with a number: too few to tell how rare it may be.".to_owned());
        }
        notes.extend(words::few_puzzles(counts.totals.puzzles, "any rate"));
    }
    notes
}

/// The parts of [`shapes_by_open`]: the size of the smaller side, which one it is, and the name.
fn smaller_sides() -> Vec<(u8, SharePart)> {
    let part = |size: u8, side: Side| {
        let name = format!("{} {}", side.name(), set_name(size));
        (size, SharePart { name, look: PartLook::Side(side) })
    };
    let naked = (2..=4).map(|size| part(size, Side::Naked));
    let hidden = (2..=4).rev().map(|size| part(size, Side::Hidden));
    let equal = (0, SharePart { name: "equal sides".to_owned(), look: PartLook::Neither });
    naked.chain([equal]).chain(hidden).collect()
}

/// How the proper subsets of each open count are spread over their smaller sides in a population, by
/// weight where puzzles carry weights.
#[must_use]
pub fn shapes_by_open(population: &str, counts: &Counts, occurrence: &Occurrence) -> ShareBars {
    let weighted = occurrence.weighted;
    // Shares are all that is drawn, so any unit of weight will do that fits.
    let heaviest = occurrence.shapes.iter().map(|shape| shape.weight).max().unwrap_or(0);
    let unit = heaviest / 1_000_000_000_000 + 1;
    let parts = smaller_sides();
    let bars = (4..=9u8).map(|open| {
        let proper = |naked: u8| counts.shape(open, naked).proper;
        let by_weight = |naked: u8| {
            let weight = occurrence.shape(open, naked).map_or(0, |shape| shape.weight);
            u64::try_from(weight / unit).unwrap_or(u64::MAX)
        };
        let of = |naked: u8| if weighted { by_weight(naked) } else { proper(naked) };
        let size = |(size, part): &(u8, SharePart)| match part.look {
            PartLook::Side(Side::Naked) if 2 * size < open => of(*size),
            PartLook::Side(Side::Hidden) if 2 * size < open => of(open - size),
            PartLook::Neither if open % 2 == 0 => of(open / 2),
            _ => 0,
        };
        // Where the largest of several parts rests on few puzzles, so does the bar.
        let most = (2..=open - 2).max_by_key(|&naked| of(naked));
        let most = most.and_then(|naked| occurrence.shape(open, naked)).filter(|_| open > 4);
        let few = most.is_some_and(|most| {
            is_few(most.puzzles, most.share.as_ref().map(|share| share.interval.low))
        });
        ShareBar {
            label: format!("{open} open{}", if few { " *" } else { "" }),
            counts: parts.iter().map(size).collect(),
            n: weighted.then(|| (2..=open - 2).map(proper).sum()),
        }
    });
    let all = |bar: &ShareBar| bar.n.unwrap_or_else(|| bar.counts.iter().sum());
    let bars: Vec<ShareBar> = bars.filter(|bar| all(bar) > 0).collect();
    let mut notes = Vec::new();
    if weighted {
        notes.push(format!(
            "n counts subsets, whatever they weigh; independent are only {}.",
            counted(occurrence.units, "family", "families")
        ));
    }
    if bars.iter().any(|bar| bar.label.ends_with('*')) {
        notes.push(star_note());
    }
    let mut chart = ShareBars {
        heading: Heading {
            title: sizes_title(&bars, weighted).to_owned(),
            subtitle: format!(
                "{}: proper subsets by their smaller side, in {}; n for each number of open cells{}.",
                sentence_start(population),
                scanned(&counts.totals, occurrence.units),
                if weighted { ", shares by weight" } else { "" }
            ),
            notes,
            alt: String::new(),
        },
        axis_title: "share of proper subsets".to_owned(),
        parts: parts.into_iter().map(|(_, part)| part).collect(),
        key: [
            (PartLook::Side(Side::Naked), "the naked side is smaller"),
            (PartLook::Side(Side::Hidden), "the hidden side is smaller"),
            (PartLook::Neither, "both are equal"),
        ]
        .map(|(look, words)| (look, words.to_owned()))
        .to_vec(),
        bars,
    };
    chart.heading.alt = sizes_alt(&chart, &scanned(&counts.totals, occurrence.units));
    chart
}

/// The finding where it holds for every open count of which there are enough subsets, else a question.
/// Weights tell of no number that would be enough.
fn sizes_title(bars: &[ShareBar], weighted: bool) -> &'static str {
    let sides = |bar: &ShareBar| {
        let sum = |part: std::ops::Range<usize>| bar.counts[part].iter().sum::<u64>();
        (sum(0..3), sum(4..7))
    };
    let two: Vec<(u64, u64)> =
        bars.iter().map(sides).filter(|(naked, hidden)| naked + hidden > 0).collect();
    let enough = two.len() == 5 && two.iter().all(|(naked, hidden)| naked + hidden >= 100);
    if enough && !weighted && two.iter().all(|(naked, hidden)| hidden > naked) {
        "The hidden side is the smaller one more often than the naked"
    } else {
        "Which side of a subset is the smaller one?"
    }
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
    (counts, found): (&Counts, &Occurrence),
    rate: impl Fn(&ShapeCell) -> String,
) -> String {
    let scanned = scanned(&counts.totals, found.units);
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

fn counts_alt(cells: &[ShapeCell], counts: &Counts, found: &Occurrence) -> String {
    occurrence("the number of proper subsets", cells, (counts, found), |cell| count(cell.count))
}

fn rates_alt(cells: &[ShapeCell], counts: &Counts, found: &Occurrence) -> String {
    let what = "how many of 1,000 houses with that many open cells show a proper subset";
    let by_weight = if found.weighted { " by weight" } else { "" };
    occurrence(what, cells, (counts, found), |cell| {
        let houses = counted(cell.denominator, "house", "houses");
        let rate = cell.label.trim_end_matches('*');
        format!("{rate}{by_weight}: {} of {houses}", count(cell.count))
    })
}

/// Describes bars of the sizes of the naked side: the most frequent one in each.
fn sizes_alt(bars: &ShareBars, scanned: &str) -> String {
    let most = bars.bars.iter().filter_map(|bar| {
        let all: u64 = bar.counts.iter().sum();
        let (part, &most) = bar.counts.iter().enumerate().rev().max_by_key(|(_, size)| **size)?;
        let share = share_of(most, all);
        let n = count(bar.n.unwrap_or(all));
        Some(format!("{}: {} ({share} of {n})", bar.label, bars.parts[part].name))
    });
    let most: Vec<String> = most.collect();
    if most.is_empty() {
        return format!("No proper subset was found in {scanned}.");
    }
    format!(
        "Stacked bars: proper subsets in {scanned} by their smaller side, one bar for each number of \
         open cells. The most frequent: {}.",
        most.join("; ")
    )
}
