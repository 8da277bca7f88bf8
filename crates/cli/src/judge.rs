//! `tallyhouse judge`: rulebooks and claims on trial.

use std::fs;
use std::io::Write;

use clap::Args;
use tallyhouse_analysis::{ClaimFile, JudgeReport, JudgeSettings, ReaderFile, Rulebook, TrialWalk};
use tallyhouse_collection::Rejects;
use tallyhouse_storage::{NewFolder, StorageError};

use crate::messages::{self, Rejected};
use crate::options::{Json, LevelOption, Out, Reading, Replacing, choice};
use crate::progress::Bar;
use crate::{results, usage};

/// Put rulebooks and claims on trial
///
/// Walks each puzzle under the full ladder and under each rulebook, and judges each claim: supported,
/// refuted or undecided, with the estimate, its interval and what it is a share of; certain, where it
/// follows from the definitions; or, for a claim about prices, depends: some readers say yes and some
/// no. Such a claim is asked of every reader, in all houses and where the look is due. Each verdict names
/// its population and speaks of nothing else.
///
/// Rulebooks, claims and readers are TOML files; built in are the rulebooks full-ladder, naked-only,
/// short-list and up-to-triples, the claims common-claims, and the readers marking, sharing,
/// remembering and unmarked.
///
/// DIR gets NAME/missed.csv for each rulebook, missed.csv of the first, left-out.csv with --shapes,
/// verdicts.csv, verdicts.json, juries.csv, counterexamples.csv and, last of all, manifest.json.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse judge puzzles.txt --rulebook short-list --claims common-claims -o trial
  tallyhouse judge puzzles.txt --shapes -o what-shapes-matter-for
  tallyhouse judge collection --rulebook my-rulebook.toml --rulebook full-ladder -o my-trial")]
pub(crate) struct Judge {
    /// Rulebook, built in or a file; may be given several times
    #[arg(long = "rulebook", value_name = "NAME|FILE",
          required_unless_present_any = ["claims", "shapes"])]
    rulebooks: Vec<String>,
    /// Claims, built in or a file; may be given several times
    #[arg(long, value_name = "NAME|FILE")]
    claims: Vec<String>,
    /// Leave each shape out of the full ladder's walk in turn: in how many puzzles it reaches less then
    #[arg(long)]
    shapes: bool,
    #[command(flatten)]
    out: Out,
    #[command(flatten)]
    replacing: Replacing,
    #[command(flatten)]
    level: LevelOption,
    #[command(flatten)]
    json: Json,
    /// Reader that claims about prices ask, built in or a file; may be given several times [default: all
    /// that are built in]
    #[arg(long = "reader", value_name = "NAME|FILE")]
    readers: Vec<String>,
    /// How the puzzles are walked
    #[arg(long, value_parser = choice::<TrialWalk>(), default_value_t, value_name = "HOW")]
    walk: TrialWalk,
    #[command(flatten)]
    reading: Reading,
}

impl Judge {
    fn settings(&self, folder: &NewFolder) -> anyhow::Result<JudgeSettings> {
        let claims = self.claims.iter().map(|name| ClaimFile::load(name));
        Ok(JudgeSettings {
            sources: self.reading.sources()?,
            readers: load_readers(&self.readers)?,
            walk: self.walk,
            level: self.level.get(),
            shapes: self.shapes,
            rulebooks: load_rulebooks(&self.rulebooks)?,
            claims: claims.collect::<Result<_, _>>()?,
            out: folder.aside().to_owned(),
        })
    }

    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        usage::expect(
            !self.shapes || self.walk == TrialWalk::Together,
            "--shapes leaves shapes out of the walk together: expected no other --walk",
        )?;
        let folder = NewFolder::begin(&self.out.out, self.replacing.get())?;
        let settings = self.settings(&folder)?;
        let bar = Bar::new("judging", "puzzles", None, quiet);
        let judged = tallyhouse_analysis::judge(&settings, &bar);
        drop(bar);
        let (report, folder) = results::unless_all_rejected(folder, judged)?;
        folder.finish_with(|path, files| report.write_manifest(path, files))?;
        warn_rejected(&report, &self.out, quiet);
        let mut out = anstream::stdout().lock();
        if self.json.json {
            let path = self.out.out.join("verdicts.json");
            let verdicts = fs::read_to_string(&path).map_err(StorageError::read(&path))?;
            write!(out, "{verdicts}")?;
        } else {
            let report = messages::with_verdicts(&report.to_string());
            write!(out, "{report}\nFiles: {}\n", self.out.out.display())?;
        }
        Ok(())
    }
}

/// Says which rows of a trial were rejected, if any were.
pub(crate) fn warn_rejected(report: &JudgeReport, out: &Out, quiet: bool) {
    if report.rejects.is_none() || quiet {
        return;
    }
    messages::warn_rejected(&Rejected {
        rows: report.totals.rows - report.totals.puzzles,
        of: report.totals.rows,
        reasons: None,
        first: report.first_reject.as_deref(),
        list: &out.out.join(Rejects::FILE_NAME),
    });
}

pub(crate) fn load_rulebooks(names: &[String]) -> anyhow::Result<Vec<Rulebook>> {
    Ok(names.iter().map(|name| Rulebook::load(name)).collect::<Result<_, _>>()?)
}

/// Loads readers; all that are built in if none is named.
pub(crate) fn load_readers(names: &[String]) -> anyhow::Result<Vec<ReaderFile>> {
    let names: Vec<&str> = match names {
        [] => ReaderFile::built_in().collect(),
        names => names.iter().map(String::as_str).collect(),
    };
    Ok(names.into_iter().map(ReaderFile::load).collect::<Result<_, _>>()?)
}
