//! `tallyhouse timings`: which reader people's times are like.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;
use tallyhouse_analysis::timings::{TimingSettings, TimingsReport, timings};
use tallyhouse_collection::Rejects;
use tallyhouse_storage::{NewFolder, write_file};
use tallyhouse_words::{counted, plural};

use crate::messages;
use crate::options::{Json, LevelOption, OutIfWanted, Replacing, Seed};

/// Fit readers to the times that people took
///
/// TIMES is the form times.csv of a worksheet, filled in: it has a row for each person and item, with the
/// columns person,item,look,seconds,found. Items of one look in one house are used. found is yes if the
/// answer is that of the key, no if the search went to its end and nothing was found, gave-up if it was
/// broken off. Rows given up or not filled in are left out and counted. Rows that can't be used are rejected with their line, and the others go on.
///
/// For each reader that is built in: seconds = pace of the person x (start of a look + weighted cells seen,
/// places gathered and tries), with a mean pace of 1 and no weight below 0. Intervals come from drawing
/// people anew and need 8 of them; they are for these items. Readers are told apart by foretelling the times
/// of people who were left out. A reader who remembers is judged only if looks follow each other in one
/// house.
///
/// DIR gets weights.csv, readers.csv, rejects.csv if rows were rejected, and for each reader all of whose
/// weights can be told a file such as marking-fitted.toml, which yields, judge, compare and order take
/// as --reader.
///
/// Ask people for their consent before you time them, and tell them what for. Persons are numbers: keep the
/// list of who is who to yourself; a file with names is refused.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse timings times.csv --items worksheet/items.csv
  tallyhouse timings times.csv --items worksheet/items.csv -o fitted
  tallyhouse yields puzzles.txt --reader fitted/marking-fitted.toml -o fitted-yields")]
pub(crate) struct Timings {
    /// The times, a CSV file
    #[arg(value_name = "TIMES")]
    times: PathBuf,
    /// The file items.csv of the worksheet that was timed
    #[arg(long, value_name = "FILE")]
    items: PathBuf,
    #[command(flatten)]
    out: OutIfWanted,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    seed: Seed,
    #[command(flatten)]
    json: Json,
}

impl Timings {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let settings = TimingSettings { level: self.level.get(), seed: self.seed.get() };
        let [times, items] = [&self.times, &self.items].map(|path| path.to_string_lossy());
        let folder = self.out.begin(&self.replacing)?;
        let mut rejects = match &folder {
            Some(folder) => Rejects::in_folder(&[], folder.aside()),
            None => Rejects::counted(&[]),
        };
        let fitted = timings(settings, &times, &items, &mut rejects);
        let list = rejects.finish()?;
        let report = match (fitted, folder) {
            (Ok(report), folder) => {
                folder.map_or(Ok(()), |folder| save(&report, folder))?;
                report
            }
            (Err(error), folder) => {
                // The list of rejected rows is all there is then.
                if let (Some(_), Some(folder)) = (list, folder) {
                    folder.finish_failed()?;
                }
                return Err(error.into());
            }
        };
        if !quiet {
            self.warn(&report, &rejects);
        }
        if self.json.json {
            return messages::print_json(&report);
        }
        let mut out = io::stdout().lock();
        write!(out, "{}", report.text())?;
        if let Some(folder) = &self.out.out {
            writeln!(out, "\nFiles: {}", folder.display())?;
        }
        Ok(())
    }

    fn warn(&self, report: &TimingsReport, rejects: &Rejects) {
        if let Some(first) = rejects.first() {
            let list = match &self.out.out {
                Some(folder) => format!("in {}", folder.join(Rejects::FILE_NAME).display()),
                None => "with --out DIR".to_owned(),
            };
            let (rejected, rows) = (report.rejected, counted(report.rows, "row", "rows"));
            let are = plural(rejected, "was", "were");
            messages::warn(&format!(
                "{rejected} of {rows} {are} rejected; first: {first}; all are listed {list}"
            ));
        }
        report.warnings.iter().for_each(|warning| messages::warn(warning));
    }
}

fn save(report: &TimingsReport, folder: NewFolder) -> anyhow::Result<()> {
    for (name, content) in report.files()? {
        write_file(&folder.aside().join(name), |writer| writer.write_all(&content))?;
    }
    Ok(folder.finish_as("timings")?)
}
