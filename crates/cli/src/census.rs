//! `tallyhouse census` and `tallyhouse merge`: scan puzzles into a dataset.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use tallyhouse_analysis::{Occurrence, shares_csv};
use tallyhouse_census::{
    CensusError, Counts, Manifest, Settings, ShapeCounts, Shard, Summary, Tables, run_then,
};
use tallyhouse_report::overview;
use tallyhouse_stats::{Estimate, Level};
use tallyhouse_storage::{StorageError, write_file};
use tallyhouse_words::{Measured, counted, rounded};

use crate::messages::{self, Rejected};
use crate::options::{Json, LevelOption, Out, Reading, Walk, choice};
use crate::progress::Bar;
use crate::usage;

/// Scan puzzles and record every subset
///
/// Reads files of puzzles (lines of 81 characters, grids, tables) and collection folders. A row that
/// can't be used goes to rejects.csv with the reason, and the scan goes on.
///
/// DIR gets the tables puzzles/, positions/ and subsets/ (Parquet), counts.csv, exposure.csv,
/// shares.csv and, last of all, manifest.json.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse census puzzles.txt -o census
  tallyhouse census - --tables none -o counts-only < puzzles.txt
  tallyhouse census puzzles.txt --looks \"naked 1, hidden 1, naked 2, hidden 2\" -o pairs-only")]
pub(crate) struct Census {
    #[command(flatten)]
    out: Out,
    /// Parquet tables to write
    #[arg(long, value_parser = choice::<Tables>(), default_value_t, value_name = "WHICH")]
    tables: Tables,
    /// Keep the board state of each quiet position, in the table of positions
    #[arg(long)]
    keep_states: bool,
    /// Number of rows in each part of the dataset; more rows take more memory
    #[arg(long, default_value_t = tallyhouse_census::PART_SIZE, value_name = "N",
          value_parser = clap::value_parser!(u64).range(1..=10_000_000))]
    part_size: u64,
    /// Scan only slice I of N of the collection; tallyhouse merge joins the slices
    #[arg(long, value_name = "I/N")]
    shard: Option<Shard>,
    /// Continue what an interrupted run with the same options has left
    #[arg(long)]
    resume: bool,
    /// Fail unless exactly this number of rows is read: puzzles and rejected rows count, comments and
    /// blank lines don't
    #[arg(long, value_name = "N")]
    expect_rows: Option<u64>,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    reading: Reading,
    #[command(flatten)]
    walk: Walk,
}

impl Census {
    fn settings(&self) -> anyhow::Result<Settings> {
        usage::expect(
            !self.keep_states || self.tables == Tables::All,
            "--keep-states adds to the table of positions: it does not go with --tables none",
        )?;
        Ok(Settings {
            sources: self.reading.sources()?,
            out: self.out.out.clone(),
            walk: self.walk.options(),
            tables: self.tables,
            keep_states: self.keep_states,
            part_size: self.part_size,
            seed: None,
            shard: self.shard,
            resume: self.resume,
            expect_rows: self.expect_rows,
        })
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let (settings, level) = (self.settings()?, self.level.get());
        let summary = scan(&settings, level, quiet)?;
        let counts = &summary.counts;
        if self.json.json {
            let rejects = summary.rejects.as_deref();
            return print_json(&settings.out, counts, &summary.manifest, rejects, level);
        }
        let weighted = counts.totals.weighted > 0 && settings.tables == Tables::All;
        let mut out = io::stdout().lock();
        write!(out, "{}", overview(counts, &summary.manifest))?;
        if weighted {
            let found = Occurrence::of(&settings.out, counts, level)?;
            write!(out, "{}", weighted_table(&found, &summary, level))?;
        }
        writeln!(out, "\nDataset: {}", settings.out.display())?;
        Ok(())
    }
}

/// Join the datasets of all slices of a collection
///
/// The result is the dataset of one undivided scan, to the byte but for the time it took.
#[derive(Debug, Args)]
#[command(after_help = "Example:
  tallyhouse census puzzles.txt --shard 1/2 -o first
  tallyhouse census puzzles.txt --shard 2/2 -o second
  tallyhouse merge first second -o whole")]
pub(crate) struct Merge {
    /// Datasets of slices 1/N to N/N
    #[arg(required = true, value_name = "FOLDER")]
    folders: Vec<PathBuf>,
    #[command(flatten)]
    out: Out,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
}

impl Merge {
    pub(crate) fn run(&self) -> anyhow::Result<()> {
        let (out, level) = (&self.out.out, self.level.get());
        let joined = tallyhouse_census::merge(&self.folders, out)?;
        let counts = Counts::of_dataset(out)?;
        write_shares(out, &counts, joined.tables, level)?;
        if self.json.json {
            let rejects = out.join("rejects.csv");
            let rejects = rejects.exists().then_some(rejects.as_path());
            return print_json(out, &counts, &joined, rejects, level);
        }
        writeln!(
            io::stdout().lock(),
            "Joined {}: {}, {}, {}.\nDataset: {}",
            counted(self.folders.len() as u64, "slice", "slices"),
            counted(joined.totals.puzzles, "puzzle", "puzzles"),
            counted(joined.totals.quiet_positions, "quiet position", "quiet positions"),
            counted(joined.totals.subsets, "subset", "subsets"),
            out.display()
        )?;
        Ok(())
    }
}

/// Runs a scan with a progress bar and tells what was rejected.
fn scan(settings: &Settings, level: Level, quiet: bool) -> anyhow::Result<Summary> {
    let bar = Bar::new("scanning", "puzzles", None, quiet);
    let summary = run_then(settings, &bar, &|folder, counts| {
        write_shares(folder, counts, settings.tables, level)
    })?;
    drop(bar);
    if summary.counts.totals.weighted > 0 && settings.tables == Tables::None && !quiet {
        messages::warn("weighted shares need the tables, so shares.csv is not written");
    }
    if let (Some(list), false) = (&summary.rejects, quiet) {
        messages::warn_rejected(&Rejected {
            rows: summary.counts.rejected.total(),
            of: summary.counts.totals.rows,
            reasons: Some(&summary.counts.rejected),
            first: summary.first_reject.as_deref(),
            list,
        });
    }
    Ok(summary)
}

/// Writes the shares of puzzles with their intervals. Weighted ones need the tables.
fn write_shares(
    folder: &Path,
    counts: &Counts,
    tables: Tables,
    level: Level,
) -> Result<(), CensusError> {
    if counts.totals.weighted > 0 && tables == Tables::None {
        return Ok(());
    }
    let shares = Occurrence::of(folder, counts, level)?.shapes;
    let path = folder.join("shares.csv");
    let csv = shares_csv(&shares).map_err(io::Error::from).map_err(StorageError::write(&path))?;
    write_file(&path, |writer| writer.write_all(&csv))?;
    Ok(())
}

/// Writes the weighted shares as a table.
fn weighted_table(found: &Occurrence, summary: &Summary, level: Level) -> String {
    let percent = |share: Option<Estimate>| {
        share.map_or_else(|| "–".to_owned(), |share| Measured::from(share).percent())
    };
    let mut text = format!(
        "\nBy weight, with {level} intervals: the walk solved {} of {}; {} have quiet positions.\n\
         Puzzles with at least one proper subset of the shape, and proper subsets per 1,000 houses\n",
        percent(found.solved),
        counted(summary.counts.totals.puzzles, "puzzle", "puzzles"),
        percent(found.quiet)
    );
    for row in found.shapes.iter().filter(|row| row.naked > 1 && row.open - row.naked > 1) {
        let share = percent(row.share);
        let rate = row.rate.map_or_else(|| "–".to_owned(), |rate| rounded(1000.0 * rate, 3));
        let (open, naked) = (row.open, row.naked);
        text += &format!("  {open:>4} {naked:>5} {:>6} {share:>36} {rate:>10}\n", open - naked);
    }
    text + "  families, or puzzles without one, are the independent units\n"
}

/// What a dataset holds: the contract of `--json`.
#[derive(Serialize)]
struct Dataset<'a> {
    dataset: &'a Path,
    /// The file of rejected rows, if any were rejected.
    rejects: Option<&'a Path>,
    manifest: &'a Manifest,
    shapes: Vec<Shape>,
}

/// A shape with 2 ≤ open ≤ 9.
#[derive(Serialize)]
struct Shape {
    open: u8,
    naked: u8,
    hidden: u8,
    /// Houses with that many open cells, over all quiet positions.
    houses: u64,
    #[serde(flatten)]
    counts: ShapeCounts,
    /// The share of puzzles with a proper subset of the shape, with its interval.
    share: Option<Estimate>,
}

fn print_json(
    folder: &Path,
    counts: &Counts,
    manifest: &Manifest,
    rejects: Option<&Path>,
    level: Level,
) -> anyhow::Result<()> {
    let without = counts.totals.weighted > 0 && manifest.tables == Tables::None;
    let shares = if without { Vec::new() } else { Occurrence::of(folder, counts, level)?.shapes };
    let shape = |(open, naked, shape): (u8, u8, ShapeCounts)| Shape {
        open,
        naked,
        hidden: open - naked,
        houses: counts.exposure[usize::from(open)],
        counts: shape,
        share: shares.iter().find(|s| (s.open, s.naked) == (open, naked)).and_then(|s| s.share),
    };
    let shapes = counts.shapes().map(shape).collect();
    let dataset = Dataset { dataset: folder, rejects, manifest, shapes };
    messages::print_json(&dataset)
}
