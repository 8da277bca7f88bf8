//! `tallyhouse chart`: draw charts of datasets, trials, searches and puzzles.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::slice;

use anyhow::{Context, ensure};
use clap::Args;
use tallyhouse_analysis::yields::Frame;
use tallyhouse_analysis::{PairedCosts, compare_sides, describe, paired_costs, population};
use tallyhouse_collection::Source;
use tallyhouse_engine::WalkOptions;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_figures::Width;
use tallyhouse_report::ReportError;
use tallyhouse_report::charts::{
    self, Census, HeadToHead, Juries, LeftShapes, SearchedOrders, VerdictsOf, Walked, YieldTable,
};
use tallyhouse_report::saving::Saver;
use tallyhouse_report::study::{FirstPuzzles, first_puzzles};
use tallyhouse_report::{ChartKind, Draw};
use tallyhouse_words::{list, sentence_start};

use crate::messages;
use crate::options::{COUNT, Json, LevelOption, Pictures, ReadingOptions, choice};
use crate::progress::Bar;
use crate::{results, usage};

/// The shape that is shown unless another is asked for: open cells and naked side.
const SHAPE: (u8, u8) = (6, 2);
/// How many puzzles are walked unless another number is asked for.
const PUZZLES: u64 = 20_000;

/// Draw a chart
///
/// DIR gets the chart as SVG, PNG, PDF and CSV, with title, denominators and a description for readers who
/// can't see it. Charts that are there already stay; --replace replaces those of the same name.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse chart rates census -o charts
  tallyhouse chart compare census other-census -o charts --theme print --width column
  tallyhouse chart narrowing census --open 7 --naked 4 -o charts
  tallyhouse chart effort puzzles.txt --open 7 --naked 2 -o charts
  tallyhouse chart yields yields --open 8 -o charts
  tallyhouse chart card card -o charts --width column
  tallyhouse chart missed trial -o charts --theme dark")]
pub(crate) struct Chart {
    /// What is drawn
    #[arg(value_parser = choice::<ChartKind>(), value_name = "KIND")]
    kind: ChartKind,
    /// A dataset of census; for card the folder of card, for missed that of judge, for frontier that of
    /// order, for rulebooks that of compare, for prices and yields that of yields, for clues, sides and
    /// effort a file of puzzles or a collection folder
    #[arg(required = true, value_name = "INPUT")]
    inputs: Vec<PathBuf>,
    /// Folder to write into
    #[arg(short, long, value_name = "DIR")]
    out: PathBuf,
    /// Replace files of the same names
    #[arg(long)]
    replace: bool,
    /// Open cells of the house, for narrowing, effort, prices and yields [default: 6]
    #[arg(long, value_name = "N")]
    open: Option<u8>,
    /// Cells of the naked side, for narrowing and effort [default: 2]
    #[arg(long, value_name = "N")]
    naked: Option<u8>,
    /// When looks are made, for prices and yields [default: due]
    #[arg(long, value_parser = choice::<Frame>(), value_name = "FRAME")]
    frame: Option<Frame>,
    #[arg(long, help = COUNT,
          long_help = "Number of puzzles that sides and effort walk at most [default: 20000]",
          value_name = "N", value_parser = clap::value_parser!(u64).range(FirstPuzzles::MOST))]
    count: Option<u64>,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    pictures: Pictures,
    #[command(flatten)]
    reading: ReadingOptions,
}

fn takes_several(kind: ChartKind) -> bool {
    matches!(kind.draw(), Draw::Censuses(_) | Draw::Comparison(_))
}

fn walks(kind: ChartKind) -> bool {
    matches!(kind.draw(), Draw::Sides(_) | Draw::Costs(_))
}

fn reads_puzzles(kind: ChartKind) -> bool {
    walks(kind) || matches!(kind.draw(), Draw::Collection(_))
}

impl Chart {
    /// Returns the shape that is shown.
    fn shape(&self) -> (u8, u8) {
        (self.open.unwrap_or(SHAPE.0), self.naked.unwrap_or(SHAPE.1))
    }

    /// Refuses options that the kind of chart does not use.
    fn check(&self) -> anyhow::Result<()> {
        type Fits = fn(ChartKind) -> bool;
        for (is_used, options, fits) in [
            (self.inputs.len() > 1, "several INPUTs go", takes_several as Fits),
            (self.open.is_some(), "--open goes", ChartKind::takes_open),
            (self.naked.is_some(), "--naked goes", ChartKind::takes_shape),
            (self.frame.is_some(), "--frame goes", ChartKind::takes_frame),
            (self.count.is_some(), "--count goes", walks),
            (self.level.level.is_some(), "--level goes", ChartKind::takes_level),
            (self.reading.is_used(), "--format and --column go", reads_puzzles),
        ] {
            if is_used && !fits(self.kind) {
                let kinds = ChartKind::ALL.iter().filter(|kind| fits(**kind));
                let kinds = list(kinds.map(|kind| kind.name()));
                let message = format!("{options} with {kinds}, not with {}", self.kind);
                return Err(usage::wrong(message));
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
        let command = match self.kind.draw() {
            Draw::Census(_) | Draw::Censuses(_) | Draw::Comparison(_) => "census",
            Draw::Trial(_) | Draw::Juries(_) | Draw::Verdicts(_) => "judge",
            Draw::Search(_) => "order",
            Draw::HeadToHead(_) => "compare",
            Draw::Yields(_) => "yields",
            Draw::Card(_) => "card",
            Draw::Collection(_) | Draw::Sides(_) | Draw::Costs(_) => return Ok(()),
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

    /// Names datasets for what they are samples of; those of one population also by their folders.
    fn name(&self, all: &mut [Census]) {
        let of = |(census, input): (&Census, &PathBuf)| {
            population(&census.manifest.collection.notes, &[self.name_of(input)])
        };
        let names: Vec<String> = all.iter().zip(&self.inputs).map(of).collect();
        for ((census, input), name) in all.iter_mut().zip(&self.inputs).zip(&names) {
            let alike = names.iter().filter(|other| *other == name).count();
            let folder = self.name_of(input);
            let apart = if alike > 1 { format!(" ({folder})") } else { String::new() };
            census.title = sentence_start(name) + &apart;
        }
    }

    /// Reads what the chart is drawn from, and draws it.
    fn draw(&self, quiet: bool) -> anyhow::Result<tallyhouse_report::Chart> {
        let first = &self.inputs[0];
        let level = self.level.get();
        let census = |input: &PathBuf| Census::open(input, "", level);
        let censuses = || -> anyhow::Result<Vec<Census>> {
            let mut all = self.inputs.iter().map(census).collect::<Result<Vec<_>, _>>()?;
            self.name(&mut all);
            Ok(all)
        };
        let (drawn, nothing) = match self.kind.draw() {
            Draw::Census(draw) => {
                let mut all = [census(first)?];
                self.name(&mut all);
                (draw(&all[0], &[self.shape()])?, "this dataset shows no subset")
            }
            Draw::Censuses(draw) => {
                let all = censuses()?;
                let all: Vec<&Census> = all.iter().collect();
                (draw(&all)?, "these datasets have no tables, from which it is counted")
            }
            Draw::Comparison(draw) => {
                let all = censuses()?;
                let all: Vec<&Census> = all.iter().collect();
                (draw(&all, 4..=9)?, "these datasets show no subset")
            }
            Draw::Trial(draw) => {
                let left = LeftShapes::of_trial(first)?;
                (draw(&left)?, "no rulebook of this trial leaves a subset")
            }
            Draw::Juries(draw) => {
                (draw(&Juries::of_trial(first)?)?, "no claim of this trial is about such prices")
            }
            Draw::Verdicts(draw) => {
                (draw(&VerdictsOf::of_trial(first)?)?, "this trial has no claims")
            }
            Draw::Search(draw) => {
                (draw(&SearchedOrders::of_folder(first)?)?, "this search found no rulebook")
            }
            Draw::HeadToHead(draw) => {
                (draw(&HeadToHead::of_folder(first)?)?, "these rulebooks cost the same everywhere")
            }
            Draw::Yields(draw) => {
                let (table, frame) =
                    (YieldTable::of_folder(first)?, self.frame.unwrap_or(Frame::Due));
                (
                    draw(&table, frame, self.shape().0)?,
                    "these yields have too few finds with that many open cells to tell",
                )
            }
            Draw::Card(draw) => (draw(&charts::card_of_folder(first)?)?, "this card has no shapes"),
            Draw::Collection(draw) => {
                let bar = Bar::new("describing", "puzzles", None, quiet);
                let description = describe(self.source()?, level, &bar)?;
                let name = population(&description.notes, &[self.name_of(first)]);
                (draw(&description, &name)?, "this collection has no valid puzzle")
            }
            Draw::Sides(draw) => {
                let shapes: Vec<(u8, u8)> = charts::possible_shapes().collect();
                let (costs, walked) = self.costs(&shapes)?;
                let sides = compare_sides(&costs, level)?;
                (draw(&sides, &walked)?, "no house of these puzzles holds a split")
            }
            Draw::Costs(draw) => {
                let (costs, walked) = self.costs(&[self.shape()])?;
                let sides = compare_sides(&costs, level)?;
                let drawn = draw(&sides[0], &costs[0].costs, &walked)?;
                (drawn, "no house of these puzzles holds such a split")
            }
        };
        drawn.context(nothing)
    }

    /// Returns what the looks of some shapes cost in the first puzzles, and which puzzles these are.
    fn costs(&self, shapes: &[(u8, u8)]) -> anyhow::Result<(Vec<PairedCosts>, Walked)> {
        let most = self.count.unwrap_or(PUZZLES);
        let FirstPuzzles { puzzles, alike, notes } = first_puzzles(&self.source()?, most)?;
        if !alike {
            return Err(ReportError::Weighted(self.inputs[0].clone()).into());
        }
        let (walk, weights) = (WalkOptions::default(), GlanceWeights::default());
        let population = population(&notes, &[self.name_of(&self.inputs[0])]);
        let walked = Walked { population, puzzles: puzzles.len() as u64 };
        Ok((paired_costs(&puzzles, shapes, &walk, &weights), walked))
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        self.check()?;
        self.check_inputs()?;
        let folder = results::shared_folder(&self.out)?;
        let figure = self.draw(quiet)?.figure;
        let staging = folder.stage()?;
        let saver = Saver::below(staging.made()).printing(self.pictures.print());
        let width = self.pictures.width_or(Width::Page);
        let written = saver.figure(&*figure, self.kind.name(), self.pictures.theme, width)?;
        staging.install_beside(self.replace.into())?;
        if self.json.json {
            let files = written.iter().map(|file| (file.kind().to_lowercase(), file));
            let files = files.map(|(kind, file)| (kind, file.below(&self.out)));
            return messages::print_json(&files.collect::<BTreeMap<_, _>>());
        }
        let mut stdout = io::stdout().lock();
        let first = written.iter().take(1).map(|file| file.below(&self.out));
        first.into_iter().try_for_each(|path| writeln!(stdout, "{}", path.display()))?;
        Ok(())
    }
}
