//! `tallyhouse describe`: say what a collection is like.

use std::io::{self, Write};
use std::path::Path;

use clap::Args;
use tallyhouse_analysis::Description;
use tallyhouse_figures::Width;
use tallyhouse_report::charts;
use tallyhouse_report::saving::Saver;
use tallyhouse_storage::write_file;

use crate::messages;
use crate::options::{Json, LevelOption, OutIfWanted, Pictures, Reading, Replacing};
use crate::progress::Bar;

/// Say what a collection is like
///
/// Prints the clue counts beside the published ones of all minimal puzzles, how many puzzles are
/// minimal, the symmetry of the givens, repeats, how many puzzles singles alone solve, and which look
/// the others need last; every share with its interval, and by weight where puzzles carry weights.
///
/// DIR gets description.txt, description.json, and the chart of clue counts as SVG, PNG, PDF
/// and CSV.
///
/// Takes about 40 MB of memory, and 70 MB more for each million puzzles.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse describe puzzles.txt
  tallyhouse describe collection --json
  tallyhouse describe collection -o description")]
pub(crate) struct Describe {
    #[command(flatten)]
    out: OutIfWanted,
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

impl Describe {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let sources = self.reading.sources()?;
        let folder = self.out.begin(&self.replacing)?;
        let bar = Bar::new("describing", "puzzles", None, quiet);
        let description = tallyhouse_analysis::describe(sources, self.level.get(), &bar)?;
        drop(bar);
        if let Some(folder) = folder {
            save(&description, &self.pictures, folder.aside())?;
            folder.finish_as("description")?;
        }
        if self.json.json {
            return messages::print_json(&description);
        }
        write!(io::stdout().lock(), "{}", description.text())?;
        Ok(())
    }
}

fn save(description: &Description, pictures: &Pictures, out: &Path) -> anyhow::Result<()> {
    let json = serde_json::to_string_pretty(description)?;
    for (name, text) in [("description.json", json), ("description.txt", description.text())] {
        write_file(&out.join(name), |writer| writer.write_all(text.as_bytes()))?;
    }
    let chart = charts::clues(description, &description.sources.join(", "));
    let saver = Saver::below(out).printing(pictures.print());
    saver.figure(&chart, "clues", pictures.theme, pictures.width_or(Width::Page))?;
    Ok(())
}
