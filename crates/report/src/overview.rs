//! The short summary of a scan, as plain text.

use std::fmt::Write;

use tallyhouse_census::{Counts, HouseRate, Manifest};
use tallyhouse_words::{count, counted, plural, share_of, share_within};

use crate::charts::possible_shapes;
use crate::few::{UNSEEN, star, star_note};

/// What was scanned, and the table of shapes.
///
/// Where puzzles carry weights it has counts alone: a share of puzzles without their weights says
/// nothing of any population.
#[must_use]
pub fn overview(counts: &Counts, manifest: &Manifest, rates: &[HouseRate]) -> String {
    let mut text = String::new();
    // Writing into a string cannot fail.
    let _ = write_scanned(&mut text, counts, manifest);
    let _ = write_hardest(&mut text, counts, manifest);
    let _ = write_shapes(&mut text, counts, rates);
    text
}

fn write_scanned(text: &mut String, counts: &Counts, manifest: &Manifest) -> std::fmt::Result {
    let totals = &counts.totals;
    let puzzles = totals.puzzles;
    let scanned = counted(puzzles, "puzzle", "puzzles");
    if totals.weighted > 0 {
        writeln!(text, "Scanned {scanned}, counted here without weights.")?;
    } else {
        let n = puzzles as f64;
        let mean = totals.clues as f64 / n;
        let variance = (totals.clues_squared as f64 - n * mean * mean) / (n - 1.0).max(1.0);
        writeln!(
            text,
            "Scanned {scanned}; clues: mean {mean:.2}, standard deviation {:.2}.",
            variance.max(0.0).sqrt()
        )?;
    }
    for note in &manifest.collection.notes {
        writeln!(text, "  {note}")?;
    }
    writeln!(
        text,
        "The walk solved {}{} and got stuck in {}{}.",
        count(totals.solved),
        bracketed(counts, totals.solved, " of puzzles"),
        count(totals.stuck),
        bracketed(counts, totals.stuck, "")
    )?;
    let with = totals.puzzles_with_quiet_positions;
    writeln!(
        text,
        "{}{} {} quiet positions (no single left): {}, {}.",
        counted(with, "puzzle", "puzzles"),
        bracketed(counts, with, ""),
        plural(with, "has", "have"),
        counted(totals.quiet_positions, "position", "positions"),
        counted(totals.subsets, "subset", "subsets")
    )?;
    if totals.given_digits > 0 {
        let digits = counted(totals.given_digits, "digit was", "digits were");
        writeln!(text, "{digits} given to stuck walks.")?;
    }
    Ok(())
}

/// A share of puzzles; none where they carry weights.
fn share(counts: &Counts, hits: u64) -> Option<String> {
    (counts.totals.weighted == 0).then(|| share_of(hits, counts.totals.puzzles))
}

fn bracketed(counts: &Counts, hits: u64, of: &str) -> String {
    share(counts, hits).map_or_else(String::new, |share| format!(" ({share}{of})"))
}

fn write_hardest(text: &mut String, counts: &Counts, manifest: &Manifest) -> std::fmt::Result {
    writeln!(text, "\nLast look of the order that a puzzle needed, solved or not")?;
    writeln!(text, "  {:<24} {:>12} {:>9}", "look", "puzzles", "share")?;
    for (look, puzzles_needing) in &manifest.hardest_look {
        if look != "none" || *puzzles_needing > 0 {
            let look = if look == "none" { "none finds anything" } else { look };
            writeln!(
                text,
                "  {look:<24} {:>12} {:>9}",
                count(*puzzles_needing),
                share(counts, *puzzles_needing).unwrap_or_else(none)
            )?;
        }
    }
    Ok(())
}

fn write_shapes(text: &mut String, counts: &Counts, rates: &[HouseRate]) -> std::fmt::Result {
    writeln!(text, "\nProper subsets by shape, in quiet positions")?;
    writeln!(
        text,
        "  {:>4} {:>5} {:>6} {:>14} {:>14} {:>27} {:>12} {:>10}",
        "open", "naked", "hidden", "houses", "subsets", "of houses", "puzzles", "share"
    )?;
    let weighted = counts.totals.weighted > 0;
    let (mut few, mut unseen) = (false, false);
    for (open, naked) in possible_shapes() {
        let shape = counts.shape(open, naked);
        let rate = HouseRate::overall(rates, open, naked);
        let of_houses = rate.filter(|_| !weighted).map(|rate| rate.share).unwrap_or_default();
        let star = if weighted { "" } else { star(shape.puzzles, of_houses.low) };
        few |= !star.is_empty();
        unseen |= shape.puzzles == 0;
        writeln!(
            text,
            "  {open:>4} {naked:>5} {:>6} {:>14} {:>14} {:>27} {:>12} {:>10}",
            open - naked,
            count(rate.map_or(0, |rate| rate.houses)),
            count(shape.proper),
            share_within(of_houses.value, of_houses.low, of_houses.high) + star,
            count(shape.puzzles),
            share(counts, shape.puzzles).unwrap_or_else(none),
        )?;
    }
    writeln!(text, "  houses: houses with that many open cells, over all quiet positions")?;
    if weighted {
        writeln!(text, "  puzzles: puzzles with at least one; no shares without weights")?;
    } else {
        let puzzles = counted(counts.totals.puzzles, "puzzle", "puzzles");
        writeln!(
            text,
            "  of houses: those of them with at least one proper subset; in brackets the interval"
        )?;
        writeln!(text, "  puzzles, share: puzzles with at least one, of {puzzles}")?;
    }
    if few {
        writeln!(text, "  {}", star_note())?;
    }
    if unseen {
        writeln!(text, "  {UNSEEN}")?;
    }
    Ok(())
}

fn none() -> String {
    "–".to_owned()
}
