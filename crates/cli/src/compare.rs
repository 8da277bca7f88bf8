//! `tallyhouse compare`: rulebooks head to head.

use std::io::{self, Write};

use clap::Args;
use tallyhouse_analysis::compare::{CompareSettings, compare};
use tallyhouse_collection::Rejects;
use tallyhouse_figures::Width;
use tallyhouse_report::compared::{comparison_text, write_comparison};
use tallyhouse_report::saving::Saver;
use tallyhouse_storage::NewFolder;

use crate::judge::{load_readers, load_rulebooks};
use crate::messages;
use crate::options::{Json, LevelOption, Out, Pictures, Reading, Replacing};
use crate::progress::Bar;
use crate::{results, usage};

/// Compare rulebooks head to head
///
/// Walks each puzzle one by one under each rulebook and counts the glances of every reader. Each rulebook
/// is held against the first one, puzzle by puzzle: what it costs more or less, on all puzzles and on
/// those that both solve; how far it gets, which puzzles only one of the two solves, and where the other
/// stops in them; and which looks the glances go into.
///
/// DIR gets compare.md, compare.json, glances.csv, reach.csv, looks.csv, stops.csv, the chart as
/// rulebooks.svg, rulebooks.png, rulebooks.pdf and rulebooks.csv, the boards where a rulebook stops in the
/// first puzzle that only the other one solves as stop-N, and, if rows were rejected, rejects.csv.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse compare puzzles.txt --rulebook full-ladder --rulebook short-list -o compared
  tallyhouse compare puzzles.txt --rulebook short-list --rulebook my-rulebook.toml -o mine")]
pub(crate) struct Compare {
    /// Rulebook, built in or a file; given at least twice: the others are held against the first
    #[arg(long = "rulebook", required = true, value_name = "NAME|FILE")]
    rulebooks: Vec<String>,
    /// Reader, built in or a file; may be given several times [default: all that are built in]
    #[arg(long = "reader", value_name = "NAME|FILE")]
    readers: Vec<String>,
    #[command(flatten)]
    out: Out,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    pictures: Pictures,
    #[command(flatten)]
    reading: Reading,
}

impl Compare {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        usage::expect(
            self.rulebooks.len() > 1,
            "found one --rulebook, expected at least two: the others are held against the first",
        )?;
        let settings = CompareSettings {
            rulebooks: load_rulebooks(&self.rulebooks)?,
            readers: load_readers(&self.readers)?,
            level: self.level.get(),
        };
        let sources = self.reading.sources()?;
        let folder = NewFolder::begin(&self.out.out, self.replacing.get())?;
        let mut rejects = Rejects::in_folder(&sources, folder.aside());
        let bar = Bar::new("walking", "puzzles", None, quiet);
        let compared = compare(&settings, sources, &mut rejects, &bar);
        drop(bar);
        let (report, folder) = results::unless_all_rejected(folder, compared)?;
        let list = rejects.finish()?;
        let saver = Saver::below(folder.aside()).printing(self.pictures.print());
        let widths = [Width::Page, Width::Column].map(|usual| self.pictures.width_or(usual));
        write_comparison(&report, saver, self.pictures.theme, widths)?;
        folder.finish_as("comparison")?;
        if let (Some(_), false) = (list, quiet) {
            results::warn_listed(&rejects, report.rows, &self.out.out);
        }
        if self.json.json {
            return messages::print_json(&report);
        }
        let text = comparison_text(&report);
        Ok(write!(io::stdout().lock(), "{text}\nFiles: {}\n", self.out.out.display())?)
    }
}
