//! The result as plain text, for teachers.

use std::fmt;

use tallyhouse_engine::Shape;
use tallyhouse_stats::{Decision, Estimate, Level, POWER};
use tallyhouse_words::{Measured, about, count, counted, p_value, plural};

use super::{BookReport, EffortReport, FlipPoints, JudgeReport, Verdict};
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
    match (&verdict.reason, verdict.p_value.zip(verdict.p_adjusted)) {
        (Some(reason), _) => writeln!(f, "  it follows from the definitions: {reason}")?,
        (None, p_values) => {
            writeln!(f, "  {}: {}", verdict.measure, verdict.words)?;
            let (p, adjusted) = p_values.unwrap_or((1.0, 1.0));
            writeln!(
                f,
                "  claimed: {}; {} ({} after Holm over {}); {} as independent units",
                verdict.threshold,
                p_value(p),
                p_value(adjusted),
                counted(verdict.claims_tested as u64, "claim", "claims"),
                verdict.unit.counted(verdict.units),
            )?;
        }
    }
    if let Some(caution) = &verdict.caution {
        writeln!(f, "  caution: {caution}")?;
    }
    if let Some(effort) = verdict.effort.as_ref().filter(|effort| effort.houses > 0) {
        write_effort(f, effort)?;
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
        match (self.more_puzzles, self.holm_factor) {
            (Some(more), Some(factor)) => format!(
                "if the estimate holds, about {} more {} would decide it (power {:.0} %{})",
                about(more),
                plural(more, "puzzle", "puzzles"),
                100.0 * POWER,
                if factor > 1 { format!(", p times {factor} by Holm") } else { String::new() }
            ),
            _ => "if the estimate holds, no number of further puzzles would decide it".to_owned(),
        }
    }
}

fn write_effort(f: &mut fmt::Formatter<'_>, effort: &EffortReport) -> fmt::Result {
    writeln!(
        f,
        "  both looks in {} of {}; mean glances per house:",
        counted(effort.houses, "house", "houses"),
        counted(effort.puzzles, "puzzle", "puzzles")
    )?;
    for side in [&effort.look, &effort.than] {
        let [cells, places, tries] = side.per_house;
        writeln!(
            f,
            "    {:<16} {cells:>7.2} cells seen, {places:>7.2} places gathered, {tries:>7.2} tries",
            side.look
        )?;
    }
    for flip in &effort.flips {
        writeln!(f, "    {}", flip.words())?;
    }
    Ok(())
}

impl FlipPoints {
    /// Says at which weights the verdict would turn, as one sentence.
    #[must_use]
    pub fn words(&self) -> String {
        let bound = self.threshold;
        let if_weighed = |kind: &str, weight: f64| format!("if a {kind} weighed {weight:.3}");
        let no_weight = |kind: &str| format!("no weight of a {kind}");
        let [place, try_] = ["place gathered", "try"];
        let would = format!("the ratio would be {bound}");
        match (self.place, self.try_) {
            (Some(a), Some(b)) => format!(
                "{would} {}, or {}, all else being as it is",
                if_weighed(place, a),
                if_weighed(try_, b)
            ),
            (Some(a), None) => format!(
                "{would} {}, all else being as it is; {} does that",
                if_weighed(place, a),
                no_weight(try_)
            ),
            (None, Some(b)) => format!(
                "{would} {}, all else being as it is; {} does that",
                if_weighed(try_, b),
                no_weight(place)
            ),
            (None, None) => {
                format!("{} or of a {try_} makes the ratio {bound}", no_weight(place))
            }
        }
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
