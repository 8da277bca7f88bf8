//! `tallyhouse collect`: read and check puzzles into a collection folder.

use std::io::{self, Write};

use tallyhouse_census::{CollectSettings, Collected};

use crate::args::Collect;
use crate::progress::{self, ScanBar};
use tallyhouse_report::numbers::grouped;

pub(crate) fn run(collect: &Collect, quiet: bool) -> anyhow::Result<()> {
    let settings = CollectSettings {
        sources: collect.reading.sources()?,
        out: collect.out.clone(),
        repeats: collect.repeats(),
        equivalents: true,
        date: jiff::Zoned::now().date().to_string(),
    };
    let bar = progress::bar("reading", None, quiet);
    let result = tallyhouse_census::collect(&settings, &ScanBar(bar.clone()));
    bar.finish_and_clear();
    let collected = result?;
    let mut out = io::stdout().lock();
    if collect.json {
        serde_json::to_writer_pretty(&mut out, &collected.manifest)?;
        writeln!(out)?;
        return Ok(());
    }
    write!(out, "{}\nCollection: {}\n", summary(&collected), settings.out.display())?;
    Ok(())
}

fn summary(collected: &Collected) -> String {
    let totals = &collected.manifest.totals;
    let mut text = format!(
        "Read {} rows: {} accepted, {} rejected.\n",
        grouped(totals.read),
        grouped(totals.accepted),
        grouped(totals.rejected)
    );
    for (reason, rows) in collected.manifest.rejected.iter().filter(|(_, rows)| *rows > 0) {
        text += &format!("  {reason}: {}\n", grouped(*rows));
    }
    if let Some(first) = &collected.first_reject {
        text += &format!("  first: {first}; all are in rejects.csv\n");
    }
    let equivalent = totals.equivalent.unwrap_or(0);
    text += &format!(
        "Repeats: {} exact, {} equivalent to an earlier puzzle; {} left out{}.\n",
        grouped(totals.repeated),
        grouped(equivalent),
        grouped(totals.dropped),
        if totals.repeated + equivalent > 0 { "; all are in repeats.csv" } else { "" }
    );
    text += &format!("Kept {} puzzles", grouped(totals.puzzles));
    if totals.weighted > 0 {
        text += &format!(", {} of them with a weight", grouped(totals.weighted));
    }
    text + ".\n"
}
