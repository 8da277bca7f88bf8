//! `tallyhouse census`: scan puzzles into a dataset.

use std::io::{self, Write};
use std::path::Path;

use anyhow::ensure;
use tallyhouse_census::{Settings, Summary, Tables};
use tallyhouse_collection::{Reason, Source};

use crate::args::{Census, Merge, TablesChoice};
use crate::progress::{self, ScanBar};
use crate::summary::{grouped, overview};

pub(crate) fn run(census: &Census, quiet: bool) -> anyhow::Result<()> {
    let sources: Vec<Source> =
        census.files.iter().map(|file| Source::from_argument(file)).collect();
    ensure!(
        sources.iter().filter(|source| source.is_stdin()).count() <= 1,
        "standard input (-) can be read only once"
    );
    let settings = Settings {
        sources,
        out: census.out.clone(),
        walk: census.walk.options(),
        tables: match census.tables {
            TablesChoice::All => Tables::All,
            TablesChoice::None => Tables::None,
        },
        keep_states: census.keep_states,
        part_size: census.part_size,
        seed: None,
        shard: census.shard,
        resume: census.resume,
    };
    let summary = scan(&settings, quiet)?;
    let mut out = io::stdout().lock();
    write!(out, "{}", overview(&summary))?;
    writeln!(out, "\nDataset: {}", settings.out.display())?;
    Ok(())
}

/// Joins the slices of a collection.
pub(crate) fn run_merge(merge: &Merge) -> anyhow::Result<()> {
    let joined = tallyhouse_census::merge(&merge.folders, &merge.out)?;
    writeln!(
        io::stdout().lock(),
        "Joined {} slices: {} puzzles, {} quiet positions, {} subsets.\nDataset: {}",
        merge.folders.len(),
        grouped(joined.totals.puzzles),
        grouped(joined.totals.quiet_positions),
        grouped(joined.totals.subsets),
        merge.out.display()
    )?;
    Ok(())
}

/// Runs a scan with a progress bar and tells what was rejected.
pub(crate) fn scan(settings: &Settings, quiet: bool) -> anyhow::Result<Summary> {
    let bar = progress::bar("scanning", None, quiet);
    let result = tallyhouse_census::run(settings, &ScanBar(bar.clone()));
    bar.finish_and_clear();
    let summary = result?;
    if let (Some(path), false) = (&summary.rejects, quiet) {
        tell_rejects(&summary, path);
    }
    Ok(summary)
}

fn tell_rejects(summary: &Summary, path: &Path) {
    let counts = &summary.counts;
    let by_reason: Vec<String> = Reason::KINDS
        .iter()
        .zip(counts.rejected)
        .filter(|(_, rows)| *rows > 0)
        .map(|(reason, rows)| format!("{} {reason}", grouped(rows)))
        .collect();
    eprintln!(
        "warning: {} of {} rows rejected ({}); first: {}; all are listed in {}",
        grouped(counts.rejected_rows()),
        grouped(counts.totals.rows),
        by_reason.join(", "),
        summary.first_reject.as_deref().unwrap_or("unknown"),
        path.display()
    );
}
