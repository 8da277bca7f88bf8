//! What a study found besides its verdicts, in sentences: the first section of its report.

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::order_search::{OrderReport, ReportedOrder};
use tallyhouse_analysis::{Cheaper, LookShare, LookShares, SideComparison};
use tallyhouse_census::Counts;
use tallyhouse_stats::Estimate;

use crate::charts::possible_shapes;
use crate::numbers::{FEW, counted, grouped, per_thousand, share, share_interval};
use crate::specimen::sentence_start;

fn with_interval(estimate: &Estimate) -> String {
    format!("{} (95 %: {})", share(estimate.value), share_interval(estimate))
}

/// Names a shape by its sides.
fn shape_words(open: u8, naked: u8) -> String {
    format!("naked {naked} beside hidden {} of {open}", open - naked)
}

/// Something that a study found, besides its verdicts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Finding {
    /// The title of the collection, if it is about one.
    collection: Option<String>,
    /// What was found: a clause that begins in lower case or with a number, and ends without a stop.
    words: String,
}

impl Finding {
    fn of(collection: &str, words: String) -> Self {
        Self { collection: Some(collection.to_owned()), words }
    }
}

/// Writes findings as paragraphs; collections are named if there are several.
pub(super) fn paragraphs(findings: &[Finding], collections: usize) -> Vec<String> {
    let paragraph = |finding: &Finding| match &finding.collection {
        Some(title) if collections > 1 => sentence(&format!("{title}: {}", finding.words)),
        _ => sentence(&finding.words),
    };
    findings.iter().map(paragraph).collect()
}

/// Makes a sentence of a clause.
pub(super) fn sentence(clause: &str) -> String {
    sentence_start(clause) + "."
}

/// What a census found.
pub(super) fn occurrence(title: &str, counts: &Counts, needed: &LookShares) -> Vec<Finding> {
    let weighted = if needed.weighted { ", by weight" } else { "" };
    let mut clauses = Vec::new();
    if let Some(LookShare { look, share: Some(estimate), .. }) = needed.first.first() {
        let how = if look == "singles alone" {
            "singles alone go as far as the walk does"
        } else {
            "no quiet position comes up"
        };
        let (estimate, puzzles) = (with_interval(estimate), counted(needed.puzzles, "puzzles"));
        clauses.push(format!("in {estimate} of {puzzles}{weighted}, {how}"));
    }
    clauses.extend(most_needed(&needed.last, weighted));
    // Rates count houses alike, whatever their puzzles weigh.
    if !needed.weighted && counts.totals.subsets > 0 {
        clauses.extend(most_and_least(counts));
        let few = |&(open, naked): &(u8, u8)| (1..FEW).contains(&counts.shape(open, naked).puzzles);
        let none = |&(open, naked): &(u8, u8)| counts.shape(open, naked).puzzles == 0;
        for (which, how) in [
            (possible_shapes().filter(few).collect::<Vec<_>>(), "in fewer than 30 puzzles"),
            (possible_shapes().filter(none).collect(), "in none, which does not mean never"),
        ] {
            let names = which.iter().map(|&(open, naked)| shape_words(open, naked));
            let names: Vec<String> = names.collect();
            if !names.is_empty() {
                clauses.push(format!("seen {how}: {}", names.join("; ")));
            }
        }
    }
    clauses.into_iter().map(|words| Finding::of(title, words)).collect()
}

fn most_and_least(counts: &Counts) -> Option<String> {
    let rate = |&(open, naked): &(u8, u8)| {
        let houses = counts.exposure[usize::from(open)].max(1);
        counts.shape(open, naked).proper as f64 / houses as f64
    };
    let seen =
        || possible_shapes().filter(|&(open, naked)| counts.shape(open, naked).puzzles >= FEW);
    let most = seen().max_by(|a, b| rate(a).total_cmp(&rate(b)))?;
    let least = seen().min_by(|a, b| rate(a).total_cmp(&rate(b)))?;
    let words = |end: &str, (open, naked): (u8, u8)| {
        let houses = counts.exposure[usize::from(open)];
        format!(
            "{end} often {} ({} per 1,000 of {} with {open} open cells)",
            shape_words(open, naked),
            per_thousand(counts.shape(open, naked).proper, houses),
            counted(houses, "houses")
        )
    };
    Some(format!(
        "of the shapes seen in {FEW} puzzles or more, a house shows {}, and {}",
        words("most", most),
        words("least", least)
    ))
}

fn most_needed(last: &[LookShare], weighted: &str) -> Option<String> {
    let puzzles = counted(last.iter().map(|row| row.puzzles).sum(), "puzzles");
    let value = |row: &&LookShare| row.share.as_ref().map_or(0.0, |share| share.value);
    let most = last.iter().max_by(|a, b| value(a).total_cmp(&value(b)))?;
    let unneeded = last.iter().skip(1).filter(|row| row.puzzles == 0);
    let unneeded: Vec<&str> = unneeded.map(|row| row.look.as_str()).collect();
    let never = if unneeded.is_empty() {
        String::new()
    } else {
        format!("; never the last: {}", unneeded.join(", "))
    };
    Some(format!(
        "the last look needed is most often {}, in {} of {puzzles}{weighted}{never}",
        most.look,
        with_interval(most.share.as_ref()?)
    ))
}

/// Which looks cost less.
pub(super) fn sides(sides: &[SideComparison], puzzles: u64) -> Option<Finding> {
    let of = |wanted: Cheaper| -> Vec<String> {
        let named = sides.iter().filter(|side| side.houses > 0 && side.cheaper == wanted);
        named.map(|side| shape_words(side.open, side.naked)).collect()
    };
    let count = |names: &[String]| counted(names.len() as u64, "shapes");
    let (naked, hidden, unsettled) =
        (of(Cheaper::Naked), of(Cheaper::Hidden), of(Cheaper::Unsettled));
    let list = |names: &[String]| {
        if names.is_empty() { String::new() } else { format!(" ({})", names.join("; ")) }
    };
    if sides.iter().all(|side| side.houses == 0) {
        return None;
    }
    let words = format!(
        "in the effort model, over {}, the naked look costs less than its hidden complement in {}; \
         the hidden look in {}{}; not settled: {}{}",
        counted(puzzles, "puzzles"),
        count(&naked),
        count(&hidden),
        list(&hidden),
        count(&unsettled),
        list(&unsettled)
    );
    Some(Finding { collection: None, words })
}

/// What a search for rulebooks found.
pub(super) fn order(report: &OrderReport, start: &str) -> Option<Finding> {
    let reached = |order: &&ReportedOrder| order.held_out.reached.hits();
    let at_least = report.start.held_out.reached.hits();
    let cost = |order: &&ReportedOrder| order.held_out.glances.value;
    let best = report
        .orders()
        .filter(|order| reached(order) >= at_least)
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))?;
    let words = |order: &ReportedOrder| {
        format!(
            "{} glances a puzzle, {} of {} fully reached",
            grouped(order.held_out.glances.value.round() as u64),
            grouped(order.held_out.reached.hits()),
            grouped(order.held_out.reached.trials())
        )
    };
    let of_start = words(&report.start);
    let words = if best.name == report.start.name {
        format!("no rulebook found reaches as much as {start} for less: {of_start}")
    } else {
        format!(
            "the cheapest rulebook found that reaches as much as {start} is {}: {}; {start}: \
             {of_start}",
            best.name,
            words(best)
        )
    };
    Some(Finding { collection: None, words })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(cheaper: Cheaper, houses: u64) -> SideComparison {
        SideComparison {
            open: 8,
            naked: 6,
            houses,
            puzzles: houses,
            mean_naked: 1.0,
            mean_hidden: 2.0,
            ratio: None,
            p_adjusted: 1.0,
            cheaper,
            equal_place_weight: None,
        }
    }

    #[test]
    fn sides_are_counted_and_those_against_the_rule_named() {
        let all = [
            side(Cheaper::Naked, 5),
            side(Cheaper::Naked, 5),
            side(Cheaper::Hidden, 5),
            side(Cheaper::Unsettled, 0),
        ];
        let words = sides(&all, 1).unwrap().words;
        assert_eq!(
            words,
            "in the effort model, over 1 puzzle, the naked look costs less than its hidden \
             complement in 2 shapes; the hidden look in 1 shape (naked 6 beside hidden 2 of 8); not \
             settled: 0 shapes"
        );
        assert_eq!(sides(&all[3..], 1), None);
    }

    #[test]
    fn collections_are_named_where_there_are_several() {
        let found = [
            Finding::of("a", "in 5 % of puzzles".to_owned()),
            Finding { collection: None, words: "both agree".to_owned() },
        ];
        assert_eq!(paragraphs(&found, 2), ["A: in 5 % of puzzles.", "Both agree."]);
        assert_eq!(paragraphs(&found[..1], 1), ["In 5 % of puzzles."]);
    }

    #[test]
    fn looks_that_are_never_the_last_are_named() {
        let row = |look: &str, puzzles: u64| LookShare {
            look: look.to_owned(),
            puzzles,
            weight: puzzles * 1_000_000,
            share: tallyhouse_stats::Share::new(puzzles, 10)
                .ok()
                .map(|share| share.estimate(tallyhouse_stats::Level::default())),
        };
        let last =
            [row("nothing found", 0), row("naked 1", 3), row("hidden 1", 7), row("naked 2", 0)];
        let words = most_needed(&last, "").unwrap();
        assert!(
            words.starts_with("the last look needed is most often hidden 1, in 70.00 % (95 %: ")
        );
        assert!(words.ends_with(" of 10 puzzles; never the last: naked 2"), "{words}");
    }
}
