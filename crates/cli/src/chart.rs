//! `tallyhouse chart`: draw charts of datasets, trials, searches and puzzles.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::slice;

use anyhow::{Context, ensure};
use clap::Args;
use tallyhouse_analysis::{look_shares, paired_costs, shape_shares};
use tallyhouse_census::{Counts, manifest};
use tallyhouse_collection::Source;
use tallyhouse_engine::WalkOptions;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_figures::{Figure, Theme, Width};
use tallyhouse_report::ChartKind;
use tallyhouse_report::charts::{self, ChartError, Needed};
use tallyhouse_report::study::{FirstPuzzles, first_puzzles};

use crate::messages;
use crate::options::{COUNT, Json, LevelOption, ReadingOptions, choice};
use crate::progress::Bar;
use crate::usage;

/// The shape that is shown unless another is asked for: open cells and naked side.
const SHAPE: (u8, u8) = (6, 2);
/// How many puzzles are walked unless another number is asked for.
const PUZZLES: u64 = 20_000;

/// Draw a chart
///
/// DIR gets the chart as SVG, PNG and CSV, with title, denominators and a description for readers who
/// can't see it. Charts that are there already stay, but for one of the same name.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse chart rates census -o charts
  tallyhouse chart compare census other-census -o charts --theme print --width column
  tallyhouse chart narrowing census --open 7 --naked 4 -o charts
  tallyhouse chart effort puzzles.txt --open 8 --naked 5 -o charts
  tallyhouse chart missed trial -o charts --theme dark")]
pub(crate) struct Chart {
    /// What is drawn
    #[arg(value_parser = choice::<ChartKind>(), value_name = "KIND")]
    kind: ChartKind,
    /// A dataset of census; for missed the folder of judge, for frontier that of order, for clues and
    /// effort a file of puzzles or a collection folder
    #[arg(required = true, value_name = "INPUT")]
    inputs: Vec<PathBuf>,
    /// Folder to write into
    #[arg(short, long, value_name = "DIR")]
    out: PathBuf,
    /// Colours of the figures
    #[arg(long, value_parser = choice::<Theme>(), default_value_t, value_name = "THEME")]
    theme: Theme,
    /// Width of the figures
    #[arg(long, value_parser = choice::<Width>(), default_value_t = Width::Page,
          value_name = "WIDTH")]
    width: Width,
    /// Open cells of the house, for narrowing and effort [default: 6]
    #[arg(long, value_name = "N")]
    open: Option<u8>,
    /// Cells of the naked side, for narrowing and effort [default: 2]
    #[arg(long, value_name = "N")]
    naked: Option<u8>,
    #[arg(long, help = COUNT,
          long_help = "Number of puzzles that effort walks at most [default: 20000]",
          value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    count: Option<u64>,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    reading: ReadingOptions,
}

impl Chart {
    /// Returns the shape that is shown.
    fn shape(&self) -> (u8, u8) {
        (self.open.unwrap_or(SHAPE.0), self.naked.unwrap_or(SHAPE.1))
    }

    /// Refuses options that the kind of chart does not use.
    fn check(&self) -> anyhow::Result<()> {
        use ChartKind::{Clues, Compare, Effort, First, Hardest, Missed, Narrowing};
        let one_of = |kinds: &[ChartKind]| kinds.contains(&self.kind);
        let refuse = |options: &str, kinds: &[ChartKind]| {
            let kinds: Vec<&str> = kinds.iter().map(|kind| kind.name()).collect();
            let message = format!("{options} with {}, not with {}", kinds.join(", "), self.kind);
            Err(usage::wrong(message))
        };
        for (is_used, options, kinds) in [
            (self.inputs.len() > 1, "several INPUTs go", &[Compare, First, Hardest][..]),
            (
                self.open.is_some() || self.naked.is_some(),
                "--open and --naked go",
                &[Narrowing, Effort],
            ),
            (self.count.is_some(), "--count goes", &[Effort]),
            (
                self.level.level.is_some(),
                "--level goes",
                &[First, Hardest, Compare, Narrowing, Missed, Clues, Effort],
            ),
            (self.reading.is_used(), "--format and --column go", &[Clues, Effort]),
        ] {
            if is_used && !one_of(kinds) {
                return refuse(options, kinds);
            }
        }
        let (open, naked) = self.shape();
        usage::expect(
            charts::possible_shapes().any(|shape| shape == (open, naked)),
            format!(
                "found --open {open} --naked {naked}, expected 4 to 9 open cells and at least 2 on \
                 either side"
            ),
        )
    }

    /// Returns the file of puzzles that is drawn.
    fn source(&self) -> anyhow::Result<Vec<Source>> {
        self.reading.sources(slice::from_ref(&self.inputs[0]))
    }

    /// Checks that what must be a folder of an earlier command is one.
    fn check_inputs(&self) -> anyhow::Result<()> {
        let command = match self.kind {
            ChartKind::Clues | ChartKind::Effort => return Ok(()),
            ChartKind::Missed => "judge",
            ChartKind::Frontier => "order",
            _ => "census",
        };
        for input in &self.inputs {
            ensure!(
                !input.is_file(),
                "{} is a file; {} needs the folder that tallyhouse {command} writes: run that first",
                input.display(),
                self.kind
            );
        }
        Ok(())
    }

    /// Returns the name that the chart shows for an input.
    fn name_of(&self, input: &Path) -> String {
        let last = |path: &Path| path.file_name().unwrap_or(path.as_os_str()).to_owned();
        let alike = self.inputs.iter().filter(|other| last(other) == last(input)).count();
        // Folders of one name are told apart by where they are.
        if alike > 1 {
            input.display().to_string()
        } else {
            last(input).to_string_lossy().into_owned()
        }
    }

    /// Returns the name of the files and the chart.
    fn figure(&self, quiet: bool) -> anyhow::Result<(&'static str, Box<dyn Figure>)> {
        let first = &self.inputs[0];
        let counts = || Counts::of_dataset(first);
        Ok(match self.kind {
            ChartKind::Rates => {
                ("occurrence-rates", Box::new(charts::occurrence_rates(&counts()?)))
            }
            ChartKind::Counts => {
                ("occurrence-counts", Box::new(charts::occurrence_counts(&counts()?)))
            }
            ChartKind::Shapes => ("shapes", Box::new(charts::shapes_by_open(&counts()?))),
            ChartKind::Narrowing => (
                "narrowing",
                Box::new(charts::narrowing(first, &[self.shape()], self.level.get())?),
            ),
            ChartKind::Missed => {
                let left = charts::LeftShapes::of_trial(first)?;
                let chart = charts::missed(&left, self.level.get());
                let chart = chart.context("no rulebook of this trial leaves a subset")?;
                ("missed", Box::new(chart))
            }
            ChartKind::Frontier => {
                let orders = charts::SearchedOrders::of_folder(first)?;
                ("frontier", Box::new(charts::frontier(&orders)))
            }
            ChartKind::Clues => {
                let bar = Bar::new("describing", "puzzles", None, quiet);
                let description =
                    tallyhouse_analysis::describe(self.source()?, self.level.get(), &bar)?;
                ("clues", Box::new(charts::clues(&description, &self.name_of(first))))
            }
            ChartKind::Effort => ("effort", self.effort()?),
            ChartKind::First => ("first-needed", self.needed(Needed::First)?),
            ChartKind::Hardest => ("last-needed", self.needed(Needed::Last)?),
            ChartKind::Compare => {
                let all = self.inputs.iter().map(|folder| {
                    let counts = Counts::of_dataset(folder)?;
                    let shares = shape_shares(folder, &counts, self.level.get())?;
                    Ok((self.name_of(folder), counts.totals.puzzles, shares))
                });
                let all = all.collect::<anyhow::Result<Vec<_>>>()?;
                ("comparison", Box::new(charts::comparison(&all)))
            }
        })
    }

    fn effort(&self) -> anyhow::Result<Box<dyn Figure>> {
        let most = self.count.unwrap_or(PUZZLES);
        let FirstPuzzles { puzzles, alike } = first_puzzles(&self.source()?, most)?;
        if !alike {
            return Err(ChartError::Weighted(self.inputs[0].clone()).into());
        }
        let (walk, weights) = (WalkOptions::default(), GlanceWeights::default());
        let costs = paired_costs(&puzzles, &[self.shape()], &walk, &weights);
        let drawn = charts::paired(&costs[0], puzzles.len() as u64, self.level.get());
        Ok(Box::new(drawn.context("no house of these puzzles holds such a split")?))
    }

    fn needed(&self, needed: Needed) -> anyhow::Result<Box<dyn Figure>> {
        let all = self.inputs.iter().map(|folder| {
            let counts = Counts::of_dataset(folder)?;
            Ok((
                self.name_of(folder),
                look_shares(folder, &manifest(folder)?, &counts, self.level.get())?,
            ))
        });
        let drawn = charts::needed_looks(needed, &all.collect::<anyhow::Result<Vec<_>>>()?);
        Ok(Box::new(drawn.context("these datasets have no tables, from which it is counted")?))
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        self.check()?;
        self.check_inputs()?;
        let (file, figure) = self.figure(quiet)?;
        let out = &self.out;
        fs::create_dir_all(out).with_context(|| format!("cannot make {}", out.display()))?;
        charts::save(&*figure, out, file, self.theme, self.width)?;
        let path = |extension: &str| out.join(format!("{file}.{extension}"));
        if self.json.json {
            return messages::print_json(&serde_json::json!({
                "svg": path("svg"), "png": path("png"), "csv": path("csv"),
            }));
        }
        Ok(writeln!(io::stdout().lock(), "{}", path("svg").display())?)
    }
}
