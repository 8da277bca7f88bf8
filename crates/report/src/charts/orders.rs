//! Rulebooks found by search.

use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::order_search::{OrderReport, ReportedOrder};
use tallyhouse_census::CensusError;
use tallyhouse_figures::{Axis, FrontierChart, FrontierPoint, Heading, Unit};
use tallyhouse_stats::Interval;
use tallyhouse_words::{Measured, count, counted, fixed};

use super::folder::check;
use super::words;
use crate::ReportError;

/// The rulebooks of an order search.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SearchedOrders {
    /// Puzzles on which they were chosen.
    pub training: u64,
    /// Puzzles on which they were measured.
    pub held_out: u64,
    /// The rulebooks.
    pub orders: Vec<FrontierPoint>,
}

impl From<&OrderReport> for SearchedOrders {
    fn from(report: &OrderReport) -> Self {
        let point = |order: &ReportedOrder| {
            let (cost, gain) = (order.held_out.glances.value, order.held_out.reached.value());
            let cost_interval = order.held_out.glances_estimate.map(|estimate| estimate.interval);
            FrontierPoint {
                label: order.name.clone(),
                cost,
                cost_interval: ends(cost, cost_interval),
                gain,
                gain_interval: ends(gain, order.held_out.reached_interval),
                on_frontier: order.on_frontier,
            }
        };
        Self {
            training: report.training_puzzles,
            held_out: report.held_out_puzzles,
            orders: report.orders().map(point).collect(),
        }
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
    /// If it has no whole `frontier.csv`.
    pub fn of_folder(folder: &Path) -> Result<Self, ReportError> {
        check(folder)?;
        let path = folder.join("frontier.csv");
        let damaged = |error: csv::Error| CensusError::Damaged {
            path: path.clone(),
            reason: error.to_string(),
        };
        let reader = csv::Reader::from_path(&path).map_err(damaged)?;
        let mut all = Self { training: 0, held_out: 0, orders: Vec::new() };
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
                label: order.name,
                gain: order.reached_share,
                gain_interval: ends(order.reached_share, gain_interval),
                on_frontier: order.on_frontier,
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
                "Mean glances of one-by-one walks and share of puzzles that end where the full \
                 ladder ends, on {} held-out puzzles, with their intervals; found on {} others.",
                count(all.held_out),
                count(all.training)
            ),
            notes: words::few_puzzles(all.held_out, "the intervals").into_iter().collect(),
            alt: frontier_alt(all),
        },
        cost: Axis::linear("glances per puzzle", Unit::Number),
        gain: Axis::linear("puzzles fully reached", Unit::Percent),
        points: all.orders.clone(),
    }
}

/// What the recommended order saves, where its glances and its reach leave no doubt.
fn frontier_title(all: &SearchedOrders) -> String {
    let named = |name: &str| {
        all.orders.iter().find(|order| order.label.split(", ").any(|label| label == name))
    };
    let saving = named("recommended").zip(named("start")).and_then(|(found, start)| {
        let costs_less = found.cost_interval.1 < start.cost_interval.0;
        (costs_less && found.gain >= start.gain).then(|| 1.0 - found.cost / start.cost)
    });
    match saving {
        Some(saving) => format!(
            "The order found saves {} % of the glances and reaches no less",
            fixed(100.0 * saving, 0)
        ),
        None => "How much effort does reach cost?".to_owned(),
    }
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
