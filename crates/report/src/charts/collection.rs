//! What a collection is like, and how far its size carries.

use std::path::Path;

use tallyhouse_analysis::{Description, MINIMAL_PUZZLES};
use tallyhouse_census::{each_cluster, manifest};
use tallyhouse_figures::{
    Axis, BandChart, BandLine, BandPoint, DistributionChart, Heading, IntervalMark, Reference,
    Spread, Unit,
};
use tallyhouse_stats::{Level, Share};

use super::error::ChartError;
use super::shares::estimate;
use super::words;

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
            title: "How many clues the puzzles have".to_owned(),
            subtitle: vec![format!("{} of {name}; {how}.", words::puzzles(description.puzzles))],
            notes: words::clue_notes(description),
            alt: words::clues(description, name, &drawn),
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
    shapes: &[(u8, u8)],
    level: Level,
) -> Result<BandChart, ChartError> {
    let manifest = manifest(dataset)?;
    if manifest.totals.weighted > 0 {
        return Err(ChartError::Weighted(dataset.to_owned()));
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
    each_cluster(dataset, &mut |cluster| {
        puzzles += 1;
        for (hits, &(open, naked)) in hits.iter_mut().zip(shapes) {
            *hits += u64::from(cluster.shapes[usize::from(open)][usize::from(naked)] > 0);
        }
        if puzzles == mark {
            add(&hits, puzzles);
            last = puzzles;
            // 100, 200, 500, 1000 and so on.
            let lead = mark / 10u64.pow(mark.ilog10());
            mark = if lead == 2 { mark / 2 * 5 } else { mark * 2 };
        }
    })?;
    if last != puzzles {
        add(&hits, puzzles);
    }
    let label = |&(open, naked): &(u8, u8)| format!("{open} open, naked {naked}");
    let lines: Vec<BandLine> = shapes
        .iter()
        .zip(lines)
        .map(|(shape, points)| BandLine { label: label(shape), points })
        .collect();
    let found: Vec<_> = shapes.iter().map(label).zip(found).collect();
    let mut notes = words::narrowing_notes(&found);
    notes.extend(words::origin(&manifest.collection.notes));
    Ok(BandChart {
        heading: Heading {
            title: "How the interval of a rate narrows".to_owned(),
            subtitle: vec![format!(
                "Share of the first n of {} with at least one proper subset of the shape, with its \
                 {level} interval.",
                words::puzzles(puzzles)
            )],
            notes,
            alt: words::narrowing(&lines, puzzles),
        },
        across: Axis { title: "puzzles".to_owned(), spread: Spread::Log, unit: Unit::Number },
        up: Axis {
            title: "share of puzzles".to_owned(),
            spread: Spread::Linear,
            unit: Unit::Percent,
        },
        lines,
        threshold: None,
    })
}
