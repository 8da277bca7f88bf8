//! Rulebooks found by search.

use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::order_search::{OrderReport, ReportedOrder};
use tallyhouse_census::CensusError;
use tallyhouse_figures::{Axis, FrontierChart, FrontierPoint, Heading, Spread, Unit};
use tallyhouse_words::{Measured, count, counted, fixed};

use super::error::{ChartError, check};
use super::words;

/// A rulebook of an order search.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SearchedOrder {
    /// Its name.
    pub name: String,
    /// Mean glances per held-out puzzle.
    pub glances: f64,
    /// The ends of their interval.
    pub glances_interval: (f64, f64),
    /// The share of held-out puzzles fully reached.
    pub reached: f64,
    /// The ends of its interval.
    pub interval: (f64, f64),
    /// If no other rulebook costs less and reaches as much.
    pub undominated: bool,
}

impl From<&ReportedOrder> for SearchedOrder {
    fn from(order: &ReportedOrder) -> Self {
        let reached = order.held_out.reached.value();
        let glances = order.held_out.glances.value;
        Self {
            name: order.name.clone(),
            glances,
            glances_interval: order
                .held_out
                .glances_estimate
                .map_or((glances, glances), |all| (all.interval.low, all.interval.high)),
            reached,
            interval: order
                .held_out
                .reached_interval
                .map_or((reached, reached), |interval| (interval.low, interval.high)),
            undominated: order.undominated,
        }
    }
}

/// The rulebooks of an order search.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SearchedOrders {
    /// Puzzles on which they were chosen.
    pub training: u64,
    /// Puzzles on which they were measured.
    pub held_out: u64,
    /// The rulebooks.
    pub orders: Vec<SearchedOrder>,
}

impl From<&OrderReport> for SearchedOrders {
    fn from(report: &OrderReport) -> Self {
        Self {
            training: report.training_puzzles,
            held_out: report.held_out_puzzles,
            orders: report.orders().map(SearchedOrder::from).collect(),
        }
    }
}

impl SearchedOrders {
    /// Reads them from the folder of a search.
    ///
    /// # Errors
    /// If it has no whole `frontier.csv`.
    pub fn of_folder(folder: &Path) -> Result<Self, ChartError> {
        check(folder)?;
        let path = folder.join("frontier.csv");
        let damaged =
            |reason: String| ChartError::from(CensusError::Damaged { path: path.clone(), reason });
        let mut reader =
            csv::Reader::from_path(&path).map_err(|error| damaged(error.to_string()))?;
        let header = reader.headers().map_err(|error| damaged(error.to_string()))?.clone();
        let mut all = Self { training: 0, held_out: 0, orders: Vec::new() };
        for record in reader.records() {
            let record = record.map_err(|error| damaged(error.to_string()))?;
            let field = |name: &str| {
                let column = header.iter().position(|column| column == name);
                column
                    .and_then(|column| record.get(column))
                    .ok_or_else(|| damaged(format!("no column {name}")))
            };
            let number = |name: &str| {
                let text = field(name)?;
                text.parse::<f64>()
                    .map_err(|_| damaged(format!("{name} is '{text}': expected a number")))
            };
            // Without an interval all puzzles cost the same, or all are reached by the definitions.
            let limit = |name: &str, value: &str| {
                if field(name)?.is_empty() { number(value) } else { number(name) }
            };
            all.training = number("training_puzzles")? as u64;
            all.held_out = number("held_out_puzzles")? as u64;
            all.orders.push(SearchedOrder {
                name: field("name")?.to_owned(),
                glances: number("glances")?,
                glances_interval: (
                    limit("glances_low", "glances")?,
                    limit("glances_high", "glances")?,
                ),
                reached: number("reached_share")?,
                interval: (
                    limit("reached_low", "reached_share")?,
                    limit("reached_high", "reached_share")?,
                ),
                undominated: field("undominated")? == "true",
            });
        }
        Ok(all)
    }
}

/// Draws the rulebooks of an order search.
#[must_use]
pub fn frontier(all: &SearchedOrders) -> FrontierChart {
    let point = |order: &SearchedOrder| FrontierPoint {
        label: order.name.clone(),
        cost: order.glances,
        cost_interval: order.glances_interval,
        gain: order.reached,
        gain_interval: order.interval,
        on_frontier: order.undominated,
    };
    FrontierChart {
        heading: Heading {
            title: "Effort and reach of rulebooks".to_owned(),
            subtitle: vec![format!(
                "Mean glances of one-by-one walks and share of puzzles that end where the full \
                 ladder ends, on {} held-out puzzles, with their intervals; found on {} others.",
                count(all.held_out),
                count(all.training)
            )],
            notes: words::few_puzzles(all.held_out, "the intervals").into_iter().collect(),
            alt: frontier_alt(all),
        },
        cost: Axis {
            title: "glances per puzzle".to_owned(),
            spread: Spread::Linear,
            unit: Unit::Number,
        },
        gain: Axis {
            title: "puzzles fully reached".to_owned(),
            spread: Spread::Linear,
            unit: Unit::Percent,
        },
        points: all.orders.iter().map(point).collect(),
    }
}

/// Describes the rulebooks of a search.
fn frontier_alt(all: &SearchedOrders) -> String {
    let mut best: Vec<&SearchedOrder> =
        all.orders.iter().filter(|order| order.undominated).collect();
    best.sort_by(|one, other| one.glances.total_cmp(&other.glances));
    let named = |order: &SearchedOrder| {
        format!(
            "{} ({} glances, {} fully reached)",
            order.name,
            fixed(order.glances, 0),
            Measured { value: order.reached, low: order.interval.0, high: order.interval.1 }
                .percent_value()
        )
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
