//! The model of time for each reader's structure, and which of them explains the times best.

use rayon::prelude::*;
use serde::Serialize;
use tallyhouse_engine::effort::{GlanceWeights, Learning, Reader};
use tallyhouse_stats::{
    Clusters, ENOUGH_PEOPLE, Estimate, Limits, PaceTimes, StatsError, Timed, holm,
};
use tallyhouse_words::rounded;

use super::counts::{COLUMNS, has_looks_in_a_row, rows_of};
use super::items::Items;
use super::times::Times;
use super::{TimingSettings, TimingsReport};
use crate::reader::gathers_places;
use crate::{AnalysisError, ReaderFile};

tallyhouse_words::choice! {
    /// What the counts of the rows tell of a weight.
    #[derive(Serialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Told {
        /// The weight.
        Fitted,
        /// Nothing, and the reader has no such glance.
        NoUse,
        /// Nothing: there is no such glance in any row.
        NeverCounted,
        /// Nothing: its counts go with those of others in all rows.
        GoesWithOthers,
    }
}

/// A weight of the model: seconds of a person of mean pace.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct TimeWeight {
    /// `start`, `cell`, `place` or `try`.
    pub of: &'static str,
    /// What the rows tell.
    pub told: Told,
    /// The seconds, with an interval from 8 people on.
    #[serde(flatten)]
    pub seconds: Limits,
}

/// The names of the weights, as reader files have those of glances.
const NAMES: [&str; COLUMNS] = ["start", "cell", "place", "try"];

/// How the times fit one reader's structure.
#[derive(Clone, Debug, Serialize)]
pub struct ReaderFit {
    /// The reader's name.
    pub reader: String,
    /// Why it is not judged, if it isn't.
    pub not_judged: Option<&'static str>,
    /// What beginning a look and each kind of glance take.
    pub weights: Vec<TimeWeight>,
    /// The mean square of ln(time by foretold time), people being left out of the fit in turn.
    pub error: Option<f64>,
    /// The factor by which times are typically off then.
    pub off_by: Option<f64>,
    /// By how much that is more than the best reader's, and with which interval.
    pub worse: Option<Limits>,
    /// The one-sided p-value against "not more", after Holm's correction.
    pub p: Option<f64>,
    /// The seconds that a glance takes, one of each reader's own kind on the average of these rows.
    pub seconds_a_glance: Option<f64>,
    /// The reader that was fitted, if all its weights are told.
    #[serde(skip)]
    pub fitted: Option<ReaderFile>,
    /// The error of each person who was left out, where it is known.
    #[serde(skip)]
    held_out: Vec<Option<f64>>,
}

/// Fits the structure of each built-in reader and sets them beside the best.
pub(super) fn fits(
    settings: &TimingSettings,
    times: &Times,
    items: &Items,
    source: &str,
) -> Result<Vec<ReaderFit>, AnalysisError> {
    let readers = ReaderFile::built_in_and(&[])?;
    let fits = readers.into_par_iter().map(|reader| fit(settings, times, items, source, &reader));
    let mut fits: Vec<ReaderFit> = fits.collect::<Result<_, _>>()?;
    set_beside_best(settings, &mut fits)?;
    Ok(fits)
}

fn failed(reader: &str) -> impl Fn(StatsError) -> AnalysisError + '_ {
    move |error| AnalysisError::Stats { claim: format!("times of {reader}"), error }
}

fn fit(
    settings: &TimingSettings,
    times: &Times,
    items: &Items,
    source: &str,
    reader: &ReaderFile,
) -> Result<ReaderFit, AnalysisError> {
    let Reader { learning, .. } = reader.model;
    let mut fitted = ReaderFit {
        reader: reader.name.clone(),
        not_judged: None,
        weights: Vec::new(),
        error: None,
        off_by: None,
        worse: None,
        p: None,
        seconds_a_glance: None,
        fitted: None,
        held_out: Vec::new(),
    };
    if learning == Learning::Remembered && !has_looks_in_a_row(times, items) {
        fitted.not_judged = Some("no look follows another of its kind in the same house");
        return Ok(fitted);
    }
    let rows = rows_of(times, items, learning);
    let model = PaceTimes::new(rows.clone()).map_err(failed(&reader.name))?;
    let found = model.fit();
    let intervals = model.estimates(&found, settings.level, settings.seed);
    let told = told(learning, &model, &rows);
    let weight = |column: usize| {
        let value = (told[column] == Told::Fitted).then_some(found.coefficients[column]);
        let seconds = intervals[column].map_or(Limits { value, ..Limits::default() }, Limits::from);
        TimeWeight { of: NAMES[column], told: told[column], seconds }
    };
    fitted.weights = (0..COLUMNS).map(weight).collect();
    fitted.held_out = model.held_out();
    if let Some((reader, seconds)) = fitted_reader(reader, &fitted.weights, &rows, source) {
        (fitted.fitted, fitted.seconds_a_glance) = (Some(reader), Some(seconds));
    }
    Ok(fitted)
}

fn told(
    learning: Learning,
    model: &PaceTimes<COLUMNS>,
    rows: &[Vec<Timed<COLUMNS>>],
) -> [Told; COLUMNS] {
    let are_told = model.are_told();
    let is_counted = |column: usize| rows.iter().flatten().any(|row| row.counts[column] > 0.0);
    std::array::from_fn(|column| match (are_told[column], is_counted(column)) {
        (true, _) => Told::Fitted,
        (false, true) => Told::GoesWithOthers,
        (false, false) if NAMES[column] == "place" && !gathers_places(learning) => Told::NoUse,
        (false, false) => Told::NeverCounted,
    })
}

/// Makes a reader of the weights, if all that it has a use for are told. A glance is as long as makes the
/// rows cost as many glances as for the built-in reader.
fn fitted_reader(
    reader: &ReaderFile,
    weights: &[TimeWeight],
    rows: &[Vec<Timed<COLUMNS>>],
    source: &str,
) -> Option<(ReaderFile, f64)> {
    let Reader { learning, weights: built_in } = reader.model;
    let seconds = |column: usize| weights[column].seconds.value;
    let start = seconds(0);
    let [cell, try_] = [seconds(1)?, seconds(3)?];
    let place = if gathers_places(learning) { seconds(2)? } else { 0.0 };
    let sum = |weights: [f64; 3]| {
        let row = |row: &Timed<COLUMNS>| {
            weights.iter().zip(&row.counts[1..]).map(|(weight, count)| weight * count).sum::<f64>()
        };
        rows.iter().flatten().map(row).sum::<f64>()
    };
    let glances = sum([built_in.cell(), built_in.place(), built_in.try_()]);
    let glance = sum([cell, place, try_]) / glances;
    if !(glance > 0.0 && glance.is_finite()) {
        return None;
    }
    // A reader's weights have six decimals and are above 0.
    let weight = |seconds: f64| ((seconds / glance * 1e6).round() / 1e6).clamp(1e-6, 1e6);
    let place = if gathers_places(learning) { weight(place) } else { 1.0 };
    let weights = GlanceWeights::new(weight(cell), place, weight(try_)).ok()?;
    let name = &reader.name;
    let file = ReaderFile {
        name: format!("{name}-fitted"),
        title: format!("As {name}, fitted to times of people"),
        source: source.to_owned(),
        note: Some(format!(
            "A glance is {} seconds of a person of mean pace. To begin a look took {} seconds, which \
             a reader has no place for.",
            rounded(glance, 2),
            start.map_or_else(|| "an unknown number of".to_owned(), |start| rounded(start, 2)),
        )),
        model: Reader { learning, weights },
    };
    Some((file, glance))
}

/// Finds the reader whose foretold times are off least, and how much more the others are.
fn set_beside_best(settings: &TimingSettings, fits: &mut [ReaderFit]) -> Result<(), AnalysisError> {
    for fit in &mut *fits {
        let known: Vec<f64> = fit.held_out.iter().copied().flatten().collect();
        fit.error = (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64);
        fit.off_by = fit.error.map(|error| error.sqrt().exp());
    }
    let Some(best) = best(fits).map(|best| (best.reader.clone(), best.held_out.clone())) else {
        return Ok(());
    };
    let mut compared = Vec::new();
    for (at, fit) in fits.iter_mut().enumerate() {
        let is_other = fit.reader != best.0 && fit.error.is_some();
        let people = best.1.iter().flatten().count();
        if !is_other || people < ENOUGH_PEOPLE {
            continue;
        }
        let mut sums = Clusters::<3>::default();
        for (ours, of_best) in fit.held_out.iter().zip(&best.1) {
            if let (Some(ours), Some(of_best)) = (ours, of_best) {
                sums.add([millionths(*ours), millionths(*of_best), 1_000_000]);
            }
        }
        // Where all are alike, nothing tells the two apart.
        let difference = Estimate::if_known(sums.difference(settings.level));
        let Some(difference) = difference.map_err(failed(&fit.reader))? else { continue };
        let p = difference.p_value_above(0.0).map_err(failed(&fit.reader))?;
        fit.worse = Some(difference.into());
        compared.push((at, p));
    }
    let p_values: Vec<f64> = compared.iter().map(|(_, p)| *p).collect();
    let adjusted = holm(&p_values).map_err(failed("all readers"))?;
    for ((at, _), p) in compared.into_iter().zip(adjusted) {
        fits[at].p = Some(p);
    }
    Ok(())
}

/// Exact sums need whole numbers.
fn millionths(number: f64) -> i128 {
    (number * 1e6).round() as i128
}

/// Returns the reader whose foretold times are off least; of equal ones the first.
fn best(fits: &[ReaderFit]) -> Option<&ReaderFit> {
    let judged = fits.iter().filter(|fit| fit.error.is_some());
    judged.min_by(|a, b| a.error.unwrap_or_default().total_cmp(&b.error.unwrap_or_default()))
}

impl TimingsReport {
    /// Returns the reader whose foretold times are off least.
    #[must_use]
    pub fn best(&self) -> Option<&ReaderFit> {
        best(&self.readers)
    }

    /// Returns the other readers that the times can't tell from the best.
    pub fn as_good(&self) -> impl Iterator<Item = &ReaderFit> {
        let best = self.best().map(|best| best.reader.as_str());
        let error_rate = self.level.error_rate();
        let is_told = move |fit: &&ReaderFit| fit.p.is_some_and(|p| p <= error_rate);
        self.readers.iter().filter(move |fit| {
            fit.error.is_some() && Some(fit.reader.as_str()) != best && !is_told(fit)
        })
    }
}
