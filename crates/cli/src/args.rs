//! What can be typed. Parsing does nothing but parse.

use std::num::NonZeroUsize;
use std::ops::RangeInclusive;
use std::path::PathBuf;

use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use clap::error::ErrorKind;
use clap::{Args, CommandFactory, Parser, Subcommand, ValueEnum};
use tallyhouse_board::{House, HouseKind};
use tallyhouse_census::{Dataset, Repeats};
use tallyhouse_collection::{
    Column, Format, GivensSymmetry, Recipe, RecipeError, Sampling, Source, Wishes,
};
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_engine::{Course, Look, Order as LookOrder, WalkOptions, WhenStuck};
use tallyhouse_figures::{Theme, Width};
use tallyhouse_report::ChartKind;
use tallyhouse_report::specimen::{Caption, Drawing, ProperSide, Puzzles, Wanted};

/// Measures which naked and hidden subsets occur in Sudoku puzzles.
///
/// Results go to standard output or files, messages to standard error. Exit codes: 0 fine, 1 failed,
/// 2 wrong usage.
#[derive(Debug, Parser)]
#[command(name = "tallyhouse", version, max_term_width = 100, arg_required_else_help = true)]
pub(crate) struct Arguments {
    #[command(flatten)]
    pub(crate) common: Common,
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Args)]
pub(crate) struct Common {
    /// Show no progress and no remarks
    #[arg(short, long, global = true)]
    pub(crate) quiet: bool,
    /// Number of threads; the results do not depend on it [default: one per core]
    #[arg(long, global = true, value_name = "N")]
    pub(crate) threads: Option<NonZeroUsize>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Collect(Collect),
    Describe(Describe),
    Make(Make),
    Census(Census),
    Merge(Merge),
    Judge(Judge),
    Coverage(Coverage),
    Order(Order),
    Specimen(Specimen),
    Chart(Chart),
    Inspect(Inspect),
    Study(Study),
    Completions(Completions),
    Man(Man),
}

/// What is read.
#[derive(Debug, Args)]
#[command(next_help_heading = "Reading")]
pub(crate) struct Reading {
    /// Files with puzzles or collection folders, - for standard input; gzip and zstd are unpacked
    #[arg(required = true, value_name = "FILE", help_heading = None::<&str>)]
    files: Vec<PathBuf>,
    /// How puzzles stand in the files
    #[arg(long, value_enum, default_value_t = FormatChoice::Auto, value_name = "HOW")]
    format: FormatChoice,
    /// Column of puzzles in a table, by name or by number from 1
    #[arg(long, value_name = "COLUMN")]
    column: Option<Column>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum FormatChoice {
    /// Told by the first lines of each file
    Auto,
    /// One puzzle per line
    Lines,
    /// Grids of nine lines, with or without a frame
    Grids,
    /// A table with a header, parted by commas, semicolons or tabs
    Table,
}

impl Reading {
    /// Returns the sources.
    pub(crate) fn sources(&self) -> anyhow::Result<Vec<Source>> {
        let format = match (self.format, &self.column) {
            (FormatChoice::Auto, None) => None,
            (FormatChoice::Lines, None) => Some(Format::Lines),
            (FormatChoice::Grids, None) => Some(Format::Grids),
            (FormatChoice::Auto | FormatChoice::Table, column) => {
                Some(Format::Table { column: column.clone() })
            }
            (_, Some(_)) => anyhow::bail!("--column goes with tables only"),
        };
        let sources = self.files.iter().map(|file| -> anyhow::Result<Source> {
            let source = tallyhouse_census::source_of(file)?;
            Ok(match &format {
                Some(format) if !file.is_dir() => source.with_format(format.clone()),
                _ => source,
            })
        });
        let sources = sources.collect::<Result<Vec<_>, _>>()?;
        anyhow::ensure!(
            sources.iter().filter(|source| source.is_stdin()).count() <= 1,
            "standard input (-) can be read only once"
        );
        Ok(sources)
    }
}

/// Read and check puzzles into a collection folder
///
/// Reads one puzzle per line (81 characters, 1-9 for givens, . or 0 for blanks, then a label), grids
/// of nine lines, and tables; in UTF-8, UTF-16 or Windows-1252, plain or packed. Rows that are no
/// puzzle with exactly one solution go to rejects.csv with their reason, repeats to repeats.csv, and
/// reading goes on.
///
/// DIR gets puzzles/ (Parquet) and, last, manifest.json; census and describe read it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse collect magazine.txt forum.csv.gz --out collection
  tallyhouse collect list.csv --column grid --drop equivalent --out collection")]
pub(crate) struct Collect {
    /// Folder to write; it must not exist yet or be empty
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Which repeats are left out; all are listed in repeats.csv
    #[arg(long, value_enum, default_value_t = DropChoice::Exact, value_name = "WHICH")]
    drop: DropChoice,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) reading: Reading,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum DropChoice {
    /// None
    None,
    /// Puzzles that repeat an earlier one cell by cell
    Exact,
    /// Puzzles equivalent to an earlier one under symmetry and relabelling
    Equivalent,
}

impl Collect {
    pub(crate) const fn repeats(&self) -> Repeats {
        match self.drop {
            DropChoice::None => Repeats::Keep,
            DropChoice::Exact => Repeats::DropExact,
            DropChoice::Equivalent => Repeats::DropEquivalent,
        }
    }
}

/// Say what a collection is like
///
/// Clue counts beside the published ones of all minimal puzzles, minimality, symmetry of the givens,
/// repeats, how many puzzles singles solve and which look the others need; with 95 % intervals, and
/// weighted where puzzles carry weights.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse describe puzzles.txt
  tallyhouse describe collection --json
  tallyhouse describe collection --out description")]
pub(crate) struct Describe {
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// Folder for description.txt, description.json and the figure of clue counts; it must not exist
    /// yet
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) reading: Reading,
}

/// Generate puzzles, one per line
///
/// Puzzle i depends on the options, the seed and i alone, so a longer collection begins with the
/// shorter one. The sampling method and its known bias stand in comment lines at the head of the
/// file; weighted puzzles are followed by weight=W, those of one board by family=N.
///
/// A run into a file that is broken off leaves FILE.unfinished; --resume goes on from there.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse make --count 100000 --seed 7 --out puzzles.txt
  tallyhouse make --count 500 --seed 7 --method splitting --out weighted.txt
  tallyhouse make --count 20 --seed 7 --clues 22..24 --symmetry half-turn --out few.txt
  tallyhouse make --count 20 --seed 7 --finds \"naked 4 open 8..9\" --out quads.txt")]
pub(crate) struct Make {
    /// Number of puzzles; of families with --method splitting
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) count: u64,
    /// Seed of the random generator
    #[arg(long, value_name = "S")]
    pub(crate) seed: u64,
    /// File to write, - for standard output
    #[arg(long, value_name = "FILE")]
    pub(crate) out: PathBuf,
    /// Replace the file if it exists
    #[arg(long)]
    pub(crate) replace: bool,
    /// Go on with an unfinished file made with the same options
    #[arg(long)]
    pub(crate) resume: bool,
    /// How puzzles are drawn
    #[arg(long, value_enum, default_value_t = MethodChoice::Deletion, value_name = "HOW")]
    method: MethodChoice,
    /// Clue sets carried from level to level by splitting
    #[arg(long, default_value_t = 1000, value_name = "N",
          value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    population: u32,
    #[command(flatten)]
    wishes: MakeWishes,
}

/// What is wanted of the puzzles.
#[derive(Debug, Args)]
#[command(next_help_heading = "Wishes")]
struct MakeWishes {
    /// Number of clues, as in 24 or 22..24
    #[arg(long, value_name = "RANGE", value_parser = parse_clues)]
    clues: Option<RangeInclusive<u8>>,
    /// Stop deleting at a number of clues drawn from --clues, so that clues may be left that could
    /// go
    #[arg(long, requires = "clues")]
    redundant: bool,
    /// Symmetry of the givens: half-turn, quarter-turn, left-right, top-bottom, diagonal or
    /// antidiagonal
    #[arg(long, value_name = "NAME")]
    symmetry: Option<GivensSymmetry>,
    /// Only puzzles that singles alone don't solve
    #[arg(long)]
    needs_subset: bool,
    /// Only puzzles in which this look finds something on the full ladder, as in "naked 3 open 7";
    /// can be given several times
    #[arg(long, value_name = "LOOK")]
    finds: Vec<Look>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum MethodChoice {
    /// Minimal puzzles by random deletion from a solved board
    Deletion,
    /// Minimal puzzles by random addition to a blank board
    Addition,
    /// Minimal puzzles with a known bias and weights that undo it; seconds for each
    ControlledBias,
    /// Weighted families of minimal puzzles with the same law, by multilevel splitting
    Splitting,
}

impl Make {
    pub(crate) fn recipe(&self) -> Result<Recipe, RecipeError> {
        let sampling = match self.method {
            MethodChoice::Deletion => Sampling::Deletion,
            MethodChoice::Addition => Sampling::Addition,
            MethodChoice::ControlledBias => Sampling::ControlledBias,
            MethodChoice::Splitting => Sampling::Splitting { population: self.population },
        };
        let wishes = Wishes {
            clues: self.wishes.clues.clone(),
            redundant: self.wishes.redundant,
            symmetry: self.wishes.symmetry,
            needs_subset: self.wishes.needs_subset,
            finds: self.wishes.finds.clone(),
        };
        Recipe::new(sampling, wishes, self.seed)
    }
}

fn parse_clues(text: &str) -> Result<RangeInclusive<u8>, String> {
    parse_range(text, 81)
}

fn parse_range(text: &str, most: u8) -> Result<RangeInclusive<u8>, String> {
    let (first, last) = text.split_once("..").unwrap_or((text, text));
    let number = |text: &str| text.trim().parse::<u8>().ok().filter(|n| (1..=most).contains(n));
    match (number(first), number(last)) {
        (Some(first), Some(last)) if first <= last => Ok(first..=last),
        _ => {
            Err(format!("found {text:?}, expected a number from 1 to {most} or a range as in 7..9"))
        }
    }
}

/// Scan puzzles and record every subset found
///
/// Reads whatever collect reads, and collection folders: one puzzle per line (81 characters, 1-9 for
/// givens, . or 0 for blanks, then a label), grids, tables. Rows that can't be used go to rejects.csv
/// with their reason, and the scan goes on.
///
/// DIR gets the tables puzzles/, positions/ and subsets/ (Parquet), counts.csv, exposure.csv,
/// shares.csv and manifest.json.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse census puzzles.txt --out census
  zcat puzzles.gz | tallyhouse census - --out census --tables none
  tallyhouse census puzzles.txt --out census --looks \"naked 1, hidden 1, naked 2, hidden 2\"")]
pub(crate) struct Census {
    /// Folder to write; it must not exist yet or be empty
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Parquet tables to write
    #[arg(long, value_enum, default_value_t = TablesChoice::All, value_name = "WHICH")]
    pub(crate) tables: TablesChoice,
    /// Keep the board state of each quiet position
    #[arg(long)]
    pub(crate) keep_states: bool,
    /// Rows per part of the dataset; memory grows with it
    #[arg(long, default_value_t = 50_000, value_name = "ROWS",
          value_parser = clap::value_parser!(u64).range(1..=10_000_000))]
    pub(crate) part_size: u64,
    /// Scan only slice I of N of the collection; tallyhouse merge joins the slices
    #[arg(long, value_name = "I/N")]
    pub(crate) shard: Option<tallyhouse_census::Shard>,
    /// Continue the unfinished scan in DIR
    #[arg(long)]
    pub(crate) resume: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) reading: Reading,
    #[command(flatten)]
    pub(crate) walk: Walk,
}

/// Join the datasets of all slices of a collection
///
/// The result is the dataset of one undivided scan.
#[derive(Debug, Args)]
#[command(after_help = "Example:
  tallyhouse census puzzles.txt --shard 1/2 --out first
  tallyhouse census puzzles.txt --shard 2/2 --out second
  tallyhouse merge first second --out census")]
pub(crate) struct Merge {
    /// The datasets of slices 1/N to N/N
    #[arg(required = true, value_name = "DIR")]
    pub(crate) folders: Vec<PathBuf>,
    /// Folder to write; it must not exist yet
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Put rulebooks and claims on trial
///
/// Walks each puzzle under the full ladder and under each rulebook, and judges each claim: supported,
/// refuted or undecided, with its estimate, 95 % interval and denominators. A rulebook and a file of
/// claims are TOML files; built-in rulebooks: full-ladder, naked-only, short-list, up-to-triples;
/// built-in claims: common-claims.
///
/// DIR gets missed.csv of the first rulebook, NAME/missed.csv of each, verdicts.csv and .json,
/// counterexamples.csv and manifest.json.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse judge puzzles.txt --rulebook short-list --claims common-claims --out trial
  tallyhouse judge collection --rulebook mine.toml --rulebook full-ladder --out trial")]
pub(crate) struct Judge {
    /// Rulebook, built-in or a file; can be given several times
    #[arg(long = "rulebook", value_name = "NAME-OR-FILE", required_unless_present = "claims")]
    pub(crate) rulebooks: Vec<String>,
    /// Claims, built-in or a file; can be given several times
    #[arg(long, value_name = "NAME-OR-FILE")]
    pub(crate) claims: Vec<String>,
    /// Folder to write; it must not exist yet or be empty
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Print the verdicts as JSON
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) weights: Weights,
    #[command(flatten)]
    pub(crate) reading: Reading,
}

/// What glances weigh in the effort model.
#[derive(Debug, Args)]
#[command(next_help_heading = "Effort")]
pub(crate) struct Weights {
    /// Weight of seeing a cell
    #[arg(long, default_value_t = 1.0, value_name = "W")]
    cell_weight: f64,
    /// Weight of gathering a place of a digit
    #[arg(long, default_value_t = 1.0, value_name = "W")]
    place_weight: f64,
    /// Weight of trying a set
    #[arg(long, default_value_t = 1.0, value_name = "W")]
    try_weight: f64,
}

impl Weights {
    pub(crate) fn glance_weights(&self) -> anyhow::Result<GlanceWeights> {
        Ok(GlanceWeights::new(self.cell_weight, self.place_weight, self.try_weight)?)
    }
}

/// Show what a rulebook looks for, without any data
///
/// For each open count and naked size: which looks find the split, on which side; and the gaps.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  tallyhouse coverage short-list")]
pub(crate) struct Coverage {
    /// Rulebooks, built-in or files
    #[arg(required = true, value_name = "NAME-OR-FILE")]
    pub(crate) rulebooks: Vec<String>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Search for rulebooks that cost less or reach more
///
/// Local search over looks, their order and their ranges of open cells, on training puzzles; what is
/// reported is measured on held-out ones. Effort is the mean number of glances of one-by-one walks,
/// reach the share of puzzles that end where the full ladder ends.
///
/// DIR gets frontier.csv, ratio-rule.csv, order.txt, order.json and a TOML file of each rulebook.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse order --start short-list --seed 7 --out orders
  tallyhouse order --start mine.toml --training a.txt --held-out b.txt --seed 7 --out orders")]
pub(crate) struct Order {
    /// The rulebook to compare with and to start from, built-in or a file
    #[arg(long, default_value = "short-list", value_name = "NAME-OR-FILE")]
    pub(crate) start: String,
    /// Seed of the search, and of the puzzles if none are given; held-out ones take the next
    #[arg(long, value_name = "S")]
    pub(crate) seed: u64,
    /// Folder to write; it must not exist yet
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// File or collection of training puzzles [default: made]
    #[arg(long, value_name = "FILE", requires = "held_out")]
    pub(crate) training: Option<PathBuf>,
    /// File or collection of held-out puzzles [default: made]
    #[arg(long, value_name = "FILE", requires = "training")]
    pub(crate) held_out: Option<PathBuf>,
    /// Training puzzles to make
    #[arg(long, default_value_t = 3000, value_name = "N", value_parser = clap::value_parser!(u64).range(2..=1_000_000))]
    pub(crate) training_count: u64,
    /// Held-out puzzles to make
    #[arg(long, default_value_t = 10_000, value_name = "N", value_parser = clap::value_parser!(u64).range(2..=10_000_000))]
    pub(crate) held_out_count: u64,
    /// How many orders to try
    #[arg(long, default_value_t = 2000, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) evaluations: u64,
    /// How many rulebooks to report at most
    #[arg(long, default_value_t = 12, value_name = "N")]
    pub(crate) frontier: usize,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) weights: Weights,
}

/// Find positions that show a split, and draw them
///
/// Positions are ranked by clarity: few other subsets, many eliminations, few candidates to check.
/// They come from files of puzzles, from collection folders, or from the records of a dataset of
/// census with tables. Without INPUT, minimal puzzles are made until enough are found.
///
/// DIR gets specimens.csv, specimens.json, and in figures/ a board diagram and a strip of the house of
/// each specimen (SVG, PNG and CSV); with --gallery also gallery.html, a page with one specimen of
/// each shape. Rows that are no valid puzzle go to rejects.csv. DIR comes into being when it is whole.
/// It is no failure if nothing is found: the exit code is 0, and specimens.csv has its header alone.
///
/// A dataset gives what its puzzles would give, without walking them all. If its walk was another
/// than the full ladder, the quiet positions are those of its walk; --nothing-easier goes by the full
/// ladder all the same.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse specimen --open 8 --naked 5 --seed 7 --out quintets
  tallyhouse specimen puzzles.txt --naked 2 --nothing-easier --most 10 --out pairs
  tallyhouse specimen census --hidden 3 --house box --theme print --no-key --out triples
  tallyhouse specimen --gallery --seed 7 --out gallery")]
pub(crate) struct Specimen {
    /// Files with puzzles or collection folders, - for standard input; or one dataset of census
    /// [default: made]
    #[arg(value_name = "INPUT")]
    inputs: Vec<PathBuf>,
    /// Seed of the puzzles that are made
    #[arg(long, default_value_t = 1, value_name = "S", conflicts_with = "inputs")]
    pub(crate) seed: u64,
    /// How many puzzles to make at most
    #[arg(long, default_value_t = 100_000, value_name = "N", conflicts_with = "inputs",
          value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) limit: u64,
    /// How many specimens at most
    #[arg(long, default_value_t = 5, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) most: u32,
    /// One specimen of each shape, on a page
    #[arg(long, conflicts_with_all = ["most", "json"])]
    pub(crate) gallery: bool,
    /// Folder to write; it must not exist yet or be empty
    #[arg(id = "folder", long = "out", value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    wanted: WantedSplit,
    #[command(flatten)]
    pub(crate) drawing: DrawingChoice,
}

/// How positions are drawn.
#[derive(Debug, Args)]
#[command(next_help_heading = "Drawing")]
#[group(requires = "folder")]
pub(crate) struct DrawingChoice {
    /// Colours
    #[arg(long, value_enum, default_value_t = ThemeChoice::Light, value_name = "THEME")]
    theme: ThemeChoice,
    /// Width
    #[arg(long, value_enum, default_value_t = WidthChoice::Column, value_name = "WIDTH")]
    width: WidthChoice,
    /// Leave out the key of the marks
    #[arg(long)]
    no_key: bool,
    /// Leave out the numbers of rows and columns
    #[arg(long)]
    no_numbers: bool,
    /// Caption of all figures [default: each its own]
    #[arg(long, value_name = "TEXT")]
    caption: Option<String>,
    /// Leave out the captions
    #[arg(long, conflicts_with = "caption")]
    no_caption: bool,
}

impl DrawingChoice {
    pub(crate) fn drawing(&self) -> Drawing {
        Drawing {
            theme: self.theme.into(),
            width: self.width.into(),
            caption: match &self.caption {
                Some(words) => Caption::Words(words.clone()),
                None if self.no_caption => Caption::None,
                None => Caption::Own,
            },
            numbers: !self.no_numbers,
            key: !self.no_key,
        }
    }
}

/// What the split must be like.
#[derive(Debug, Args)]
#[command(next_help_heading = "Wanted")]
struct WantedSplit {
    /// Open cells of the house, as in 8 or 7..9
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    open: Option<RangeInclusive<u8>>,
    /// Cells of the naked side
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    naked: Option<RangeInclusive<u8>>,
    /// Cells of the hidden side
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    hidden: Option<RangeInclusive<u8>>,
    /// Kind of house
    #[arg(long, value_enum, value_name = "KIND")]
    house: Option<KindChoice>,
    /// Side on which the split holds nothing smaller
    #[arg(long, value_enum, default_value_t = SideChoice::Either, value_name = "SIDE")]
    proper: SideChoice,
    /// Open cells outside settled blocks
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    live_open: Option<RangeInclusive<u8>>,
    /// Cells of the naked side outside settled blocks
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    live_naked: Option<RangeInclusive<u8>>,
    /// Cells of the hidden side outside settled blocks
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    live_hidden: Option<RangeInclusive<u8>>,
    /// At least so many eliminations
    #[arg(long, default_value_t = 1, value_name = "N")]
    eliminations: u8,
    /// No earlier look of the full ladder finds anything in the position
    #[arg(long)]
    nothing_easier: bool,
    /// The first quiet position of the puzzle
    #[arg(long)]
    first: bool,
    /// The quiet position of this number in the puzzle's walk, from 1
    #[arg(long, value_name = "N", conflicts_with = "first", value_parser = parse_position)]
    position: Option<u16>,
}

/// Reads the number of a quiet position, counted from 1, as counted from 0.
fn parse_position(text: &str) -> Result<u16, String> {
    let number = text.parse::<u16>().ok().and_then(|number| number.checked_sub(1));
    number.ok_or_else(|| format!("found {text:?}, expected a number from 1 to {}", u16::MAX))
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum KindChoice {
    /// Rows
    Row,
    /// Columns
    Column,
    /// Boxes
    Box,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum SideChoice {
    /// The naked side
    Naked,
    /// The hidden side
    Hidden,
    /// Both
    Both,
    /// At least one of them
    Either,
    /// Not asked
    Any,
}

impl Specimen {
    /// Tests if the puzzles are to be made.
    pub(crate) fn is_made(&self) -> bool {
        self.inputs.is_empty()
    }

    /// Returns where the puzzles come from; none are given where they are to be made.
    pub(crate) fn puzzles(&self) -> anyhow::Result<Option<Puzzles>> {
        let is_dataset =
            |input: &PathBuf| Ok(input.is_dir() && tallyhouse_census::is_dataset(input)?);
        let datasets: Vec<bool> =
            self.inputs.iter().map(is_dataset).collect::<anyhow::Result<_>>()?;
        match (&self.inputs[..], datasets.contains(&true)) {
            ([], _) => Ok(None),
            ([folder], true) => Ok(Some(Puzzles::Dataset(Box::new(Dataset::open(folder)?)))),
            (_, true) => Err(wrong_usage(
                "found a dataset beside other inputs, expected one dataset alone, or files and \
                 collection folders",
            )),
            (_, false) => {
                let files = self.inputs.clone();
                let reading = Reading { files, format: FormatChoice::Auto, column: None };
                Ok(Some(Puzzles::Sources(reading.sources()?)))
            }
        }
    }

    /// Returns what is wanted.
    pub(crate) fn wanted(&self) -> Wanted {
        let wanted = &self.wanted;
        Wanted {
            open: wanted.open.clone(),
            naked: wanted.naked.clone(),
            hidden: wanted.hidden.clone(),
            house_kind: wanted.house.map(|kind| match kind {
                KindChoice::Row => HouseKind::Row,
                KindChoice::Column => HouseKind::Column,
                KindChoice::Box => HouseKind::Box,
            }),
            proper: match wanted.proper {
                SideChoice::Naked => Some(ProperSide::Naked),
                SideChoice::Hidden => Some(ProperSide::Hidden),
                SideChoice::Both => Some(ProperSide::Both),
                SideChoice::Either => Some(ProperSide::Either),
                SideChoice::Any => None,
            },
            live_open: wanted.live_open.clone(),
            live_naked: wanted.live_naked.clone(),
            live_hidden: wanted.live_hidden.clone(),
            least_eliminations: wanted.eliminations,
            nothing_easier: wanted.nothing_easier,
            quiet_position: if wanted.first { Some(0) } else { wanted.position },
        }
    }
}

fn parse_sizes(text: &str) -> Result<RangeInclusive<u8>, String> {
    parse_range(text, 9)
}

/// Show the walk of one puzzle
///
/// Prints the board with candidates at each quiet position, then each subset in a sentence: house,
/// cells and digits of both sides, and what is removed.
///
/// With --draw, DIR gets figures (SVG, PNG and CSV): start-board with the givens alone; for each quiet
/// position position-NN-board with nothing marked, and for each subset that is applied there
/// position-NN-HOUSE-CELLS-board with the split marked and -house with the strip of its house; end-board.
/// HOUSE is as in row-4, CELLS are those of the naked side. Intersections are not marked.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse inspect \
                        ...1...8.4..........6.9..7.......63.58..........4..92.8.....1...5.2...9..7.......
  tallyhouse inspect LINE --draw figures --theme print --no-key
  tallyhouse inspect LINE --position 1 --draw first")]
pub(crate) struct Inspect {
    /// A puzzle of 81 characters: 1-9 for givens, . or 0 for blanks
    #[arg(value_name = "LINE")]
    pub(crate) line: String,
    /// Show only the quiet position of this number, from 1
    #[arg(long, value_name = "N", value_parser = parse_position)]
    pub(crate) position: Option<u16>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// Folder for figures; it must not exist yet or be empty
    #[arg(id = "folder", long = "draw", value_name = "DIR")]
    pub(crate) draw: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) drawing: DrawingChoice,
    #[command(flatten)]
    pub(crate) walk: Walk,
}

/// Draw a chart of datasets
///
/// Each chart comes as SVG, PNG and CSV, with title, denominators and a description for readers who
/// can't see it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse chart rates census --out charts
  tallyhouse chart compare census-a census-b --out charts --theme print --width column
  tallyhouse chart narrowing census --open 7 --naked 4 --out charts
  tallyhouse chart missed trial --out charts --theme dark")]
pub(crate) struct Chart {
    /// What is drawn
    #[arg(value_parser = chart_kind(), value_name = "KIND")]
    pub(crate) kind: ChartKind,
    /// A dataset of census; for missed the folder of judge, for frontier that of order, for clues and
    /// effort a file or collection of puzzles
    #[arg(required = true, value_name = "INPUT")]
    pub(crate) datasets: Vec<PathBuf>,
    /// Folder to write
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Colours
    #[arg(long, value_enum, default_value_t = ThemeChoice::Light, value_name = "THEME")]
    pub(crate) theme: ThemeChoice,
    /// Width
    #[arg(long, value_enum, default_value_t = WidthChoice::Page, value_name = "WIDTH")]
    pub(crate) width: WidthChoice,
    /// How many puzzles effort walks at most
    #[arg(long, default_value_t = 20_000, value_name = "N")]
    pub(crate) puzzles: u64,
    /// Open cells of the shape of narrowing and effort
    #[arg(long, default_value_t = 6, value_name = "N")]
    pub(crate) open: u8,
    /// Naked side of the shape of narrowing and effort
    #[arg(long, default_value_t = 2, value_name = "N")]
    pub(crate) naked: u8,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Reads the name of a chart and offers all of them.
fn chart_kind() -> impl TypedValueParser<Value = ChartKind> {
    let kinds = ChartKind::ALL.map(|kind| PossibleValue::new(kind.name()).help(kind.about()));
    PossibleValuesParser::new(kinds).try_map(|name| name.parse::<ChartKind>())
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum ThemeChoice {
    /// On white
    Light,
    /// On black
    Dark,
    /// Black and grey on white
    Print,
}

impl From<ThemeChoice> for Theme {
    fn from(choice: ThemeChoice) -> Self {
        match choice {
            ThemeChoice::Light => Self::Light,
            ThemeChoice::Dark => Self::Dark,
            ThemeChoice::Print => Self::Print,
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum WidthChoice {
    /// 85 mm
    Column,
    /// 170 mm
    Page,
}

impl From<WidthChoice> for Width {
    fn from(choice: WidthChoice) -> Self {
        match choice {
            WidthChoice::Column => Self::Column,
            WidthChoice::Page => Self::Page,
        }
    }
}

/// Print a script that completes commands in a shell
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  tallyhouse completions bash > ~/.local/share/bash-completion/completions/tallyhouse"
)]
pub(crate) struct Completions {
    /// The shell
    #[arg(value_enum, value_name = "SHELL")]
    pub(crate) shell: clap_complete::Shell,
}

/// Print the manual page
///
/// With --out, one page for each command is written instead.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse man | man -l -
  tallyhouse man --out ~/.local/share/man/man1")]
pub(crate) struct Man {
    /// Folder to write all pages to
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

/// Turn a recipe into a report
///
/// A recipe is a TOML file: collections to read or make, how they are walked, rulebooks and claims to
/// put on trial, looks to compare, a search for rulebooks, charts and specimens. Without RECIPE the built-in one is used: 10,000
/// minimal puzzles, the short list and common claims.
///
/// DIR gets report.html (one file, works offline), report.md, figures/, data/ and recipe.toml. A study
/// that is run again does only what has changed.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse study
  tallyhouse study --count 100000 --seed 7 --out larger
  tallyhouse study recipe.toml --out my-study
  tallyhouse study recipe.toml --out my-study --check")]
pub(crate) struct Study {
    /// The recipe [default: the built-in one]
    #[arg(value_name = "RECIPE")]
    pub(crate) recipe: Option<PathBuf>,
    /// Folder to write
    #[arg(long, default_value = "tallyhouse-study", value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Number of puzzles of the built-in recipe [default: 10000]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) count: Option<u64>,
    /// Seed of the built-in recipe [default: 1]
    #[arg(long, value_name = "S")]
    pub(crate) seed: Option<u64>,
    /// Replace another study in the folder
    #[arg(long)]
    pub(crate) replace: bool,
    /// Do the study again elsewhere and fail if any number or figure differs
    #[arg(long)]
    pub(crate) check: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum TablesChoice {
    /// Puzzles, positions and subsets
    All,
    /// Only counts.csv, exposure.csv and the manifest
    None,
}

/// The options of a walk.
#[derive(Debug, Args)]
#[command(next_help_heading = "Walk")]
pub(crate) struct Walk {
    /// Looks in order, separated by commas: naked K, hidden K, each with an optional range as in
    /// "naked 4 open 8..9", or intersections [default: naked and hidden 1 to 4 in turn]
    #[arg(long, value_name = "LIST", value_parser = parse_order)]
    looks: Option<LookOrder>,
    /// Look for box-line intersections after the pairs
    #[arg(long, conflicts_with = "looks")]
    intersections: bool,
    /// How finds are applied
    #[arg(long, value_enum, default_value_t = CourseChoice::Together, value_name = "HOW")]
    course: CourseChoice,
    /// What happens when no look finds anything
    #[arg(long, value_enum, default_value_t = StuckChoice::Stop, value_name = "WHAT")]
    when_stuck: StuckChoice,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum CourseChoice {
    /// All finds of the first look that has any, at once
    Together,
    /// The first find alone: rows, then columns, then boxes
    OneByOne,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum StuckChoice {
    /// The walk ends
    Stop,
    /// One digit of the solution is given and the walk goes on
    GiveDigit,
}

impl Walk {
    pub(crate) fn options(&self) -> WalkOptions {
        let order = match &self.looks {
            Some(order) => order.clone(),
            None if self.intersections => LookOrder::ladder().with_intersections(),
            None => LookOrder::ladder(),
        };
        WalkOptions {
            order,
            course: match self.course {
                CourseChoice::Together => Course::Together,
                CourseChoice::OneByOne => Course::OneByOne(House::all().collect()),
            },
            when_stuck: match self.when_stuck {
                StuckChoice::Stop => WhenStuck::Stop,
                StuckChoice::GiveDigit => WhenStuck::GiveDigit,
            },
        }
    }
}

/// An error of usage that only the inputs themselves show.
fn wrong_usage(message: &str) -> anyhow::Error {
    Arguments::command().error(ErrorKind::ArgumentConflict, message).into()
}

fn parse_order(text: &str) -> Result<LookOrder, String> {
    let looks: Result<Vec<Look>, _> =
        text.split(',').map(str::trim).filter(|look| !look.is_empty()).map(str::parse).collect();
    LookOrder::new(looks.map_err(|error: tallyhouse_engine::LookError| error.to_string())?)
        .map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        super::Arguments::command().debug_assert();
    }
}
