//! What a collection is like, and how far its size carries.

use std::path::Path;

use tallyhouse_analysis::{Description, MINIMAL_PUZZLES};
use tallyhouse_census::Dataset;
use tallyhouse_figures::{
    Axis, BandChart, BandLine, BandPoint, DistributionChart, Heading, IntervalMark, Reference, Unit,
};
use tallyhouse_stats::{Level, Share};
use tallyhouse_words::{Measured, count, percent, plural, rounded, sentence_start};

use super::shares::estimate;
use super::words::{self, origin, puzzles};
use crate::ReportError;
use crate::few::FEW;
use crate::shapes;

/// Clue counts beside the published distribution of all minimal puzzles.
#[must_use]
pub fn clues(description: &Description, name: &str) -> DistributionChart {
    let weighted = description.weighted > 0;
    // Shares are all that is drawn, so any unit of weight will do that fits.
    let most = description.clues.iter().map(|row| row.weight).max().unwrap_or(0);
    let unit = if weighted { most.div_ceil(1_000_000_000_000).max(1) } else { 1_000_000 };
    let observed = description
        .clues
        .iter()
        .map(|row| (i64::from(row.clues), u64::try_from(row.weight / unit).unwrap_or(u64::MAX)));
    let observed: Vec<(i64, u64)> = observed.collect();
    let all: f64 = observed.iter().map(|&(_, count)| count as f64).sum();
    let drawn: Vec<(i64, f64)> =
        observed.iter().map(|&(clues, count)| (clues, count as f64 / all.max(1.0))).collect();
    let shares = MINIMAL_PUZZLES.percent.iter();
    let published = Reference {
        label: "all minimal puzzles (Berthier 2009)".to_owned(),
        shares: shares.map(|&(clues, percent)| (i64::from(clues), percent / 100.0)).collect(),
    };
    let how = if weighted { "share of weight" } else { "share of puzzles" };
    DistributionChart {
        heading: Heading {
            title: clues_title(description),
            subtitle: format!(
                "{}: {}; {how}.",
                sentence_start(name),
                words::puzzles(description.puzzles)
            ),
            notes: clue_notes(description),
            alt: clues_alt(description, name, &drawn),
        },
        axis_title: "clues".to_owned(),
        share_title: how.to_owned(),
        observed_label: "this collection".to_owned(),
        observed,
        references: vec![published],
    }
}

/// How the interval of a share narrows as puzzles are added, in the order of the dataset: the share
/// of puzzles that show each of these shapes.
///
/// # Errors
/// If the dataset can't be read, has no tables, or has weights or families.
pub fn narrowing(
    dataset: &Path,
    title: &str,
    shapes: &[(u8, u8)],
    level: Level,
) -> Result<BandChart, ReportError> {
    let opened = Dataset::open(dataset)?;
    let manifest = opened.manifest();
    if manifest.totals.weighted > 0 {
        return Err(ReportError::Weighted(dataset.to_owned()));
    }
    let mut hits = vec![0u64; shapes.len()];
    let mut puzzles = 0u64;
    let mut lines: Vec<Vec<BandPoint>> = vec![Vec::new(); shapes.len()];
    let mut found: Vec<Vec<(u64, u64)>> = vec![Vec::new(); shapes.len()];
    let (mut mark, mut last) = (100u64, 0);
    let mut add = |hits: &[u64], puzzles: u64| {
        for ((line, found), &hits) in lines.iter_mut().zip(&mut found).zip(hits) {
            found.push((puzzles, hits));
            if let Ok(share) = Share::new(hits, puzzles) {
                let IntervalMark { value, low, high, .. } =
                    estimate(&share.estimate(level), hits, puzzles);
                line.push(BandPoint { at: puzzles as f64, value, low, high });
            }
        }
    };
    let mut count = |found: u128| {
        puzzles += 1;
        for (hits, &(open, naked)) in hits.iter_mut().zip(shapes) {
            *hits += u64::from(found & 1 << (10 * u32::from(open) + u32::from(naked)) != 0);
        }
        if puzzles == mark {
            add(&hits, puzzles);
            last = puzzles;
            // 100, 200, 500, 1000 and so on.
            let lead = mark / 10u64.pow(mark.ilog10());
            mark = if lead == 2 { mark / 2 * 5 } else { mark * 2 };
        }
    };
    opened.parts().try_for_each(|part| opened.each_puzzle(part, &mut count))?;
    if last != puzzles {
        add(&hits, puzzles);
    }
    let label = |&(open, naked): &(u8, u8)| shapes::short(open, naked);
    let lines: Vec<BandLine> = shapes
        .iter()
        .zip(lines)
        .map(|(shape, points)| BandLine { label: label(shape), points })
        .collect();
    let found: Vec<_> = shapes.iter().map(label).zip(found).collect();
    Ok(BandChart {
        heading: Heading {
            title: narrowing_title(&lines),
            subtitle: format!(
                "{}: share of the first n of {} with at least one proper subset of the shape, with its \
                 {level} interval.",
                sentence_start(title),
                words::puzzles(puzzles)
            ),
            notes: narrowing_notes(&found),
            alt: narrowing_alt(&lines, puzzles, level),
        },
        across: Axis::log("puzzles", Unit::Number),
        up: Axis::linear("share of puzzles", Unit::Percent),
        lines,
    })
}

/// How many puzzles the rarest shape took until its interval reached no further than half its share to
/// either side; a question where it still does, or a share rests on few puzzles.
pub(super) fn narrowing_title(lines: &[BandLine]) -> String {
    let last = |line: &&BandLine| line.points.last().map_or(0.0, |point| point.value);
    let rarest = lines.iter().min_by(|one, other| last(one).total_cmp(&last(other)));
    let is_narrow = |point: &BandPoint| {
        let BandPoint { at, value, low, high } = *point;
        value * at >= FEW as f64 && low > 0.5 * value && high < 1.5 * value
    };
    let from = rarest.and_then(|line| {
        let wide = line.points.iter().rposition(|point| !is_narrow(point));
        line.points.get(wide.map_or(0, |wide| wide + 1))
    });
    match rarest.zip(from) {
        Some((line, from)) => {
            let puzzles = puzzles(from.at as u64);
            format!(
                "It takes {puzzles} to know the share of {} to within half of itself",
                line.label
            )
        }
        None => "How many puzzles does a share need?".to_owned(),
    }
}

/// The mean beside the published one.
fn clues_title(description: &Description) -> String {
    match description.mean_clues {
        Some(mean) => format!(
            "{} clues on average; all minimal puzzles have {}",
            rounded(mean.value, 3),
            rounded(MINIMAL_PUZZLES.mean, 3)
        ),
        None => "How many clues do the puzzles have?".to_owned(),
    }
}

/// Describes clue counts beside the published ones.
fn clues_alt(description: &Description, name: &str, shares: &[(i64, f64)]) -> String {
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
        percent(most / 100.0),
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
        format!("{least} to {last} clues, most often {peak} ({})", percent(of))
    };
    format!(
        "Bars: the clues of {} of {name}: {range}.{mean} {published}",
        puzzles(description.puzzles)
    )
}

/// Says what limits a collection's clue counts.
fn clue_notes(description: &Description) -> Vec<String> {
    let mut notes = origin(&description.notes);
    let loose = description.puzzles.saturating_sub(description.minimal_puzzles);
    if loose > 0 {
        notes.push(format!(
            "{} of {} {} not minimal; the published distribution is that of minimal puzzles.",
            count(loose),
            puzzles(description.puzzles),
            plural(loose, "is", "are")
        ));
    }
    notes.extend(words::few_puzzles(description.puzzles, "the shares"));
    notes
}

/// Describes how intervals narrow.
pub(super) fn narrowing_alt(lines: &[BandLine], all: u64, level: Level) -> String {
    let each = lines.iter().filter_map(|line| {
        let (first, last) = (line.points.first()?, line.points.last()?);
        let share = |&BandPoint { value, low, high, .. }: &BandPoint| Measured { value, low, high };
        let interval = |point: &BandPoint| share(point).percent_interval();
        let end = format!("{} after {}", interval(last), puzzles(last.at as u64));
        let way = if line.points.len() == 1 {
            end
        } else {
            format!("{} after {}, {end}", interval(first), puzzles(first.at as u64))
        };
        Some(format!("{}: {way}, around a share of {}", line.label, share(last).percent_value()))
    });
    let each: Vec<String> = each.collect();
    format!(
        "Lines with bands: the share of the first n of {} with a shape, and its {level} interval. {}.",
        puzzles(all),
        sentence_start(&each.join("; "))
    )
}

/// Says up to where a share rests on few puzzles: the points of each line with their puzzles found.
pub(super) fn narrowing_notes(lines: &[(String, Vec<(u64, u64)>)]) -> Vec<String> {
    let few = lines.iter().filter_map(|(label, points)| {
        let &(end, found) = points.last()?;
        if found < FEW {
            let found = if found == 0 { "none".to_owned() } else { count(found) };
            return Some(format!("{label} throughout ({found} of {})", puzzles(end)));
        }
        let &(last, _) = points.iter().rev().find(|(_, found)| *found < FEW)?;
        Some(format!("{label} up to n\u{a0}=\u{a0}{}", count(last)))
    });
    let few: Vec<String> = few.collect();
    if few.is_empty() {
        return Vec::new();
    }
    vec![format!("Resting on fewer than {FEW} puzzles: {}.", few.join("; "))]
}
