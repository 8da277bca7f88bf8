//! The advice on one page: for each shape, which of its two sides is worth looking for.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use tallyhouse_census::HouseRate;
use tallyhouse_collection::Source;
use tallyhouse_engine::Shape;
use tallyhouse_stats::{Decision, Level, Limits};
use tallyhouse_words::Advice;

use crate::csv_file::{limit_fields, number_field, to_csv};
use crate::yields::Frame;
use crate::{
    ClaimFile, FileError, JudgeReport, JudgeSettings, LookPrice, ReaderFile, TrialWalk, Verdict,
};

/// The glances for a find above which a look is not worth making, if nothing else is said.
pub const NOT_WORTH_IT: f64 = 1000.0;

/// The claims that the advice goes by.
const CLAIMS: &str = "which-side";

/// What to look for in houses of each open count.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Card {
    /// What the collection is a sample of.
    pub population: String,
    /// Valid puzzles.
    pub puzzles: u64,
    /// How many independent units these are: families, and puzzles without one.
    pub units: u64,
    /// Quiet positions of the full ladder's walks.
    pub positions: u64,
    /// The readers that were asked.
    pub readers: Vec<String>,
    /// The level of all intervals.
    pub level: Level,
    /// The glances for a find above which a look is not worth making.
    pub limit: f64,
    /// By open count; the shapes that most houses show come first.
    pub shapes: Vec<CardShape>,
}

/// The advice on one shape.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CardShape {
    /// The shape.
    #[serde(flatten)]
    pub shape: ShapeSizes,
    /// Which side to look for.
    pub advice: Advice,
    /// The share of houses with that many open cells, at quiet positions of the full ladder's walk, that
    /// show it: with at least one proper subset of the shape.
    pub often: Limits,
    /// What a find costs, in glances, by the cheaper look of each reader in each frame: the least and
    /// the greatest price. `None` where some reader finds nothing.
    pub price: Option<[Limits; 2]>,
    /// What a find of either side costs more than, for every reader in each frame. `None` where the data
    /// set no such limit.
    pub price_above: Option<f64>,
    /// The share of puzzles in which the full ladder reaches less without the shape.
    pub lost: Limits,
    /// How many puzzles these are, whatever they weigh.
    pub lost_puzzles: u64,
}

/// The open count and the sizes of the sides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ShapeSizes {
    /// The open count.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// The size of the hidden side.
    pub hidden: u8,
}

impl Card {
    /// The trial that the advice comes from; `out` is the folder that it fills.
    ///
    /// # Errors
    /// None, as long as the built-in claims read.
    pub fn trial(
        sources: Vec<Source>,
        readers: Vec<ReaderFile>,
        level: Level,
        out: PathBuf,
    ) -> Result<JudgeSettings, FileError> {
        Ok(JudgeSettings {
            sources,
            rulebooks: Vec::new(),
            claims: vec![ClaimFile::load(CLAIMS)?],
            readers,
            walk: TrialWalk::default(),
            level,
            shapes: true,
            out,
        })
    }

    /// Takes the advice from the report of that trial.
    #[must_use]
    pub fn of(report: &JudgeReport, limit: f64) -> Self {
        let shape = |shape: Shape| {
            let (open, naked) = (shape.open(), shape.naked());
            let id = format!("{open}-open-naked-{naked}");
            let verdict = report.verdicts.iter().find(|v| v.file == CLAIMS && v.claim == id)?;
            let lost = report.left_out.iter().find(|s| (s.open, s.naked) == (open, naked));
            Some(CardShape {
                shape: ShapeSizes { open, naked, hidden: open - naked },
                advice: advice(verdict, limit),
                often: HouseRate::overall(&report.rates, open, naked)
                    .map(|rate| rate.share)
                    .unwrap_or_default(),
                price: price(verdict),
                price_above: price_above(verdict),
                lost: lost
                    .and_then(|shape| shape.short_share)
                    .map(Limits::from)
                    .unwrap_or_default(),
                lost_puzzles: lost.map_or(0, |shape| shape.short),
            })
        };
        let mut shapes: Vec<CardShape> = Shape::all_quiet().filter_map(shape).collect();
        let share = |shape: &CardShape| shape.often.value.unwrap_or_default();
        shapes.sort_by(|a, b| {
            a.shape.open.cmp(&b.shape.open).then_with(|| share(b).total_cmp(&share(a)))
        });
        Self {
            population: report.population.clone(),
            puzzles: report.totals.puzzles,
            units: report.verdicts.first().map_or(0, |verdict| verdict.all_units),
            positions: report.totals.quiet_positions,
            readers: report.readers.iter().map(|reader| reader.name.clone()).collect(),
            level: report.level,
            limit,
            shapes,
        }
    }

    /// Writes the advice as CSV: `open,naked,hidden,advice`, then the share of houses, the least price, the
    /// greatest and the share of puzzles, each with both ends, then `price_above` and `lost_puzzles`.
    ///
    /// # Errors
    /// If the data can't be written.
    pub fn csv(&self) -> Result<Vec<u8>, csv::Error> {
        let records = self.shapes.iter().map(|row| {
            let ShapeSizes { open, naked, hidden } = row.shape;
            let [least, most] = row.price.unwrap_or_default();
            (
                (open, naked, hidden, row.advice),
                [row.often, least, most, row.lost].map(limit_fields),
                number_field(row.price_above),
                row.lost_puzzles,
            )
        });
        let header = "open,naked,hidden,advice,houses,houses_low,houses_high,\
                      price_least,price_least_low,price_least_high,\
                      price_most,price_most_low,price_most_high,lost,lost_low,lost_high,price_above,lost_puzzles";
        to_csv(header, records)
    }
}

/// Each member of the jury, with the prices of both looks.
fn looks(verdict: &Verdict) -> impl Iterator<Item = (Frame, &[LookPrice])> {
    verdict
        .jury
        .iter()
        .flat_map(|juror| juror.prices.iter().map(|price| (juror.frame, price.looks.as_slice())))
}

/// A look is not worth making if no reader in any frame may find anything for less.
fn advice(verdict: &Verdict, limit: f64) -> Advice {
    let low = |look: &LookPrice| look.price.low.or(look.price.value);
    let is_dear = |looks: &[LookPrice]| {
        !looks.is_empty() && looks.iter().all(|look| low(look).is_some_and(|low| low > limit))
    };
    if verdict.jury.is_empty() {
        return Advice::Undecided;
    }
    if looks(verdict).all(|(_, looks)| is_dear(looks)) {
        return Advice::Neither;
    }
    match verdict.decision {
        Decision::Supported | Decision::Certain(true) => Advice::Naked,
        Decision::Refuted | Decision::Certain(false) => Advice::Hidden,
        Decision::Depends => Advice::Depends,
        _ => Advice::Undecided,
    }
}

fn price(verdict: &Verdict) -> Option<[Limits; 2]> {
    let value = |price: &Limits| price.value.unwrap_or(f64::INFINITY);
    let by_value = |one: &Limits, other: &Limits| value(one).total_cmp(&value(other));
    let cheaper = |looks: &[LookPrice]| {
        let told = looks.iter().map(|look| look.price).filter(|price| price.value.is_some());
        told.min_by(by_value)
    };
    let prices: Option<Vec<Limits>> = looks(verdict).map(|(_, looks)| cheaper(looks)).collect();
    let prices = prices?;
    let least = prices.iter().copied().min_by(by_value)?;
    Some([least, prices.iter().copied().max_by(by_value)?])
}

fn price_above(verdict: &Verdict) -> Option<f64> {
    let lows = looks(verdict).flat_map(|(_, looks)| looks).map(|look| look.price.low);
    let lows: Option<Vec<f64>> = lows.collect();
    lows?.into_iter().min_by(f64::total_cmp)
}
