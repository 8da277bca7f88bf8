//! `tallyhouse study`: from a recipe to a report.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;
use tallyhouse_collection::{Progress, Recipe};
use tallyhouse_report::study::{
    self, BUILT_IN, Paper, Studied, StudyProgress, StudyRecipe, StudySettings,
};

use crate::options::{COUNT, Json, LevelOption, Seed, choice};
use crate::progress::Bar;
use crate::{messages, usage};

/// How many puzzles the built-in recipe makes unless another number is asked for.
const PUZZLES: u64 = 10_000;

/// Turn a recipe into a report
///
/// A recipe is a TOML file: collections to read or to make, how they are walked, rulebooks and claims
/// to put on trial, looks to compare, a search for rulebooks, charts and specimens. Without RECIPE the
/// built-in one is used: 10,000 minimal puzzles, the short list and the common claims.
///
/// DIR gets report.html (one file, works offline), report.md, figures/, data/ and recipe.toml. A study
/// that is run again in its folder does only what has changed; files of yours that lie there stop it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse study
  tallyhouse study --count 100000 --seed 7 -o larger
  tallyhouse study --count 1000 --brief --paper letter -o handout
  tallyhouse study my-recipe.toml -o my-study
  tallyhouse study my-recipe.toml -o my-study --check")]
pub(crate) struct Study {
    /// The recipe [default: the built-in one]
    #[arg(value_name = "RECIPE")]
    recipe: Option<PathBuf>,
    /// Folder to write; it must be new or empty, or hold the same study
    #[arg(short, long, default_value = "tallyhouse-study", value_name = "DIR")]
    out: PathBuf,
    #[arg(long, help = COUNT, conflicts_with = "recipe",
          long_help = "Number of puzzles that the built-in recipe makes [default: 10000]",
          value_name = "N", value_parser = clap::value_parser!(u64).range(Recipe::UNITS))]
    count: Option<u64>,
    #[command(flatten)]
    seed: Seed,
    #[command(flatten)]
    level: LevelOption,
    /// Also write brief.html and brief.md: what the report says first, on one page
    #[arg(long)]
    brief: bool,
    /// What pages are printed on
    #[arg(long, value_parser = choice::<Paper>(), default_value_t, value_name = "PAPER")]
    paper: Paper,
    /// Replace another study in the folder
    #[arg(long)]
    replace: bool,
    /// Do the study again elsewhere, and fail if any number or figure differs
    #[arg(long, conflicts_with = "replace")]
    check: bool,
    #[command(flatten)]
    json: Json,
}

struct Bars {
    quiet: bool,
}

impl StudyProgress for Bars {
    fn stage(
        &self,
        verb: &'static str,
        units: &'static str,
        total: Option<u64>,
    ) -> Box<dyn Progress> {
        Box::new(Bar::new(verb, units, total, self.quiet))
    }
}

impl Study {
    pub(crate) fn run(&self, quiet: bool) -> anyhow::Result<()> {
        let settings = self.settings()?;
        let bars = Bars { quiet };
        if self.check {
            return check(&settings, &bars);
        }
        let studied = study::run(&settings, &bars)?;
        for warning in studied.warnings.iter().filter(|_| !quiet) {
            messages::warn(warning);
        }
        if self.json.json {
            return messages::print_json(&json(&settings, &studied)?);
        }
        tell(&settings, &studied)
    }

    fn settings(&self) -> anyhow::Result<StudySettings> {
        let (recipe, recipe_text, mut command) = match &self.recipe {
            Some(path) => self.read(path)?,
            None => self.built_in()?,
        };
        if self.paper != Paper::default() {
            command += &format!(" --paper {}", self.paper);
        }
        Ok(StudySettings {
            recipe,
            recipe_text,
            recipe_path: self.recipe.clone(),
            out: self.out.clone(),
            replace: self.replace,
            command,
            brief: self.brief,
            paper: self.paper,
        })
    }

    /// Reads a recipe; returns it with its text and the command that repeats the study.
    fn read(&self, path: &Path) -> anyhow::Result<(StudyRecipe, String, String)> {
        usage::expect(
            self.seed.seed.is_none() && self.level.level.is_none(),
            format!(
                "--seed and --level go with the built-in recipe; write them into {}",
                path.display()
            ),
        )?;
        let text =
            fs::read_to_string(path).with_context(|| format!("cannot read {}", path.display()))?;
        let recipe = StudyRecipe::parse(&path.display().to_string(), &text)?.beside(path);
        Ok((recipe, text, "tallyhouse study recipe.toml --out STUDY".to_owned()))
    }

    fn built_in(&self) -> anyhow::Result<(StudyRecipe, String, String)> {
        let (count, seed) = (self.count.unwrap_or(PUZZLES), self.seed.get());
        let mut text = BUILT_IN
            .replace("count = 10000", &format!("count = {count}"))
            .replace("seed = 1", &format!("seed = {seed}"));
        let mut command = format!("tallyhouse study --count {count} --seed {seed}");
        if let Some(level) = self.level.level {
            let percent = f64::from(level);
            text = format!("level = {percent:?}\n{text}");
            command += &format!(" --level {percent}");
        }
        let recipe = StudyRecipe::parse("the built-in recipe", &text)?;
        Ok((recipe, text, command))
    }
}

fn check(settings: &StudySettings, bars: &Bars) -> anyhow::Result<()> {
    let differences = study::check(settings, bars)?;
    if !differences.is_empty() {
        bail!("the study differs when done again:\n  {}", differences.join("\n  "));
    }
    let out = settings.out.display();
    writeln!(anstream::stdout(), "The study in {out} gives the same numbers again.")?;
    Ok(())
}

fn tell(settings: &StudySettings, studied: &Studied) -> anyhow::Result<()> {
    let mut stdout = anstream::stdout().lock();
    let out = settings.out.display();
    for sentence in &studied.told.story {
        writeln!(stdout, "{sentence}")?;
    }
    for (title, verdicts) in &studied.told.verdicts {
        let lines = verdicts.iter().map(|verdict| {
            let word = verdict.verdict.word().to_uppercase();
            format!("{word:<16}{}\n{:<16}{}\n", verdict.statement, "", verdict.evidence)
        });
        let lines: String = lines.collect();
        write!(stdout, "\n{title}\n\n{}", messages::with_verdicts(&lines))?;
    }
    if !studied.kept.is_empty() {
        writeln!(stdout, "\nDone: {}", list(&studied.done))?;
        writeln!(stdout, "Still good: {}", list(&studied.kept))?;
    }
    let brief = if settings.brief {
        "brief.html   what it says first, on one page; brief.md is the same as text\n  "
    } else {
        ""
    };
    writeln!(
        stdout,
        "\nFiles in {out}\n  \
         report.html  the report, one file that opens anywhere; report.md is the same as text\n  \
         {brief}figures      every chart and diagram as SVG, PNG, PDF and CSV, for the page and for a column\n  \
         data         the tables behind the report\n  \
         recipe.toml  what was asked; change it and run it again\n  \
         work         puzzles, datasets and stages; the report does not need them"
    )?;
    Ok(())
}

/// What a study did and where it is, with the verdicts of each collection: the contract of `--json`.
fn json(settings: &StudySettings, studied: &Studied) -> anyhow::Result<serde_json::Value> {
    let out = &settings.out;
    let mut verdicts = serde_json::Map::new();
    for collection in &settings.recipe.collections {
        let path = out.join(format!("data/trial-{}/verdicts.json", collection.name));
        if path.exists() {
            let text = fs::read_to_string(&path)
                .with_context(|| format!("cannot read {}", path.display()))?;
            verdicts.insert(collection.name.clone(), serde_json::from_str(&text)?);
        }
    }
    Ok(serde_json::json!({
        "study": settings.recipe.name,
        "folder": out,
        "report": out.join("report.html"),
        "done": studied.done,
        "kept": studied.kept,
        "warnings": studied.warnings,
        "verdicts": verdicts,
    }))
}

fn list(stages: &[String]) -> String {
    if stages.is_empty() {
        return "nothing".to_owned();
    }
    let short: Vec<&str> = stages.iter().map(|s| s.strip_prefix("work/").unwrap_or(s)).collect();
    short.join(", ")
}
