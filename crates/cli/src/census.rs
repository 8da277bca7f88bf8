//! `tallyhouse census`: scan puzzles into a dataset.

use std::io::{self, Write};
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};
use serde::Serialize;
use tallyhouse_analysis::{Occurrence, shares_csv};
use tallyhouse_census::{
    CensusError, ClusterSums, Counts, Made, Manifest, PartsDone, Planned, Settings, ShapeCounts,
    Summary, Tables, do_parts, finish, plan, resume, run_with,
};
use tallyhouse_collection::{Recipe, SamplingMethod, SurveyError};
use tallyhouse_report::overview;
use tallyhouse_stats::{Estimate, Level, Limits};
use tallyhouse_storage::StorageError;
use tallyhouse_words::{Measured, counted, share_within};

use crate::make::Making;
use crate::messages::{self, Rejected};
use crate::options::{COUNT, Json, LevelOption, Out, ReadingOptions, Seed, Walk, choice};
use crate::progress::Bar;
use crate::usage;

/// Scan puzzles and record every subset
///
/// Reads files of puzzles (lines of 81 characters, grids, tables) and collection folders, or makes
/// puzzles while it scans them. A row that can't be used goes to rejects.csv with the reason, and the
/// scan goes on.
///
/// DIR gets the tables puzzles/, positions/ and subsets/ (Parquet), counts.csv, exposure.csv,
/// rates.csv, shares.csv and, last of all, manifest.json.
///
/// To scan with many processes or machines: --plan, then --parts as often and wherever you like, then
/// --finish. The dataset is that of one run, to the byte but for the time it took.
#[derive(Debug, Args)]
#[command(
    group = ArgGroup::new("deciding").multiple(true),
    after_help = "Examples:
  tallyhouse census puzzles.txt -o census
  tallyhouse census - --tables none -o counts-only < puzzles.txt
  tallyhouse census puzzles.txt --looks \"naked 1, hidden 1, naked 2, hidden 2\" -o pairs-only
  tallyhouse census --make deletion --count 100000 --seed 7 --plan -o made
  tallyhouse census --parts 0..1 -o made
  tallyhouse census --finish -o made"
)]
pub(crate) struct Census {
    /// Files of puzzles or collection folders, - for standard input; gzip and zstd are unpacked
    #[arg(value_name = "FILE", group = "deciding",
          required_unless_present_any = ["make", "parts", "finish", "resume"])]
    files: Vec<PathBuf>,
    #[command(flatten)]
    out: Out,
    /// Parquet tables to write
    #[arg(long, value_parser = choice::<Tables>(), default_value_t, value_name = "WHICH",
          group = "deciding")]
    tables: Tables,
    /// Keep the board state of each quiet position, in the table of positions
    #[arg(long, group = "deciding")]
    keep_states: bool,
    /// Number of rows in each part of the dataset, in whole thousands; 50000 take about 50 MB of memory a
    /// thread, more rows more. Of families that are made, how many families [default: 50000; families: 100]
    #[arg(long, value_name = "N", group = "deciding",
          value_parser = clap::value_parser!(u64).range(1..=10_000_000))]
    part_size: Option<u64>,
    /// Continue what an interrupted run with the same options has left, or do damaged parts of a dataset
    /// again; without FILE, all parts of a plan that are missing or damaged, to the end
    #[arg(long)]
    resume: bool,
    /// Remove the dataset or unfinished run that is in DIR first, if nobody changed it since it was
    /// written
    #[arg(long, conflicts_with_all = ["resume", "plan", "parts", "finish"])]
    replace: bool,
    /// Fail unless exactly this number of rows is read: puzzles and rejected rows count, comments and
    /// blank lines don't
    #[arg(long, value_name = "N", group = "deciding")]
    expect_rows: Option<u64>,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    divided: DividedOptions,
    #[command(flatten)]
    made: MadeOptions,
    #[command(flatten)]
    reading: ReadingOptions,
    #[command(flatten)]
    walk: Walk,
}

/// What decides the bytes of a dataset: all but FILE itself stands in the plan.
const DECIDING: [&str; 7] =
    ["deciding", "MadeOptions", "Seed", "Making", "ReadingOptions", "Walk", "LevelOption"];

/// How a scan is divided.
#[derive(Debug, Args)]
#[command(next_help_heading = "Many runs")]
struct DividedOptions {
    /// Only write the plan of the scan into DIR: everything that decides its bytes
    #[arg(long, conflicts_with_all = ["resume", "expect_rows"])]
    plan: bool,
    /// Do these parts of the plan in DIR, counted from 0, as in 0..11 or 7; parts that are whole are
    /// passed over
    #[arg(long, value_name = "A..B", value_parser = parse_parts, conflicts_with_all = DECIDING,
          conflicts_with_all = ["plan", "finish", "resume", "json"])]
    parts: Option<RangeInclusive<u64>>,
    /// Add up the parts of the plan in DIR, which must all be whole, and write what is left to write
    #[arg(long, conflicts_with_all = DECIDING, conflicts_with_all = ["plan", "resume"])]
    finish: bool,
}

/// What is made.
#[derive(Debug, Args)]
#[command(next_help_heading = "Making")]
struct MadeOptions {
    /// Scan puzzles that are drawn so while they are scanned
    #[arg(long, value_parser = choice::<SamplingMethod>(), value_name = "HOW", requires = "count",
          conflicts_with_all = ["files", "ReadingOptions", "expect_rows"])]
    make: Option<SamplingMethod>,
    #[arg(long, help = COUNT, long_help = "Number of puzzles to make; with splitting, of families",
          value_name = "N", value_parser = clap::value_parser!(u64).range(Recipe::UNITS),
          requires = "make")]
    count: Option<u64>,
    #[command(flatten)]
    seed: Seed,
    #[command(flatten)]
    making: Making,
}

impl MadeOptions {
    fn made(&self) -> anyhow::Result<Option<Made>> {
        let (Some(method), Some(count)) = (self.make, self.count) else {
            let used = self.seed.seed.is_some() || self.making.is_used();
            usage::expect(!used, "--seed and the options of making go with --make")?;
            return Ok(None);
        };
        let recipe = self.making.recipe(method, self.seed.get())?;
        Ok(Some(Made { recipe, count }))
    }
}

fn parse_parts(text: &str) -> Result<RangeInclusive<u64>, String> {
    let (first, last) = text.split_once("..").unwrap_or((text, text));
    match (first.trim().parse(), last.trim().parse()) {
        (Ok(first), Ok(last)) if first <= last && last < u64::MAX => Ok(first..=last),
        _ => Err(format!("found {text:?}, expected a part or a range as in 0..11")),
    }
}

impl Census {
    fn settings(&self) -> anyhow::Result<Settings> {
        usage::expect(
            !self.keep_states || self.tables == Tables::All,
            "--keep-states adds to the table of positions: it does not go with --tables none",
        )?;
        let out = self.out.out.clone();
        let settings = match self.made.made()? {
            Some(made) => Settings::making(made, out),
            None => Settings::new(self.reading.sources(&self.files)?, out),
        };
        Ok(Settings {
            walk: self.walk.options(),
            tables: self.tables,
            keep_states: self.keep_states,
            part_size: self.part_size.unwrap_or(settings.part_size),
            level: self.level.get(),
            resume: self.resume,
            replace: self.replace,
            expect_rows: self.expect_rows,
            ..settings
        })
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let run = || -> anyhow::Result<()> {
            if let Some(parts) = &self.divided.parts {
                let bar = Bar::new("scanning", "puzzles", None, quiet);
                let done = do_parts(&self.out.out, parts.clone(), &bar)?;
                drop(bar);
                return Self::tell_parts(done);
            }
            if self.divided.plan {
                let planned = plan(&self.settings()?)?;
                return self.tell_plan(planned);
            }
            self.tell(&self.scan(quiet)?)
        };
        run().map_err(|error| match error.downcast_ref::<CensusError>() {
            Some(
                CensusError::PartSize { .. }
                | CensusError::NoSuchPart { .. }
                | CensusError::Survey(SurveyError::NotPlain { .. }),
            ) => usage::wrong(error),
            _ => error,
        })
    }

    /// Runs a scan to its end with a progress bar, and tells what was rejected.
    fn scan(&self, quiet: bool) -> anyhow::Result<Summary> {
        let bar = Bar::new("scanning", "puzzles", None, quiet);
        let out = &self.out.out;
        let summary = if self.divided.finish {
            finish(out, Some(&shares))?
        } else if self.files.is_empty() && self.made.make.is_none() {
            let alone = "--resume without FILE takes what decides the bytes from the plan in DIR";
            usage::expect(!self.decides(), alone)?;
            resume(out, &bar, Some(&shares))?
        } else {
            run_with(&self.settings()?, &bar, Some(&shares))?
        };
        drop(bar);
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

    /// Tests if something is typed that decides the bytes.
    fn decides(&self) -> bool {
        let Self {
            tables, keep_states, part_size, expect_rows, level, made, reading, walk, ..
        } = self;
        *tables != Tables::default()
            || *keep_states
            || part_size.is_some()
            || expect_rows.is_some()
            || level.level.is_some()
            || made.seed.seed.is_some()
            || made.making.is_used()
            || reading.is_used()
            || walk.is_used()
    }

    fn tell(&self, summary: &Summary) -> anyhow::Result<()> {
        let Summary { counts, sums, rates, level, manifest, rejects, .. } = summary;
        let found = Occurrence::of_sums(counts, sums.as_ref(), rates, *level);
        let folder = &self.out.out;
        if self.json.json {
            return print_json(folder, counts, manifest, rejects.as_deref(), &found);
        }
        let mut out = io::stdout().lock();
        write!(out, "{}", overview(counts, manifest, rates))?;
        if found.weighted {
            write!(out, "{}", weighted_table(&found, counts, *level))?;
        }
        writeln!(out, "\nDataset: {}", folder.display())?;
        Ok(())
    }

    fn tell_plan(&self, planned: Planned) -> anyhow::Result<()> {
        let mut out = io::stdout().lock();
        if self.json.json {
            writeln!(out, "{}", serde_json::to_string(&planned)?)?;
            return Ok(());
        }
        let (folder, last) = (self.out.out.display(), planned.parts.saturating_sub(1));
        writeln!(
            out,
            "Planned: {}.\nDo them, in any order and on any machine: tallyhouse census --parts 0..{last} \
             --out {folder}\nThen finish: tallyhouse census --finish --out {folder}",
            counted(planned.parts, "part", "parts"),
        )?;
        Ok(())
    }

    fn tell_parts(done: PartsDone) -> anyhow::Result<()> {
        writeln!(io::stdout().lock(), "{}", serde_json::to_string(&done)?)?;
        Ok(())
    }
}

/// Makes the list of shares of puzzles with their intervals.
fn shares(
    counts: &Counts,
    sums: Option<&ClusterSums>,
    level: Level,
) -> Result<Vec<u8>, CensusError> {
    let shares = Occurrence::of_sums(counts, sums, &[], level).shapes;
    let failed = |error: csv::Error| StorageError::write(Path::new("shares.csv"))(error.into());
    Ok(shares_csv(&shares).map_err(failed)?)
}

/// Writes the weighted shares as a table.
fn weighted_table(found: &Occurrence, counts: &Counts, level: Level) -> String {
    let percent = |share: Option<Estimate>| {
        share.map_or_else(|| "–".to_owned(), |share| Measured::from(share).percent())
    };
    let mut text = format!(
        "\nBy weight, with {level} intervals: the walk solved {} of {}; {} have quiet positions.\n\
         Puzzles, and houses at quiet positions, with at least one proper subset of the shape\n",
        percent(found.solved),
        counted(counts.totals.puzzles, "puzzle", "puzzles"),
        percent(found.quiet)
    );
    for row in found.shapes.iter().filter(|row| row.naked > 1 && row.open - row.naked > 1) {
        let share = percent(row.share);
        let Limits { value, low, high } = row.house_share;
        let (open, hidden, houses) =
            (row.open, row.open - row.naked, share_within(value, low, high));
        text += &format!("  {open:>4} {:>5} {hidden:>6} {share:>36} {houses:>30}\n", row.naked);
    }
    text + "  each family, or puzzle without one, counts as one independent case\n"
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
    /// Those of them with at least one proper subset, and their share.
    houses_with: u64,
    house_share: Limits,
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
    found: &Occurrence,
) -> anyhow::Result<()> {
    let shape = |(open, naked, shape): (u8, u8, ShapeCounts)| Shape {
        open,
        naked,
        hidden: open - naked,
        houses: counts.exposure[usize::from(open)],
        houses_with: found.shape(open, naked).map_or(0, |shape| shape.houses_with),
        house_share: found.shape(open, naked).map(|shape| shape.house_share).unwrap_or_default(),
        counts: shape,
        share: found.shape(open, naked).and_then(|shape| shape.share),
    };
    let shapes = counts.shapes().map(shape).collect();
    let dataset = Dataset { dataset: folder, rejects, manifest, shapes };
    messages::print_json(&dataset)
}
