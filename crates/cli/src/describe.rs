//! `tallyhouse describe`: say what a collection is like.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use anyhow::Context;
use tallyhouse_census::write_file;
use tallyhouse_figures::{Theme, Width};
use tallyhouse_report::charts;

use crate::args::Describe;
use crate::progress::{self, ScanBar};

pub(crate) fn run(describe: &Describe, quiet: bool) -> anyhow::Result<()> {
    let sources = describe.reading.sources()?;
    if let Some(out) = &describe.out {
        fs::create_dir(out).with_context(|| format!("cannot make {}", out.display()))?;
    }
    let bar = progress::bar("describing", None, quiet);
    let result = tallyhouse_analysis::describe(sources, &ScanBar(bar.clone()));
    bar.finish_and_clear();
    let description = result?;
    let json = serde_json::to_string_pretty(&description)?;
    let text = description.text();
    if let Some(out) = &describe.out {
        save(out, "description.json", &json)?;
        save(out, "description.txt", &text)?;
        let chart = charts::clues(&description, &description.sources.join(", "));
        charts::save(&chart, out, "clues", Theme::Light, Width::Page)?;
    }
    let mut stdout = io::stdout().lock();
    if describe.json {
        writeln!(stdout, "{json}")?
    } else {
        write!(stdout, "{text}")?
    }
    Ok(())
}

fn save(out: &Path, name: &str, text: &str) -> anyhow::Result<()> {
    write_file(&out.join(name), |writer| writer.write_all(text.as_bytes()))?;
    Ok(())
}
