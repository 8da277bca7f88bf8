//! Rulebooks found by search.

use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::order_search::{OrderReport, RECOMMENDED, ReportedOrder, order_label};
use tallyhouse_census::CensusError;
use tallyhouse_figures::{Axis, FrontierChart, FrontierPoint, Heading, Unit};
use tallyhouse_stats::{Estimate, Interval, Level};
use tallyhouse_words::{Measured, count, counted, fixed, sentence_start};

use super::folder::{check, read_json};
use super::words;
use crate::ReportError;

/// The rulebooks of an order search.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SearchedOrders {
    /// What is told of the search as a whole.
    pub search: Search,
    /// Puzzles on which they were chosen.
    pub training: u64,
    /// Puzzles on which they were measured.
    pub held_out: u64,
    /// The rulebooks.
    pub orders: Vec<FrontierPoint>,
}

/// What is told of a search as a whole, as its `order.json` has it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Search {
    /// The starting rulebook.
    pub start_name: String,
    /// What the held-out puzzles are a sample of.
    pub population: String,
    /// The level of all intervals.
    pub level: Level,
    /// The order that is recommended.
    pub recommended: Recommended,
    /// Whether the runs of the search came to the same.
    pub agreement: Agreed,
}

/// What is read of how the runs of a search agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Agreed {
    /// Whether they came to the same.
    pub converged: bool,
}

/// What is read of the order that is recommended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Recommended {
    /// What it costs each reader.
    pub readers: Vec<ReaderCost>,
}

/// What an order costs a reader.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReaderCost {
    /// The reader.
    pub reader: String,
    /// Against the start; none if it is the same.
    pub against_start: Option<MoreGlances>,
}

/// By how much an order costs more than another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MoreGlances {
    /// Glances more for each puzzle; none if these are the same for every puzzle.
    pub more_glances_estimate: Option<Estimate>,
    /// Glances per glance of the other; none if that has no standard error.
    pub relative_glances: Option<Estimate>,
}

impl Search {
    /// Says for which readers the recommended order costs more than the start, or is not shown to cost
    /// less.
    fn without_saving(&self) -> Vec<String> {
        let told = self.recommended.readers.iter().filter_map(|reader| {
            let MoreGlances { more_glances_estimate: more, relative_glances } =
                reader.against_start.as_ref()?;
            let name = &reader.reader;
            match (more, relative_glances) {
                (Some(more), _) if more.interval.high < 0.0 => None,
                (Some(more), Some(times)) if more.interval.low > 0.0 => {
                    let more = Measured::from(*times).plus(-1.0).percent_change();
                    Some(format!("A reader of the kind {name} pays {more} more."))
                }
                _ => Some(format!("It is not shown to cost a reader of the kind {name} less.")),
            }
        });
        told.collect()
    }

    pub(super) fn label(&self, name: &str, on_frontier: bool) -> String {
        order_label(name, &self.start_name, self.agreement.converged, on_frontier)
    }
}

impl SearchedOrders {
    /// Takes the rulebooks from the report of a search.
    ///
    /// # Errors
    /// If the report can't be written down.
    pub fn of_report(report: &OrderReport) -> Result<Self, ReportError> {
        let search: Search = serde_json::from_value(serde_json::to_value(report)?)?;
        let point = |order: &ReportedOrder| {
            let (cost, gain) = (order.held_out.glances.value, order.held_out.reached.value());
            let cost_interval = order.held_out.glances_estimate.map(|estimate| estimate.interval);
            FrontierPoint {
                label: search.label(&order.name, order.on_frontier),
                cost,
                cost_interval: ends(cost, cost_interval),
                gain,
                gain_interval: ends(gain, order.held_out.reached_interval),
                on_frontier: order.on_frontier,
                is_recommended: order.name == RECOMMENDED,
            }
        };
        Ok(Self {
            training: report.training_puzzles,
            held_out: report.held_out_puzzles,
            orders: report.orders().map(point).collect(),
            search,
        })
    }
}

/// Without an interval all puzzles cost the same, or all are reached by the definitions.
fn ends(value: f64, interval: Option<Interval>) -> (f64, f64) {
    interval.map_or((value, value), |interval| (interval.low, interval.high))
}

/// What is read of a rulebook in `frontier.csv`.
#[derive(Deserialize)]
struct Record {
    name: String,
    training_puzzles: u64,
    held_out_puzzles: u64,
    glances: f64,
    glances_low: Option<f64>,
    glances_high: Option<f64>,
    reached_share: f64,
    reached_low: Option<f64>,
    reached_high: Option<f64>,
    on_frontier: bool,
}

impl SearchedOrders {
    /// Reads them from the folder of a search.
    ///
    /// # Errors
    /// If it has no whole `frontier.csv` and `order.json`.
    pub fn of_folder(folder: &Path) -> Result<Self, ReportError> {
        check(folder)?;
        let search: Search = read_json(folder, "order.json")?;
        let path = folder.join("frontier.csv");
        let damaged = |error: csv::Error| CensusError::Damaged {
            path: path.clone(),
            reason: error.to_string(),
        };
        let reader = csv::Reader::from_path(&path).map_err(damaged)?;
        let mut all = Self { search, training: 0, held_out: 0, orders: Vec::new() };
        for record in reader.into_deserialize() {
            let order: Record = record.map_err(damaged)?;
            let interval = |low: Option<f64>, high: Option<f64>| {
                low.zip(high).map(|(low, high)| Interval { low, high })
            };
            let cost_interval = interval(order.glances_low, order.glances_high);
            let gain_interval = interval(order.reached_low, order.reached_high);
            (all.training, all.held_out) = (order.training_puzzles, order.held_out_puzzles);
            all.orders.push(FrontierPoint {
                cost: order.glances,
                cost_interval: ends(order.glances, cost_interval),
                label: all.search.label(&order.name, order.on_frontier),
                gain: order.reached_share,
                gain_interval: ends(order.reached_share, gain_interval),
                on_frontier: order.on_frontier,
                is_recommended: order.name == RECOMMENDED,
            });
        }
        Ok(all)
    }
}

/// Draws the rulebooks of an order search.
#[must_use]
pub fn frontier(all: &SearchedOrders) -> FrontierChart {
    FrontierChart {
        heading: Heading {
            title: frontier_title(all),
            subtitle: format!(
                "{}: mean glances of a reader who sees pencil marks and remembers nothing, and puzzles \
                 that end where the full ladder ends; {} held-out puzzles, {} intervals, chosen on {} \
                 others.",
                sentence_start(&all.search.population),
                count(all.held_out),
                all.search.level,
                count(all.training)
            ),
            notes: notes(all),
            alt: frontier_alt(all),
        },
        cost: Axis::linear("glances per puzzle", Unit::Number),
        gain: Axis::linear("puzzles fully reached", Unit::Percent),
        frontier_words: "frontier: none costs less and reaches as much, in training and held out"
            .to_owned(),
        recommended_words: all.search.label(RECOMMENDED, true),
        points: all.orders.clone(),
    }
}

/// What the recommended order saves its reader, where glances leave no doubt and reach is no less.
fn frontier_title(all: &SearchedOrders) -> String {
    let start = all.search.label("start", false);
    let start = all.orders.iter().find(|order| order.label == start);
    let recommended = all.orders.iter().find(|order| order.is_recommended);
    let saving = recommended.zip(start).and_then(|(found, start)| {
        let costs_less = found.cost_interval.1 < start.cost_interval.0;
        (costs_less && found.gain >= start.gain).then(|| 1.0 - found.cost / start.cost)
    });
    match saving {
        Some(saving) => format!(
            "A better order for what {} finds costs a reader who sees marks {} % less",
            all.search.start_name,
            fixed(100.0 * saving, 0)
        ),
        None => "How much effort does reach cost?".to_owned(),
    }
}

/// Says what is recommended and why, who saves nothing by it, and if a longer search may find more.
fn notes(all: &SearchedOrders) -> Vec<String> {
    let mut notes = Vec::new();
    if all.orders.iter().any(|order| order.is_recommended) {
        notes.push(format!(
            "{}: of the orders that look for all that {} looks for and reach no fewer puzzles, it cost \
             least in training.",
            sentence_start(&all.search.label(RECOMMENDED, true)),
            all.search.start_name
        ));
    }
    notes.extend(all.search.without_saving());
    if !all.search.agreement.converged {
        notes
            .push("The search has not converged: a longer one may find cheaper orders.".to_owned());
    }
    notes.extend(words::few_puzzles(all.held_out, "the intervals"));
    notes
}

/// Describes the rulebooks of a search.
fn frontier_alt(all: &SearchedOrders) -> String {
    let mut best: Vec<_> = all.orders.iter().filter(|order| order.on_frontier).collect();
    best.sort_by(|one, other| one.cost.total_cmp(&other.cost));
    let named = |order: &FrontierPoint| {
        let (low, high) = order.gain_interval;
        let reached = Measured { value: order.gain, low, high };
        let (name, glances) = (&order.label, fixed(order.cost, 0));
        format!("{name} ({glances} glances, {} fully reached)", reached.percent_value())
    };
    let frontier = match best.as_slice() {
        [] => "None is on the frontier".to_owned(),
        [one] => format!("One is on the frontier: {}", named(one)),
        [first, .., last] => format!(
            "{} are on the frontier, where less effort costs reach, from {} to {}",
            best.len(),
            named(first),
            named(last)
        ),
    };
    format!(
        "Points: {} by mean glances per puzzle and share of {} held-out puzzles fully reached. \
         {frontier}.",
        counted(all.orders.len() as u64, "rulebook", "rulebooks"),
        count(all.held_out)
    )
}
