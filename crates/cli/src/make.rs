//! `tallyhouse make`: generate puzzles.

use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::ops::{Range, RangeInclusive};
use std::path::{Path, PathBuf};

use anyhow::{Context, bail, ensure};
use clap::Args;
use tallyhouse_collection::{
    GivensSymmetry, Likeness, Progress, Recipe, Sampling, SamplingMethod, Wishes, WriteError,
};
use tallyhouse_engine::Look;
use tallyhouse_storage::{Lock, NewFile, StorageError, unfinished};
use tallyhouse_words::read_range;

use crate::options::{COUNT, Seed, choice};
use crate::progress::Bar;
use crate::{messages, usage};

/// Generate puzzles, one per line
///
/// Puzzle number i depends on the options, the seed and i alone, so a longer file begins with the
/// shorter one. Comment lines at the head of the file name the sampling method and its known bias;
/// weighted puzzles are followed by weight=W, puzzles of one solved board by family=N.
///
/// FILE appears when it is whole. The same command with --resume continues a run that was interrupted.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse make --count 100000 --seed 7 -o puzzles.txt
  tallyhouse make --count 500 --seed 7 --method splitting -o weighted.txt
  tallyhouse make --count 500 --seed 7 --like in-print -o like-in-print.txt
  tallyhouse make --count 20 --seed 7 --clues 22..24 --symmetry half-turn -o few-clues.txt
  tallyhouse make --count 20 --seed 7 --finds \"naked 3 open 7\" -o triples.txt")]
pub(crate) struct Make {
    #[arg(long, help = COUNT, long_help = "Number of puzzles to make; with splitting, of families",
          value_name = "N", value_parser = clap::value_parser!(u64).range(Recipe::UNITS))]
    count: u64,
    /// File to write, - for standard output
    #[arg(short, long, value_name = "FILE")]
    out: PathBuf,
    /// Replace what --out names if it exists
    #[arg(long)]
    replace: bool,
    /// Continue what an interrupted run with the same options has left
    #[arg(long)]
    resume: bool,
    /// Number of the first puzzle, or with splitting family: makes a collection piece by piece
    #[arg(long, default_value_t = 0, value_name = "I",
          value_parser = clap::value_parser!(u64).range(..=Recipe::UNITS.end()))]
    from: u64,
    #[arg(long, value_name = "N", help = "Number of tries in vain before a wish is given up",
          long_help = format!("Number of tries in vain before a wish is given up [default: {}; with \
                               controlled-bias {}]", Recipe::TRIES, Recipe::BLIND_TRIES),
          value_parser = clap::value_parser!(u64).range(1..))]
    limit: Option<u64>,
    /// How puzzles are drawn
    #[arg(long, value_parser = choice::<SamplingMethod>(), default_value_t, value_name = "HOW")]
    method: SamplingMethod,
    #[command(flatten)]
    seed: Seed,
    #[command(flatten)]
    making: Making,
}

/// How puzzles are made, besides the method.
#[derive(Debug, Args)]
#[command(next_help_heading = "Making")]
pub(crate) struct Making {
    /// Number of clue sets that splitting carries from level to level, at most [default: 100]
    #[arg(long, value_name = "N", value_parser = populations())]
    population: Option<u32>,
    /// Built-in recipe
    #[arg(long, value_parser = choice::<Likeness>(), value_name = "NAME",
          conflicts_with_all = ["clues", "redundant", "symmetry"])]
    like: Option<Likeness>,
    /// Number of clues, as in 24 or 22..24
    #[arg(long, value_name = "RANGE", value_parser = parse_clues)]
    clues: Option<RangeInclusive<u8>>,
    /// Stop deleting at a number of clues drawn from --clues, so that some clues may not be needed
    #[arg(long, requires = "clues")]
    redundant: bool,
    /// Symmetry of the givens
    #[arg(long, value_parser = choice::<GivensSymmetry>(), value_name = "NAME")]
    symmetry: Option<GivensSymmetry>,
    /// Only puzzles that singles alone don't solve
    #[arg(long)]
    needs_subset: bool,
    /// Only puzzles in which this look finds something on the full ladder, as in "naked 3 open 7";
    /// given several times, each of them must
    #[arg(long, value_name = "LOOK")]
    finds: Vec<Look>,
}

impl Making {
    /// Tests if any of the options is used.
    pub(crate) const fn is_used(&self) -> bool {
        let wishes = self.like.is_some()
            || self.clues.is_some()
            || self.symmetry.is_some()
            || !self.finds.is_empty();
        self.population.is_some() || wishes || self.redundant || self.needs_subset
    }

    /// Returns the recipe.
    pub(crate) fn recipe(&self, method: SamplingMethod, seed: u64) -> anyhow::Result<Recipe> {
        usage::expect(
            self.population.is_none() || method == SamplingMethod::Splitting,
            "--population goes with the method splitting",
        )?;
        let population = self.population.unwrap_or(Sampling::POPULATION);
        let own = || Wishes {
            clues: self.clues.clone(),
            redundant: self.redundant,
            symmetry: self.symmetry,
            ..Wishes::default()
        };
        let wishes = Wishes {
            needs_subset: self.needs_subset,
            finds: self.finds.clone(),
            ..self.like.map_or_else(own, Likeness::wishes)
        };
        Recipe::new(Sampling::of(method, population), wishes, seed).map_err(usage::wrong)
    }
}

fn parse_clues(text: &str) -> Result<RangeInclusive<u8>, String> {
    read_range(text, 81)
}

impl Make {
    fn recipe(&self) -> anyhow::Result<Recipe> {
        let recipe = self.making.recipe(self.method, self.seed.get())?;
        Ok(match self.limit {
            Some(limit) => recipe.with_most_tries(limit),
            None => recipe,
        })
    }

    /// The numbers of what is made.
    fn units(&self) -> Range<u64> {
        self.from..self.from.saturating_add(self.count)
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let recipe = self.recipe()?;
        if self.out.as_os_str() == "-" {
            self.print(&recipe, quiet)
        } else {
            self.save(&recipe, quiet)
        }
    }

    fn print(&self, recipe: &Recipe, quiet: bool) -> anyhow::Result<()> {
        usage::expect(
            !self.resume && !self.replace,
            "--resume and --replace need a file: found --out -, which is standard output",
        )?;
        let mut out = BufWriter::new(io::stdout().lock());
        out.write_all(recipe.head(&self.units()).as_bytes())?;
        // A broken pipe must stay recognisable.
        match fill(recipe, self.from, self.units(), &mut out, quiet) {
            Err(WriteError::Io(error)) => return Err(error.into()),
            Err(WriteError::Make(error)) => {
                bail!("{error}; wish for less, or allow more with --limit")
            }
            other => other?,
        }
        Ok(out.flush()?)
    }

    fn save(&self, recipe: &Recipe, quiet: bool) -> anyhow::Result<()> {
        let out = &self.out;
        ensure!(!out.is_dir(), "{} is a folder: choose another name for the file", out.display());
        ensure!(
            !out.exists() || out.is_file(),
            "{} is no plain file: choose another, or - for standard output",
            out.display()
        );
        let _lock = Lock::of_file(out)?;
        if out.exists() && !self.replace {
            if self.resume && self.is_whole(recipe)? {
                return Ok(());
            }
            bail!(
                "{} exists already: choose another file, or allow it to be replaced with --replace",
                out.display()
            );
        }
        let left = Left::of(recipe, self)?;
        let mut file = NewFile::begin(out)?;
        file.stay();
        let next = left.take_over(recipe, self, &mut file)?;
        if let Err(error) = fill(recipe, next, self.units(), &mut file, quiet) {
            let unfinished = format!("{} is unfinished", out.display());
            let error = match error {
                WriteError::Io(error) => StorageError::write(out)(error).into(),
                // Going on as before would end as before.
                WriteError::Make(error) => bail!(
                    "{unfinished}: {error}; wish for less, or continue it with --resume and a higher \
                     --limit"
                ),
                other => anyhow::Error::from(other),
            };
            return Err(
                error.context(format!("{unfinished}: the same command with --resume continues it"))
            );
        }
        file.finish()?;
        Ok(())
    }

    /// Tests if the file holds all that this command makes.
    fn is_whole(&self, recipe: &Recipe) -> anyhow::Result<bool> {
        let mut file = BufReader::new(File::open(&self.out)?);
        let Some((next, bytes)) = recipe.written(&self.units(), &mut file)? else {
            return Ok(false);
        };
        let mut rest = Vec::new();
        file.seek(SeekFrom::Start(bytes))?;
        file.read_to_end(&mut rest)?;
        let mut expected = Vec::new();
        recipe.write(next..self.units().end.max(next), &mut expected, &|_| ())?;
        Ok(rest == expected)
    }
}

/// What interrupted runs have left of a file.
struct Left {
    /// All files.
    files: Vec<PathBuf>,
    /// The one that is furthest, with the first unit that is not whole and the bytes before it.
    furthest: Option<(PathBuf, u64, u64)>,
}

impl Left {
    /// Finds it, and refuses what the command does not allow for.
    fn of(recipe: &Recipe, make: &Make) -> anyhow::Result<Self> {
        let out = make.out.display();
        let files = unfinished(&make.out)?;
        let (mut furthest, mut others) = (None, false);
        for path in &files {
            let failed = || format!("cannot read {}", path.display());
            let file = File::open(path).with_context(failed)?;
            match recipe.written(&make.units(), &mut BufReader::new(file)).with_context(failed)? {
                Some((next, bytes)) => furthest = furthest.max(Some((next, bytes, path))),
                None => others |= !is_bare(recipe, make, path).with_context(failed)?,
            }
        }
        ensure!(
            make.replace || make.resume || (furthest.is_none() && !others),
            "{out} was begun and is unfinished: continue it with --resume, or begin anew with --replace"
        );
        ensure!(
            furthest.is_some() || !others || !make.resume,
            "{out} was begun with other options: begin anew with --replace instead of --resume"
        );
        let furthest = furthest.filter(|_| make.resume);
        let furthest = furthest.map(|(next, bytes, path)| (path.clone(), next, bytes));
        Ok(Self { files, furthest })
    }

    /// Copies what is whole, or begins anew; returns the first unit that is still to be made.
    fn take_over(
        self,
        recipe: &Recipe,
        make: &Make,
        file: &mut NewFile,
    ) -> Result<u64, StorageError> {
        let mut begin = || -> io::Result<u64> {
            let next = match &self.furthest {
                Some((path, next, bytes)) => {
                    io::copy(&mut File::open(path)?.take(*bytes), file)?;
                    *next
                }
                None => {
                    file.write_all(recipe.head(&make.units()).as_bytes())?;
                    make.from
                }
            };
            file.flush()?;
            self.files.iter().try_for_each(fs::remove_file)?;
            Ok(next)
        };
        begin().map_err(StorageError::write(&make.out))
    }
}

/// Tests if a file holds no more than the beginning of the head: nothing is lost with it.
fn is_bare(recipe: &Recipe, make: &Make, path: &Path) -> io::Result<bool> {
    let head = recipe.head(&make.units());
    let mut begin = Vec::new();
    File::open(path)?.take(head.len() as u64 + 1).read_to_end(&mut begin)?;
    Ok(head.as_bytes().starts_with(&begin))
}

fn fill(
    recipe: &Recipe,
    next: u64,
    units: Range<u64>,
    writer: &mut dyn Write,
    quiet: bool,
) -> Result<(), WriteError> {
    let bar = Bar::new("making", recipe.units(), Some(units.end - units.start), quiet);
    bar.advance(next - units.start);
    let undecided = recipe.write(next..units.end, writer, &|more| bar.advance(more))?;
    if undecided > 0 && !quiet {
        messages::warn(&format!(
            "questions about clues left undecided: {undecided}; the puzzles concerned were drawn \
             again or left out"
        ));
    }
    Ok(())
}

fn populations() -> clap::builder::RangedI64ValueParser<u32> {
    let (low, high) = Sampling::POPULATIONS.into_inner();
    clap::value_parser!(u32).range(i64::from(low)..=i64::from(high))
}
