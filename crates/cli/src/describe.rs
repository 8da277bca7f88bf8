//! `tallyhouse describe`: say what a collection is like.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use anyhow::Context;
use tallyhouse_analysis::{Description, MINIMAL_PUZZLES};
use tallyhouse_census::write_file;
use tallyhouse_figures::{DistributionChart, Heading, Reference};

use crate::args::Describe;
use crate::chart;
use crate::progress::{self, ScanBar};
use crate::summary::grouped;

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
        chart::save(&clue_chart(&description), out, "clues")?;
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

/// Clue counts beside the published distribution of all minimal puzzles.
pub(crate) fn clue_chart(description: &Description) -> DistributionChart {
    let n = grouped(description.puzzles);
    let weighted = description.weighted > 0;
    // Shares are all that is drawn, so any unit of weight will do that fits.
    let most = description.clues.iter().map(|row| row.weight).max().unwrap_or(0);
    let unit = if weighted { most.div_ceil(1_000_000_000_000).max(1) } else { 1_000_000 };
    let observed = description.clues.iter().map(|row| {
        let count = u64::try_from(row.weight / unit).unwrap_or(u64::MAX);
        (i64::from(row.clues), count)
    });
    let shares = MINIMAL_PUZZLES.percent.iter();
    let published = Reference {
        label: "all minimal puzzles (Berthier 2009)".to_owned(),
        shares: shares.map(|&(clues, percent)| (i64::from(clues), percent / 100.0)).collect(),
    };
    let how = if weighted { "shares by weight" } else { "share of puzzles" };
    DistributionChart {
        heading: Heading {
            title: "How many clues the puzzles have".to_owned(),
            subtitle: vec![format!("{n} puzzles of {}; {how}", description.sources.join(", "))],
            notes: Vec::new(),
            alt: format!(
                "Bars: the share of {n} puzzles by number of clues. Line: the published \
                 distribution of all minimal puzzles."
            ),
        },
        axis_title: "clues".to_owned(),
        share_title: how.to_owned(),
        observed_label: "this collection".to_owned(),
        observed: observed.collect(),
        references: vec![published],
    }
}
