//! Rulebooks found by search.

use tallyhouse_analysis::order_search::OrderReport;
use tallyhouse_document::{Block, Cell, Illustration, Section, Table};

use super::parts::{column, sorted, text, words};
use crate::numbers::{grouped, share};
use crate::saving::Written;

/// Rulebooks found by search.
pub(in crate::study) fn order(
    report: &OrderReport,
    start: &str,
    figures: Vec<Illustration>,
    data: &Written,
) -> Section {
    let rows = report.orders().map(|order| {
        let held_out = &order.held_out;
        let glances = held_out.glances_estimate.as_ref().map_or_else(String::new, |estimate| {
            format!(
                "{} to {}",
                grouped(estimate.interval.low.round() as u64),
                grouped(estimate.interval.high.round() as u64)
            )
        });
        let reached = held_out.reached.value();
        let looks: Vec<String> = order.order.looks().iter().map(ToString::to_string).collect();
        vec![
            text(order.name.clone()),
            sorted(grouped(held_out.glances.value.round() as u64), held_out.glances.value),
            text(glances),
            sorted(
                format!(
                    "{} of {}",
                    grouped(held_out.reached.hits()),
                    grouped(held_out.reached.trials())
                ),
                reached,
            ),
            sorted(share(reached), reached),
            text(looks.join(", ")),
        ]
    });
    let table = Table {
        id: "orders".to_owned(),
        caption: format!(
            "Rulebooks measured on {} held-out puzzles; chosen on {} others among {} orders",
            grouped(report.held_out_puzzles),
            grouped(report.training_puzzles),
            grouped(report.evaluations.made)
        ),
        columns: vec![
            words("rulebook", ""),
            column("glances", "mean per puzzle, one-by-one walk"),
            column("95 % interval", ""),
            column("fully reached", "puzzles that end where the full ladder ends"),
            column("share", "of puzzles"),
            words("looks in order", ""),
        ],
        rows: rows.collect(),
        file: Some(data.link()),
    };
    let mut blocks: Vec<Block> = figures.into_iter().map(Block::Figure).collect();
    blocks.push(Block::Table(table));
    let changed = report.frontier.iter().filter(|order| !order.changes.is_empty());
    let changes: Vec<Vec<Cell>> = changed
        .map(|order| vec![text(order.name.clone()), text(order.changes.join("; "))])
        .collect();
    if !changes.is_empty() {
        blocks.push(Block::Table(Table {
            id: "order-changes".to_owned(),
            caption: format!("What the rulebooks found have changed against {start}"),
            columns: vec![words("rulebook", ""), words("changes", "")],
            rows: changes,
            file: None,
        }));
    }
    Section {
        id: "order".to_owned(),
        title: "Rulebooks that cost less or reach more".to_owned(),
        intro: format!(
            "Local search from {start}, the full ladder and the ratio rule (success divided by \
             cost); comparisons are paired, on puzzles that the search has not seen."
        ),
        blocks,
    }
}
