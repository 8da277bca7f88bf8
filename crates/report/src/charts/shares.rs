//! Shares of puzzles with their intervals: shapes by collection, and what rulebooks leave.

use std::ops::RangeInclusive;
use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::{BookReport, JudgeReport, MissedShape, Occurrence, Verdict};
use tallyhouse_census::CensusError;
use tallyhouse_figures::{
    Axis, Heading, IntervalChart, IntervalMark, IntervalRow, ReferenceLine, Unit,
};
use tallyhouse_stats::{Estimate, Interval, Level, Threshold};
use tallyhouse_words::{
    Measured, count, counted, exact_percent, list, mid_sentence, number_range, plural,
    sentence_start,
};

use super::folder::check;
use super::possible_shapes;
use super::words::{self, puzzles};
use crate::ReportError;
use crate::few::{hollow_note, is_few};
use crate::shapes;

pub(super) fn estimate(from: &tallyhouse_stats::Estimate, hits: u64, of: u64) -> IntervalMark {
    IntervalMark {
        count: hits,
        of,
        label: if hits == 0 { format!("none of {}", count(of)) } else { count(hits) },
        value: from.value,
        low: from.interval.low,
        high: from.interval.high,
        is_few: is_few(hits, Some(from.interval.low)),
    }
}

/// Names houses of these open counts; nothing where they are all.
pub(crate) fn opens_in_words(opens: &RangeInclusive<u8>) -> Option<String> {
    let [from, to] = [*opens.start(), *opens.end()];
    (from > 4 || to < 9).then(|| format!("houses with {} open cells", number_range(from, to)))
}

/// The share of puzzles that show each shape of these open counts, collection by collection.
#[must_use]
pub fn comparison(
    collections: &[(String, u64, Occurrence)],
    opens: RangeInclusive<u8>,
    level: Level,
) -> IntervalChart {
    let shapes = possible_shapes().filter(|(open, _)| opens.contains(open));
    let rows = shapes.map(|(open, naked)| IntervalRow {
        label: shapes::short(open, naked),
        estimates: collections
            .iter()
            .map(|(_, puzzles, occurrence)| {
                let shape = occurrence.shape(open, naked)?;
                shape.share.as_ref().map(|share| estimate(share, shape.puzzles, *puzzles))
            })
            .collect(),
    });
    let rows: Vec<IntervalRow> = rows.collect();
    let named = |(name, puzzles, occurrence): &(String, u64, Occurrence)| {
        format!("{name} ({})", words::puzzles_in(*puzzles, occurrence.units))
    };
    // A single series has no key.
    let of = match collections {
        [only] => format!("Share of the puzzles of {}", named(only)),
        _ => "Share of puzzles".to_owned(),
    };
    let names: Vec<(&str, u64)> =
        collections.iter().map(|(name, puzzles, _)| (name.as_str(), *puzzles)).collect();
    let beside = vec!["At the right: puzzles that show the shape.".to_owned()];
    let mut notes = none_notes(&rows);
    for (name, puzzles, _) in collections {
        notes.extend(words::few_puzzles(*puzzles, &format!("the shares of {name}")));
    }
    IntervalChart {
        heading: Heading {
            title: comparison_title(collections, &rows),
            subtitle: format!(
                "{of} with a proper subset of the shape{}, with {level} intervals{}.",
                opens_in_words(&opens).map_or_else(String::new, |opens| format!(" in {opens}")),
                by_weight(collections.iter().any(|(.., occurrence)| occurrence.weighted))
            ),
            notes,
            alt: comparison_alt(&names, &rows),
        },
        axis: Axis::log("share of puzzles", Unit::Percent),
        series: collections.iter().map(named).collect(),
        sides: false,
        looks_from: 0,
        rows,
        threshold: None,
        ways: None,
        worth: Vec::new(),
        beside,
    }
}

/// Which collection shows subsets less often than all others, where the intervals of nearly all shapes that
/// all show often enough are clear of theirs; a question where none does.
fn comparison_title(collections: &[(String, u64, Occurrence)], rows: &[IntervalRow]) -> String {
    let is_told = |row: &&IntervalRow| {
        let told = sure(row).estimates;
        told.iter().all(|mark| mark.as_ref().is_some_and(|mark| mark.count > 0))
    };
    let told: Vec<&IntervalRow> = rows.iter().filter(is_told).collect();
    // How many times as often the others show a shape, at least.
    let times = |series: usize| {
        let of = |row: &&IntervalRow| {
            let marks = row.estimates.iter().flatten().enumerate();
            let others = marks.filter(|(other, _)| *other != series).map(|(_, mark)| mark.low);
            let here = row.estimates[series].as_ref().map_or(f64::INFINITY, |mark| mark.high);
            others.fold(f64::INFINITY, f64::min) / here
        };
        told.iter().map(of).fold(f64::INFINITY, f64::min)
    };
    let enough = collections.len() > 1 && 4 * told.len() >= 3 * rows.len();
    let least = (0..collections.len()).filter(|_| enough).find(|&series| times(series) > 1.0);
    match least {
        Some(series) => {
            let less = if times(series) > 2.0 { "less than half as" } else { "less" };
            let than = if times(series) > 2.0 { "as" } else { "than" };
            // What follows a comma says how they are counted.
            let name = |index: usize| collections[index].0.split(", ").next().unwrap_or_default();
            let others = match collections.len() {
                2 => mid_sentence(name(1 - series)),
                _ => "the others".to_owned(),
            };
            format!("{} show subsets {less} often {than} {others}", name(series))
        }
        None => "How many puzzles show each shape?".to_owned(),
    }
}

/// What a rulebook leaves: for each shape the puzzles with a proper subset at its end position.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftShapes {
    /// The name of the rulebook.
    pub name: String,
    /// The title of the rulebook.
    pub rulebook: String,
    /// What the puzzles are a sample of.
    pub population: String,
    /// All puzzles.
    pub puzzles: u64,
    /// How many independent units these are: families, and puzzles without one.
    pub units: u64,
    /// Whether puzzles count by weight.
    pub weighted: bool,
    /// The level of the intervals.
    pub level: Level,
    /// The shapes.
    pub shapes: Vec<LeftShape>,
    /// The shares that verdicts rest on.
    pub judged: Vec<JudgedShare>,
}

/// A share of puzzles that a verdict on a rulebook rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JudgedShare {
    /// What is shared, after the words "share of puzzles in which RULEBOOK".
    pub words: String,
    /// How many puzzles, whatever they weigh.
    pub puzzles: u64,
    /// Their share, by weight where puzzles carry weights.
    pub share: f64,
    /// The ends of its interval.
    pub ends: [f64; 2],
    /// The share below which the claim says it lies.
    pub below: f64,
}

/// What is read of a verdict.
#[derive(Deserialize)]
struct VerdictRow {
    rulebook: Option<String>,
    measure: String,
    threshold: Threshold,
    estimate: Option<Estimate>,
    count: Option<u64>,
    all_units: u64,
}

impl VerdictRow {
    /// Returns how many independent units all puzzles are; each counts as one where no verdict tells.
    fn units(rows: &[Self], puzzles: u64) -> u64 {
        rows.first().map_or(puzzles, |row| row.all_units)
    }

    /// Returns the share that the verdict rests on, if it is about what this rulebook leaves.
    fn on(&self, name: &str) -> Option<JudgedShare> {
        let Threshold::Below(below) = self.threshold else { return None };
        if self.rulebook.as_deref() != Some(name) {
            return None;
        }
        let words = self.measure.strip_prefix(&format!("share of puzzles in which {name} "))?;
        let estimate = self.estimate?;
        Some(JudgedShare {
            words: words.to_owned(),
            puzzles: self.count?,
            share: estimate.value,
            ends: [estimate.interval.low, estimate.interval.high],
            below,
        })
    }
}

impl From<&Verdict> for VerdictRow {
    fn from(verdict: &Verdict) -> Self {
        Self {
            rulebook: verdict.rulebook.clone(),
            measure: verdict.measure.clone(),
            threshold: verdict.threshold,
            estimate: verdict.estimate,
            count: verdict.counts.as_ref().map(|counts| counts.count),
            all_units: verdict.all_units,
        }
    }
}

impl JudgedShare {
    fn mark(&self, of: u64) -> IntervalMark {
        let (value, [low, high]) = (self.share, self.ends);
        IntervalMark {
            count: self.puzzles,
            of,
            label: share_label(self.puzzles, value, low, high),
            value,
            low,
            high,
            is_few: is_few(self.puzzles, Some(low)),
        }
    }
}

/// Writes a share with its interval.
fn share_label(puzzles: u64, value: f64, low: f64, high: f64) -> String {
    if puzzles == 0 {
        return "none".to_owned();
    }
    Measured { value, low, high }.percent()
}

/// The puzzles in which a rulebook leaves a shape; a row of `missed-shares.csv`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftShape {
    /// The open count.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// How many puzzles, whatever they weigh.
    pub puzzles: u64,
    /// Their share, by weight where puzzles carry weights; none if no interval can be given.
    pub share: Option<f64>,
    /// The lower limit of the share.
    pub low: Option<f64>,
    /// The upper limit of the share.
    pub high: Option<f64>,
}

impl LeftShape {
    fn mark(&self, of: u64) -> Option<IntervalMark> {
        let (value, low, high) = (self.share?, self.low?, self.high?);
        let label = share_label(self.puzzles, value, low, high);
        let is_few = is_few(self.puzzles, Some(low));
        Some(IntervalMark { count: self.puzzles, of, label, value, low, high, is_few })
    }
}

impl From<&MissedShape> for LeftShape {
    fn from(shape: &MissedShape) -> Self {
        let MissedShape { open, naked, puzzles, share, .. } = *shape;
        let limit = |of: fn(&Interval) -> f64| share.map(|share| of(&share.interval));
        Self {
            open,
            naked,
            puzzles,
            share: share.map(|share| share.value),
            low: limit(|interval| interval.low),
            high: limit(|interval| interval.high),
        }
    }
}

impl LeftShapes {
    /// Takes what the rulebooks of a trial leave from its report.
    #[must_use]
    pub fn of_report(report: &JudgeReport) -> Vec<Self> {
        let verdicts: Vec<VerdictRow> = report.verdicts.iter().map(Into::into).collect();
        let book = |book: &BookReport| Self {
            name: book.rulebook.name().to_owned(),
            rulebook: book.rulebook.title().to_owned(),
            population: report.population.clone(),
            puzzles: book.puzzles,
            units: VerdictRow::units(&verdicts, book.puzzles),
            weighted: report.totals.weighted > 0,
            level: report.level,
            shapes: book.missed.iter().map(Into::into).collect(),
            judged: verdicts.iter().filter_map(|row| row.on(book.rulebook.name())).collect(),
        };
        report.books.iter().map(book).collect()
    }

    fn of(&self, open: u8, naked: u8) -> Option<&LeftShape> {
        self.shapes.iter().find(|shape| (shape.open, shape.naked) == (open, naked))
    }

    fn leaves(&self, open: u8, naked: u8) -> bool {
        self.of(open, naked).is_some_and(|shape| shape.puzzles > 0)
    }

    /// Tests if the definitions say that a shape is never left: then it has no share.
    fn can_not_leave(&self, (open, naked): (u8, u8)) -> bool {
        self.of(open, naked).is_some_and(|shape| shape.puzzles == 0 && shape.share.is_none())
    }

    fn leaves_any(&self) -> bool {
        self.shapes.iter().any(|shape| shape.puzzles > 0)
    }

    /// Reads what the rulebooks of a trial leave from its folder.
    ///
    /// # Errors
    /// If the folder holds no whole trial.
    pub fn of_trial(folder: &Path) -> Result<Vec<Self>, ReportError> {
        let manifest = folder.join("manifest.json");
        check(folder)?;
        let damaged = |path: &Path, reason: &str| {
            ReportError::from(CensusError::Damaged {
                path: path.to_owned(),
                reason: reason.to_owned(),
            })
        };
        let text = std::fs::read_to_string(&manifest)
            .map_err(|error| damaged(&manifest, &error.to_string()))?;
        let value: serde_json::Value =
            serde_json::from_str(&text).map_err(|error| damaged(&manifest, &error.to_string()))?;
        let totals = &value["totals"];
        let (puzzles, weighted) = (totals["puzzles"].as_u64(), totals["weighted"].as_u64());
        let population = value["population"].as_str();
        let level = value["level"].as_f64().and_then(|level| Level::percent(level).ok());
        let (Some(puzzles), Some(population), Some(level), Some(books)) =
            (puzzles, population, level, value["rulebooks"].as_array())
        else {
            return Err(damaged(&manifest, "it is not that of a trial of this version"));
        };
        let names = books.iter().filter_map(|book| {
            let name = book["name"].as_str()?;
            Some((name, book["title"].as_str().unwrap_or(name)))
        });
        let path = folder.join("verdicts.json");
        let text =
            std::fs::read_to_string(&path).map_err(|error| damaged(&path, &error.to_string()))?;
        let verdicts: Vec<VerdictRow> =
            serde_json::from_str(&text).map_err(|error| damaged(&path, &error.to_string()))?;
        let read = |(name, title): (&str, &str)| {
            let path = folder.join(name).join("missed-shares.csv");
            let mut reader = csv::Reader::from_path(&path)
                .map_err(|error| damaged(&path, &error.to_string()))?;
            let shapes = reader.deserialize().collect::<Result<_, _>>();
            let shapes = shapes.map_err(|error| damaged(&path, &error.to_string()))?;
            Ok(Self {
                name: name.to_owned(),
                rulebook: title.to_owned(),
                population: population.to_owned(),
                puzzles,
                units: VerdictRow::units(&verdicts, puzzles),
                weighted: weighted.is_some_and(|weighted| weighted > 0),
                level,
                shapes,
                judged: verdicts.iter().filter_map(|row| row.on(name)).collect(),
            })
        };
        names.map(read).collect()
    }
}

/// The share of puzzles in which each rulebook leaves subsets of a shape; `None` if none leaves any.
#[must_use]
pub fn missed(books: &[LeftShapes]) -> Option<IntervalChart> {
    let drawn: Vec<(u8, u8)> = possible_shapes()
        .filter(|&(open, naked)| books.iter().any(|book| book.leaves(open, naked)))
        .collect();
    let short: Vec<&LeftShapes> = books.iter().filter(|book| book.leaves_any()).collect();
    let LeftShapes { population, puzzles, units, weighted, level, .. } = *short.first()?;
    let rows = drawn.iter().map(|&(open, naked)| IntervalRow {
        label: shapes::short(open, naked),
        estimates: short
            .iter()
            .map(|book| book.of(open, naked).and_then(|shape| shape.mark(book.puzzles)))
            .collect(),
    });
    let mut rows: Vec<IntervalRow> = rows.collect();
    let title = missed_title(&short, &rows);
    let alt = missed_alt(&short, &rows);
    // What verdicts rest on stands first, with the line that they go by.
    let judged = short.iter().enumerate().flat_map(|(series, book)| {
        let row = |judged: &JudgedShare| {
            let mut estimates = vec![None; short.len()];
            estimates[series] = Some(judged.mark(book.puzzles));
            IntervalRow { label: judged.words.clone(), estimates }
        };
        book.judged.iter().map(row).collect::<Vec<_>>()
    });
    rows.splice(0..0, judged.collect::<Vec<_>>());
    let mut limits: Vec<f64> =
        short.iter().flat_map(|book| &book.judged).map(|judged| judged.below).collect();
    limits.dedup();
    let threshold = match limits.as_slice() {
        &[value] => {
            Some(ReferenceLine { value, label: format!("claim: below {}", exact_percent(value)) })
        }
        _ => None,
    };
    // A single series has no key.
    let walk = match short.as_slice() {
        [only] => format!("the walk of {}", only.rulebook),
        _ => "the rulebook's walk".to_owned(),
    };
    let beside = vec!["At the right: the share with its interval.".to_owned()];
    let mut notes = none_notes(&rows);
    if short.iter().any(|book| drawn.iter().any(|&shape| book.can_not_leave(shape))) {
        notes.push("No mark: by the definitions the rulebook can't leave the shape.".to_owned());
    }
    let told = short.iter().filter(|book| !book.judged.is_empty());
    let told: Vec<&str> = told.map(|book| book.rulebook.as_str()).collect();
    if !told.is_empty() && told.len() < short.len() {
        notes.push(format!("What a claim says of {} is drawn for no other.", list(told)));
    }
    notes.extend(complete_books(books));
    notes.extend(words::few_puzzles(*puzzles, "the shares"));
    // Collections take their looks from the front. A single series has no key, and so no meaning.
    let looks_from = match short.len() {
        1 => 0,
        books => tallyhouse_figures::MOST_SERIES.saturating_sub(books),
    };
    Some(IntervalChart {
        heading: Heading {
            title,
            subtitle: format!(
                "{}: share of {} with a proper subset of the shape at the end of {walk}, with {level} \
                 intervals{}.",
                sentence_start(population),
                words::puzzles_in(*puzzles, *units),
                by_weight(*weighted)
            ),
            notes,
            alt,
        },
        axis: Axis::log("share of puzzles", Unit::Percent),
        series: short.iter().map(|book| book.rulebook.clone()).collect(),
        sides: false,
        looks_from,
        rows,
        threshold,
        ways: None,
        worth: Vec::new(),
        beside,
    })
}

/// What a single rulebook leaves most often; a question where there are several.
fn missed_title(short: &[&LeftShapes], rows: &[IntervalRow]) -> String {
    match (short, largest(rows, 0)) {
        ([only], Some((row, most))) if !most.is_few => {
            format!("{} most often leaves {row}", only.rulebook)
        }
        _ => "Which subsets do rulebooks leave at the end?".to_owned(),
    }
}

fn largest(rows: &[IntervalRow], series: usize) -> Option<(&str, &IntervalMark)> {
    let measured = rows.iter().filter_map(|row| {
        let estimate = row.estimates.get(series)?.as_ref()?;
        Some((row.label.as_str(), estimate))
    });
    measured.reduce(|most, next| if next.1.value > most.1.value { next } else { most })
}

fn with_interval(estimate: &IntervalMark) -> String {
    let IntervalMark { count: hits, of, value, low, high, .. } = *estimate;
    let share = Measured { value, low, high };
    format!(
        "{} of {}, {} ({})",
        count(hits),
        puzzles(of),
        share.percent_value(),
        share.percent_interval()
    )
}

/// Keeps what was looked for in vain and what rests on enough puzzles and has a lower end.
fn sure(row: &IntervalRow) -> IntervalRow {
    let is_sure = |mark: &IntervalMark| !mark.is_few;
    let estimates = row.estimates.iter().map(|mark| mark.clone().filter(is_sure));
    IntervalRow { label: row.label.clone(), estimates: estimates.collect() }
}

/// Describes collections beside each other.
fn comparison_alt(collections: &[(&str, u64)], rows: &[IntervalRow]) -> String {
    // What rests on few, or has no lower end, ranks nothing.
    let shows_any = |series: usize| {
        rows.iter().filter_map(|row| row.estimates[series].as_ref()).any(|mark| mark.count > 0)
    };
    let sure: Vec<IntervalRow> = rows.iter().map(sure).collect();
    let most =
        collections.iter().enumerate().map(|(series, (name, all))| match largest(&sure, series) {
            Some((_, estimate)) if estimate.count == 0 && !shows_any(series) => {
                format!("in {name} no shape shows in {}", puzzles(*all))
            }
            Some((row, estimate)) if estimate.count > 0 => {
                format!("in {name} {row} ({})", with_interval(estimate))
            }
            _ => format!("in {name} nothing was measured ({})", puzzles(*all)),
        });
    let most: Vec<String> = most.collect();
    format!(
        "Dots with intervals: the share of puzzles that show each of {}. Most frequent: {}.",
        counted(rows.len() as u64, "shape", "shapes"),
        most.join("; ")
    )
}

/// Describes what rulebooks leave.
fn missed_alt(short: &[&LeftShapes], rows: &[IntervalRow]) -> String {
    let most = short.iter().enumerate().filter_map(|(series, book)| {
        let (row, estimate) = largest(rows, series)?;
        let left = rows.iter().filter(|row| {
            let estimate = row.estimates.get(series).and_then(Option::as_ref);
            estimate.is_some_and(|estimate| estimate.count > 0)
        });
        Some(format!(
            "rulebook {} leaves {}, most often {row} ({})",
            book.rulebook,
            counted(left.count() as u64, "shape", "shapes"),
            with_interval(estimate)
        ))
    });
    let most: Vec<String> = most.collect();
    format!(
        "Dots with intervals: the share of puzzles in which a rulebook leaves a proper subset, by \
         shape. {}.",
        sentence_start(&most.join("; "))
    )
}

fn by_weight(is_so: bool) -> &'static str {
    if is_so { ", by weight where puzzles carry weights" } else { "" }
}

/// Says what a mark stands for where nothing was found, or little.
fn none_notes(rows: &[IntervalRow]) -> Vec<String> {
    let estimates = || rows.iter().flat_map(|row| row.estimates.iter().flatten());
    let mut notes = Vec::new();
    if estimates().any(|estimate| estimate.count == 0) {
        notes.push("None: looked for but not seen, which is not never.".to_owned());
    }
    if estimates().any(|estimate| estimate.is_few) {
        notes.push(hollow_note());
    }
    if estimates().any(|estimate| estimate.low == 0.0) {
        notes.push("An arrow: the share is at most that.".to_owned());
    }
    notes
}

/// Names the rulebooks that leave nothing, which have no marks.
fn complete_books(books: &[LeftShapes]) -> Option<String> {
    let complete = books.iter().filter(|book| !book.leaves_any());
    let names: Vec<&str> = complete.map(|book| book.rulebook.as_str()).collect();
    let them = plural(names.len() as u64, "leaves", "leave");
    (!names.is_empty()).then(|| format!("Not drawn: {}, which {them} nothing.", list(names)))
}
