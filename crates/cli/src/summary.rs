//! The short summary of a scan, as plain text.

use std::fmt::Write;

use tallyhouse_census::{Counts, Summary};

/// Below this number of puzzles a rate is marked as resting on few.
const FEW: u64 = 30;

/// Writes a number with its thousands apart.
pub(crate) fn grouped(value: u64) -> String {
    let digits = value.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// Writes a share in percent with its denominator left to the caller.
fn percent(part: u64, whole: u64) -> String {
    if whole == 0 {
        return "-".to_owned();
    }
    let share = 100.0 * part as f64 / whole as f64;
    readable(part, share) + " %"
}

/// Writes a rate with one decimal, a small one with two significant digits, and a measured zero bare,
/// so that it is not taken for a rounded value.
fn readable(count: u64, rate: f64) -> String {
    if count == 0 {
        return "0".to_owned();
    }
    let digits = (1 - rate.log10().floor() as i32).max(1) as usize;
    format!("{rate:.digits$}")
}

/// The shapes that a quiet position can show: both sides at least two cells.
pub(crate) fn possible_shapes() -> impl Iterator<Item = (u8, u8)> {
    (4..=9u8).flat_map(|open| (2..=open - 2).map(move |naked| (open, naked)))
}

/// What was scanned, and the table of shapes.
pub(crate) fn overview(summary: &Summary) -> String {
    let mut text = String::new();
    // Writing into a string cannot fail.
    let _ = write_scanned(&mut text, summary);
    let _ = write_hardest(&mut text, summary);
    let _ = write_shapes(&mut text, &summary.counts);
    text
}

fn write_scanned(text: &mut String, summary: &Summary) -> std::fmt::Result {
    let totals = &summary.counts.totals;
    let puzzles = totals.puzzles;
    let n = puzzles as f64;
    let mean = totals.clues as f64 / n;
    let variance = (totals.clues_squared as f64 - n * mean * mean) / (n - 1.0).max(1.0);
    writeln!(
        text,
        "Scanned {} puzzles; clues: mean {mean:.2}, standard deviation {:.2}.",
        grouped(puzzles),
        variance.max(0.0).sqrt()
    )?;
    for note in &summary.manifest.collection.notes {
        writeln!(text, "  {note}")?;
    }
    writeln!(
        text,
        "The walk solved {} ({} of puzzles) and got stuck in {} ({}).",
        grouped(totals.solved),
        percent(totals.solved, puzzles),
        grouped(totals.stuck),
        percent(totals.stuck, puzzles)
    )?;
    writeln!(
        text,
        "{} puzzles ({}) have quiet positions (no single left): {} positions, {} subsets.",
        grouped(totals.puzzles_with_quiet_positions),
        percent(totals.puzzles_with_quiet_positions, puzzles),
        grouped(totals.quiet_positions),
        grouped(totals.subsets)
    )?;
    if totals.given_digits > 0 {
        writeln!(text, "{} digits were given to stuck walks.", grouped(totals.given_digits))?;
    }
    Ok(())
}

fn write_hardest(text: &mut String, summary: &Summary) -> std::fmt::Result {
    let puzzles = summary.counts.totals.puzzles;
    writeln!(text, "\nLast look of the order that a puzzle needed, solved or not")?;
    writeln!(text, "  {:<24} {:>12} {:>9}", "look", "puzzles", "share")?;
    for (look, count) in &summary.manifest.hardest_look {
        if look != "none" || *count > 0 {
            let look = if look == "none" { "none finds anything" } else { look };
            writeln!(text, "  {look:<24} {:>12} {:>9}", grouped(*count), percent(*count, puzzles))?;
        }
    }
    Ok(())
}

fn write_shapes(text: &mut String, counts: &Counts) -> std::fmt::Result {
    let puzzles = counts.totals.puzzles;
    writeln!(text, "\nProper subsets by shape, in quiet positions")?;
    writeln!(
        text,
        "  {:>4} {:>5} {:>6} {:>14} {:>14} {:>9} {:>12} {:>10}",
        "open", "naked", "hidden", "houses", "subsets", "per 1000", "puzzles", "share"
    )?;
    let mut few = false;
    for (open, naked) in possible_shapes() {
        let shape = counts.shape(open, naked);
        let houses = counts.exposure[usize::from(open)];
        let rests_on_few = shape.puzzles < FEW;
        few |= rests_on_few;
        writeln!(
            text,
            "  {open:>4} {naked:>5} {:>6} {:>14} {:>14} {:>9} {:>12} {:>10}{}",
            open - naked,
            grouped(houses),
            grouped(shape.proper),
            per_thousand(shape.proper, houses),
            grouped(shape.puzzles),
            percent(shape.puzzles, puzzles),
            if rests_on_few { " *" } else { "" }
        )?;
    }
    writeln!(text, "  houses: houses with that many open cells, over all quiet positions")?;
    writeln!(text, "  per 1000: proper subsets per 1,000 of those houses")?;
    writeln!(text, "  puzzles, share: puzzles with at least one, of {} puzzles", grouped(puzzles))?;
    if few {
        writeln!(
            text,
            "  * rests on fewer than {FEW} puzzles: scan more before relying on the rate; 0 means \
             not seen here, not never"
        )?;
    }
    Ok(())
}

pub(crate) fn per_thousand(count: u64, of: u64) -> String {
    if of == 0 {
        return "-".to_owned();
    }
    let rate = 1000.0 * count as f64 / of as f64;
    readable(count, rate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_well() {
        assert_eq!([0, 999, 1000, 1_234_567].map(grouped), ["0", "999", "1,000", "1,234,567"]);
        assert_eq!(percent(1, 3), "33.3 %");
        assert_eq!(percent(1, 30_000), "0.0033 %");
        assert_eq!(percent(0, 5), "0 %");
        assert_eq!(percent(0, 0), "-");
        assert_eq!(per_thousand(1, 25_000), "0.040");
        assert_eq!(per_thousand(25, 100), "250.0");
    }
}
