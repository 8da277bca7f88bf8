//! The result as plain text, for teachers.

use std::fmt::{self, Write};

use super::numbers::{count, p_value, share};
use super::{BookReport, Decision, EffortReport, JudgeReport, Verdict};
use crate::Coverage;

impl fmt::Display for JudgeReport {
    /// Writes verdicts first, then what each rulebook leaves.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let totals = &self.totals;
        write!(f, "{} puzzles", count(totals.puzzles))?;
        if totals.rows > totals.puzzles {
            write!(f, "; {} rows rejected", count(totals.rows - totals.puzzles))?;
        }
        if totals.weighted > 0 {
            write!(f, "; {} with a weight", count(totals.weighted))?;
        }
        if totals.in_families > 0 {
            write!(
                f,
                "; {} in families, which are the independent units",
                count(totals.in_families)
            )?;
        }
        writeln!(f)?;
        for file in &self.claims {
            writeln!(f, "\nVERDICTS: {} ({})", file.title, file.source)?;
            let of_file = |verdict: &&Verdict| verdict.file == file.name;
            for verdict in self.verdicts.iter().filter(of_file) {
                write_verdict(f, verdict, file.claims.len())?;
            }
        }
        for book in &self.books {
            write_book(f, book)?;
        }
        Ok(())
    }
}

fn write_verdict(f: &mut fmt::Formatter<'_>, verdict: &Verdict, claims: usize) -> fmt::Result {
    let decision = verdict.decision.to_string().to_uppercase();
    writeln!(f, "\n{decision:<10} {} ({})", verdict.claim, verdict.kind)?;
    writeln!(f, "  {}", verdict.statement)?;
    writeln!(f, "  {}: {}", verdict.measure, verdict.words)?;
    writeln!(
        f,
        "  claimed: {}; {} ({} after Holm over {claims} claims); {} independent {}",
        verdict.threshold,
        p_value(verdict.p_value),
        p_value(verdict.p_adjusted),
        count(verdict.units),
        if verdict.unit == "puzzle" { "puzzles" } else { "families and puzzles" },
    )?;
    if let Some(caution) = &verdict.caution {
        writeln!(f, "  caution: {caution}")?;
    }
    if let Some(effort) = &verdict.effort {
        write_effort(f, effort)?;
    }
    if verdict.decision == Decision::Undecided {
        match verdict.more_puzzles {
            Some(more) => writeln!(
                f,
                "  about {} more puzzles would decide it, if the estimate holds",
                count(more)
            )?,
            None => {
                writeln!(f, "  no number of further puzzles can be named that would decide it")?
            }
        }
    }
    if !verdict.examples.is_empty() {
        writeln!(f, "  positions that speak against it: {} are kept", verdict.examples.len())?;
    }
    Ok(())
}

fn write_effort(f: &mut fmt::Formatter<'_>, effort: &EffortReport) -> fmt::Result {
    writeln!(
        f,
        "  both looks in {} houses of {} puzzles; mean glances per house:",
        count(effort.houses),
        count(effort.puzzles)
    )?;
    for side in [&effort.look, &effort.than] {
        let mean = |glances: u64| glances as f64 / effort.houses.max(1) as f64;
        writeln!(
            f,
            "    {:<16} {:>7.2} cells seen, {:>7.2} places gathered, {:>7.2} tries",
            side.look,
            mean(side.cells_seen),
            mean(side.places_gathered),
            mean(side.tries)
        )?;
    }
    for flip in &effort.flips {
        let mut points = String::new();
        for (kind, weight) in [("place gathered", flip.place), ("try", flip.try_)] {
            match weight {
                Some(weight) => write!(points, " a {kind} weighing {weight:.3};")?,
                None => write!(points, " no weight of a {kind};")?,
            }
        }
        let points = points.trim_end_matches(';');
        writeln!(f, "    the ratio would be {} with{points} (the other kinds 1)", flip.threshold)?;
    }
    Ok(())
}

fn write_book(f: &mut fmt::Formatter<'_>, book: &BookReport) -> fmt::Result {
    let rulebook = &book.rulebook;
    writeln!(f, "\nRULEBOOK {}: {} ({})", rulebook.name(), rulebook.title(), rulebook.source())?;
    let looks: Vec<String> = rulebook.looks().map(|advised| advised.look.to_string()).collect();
    writeln!(f, "  looks: {}", looks.join(", "))?;
    let gaps: Vec<String> = Coverage::of(rulebook.order())
        .gaps()
        .map(|gap| format!("naked {} = hidden {} of {}", gap.naked, gap.hidden, gap.open))
        .collect();
    let gaps = if gaps.is_empty() { "none".to_owned() } else { gaps.join(", ") };
    writeln!(f, "  shapes that no look finds: {gaps}")?;
    write!(
        f,
        "  solves {} of {} puzzles; reaches less than the full ladder in {}",
        count(book.solved),
        count(book.puzzles),
        count(book.short)
    )?;
    match book.estimate {
        Some(estimate) => writeln!(
            f,
            ": {} (95 %: {} to {})",
            share(estimate.value),
            share(estimate.interval.low.max(0.0)),
            share(estimate.interval.high)
        )?,
        None => writeln!(f)?,
    }
    let left: Vec<_> = book.missed.iter().filter(|shape| shape.subsets > 0).collect();
    if left.is_empty() {
        return writeln!(f, "  leaves no subset in any of {} puzzles", count(book.puzzles));
    }
    writeln!(f, "  leaves  open naked hidden   subsets    proper   puzzles")?;
    for shape in left {
        writeln!(
            f,
            "  {:>12} {:>5} {:>6} {:>9} {:>9} {:>9}",
            shape.open,
            shape.naked,
            shape.hidden,
            count(shape.subsets),
            count(shape.proper),
            count(shape.puzzles)
        )?;
    }
    Ok(())
}
