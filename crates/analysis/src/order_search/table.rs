//! The report as CSV and as text.

use std::fmt::Write as _;

use serde::Serialize;
use tallyhouse_stats::Interval;
use tallyhouse_words::{Measured, count, p_value, rounded};

use super::{OrderReport, ReportedOrder};
use crate::csv_file::{number_field, to_csv, value_fields};

const HEADER: &str = "\
    name,order,training_puzzles,training_glances,training_reached,held_out_puzzles,cells_seen,\
    places_gathered,tries,glances,glances_se,glances_low,glances_high,reached,reached_share,\
    reached_low,reached_high,more_glances,more_glances_low,more_glances_high,relative_glances,\
    glances_p_holm,reached_by_this_only,reached_by_start_only,more_reached,more_reached_low,\
    more_reached_high,reached_p_holm,undominated";

impl OrderReport {
    /// Returns all reported rulebooks as CSV, one per row: start, ladder, ratio rule, frontier.
    ///
    /// `glances` are means per puzzle; `cells_seen`, `places_gathered` and `tries` are sums over the
    /// held-out puzzles; `more_…` and `relative_…` compare with the start, empty for itself.
    ///
    /// # Errors
    /// If a record does not fit the header.
    pub fn csv(&self) -> csv::Result<Vec<u8>> {
        to_csv(HEADER, self.orders().map(record))
    }

    /// Returns the table behind the ratio rule as CSV.
    ///
    /// # Errors
    /// If a record does not fit the header.
    pub fn ratio_csv(&self) -> csv::Result<Vec<u8>> {
        let header = "look,open,tries,found,success_share,mean_glances,ratio";
        to_csv(header, &self.ratio_table)
    }

    /// Returns the reported rulebooks as text for readers.
    #[must_use]
    pub fn to_text(&self) -> String {
        let [training, held_out] = [self.training_puzzles, self.held_out_puzzles].map(count);
        let made = self.evaluations;
        let mut text = format!(
            "Chosen among {} orders on {training} puzzles ({} of them stopped early, after {} \
             puzzles);\nmeasured on {held_out} other puzzles. Glances are means per puzzle.\n\
             Intervals are {}; p is corrected for all comparisons of the table (Holm).\n\n",
            count(made.made),
            count(made.stopped_early),
            count(made.first_slice),
            self.level,
        );
        let mut line = |cells: [&str; 5]| {
            let [name, glances, reached, more_glances, more_reached] = cells;
            let row = format!(
                "{name:<12}  {glances:>22}  {reached:<38}  {more_glances:<36}  {more_reached}"
            );
            text.push_str(row.trim_end());
            text.push('\n');
        };
        line([
            "rulebook",
            "glances",
            "fully reached",
            "glances more than start",
            "points more reached",
        ]);
        for order in self.orders() {
            let measured = &order.held_out;
            let glances = measured.glances_estimate.map_or_else(
                || rounded(measured.glances.value, 3),
                |estimate| Measured::from(estimate).number(),
            );
            let share = measured.reached_interval.map_or_else(
                || "by the definitions".to_owned(),
                |Interval { low, high }| {
                    Measured { value: measured.reached.value(), low, high }.percent()
                },
            );
            let [hits, trials] = [measured.reached.hits(), measured.reached.trials()].map(count);
            let reached = format!("{hits} of {trials}, {share}");
            let (more_glances, more_reached) = match &order.against_start {
                None => Default::default(),
                Some(compared) => (
                    format!(
                        "{}, {}",
                        compared.more_glances_estimate.map_or_else(
                            || rounded(compared.more_glances.value, 3),
                            |estimate| Measured::from(estimate).number(),
                        ),
                        p_value(compared.glances_p_holm),
                    ),
                    format!(
                        "{}, {}",
                        Measured::from(compared.more_reached).times(100.0).number(),
                        p_value(compared.reached_p_holm),
                    ),
                ),
            };
            line([&order.name, &glances, &reached, &more_glances, &more_reached]);
        }
        for order in self.orders() {
            let beaten =
                if order.undominated { "" } else { " (another rulebook of the table beats it)" };
            // Writing to a String can't fail.
            let _ = write!(text, "\n{}: {}{beaten}\n", order.name, order.order);
            for change in &order.changes {
                let _ = writeln!(text, "  - {change}");
            }
        }
        text
    }
}

fn record(order: &ReportedOrder) -> impl Serialize {
    let (training, held_out) = (&order.training, &order.held_out);
    let raw = held_out.raw;
    let chosen = (
        training.reached.trials(),
        training.glances.value.to_string(),
        training.reached.hits(),
        held_out.reached.trials(),
    );
    let glances = (
        [raw.cells_seen, raw.places_gathered, raw.tries],
        [held_out.glances.value, held_out.glances.standard_error].map(|n| n.to_string()),
        limits(held_out.glances_estimate.map(|estimate| estimate.interval)),
    );
    let reached = (
        held_out.reached.hits(),
        held_out.reached.value().to_string(),
        limits(held_out.reached_interval),
    );
    let compared = order.against_start.as_ref();
    let more_glances = (
        number_field(compared.map(|c| c.more_glances.value)),
        limits(compared.and_then(|c| c.more_glances_estimate).map(|estimate| estimate.interval)),
        number_field(compared.and_then(|c| c.relative_glances).map(|estimate| estimate.value)),
        number_field(compared.map(|c| c.glances_p_holm)),
    );
    let more_reached = (
        compared.map(|c| c.this_only),
        compared.map(|c| c.other_only),
        value_fields(compared.map(|c| &c.more_reached)),
        number_field(compared.map(|c| c.reached_p_holm)),
    );
    let name = (order.name.clone(), order.order.to_string());
    (name, chosen, glances, reached, more_glances, more_reached, order.undominated)
}

/// Returns the ends of an interval as fields; empty ones without an interval.
fn limits(interval: Option<Interval>) -> [String; 2] {
    let ends = interval.map(|Interval { low, high }| [low, high].map(|end| end.to_string()));
    ends.unwrap_or_default()
}
