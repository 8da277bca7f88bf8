//! What can be typed. Parsing does nothing but parse.

use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use tallyhouse_board::House;
use tallyhouse_engine::{Course, Look, Order, WalkOptions, WhenStuck};

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
    Make(Make),
    Census(Census),
    Merge(Merge),
    Inspect(Inspect),
    Study(Study),
}

/// Generate minimal puzzles, one per line
///
/// Puzzle i depends on the seed and i alone, so a longer collection begins with the shorter one. The
/// sampling method and its known bias stand in comment lines at the head of the file.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  tallyhouse make --count 100000 --seed 7 --out puzzles.txt")]
pub(crate) struct Make {
    /// Number of puzzles
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
}

/// Scan puzzles and record every subset found
///
/// Reads one puzzle per line: 81 characters, 1-9 for givens, . or 0 for blanks; anything after white
/// space or a comma is a label, lines that begin with # are comments. Rows that can't be used go to
/// rejects.csv with their reason, and the scan goes on.
///
/// DIR gets the tables puzzles/, positions/ and subsets/ (Parquet), counts.csv, exposure.csv and,
/// last, manifest.json.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse census puzzles.txt --out census
  zcat puzzles.gz | tallyhouse census - --out census --tables none
  tallyhouse census puzzles.txt --out census --looks \"naked 1, hidden 1, naked 2, hidden 2\"")]
pub(crate) struct Census {
    /// Files with puzzles, - for standard input
    #[arg(required = true, value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
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
}

/// Show the walk of one puzzle
///
/// Prints the board with candidates at each quiet position, then each subset in a sentence: house,
/// cells and digits of both sides, and what is removed.
#[derive(Debug, Args)]
#[command(after_help = "Example:
  tallyhouse inspect \
                        ...1...8.4..........6.9..7.......63.58..........4..92.8.....1...5.2...9..7.......")]
pub(crate) struct Inspect {
    /// A puzzle of 81 characters: 1-9 for givens, . or 0 for blanks
    #[arg(value_name = "LINE")]
    pub(crate) line: String,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) walk: Walk,
}

/// Make puzzles, scan them, draw the charts and sum up
///
/// Without options: 10,000 generated minimal puzzles, scanned with the full ladder of looks.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  tallyhouse study --out first-study --count 100000 --seed 7")]
pub(crate) struct Study {
    /// Folder to write
    #[arg(long, default_value = "tallyhouse-study", value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Number of puzzles
    #[arg(long, default_value_t = 10_000, value_name = "N",
          value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) count: u64,
    /// Seed of the random generator
    #[arg(long, default_value_t = 1, value_name = "S")]
    pub(crate) seed: u64,
    /// Replace an earlier study in the folder
    #[arg(long)]
    pub(crate) replace: bool,
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
    looks: Option<Order>,
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
            None if self.intersections => Order::ladder().with_intersections(),
            None => Order::ladder(),
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

fn parse_order(text: &str) -> Result<Order, String> {
    let looks: Result<Vec<Look>, _> =
        text.split(',').map(str::trim).filter(|look| !look.is_empty()).map(str::parse).collect();
    Order::new(looks.map_err(|error: tallyhouse_engine::LookError| error.to_string())?)
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
