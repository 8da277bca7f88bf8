//! The report as CSV and as text.

use std::fmt::Write as _;
use std::io;

use tallyhouse_stats::{Estimate, Interval};
use tallyhouse_words::{Measured, count, p_value, rounded};

use super::{OrderReport, ReportedOrder};

const HEADER: [&str; 29] = [
    "name",
    "order",
    "training_puzzles",
    "training_glances",
    "training_reached",
    "held_out_puzzles",
    "cells_seen",
    "places_gathered",
    "tries",
    "glances",
    "glances_se",
    "glances_low",
    "glances_high",
    "reached",
    "reached_share",
    "reached_low",
    "reached_high",
    "more_glances",
    "more_glances_low",
    "more_glances_high",
    "relative_glances",
    "glances_p_holm",
    "reached_by_this_only",
    "reached_by_start_only",
    "more_reached",
    "more_reached_low",
    "more_reached_high",
    "reached_p_holm",
    "undominated",
];

impl OrderReport {
    /// Writes all reported rulebooks as CSV, one per row: start, ladder, ratio rule, frontier.
    ///
    /// `glances` are means per puzzle; `cells_seen`, `places_gathered` and `tries` are sums over the
    /// held-out puzzles; `more_…` and `relative_…` compare with the start, empty for itself.
    ///
    /// # Errors
    /// If the output can't be written.
    pub fn to_csv(&self, out: impl io::Write) -> csv::Result<()> {
        let mut writer = csv::Writer::from_writer(out);
        writer.write_record(HEADER)?;
        for order in self.orders() {
            writer.write_record(row(order))?;
        }
        Ok(writer.flush()?)
    }

    /// Writes the table behind the ratio rule as CSV.
    ///
    /// # Errors
    /// If the output can't be written.
    pub fn ratio_table_to_csv(&self, out: impl io::Write) -> csv::Result<()> {
        let mut writer = csv::Writer::from_writer(out);
        for row in &self.ratio_table {
            writer.serialize(row)?;
        }
        Ok(writer.flush()?)
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

fn row(order: &ReportedOrder) -> Vec<String> {
    let (training, held_out) = (&order.training, &order.held_out);
    let [reached_low, reached_high] = limits(held_out.reached_interval);
    let [glances_low, glances_high] = limits(interval_of(held_out.glances_estimate));
    let mut row = vec![
        order.name.clone(),
        order.order.to_string(),
        training.reached.trials().to_string(),
        training.glances.value.to_string(),
        training.reached.hits().to_string(),
        held_out.reached.trials().to_string(),
        held_out.raw.cells_seen.to_string(),
        held_out.raw.places_gathered.to_string(),
        held_out.raw.tries.to_string(),
        held_out.glances.value.to_string(),
        held_out.glances.standard_error.to_string(),
        glances_low,
        glances_high,
        held_out.reached.hits().to_string(),
        held_out.reached.value().to_string(),
        reached_low,
        reached_high,
    ];
    match &order.against_start {
        None => row.extend(std::iter::repeat_n(String::new(), 11)),
        Some(compared) => {
            row.push(compared.more_glances.value.to_string());
            row.extend(limits(interval_of(compared.more_glances_estimate)));
            let relative = compared.relative_glances.map(|estimate| estimate.value.to_string());
            row.push(relative.unwrap_or_default());
            row.push(compared.glances_p_holm.to_string());
            row.push(compared.this_only.to_string());
            row.push(compared.other_only.to_string());
            row.push(compared.more_reached.value.to_string());
            row.extend(limits(Some(compared.more_reached.interval)));
            row.push(compared.reached_p_holm.to_string());
        }
    }
    row.push(order.undominated.to_string());
    row
}

fn interval_of(estimate: Option<Estimate>) -> Option<Interval> {
    estimate.map(|estimate| estimate.interval)
}

/// Returns the ends of an interval as fields; empty ones without an interval.
fn limits(interval: Option<Interval>) -> [String; 2] {
    interval.map_or_else(Default::default, |Interval { low, high }| {
        [low, high].map(|limit| limit.to_string())
    })
}
