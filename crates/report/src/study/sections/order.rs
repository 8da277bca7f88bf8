//! Rulebooks found by search.

use serde_json::{Value, json};
use tallyhouse_analysis::Rulebook;
use tallyhouse_analysis::order_search::{OrderReport, OrderSettings, ReportedOrder, search};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_document::{Block, Cell, Table};
use tallyhouse_stats::{Interval, Level};
use tallyhouse_words::{Measured, count, fixed};

use super::parts::{column, interval_column, sorted, text, words};
use crate::ReportError;
use crate::chart_kind::Draw;
use crate::charts::SearchedOrders;
use crate::saving::Written;
use crate::study::collections::Study;
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{OrderSearch, StudyProgress, StudyRecipe};

/// The section of a search for orders.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let search = study.recipe.order.iter();
    let part = search.map(|wanted| {
        let start = Rulebook::load(&wanted.start)?;
        let part = OrderPart { recipe: study.recipe, wanted, start };
        Ok(Box::new(part) as Box<dyn AnyPart>)
    });
    part.collect()
}

struct OrderPart<'a> {
    recipe: &'a StudyRecipe,
    wanted: &'a OrderSearch,
    start: Rulebook,
}

impl Part for OrderPart<'_> {
    type Data = SearchedOrders;

    fn name(&self) -> String {
        "order".to_owned()
    }

    fn title(&self) -> String {
        "Rulebooks that cost less or reach more".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        Ok(json!([self.wanted, self.start.to_toml(), self.recipe.weights, self.recipe.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<SearchedOrders>, ReportError> {
        let (wanted, start) = (self.wanted, self.start.name());
        let bar = progress.stage("searching", "orders", Some(wanted.evaluations));
        let made = |seed: u64, count| MinimalByDeletion { seed }.puzzles(0..count);
        let settings = OrderSettings {
            training: made(wanted.seed, wanted.training_count),
            held_out: made(wanted.seed.wrapping_add(1), wanted.held_out_count),
            start: self.start.order().clone(),
            weights: self.recipe.glance_weights(),
            level: self.recipe.level,
            seed: wanted.seed,
            evaluations: wanted.evaluations,
            frontier: wanted.frontier,
        };
        let report = search(&settings, &|more| bar.advance(more))?;
        let data = folder.write("frontier.csv", &report.csv()?)?;
        folder.write("ratio-rule.csv", &report.ratio_csv()?)?;
        folder.write("order.txt", report.to_text().as_bytes())?;
        Ok(Found {
            intro: format!(
                "Local search from {start}, the full ladder and the ratio rule (success divided by \
                 cost); comparisons are paired, on puzzles that the search has not seen."
            ),
            before: Vec::new(),
            after: tables(&report, start, &data, self.recipe.level),
            findings: cheapest(&report, start).into_iter().collect(),
            data: (&report).into(),
        })
    }

    fn draw(
        &self,
        orders: &SearchedOrders,
        folder: &StageFolder<'_>,
    ) -> Result<Vec<Block>, ReportError> {
        folder.charts(|draw| match draw {
            Draw::Search(draw) => Some(draw(orders)),
            _ => None,
        })
    }
}

/// The rulebooks, and what they have changed.
fn tables(report: &OrderReport, start: &str, data: &Written, level: Level) -> Vec<Block> {
    let rows = report.orders().map(|order| {
        let held_out = &order.held_out;
        let glances = held_out
            .glances_estimate
            .as_ref()
            .map_or_else(String::new, |estimate| Measured::from(*estimate).number_interval());
        let reached = held_out.reached.value();
        let share = held_out.reached_interval.map_or_else(
            || "all, by the definitions".to_owned(),
            |Interval { low, high }| Measured { value: reached, low, high }.percent(),
        );
        let looks: Vec<String> = order.order.looks().iter().map(ToString::to_string).collect();
        vec![
            text(order.name.clone()),
            sorted(fixed(held_out.glances.value, 0), held_out.glances.value),
            text(glances),
            sorted(
                format!(
                    "{} of {}",
                    count(held_out.reached.hits()),
                    count(held_out.reached.trials())
                ),
                reached,
            ),
            sorted(share, reached),
            text(looks.join(", ")),
        ]
    });
    let table = Table {
        id: "orders".to_owned(),
        caption: format!(
            "Rulebooks measured on {} held-out puzzles; chosen on {} others among {} orders",
            count(report.held_out_puzzles),
            count(report.training_puzzles),
            count(report.evaluations.made)
        ),
        columns: vec![
            words("rulebook", ""),
            column("glances", "mean per puzzle, one-by-one walk"),
            interval_column(level),
            column("fully reached", "puzzles that end where the full ladder ends"),
            column("share", "of puzzles, with its interval"),
            words("looks in order", ""),
        ],
        rows: rows.collect(),
        file: Some(data.link()),
    };
    let mut blocks = vec![Block::Table(table)];
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
    blocks
}

/// What a search for rulebooks found.
fn cheapest(report: &OrderReport, start: &str) -> Option<Finding> {
    let reached = |order: &&ReportedOrder| order.held_out.reached.hits();
    let at_least = report.start.held_out.reached.hits();
    let cost = |order: &&ReportedOrder| order.held_out.glances.value;
    let best = report
        .orders()
        .filter(|order| reached(order) >= at_least)
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))?;
    let words = |order: &ReportedOrder| {
        format!(
            "{} glances a puzzle, {} of {} fully reached",
            fixed(order.held_out.glances.value, 0),
            count(order.held_out.reached.hits()),
            count(order.held_out.reached.trials())
        )
    };
    let of_start = words(&report.start);
    let words = if best.name == report.start.name {
        format!("no rulebook found reaches as much as {start} for less: {of_start}")
    } else {
        format!(
            "the cheapest rulebook found that reaches as much as {start} is {}: {}; {start}: \
             {of_start}",
            best.name,
            words(best)
        )
    };
    Some(Finding { collection: None, words })
}
