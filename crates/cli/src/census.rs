//! `tallyhouse census`: scan puzzles into a dataset.

use std::io::{self, Write};
use std::path::Path;

use serde::Serialize;
use tallyhouse_analysis::{ShapeShare, shape_shares, shares_csv};
use tallyhouse_census::{
    CensusError, Counts, Manifest, Settings, ShapeCounts, Summary, Tables, run_then, write_file,
};
use tallyhouse_collection::Reason;
use tallyhouse_stats::{Estimate, Interval};

use crate::args::{Census, Merge, TablesChoice};
use crate::messages;
use crate::progress::{self, ScanBar};
use tallyhouse_report::numbers::grouped;
use tallyhouse_report::overview;

pub(crate) fn run(census: &Census, quiet: bool) -> anyhow::Result<()> {
    let settings = Settings {
        sources: census.reading.sources()?,
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
    let counts = &summary.counts;
    if census.json {
        return print_json(&settings.out, counts, &summary.manifest, summary.rejects.as_deref());
    }
    let weighted = counts.totals.weighted > 0 && settings.tables == Tables::All;
    let mut out = io::stdout().lock();
    write!(out, "{}", overview(&summary.counts, &summary.manifest))?;
    if weighted {
        let shares = shape_shares(&settings.out, counts)?;
        write!(out, "{}", weighted_table(&shares, &summary))?;
    }
    writeln!(out, "\nDataset: {}", settings.out.display())?;
    Ok(())
}

/// Writes the shares of puzzles with their intervals. Weighted ones need the tables.
fn write_shares(folder: &Path, counts: &Counts, tables: Tables) -> Result<(), CensusError> {
    if counts.totals.weighted > 0 && tables == Tables::None {
        return Ok(());
    }
    let shares = shape_shares(folder, counts)?;
    let path = folder.join("shares.csv");
    let failed = |error: io::Error| CensusError::Write { path: path.clone(), error };
    let csv = shares_csv(&shares).map_err(io::Error::from).map_err(failed)?;
    write_file(&path, |writer| writer.write_all(&csv))
}

/// Writes the weighted shares as a table.
fn weighted_table(shares: &[ShapeShare], summary: &Summary) -> String {
    let mut text = format!(
        "\nShares by weight: puzzles with at least one proper subset of the shape, of {} puzzles\n",
        grouped(summary.counts.totals.puzzles)
    );
    for row in shares.iter().filter(|row| row.naked > 1 && row.open - row.naked > 1) {
        let share = row.share.as_ref().map_or_else(
            || "-".to_owned(),
            |share| {
                let percent = |value: f64| 100.0 * value.clamp(0.0, 1.0);
                let Interval { low, high } = share.interval;
                format!(
                    "{:.3} % ({:.3} to {:.3} %)",
                    percent(share.value),
                    percent(low),
                    percent(high)
                )
            },
        );
        let (open, naked) = (row.open, row.naked);
        text += &format!("  {open:>4} {naked:>5} {:>6} {share:>36}\n", open - naked);
    }
    text + "  families, or puzzles without one, are the independent units\n"
}

/// What a dataset holds: the contract of `--json`.
#[derive(Serialize)]
struct Dataset<'a> {
    dataset: &'a Path,
    /// The file of rejected rows, if any were rejected.
    rejects: Option<&'a Path>,
    manifest: &'a Manifest,
    shapes: Vec<Shape>,
}

/// A shape with 2 ≤ open ≤ 9.
#[derive(Serialize)]
struct Shape {
    open: u8,
    naked: u8,
    hidden: u8,
    /// Houses with that many open cells, over all quiet positions.
    houses: u64,
    #[serde(flatten)]
    counts: ShapeCounts,
    /// The share of puzzles with a proper subset of the shape, with its 95 % interval.
    share: Option<Estimate>,
}

fn print_json(
    folder: &Path,
    counts: &Counts,
    manifest: &Manifest,
    rejects: Option<&Path>,
) -> anyhow::Result<()> {
    let without = counts.totals.weighted > 0 && manifest.tables == "none";
    let shares = if without { Vec::new() } else { shape_shares(folder, counts)? };
    let shape = |(open, naked, shape): (u8, u8, ShapeCounts)| Shape {
        open,
        naked,
        hidden: open - naked,
        houses: counts.exposure[usize::from(open)],
        counts: shape,
        share: shares.iter().find(|s| (s.open, s.naked) == (open, naked)).and_then(|s| s.share),
    };
    let shapes = counts.shapes().map(shape).collect();
    let dataset = Dataset { dataset: folder, rejects, manifest, shapes };
    let json = serde_json::to_string_pretty(&dataset)?;
    Ok(writeln!(io::stdout().lock(), "{json}")?)
}

/// Joins the slices of a collection.
pub(crate) fn run_merge(merge: &Merge) -> anyhow::Result<()> {
    let joined = tallyhouse_census::merge(&merge.folders, &merge.out)?;
    let tables = if joined.tables == "all" { Tables::All } else { Tables::None };
    let counts = Counts::of_dataset(&merge.out)?;
    write_shares(&merge.out, &counts, tables)?;
    if merge.json {
        let rejects = merge.out.join("rejects.csv");
        let rejects = rejects.exists().then_some(rejects.as_path());
        return print_json(&merge.out, &counts, &joined, rejects);
    }
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
    let result = run_then(settings, &ScanBar(bar.clone()), &|folder, counts| {
        write_shares(folder, counts, settings.tables)
    });
    bar.finish_and_clear();
    let summary = result?;
    if summary.counts.totals.weighted > 0 && settings.tables == Tables::None && !quiet {
        messages::warn("weighted shares need the tables, so shares.csv is not written");
    }
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
    messages::warn(&format!(
        "{} of {} rows rejected ({}); first: {}; all are listed in {}",
        grouped(counts.rejected_rows()),
        grouped(counts.totals.rows),
        by_reason.join(", "),
        summary.first_reject.as_deref().unwrap_or("unknown"),
        path.display()
    ));
}
