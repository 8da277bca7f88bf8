//! `tallyhouse worksheet`: sheets to practise a look on, with a key.

use std::io::{self, Write as _};

use clap::Args;
use tallyhouse_analysis::{ReaderFile, Rulebook};
use tallyhouse_engine::{Look, Shape};
use tallyhouse_figures::Paper;
use tallyhouse_report::saving::Saver;
use tallyhouse_report::specimen::Hearing;
use tallyhouse_report::worksheet::{ItemKind, Practice, Wish, WorksheetSettings, worksheet};
use tallyhouse_storage::NewFolder;
use tallyhouse_words::{count, counted};

use crate::options::{Json, Out, Reading, Replacing, Seed, choice};
use crate::progress::Bar;
use crate::{messages, results, usage};

/// Make sheets to practise a look on, with a key
///
/// Draws puzzles from FILE by the seed. Each can be solved to its end by the rulebook, and not if what
/// is practised is left out, at every open count and on both sides, nor by the looks before it alone.
/// With --kind house, each item is one
/// house at a quiet position, which holds one split and no other. No puzzle comes twice, not even
/// mirrored, turned or relabelled. If too few fit, nothing is written and the exit code is 1.
///
/// Items go from easy to hard by a score: glances + open cells of the house + other subsets of the
/// position (none for a house that stands alone). Glances are those of --reader, up to the find: in the
/// house alone, or on a board in rows, columns and boxes, each from 1 to 9, at the first quiet position
/// where nothing easier helps and the look does.
///
/// DIR gets worksheet.pdf (the items, a form for times, and the key on pages of its own), worksheet.md,
/// items.csv, times.csv (the form, for timings) and, if rows were rejected, rejects.csv. The key tells
/// both sides, what goes, and the digits placed next; quiet positions are numbered as inspect and
/// explain do.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse worksheet puzzles.txt --look 'naked 2' --count 8 -o pairs
  tallyhouse worksheet puzzles.txt --look 'hidden 2' --kind house --paper letter -o houses
  tallyhouse worksheet puzzles.txt --rulebook up-to-triples --seed 7 -o all-kinds")]
pub(crate) struct Worksheet {
    #[command(flatten)]
    practised: Practised,
    /// What each item shows
    #[arg(long, value_parser = choice::<ItemKind>(), default_value_t, value_name = "KIND")]
    kind: ItemKind,
    /// Number of items
    #[arg(long, default_value_t = 12, value_name = "N",
          value_parser = clap::value_parser!(u64).range(WorksheetSettings::ITEMS))]
    count: u64,
    #[command(flatten)]
    seed: Seed,
    /// Reader whose glances the score counts, built in or a file
    #[arg(long, default_value = "marking", value_name = "NAME|FILE")]
    reader: String,
    /// Paper of the pages
    #[arg(long, value_parser = choice::<Paper>(), default_value_t, value_name = "PAPER")]
    paper: Paper,
    #[command(flatten)]
    out: Out,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    reading: Reading,
}

/// What is practised.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
struct Practised {
    /// Look to practise, as in 'hidden 2' or 'hidden 2 open 7..9'
    #[arg(long, value_name = "LOOK", conflicts_with = "shape")]
    look: Option<Look>,
    /// Shape to practise, as in '8 open: naked 5 | hidden 3'
    #[arg(long, value_name = "SHAPE")]
    shape: Option<Shape>,
    /// Rulebook that solves the puzzles, built in or a file; alone, whatever it looks for is practised
    /// [default: the full ladder up to the look that finds what is practised]
    #[arg(long, value_name = "NAME|FILE")]
    rulebook: Option<String>,
}

impl Practised {
    fn wish(&self) -> anyhow::Result<Wish> {
        let rulebook = self.rulebook.as_deref().map(Rulebook::load).transpose()?;
        let practice = match (self.look, self.shape) {
            (Some(look), _) => Practice::Look(look),
            (None, Some(shape)) => Practice::Shape(shape),
            (None, None) => Practice::Rulebook,
        };
        Wish::new(practice, rulebook.as_ref()).map_err(usage::wrong)
    }
}

impl Worksheet {
    fn settings(&self) -> anyhow::Result<WorksheetSettings> {
        Ok(WorksheetSettings {
            wish: self.practised.wish()?,
            kind: self.kind,
            count: self.count as usize,
            seed: self.seed.get(),
            reader: ReaderFile::load(&self.reader)?,
            sources: self.reading.sources()?,
        })
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let (settings, out) = (self.settings()?, &self.out.out);
        let folder = NewFolder::begin(out, self.replacing.get())?;
        let bar = Bar::new("searching", "puzzles", None, quiet);
        let hearing = Hearing { progress: &bar, rejects: Some(folder.aside()) };
        let found = worksheet(settings, &hearing);
        drop(bar);
        let (sheet, folder) = results::unless_no_puzzle(folder, found)?;
        let saver = Saver::below(folder.aside());
        for (name, bytes) in sheet.files(self.paper)? {
            saver.file(name, &bytes)?;
        }
        folder.finish_as("worksheet")?;
        if !quiet {
            results::warn_rejected(&sheet.examined, out);
        }
        let items = &sheet.items;
        if self.json.json {
            return messages::print_json(&sheet.records().collect::<Vec<_>>());
        }
        let scores = [items.first(), items.last()].into_iter().flatten();
        let scores: Vec<String> = scores.map(|item| item.score.words()).collect();
        let mut out = io::stdout().lock();
        writeln!(out, "{}", sheet.title())?;
        writeln!(
            out,
            "{}, easy to hard: scores {}",
            counted(items.len() as u64, "item", "items"),
            scores.join(" to ")
        )?;
        writeln!(
            out,
            "{} of {} fit",
            count(sheet.fitting),
            counted(sheet.examined.puzzles, "puzzle", "puzzles")
        )?;
        writeln!(out, "Files: {}", self.out.out.display())?;
        Ok(())
    }
}
