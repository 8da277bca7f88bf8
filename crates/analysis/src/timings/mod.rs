//! Times of people for the items of a worksheet, and the readers that they are like.
//!
//! seconds = pace(person) · (start + w₁·cells seen + w₂·places gathered + w₃·tries), with a mean pace of
//! 1 and no weight below 0, on items of one look in one house. The counts are those of the effort model
//! in that house at that quiet position; a search that ended without a find counts to its end.

mod counts;
mod fit;
mod items;
mod rows;
mod text;
mod times;

use std::path::Path;

use serde::Serialize;
use tallyhouse_collection::Rejects;
use tallyhouse_stats::{ENOUGH_PEOPLE, Level};
use tallyhouse_words::counted;

pub use fit::{ReaderFit, TimeWeight, Told};
pub use times::LeftOut;

use crate::{AnalysisError, number_field, to_csv};
use items::Items;
use times::Times;

/// From so many different items on, no warning is given: three for each weight of the model.
const ENOUGH_ITEMS: u64 = 12;

/// How times are judged.
#[derive(Clone, Copy, Debug)]
pub struct TimingSettings {
    /// The level of all intervals.
    pub level: Level,
    /// Decides who is drawn for the intervals.
    pub seed: u64,
}

/// What times of people say.
#[derive(Clone, Debug, Serialize)]
pub struct TimingsReport {
    /// The file of times.
    pub times: String,
    /// The file of items.
    pub items: String,
    /// Rows read.
    pub rows: u64,
    /// Rows that were used.
    pub used: u64,
    /// Rows that were rejected.
    pub rejected: u64,
    /// Rows that say nothing of one look.
    pub left_out: LeftOut,
    /// People with a row that was used.
    pub people: u64,
    /// Items with a row that was used.
    pub items_used: u64,
    /// The level of all intervals.
    pub level: Level,
    /// Decides who is drawn for the intervals.
    pub seed: u64,
    /// How the times fit each reader's structure.
    pub readers: Vec<ReaderFit>,
    /// What the times are too few for.
    pub warnings: Vec<String>,
}

/// Checks times against the items of their worksheet and fits the readers. Rows that are not as they
/// should be go to `rejects`.
///
/// # Errors
/// If a file can't be read, is not what it should be or names people; if no row can be used; if rejects
/// can't be written.
pub fn timings(
    settings: TimingSettings,
    times: &str,
    items: &str,
    rejects: &mut Rejects,
) -> Result<TimingsReport, AnalysisError> {
    let known = Items::read(items)?;
    let filled = Times::read(times, &known, rejects)?;
    let rows = || filled.by_person.values().flatten();
    let used = rows().count() as u64;
    if used == 0 {
        return Err(no_times(times, &filled, rejects));
    }
    let mut numbers: Vec<u64> = rows().map(|(&item, _)| item).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let (people, items_used) = (filled.by_person.len() as u64, numbers.len() as u64);
    let source = format!(
        "{} with {}: {} of {}",
        name(times),
        name(items),
        counted(used, "time", "times"),
        counted(people, "person", "people")
    );
    Ok(TimingsReport {
        times: times.to_owned(),
        items: items.to_owned(),
        rows: filled.rows,
        used,
        rejected: filled.rejected,
        left_out: filled.left_out,
        people,
        items_used,
        level: settings.level,
        seed: settings.seed,
        readers: fit::fits(&settings, &filled, &known, &source)?,
        warnings: warnings(people, items_used),
    })
}

/// The name of a file without its folder.
fn name(file: &str) -> String {
    let name = Path::new(file).file_name();
    name.map_or_else(|| file.to_owned(), |name| name.to_string_lossy().into_owned())
}

fn no_times(file: &str, times: &Times, rejects: &Rejects) -> AnalysisError {
    let first = rejects.first().map_or_else(String::new, |first| format!("; the first: {first}"));
    let what = format!(
        "{} rejected{first}; {} left out; expected times of looks in single houses",
        counted(times.rejected, "row", "rows"),
        counted(times.rows - times.rejected, "row", "rows"),
    );
    AnalysisError::NoTimes { file: file.to_owned(), what }
}

fn warnings(people: u64, items: u64) -> Vec<String> {
    let mut warnings = Vec::new();
    if people < ENOUGH_PEOPLE as u64 {
        warnings.push(format!(
            "{}: too few for intervals and for telling readers apart, which need {ENOUGH_PEOPLE}",
            counted(people, "person", "people")
        ));
    }
    if items < ENOUGH_ITEMS {
        warnings.push(format!(
            "{}: too few to trust the weights elsewhere, which needs about {ENOUGH_ITEMS}",
            counted(items, "item", "items")
        ));
    }
    warnings
}

impl TimingsReport {
    /// Returns the files to write, by their names: the tables and the readers that were fitted.
    ///
    /// # Errors
    /// If the data can't be written.
    pub fn files(&self) -> Result<Vec<(String, Vec<u8>)>, AnalysisError> {
        let weights = self.readers.iter().flat_map(|fit| {
            fit.weights.iter().map(|weight| {
                let TimeWeight { of, told, seconds } = weight;
                let numbers = [seconds.value, seconds.low, seconds.high].map(number_field);
                (&fit.reader, of, told, numbers)
            })
        });
        let readers = self.readers.iter().filter(|fit| fit.not_judged.is_none()).map(|fit| {
            let worse = fit.worse.unwrap_or_default();
            let numbers = [
                fit.off_by,
                fit.error,
                worse.value,
                worse.low,
                worse.high,
                fit.p,
                fit.seconds_a_glance,
            ];
            (&fit.reader, numbers.map(number_field))
        });
        let mut files = vec![
            ("weights.csv".to_owned(), to_csv("reader,weight,told,seconds,low,high", weights)?),
            (
                "readers.csv".to_owned(),
                to_csv("reader,off_by,error,worse,low,high,p,seconds_a_glance", readers)?,
            ),
        ];
        for fitted in self.readers.iter().filter_map(|fit| fit.fitted.as_ref()) {
            files.push((format!("{}.toml", fitted.name), fitted.to_toml()?.into_bytes()));
        }
        Ok(files)
    }
}
