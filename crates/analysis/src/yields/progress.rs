//! How far what looks find leads, and when to stop looking.

use serde::Serialize;
use tallyhouse_board::HouseKind;
use tallyhouse_engine::Look;
use tallyhouse_stats::{Level, Limits, StatsError};

use super::count::{Counts, LINES, PLACES, Place, line_of};
use super::pass::Counted;
use super::sums::{ProgressRates, Reading};
use super::{Frame, YieldSettings};
use crate::csv_file::{limit_fields, to_csv};

/// How often the finds of a look bring a single, and how often anything comes after it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProgressRow {
    /// The name of the reader.
    pub reader: String,
    /// When the look is made: `every` or `due`.
    pub frame: Frame,
    /// The look.
    #[serde(serialize_with = "super::as_text")]
    pub look: Look,
    /// The number of open cells of the houses; `None` for all that are asked about.
    pub open: Option<u8>,
    /// How often the look found something.
    pub finds: u64,
    /// The finds whose eliminations alone leave a naked or hidden single that was none before.
    pub finds_then_single: u64,
    /// Their share, by the weight of puzzles.
    #[serde(skip)]
    pub share: Limits,
    /// All glances on the look by such finds, by the weight of puzzles.
    #[serde(skip)]
    pub price: Limits,
    /// Where looks are due: the positions where it was made, in such houses too, and failed everywhere.
    pub failed: u64,
    /// Those of them where a later look of the rulebook finds something.
    pub then_later: u64,
    /// Their share, by the weight of puzzles; none for the last look, after which nothing comes.
    #[serde(skip)]
    pub later: Limits,
}

/// Lists what was counted by reader, frame, look and open count; all open counts first.
pub(super) fn progress(
    settings: &YieldSettings,
    counted: &Counted,
) -> Result<Vec<ProgressRow>, StatsError> {
    let mut rows = Vec::new();
    let order = settings.order();
    let nothing_later = |look: Look, open: Option<u8>| {
        let covers = |other: &Look| {
            open.is_none_or(|open| other.size().is_some_and(|size| size.covers(open)))
        };
        let is_it = |other: &Look| other.everywhere() == look && covers(other);
        order.looks().iter().position(is_it).is_none_or(|first| first + 1 == order.looks().len())
    };
    let numbered = counted.readings.iter().zip(&counted.frames).enumerate();
    for (number, (reading, &(frame, reader))) in numbered {
        if !matches!(frame, Frame::Every | Frame::Due) {
            continue;
        }
        let places = Place::all().filter(|place| place.kind == HouseKind::ALL[0]);
        let places: Vec<Place> = places.filter(|place| settings.asks(*place)).collect();
        for of_look in places.chunk_by(|a, b| a.look == b.look) {
            let look = of_look[0].look;
            let opens = of_look.iter().map(|place| Some(place.open));
            for open in std::iter::once(None).chain(opens) {
                let Some(line) = line_of(look, open) else { continue };
                let is_in = |place: &&Place| open.is_none_or(|count| place.open == count);
                let plain = of_look.iter().filter(is_in).fold(Counts::default(), |sum, place| {
                    kinds_together(counted, reading, *place, sum)
                });
                let failures = counted.failures[reading.way * LINES + line];
                let rates = counted.sums.progress(number, line);
                let [share, price, mut later] = limits(&rates, settings.level)?;
                if nothing_later(look, open) {
                    later = Limits::default();
                }
                rows.push(ProgressRow {
                    reader: settings.readers[reader].name.clone(),
                    frame,
                    look,
                    open,
                    finds: plain.finds as u64,
                    finds_then_single: plain.then_single as u64,
                    share,
                    price,
                    failed: failures.made as u64,
                    then_later: failures.finds as u64,
                    later,
                });
            }
        }
    }
    Ok(rows)
}

fn kinds_together(counted: &Counted, reading: &Reading, place: Place, mut sum: Counts) -> Counts {
    if let Some(index) = place.index() {
        let kinds = &counted.plain[reading.way * PLACES + index..][..HouseKind::ALL.len()];
        kinds.iter().for_each(|counts| sum += *counts);
    }
    sum
}

fn limits(rates: &ProgressRates, level: Level) -> Result<[Limits; 3], StatsError> {
    let price = rates.cost.cost_per_hit(level)?.in_units_of(1e6);
    Ok([rates.singles.share(level)?, price, rates.later.share(level)?])
}

/// Writes rows as CSV: `reader,frame,look,open,finds,finds_then_single,share,share_low,share_high,
/// price,price_low,price_high,failed,then_later,later,later_low,later_high`, without spaces; `open` is
/// `all` or a count, fields are empty where the data tell nothing or nothing was asked.
///
/// # Errors
/// If the data can't be written.
pub fn progress_csv(rows: &[ProgressRow]) -> Result<Vec<u8>, csv::Error> {
    let records = rows.iter().map(|row| {
        let open = row.open.map_or_else(|| "all".to_owned(), |open| open.to_string());
        let place = (&row.reader, row.frame, row.look.to_string(), open);
        let is_due = row.frame == Frame::Due;
        let failures = [row.failed, row.then_later].map(|count| is_due.then_some(count));
        let finds = [row.finds, row.finds_then_single];
        let shares = [row.share, row.price].map(limit_fields);
        (place, finds, shares, failures, limit_fields(row.later))
    });
    let header = "reader,frame,look,open,finds,finds_then_single,share,share_low,share_high,\
                  price,price_low,price_high,failed,then_later,later,later_low,later_high";
    to_csv(header, records)
}
