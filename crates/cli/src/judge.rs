//! `tallyhouse judge` and `tallyhouse coverage`: rulebooks and claims on trial.

use std::io::{self, Write};

use tallyhouse_analysis::{ClaimFile, Coverage, JudgeSettings, Rulebook};

use crate::args::{self, Judge};
use crate::messages;
use crate::progress::{self, ScanBar};

pub(crate) fn run(judge: &Judge, quiet: bool) -> anyhow::Result<()> {
    let settings = JudgeSettings {
        sources: judge.reading.sources()?,
        rulebooks: load_rulebooks(&judge.rulebooks)?,
        claims: judge
            .claims
            .iter()
            .map(|name| ClaimFile::load(name))
            .collect::<Result<Vec<_>, _>>()?,
        weights: judge.weights.glance_weights()?,
        out: judge.out.clone(),
    };
    let bar = progress::bar("judging", None, quiet);
    let result = tallyhouse_analysis::judge(&settings, &ScanBar(bar.clone()));
    bar.finish_and_clear();
    let report = result?;
    if let (Some(path), Some(first), false) = (&report.rejects, &report.first_reject, quiet) {
        messages::warn(&format!(
            "rows were rejected; first: {first}; all are listed in {}",
            path.display()
        ));
    }
    let mut out = anstream::stdout().lock();
    if judge.json {
        let verdicts = std::fs::read_to_string(settings.out.join("verdicts.json"))?;
        write!(out, "{verdicts}")?;
    } else {
        let report = messages::with_verdicts(&report.to_string());
        write!(out, "{report}\nFiles: {}\n", settings.out.display())?;
    }
    Ok(())
}

fn load_rulebooks(names: &[String]) -> anyhow::Result<Vec<Rulebook>> {
    Ok(names.iter().map(|name| Rulebook::load(name)).collect::<Result<Vec<_>, _>>()?)
}

pub(crate) fn run_coverage(coverage: &args::Coverage) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    let rulebooks = load_rulebooks(&coverage.rulebooks)?;
    if coverage.json {
        let all: Vec<serde_json::Value> = rulebooks
            .iter()
            .map(|book| {
                let coverage = serde_json::to_value(Coverage::of(book.order()))?;
                Ok(serde_json::json!({ "rulebook": book.name(), "coverage": coverage }))
            })
            .collect::<Result<_, serde_json::Error>>()?;
        writeln!(out, "{}", serde_json::to_string_pretty(&all)?)?;
        return Ok(());
    }
    for (number, book) in rulebooks.iter().enumerate() {
        let gap = if number > 0 { "\n" } else { "" };
        write!(out, "{gap}{} ({})\n{}", book.title(), book.source(), Coverage::of(book.order()))?;
    }
    Ok(())
}
