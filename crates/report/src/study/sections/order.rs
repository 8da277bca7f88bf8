//! Rulebooks found by search.

use serde_json::{Value, json};
use tallyhouse_analysis::order_search::{
    OrderReport, OrderSettings, OrderSteps, ReportedOrder, search,
};
use tallyhouse_analysis::{ReaderFile, Rulebook};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_document::{Block, Cell, Table};
use tallyhouse_stats::Level;
use tallyhouse_words::{Measured, count, fixed, sentence_start};

use crate::ReportError;
use crate::cells::{column, interval_column, sorted, text, words};
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
        let readers = ReaderFile::built_in_and(&wanted.readers)?;
        let part = OrderPart { recipe: study.recipe, wanted, start, readers };
        Ok(Box::new(part) as Box<dyn AnyPart>)
    });
    part.collect()
}

struct OrderPart<'a> {
    recipe: &'a StudyRecipe,
    wanted: &'a OrderSearch,
    start: Rulebook,
    readers: Vec<ReaderFile>,
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
        let (weights, level) = (self.recipe.weights, self.recipe.level);
        let readers = format!("{:?}", self.readers);
        Ok(json!([self.wanted, self.start.to_toml(), readers, weights, level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<SearchedOrders>, ReportError> {
        let (wanted, start) = (self.wanted, self.start.name());
        let orders = wanted.runs.checked_mul(wanted.evaluations);
        let bar = progress.stage("searching", "orders", orders);
        let made = |seed: u64, count| MinimalByDeletion { seed }.puzzles(0..count);
        let settings = OrderSettings {
            training: made(wanted.seed, wanted.training_count),
            held_out: made(wanted.seed.wrapping_add(1), wanted.held_out_count),
            population: OrderSettings::made_population(),
            start: self.start.clone(),
            weights: self.recipe.glance_weights(),
            readers: self.readers.clone(),
            level: self.recipe.level,
            seed: wanted.seed,
            runs: wanted.runs,
            evaluations: wanted.evaluations,
            frontier: wanted.frontier as usize,
        };
        let report = search(&settings, &|more| bar.advance(more))?;
        let files = report.files()?;
        let written = files.iter().map(|(name, bytes)| folder.write(name, bytes));
        let written: Vec<Written> = written.collect::<Result<_, _>>()?;
        folder.write("order.txt", report.to_text().as_bytes())?;
        let findings = report.findings().into_iter();
        let findings = findings.map(|words| Finding { leads: false, collection: None, words });
        Ok(Found {
            intro: format!(
                "Local search from {start}, the full ladder and the ratio rule (success divided by \
                 cost), for the reader who sees pencil marks and remembers nothing. {}",
                report.basis()
            ),
            before: told(&report),
            after: tables(&report, [&written[0], &written[1]], self.recipe.level),
            findings: findings.collect(),
            data: SearchedOrders::of_report(&report)?,
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

/// The findings, and the steps of the best order.
fn told(report: &OrderReport) -> Vec<Block> {
    let findings = report.findings().into_iter();
    let findings = findings.map(|words| format!("{}.", sentence_start(&words)));
    let OrderSteps { steps, rules } = &report.recommended.steps;
    let mut blocks: Vec<Block> = findings.map(Block::Paragraph).collect();
    blocks.push(Block::Paragraph(format!("How to look, by {}:", report.best_name())));
    blocks.push(Block::Steps(steps.clone()));
    blocks.push(Block::Paragraph(rules.join(" ")));
    blocks
}

/// The rulebooks, and what readers save by them.
fn tables(report: &OrderReport, files: [&Written; 2], level: Level) -> Vec<Block> {
    let rows = report.orders().map(|order| {
        let held_out = &order.held_out;
        let mean = held_out.glances.value;
        let (value, glances) = match held_out.glances_estimate.map(Measured::from) {
            Some(told) => (told.number_value(), told.number_interval()),
            None => (fixed(mean, 0), String::new()),
        };
        let reached = held_out.reached.value();
        let hits = [held_out.reached.hits(), held_out.reached.trials()].map(count);
        let looks: Vec<String> = order.order.looks().iter().map(ToString::to_string).collect();
        vec![
            text(report.label(order)),
            sorted(value, mean),
            text(glances),
            sorted(hits.join(" of "), reached),
            sorted(held_out.reached_words(), reached),
            text(looks.join(", ")),
        ]
    });
    let orders = Table {
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
        file: Some(files[0].link()),
    };
    let names = report.start.readers.iter().map(|price| column(&price.reader, "glances saved"));
    let is_robust = "each reader saves glances, and no fewer puzzles are fully reached";
    let columns = [words("rulebook", "")].into_iter().chain(names);
    let readers = Table {
        id: "order-readers".to_owned(),
        caption: format!(
            "Glances saved against {}, for each reader, on {} held-out puzzles",
            report.start_name,
            count(report.held_out_puzzles)
        ),
        columns: columns.chain([words("robust", is_robust)]).collect(),
        rows: report.orders().filter_map(|order| savings(report, order)).collect(),
        file: Some(files[1].link()),
    };
    vec![Block::Table(orders), Block::Table(readers)]
}

/// What each reader saves by an order that is not the start.
fn savings(report: &OrderReport, order: &ReportedOrder) -> Option<Vec<Cell>> {
    let robust = order.robust?;
    let saved = order.readers.iter().filter_map(|price| price.against_start.as_ref());
    let saved = saved.map(|cost| sorted(cost.saved(), -cost.more_glances.value));
    let robust = text(if robust { "yes" } else { "no" });
    Some([text(report.label(order))].into_iter().chain(saved).chain([robust]).collect())
}
