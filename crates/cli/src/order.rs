//! `tallyhouse order`: search for better rulebooks.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use anyhow::{Context, ensure};
use tallyhouse_analysis::Rulebook;
use tallyhouse_analysis::order_search::{OrderReport, OrderSettings, ReportedOrder, search};
use tallyhouse_board::Puzzle;
use tallyhouse_census::write_file;
use tallyhouse_collection::{MinimalByDeletion, Rows, Source};

use crate::args::Order;
use crate::progress;

/// Made puzzles that are held out come from the next seed.
const NEXT: u64 = 1;

pub(crate) fn run(order: &Order, quiet: bool) -> anyhow::Result<()> {
    let (training, held_out) = match (&order.training, &order.held_out) {
        (Some(training), Some(held_out)) => (read(training)?, read(held_out)?),
        _ => (
            MinimalByDeletion { seed: order.seed }.puzzles(0..order.training_count),
            MinimalByDeletion { seed: order.seed.wrapping_add(NEXT) }
                .puzzles(0..order.held_out_count),
        ),
    };
    let start = Rulebook::load(&order.start)?;
    fs::create_dir(&order.out).with_context(|| format!("cannot make {}", order.out.display()))?;
    let settings = OrderSettings {
        training,
        held_out,
        start: start.order().clone(),
        weights: order.weights.glance_weights()?,
        seed: order.seed,
        evaluations: order.evaluations,
        frontier: order.frontier,
    };
    let bar = progress::units_bar("searching", "orders", Some(order.evaluations), quiet);
    let result = search(&settings, &|more| bar.inc(more));
    bar.finish_and_clear();
    let report = result?;
    write(&report, start.name(), &order.out)?;
    let mut out = io::stdout().lock();
    if order.json {
        writeln!(out, "{}", serde_json::to_string_pretty(&report)?)?;
    } else {
        write!(out, "{}\nFiles: {}\n", report.to_text(), order.out.display())?;
    }
    Ok(())
}

/// Reads all puzzles of a source; here a bad row ends the run, because the search needs to know its
/// puzzles.
fn read(path: &Path) -> anyhow::Result<Vec<Puzzle>> {
    let source: Source = tallyhouse_census::source_of(path)?;
    let name = source.name().to_owned();
    let mut rows = Rows::open(vec![source])?;
    let mut puzzles = Vec::new();
    loop {
        let block = rows.take(10_000)?;
        if block.is_empty() {
            break;
        }
        for row in &block {
            let puzzle = row.puzzle().with_context(|| format!("{name}, line {}", row.line))?;
            puzzles.push(puzzle);
        }
    }
    ensure!(!puzzles.is_empty(), "{name}: no puzzles");
    Ok(puzzles)
}

fn write(report: &OrderReport, start: &str, out: &Path) -> anyhow::Result<()> {
    let mut csv = Vec::new();
    report.to_csv(&mut csv)?;
    write_file(&out.join("frontier.csv"), |writer| writer.write_all(&csv))?;
    let mut csv = Vec::new();
    report.ratio_table_to_csv(&mut csv)?;
    write_file(&out.join("ratio-rule.csv"), |writer| writer.write_all(&csv))?;
    let json = serde_json::to_string_pretty(report)?;
    write_file(&out.join("order.json"), |writer| writeln!(writer, "{json}"))?;
    write_file(&out.join("order.txt"), |writer| writer.write_all(report.to_text().as_bytes()))?;
    for found in &report.frontier {
        let book = rulebook(found, report, start)?;
        let path = out.join(format!("{}.toml", book.name()));
        write_file(&path, |writer| writer.write_all(book.to_toml().as_bytes()))?;
    }
    Ok(())
}

/// Makes a rulebook file of an order that was found; what changed goes into its note.
fn rulebook(found: &ReportedOrder, report: &OrderReport, start: &str) -> anyhow::Result<Rulebook> {
    let name: String = found
        .name
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' })
        .collect();
    let note = format!(
        "Found by local search on {} training puzzles, seed {}. On {} held-out puzzles: {:.1} glances \
         a puzzle, {} fully reached. Against {start}: {}.",
        report.training_puzzles,
        report.seed,
        report.held_out_puzzles,
        found.held_out.glances.ratio,
        found.held_out.reached.hits(),
        if found.changes.is_empty() { "no change".to_owned() } else { found.changes.join("; ") }
    );
    let source = "order search";
    Ok(Rulebook::of_order(&name, &format!("Searched order {name}"), source, &note, &found.order)?)
}
