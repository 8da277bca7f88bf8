//! Order search: rulebooks on the frontier of effort and reach.
//!
//! Effort is the mean number of weighted glances per puzzle, walking one by one in rows, columns and
//! boxes; reach is the share of puzzles on which an order ends where the full ladder ends. Orders are
//! found by local search on training puzzles: small random changes of orders that nothing found so far
//! dominates. Several runs search on their own from the same starts, each with the same number of orders;
//! the frontier is that of all orders that any of them has walked on all training puzzles, and the search
//! has *converged* if the runs came to the same. What is reported is measured on held-out puzzles, which
//! must not be equivalent to any training puzzle; else the best of many orders would look better than it
//! is.
//!
//! Both singles stand in every order and in every house. Same settings, same report, whatever the
//! number of threads.

mod agreement;
mod archive;
mod climb;
mod draft;
mod evaluate;
mod findings;
mod measured;
mod moves;
mod ratio_rule;
mod reader_price;
mod steps;
mod table;
#[cfg(test)]
mod tests;

use std::collections::HashMap;
use std::ops::RangeInclusive;

use rayon::prelude::*;
use serde::{Serialize, Serializer};
use tallyhouse_board::{Clues, Frame9, Puzzle};
use tallyhouse_collection::{Reason, Recipe, Sampling, canonical, validities};
use tallyhouse_engine::Order;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_stats::{Level, Share, StatsError, holm};

use agreement::RunCosts;
pub use agreement::{AGREEMENT_MARGIN, Agreement, ReachAgreement};
use archive::Point;
pub use climb::Evaluations;
use climb::{Found, Search};
use draft::Draft;
use evaluate::{PuzzleEffort, PuzzleSet, TOGETHER, Totals};
pub use findings::order_label;
pub use measured::{Comparison, CostDifference, Measured, PuzzleMean};
use measured::{ComparisonSums, MeasuredSums};
pub use ratio_rule::RatioRow;
use ratio_rule::RatioTable;
pub use reader_price::ReaderPrice;
use reader_price::{PriceSums, by_learning, is_robust};
pub use steps::OrderSteps;

use crate::population::population;
use crate::{ReaderFile, Rulebook};

/// Each run begins from the start, the ladder and the ratio rule.
const STARTS: usize = 3;

/// What to search, on which puzzles, and for how long.
#[derive(Clone, Debug)]
pub struct OrderSettings {
    /// The puzzles on which orders are chosen, 2,000 to 5,000 for a thorough search. The first few
    /// hundred serve to stop bad orders early: they should not differ from the rest.
    pub training: Vec<Puzzle>,
    /// The puzzles on which the chosen ones are measured.
    pub held_out: Vec<Puzzle>,
    /// What the held-out puzzles are a sample of.
    pub population: String,
    /// The rulebook with which others are compared, also a start of the search.
    pub start: Rulebook,
    /// What glances weigh while orders are chosen.
    pub weights: GlanceWeights,
    /// Who else is asked what the chosen orders cost.
    pub readers: Vec<ReaderFile>,
    /// The level of all intervals.
    pub level: Level,
    /// The seed of all random changes.
    pub seed: u64,
    /// How many runs search on their own.
    pub runs: u64,
    /// How many orders each run walks, those that are stopped early included.
    pub evaluations: u64,
    /// How many rulebooks of the frontier to report at most.
    pub frontier: usize,
}

impl OrderSettings {
    /// How many training puzzles there may be: they lie in memory.
    pub const TRAINING: RangeInclusive<u64> = 2..=1_000_000;
    /// How many held-out puzzles there may be.
    pub const HELD_OUT: RangeInclusive<u64> = 2..=10_000_000;

    /// How many runs there may be; fewer could not show that the search has converged.
    pub const RUNS: RangeInclusive<u64> = Agreement::LEAST_RUNS..=100;
    /// How many orders each run may walk.
    pub const TRIED: RangeInclusive<u64> = 1..=10_000_000;
    /// How many rulebooks of the frontier may be reported.
    pub const REPORTED: RangeInclusive<u64> = 1..=1000;
    /// How many rulebooks of the frontier are reported, if nothing else is wished.
    pub const FRONTIER: u64 = 12;
    /// How many orders each run walks, if nothing else is wished.
    pub const EVALUATIONS: u64 = 3000;

    /// What made puzzles are a sample of: minimal puzzles by random deletion.
    #[must_use]
    pub fn made_population() -> String {
        population(&Recipe::plain(Sampling::Deletion, 0).notes(), &[])
    }

    /// What puzzles of files are a sample of, as far as the comment lines at their head tell.
    #[must_use]
    pub fn read_population(notes: &[String], sources: &[String]) -> String {
        population(notes, sources)
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
    /// A short name: `start`, `ladder`, `ratio rule`, `recommended`, or `frontier` and a number from the
    /// cheapest.
    pub name: String,
    /// The looks.
    #[serde(serialize_with = "as_text")]
    pub order: Order,
    /// The looks as steps that a person can follow.
    pub steps: OrderSteps,
    /// On the puzzles that helped to choose it: too good to be true for what was found.
    pub training: Measured,
    /// On the held-out puzzles.
    pub held_out: Measured,
    /// Against the starting rulebook on the held-out puzzles; none if it is the same.
    pub against_start: Option<Comparison>,
    /// What it costs each reader on the held-out puzzles.
    pub readers: Vec<ReaderPrice>,
    /// If it costs less than the start whoever reads, and reaches no less; none for the start.
    pub robust: Option<bool>,
    /// If no order that was walked on all training puzzles dominates it there, and no other reported one
    /// on the held-out puzzles: as few glances and as many puzzles reached, and better in one of them.
    pub on_frontier: bool,
}

/// What a search found.
#[derive(Clone, Debug, Serialize)]
pub struct OrderReport {
    /// The name of the starting rulebook.
    pub start_name: String,
    /// How many training puzzles there were.
    pub training_puzzles: u64,
    /// How many held-out puzzles there were.
    pub held_out_puzzles: u64,
    /// What the held-out puzzles are a sample of.
    pub population: String,
    /// What glances weigh: a cell seen, a place gathered, a try.
    pub weights: [f64; 3],
    /// The level of all intervals.
    pub level: Level,
    /// The seed.
    pub seed: u64,
    /// How many runs searched on their own.
    pub runs: u64,
    /// How many orders each run was to try.
    pub evaluations_each: u64,
    /// How many orders all runs tried.
    pub evaluations: Evaluations,
    /// How many orders nothing dominated on the training puzzles.
    pub undominated_in_training: usize,
    /// Whether the runs came to the same.
    pub agreement: Agreement,
    /// The starting rulebook.
    pub start: ReportedOrder,
    /// The full ladder.
    pub ladder: ReportedOrder,
    /// The order by the ratio rule.
    pub ratio_rule: ReportedOrder,
    /// Of all orders that look for every shape the start looks for, from whichever side, and reach no fewer
    /// training puzzles, the one that costs least in training, without the looks that it can do without
    /// there; the start itself if none costs less.
    pub recommended: ReportedOrder,
    /// Rulebooks from the frontier, spread over it, by rising cost in training.
    pub frontier: Vec<ReportedOrder>,
    /// What the ratio rule is based on, greatest ratio first, measured on the training puzzles.
    pub ratio_table: Vec<RatioRow>,
}

impl OrderReport {
    /// Returns all reported rulebooks: start, ladder, ratio rule, recommended, frontier.
    pub fn orders(&self) -> impl Iterator<Item = &ReportedOrder> {
        let named = [&self.start, &self.ladder, &self.ratio_rule, &self.recommended];
        named.into_iter().chain(&self.frontier)
    }

    /// Returns those that were found: recommended, frontier.
    pub fn found(&self) -> impl Iterator<Item = &ReportedOrder> {
        [&self.recommended].into_iter().chain(&self.frontier)
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
    let start = Draft::of(settings.start.order())?;
    check(settings)?;
    let (training, held_out) =
        (PuzzleSet::new(&settings.training), PuzzleSet::new(&settings.held_out));
    let ratios = RatioTable::measure(&settings.training);
    let starts: [Draft; STARTS] =
        [start, Draft::of(&Order::ladder())?, ratios.order(&settings.weights)];

    let OrderSettings { weights, seed, .. } = *settings;
    let search = Search { training: &training, weights, seed, starts: &starts, progress };
    let (mut all, mut evaluations) = (Found::new(), Evaluations::default());
    let runs = (0..settings.runs).map(|number| {
        let (found, made) = search.run(number, settings.evaluations);
        all.merge(&found);
        evaluations += made;
        found
    });
    let runs: Vec<Found> = runs.collect();

    let points = all.frontier.points();
    let chosen: Vec<_> = all.frontier.spread(settings.frontier).into_iter().collect();
    let chosen: Vec<&Point<_>> = chosen.into_iter().map(|index| &points[index]).collect();
    let kept = Totals::of(&training.evaluate_all(settings.start.order())).reached;
    let agreement = agreement(settings, &runs, &chosen, kept, &held_out)?;
    let recommended = all.covering.at_least(kept).map(|point| point.item.draft.clone());
    let recommended = recommended.unwrap_or_else(|| unreachable!("the start is one of them"));
    let chosen = chosen.iter().map(|point| point.item.draft.clone());
    let mut drafts: Vec<Draft> = starts.into_iter().chain([recommended]).chain(chosen).collect();
    let in_frontier = |draft: &Draft| points.iter().any(|point| point.item.draft == *draft);
    let in_frontier: Vec<bool> = drafts.iter().map(in_frontier).collect();
    // No order that was found dominates what is as good as one that none dominates.
    drafts[STARTS] = without_needless(&drafts[STARTS], &drafts[0], &training, &weights);
    let mut reported = report(&drafts, settings, &training, &held_out)?;
    mark_frontier(&mut reported, &in_frontier);
    correct_p_values(&mut reported)?;
    let mut reported = reported.into_iter();
    let mut next =
        || reported.next().unwrap_or_else(|| unreachable!("those with names are reported first"));
    let (start, ladder, ratio_rule, recommended) = (next(), next(), next(), next());
    Ok(OrderReport {
        start_name: settings.start.name().to_owned(),
        training_puzzles: settings.training.len() as u64,
        held_out_puzzles: settings.held_out.len() as u64,
        population: settings.population.clone(),
        weights: [weights.cell(), weights.place(), weights.try_()],
        level: settings.level,
        seed,
        runs: settings.runs,
        evaluations_each: settings.evaluations,
        evaluations,
        undominated_in_training: points.len(),
        agreement,
        start,
        ladder,
        ratio_rule,
        recommended,
        frontier: reported.collect(),
        ratio_table: ratios.rows(&weights),
    })
}

/// Leaves looks out of an order as long as it still looks for every shape of the start, reaches no fewer
/// training puzzles and costs no more there. The start itself stays as it is.
fn without_needless(
    draft: &Draft,
    start: &Draft,
    training: &PuzzleSet<'_>,
    weights: &GlanceWeights,
) -> Draft {
    let measure = |draft: &Draft| {
        let totals = Totals::of(&training.evaluate_all(&draft.order()));
        (totals.reached, totals.glances.cost(weights))
    };
    let mut best = draft.clone();
    if draft == start {
        return best;
    }
    let mut measured = measure(&best);
    let no_worse = |draft: Draft, (reached, cost): (u64, f64)| {
        let measured = measure(&draft);
        (measured.0 >= reached && measured.1 <= cost).then_some((draft, measured))
    };
    while let Some(found) = best
        .shorter()
        .into_iter()
        .filter(|shorter| start.is_within(shorter))
        .find_map(|shorter| no_worse(shorter, measured))
    {
        (best, measured) = found;
    }
    best
}

/// Compares the runs at the reach of each chosen order, and by what they found that looks for all that
/// the start looks for and reaches no fewer training puzzles.
fn agreement<T>(
    settings: &OrderSettings,
    runs: &[Found],
    chosen: &[&Point<T>],
    kept: u64,
    held_out: &PuzzleSet<'_>,
) -> Result<Agreement, OrderError> {
    let compare = |reached: Option<u64>| -> Result<ReachAgreement, OrderError> {
        let best: Vec<&Draft> = runs
            .iter()
            .filter_map(|run| match reached {
                Some(reached) => run.frontier.at_least(reached),
                None => run.covering.at_least(kept),
            })
            .map(|point| &point.item.draft)
            .collect();
        let mut compared = RunCosts::new(best.len());
        for range in held_out.blocks() {
            let mut costs: HashMap<&Draft, Vec<i128>> = HashMap::new();
            for draft in &best {
                costs.entry(draft).or_insert_with(|| {
                    let efforts = held_out.evaluate(&draft.order(), range.clone());
                    let cost = |effort: &PuzzleEffort| effort.glances.millionths(&settings.weights);
                    efforts.iter().map(cost).collect()
                });
            }
            let costs: Vec<&[i128]> = best.iter().map(|draft| &costs[*draft][..]).collect();
            compared.add(&costs);
        }
        let reached = reached.map(|reached| Share::new(reached, settings.training.len() as u64));
        Ok(compared.finish(reached.transpose()?, settings.level)?)
    };
    let reaches = chosen.iter().map(|point| Some(point.reached)).chain([None]);
    let reaches = reaches.map(compare).collect::<Result<Vec<_>, _>>()?;
    let searched = settings.evaluations > STARTS as u64;
    Ok(Agreement::of(reaches, runs.len() as u64, searched))
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
    let held_out = settings.held_out.chunks(TOGETHER).flat_map(forms);
    for ((form, puzzle), number) in held_out.zip(&settings.held_out).zip(1..) {
        if let Some(&training) = training.get(&form) {
            let puzzle = puzzle.to_string();
            return Err(OrderError::Shared { held_out: number, training, puzzle });
        }
    }
    Ok(())
}

/// What files call the order of a search that its reader is advised to use.
pub const RECOMMENDED: &str = "recommended";

/// Measures the start (first), the other references, and what was found.
fn report(
    drafts: &[Draft],
    settings: &OrderSettings,
    training: &PuzzleSet<'_>,
    held_out: &PuzzleSet<'_>,
) -> Result<Vec<ReportedOrder>, OrderError> {
    let OrderSettings { weights, level, readers, .. } = settings;
    let orders: Vec<Order> = drafts.iter().map(Draft::order).collect();
    let mut sums: Vec<OrderSums<'_>> = orders.iter().map(|_| OrderSums::new(readers)).collect();
    for range in training.blocks() {
        for (sums, order) in sums.iter_mut().zip(&orders) {
            sums.training.add(&training.evaluate(order, range.clone()), weights);
        }
    }
    for range in held_out.blocks() {
        let walk = |order: &Order| {
            let puzzles = &held_out.puzzles()[range.clone()];
            (held_out.evaluate(order, range.clone()), by_learning(puzzles, order))
        };
        let start = walk(&orders[0]);
        for ((sums, order), draft) in sums.iter_mut().zip(&orders).zip(drafts) {
            let other = (*draft != drafts[0]).then(|| walk(order));
            let here = other.as_ref().unwrap_or(&start);
            sums.held_out.add(&here.0, weights);
            sums.against_start.add(&here.0, &start.0, weights);
            sums.prices.iter_mut().for_each(|price| price.add(&here.1, &start.1));
        }
    }
    let reported = sums.iter().zip(drafts).zip(orders).enumerate();
    let reported = reported.map(|(index, ((sums, draft), order))| {
        let name = match index {
            0 => "start".to_owned(),
            1 => "ladder".to_owned(),
            2 => "ratio rule".to_owned(),
            3 => RECOMMENDED.to_owned(),
            _ => format!("frontier {}", index - 3),
        };
        let is_start = *draft == drafts[0];
        let against_start = (!is_start).then(|| sums.against_start.finish(*level)).transpose()?;
        let prices = sums.prices.iter().map(|price| price.finish(is_start, *level));
        let prices = prices.collect::<Result<Vec<_>, _>>()?;
        let differences = prices.iter().filter_map(|price| price.against_start.as_ref());
        let robust = against_start.as_ref().map(|compared| is_robust(differences, compared));
        Ok(ReportedOrder {
            name,
            steps: OrderSteps::of(draft),
            training: sums.training.finish(&order, *level)?,
            held_out: sums.held_out.finish(&order, *level)?,
            order,
            against_start,
            readers: prices,
            robust,
            on_frontier: false,
        })
    });
    reported.collect()
}

/// What an order cost and reached, and what the start did.
struct OrderSums<'a> {
    training: MeasuredSums,
    held_out: MeasuredSums,
    against_start: ComparisonSums,
    prices: Vec<PriceSums<'a>>,
}

impl<'a> OrderSums<'a> {
    fn new(readers: &'a [ReaderFile]) -> Self {
        Self {
            training: MeasuredSums::default(),
            held_out: MeasuredSums::default(),
            against_start: ComparisonSums::default(),
            prices: readers.iter().map(PriceSums::new).collect(),
        }
    }
}

/// Marks the orders of the training's frontier that no other order of the report dominates.
fn mark_frontier(reported: &mut [ReportedOrder], in_training: &[bool]) {
    let point = |order: &ReportedOrder| Point {
        cost: order.held_out.glances.value,
        reached: order.held_out.reached.hits(),
        item: (),
    };
    let points: Vec<Point<()>> = reported.iter().map(point).collect();
    for ((order, point), in_training) in reported.iter_mut().zip(&points).zip(in_training) {
        order.on_frontier = *in_training && !points.iter().any(|other| other.dominates(point));
    }
}

/// Holm over the tests of glances and of reach of all reported rulebooks that are not the start, and
/// those of all readers. A rulebook that is reported under two names counts twice, which only makes the
/// correction stricter.
fn correct_p_values(reported: &mut [ReportedOrder]) -> Result<(), StatsError> {
    let mut tests: Vec<(f64, &mut f64)> = Vec::new();
    for order in reported {
        if let Some(compared) = &mut order.against_start {
            tests.push((compared.cost.p, &mut compared.cost.p_holm));
            tests.push((compared.reached_p, &mut compared.reached_p_holm));
        }
        for compared in order.readers.iter_mut().filter_map(|price| price.against_start.as_mut()) {
            tests.push((compared.p, &mut compared.p_holm));
        }
    }
    let corrected = holm(&tests.iter().map(|(p, _)| *p).collect::<Vec<_>>())?;
    tests.into_iter().zip(corrected).for_each(|((_, to), p)| *to = p);
    Ok(())
}

fn as_text<S: Serializer>(order: &Order, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(order)
}
