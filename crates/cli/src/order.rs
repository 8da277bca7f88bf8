//! `tallyhouse order`: search for better rulebooks.

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::slice;

use anyhow::{bail, ensure};
use clap::Args;
use tallyhouse_analysis::order_search::{OrderReport, OrderSettings, ReportedOrder, search};
use tallyhouse_analysis::{ReaderFile, Rulebook};
use tallyhouse_board::Puzzle;
use tallyhouse_collection::{MinimalByDeletion, Progress, Rows, Source};
use tallyhouse_storage::{NewFolder, write_file};
use tallyhouse_words::count;

use crate::messages;
use crate::options::{Json, LevelOption, Out, ReadingOptions, Replacing, Seed, Weights};
use crate::progress::Bar;
use crate::usage;

/// Made puzzles that are held out come from the next seed.
const NEXT: u64 = 1;

/// Search for rulebooks that cost less or reach more
///
/// Tries looks in other orders, with other ranges of open cells, or without some of them, on training
/// puzzles, and reports what it finds on puzzles held out. Cost is the mean number of glances a puzzle
/// takes when it is walked one by one; reach is the share of puzzles that end where the full ladder
/// ends. Without files, minimal puzzles are made.
///
/// Several runs search on their own. The search has converged if their best orders cost the same within
/// 1 % at each reach. A saving is robust if each reader makes it: who is sought for sees pencil marks and
/// remembers nothing; marking, sharing, remembering and unmarked are asked in any case.
///
/// DIR gets frontier.csv, readers.csv, runs.csv, ratio-rule.csv, order.txt, order.json and a TOML file for
/// each rulebook.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse order --start short-list --seed 7 -o orders
  tallyhouse order --start my-rulebook.toml --training a.txt --held-out b.txt -o my-orders")]
pub(crate) struct Order {
    /// Rulebook to start from and to compare with, built in or a file
    #[arg(long, default_value = "short-list", value_name = "NAME|FILE")]
    start: String,
    #[command(flatten)]
    seed: Seed,
    #[command(flatten)]
    out: Out,
    #[command(flatten)]
    replacing: Replacing,
    /// File or collection folder of training puzzles [default: they are made]
    #[arg(long, value_name = "FILE", requires = "held_out")]
    training: Option<PathBuf>,
    /// File or collection folder of held-out puzzles [default: they are made, from the next seed]
    #[arg(long, value_name = "FILE", requires = "training")]
    held_out: Option<PathBuf>,
    /// Number of training puzzles to make
    #[arg(long, default_value_t = 3000, value_name = "N", conflicts_with = "training",
          value_parser = clap::value_parser!(u64).range(OrderSettings::TRAINING))]
    training_count: u64,
    /// Number of held-out puzzles to make
    #[arg(long, default_value_t = 10_000, value_name = "N", conflicts_with = "held_out",
          value_parser = clap::value_parser!(u64).range(OrderSettings::HELD_OUT))]
    held_out_count: u64,
    /// Number of runs that search on their own
    #[arg(long, default_value_t = *OrderSettings::RUNS.start(), value_name = "N",
          value_parser = clap::value_parser!(u64).range(OrderSettings::RUNS))]
    runs: u64,
    /// Number of orders that each run tries
    #[arg(long, default_value_t = OrderSettings::EVALUATIONS, value_name = "N",
          value_parser = clap::value_parser!(u64).range(OrderSettings::TRIED))]
    evaluations: u64,
    /// Reader to ask besides those that are built in, a file; may be given several times
    #[arg(long = "reader", value_name = "FILE")]
    readers: Vec<String>,
    /// Number of rulebooks to report at most
    #[arg(long, default_value_t = 12, value_name = "N",
          value_parser = clap::value_parser!(u64).range(OrderSettings::REPORTED))]
    frontier: u64,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    weights: Weights,
    #[command(flatten)]
    reading: ReadingOptions,
}

/// The puzzles to train on, those held out, and what these are a sample of.
struct Sets {
    training: Vec<Puzzle>,
    held_out: Vec<Puzzle>,
    population: String,
}

impl Order {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let weights = self.weights.get()?;
        let start = Rulebook::load(&self.start)?;
        let readers = ReaderFile::built_in_and(&self.readers)?;
        let folder = NewFolder::begin(&self.out.out, self.replacing.get())?;
        let Sets { training, held_out, population } = self.puzzles()?;
        let settings = OrderSettings {
            training,
            held_out,
            population,
            start,
            weights,
            readers,
            level: self.level.get(),
            seed: self.seed.get(),
            runs: self.runs,
            evaluations: self.evaluations,
            frontier: self.frontier as usize,
        };
        let orders = self.runs.checked_mul(self.evaluations);
        let bar = Bar::new("searching", "orders", orders, quiet);
        let report = search(&settings, &|more| bar.advance(more))?;
        drop(bar);
        write(&report, folder.aside())?;
        folder.finish_as("orders")?;
        if self.json.json {
            return messages::print_json(&report);
        }
        let text = report.to_text();
        Ok(write!(io::stdout().lock(), "{text}\nFiles: {}\n", self.out.out.display())?)
    }

    /// Reads or makes the puzzles.
    fn puzzles(&self) -> anyhow::Result<Sets> {
        if let (Some(training), Some(held_out)) = (&self.training, &self.held_out) {
            usage::expect(
                training.as_os_str() != "-" || held_out.as_os_str() != "-",
                "standard input (-) can be read only once",
            )?;
            let read = |file| read(self.reading.sources(slice::from_ref(file))?);
            let (training, (held_out, population)) = (read(training)?.0, read(held_out)?);
            return Ok(Sets { training, held_out, population });
        }
        usage::expect(
            !self.reading.is_used(),
            "--format and --column go with --training and --held-out",
        )?;
        let seed = self.seed.get();
        let made = |seed, count| MinimalByDeletion { seed }.puzzles(0..count);
        Ok(Sets {
            training: made(seed, self.training_count),
            held_out: made(seed.wrapping_add(NEXT), self.held_out_count),
            population: OrderSettings::made_population(),
        })
    }
}

/// Reads all puzzles of a source, and what they are a sample of; here a bad row ends the run, because
/// the search needs to know its puzzles.
fn read(sources: Vec<Source>) -> anyhow::Result<(Vec<Puzzle>, String)> {
    let name = sources[0].name().to_owned();
    let mut rows = Rows::open(sources)?;
    let mut puzzles = Vec::new();
    loop {
        let block = rows.block(10_000)?;
        if block.is_empty() {
            break;
        }
        for row in block {
            match row {
                Ok(entry) => puzzles.push(entry.puzzle),
                Err(reject) => bail!("{name}, line {}: {}", reject.line, reject.reason),
            }
        }
    }
    ensure!(!puzzles.is_empty(), "{name}: no puzzles");
    let population = OrderSettings::read_population(rows.notes(), &[name]);
    Ok((puzzles, population))
}

fn write(report: &OrderReport, out: &Path) -> anyhow::Result<()> {
    for (name, csv) in report.files()? {
        write_file(&out.join(name), |writer| writer.write_all(&csv))?;
    }
    let json = serde_json::to_string_pretty(report)?;
    write_file(&out.join("order.json"), |writer| writeln!(writer, "{json}"))?;
    write_file(&out.join("order.txt"), |writer| writer.write_all(report.to_text().as_bytes()))?;
    for found in report.found() {
        let book = rulebook(found, report)?;
        let path = out.join(format!("{}.toml", book.name()));
        write_file(&path, |writer| writer.write_all(book.to_toml().as_bytes()))?;
    }
    Ok(())
}

/// Makes a rulebook file of an order that was found.
fn rulebook(found: &ReportedOrder, report: &OrderReport) -> anyhow::Result<Rulebook> {
    let name = found.name.replace(' ', "-");
    let note = format!(
        "Found by local search, seed {}. {} {} glances a puzzle, {} fully reached.",
        report.seed,
        report.basis(),
        found.held_out.glances_words(),
        count(found.held_out.reached.hits()),
    );
    let source = "order search";
    Ok(Rulebook::of_order(&name, &format!("Searched order {name}"), source, &note, &found.order)?)
}
