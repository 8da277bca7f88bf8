//! Order search: rulebooks on the frontier of effort and reach.
//!
//! Effort is the mean number of weighted glances per puzzle, walking one by one in rows, columns and
//! boxes; reach is the share of puzzles on which an order ends where the full ladder ends. Orders are
//! found by local search on training puzzles: from several starts, small random changes of orders
//! that nothing found so far dominates. What is reported is measured on held-out puzzles, which must
//! not be equivalent to any training puzzle; else the best of many orders would look better than it
//! is.
//!
//! Both singles stand in every order and in every house. Same settings, same report, whatever the
//! number of threads.

mod archive;
mod climb;
mod draft;
mod evaluate;
mod measured;
mod moves;
mod ratio_rule;
mod table;
#[cfg(test)]
mod tests;
mod words;

use std::collections::HashMap;
use std::ops::RangeInclusive;

use rayon::prelude::*;
use serde::{Serialize, Serializer};
use tallyhouse_board::{Clues, Frame9, Puzzle};
use tallyhouse_collection::{Reason, canonical, validities};
use tallyhouse_engine::Order;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_stats::{Level, StatsError, holm};

use archive::Point;
pub use climb::Evaluations;
use climb::Search;
use draft::Draft;
use evaluate::{PuzzleEffort, PuzzleSet};
pub use measured::{Comparison, Measured, PuzzleMean};
pub use ratio_rule::RatioRow;
use ratio_rule::RatioTable;

/// What to search, on which puzzles, and for how long.
#[derive(Clone, Debug)]
pub struct OrderSettings {
    /// The puzzles on which orders are chosen, 2,000 to 5,000 for a thorough search. The first few
    /// hundred serve to stop bad orders early: they should not differ from the rest.
    pub training: Vec<Puzzle>,
    /// The puzzles on which the chosen ones are measured.
    pub held_out: Vec<Puzzle>,
    /// The rulebook with which others are compared, also a start of the search.
    pub start: Order,
    /// What glances weigh.
    pub weights: GlanceWeights,
    /// The level of all intervals.
    pub level: Level,
    /// The seed of all random changes.
    pub seed: u64,
    /// How many orders to walk, those that are stopped early included.
    pub evaluations: u64,
    /// How many rulebooks of the frontier to report at most.
    pub frontier: usize,
}

impl OrderSettings {
    /// How many training puzzles there may be: they lie in memory.
    pub const TRAINING: RangeInclusive<u64> = 2..=1_000_000;
    /// How many held-out puzzles there may be.
    pub const HELD_OUT: RangeInclusive<u64> = 2..=10_000_000;

    /// Every glance weighs 1; intervals of 95 %; 2,000 orders; 12 rulebooks; seed 1.
    #[must_use]
    pub fn new(training: Vec<Puzzle>, held_out: Vec<Puzzle>, start: Order) -> Self {
        let weights = GlanceWeights::default();
        let level = Level::default();
        Self { training, held_out, start, weights, level, seed: 1, evaluations: 2000, frontier: 12 }
    }
}

/// Why there is no search.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum OrderError {
    /// The starting order is not of the kind that is searched.
    #[error(
        "cannot search from the order '{order}': {reason}; expected naked 1 and hidden 1 once each \
         in all houses, and looks for subsets that share no houses of one open count"
    )]
    Unsearchable {
        /// The order.
        order: String,
        /// What is wrong.
        reason: &'static str,
    },
    /// Too few puzzles to tell an error of the mean.
    #[error("expected at least 2 {set} puzzles, found {found}")]
    TooFewPuzzles {
        /// `training` or `held-out`.
        set: &'static str,
        /// How many there are.
        found: usize,
    },
    /// A puzzle has not exactly one solution.
    #[error("{set} puzzle {number} ({puzzle}): {reason}")]
    Invalid {
        /// `training` or `held-out`.
        set: &'static str,
        /// Its number, from 1.
        number: usize,
        /// The puzzle.
        puzzle: String,
        /// What is wrong.
        reason: Reason,
    },
    /// A puzzle is in both sets.
    #[error(
        "held-out puzzle {held_out} ({puzzle}) is equivalent to training puzzle {training}; \
         expected sets without common puzzles"
    )]
    Shared {
        /// Its number among the held-out ones, from 1.
        held_out: usize,
        /// The number among the training ones, from 1.
        training: usize,
        /// The held-out puzzle.
        puzzle: String,
    },
    /// No rulebook is to be reported.
    #[error("expected a frontier of at least 1 rulebook, found 0")]
    NoFrontier,
    /// The costs have no statistics.
    #[error("there are no statistics for the weighted glances")]
    Stats(#[from] StatsError),
}

/// A rulebook and what it costs and reaches.
#[derive(Clone, Debug, Serialize)]
pub struct ReportedOrder {
    /// A short name: `start`, `ladder`, `ratio rule`, or `frontier` and a number from the cheapest.
    pub name: String,
    /// The looks.
    #[serde(serialize_with = "as_text")]
    pub order: Order,
    /// On the puzzles that helped to choose it: too good to be true for the frontier.
    pub training: Measured,
    /// On the held-out puzzles.
    pub held_out: Measured,
    /// Against the starting rulebook on the held-out puzzles; none if it is the same.
    pub against_start: Option<Comparison>,
    /// What changed against the starting rulebook.
    pub changes: Vec<String>,
    /// If no other reported rulebook beats it on the held-out puzzles: as few glances and as many
    /// puzzles reached, and better in one of them.
    pub undominated: bool,
}

/// What a search found.
#[derive(Clone, Debug, Serialize)]
pub struct OrderReport {
    /// How many training puzzles there were.
    pub training_puzzles: u64,
    /// How many held-out puzzles there were.
    pub held_out_puzzles: u64,
    /// What glances weigh: a cell seen, a place gathered, a try.
    pub weights: [f64; 3],
    /// The level of all intervals.
    pub level: Level,
    /// The seed.
    pub seed: u64,
    /// How many orders were tried.
    pub evaluations: Evaluations,
    /// How many orders nothing dominated on the training puzzles.
    pub undominated_in_training: usize,
    /// The starting rulebook.
    pub start: ReportedOrder,
    /// The full ladder.
    pub ladder: ReportedOrder,
    /// The order by the ratio rule.
    pub ratio_rule: ReportedOrder,
    /// Rulebooks from the frontier, spread over it, by rising cost in training.
    pub frontier: Vec<ReportedOrder>,
    /// What the ratio rule is based on, greatest ratio first, measured on the training puzzles.
    pub ratio_table: Vec<RatioRow>,
}

impl OrderReport {
    /// Returns all reported rulebooks: start, ladder, ratio rule, frontier.
    pub fn orders(&self) -> impl Iterator<Item = &ReportedOrder> {
        [&self.start, &self.ladder, &self.ratio_rule].into_iter().chain(&self.frontier)
    }
}

/// Searches for rulebooks that cost little and reach much.
///
/// `progress` is called with how many more orders are walked, each time before the walk.
///
/// # Errors
/// If the settings don't allow a search, a puzzle has not exactly one solution, the sets share a
/// puzzle up to equivalence, or weighted glances are too large to sum.
pub fn search(settings: &OrderSettings, progress: &dyn Fn(u64)) -> Result<OrderReport, OrderError> {
    let start = Draft::of(&settings.start)?;
    check(settings)?;
    let (training, held_out) =
        (PuzzleSet::new(&settings.training), PuzzleSet::new(&settings.held_out));
    let ratios = RatioTable::measure(&settings.training);
    let ladder = Draft::of(&Order::ladder())?;
    let ratio_rule = ratios.order(&settings.weights);

    let mut search = Search::new(&training, settings.weights, settings.seed, progress);
    let starts = [start.clone(), ladder.clone(), ratio_rule.clone()];
    let found = search.run(&starts, settings.evaluations);

    let chosen = found.spread(settings.frontier);
    let chosen = chosen.into_iter().map(|index| found.points()[index].item.draft.clone());
    let drafts: Vec<Draft> = starts.into_iter().chain(chosen).collect();
    let mut reported = report(&drafts, settings, &training, &held_out)?.into_iter();
    let (Some(start), Some(ladder), Some(ratio_rule)) =
        (reported.next(), reported.next(), reported.next())
    else {
        unreachable!("the three starts are reported first");
    };
    let weights = &settings.weights;
    Ok(OrderReport {
        training_puzzles: settings.training.len() as u64,
        held_out_puzzles: settings.held_out.len() as u64,
        weights: [weights.cell(), weights.place(), weights.try_()],
        level: settings.level,
        seed: settings.seed,
        evaluations: search.evaluations,
        undominated_in_training: found.points().len(),
        start,
        ladder,
        ratio_rule,
        frontier: reported.collect(),
        ratio_table: ratios.rows(weights),
    })
}

fn check(settings: &OrderSettings) -> Result<(), OrderError> {
    if settings.frontier == 0 {
        return Err(OrderError::NoFrontier);
    }
    for (set, puzzles) in [("training", &settings.training), ("held-out", &settings.held_out)] {
        if puzzles.len() < 2 {
            return Err(OrderError::TooFewPuzzles { set, found: puzzles.len() });
        }
        let verdicts = validities(puzzles).into_iter().zip(1..).zip(puzzles);
        for ((verdict, number), puzzle) in verdicts {
            verdict.map_err(|reason| OrderError::Invalid {
                set,
                number,
                puzzle: puzzle.to_string(),
                reason,
            })?;
        }
    }
    check_disjoint(settings)
}

fn check_disjoint(settings: &OrderSettings) -> Result<(), OrderError> {
    let forms = |puzzles: &[Puzzle]| -> Vec<Clues<Frame9>> {
        puzzles.par_iter().map(|puzzle| canonical::<Frame9>(&puzzle.into()).form).collect()
    };
    let training: HashMap<_, usize> = forms(&settings.training).into_iter().zip(1..).collect();
    for (index, form) in forms(&settings.held_out).iter().enumerate() {
        if let Some(&training) = training.get(form) {
            let puzzle = settings.held_out[index].to_string();
            return Err(OrderError::Shared { held_out: index + 1, training, puzzle });
        }
    }
    Ok(())
}

/// Measures the start (first), the other two references, and the frontier.
fn report(
    drafts: &[Draft],
    settings: &OrderSettings,
    training: &PuzzleSet<'_>,
    held_out: &PuzzleSet<'_>,
) -> Result<Vec<ReportedOrder>, OrderError> {
    let weights = &settings.weights;
    let efforts: Vec<Vec<PuzzleEffort>> =
        drafts.iter().map(|draft| held_out.evaluate_all(&draft.order())).collect();
    let mut reported = Vec::new();
    for (index, (draft, measured)) in drafts.iter().zip(&efforts).enumerate() {
        let name = match index {
            0 => "start".to_owned(),
            1 => "ladder".to_owned(),
            2 => "ratio rule".to_owned(),
            _ => format!("frontier {}", index - 2),
        };
        let order = draft.order();
        let of_order = |efforts: &[_]| Measured::of(&order, efforts, weights, settings.level);
        let against_start = if *draft == drafts[0] {
            None
        } else {
            Some(Comparison::of(measured, &efforts[0], weights, settings.level)?)
        };
        reported.push(ReportedOrder {
            name,
            training: of_order(&training.evaluate_all(&order))?,
            held_out: of_order(measured)?,
            order,
            against_start,
            changes: words::changes(&drafts[0], draft),
            undominated: false,
        });
    }
    mark_undominated(&mut reported);
    correct_p_values(&mut reported)?;
    Ok(reported)
}

fn mark_undominated(reported: &mut [ReportedOrder]) {
    let points: Vec<Point<()>> = reported
        .iter()
        .map(|order| Point {
            cost: order.held_out.glances.value,
            reached: order.held_out.reached.hits(),
            item: (),
        })
        .collect();
    for (order, point) in reported.iter_mut().zip(&points) {
        order.undominated = !points.iter().any(|other| other.dominates(point));
    }
}

/// Holm over the tests of glances and of reach of all reported rulebooks that are not the start. A
/// rulebook that is reported under two names counts twice, which only makes the correction stricter.
fn correct_p_values(reported: &mut [ReportedOrder]) -> Result<(), StatsError> {
    let compared = || reported.iter().filter_map(|order| order.against_start.as_ref());
    let p_values: Vec<f64> = compared().flat_map(|c| [c.glances_p, c.reached_p]).collect();
    let adjusted = holm(&p_values)?;
    let compared = reported.iter_mut().filter_map(|order| order.against_start.as_mut());
    for (comparison, pair) in compared.zip(adjusted.chunks(2)) {
        (comparison.glances_p_holm, comparison.reached_p_holm) = (pair[0], pair[1]);
    }
    Ok(())
}

fn as_text<S: Serializer>(order: &Order, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(order)
}
