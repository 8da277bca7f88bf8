//! `tallyhouse order`: search for better rulebooks.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::ensure;
use clap::Args;
use tallyhouse_analysis::order_search::{OrderReport, OrderSettings, ReportedOrder, search};
use tallyhouse_analysis::{AnalysisError, ReaderFile, Rulebook};
use tallyhouse_board::Puzzle;
use tallyhouse_census::CensusError;
use tallyhouse_collection::{MinimalByDeletion, Progress, Rejects, Rows, Source, only_valid};
use tallyhouse_storage::{NewFolder, write_file};
use tallyhouse_words::count;

use crate::messages;
use crate::options::{Json, LevelOption, Out, ReadingOptions, Replacing, Seed, Weights};
use crate::progress::Bar;
use crate::{results, usage};

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
/// DIR gets frontier.csv, readers.csv, runs.csv, ratio-rule.csv, order.txt, order.json, a TOML file for
/// each rulebook and, if rows were rejected, rejects.csv.
///
/// Takes about 30 MB of memory, and 170 MB more for each million puzzles.
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
#[derive(Default)]
struct Sets {
    training: Vec<Puzzle>,
    held_out: Vec<Puzzle>,
    population: String,
    /// Rows that were read.
    rows: u64,
}

impl Order {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let weights = self.weights.get()?;
        let start = Rulebook::load(&self.start)?;
        let readers = ReaderFile::built_in_and(&self.readers)?;
        let sources = self.sources()?;
        let folder = NewFolder::begin(&self.out.out, self.replacing.get())?;
        let mut rejects = Rejects::in_folder(&sources, folder.aside());
        let read = self.puzzles(sources, &mut rejects);
        let list = rejects.finish()?;
        let (Sets { training, held_out, population, rows }, folder) =
            results::unless_all_rejected(folder, read)?;
        ensure!(!training.is_empty(), "found no puzzles to train on");
        ensure!(!held_out.is_empty(), "found no puzzles that are held out");
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
        if let (Some(_), false) = (list, quiet) {
            results::warn_listed(&rejects, rows, &self.out.out);
        }
        if self.json.json {
            return messages::print_json(&report);
        }
        let text = report.to_text();
        Ok(write!(io::stdout().lock(), "{text}\nFiles: {}\n", self.out.out.display())?)
    }

    /// The files of training puzzles and of those held out, if they are read.
    fn sources(&self) -> anyhow::Result<Vec<Source>> {
        let files: Vec<PathBuf> = self.training.iter().chain(&self.held_out).cloned().collect();
        usage::expect(
            !files.is_empty() || !self.reading.is_used(),
            "--format and --column go with --training and --held-out",
        )?;
        self.reading.sources(&files)
    }

    /// Reads or makes the puzzles.
    fn puzzles(&self, sources: Vec<Source>, rejects: &mut Rejects) -> Result<Sets, AnalysisError> {
        if sources.is_empty() {
            let seed = self.seed.get();
            let made = |seed, count| MinimalByDeletion { seed }.puzzles(0..count);
            return Ok(Sets {
                training: made(seed, self.training_count),
                held_out: made(seed.wrapping_add(NEXT), self.held_out_count),
                population: OrderSettings::made_population(),
                rows: 0,
            });
        }
        let mut sets = Sets::default();
        for (number, source) in sources.into_iter().enumerate() {
            let name = source.name().to_owned();
            let mut rows = Rows::open(vec![source])?;
            let (puzzles, first) = read(&mut rows, number, rejects)?;
            sets.rows += rows.rows();
            if let (true, Some(first)) = (puzzles.is_empty(), first) {
                let (rows, first) = (rows.rows(), format!("{name}, {first}"));
                // Where the list lies is said by who keeps it.
                let rejects = PathBuf::new();
                return Err(CensusError::AllRejected { rows, first, rejects }.into());
            }
            sets.training = std::mem::replace(&mut sets.held_out, puzzles);
            sets.population = OrderSettings::read_population(rows.notes(), &[name]);
        }
        Ok(sets)
    }
}

/// Reads the valid puzzles of a source, which has this number among those of the rejects, and says what is
/// wrong with its first other row.
fn read(
    rows: &mut Rows,
    number: usize,
    rejects: &mut Rejects,
) -> Result<(Vec<Puzzle>, Option<String>), AnalysisError> {
    let (mut puzzles, mut first) = (Vec::new(), None);
    loop {
        let block = rows.block(10_000)?;
        if block.is_empty() {
            return Ok((puzzles, first));
        }
        for row in only_valid(block) {
            match row {
                Ok(entry) => puzzles.push(entry.puzzle),
                Err(mut reject) => {
                    first.get_or_insert_with(|| format!("line {}: {}", reject.line, reject.reason));
                    reject.source = number;
                    rejects.take(&reject)?;
                }
            }
        }
    }
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
