//! Verdicts, rulebooks and what they leave.

use tallyhouse_analysis::{Coverage, JudgeReport, LookGlances, Quantity, Unit, Verdict};
use tallyhouse_document::{Block, Illustration, Outcome, Section, Span, Table};
use tallyhouse_stats::{Decision, Threshold};

use super::parts::{column, csv, number, remark, share_cells, sorted, text, warning, words};
use crate::numbers::{self, grouped, share};
use crate::saving::Written;
use crate::study::{StudyCollection, StudyError};

/// Verdicts and rulebooks.
pub(in crate::study) fn trial(
    collection: &StudyCollection,
    report: &JudgeReport,
    figures: Vec<Illustration>,
    data: &Written,
) -> Section {
    let name = &collection.name;
    let mut blocks = Vec::new();
    if !report.verdicts.is_empty() {
        let shown = report.verdicts.iter().map(|v| verdict(name, v)).collect();
        blocks.push(Block::Verdicts(shown));
        blocks.push(remark(
            "A verdict other than undecided needs two things: a 95 % interval clear of the threshold, \
             and a p-value below 0.05 after Holm's correction over the claims of one file. With many \
             puzzles everything is significant; the threshold says what matters.",
        ));
        blocks.extend(
            report
                .verdicts
                .iter()
                .filter_map(|verdict| effort_table(name, verdict))
                .map(Block::Table),
        );
    }
    blocks.push(Block::Table(rulebooks(name, report)));
    blocks.extend(figures.into_iter().map(Block::Figure));
    blocks.push(Block::Table(missed_table(name, report, data)));
    for note in &report.notes {
        if let Some(bias) = note.strip_prefix("bias: ") {
            blocks.push(warning(format!(
                "How the puzzles were drawn limits what they show: {bias}."
            )));
        }
    }
    Section {
        id: format!("trial-{name}"),
        title: format!("Verdicts: {}", collection.title),
        intro: format!(
            "{} puzzles, each walked under the full ladder and under every rulebook, all finds of a \
             look together. The {} is the independent unit.",
            grouped(report.totals.puzzles),
            report.verdicts.first().map_or(Unit::Puzzle, |verdict| verdict.unit).name()
        ),
        blocks,
    }
}

fn verdict(collection: &str, verdict: &Verdict) -> tallyhouse_document::Verdict {
    let as_share = verdict.quantity != Quantity::Ratio;
    let digits = verdict
        .estimate
        .as_ref()
        .map_or(3, |estimate| numbers::decimals(estimate.interval.low, estimate.interval.high));
    let value = |value: f64| if as_share { share(value) } else { format!("{value:.digits$}") };
    let bound = |bound: f64| if as_share { share(bound) } else { bound.to_string() };
    let (estimate, interval) = verdict.estimate.as_ref().map_or_else(
        || (verdict.words.clone(), String::new()),
        |estimate| {
            let low = estimate.interval.low.max(0.0);
            (
                format!("{}: {}", verdict.measure, value(estimate.value)),
                format!("95 %: {} to {}", value(low), value(estimate.interval.high)),
            )
        },
    );
    let threshold = match verdict.threshold {
        Threshold::Below(end) => format!("below {}", bound(end)),
        Threshold::Above(end) => format!("above {}", bound(end)),
        Threshold::Within([low, high]) => format!("from {} to {}", bound(low), bound(high)),
    };
    let counted = if as_share {
        let of = verdict.of_what.counted(verdict.of);
        format!("{} of {of}", grouped(verdict.count))
    } else {
        verdict.of_what.counted(verdict.of)
    };
    let more = match verdict.decision {
        Decision::Undecided => verdict.to_decide(),
        _ => String::new(),
    };
    let caution = verdict
        .caution
        .as_ref()
        .map_or_else(String::new, |caution| format!("; caution: {caution}"));
    let example = |example: &tallyhouse_analysis::Example| {
        let split = example.subset.as_ref().map_or_else(String::new, |subset| {
            format!(", {}, {} open, naked side of {}", subset.house, subset.open, subset.naked)
        });
        vec![
            Span::Words(format!("puzzle {} ", example.puzzle)),
            Span::Puzzle(example.givens.to_string()),
            Span::Words(format!(", quiet position {}{split}", example.position + 1)),
        ]
    };
    tallyhouse_document::Verdict {
        id: format!("verdict-{collection}.{}.{}", verdict.file, verdict.claim),
        statement: verdict.statement.clone(),
        verdict: match verdict.decision {
            Decision::Supported => Outcome::Supported,
            Decision::Refuted => Outcome::Refuted,
            Decision::Certain(true) => Outcome::CertainlyTrue,
            Decision::Certain(false) => Outcome::CertainlyFalse,
            _ => Outcome::Undecided,
        },
        estimate,
        interval,
        denominator: format!(
            "{counted}; {} as independent units{caution}",
            verdict.unit.counted(verdict.units)
        ),
        threshold: match verdict.p_adjusted {
            Some(p) => format!("{threshold}; p {} after Holm", p_value(p)),
            None => threshold,
        },
        more,
        counterexamples: verdict.examples.iter().take(5).map(example).collect(),
    }
}

fn p_value(p: f64) -> String {
    if p < 0.001 { "< 0.001".to_owned() } else { format!("= {p:.3}") }
}

fn effort_table(collection: &str, verdict: &Verdict) -> Option<Table> {
    let effort = verdict.effort.as_ref()?;
    let row = |side: &LookGlances| {
        let [cells, places, tries] = side.per_house.map(|mean| sorted(format!("{mean:.2}"), mean));
        vec![text(side.look.clone()), cells, places, tries]
    };
    let flips: Vec<String> = effort.flips.iter().map(|flip| flip.words()).collect();
    Some(Table {
        id: format!("effort-{collection}.{}.{}", verdict.file, verdict.claim),
        caption: format!(
            "Behind \u{201c}{}\u{201d}: mean glances per house in {} of {}. \
             Sensitivity: {}.",
            verdict.statement,
            numbers::counted(effort.houses, "houses"),
            numbers::counted(effort.puzzles, "puzzles"),
            flips.join("; ")
        ),
        columns: vec![
            words("look", ""),
            column("cells seen", "glances at open cells"),
            column("places gathered", "glances at places of missing digits"),
            column("tries", "glances at sets tried"),
        ],
        rows: vec![row(&effort.look), row(&effort.than)],
        file: None,
    })
}

fn rulebooks(name: &str, report: &JudgeReport) -> Table {
    let rows = report.books.iter().map(|book| {
        let gaps: Vec<String> = Coverage::of(book.rulebook.order())
            .gaps()
            .map(|gap| format!("naked {} of {}", gap.naked, gap.open))
            .collect();
        let [value, interval] = share_cells(book.estimate.as_ref());
        vec![
            text(book.rulebook.title()),
            text(if gaps.is_empty() { "none".to_owned() } else { gaps.join(", ") }),
            number(book.solved),
            number(book.short),
            value,
            interval,
        ]
    });
    Table {
        id: format!("rulebooks-{name}"),
        caption: format!("Rulebooks on {} puzzles", grouped(report.totals.puzzles)),
        columns: vec![
            words("rulebook", ""),
            words("shapes that no look finds", "going by the looks alone, without data"),
            column("solved", "puzzles"),
            column("reach falls short", "puzzles in which the full ladder goes further"),
            column("share", "of puzzles"),
            column("95 % interval", ""),
        ],
        rows: rows.collect(),
        file: None,
    }
}

/// Writes what all rulebooks leave as CSV.
pub(in crate::study) fn missed_csv(report: &JudgeReport) -> Result<Vec<u8>, StudyError> {
    let records = report.books.iter().flat_map(|book| {
        book.missed.iter().map(|shape| {
            [
                book.rulebook.name().to_owned(),
                shape.open.to_string(),
                shape.naked.to_string(),
                shape.hidden.to_string(),
                shape.subsets.to_string(),
                shape.proper.to_string(),
                shape.puzzles.to_string(),
            ]
        })
    });
    csv(&["rulebook", "open", "naked", "hidden", "subsets", "proper", "puzzles"], records)
}

fn missed_table(name: &str, report: &JudgeReport, data: &Written) -> Table {
    let rows = report.books.iter().flat_map(|book| {
        book.missed.iter().filter(|shape| shape.subsets > 0).map(|shape| {
            vec![
                text(book.rulebook.title()),
                number(u64::from(shape.open)),
                number(u64::from(shape.naked)),
                number(u64::from(shape.hidden)),
                number(shape.subsets),
                number(shape.proper),
                number(shape.puzzles),
            ]
        })
    });
    Table {
        id: format!("missed-{name}"),
        caption: format!(
            "Subsets that remain at the end positions of rulebooks, in {} puzzles; shapes that none \
             leaves are not listed",
            grouped(report.totals.puzzles)
        ),
        columns: vec![
            words("rulebook", ""),
            column("open", "open cells of the house"),
            column("naked", "size of the naked side"),
            column("hidden", "size of the hidden side"),
            column("subsets", ""),
            column("proper", "holding nothing smaller on some side"),
            column("puzzles", "with at least one proper subset"),
        ],
        rows: rows.collect(),
        file: Some(data.link()),
    }
}
