//! `tallyhouse collect`: read and check puzzles into a collection folder.

use std::io::{self, Write};

use clap::Args;
use tallyhouse_census::{CollectSettings, Collected, Repeats};
use tallyhouse_words::{count, counted};

use crate::messages;
use crate::options::{Json, Out, Reading, Replacing, choice};
use crate::progress::Bar;

/// Read and check puzzles, and keep them in a collection folder
///
/// Reads lines of one puzzle (81 characters: 1-9 for givens, . or 0 for blanks; what follows is a
/// label), grids of nine lines, and tables; in UTF-8, UTF-16 or Windows-1252, plain, gzip or zstd.
/// A row that is not a puzzle with exactly one solution goes to rejects.csv with the reason, a
/// repeated puzzle to repeats.csv, and reading goes on.
///
/// DIR gets puzzles/ (Parquet) and, last of all, manifest.json. Every command that reads puzzles takes
/// DIR.
///
/// Takes about 75 MB of memory, and 12 MB more for each million different puzzles.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse collect magazine.txt forum.csv.gz -o collection
  tallyhouse collect list.csv --column grid --drop equivalent -o no-repeats")]
pub(crate) struct Collect {
    #[command(flatten)]
    out: Out,
    #[command(flatten)]
    replacing: Replacing,
    /// Which repeated puzzles are dropped; repeats.csv lists them all
    #[arg(long, value_parser = choice::<Repeats>(), default_value_t, value_name = "WHICH")]
    drop: Repeats,
    #[command(flatten)]
    json: Json,
    #[command(flatten)]
    reading: Reading,
}

impl Collect {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let settings = CollectSettings {
            sources: self.reading.sources()?,
            out: self.out.out.clone(),
            replace: self.replacing.get(),
            repeats: self.drop,
            equivalents: true,
            date: jiff::Zoned::now().date().to_string(),
        };
        let bar = Bar::new("reading", "puzzles", None, quiet);
        let collected = tallyhouse_census::collect(&settings, &bar)?;
        drop(bar);
        if self.json.json {
            return messages::print_json(&collected.manifest);
        }
        let mut out = io::stdout().lock();
        write!(out, "{}\nCollection: {}\n", summary(&collected), settings.out.display())?;
        Ok(())
    }
}

fn summary(collected: &Collected) -> String {
    let totals = &collected.manifest.totals;
    let mut text = format!(
        "Read {}: {} accepted, {} rejected.\n",
        counted(totals.read, "row", "rows"),
        count(totals.accepted),
        count(totals.rejected)
    );
    for (reason, rows) in collected.manifest.rejected.iter().filter(|(_, rows)| *rows > 0) {
        text += &format!("  {reason}: {}\n", count(*rows));
    }
    if let Some(first) = &collected.first_reject {
        text += &format!("  the first: {first}; all are listed in rejects.csv\n");
    }
    let equivalent = totals.equivalent.unwrap_or(0);
    text += &format!(
        "Repeats: {} exact, {} equivalent to an earlier puzzle; {} dropped{}.\n",
        count(totals.repeated),
        count(equivalent),
        count(totals.dropped),
        if totals.repeated + equivalent > 0 { "; all are listed in repeats.csv" } else { "" }
    );
    text += &format!("Kept {}", counted(totals.puzzles, "puzzle", "puzzles"));
    if totals.weighted > 0 {
        text += &format!(", {} of them with a weight", count(totals.weighted));
    }
    text + ".\n"
}
