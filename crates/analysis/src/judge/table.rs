//! The result as plain text, for teachers.

use std::fmt;

use tallyhouse_engine::Shape;
use tallyhouse_stats::{Decision, Estimate, Level, POWER};
use tallyhouse_words::{Measured, about, count, counted, p_value, plural};

use super::{BookReport, JudgeReport, Juror, Verdict};
use crate::{Coverage, ShapeCoverage};

impl fmt::Display for JudgeReport {
    /// Writes verdicts first, then what each rulebook leaves.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let totals = &self.totals;
        write!(f, "{}", counted(totals.puzzles, "puzzle", "puzzles"))?;
        if totals.rows > totals.puzzles {
            let rejected = counted(totals.rows - totals.puzzles, "row", "rows");
            write!(f, "; {rejected} rejected")?;
        }
        if totals.weighted > 0 {
            write!(f, "; {} with a weight", count(totals.weighted))?;
        }
        if totals.in_families > 0 {
            write!(f, "; {} in families, each an independent case", count(totals.in_families))?;
        }
        writeln!(f)?;
        for file in &self.claims {
            writeln!(f, "\nVERDICTS: {} ({})", file.title, file.source)?;
            let of_file = |verdict: &&Verdict| verdict.file == file.name;
            for verdict in self.verdicts.iter().filter(of_file) {
                write_verdict(f, verdict)?;
            }
        }
        for book in &self.books {
            write_book(f, book, self.level)?;
        }
        if !self.left_out.is_empty() {
            write_left_out(f, self)?;
        }
        Ok(())
    }
}

/// Writes what each shape matters for.
fn write_left_out(f: &mut fmt::Formatter<'_>, report: &JudgeReport) -> fmt::Result {
    let share = |share: Option<Estimate>| {
        share.map_or_else(|| "–".to_owned(), |share| Measured::from(share).percent())
    };
    writeln!(
        f,
        "\nSHAPES LEFT OUT of the full ladder's walk, one at a time: shares of {} ({}), and splits\n  \
         {:<28} {:>28} {:>28} {:>11} {:>9} {:>10}",
        counted(report.totals.puzzles, "puzzle", "puzzles"),
        report.level,
        "shape",
        "applied",
        "reaches less without it",
        "found later",
        "splits",
        "superseded",
    )?;
    for shape in &report.left_out {
        let name =
            Shape::new(shape.open, shape.naked).map_or_else(|e| e.to_string(), |s| s.to_string());
        writeln!(
            f,
            "  {name:<28} {:>28} {:>28} {:>11} {:>9} {:>10}",
            share(shape.applied_share),
            share(shape.short_share),
            count(shape.elsewhere),
            count(shape.splits),
            count(shape.superseded),
        )?;
    }
    writeln!(
        f,
        "  found later: puzzles where such a split is applied under another shape instead, when cells\n  \
         of its house were placed; superseded: splits that are never applied, others did their work"
    )
}

fn write_verdict(f: &mut fmt::Formatter<'_>, verdict: &Verdict) -> fmt::Result {
    let decision = verdict.decision.to_string().to_uppercase();
    writeln!(f, "\n{decision:<10} {} ({})", verdict.claim, verdict.kind)?;
    writeln!(f, "  {}", verdict.statement)?;
    writeln!(f, "  asked of {}", verdict.population)?;
    match &verdict.reason {
        Some(reason) => writeln!(f, "  it follows from the definitions: {reason}")?,
        None => {
            writeln!(f, "  {}: {}", verdict.measure, verdict.words)?;
            write!(f, "  claimed: {}", verdict.threshold)?;
            if let Some((p, adjusted)) = verdict.p_value.zip(verdict.p_adjusted) {
                let claims = counted(verdict.claims_tested as u64, "claim", "claims");
                write!(f, "; {} ({} after Holm over {claims})", p_value(p), p_value(adjusted))?;
            }
            writeln!(f, "; independent cases: {}", verdict.unit.counted(verdict.units))?;
        }
    }
    if let Some(said) = verdict.who_says_what() {
        writeln!(f, "  {said}")?;
    }
    if let Some(caution) = &verdict.caution {
        writeln!(f, "  caution: {caution}")?;
    }
    if verdict.decision == Decision::Undecided {
        writeln!(f, "  {}", verdict.to_decide())?;
    }
    if !verdict.examples.is_empty() {
        writeln!(f, "  positions that speak against it: {} are kept", verdict.examples.len())?;
    }
    Ok(())
}

impl Verdict {
    /// Says how many more puzzles would decide the claim.
    #[must_use]
    pub fn to_decide(&self) -> String {
        let several = self.jury.iter().map(|juror| juror.prices.len()).sum::<usize>() > 1;
        let holds = if several { "if the estimates hold" } else { "if the estimate holds" };
        match (self.more_puzzles, self.holm_factor) {
            (Some(more), Some(factor)) => format!(
                "{holds}, about {} more {} would decide it (power {:.0} %{})",
                about(more),
                plural(more, "puzzle", "puzzles"),
                100.0 * POWER,
                if factor > 1 { format!(", p times {factor} by Holm") } else { String::new() }
            ),
            _ if self.jury.iter().any(Juror::lacks_finds) => {
                "too little was found to say how many more puzzles would decide it".to_owned()
            }
            _ => format!("{holds}, no number of further puzzles would decide it"),
        }
    }
}

impl Juror {
    /// Tests if some number of his is not known.
    fn lacks_finds(&self) -> bool {
        self.prices.iter().any(|price| price.reason.is_none() && price.estimate.is_none())
    }
}

fn write_book(f: &mut fmt::Formatter<'_>, book: &BookReport, level: Level) -> fmt::Result {
    let rulebook = &book.rulebook;
    writeln!(f, "\nRULEBOOK {}: {} ({})", rulebook.name(), rulebook.title(), rulebook.source())?;
    let looks: Vec<String> = rulebook.looks().map(|advised| advised.look.to_string()).collect();
    writeln!(f, "  looks: {}", looks.join(", "))?;
    let coverage = Coverage::of(rulebook.order());
    let gaps: Vec<String> = coverage.gaps().map(ShapeCoverage::name).collect();
    let gaps = if gaps.is_empty() { "none".to_owned() } else { gaps.join(", ") };
    writeln!(f, "  shapes that no look finds: {gaps}")?;
    let puzzles = counted(book.puzzles, "puzzle", "puzzles");
    let solved = format!("solves {} of {puzzles}", count(book.solved));
    if coverage.clears_all() {
        writeln!(f, "  {solved}; by the definitions it reaches all that the full ladder reaches")?;
    } else {
        let share = book.estimate.map(Measured::from).map_or_else(String::new, |share| {
            format!(": {} ({level}: {})", share.percent_value(), share.percent_interval())
        });
        let short = count(book.short);
        writeln!(f, "  {solved}; reaches less than the full ladder in {short}{share}")?;
    }
    let left: Vec<_> = book.missed.iter().filter(|shape| shape.subsets > 0).collect();
    if left.is_empty() {
        let all = counted(book.puzzles, "puzzle", "puzzles");
        return writeln!(f, "  leaves no subset in any of {all}");
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
