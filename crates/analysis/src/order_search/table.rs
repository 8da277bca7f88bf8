//! The report as CSV and as text.

use std::fmt::Write as _;

use serde::Serialize;
use tallyhouse_words::{Measured, count, sentence_start};

use super::{CostDifference, OrderReport, ReportedOrder};
use crate::csv_file::{interval_fields, number_field, to_csv, value_fields};

const HEADER: &str = "\
    name,order,training_puzzles,training_glances,training_reached,held_out_puzzles,cells_seen,\
    places_gathered,tries,glances,glances_se,glances_low,glances_high,reached,reached_share,\
    reached_low,reached_high,more_glances,more_glances_low,more_glances_high,relative_glances,\
    glances_p_holm,reached_by_this_only,reached_by_start_only,more_reached,more_reached_low,\
    more_reached_high,reached_p_holm,robust,on_frontier";

const READERS: &str = "\
    name,reader,held_out_puzzles,glances,glances_se,glances_low,glances_high,more_glances,\
    more_glances_low,more_glances_high,relative_glances,relative_glances_low,relative_glances_high,\
    glances_p_holm";

impl OrderReport {
    /// Returns all tables as files: names and contents.
    ///
    /// # Errors
    /// If a record does not fit its header.
    pub fn files(&self) -> csv::Result<[(&'static str, Vec<u8>); 4]> {
        let ratios = "look,open,tries,found,success_share,mean_glances,ratio";
        Ok([
            ("frontier.csv", self.csv()?),
            ("readers.csv", self.readers_csv()?),
            ("runs.csv", self.runs_csv()?),
            ("ratio-rule.csv", to_csv(ratios, &self.ratio_table)?),
        ])
    }

    /// Returns all reported rulebooks as CSV, one per row: start, ladder, ratio rule, recommended,
    /// frontier.
    ///
    /// `glances` are means per puzzle; `cells_seen`, `places_gathered` and `tries` are sums over the
    /// held-out puzzles; `more_…` and `relative_…` compare with the start, empty for itself.
    ///
    /// # Errors
    /// If a record does not fit the header.
    pub fn csv(&self) -> csv::Result<Vec<u8>> {
        to_csv(HEADER, self.orders().map(record))
    }

    /// Returns what each reported rulebook costs each reader on the held-out puzzles.
    fn readers_csv(&self) -> csv::Result<Vec<u8>> {
        let records = self.orders().flat_map(|order| {
            order.readers.iter().map(|price| {
                let name = (&order.name, &price.reader, self.held_out_puzzles);
                let glances = [price.glances.value, price.glances.standard_error];
                let interval = price.glances_estimate.map(|estimate| estimate.interval);
                let compared = price.against_start.as_ref();
                let relative = value_fields(compared.and_then(|c| c.relative_glances.as_ref()));
                let p = number_field(compared.map(|c| c.p_holm));
                let glances = (glances.map(|n| n.to_string()), interval_fields(interval));
                (name, glances, more_glances(compared), relative, p)
            })
        });
        to_csv(READERS, records)
    }

    /// Returns what the best order of each run costs at each reach: a row for each reach and run.
    fn runs_csv(&self) -> csv::Result<Vec<u8>> {
        let header = "training_reached,run,held_out_puzzles,glances,difference,difference_low,\
                      difference_high,agrees";
        let records = self.agreement.reaches.iter().flat_map(|reach| {
            let reached = reach.reached.map_or_else(String::new, |share| share.hits().to_string());
            let difference = value_fields(reach.difference.as_ref());
            let glances = (1..).zip(&reach.glances);
            glances.map(move |(run, glances): (u64, _)| {
                let glances = (run, self.held_out_puzzles, glances.to_string());
                (reached.clone(), glances, difference.clone(), reach.agrees)
            })
        });
        to_csv(header, records)
    }

    /// Returns the report as text for readers.
    #[must_use]
    pub fn to_text(&self) -> String {
        let mut text = String::new();
        // Writing to a String can't fail.
        for finding in self.findings() {
            let _ = writeln!(text, "{}.", sentence_start(&finding));
        }
        let _ = write!(text, "\nHow to look, by {}:\n", self.best_name());
        for line in self.recommended.steps.lines() {
            let _ = writeln!(text, "{line}");
        }
        let _ = write!(text, "\n{}\n\n", self.basis());
        self.add_orders(&mut text);
        self.add_readers(&mut text);
        for order in self.orders() {
            let _ = write!(text, "\n{}: {}\n", self.label(order), order.order);
        }
        text
    }

    fn label_width(&self) -> usize {
        self.orders().map(|order| self.label(order).chars().count()).max().unwrap_or(0).max(12)
    }

    fn add_orders(&self, text: &mut String) {
        let width = self.label_width();
        let mut line = |cells: [&str; 5]| {
            let [name, glances, reached, more_glances, more_reached] = cells;
            let row = format!(
                "{name:<width$}  {glances:>22}  {reached:<38}  {more_glances:<25}  {more_reached}"
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
            let compared = order.against_start.as_ref();
            let more_glances = compared.map_or_else(String::new, |c| c.cost.words());
            let more_reached = compared.map_or_else(String::new, |compared| {
                Measured::from(compared.more_reached).times(100.0).number()
            });
            let [hits, of] =
                [order.held_out.reached.hits(), order.held_out.reached.trials()].map(count);
            let reached = format!("{hits} of {of}, {}", order.held_out.reached_words());
            line([
                &self.label(order),
                &order.held_out.glances_words(),
                &reached,
                &more_glances,
                &more_reached,
            ]);
        }
    }

    fn add_readers(&self, text: &mut String) {
        *text += "\nGlances saved against the start, for each reader:\n";
        let width = self.label_width();
        let mut line = |name: &str, cells: &[String], robust: &str| {
            let mut row = format!("{name:<width$}");
            cells.iter().for_each(|cell| row += &format!("  {cell:<24}"));
            row += &format!("  {robust}");
            text.push_str(row.trim_end());
            text.push('\n');
        };
        let names: Vec<String> =
            self.start.readers.iter().map(|price| price.reader.clone()).collect();
        line("rulebook", &names, "robust");
        for order in self.orders().filter(|order| order.robust.is_some()) {
            let savings = order.readers.iter().map(|price| {
                price.against_start.as_ref().map_or_else(String::new, CostDifference::saved)
            });
            let savings: Vec<String> = savings.collect();
            line(
                &self.label(order),
                &savings,
                if order.robust == Some(true) { "yes" } else { "no" },
            );
        }
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
        interval_fields(held_out.glances_estimate.map(|estimate| estimate.interval)),
    );
    let reached = (
        held_out.reached.hits(),
        held_out.reached.value().to_string(),
        interval_fields(held_out.reached_interval),
    );
    let compared = order.against_start.as_ref();
    let cost = compared.map(|c| &c.cost);
    let more_glances = (
        more_glances(cost),
        number_field(cost.and_then(|c| c.relative_glances).map(|estimate| estimate.value)),
        number_field(cost.map(|c| c.p_holm)),
    );
    let more_reached = (
        compared.map(|c| c.this_only),
        compared.map(|c| c.other_only),
        value_fields(compared.map(|c| &c.more_reached)),
        number_field(compared.map(|c| c.reached_p_holm)),
    );
    let name = (order.name.clone(), order.order.to_string());
    let robust = order.robust.map_or_else(String::new, |robust| robust.to_string());
    (name, chosen, glances, reached, more_glances, more_reached, (robust, order.on_frontier))
}

/// Returns a difference of means as fields; empty ones without.
fn more_glances(compared: Option<&CostDifference>) -> (String, [String; 2]) {
    let interval = compared.and_then(|c| c.more_glances_estimate).map(|estimate| estimate.interval);
    (number_field(compared.map(|c| c.more_glances.value)), interval_fields(interval))
}
