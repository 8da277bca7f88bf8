//! `tallyhouse study`: from a recipe to a report.

use std::fs;
use std::io::Write;

use anyhow::{Context, bail, ensure};
use indicatif::ProgressBar;
use tallyhouse_census::Progress;
use tallyhouse_report::study::{
    self, BUILT_IN, Origin, Studied, StudyProgress, StudyRecipe, StudySettings,
};

use crate::args::Study;
use crate::{messages, progress};

struct Bars {
    quiet: bool,
}

/// A bar that goes away with its stage.
struct StageBar(ProgressBar);

impl Progress for StageBar {
    fn advance(&self, more: u64) {
        self.0.inc(more);
    }

    fn expect(&self, total: u64) {
        self.0.set_length(total.max(self.0.position()));
    }
}

impl Drop for StageBar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}

impl StudyProgress for Bars {
    fn stage(
        &self,
        verb: &'static str,
        units: &'static str,
        total: Option<u64>,
    ) -> Box<dyn Progress> {
        Box::new(StageBar(progress::units_bar(verb, units, total, self.quiet)))
    }
}

pub(crate) fn run(wanted: &Study, quiet: bool) -> anyhow::Result<()> {
    let settings = settings(wanted)?;
    let bars = Bars { quiet };
    let mut stdout = anstream::stdout().lock();
    if wanted.check {
        let differences = study::check(&settings, &bars)?;
        if differences.is_empty() {
            writeln!(
                stdout,
                "The study in {} gives the same numbers again.",
                wanted.out.display()
            )?;
            return Ok(());
        }
        bail!("the study differs when done again:\n  {}", differences.join("\n  "));
    }
    let studied = study::run(&settings, &bars)?;
    for warning in studied.warnings.iter().filter(|_| !quiet) {
        messages::warn(warning);
    }
    if wanted.json {
        return Ok(writeln!(stdout, "{:#}", json(&settings, &studied)?)?);
    }
    let out = wanted.out.display();
    write!(stdout, "{}\n{}", studied.overview, messages::with_verdicts(&studied.verdicts))?;
    if !studied.kept.is_empty() {
        writeln!(stdout, "\nDone: {}", list(&studied.done))?;
        writeln!(stdout, "Still good: {}", list(&studied.kept))?;
    }
    writeln!(
        stdout,
        "\nFiles in {out}\n  \
         report.html  the report, one file that opens anywhere; report.md is the same as text\n  \
         figures      every chart and diagram as SVG, PNG and CSV, for the page and for a column\n  \
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
            let text = fs::read_to_string(&path)?;
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

fn settings(wanted: &Study) -> anyhow::Result<StudySettings> {
    let Some(path) = &wanted.recipe else {
        let text = BUILT_IN
            .replace("count = 10000", &format!("count = {}", wanted.count.unwrap_or(10_000)))
            .replace("seed = 1", &format!("seed = {}", wanted.seed.unwrap_or(1)));
        let recipe = StudyRecipe::parse("the built-in recipe", &text)?;
        let mut command = "tallyhouse study".to_owned();
        if let Origin::Made { count, seed, .. } = &recipe.collections[0].origin {
            command += &format!(" --count {count} --seed {seed}");
        }
        return Ok(StudySettings {
            recipe,
            recipe_text: text,
            out: wanted.out.clone(),
            replace: wanted.replace,
            command,
        });
    };
    ensure!(
        wanted.count.is_none() && wanted.seed.is_none(),
        "--count and --seed go with the built-in recipe; write them into {}",
        path.display()
    );
    let text =
        fs::read_to_string(path).with_context(|| format!("cannot read {}", path.display()))?;
    let recipe = StudyRecipe::parse(&path.display().to_string(), &text)?.beside(path);
    Ok(StudySettings {
        recipe,
        recipe_text: text,
        out: wanted.out.clone(),
        replace: wanted.replace,
        command: "tallyhouse study recipe.toml --out STUDY".to_owned(),
    })
}
