//! `tallyhouse yields`: what looks yield, and what a find costs.

use std::io::{self, Write};
use std::path::Path;

use clap::Args;
use tallyhouse_analysis::Rulebook;
use tallyhouse_analysis::yields::{Frame, Yield, YieldHead, YieldReport, YieldSettings, yields};
use tallyhouse_collection::Rejects;
use tallyhouse_stats::Limits;
use tallyhouse_storage::{NewFolder, write_file};
use tallyhouse_words::{counted, rounded};

use crate::judge::load_readers;
use crate::messages;
use crate::options::{Json, LevelOption, Out, Reading, Replacing};
use crate::progress::Bar;
use crate::results;

/// Measure what looks yield and what a find costs
///
/// Makes every look for subsets in every house at each quiet position, where something is found and
/// where not. A look's yield is the share of times that it finds something; its price is the glances
/// spent on it, in vain or not, for each find. Readers are models of the person who searches; built in
/// are marking, sharing, remembering and unmarked.
///
/// DIR gets yields.csv, yields-moving.csv (the same for the positions where the walk goes on),
/// progress.csv (which finds bring a single, and when to stop looking) and, if rows were rejected,
/// rejects.csv.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse yields puzzles.txt -o yields
  tallyhouse yields puzzles.txt --reader marking --rulebook short-list -o short-list-yields")]
pub(crate) struct Yields {
    /// Rulebook whose looks are asked about, built in or a file [default: every look]
    #[arg(long, value_name = "NAME|FILE")]
    rulebook: Option<String>,
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
    reading: Reading,
}

impl Yields {
    fn settings(&self) -> anyhow::Result<YieldSettings> {
        let readers = load_readers(&self.readers)?;
        let rulebook = self.rulebook.as_deref().map(Rulebook::load).transpose()?;
        let looks = rulebook.map(|rulebook| rulebook.order().clone());
        Ok(YieldSettings { readers, looks, level: self.level.get() })
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let (settings, sources) = (self.settings()?, self.reading.sources()?);
        let folder = NewFolder::begin(&self.out.out, self.replacing.get())?;
        let names = sources.iter().map(|source| source.name().to_owned()).collect();
        let mut rejects = Rejects::in_folder(&sources, folder.aside());
        let bar = Bar::new("looking", "puzzles", None, quiet);
        let counted = yields(&settings, sources, &mut rejects, &bar);
        drop(bar);
        let (report, folder) = results::unless_all_rejected(folder, counted)?;
        let list = rejects.finish()?;
        save(&report, folder.aside())?;
        let head = YieldHead::of(&settings, names, &report);
        folder.finish_with(|path, files| head.write(path, files))?;
        if let (Some(_), false) = (list, quiet) {
            results::warn_listed(&rejects, report.rows, &self.out.out);
        }
        if self.json.json {
            return messages::print_json(&report.yields);
        }
        let mut out = io::stdout().lock();
        write!(out, "{}\n{}", table(&settings, &report), when_to_stop(&report))?;
        writeln!(out, "\nFiles: {}", self.out.out.display())?;
        Ok(())
    }
}

fn save(report: &YieldReport, out: &Path) -> anyhow::Result<()> {
    for (name, csv) in report.files()? {
        write_file(&out.join(name), |writer| writer.write_all(&csv))?;
    }
    Ok(())
}

/// The prices of all readers beside each other, over all houses.
fn table(settings: &YieldSettings, report: &YieldReport) -> String {
    let every: Vec<&Yield> = report
        .yields
        .iter()
        .filter(|row| row.frame == Frame::Every && row.house_kind == "all")
        .collect();
    let readers: Vec<&str> = settings
        .readers
        .iter()
        .filter(|reader| Frame::Every.allows(reader))
        .map(|reader| reader.name.as_str())
        .collect();
    let mut text = format!(
        "What a find costs, in glances, over all houses at {} of {}\n\n  {:>4}  {:<9} {:>18}",
        counted(report.positions, "quiet position", "quiet positions"),
        counted(report.puzzles, "puzzle", "puzzles"),
        "open",
        "look",
        "finds in 100 looks",
    );
    readers.iter().for_each(|reader| text += &format!(" {reader:>12}"));
    text.push('\n');
    let mut first: Vec<&&Yield> =
        every.iter().filter(|row| Some(&row.reader.as_str()) == readers.first()).collect();
    first.sort_by_key(|row| row.open);
    for row in first {
        let of_look = |reader: &&str| {
            every.iter().find(|other| {
                (other.reader.as_str(), other.look, other.open) == (*reader, row.look, row.open)
            })
        };
        let share =
            row.share.value.map_or_else(|| "–".to_owned(), |value| rounded(100.0 * value, 3));
        text += &format!("  {:>4}  {:<9} {share:>18}", row.open, row.look.to_string());
        for reader in &readers {
            let price = of_look(reader).and_then(|row| row.price.value);
            let price = price.map_or_else(|| "–".to_owned(), |value| rounded(value, 3));
            text += &format!(" {price:>12}");
        }
        text.push('\n');
    }
    text
}

/// What follows finds and failures where looks are due, over all open counts.
fn when_to_stop(report: &YieldReport) -> String {
    let share = |limits: Limits| {
        limits.value.map_or_else(|| "–".to_owned(), |value| rounded(100.0 * value, 3))
    };
    let mut text = "When to stop: what follows where looks are due, in every 100\n\n".to_owned();
    let heads = ["look", "finds then a single", "failures then a later find"];
    text += &format!("  {:<9} {:>20} {:>27}\n", heads[0], heads[1], heads[2]);
    for row in report.when_to_stop() {
        let look = row.look.to_string();
        text += &format!("  {look:<9} {:>20} {:>27}\n", share(row.share), share(row.later));
    }
    text
}
