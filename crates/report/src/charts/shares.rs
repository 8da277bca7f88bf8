//! Shares of puzzles with their intervals: shapes by collection, and what rulebooks leave.

use std::path::Path;

use tallyhouse_analysis::{BookReport, ShapeShare};
use tallyhouse_census::CensusError;
use tallyhouse_figures::{Axis, Heading, IntervalChart, IntervalMark, IntervalRow, Spread, Unit};
use tallyhouse_stats::{Level, Share};

use super::error::ChartError;
use super::possible_shapes;
use super::words;
use crate::numbers::grouped;

pub(super) fn estimate(from: &tallyhouse_stats::Estimate, count: u64, of: u64) -> IntervalMark {
    let label = match count {
        0 => format!("none of {}", grouped(of)),
        _ => grouped(count) + words::star(count),
    };
    IntervalMark {
        count,
        of,
        label,
        value: from.value,
        low: from.interval.low,
        high: from.interval.high,
    }
}

/// The share of puzzles that show each shape, collection by collection.
#[must_use]
pub fn comparison(collections: &[(String, u64, Vec<ShapeShare>)]) -> IntervalChart {
    let rows = possible_shapes().map(|(open, naked)| IntervalRow {
        label: words::row(open, naked),
        estimates: collections
            .iter()
            .map(|(_, puzzles, shares)| {
                let shape = shares.iter().find(|s| (s.open, s.naked) == (open, naked))?;
                shape.share.as_ref().map(|share| estimate(share, shape.puzzles, *puzzles))
            })
            .collect(),
    });
    let rows: Vec<IntervalRow> = rows.collect();
    let named = |(name, puzzles, _): &(String, u64, Vec<ShapeShare>)| {
        format!("{name} ({})", words::puzzles(*puzzles))
    };
    // A single series has no key.
    let of = match collections {
        [only] => format!("Share of the puzzles of {}", named(only)),
        _ => "Share of puzzles".to_owned(),
    };
    let names: Vec<(&str, u64)> =
        collections.iter().map(|(name, puzzles, _)| (name.as_str(), *puzzles)).collect();
    let mut notes = words::interval_notes(&rows, "puzzles that show the shape");
    for (name, puzzles, _) in collections {
        notes.extend(words::few_puzzles(*puzzles, &format!("the shares of {name}")));
    }
    IntervalChart {
        heading: Heading {
            title: "Puzzles that show each shape".to_owned(),
            subtitle: vec![format!(
                "{of} with at least one proper subset of the shape (open cells: naked side | hidden \
                 side), with 95 % intervals; by weight where puzzles carry weights."
            )],
            notes,
            alt: words::comparison(&names, &rows),
        },
        axis: Axis {
            title: "share of puzzles".to_owned(),
            spread: Spread::Log,
            unit: Unit::Percent,
        },
        series: collections.iter().map(named).collect(),
        rows,
        threshold: None,
    }
}

/// What a rulebook leaves: for each shape the puzzles with a proper subset at its end position.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftShapes {
    /// The title of the rulebook.
    pub rulebook: String,
    /// All puzzles.
    pub puzzles: u64,
    /// Open count, naked size and puzzles.
    pub shapes: Vec<(u8, u8, u64)>,
}

impl From<&BookReport> for LeftShapes {
    fn from(book: &BookReport) -> Self {
        let shapes = book.missed.iter().map(|shape| (shape.open, shape.naked, shape.puzzles));
        Self {
            rulebook: book.rulebook.title().to_owned(),
            puzzles: book.puzzles,
            shapes: shapes.collect(),
        }
    }
}

impl LeftShapes {
    fn of(&self, open: u8, naked: u8) -> u64 {
        let shape = self.shapes.iter().find(|shape| (shape.0, shape.1) == (open, naked));
        shape.map_or(0, |shape| shape.2)
    }

    /// Reads what the rulebooks of a trial leave from its folder.
    ///
    /// # Errors
    /// If the folder holds no whole trial.
    pub fn of_trial(folder: &Path) -> Result<Vec<Self>, ChartError> {
        let manifest = folder.join("manifest.json");
        let damaged = |path: &Path, reason: &str| {
            ChartError::from(CensusError::Damaged {
                path: path.to_owned(),
                reason: reason.to_owned(),
            })
        };
        let text = std::fs::read_to_string(&manifest)
            .map_err(|error| damaged(&manifest, &error.to_string()))?;
        let value: serde_json::Value =
            serde_json::from_str(&text).map_err(|error| damaged(&manifest, &error.to_string()))?;
        let puzzles = value["totals"]["puzzles"].as_u64();
        let (Some(puzzles), Some(books)) = (puzzles, value["rulebooks"].as_array()) else {
            return Err(damaged(&manifest, "it is not that of a trial"));
        };
        let names = books.iter().filter_map(|book| {
            let name = book["name"].as_str()?;
            Some((name, book["title"].as_str().unwrap_or(name)))
        });
        let read = |(name, title): (&str, &str)| {
            let path = folder.join(name).join("missed.csv");
            let mut reader = csv::Reader::from_path(&path)
                .map_err(|error| damaged(&path, &error.to_string()))?;
            let shapes = reader.deserialize::<(u8, u8, u8, u64, u64, u64)>().map(|row| {
                let (open, naked, .., puzzles) =
                    row.map_err(|error| damaged(&path, &error.to_string()))?;
                Ok((open, naked, puzzles))
            });
            let shapes = shapes.collect::<Result<_, ChartError>>()?;
            Ok(Self { rulebook: title.to_owned(), puzzles, shapes })
        };
        names.map(read).collect()
    }
}

/// The share of puzzles in which each rulebook leaves subsets of a shape; `None` if none leaves any.
#[must_use]
pub fn missed(books: &[LeftShapes], level: Level) -> Option<IntervalChart> {
    let shapes: Vec<(u8, u8)> = possible_shapes()
        .filter(|&(open, naked)| books.iter().any(|book| book.of(open, naked) > 0))
        .collect();
    let short: Vec<&LeftShapes> =
        books.iter().filter(|book| book.shapes.iter().any(|shape| shape.2 > 0)).collect();
    let puzzles = short.first()?.puzzles;
    let rows = shapes.into_iter().map(|(open, naked)| IntervalRow {
        label: words::row(open, naked),
        estimates: short
            .iter()
            .map(|book| {
                let left = book.of(open, naked);
                let share = Share::new(left, book.puzzles).ok()?;
                Some(estimate(&share.estimate(level), left, book.puzzles))
            })
            .collect(),
    });
    let rows: Vec<IntervalRow> = rows.collect();
    // A single series has no key.
    let walk = match short.as_slice() {
        [only] => format!("the walk of {}", only.rulebook),
        _ => "the rulebook's walk".to_owned(),
    };
    let mut notes = words::interval_notes(&rows, "puzzles in which the shape is left");
    notes.extend(words::complete_books(books));
    notes.extend(words::few_puzzles(puzzles, "the shares"));
    Some(IntervalChart {
        heading: Heading {
            title: "What rulebooks leave".to_owned(),
            subtitle: vec![format!(
                "Share of {} with a proper subset of the shape (open cells: naked side | hidden side) \
                 at the end of {walk}, with {level} intervals.",
                words::puzzles(puzzles)
            )],
            notes,
            alt: words::missed(&short, &rows),
        },
        axis: Axis {
            title: "share of puzzles".to_owned(),
            spread: Spread::Log,
            unit: Unit::Percent,
        },
        series: short.iter().map(|book| book.rulebook.clone()).collect(),
        rows,
        threshold: None,
    })
}
