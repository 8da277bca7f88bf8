//! The options that several commands share: each is spelt and explained once.

use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use strum::{EnumMessage, VariantArray};
use tallyhouse_board::{Cell, Digit};
use tallyhouse_collection::{Column, Format, FormatKind, Source};
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_engine::{CourseKind, Order, WalkOptions, WhenStuck};
use tallyhouse_figures::{Dpi, Sides, Theme, Width};
use tallyhouse_report::ReportError;
use tallyhouse_report::saving::Print;
use tallyhouse_report::specimen::{Caption, Captions, Drawing, Title};
use tallyhouse_stats::Level;
use tallyhouse_storage::{NewFolder, Replace, StorageError};

use crate::usage;

/// The help of `--count`, which has another default in each command.
pub(crate) const COUNT: &str = "Number of puzzles";

/// More threads than any machine has cores only cost time and memory.
const MOST_THREADS: i64 = 1024;

/// The options of every command.
#[derive(Debug, Args)]
pub(crate) struct Common {
    /// Show no progress and no warnings
    #[arg(short, long, global = true, display_order = 901)]
    pub(crate) quiet: bool,
    /// Number of threads; the results don't depend on it [default: one per core]
    #[arg(short = 'j', long, global = true, display_order = 900, value_name = "N",
          value_parser = clap::value_parser!(u16).range(1..=MOST_THREADS))]
    pub(crate) threads: Option<u16>,
}

/// Where results go.
#[derive(Debug, Args)]
pub(crate) struct Out {
    /// Folder to write; it must be new or empty
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: PathBuf,
}

/// Whether results that are there give way.
#[derive(Debug, Args)]
pub(crate) struct Replacing {
    /// Replace what --out names, if tallyhouse wrote it and nobody changed it since
    #[arg(long, requires = "out")]
    replace: bool,
}

impl Replacing {
    pub(crate) fn get(&self) -> Replace {
        self.replace.into()
    }
}

/// Where results go, if files are wanted.
#[derive(Debug, Args)]
pub(crate) struct OutIfWanted {
    /// Folder to write; it must be new or empty
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

impl OutIfWanted {
    /// Begins the folder.
    pub(crate) fn begin(&self, replacing: &Replacing) -> Result<Option<NewFolder>, StorageError> {
        let begin = |path: &PathBuf| NewFolder::begin(path, replacing.get());
        self.out.as_ref().map(begin).transpose()
    }
}

/// How results are printed.
#[derive(Debug, Args)]
pub(crate) struct Json {
    /// Print JSON instead of text
    #[arg(long)]
    pub(crate) json: bool,
}

/// Where random numbers begin.
#[derive(Debug, Args)]
pub(crate) struct Seed {
    /// Seed of the random numbers; the same seed gives the same results [default: 1]
    #[arg(short, long, value_name = "S")]
    pub(crate) seed: Option<u64>,
}

impl Seed {
    pub(crate) fn get(&self) -> u64 {
        self.seed.unwrap_or(1)
    }
}

/// How sure intervals are.
#[derive(Debug, Args)]
pub(crate) struct LevelOption {
    /// Confidence level of all intervals, in percent [default: 95]
    #[arg(long, value_name = "PERCENT")]
    pub(crate) level: Option<Level>,
}

impl LevelOption {
    pub(crate) fn get(&self) -> Level {
        self.level.unwrap_or_default()
    }
}

/// What is read.
#[derive(Debug, Args)]
#[command(next_help_heading = "Reading")]
pub(crate) struct Reading {
    /// Files of puzzles or collection folders, - for standard input; gzip and zstd are unpacked
    #[arg(required = true, value_name = "FILE", help_heading = None::<&str>)]
    files: Vec<PathBuf>,
    #[command(flatten)]
    how: ReadingOptions,
}

impl Reading {
    pub(crate) fn sources(&self) -> anyhow::Result<Vec<Source>> {
        self.how.sources(&self.files)
    }
}

/// How puzzles are read.
#[derive(Debug, Args)]
#[command(next_help_heading = "Reading")]
pub(crate) struct ReadingOptions {
    /// How puzzles stand in the files [default: auto]
    #[arg(long, value_parser = choice::<FormatKind>(), value_name = "HOW")]
    format: Option<FormatKind>,
    /// Column of a table that holds the puzzles, by its name or by its number from 1
    #[arg(long, value_name = "COLUMN")]
    column: Option<Column>,
}

impl ReadingOptions {
    /// Tests if any of the options is used.
    pub(crate) const fn is_used(&self) -> bool {
        self.format.is_some() || self.column.is_some()
    }

    /// Returns the sources.
    pub(crate) fn sources(&self, files: &[PathBuf]) -> anyhow::Result<Vec<Source>> {
        let standard_input = files.iter().filter(|file| file.as_os_str() == "-").count();
        usage::expect(standard_input <= 1, "standard input (-) can be read only once")?;
        usage::expect(
            !self.is_used() || files.iter().any(|file| !file.is_dir()),
            "--format and --column are for files; a collection folder needs neither",
        )?;
        let format = self.format()?;
        files.iter().map(|file| source(file, &format)).collect()
    }

    fn format(&self) -> anyhow::Result<Format> {
        let kind = self.format.unwrap_or_default();
        let format = Format::of(kind, self.column.clone());
        format.ok_or_else(|| usage::wrong(format!("--column is for tables, not for {kind}")))
    }
}

fn source(file: &Path, format: &Format) -> anyhow::Result<Source> {
    let source = tallyhouse_census::source_of(file)?;
    Ok(if file.is_dir() { source } else { source.with_format(format.clone()) })
}

/// The options of a walk.
#[derive(Debug, Args)]
#[command(next_help_heading = "Walk")]
pub(crate) struct Walk {
    /// Looks in order, separated by commas, as in "naked 1, hidden 1, naked 4 open 8..9,
    /// intersections" [default: naked and hidden 1 to 4 in turn]
    #[arg(long, value_name = "LIST")]
    looks: Option<Order>,
    /// Look for box-line intersections after the pairs
    #[arg(long, conflicts_with = "looks")]
    intersections: bool,
    /// How finds are applied
    #[arg(long, value_parser = choice::<CourseKind>(), default_value_t, value_name = "HOW")]
    course: CourseKind,
    /// What happens when no look finds anything
    #[arg(long, value_parser = choice::<WhenStuck>(), default_value_t, value_name = "WHAT")]
    when_stuck: WhenStuck,
}

impl Walk {
    /// Tests if any of the options is used.
    pub(crate) fn is_used(&self) -> bool {
        let usual = (CourseKind::default(), WhenStuck::default());
        self.looks.is_some() || self.intersections || (self.course, self.when_stuck) != usual
    }

    pub(crate) fn options(&self) -> WalkOptions {
        let order = match &self.looks {
            Some(order) => order.clone(),
            None if self.intersections => Order::ladder().with_intersections(),
            None => Order::ladder(),
        };
        WalkOptions { order, course: self.course.into(), when_stuck: self.when_stuck }
    }
}

/// What glances weigh in the effort model.
#[derive(Debug, Args)]
#[command(next_help_heading = "Effort")]
pub(crate) struct Weights {
    /// How many glances seeing a cell counts as
    #[arg(long, default_value_t = 1.0, value_name = "W")]
    cell_weight: f64,
    /// How many glances gathering a place of a digit counts as
    #[arg(long, default_value_t = 1.0, value_name = "W")]
    place_weight: f64,
    /// How many glances trying a set counts as
    #[arg(long, default_value_t = 1.0, value_name = "W")]
    try_weight: f64,
}

impl Weights {
    pub(crate) fn get(&self) -> anyhow::Result<GlanceWeights> {
        GlanceWeights::new(self.cell_weight, self.place_weight, self.try_weight)
            .map_err(usage::wrong)
    }
}

/// How pictures look and become files.
#[derive(Debug, Args)]
#[command(next_help_heading = "Drawing")]
#[group(requires = "out")]
pub(crate) struct Pictures {
    /// Colours of the figures
    #[arg(long, value_parser = choice::<Theme>(), default_value_t, value_name = "THEME")]
    pub(crate) theme: Theme,
    #[arg(long, value_name = "WIDTH",
          help = format!("Width of the figures: {} [default: column for boards and houses, page for \
                          the others]", Width::FORMS))]
    width: Option<Width>,
    #[arg(long, value_name = "N",
          help = format!("Resolution of PNG files: {} [default: {} for boards and houses, {} for the \
                          others]", Dpi::FORMS, Dpi::DIAGRAM.get(), Dpi::CHART.get()))]
    dpi: Option<Dpi>,
    /// Draw the text of SVG and PDF files as outlines, which need no font
    #[arg(long)]
    outlines: bool,
}

impl Pictures {
    /// Returns the width, or the usual one of a command.
    pub(crate) fn width_or(&self, usual: Width) -> Width {
        self.width.unwrap_or(usual)
    }

    pub(crate) fn print(&self) -> Print {
        Print { dpi: self.dpi, outlines: self.outlines }
    }
}

/// How positions are drawn.
#[derive(Debug, Args)]
#[command(next_help_heading = "Drawing")]
pub(crate) struct DrawingOptions {
    #[command(flatten)]
    pictures: Pictures,
    /// Sides of splits to mark
    #[arg(requires = "out", long, value_parser = choice::<Sides>(), default_value_t, value_name = "SIDES")]
    show: Sides,
    /// Put a ring around a candidate or digit, as in r1c1:4; may be given several times
    #[arg(requires = "out", long = "mark", value_parser = parse_mark, value_name = "CELL:DIGIT")]
    marks: Vec<(Cell, Digit)>,
    /// Title of every figure [default: each its own]
    #[arg(requires = "out", long, value_name = "TEXT")]
    title: Option<String>,
    /// Leave out the titles
    #[arg(requires = "out", long, conflicts_with = "title")]
    no_title: bool,
    /// Leave out the key of the marks
    #[arg(requires = "out", long)]
    no_key: bool,
    /// Leave out the numbers of rows and columns
    #[arg(requires = "out", long)]
    no_numbers: bool,
    /// Caption of every figure [default: each its own]
    #[arg(requires = "out", long, value_name = "TEXT")]
    caption: Option<String>,
    /// File of captions, a line for each figure: its name without the ending, as in
    /// specimen-1-board = "The pair in row 4."; the others keep their own
    #[arg(requires = "out", long, value_name = "FILE", conflicts_with_all = ["caption", "no_caption"])]
    captions: Option<PathBuf>,
    /// Leave out the captions
    #[arg(requires = "out", long, conflicts_with = "caption")]
    no_caption: bool,
}

impl DrawingOptions {
    /// Returns the sides of splits that are marked.
    pub(crate) const fn shown(&self) -> Sides {
        self.show
    }

    pub(crate) fn drawing(&self) -> Result<Drawing, ReportError> {
        Ok(Drawing {
            theme: self.pictures.theme,
            width: self.pictures.width_or(Width::Column),
            print: self.pictures.print(),
            shown: self.show,
            title: match &self.title {
                Some(words) => Title::Words(words.clone()),
                None if self.no_title => Title::None,
                None => Title::Own,
            },
            caption: match (&self.caption, &self.captions) {
                (Some(words), _) => Caption::Words(words.clone()),
                (None, Some(file)) => Caption::Listed(Captions::read(file)?),
                (None, None) if self.no_caption => Caption::None,
                (None, None) => Caption::Own,
            },
            rings: self.marks.clone(),
            numbers: !self.no_numbers,
            key: !self.no_key,
        })
    }
}

/// Reads a mark, as in `r1c1:4`.
fn parse_mark(text: &str) -> Result<(Cell, Digit), String> {
    let parts = text.split_once(':');
    let mark = parts.and_then(|(cell, digit)| {
        let value = digit.trim().parse().ok()?;
        Some((cell.trim().parse().ok()?, Digit::new(value)?))
    });
    mark.ok_or_else(|| format!("found {text:?}, expected a cell and a digit, as in r1c1:4"))
}

/// Offers the values of a type by the names and descriptions that the type itself gives them.
pub(crate) fn choice<T>() -> impl TypedValueParser<Value = T>
where
    T: VariantArray + EnumMessage + Into<&'static str> + Copy + Send + Sync,
{
    let offered = T::VARIANTS.iter().map(|&value| {
        let name: &'static str = value.into();
        let about = value.get_documentation().unwrap_or_default();
        let first = about.split("\n\n").next().unwrap_or_default().trim();
        PossibleValue::new(name).help(first.replace('\n', " ").trim_end_matches('.').to_owned())
    });
    PossibleValuesParser::new(offered).map(|typed| {
        let is_typed = |value: &&T| -> bool {
            let name: &'static str = (**value).into();
            name == typed
        };
        let named = T::VARIANTS.iter().find(is_typed);
        *named.unwrap_or_else(|| unreachable!("only offered names come through"))
    })
}

/// Reads the number of a quiet position, counted from 1, as counted from 0.
pub(crate) fn parse_position(text: &str) -> Result<u16, String> {
    let number = text.parse::<u16>().ok().and_then(|number| number.checked_sub(1));
    number.ok_or_else(|| format!("found {text:?}, expected a number from 1 to {}", u16::MAX))
}
