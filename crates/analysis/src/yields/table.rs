//! The table of yields.

use tallyhouse_board::HouseKind;
use tallyhouse_collection::Rows;
use tallyhouse_stats::{Level, Limits, StatsError};

use super::count::{Counts, PLACES, Place};
use super::pass::Counted;
use super::progress::progress;
use super::sums::Reading;
use super::{Yield, YieldReport, YieldSettings};
use crate::AnalysisError;
use crate::csv_file::{limit_fields, to_csv};

/// Makes the report of what was counted.
pub(super) fn report(
    settings: &YieldSettings,
    counted: &Counted,
    rows: &Rows,
) -> Result<YieldReport, AnalysisError> {
    let mut yields = Vec::new();
    for (number, (reading, (frame, reader))) in
        counted.readings.iter().zip(&counted.frames).enumerate()
    {
        let first_kinds = Place::all().filter(|place| place.kind == HouseKind::ALL[0]);
        for place in first_kinds.filter(|place| settings.asks(*place)) {
            let Some(index) = place.index() else { continue };
            let rates = counted.sums.rates(number, index);
            let plain = &counted.plain[reading.way * PLACES + index..][..HouseKind::ALL.len()];
            let all = plain.iter().fold(Counts::default(), |mut sum, counts| {
                sum += *counts;
                sum
            });
            let kinds = HouseKind::ALL.map(HouseKind::name);
            let named = ["all"].into_iter().chain(kinds).zip([&all].into_iter().chain(plain));
            for ((house_kind, counts), rate) in named.zip(rates) {
                let limits = limits(&rate, settings.level).map_err(of_yields)?;
                yields.push(Yield {
                    reader: settings.readers[*reader].name.clone(),
                    frame: *frame,
                    look: place.look,
                    open: place.open,
                    house_kind,
                    made: counts.made as u64,
                    finds: counts.finds as u64,
                    cells_seen: counts.cells_seen as u64,
                    places_gathered: counts.places_gathered as u64,
                    tries: counts.tries as u64,
                    glances: glances(reading, counts),
                    share: limits[0],
                    price: limits[1],
                });
            }
        }
    }
    let progress = progress(settings, counted).map_err(of_yields)?;
    Ok(YieldReport {
        yields,
        progress,
        blake3: rows.digest(),
        notes: rows.notes().to_vec(),
        rows: rows.rows(),
        puzzles: counted.puzzles,
        clusters: counted.sums.clusters,
        positions: counted.positions,
    })
}

fn of_yields(error: StatsError) -> AnalysisError {
    AnalysisError::Stats { claim: "yields".to_owned(), error }
}

fn glances(reading: &Reading, counts: &Counts) -> f64 {
    reading.cost(counts) as f64 / 1e6
}

/// The yield and the price with their ends; glances were summed in millionths.
fn limits(rate: &tallyhouse_stats::Rate, level: Level) -> Result<[Limits; 2], StatsError> {
    Ok([rate.share(level)?, rate.cost_per_hit(level)?.in_units_of(1e6)])
}

/// Writes yields as CSV: `reader,frame,look,open,house_kind,made,finds,cells_seen,places_gathered,
/// tries,glances,yield,yield_low,yield_high,price,price_low,price_high`, without spaces; empty fields
/// where the data tell nothing.
///
/// # Errors
/// If the data can't be written.
pub fn yields_csv<'a>(yields: impl Iterator<Item = &'a Yield>) -> Result<Vec<u8>, csv::Error> {
    let records = yields.map(|row| {
        let place = (&row.reader, row.frame, row.look.to_string(), row.open, row.house_kind);
        let counts = [row.made, row.finds, row.cells_seen, row.places_gathered, row.tries];
        (place, counts, row.glances.to_string(), limit_fields(row.share), limit_fields(row.price))
    });
    let header = "reader,frame,look,open,house_kind,made,finds,cells_seen,places_gathered,tries,\
                  glances,yield,yield_low,yield_high,price,price_low,price_high";
    to_csv(header, records)
}
