//! `tallyhouse specimen`: find positions that show a split, and draw them.

use std::fs;
use std::io::{self, Write};
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use clap::Args;
use tallyhouse_board::HouseKind;
use tallyhouse_census::Dataset;
use tallyhouse_collection::Recipe;
use tallyhouse_engine::{Look, WalkOptions};
use tallyhouse_report::ReportError;
use tallyhouse_report::specimen::{
    Drawing, Examined, Found, Gallery, Hearing, ProperSide, Puzzles, Wanted, find, find_by_making,
    gallery,
};
use tallyhouse_storage::{NewFolder, StorageError};
use tallyhouse_words::{counted, read_range};

use crate::messages;
use crate::options::{
    COUNT, DrawingOptions, Json, Out, ReadingOptions, Replacing, Seed, choice, parse_position,
};
use crate::progress::Bar;
use crate::{results, usage};

/// Find positions that show a split, and draw them
///
/// Searches files of puzzles, collection folders, or the records of one dataset of census with
/// tables; without INPUT, minimal puzzles are made until enough is found. The clearest positions come
/// first: those with few other subsets, many eliminations and few candidates to read.
///
/// DIR gets specimens.csv, specimens.json, and in figures/ for each specimen the board before the step,
/// marked (-board) and after it, these together (-steps: beside each other where there is room, in one
/// column without the first), and a strip of the house (-house), all as SVG, PNG, PDF and CSV; with
/// --gallery also gallery.html, a page with one specimen of each shape, marked and as a strip. Rows that
/// are no valid puzzle go to rejects.csv. The files of DIR appear when all are whole. If nothing is found,
/// specimens.csv has its header alone and the exit code is 0.
///
/// The side that is asked for, by --finds, --naked, --hidden or --proper, comes first in figures and
/// words, else the smaller one.
///
/// A dataset gives what its puzzles would give, without walking them again. If it was not made by the
/// full ladder, its quiet positions are those of its own walk; --nothing-easier goes by the full
/// ladder all the same.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse specimen --open 8 --naked 5 --seed 7 -o quintets
  tallyhouse specimen puzzles.txt --naked 2 --nothing-easier --most 10 -o pairs
  tallyhouse specimen --finds \"hidden 2 open 7..9\" --show hidden --width page -o hidden-pairs
  tallyhouse specimen census --hidden 3 --house box --theme print --no-key -o triples
  tallyhouse specimen --gallery --seed 7 -o gallery")]
pub(crate) struct Specimen {
    /// Files of puzzles or collection folders, - for standard input; or one dataset of census
    /// [default: puzzles are made]
    #[arg(value_name = "INPUT")]
    inputs: Vec<PathBuf>,
    #[command(flatten)]
    seed: Seed,
    #[arg(long, help = COUNT, long_help = "Number of puzzles to make at most",
          default_value_t = 100_000, value_name = "N", conflicts_with = "inputs",
          value_parser = clap::value_parser!(u64).range(Recipe::UNITS))]
    count: u64,
    /// Number of specimens at most
    #[arg(long, default_value_t = 5, value_name = "N",
          value_parser = clap::value_parser!(u64).range(Wanted::SPECIMENS))]
    most: u64,
    /// One specimen of each shape, on a page
    #[arg(long, conflicts_with_all = ["most", "json"])]
    gallery: bool,
    #[command(flatten)]
    out: Out,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    wanted: WantedSplit,
    #[command(flatten)]
    drawing: DrawingOptions,
    #[command(flatten)]
    reading: ReadingOptions,
}

/// What the split must be like.
#[derive(Debug, Args)]
#[command(next_help_heading = "Wanted")]
struct WantedSplit {
    /// Look that finds the split, as in "hidden 2 open 7..9"
    #[arg(long, value_name = "LOOK", conflicts_with_all = ["open", "naked", "hidden", "proper"])]
    finds: Option<Look>,
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
    #[arg(long, value_parser = choice::<HouseKind>(), value_name = "KIND")]
    house: Option<HouseKind>,
    /// On which side the subset must be proper, holding nothing smaller
    #[arg(long, value_parser = choice::<ProperSide>(), default_value_t = ProperSide::Either,
          value_name = "SIDE")]
    proper: ProperSide,
    /// Open cells outside settled blocks
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    live_open: Option<RangeInclusive<u8>>,
    /// Cells of the naked side outside settled blocks
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    live_naked: Option<RangeInclusive<u8>>,
    /// Cells of the hidden side outside settled blocks
    #[arg(long, value_name = "RANGE", value_parser = parse_sizes)]
    live_hidden: Option<RangeInclusive<u8>>,
    /// Number of eliminations at least
    #[arg(long, default_value_t = 1, value_name = "N",
          value_parser = clap::value_parser!(u64).range(Wanted::ELIMINATIONS))]
    eliminations: u64,
    /// Only where no earlier look of the full ladder finds anything
    #[arg(long)]
    nothing_easier: bool,
    /// Only at the first quiet position of a puzzle
    #[arg(long)]
    first: bool,
    /// Only at the quiet position of this number in the walk of a puzzle, from 1
    #[arg(long, value_name = "N", conflicts_with = "first", value_parser = parse_position)]
    position: Option<u16>,
}

fn parse_sizes(text: &str) -> Result<RangeInclusive<u8>, String> {
    read_range(text, 9)
}

impl Specimen {
    /// Returns where the puzzles come from; `None` where they are to be made.
    fn puzzles(&self) -> anyhow::Result<Option<Puzzles>> {
        let is_dataset =
            |input: &PathBuf| Ok(input.is_dir() && tallyhouse_census::is_dataset(input)?);
        let datasets: Vec<bool> =
            self.inputs.iter().map(is_dataset).collect::<anyhow::Result<_>>()?;
        let reads_files = !self.inputs.is_empty() && !datasets.contains(&true);
        usage::expect(
            reads_files || !self.reading.is_used(),
            "--format and --column go with files of puzzles",
        )?;
        usage::expect(
            self.inputs.is_empty() || self.seed.seed.is_none(),
            "--seed is for puzzles that are made; found INPUT, from which they are read",
        )?;
        match (&self.inputs[..], datasets.contains(&true)) {
            ([], _) => Ok(None),
            ([folder], true) => Ok(Some(Puzzles::Dataset(Box::new(Dataset::open(folder)?)))),
            (_, true) => Err(usage::wrong(
                "found a dataset beside other inputs, expected one dataset alone, or files and \
                 collection folders",
            )),
            (files, false) => Ok(Some(Puzzles::Sources(self.reading.sources(files)?))),
        }
    }

    /// Returns what is wanted.
    fn wanted(&self) -> anyhow::Result<Wanted> {
        let wanted = &self.wanted;
        let wanted = Wanted {
            open: wanted.open.clone(),
            naked: wanted.naked.clone(),
            hidden: wanted.hidden.clone(),
            house_kind: wanted.house,
            proper: if wanted.finds.is_some() { ProperSide::Any } else { wanted.proper },
            live_open: wanted.live_open.clone(),
            live_naked: wanted.live_naked.clone(),
            live_hidden: wanted.live_hidden.clone(),
            least_eliminations: wanted.eliminations as u8,
            nothing_easier: wanted.nothing_easier,
            quiet_position: if wanted.first { Some(0) } else { wanted.position },
            look: wanted.finds,
        };
        wanted.check().map_err(usage::wrong)?;
        Ok(wanted)
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let (wanted, drawing) = (self.wanted()?, self.drawing.drawing()?);
        let puzzles = self.puzzles()?;
        let out = &self.out.out;
        let folder = NewFolder::begin(out, self.replacing.get())?;
        if let (Some(Puzzles::Dataset(dataset)), false) = (&puzzles, quiet)
            && *dataset.walk() != WalkOptions::default()
        {
            messages::note(
                "the quiet positions are those of the dataset's own walk; whether nothing easier is \
                 in them is judged by the full ladder",
            );
        }
        let bar = Bar::new("searching", "puzzles", None, quiet);
        let outcome = search(self, puzzles, &wanted, &bar, folder.aside());
        drop(bar);
        let (outcome, folder) = results::unless_no_puzzle(folder, outcome)?;
        outcome.write(&folder, &drawing, &Bar::new("drawing", "figures", None, quiet))?;
        folder.finish_as("specimens")?;
        if !quiet {
            results::warn_rejected(outcome.examined(), out);
        }
        if self.json.json {
            let path = out.join("specimens.json");
            let json = fs::read_to_string(&path).map_err(StorageError::read(&path))?;
            return Ok(write!(io::stdout().lock(), "{json}")?);
        }
        Ok(outcome.tell(&mut io::stdout().lock(), self, &wanted)?)
    }
}

enum Outcome {
    List(Found),
    Page(Gallery),
}

fn search(
    specimen: &Specimen,
    puzzles: Option<Puzzles>,
    wanted: &Wanted,
    bar: &Bar,
    rejects: &Path,
) -> Result<Outcome, ReportError> {
    let most = specimen.most as usize;
    let hearing = Hearing { progress: bar, rejects: Some(rejects) };
    let (seed, count) = (specimen.seed.get(), specimen.count);
    Ok(match (puzzles, specimen.gallery) {
        (None, false) => {
            Outcome::List(find_by_making(seed, wanted, most, count, hearing.progress)?)
        }
        (None, true) => Outcome::Page(gallery(&Puzzles::Made { seed, count }, wanted, hearing)?),
        (Some(puzzles), false) => Outcome::List(find(&puzzles, wanted, most, hearing)?),
        (Some(puzzles), true) => Outcome::Page(gallery(&puzzles, wanted, hearing)?),
    })
}

impl Outcome {
    const fn examined(&self) -> &Examined {
        match self {
            Self::List(found) => &found.examined,
            Self::Page(gallery) => &gallery.examined,
        }
    }

    fn write(
        &self,
        folder: &NewFolder,
        drawing: &Drawing,
        progress: &Bar,
    ) -> Result<(), ReportError> {
        match self {
            Self::List(found) => found.write(folder.aside(), drawing, progress),
            Self::Page(gallery) => gallery.write(folder.aside(), drawing, progress),
        }
    }

    fn tell(&self, out: &mut dyn Write, specimen: &Specimen, wanted: &Wanted) -> io::Result<()> {
        let puzzles = counted(self.examined().puzzles, "puzzle", "puzzles");
        match self {
            Self::List(found) if found.specimens.is_empty() => {
                tell_nothing(out, &puzzles, specimen, wanted)
            }
            Self::Page(gallery) if gallery.specimens.is_empty() => {
                tell_nothing(out, &puzzles, specimen, wanted)
            }
            Self::List(found) => tell_list(found, out, &puzzles, specimen),
            Self::Page(gallery) => tell_page(gallery, out, &puzzles, specimen),
        }
    }
}

fn tell_list(
    found: &Found,
    out: &mut dyn Write,
    puzzles: &str,
    specimen: &Specimen,
) -> io::Result<()> {
    match found.specimens.len() {
        1 => writeln!(out, "1 specimen in {puzzles}")?,
        count => writeln!(out, "{count} specimens in {puzzles}, clearest first")?,
    }
    for (number, one) in (1..).zip(&found.specimens) {
        writeln!(out, "\n{number}. {}", one.description())?;
        writeln!(
            out,
            "   {}; inspect --position {}; score {}",
            one.origin,
            u32::from(one.quiet_position) + 1,
            one.score()
        )?;
        writeln!(out, "   {}", one.puzzle)?;
    }
    writeln!(out, "\nFigures: {}", specimen.out.out.join("figures").display())
}

fn tell_page(
    gallery: &Gallery,
    out: &mut dyn Write,
    puzzles: &str,
    specimen: &Specimen,
) -> io::Result<()> {
    let shapes = gallery.specimens.len();
    let page = specimen.out.out.join("gallery.html");
    writeln!(out, "A gallery of {shapes} shapes from {puzzles}: {}", page.display())?;
    let missing: Vec<String> = gallery.missing().iter().map(ToString::to_string).collect();
    if missing.is_empty() {
        return Ok(());
    }
    writeln!(out, "Not seen in them: {}", missing.join(", "))
}

fn tell_nothing(
    out: &mut dyn Write,
    puzzles: &str,
    specimen: &Specimen,
    wanted: &Wanted,
) -> io::Result<()> {
    writeln!(out, "No specimen in {puzzles}. Wanted: {wanted}.")?;
    let advice = if specimen.inputs.is_empty() {
        "a larger --count or another --seed"
    } else {
        "more puzzles"
    };
    let narrow = if *wanted == Wanted::default() { "" } else { ", or wish for less" };
    writeln!(out, "What may help: {advice}{narrow}.")
}
