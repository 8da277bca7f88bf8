//! The words around charts: descriptions that say what was found, and notes that say how far it goes.

use tallyhouse_analysis::{Description, MINIMAL_PUZZLES, PairedCosts};
use tallyhouse_census::Counts;
use tallyhouse_figures::{BandLine, IntervalMark, IntervalRow, ShapeCell, ShareBars};

use super::{LeftShapes, SearchedOrder, SearchedOrders};
use crate::numbers::{FEW, counted, grouped, percent, readable, share};
use crate::specimen::sentence_start;

/// Writes a number with its noun.
pub(super) fn count_of(count: u64, one: &str, many: &str) -> String {
    format!("{} {}", grouped(count), if count == 1 { one } else { many })
}

pub(super) fn puzzles(count: u64) -> String {
    counted(count, "puzzles")
}

pub(super) fn positions(count: u64) -> String {
    counted(count, "quiet positions")
}

/// Joins names as people list them; a long list ends in how many more there are.
fn listed(names: &[String]) -> String {
    const MOST: usize = 4;
    match names {
        [] => String::new(),
        [one] => one.clone(),
        _ if names.len() > MOST => {
            let more = names.len() - (MOST - 1);
            format!("{} and {more} more", names[..MOST - 1].join(", "))
        }
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Names a shape.
pub(super) fn shape((open, naked): (u8, u8)) -> String {
    format!("{open} open cells with {naked} naked and {} hidden", open - naked)
}

/// Names the shapes of which nothing was seen.
fn unseen(cells: &[ShapeCell]) -> String {
    let none: Vec<String> = cells
        .iter()
        .filter(|cell| cell.count == 0 && cell.denominator > 0)
        .map(|cell| shape((cell.open, cell.naked)))
        .collect();
    match none.len() {
        0 => String::new(),
        1 => format!(" One shape was looked for but not seen: {}.", none[0]),
        n => format!(" {n} shapes were looked for but not seen: {}.", listed(&none)),
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
    let named = |cell: &ShapeCell| format!("{} ({})", shape((cell.open, cell.naked)), rate(cell));
    let (Some(most), Some(least)) = (seen().max_by(by_value), seen().min_by(by_value)) else {
        return format!(
            "Heat map of {what}: none of {} shapes was seen in {scanned}.",
            cells.len()
        );
    };
    let found = count_of(found, "proper subset", "proper subsets");
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

pub(super) fn occurrence_counts(cells: &[ShapeCell], counts: &Counts) -> String {
    occurrence("the number of proper subsets", cells, counts, |cell| grouped(cell.count))
}

pub(super) fn occurrence_rates(cells: &[ShapeCell], counts: &Counts) -> String {
    let what = "proper subsets per 1,000 houses with that many open cells";
    occurrence(what, cells, counts, |cell| {
        let houses = count_of(cell.denominator, "house", "houses");
        format!("{}: {} in {houses}", readable(cell.count, cell.value), grouped(cell.count))
    })
}

/// Describes bars of the sizes of the naked side: the most frequent one in each.
pub(super) fn shapes_by_open(bars: &ShareBars, counts: &Counts) -> String {
    let totals = &counts.totals;
    let scanned = format!("{} of {}", positions(totals.quiet_positions), puzzles(totals.puzzles));
    let most = bars.bars.iter().filter_map(|bar| {
        let all: u64 = bar.counts.iter().sum();
        let (part, &most) = bar.counts.iter().enumerate().rev().max_by_key(|(_, count)| **count)?;
        let share = percent(most, all);
        Some(format!("{}: {} ({share} of {})", bar.label, bars.parts[part], grouped(all)))
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

fn largest(rows: &[IntervalRow], series: usize) -> Option<(&str, &IntervalMark)> {
    let measured = rows.iter().filter_map(|row| {
        let estimate = row.estimates.get(series)?.as_ref()?;
        Some((row.label.as_str(), estimate))
    });
    measured.reduce(|most, next| if next.1.value > most.1.value { next } else { most })
}

/// Names a row of shapes: `7 open: 4 | 3`.
pub(super) fn row(open: u8, naked: u8) -> String {
    format!("{open} open: {naked} | {}", open - naked)
}

fn with_interval(estimate: &IntervalMark) -> String {
    format!(
        "{} of {}, {}; 95 % interval {} to {}",
        grouped(estimate.count),
        puzzles(estimate.of),
        share(estimate.value),
        share(estimate.low),
        share(estimate.high)
    )
}

/// Describes collections beside each other.
pub(super) fn comparison(collections: &[(&str, u64)], rows: &[IntervalRow]) -> String {
    let most =
        collections.iter().enumerate().map(|(series, (name, all))| match largest(rows, series) {
            Some((_, estimate)) if estimate.value == 0.0 => {
                format!("in {name} no shape shows in {}", puzzles(*all))
            }
            Some((row, estimate)) => {
                format!("in {name} {row} ({})", with_interval(estimate))
            }
            None => format!("in {name} nothing was measured ({})", puzzles(*all)),
        });
    let most: Vec<String> = most.collect();
    let widest = rows.iter().filter_map(|row| {
        let measured = row.estimates.iter().zip(collections);
        let mut values: Vec<(f64, &str)> = measured
            .filter_map(|(estimate, (name, _))| Some((estimate.as_ref()?.value, *name)))
            .collect();
        values.sort_by(|one, other| one.0.total_cmp(&other.0));
        let (first, last) = (*values.first()?, *values.last()?);
        (last.0 > first.0).then_some((last.0 - first.0, row.label.as_str(), first, last))
    });
    let widest = widest.reduce(|most, next| if next.0 > most.0 { next } else { most });
    let widest = widest.map_or_else(String::new, |(_, row, low, high)| {
        format!(
            " The collections differ most in {row}: {} in {} and {} in {}.",
            share(low.0),
            low.1,
            share(high.0),
            high.1
        )
    });
    format!(
        "Dots with intervals: the share of puzzles that show each of {} (open cells: naked | hidden). \
         Most frequent: {}.{widest}",
        count_of(rows.len() as u64, "shape", "shapes"),
        most.join("; ")
    )
}

/// Describes what rulebooks leave.
pub(super) fn missed(short: &[&LeftShapes], rows: &[IntervalRow]) -> String {
    let most = short.iter().enumerate().filter_map(|(series, book)| {
        let (row, estimate) = largest(rows, series)?;
        let left = rows.iter().filter(|row| {
            let estimate = row.estimates.get(series).and_then(Option::as_ref);
            estimate.is_some_and(|estimate| estimate.count > 0)
        });
        Some(format!(
            "rulebook {} leaves {}, most often {row} ({})",
            book.rulebook,
            count_of(left.count() as u64, "shape", "shapes"),
            with_interval(estimate)
        ))
    });
    let most: Vec<String> = most.collect();
    format!(
        "Dots with intervals: the share of puzzles in which a rulebook leaves a proper subset, by \
         shape (open cells: naked | hidden). {}.",
        sentence_start(&most.join("; "))
    )
}

/// Says what the words and marks beside the intervals mean.
pub(super) fn interval_notes(rows: &[IntervalRow], counted: &str) -> Vec<String> {
    let estimates = || rows.iter().flat_map(|row| row.estimates.iter().flatten());
    let mut notes = vec![format!("At the right: {counted}.")];
    if estimates().any(|estimate| (1..FEW).contains(&estimate.count)) {
        notes.push(format!("* Fewer than {FEW} puzzles: add more before relying on the share."));
    }
    if estimates().any(|estimate| estimate.count == 0) {
        notes.push(
            "None: looked for but not seen, which is not never; the share may lie anywhere up to the \
             mark, the upper end of the 95 % interval."
                .to_owned(),
        );
    }
    notes
}

/// Names the rulebooks that leave nothing, which have no marks.
pub(super) fn complete_books(books: &[LeftShapes]) -> Option<String> {
    let complete = books.iter().filter(|book| book.shapes.iter().all(|shape| shape.2 == 0));
    let names: Vec<String> = complete.map(|book| book.rulebook.clone()).collect();
    let them = if names.len() == 1 { "leaves" } else { "leave" };
    (!names.is_empty()).then(|| format!("Not drawn: {}, which {them} nothing.", listed(&names)))
}

/// Describes clue counts beside the published ones.
pub(super) fn clues(description: &Description, name: &str, shares: &[(i64, f64)]) -> String {
    let published = MINIMAL_PUZZLES.percent.iter();
    let (clues, most) =
        published.fold(
            (0, 0.0),
            |most: (u8, f64), &(clues, percent)| {
                if percent > most.1 { (clues, percent) } else { most }
            },
        );
    let published = format!(
        "The line shows all minimal puzzles (Berthier 2009): most often {clues} clues ({}), mean {:.2}.",
        share(most / 100.0),
        MINIMAL_PUZZLES.mean
    );
    let drawn = shares.iter().filter(|(_, share)| *share > 0.0);
    let ends = drawn.clone().map(|(clues, _)| *clues);
    let most = drawn.clone().max_by(|one, other| one.1.total_cmp(&other.1));
    let (Some(&(peak, of)), Some(least), Some(last)) = (most, ends.clone().min(), ends.max())
    else {
        return format!("There are no puzzles in {name}. {published}");
    };
    let mean = description.mean_clues.map_or_else(String::new, |mean| {
        let difference = mean.value - MINIMAL_PUZZLES.mean;
        let than = if difference < 0.0 { "fewer" } else { "more" };
        format!(
            " The mean is {:.2}, which is {:.2} {than} than the published one.",
            mean.value,
            difference.abs()
        )
    });
    let range = if least == last {
        format!("all have {least} clues")
    } else {
        format!("{least} to {last} clues, most often {peak} ({})", share(of))
    };
    format!(
        "Bars: the clues of {} of {name}: {range}.{mean} {published}",
        puzzles(description.puzzles)
    )
}

/// Says what limits a collection's clue counts.
pub(super) fn clue_notes(description: &Description) -> Vec<String> {
    let mut notes = origin(&description.notes);
    let loose = description.puzzles.saturating_sub(description.minimal_puzzles);
    if loose > 0 {
        let are = if loose == 1 { "is" } else { "are" };
        notes.push(format!(
            "{} of {} {are} not minimal; the published distribution is that of minimal puzzles.",
            grouped(loose),
            puzzles(description.puzzles)
        ));
    }
    notes.extend(few_puzzles(description.puzzles, "the shares"));
    notes
}

/// Says how puzzles were drawn, if their collection knows.
pub(super) fn origin(notes: &[String]) -> Vec<String> {
    // The other lines say how to draw them again, not what they can show.
    const LIMITS: [&str; 4] = ["bias", "wanted", "clues", "symmetry of givens"];
    let line = |note: &String| {
        let (name, words) = note.split_once(": ")?;
        match name {
            "method" => Some(format!("Origin: {words}.")),
            _ if LIMITS.contains(&name) => Some(format!("{}.", sentence_start(note))),
            _ => None,
        }
    };
    notes.iter().filter_map(line).collect()
}

/// Warns of a whole that is small.
pub(super) fn few_puzzles(all: u64, what: &str) -> Option<String> {
    (all < FEW).then(|| {
        format!("Only {}, fewer than {FEW}: add more before relying on {what}.", puzzles(all))
    })
}

/// Marks a number that rests on few puzzles.
pub(super) fn star(counted: u64) -> &'static str {
    if (1..FEW).contains(&counted) { "*" } else { "" }
}

/// Describes how intervals narrow.
pub(super) fn narrowing(lines: &[BandLine], all: u64) -> String {
    let each = lines.iter().filter_map(|line| {
        let (first, last) = (line.points.first()?, line.points.last()?);
        let interval = |point: &tallyhouse_figures::BandPoint| {
            format!("{} to {}", share(point.low), share(point.high))
        };
        let end = format!("{} after {}", interval(last), puzzles(last.at as u64));
        let way = if line.points.len() == 1 {
            end
        } else {
            format!("{} after {}, {end}", interval(first), puzzles(first.at as u64))
        };
        Some(format!("{}: {way}, around a share of {}", line.label, share(last.value)))
    });
    let each: Vec<String> = each.collect();
    format!(
        "Lines with bands: the share of the first n of {} with a shape, and its 95 % interval. {}.",
        puzzles(all),
        sentence_start(&each.join("; "))
    )
}

/// Says up to where a share rests on few puzzles: the points of each line with their puzzles found.
pub(super) fn narrowing_notes(lines: &[(String, Vec<(u64, u64)>)]) -> Vec<String> {
    let few = lines.iter().filter_map(|(label, points)| {
        let &(end, found) = points.last()?;
        if found < FEW {
            let found = if found == 0 { "none".to_owned() } else { grouped(found) };
            return Some(format!("{label} throughout ({found} of {})", puzzles(end)));
        }
        let &(last, _) = points.iter().rev().find(|(_, found)| *found < FEW)?;
        Some(format!("{label} up to n\u{a0}=\u{a0}{}", grouped(last)))
    });
    let few: Vec<String> = few.collect();
    if few.is_empty() {
        return Vec::new();
    }
    vec![format!("Resting on fewer than {FEW} puzzles: {}.", few.join("; "))]
}

/// Describes the glances of a look and of its complement.
pub(super) fn paired(costs: &PairedCosts, medians: (f64, f64), ratio: &str, all: u64) -> String {
    let PairedCosts { open, naked, .. } = *costs;
    let houses = count_of(costs.costs.len() as u64, "house", "houses");
    let ratio =
        if ratio.is_empty() { String::new() } else { format!(" {}.", sentence_start(ratio)) };
    format!(
        "Two step curves: glances in the same {houses} with {open} open cells, from {}. The median is \
         {} for naked {naked} and {} for hidden {}.{ratio}",
        puzzles(all),
        glances(medians.0),
        glances(medians.1),
        open - naked
    )
}

fn glances(value: f64) -> String {
    if value.fract() == 0.0 { grouped(value as u64) } else { format!("{value:.1}") }
}

/// Describes the rulebooks of a search.
pub(super) fn frontier(all: &SearchedOrders) -> String {
    let mut best: Vec<&SearchedOrder> =
        all.orders.iter().filter(|order| order.undominated).collect();
    best.sort_by(|one, other| one.glances.total_cmp(&other.glances));
    let named = |order: &SearchedOrder| {
        format!(
            "{} ({} glances, {} fully reached)",
            order.name,
            grouped(order.glances.round().max(0.0) as u64),
            share(order.reached)
        )
    };
    let frontier = match best.as_slice() {
        [] => "None is on the frontier".to_owned(),
        [one] => format!("One is on the frontier: {}", named(one)),
        [first, .., last] => format!(
            "{} are on the frontier, where less effort costs reach, from {} to {}",
            best.len(),
            named(first),
            named(last)
        ),
    };
    format!(
        "Points: {} by mean glances per puzzle and share of {} held-out puzzles fully reached. \
         {frontier}.",
        count_of(all.orders.len() as u64, "rulebook", "rulebooks"),
        grouped(all.held_out)
    )
}
