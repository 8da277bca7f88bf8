//! The sections of a report, from the results of the stages.

use tallyhouse_analysis::order_search::OrderReport;
use tallyhouse_analysis::{
    Coverage, Decision, Description, JudgeReport, LookShare, LookShares, MINIMAL_PUZZLES,
    ShapeShare, SideComparison, Threshold, Verdict, look_words,
};
use tallyhouse_census::{Counts, Manifest};
use tallyhouse_document::{
    Block, Cell, Column, Figure, Note, NoteKind, Outcome, Section, Specimen as ShownSpecimen, Table,
};
use tallyhouse_engine::Order;
use tallyhouse_figures::{Diagram, Figure as _, HouseStrip, Theme, Width};
use tallyhouse_stats::{Estimate, Interval};

use super::{StudyCollection, StudyError};
use crate::charts::possible_shapes;
use crate::numbers::{self, FEW, grouped, per_thousand, percent, share, share_interval};
use crate::specimen::{Gallery, Specimen, WEIGHTS, sentence_start};

fn column(title: &str, help: &str) -> Column {
    Column { title: title.to_owned(), help: help.to_owned(), numeric: true }
}

fn words(title: &str, help: &str) -> Column {
    Column { numeric: false, ..column(title, help) }
}

fn number(value: u64) -> Cell {
    Cell { text: grouped(value), sort: Some(value as f64) }
}

fn text(text: impl Into<String>) -> Cell {
    Cell { text: text.into(), sort: None }
}

fn sorted(text: impl Into<String>, sort: f64) -> Cell {
    Cell { text: text.into(), sort: Some(sort) }
}

fn remark(text: impl Into<String>) -> Block {
    Block::Note(Note { kind: NoteKind::Remark, text: text.into() })
}

fn warning(text: impl Into<String>) -> Block {
    Block::Note(Note { kind: NoteKind::Warning, text: text.into() })
}

fn share_cells(estimate: Option<&Estimate>) -> [Cell; 2] {
    estimate.map_or_else(
        || [text("-"), text("-")],
        |estimate| {
            let low = estimate.interval.low;
            [sorted(share(estimate.value), estimate.value), sorted(share_interval(estimate), low)]
        },
    )
}

/// Verdicts and rulebooks.
pub(super) fn trial(
    collection: &StudyCollection,
    report: &JudgeReport,
    missed: Option<Figure>,
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
    blocks.extend(missed.map(Block::Figure));
    blocks.push(Block::Table(missed_table(name, report)));
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
            report.verdicts.first().map_or("puzzle", |verdict| verdict.unit)
        ),
        blocks,
    }
}

fn verdict(collection: &str, verdict: &Verdict) -> tallyhouse_document::Verdict {
    let as_share = !matches!(verdict.kind, "easier" | "as-hard-as");
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
        let of = numbers::counted(verdict.of, &verdict.of_what);
        format!("{} of {of}", grouped(verdict.count))
    } else {
        numbers::counted(verdict.of, &verdict.of_what)
    };
    let more = verdict.more_puzzles.map_or_else(String::new, |more| {
        format!("about {} more puzzles, if the estimate holds", grouped(more))
    });
    let caution = verdict
        .caution
        .as_ref()
        .map_or_else(String::new, |caution| format!("; caution: {caution}"));
    let example = |example: &tallyhouse_analysis::Example| {
        let split = example.subset.as_ref().map_or_else(String::new, |subset| {
            format!(", {}, {} open, naked side of {}", subset.house, subset.open, subset.naked)
        });
        format!(
            "puzzle {} {}, quiet position {}{split}",
            example.puzzle,
            example.givens,
            example.position + 1
        )
    };
    tallyhouse_document::Verdict {
        id: format!("verdict-{collection}.{}.{}", verdict.file, verdict.claim),
        statement: verdict.statement.clone(),
        verdict: match verdict.decision {
            Decision::Supported => Outcome::Supported,
            Decision::Refuted => Outcome::Refuted,
            Decision::Undecided => Outcome::Undecided,
        },
        estimate,
        interval,
        denominator: format!(
            "{counted}; {} as independent units{caution}",
            numbers::counted(
                verdict.units,
                if verdict.unit == "family" { "families" } else { "puzzles" }
            )
        ),
        threshold: format!("{threshold}; p {} after Holm", p_value(verdict.p_adjusted)),
        more,
        counterexamples: verdict.examples.iter().take(5).map(example).collect(),
    }
}

fn p_value(p: f64) -> String {
    if p < 0.001 { "< 0.001".to_owned() } else { format!("= {p:.3}") }
}

fn effort_table(collection: &str, verdict: &Verdict) -> Option<Table> {
    let effort = verdict.effort.as_ref()?;
    let houses = effort.houses.max(1) as f64;
    let row = |raw: &tallyhouse_analysis::RawGlances| {
        let mean = |glances: u64| sorted(format!("{:.2}", glances as f64 / houses), glances as f64);
        vec![
            text(raw.look.to_string()),
            mean(raw.cells_seen),
            mean(raw.places_gathered),
            mean(raw.tries),
        ]
    };
    let flips: Vec<String> = effort
        .flips
        .iter()
        .map(|flip| {
            let point = |kind: &str, weight: Option<f64>| {
                weight.map_or_else(
                    || format!("no weight of a {kind}"),
                    |weight| format!("a {kind} weighing {weight:.3}"),
                )
            };
            format!(
                "the ratio would be {} with {} or {}",
                flip.threshold,
                point("place gathered", flip.place),
                point("try", flip.try_)
            )
        })
        .collect();
    Some(Table {
        id: format!("effort-{collection}.{}.{}", verdict.file, verdict.claim),
        caption: format!(
            "Behind \u{201c}{}\u{201d}: mean glances per house, unweighted, in {} of {}. \
             Sensitivity: {} (the other kinds weighing 1).",
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

fn missed_table(name: &str, report: &JudgeReport) -> Table {
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
        file: Some(format!("data/trial-{name}/missed.csv")),
    }
}

/// What a census found.
pub(super) struct Occurrence<'a> {
    pub(super) counts: &'a Counts,
    pub(super) manifest: &'a Manifest,
    pub(super) shares: &'a [ShapeShare],
    pub(super) needed: &'a LookShares,
}

/// Says how many rows were rejected, and why.
pub(super) fn rejected_words(manifest: &Manifest) -> String {
    let rows: u64 = manifest.rejected.iter().map(|(_, rows)| rows).sum();
    let reasons = manifest.rejected.iter().filter(|(_, rows)| *rows > 0);
    let reasons: Vec<String> =
        reasons.map(|(reason, rows)| format!("{} {reason}", grouped(*rows))).collect();
    format!(
        "{} of {} rows rejected ({})",
        grouped(rows),
        grouped(manifest.totals.rows),
        reasons.join(", ")
    )
}

/// Says how puzzles were walked.
fn walk_words(manifest: &Manifest) -> String {
    let walk = &manifest.walk;
    let ladder: Vec<String> = Order::ladder().looks().iter().map(ToString::to_string).collect();
    let order = if walk.order == ladder {
        format!("the full ladder ({})", walk.order.join(", "))
    } else {
        walk.order.join(", ")
    };
    let course = if walk.houses.is_empty() {
        "all finds of a look together"
    } else {
        "one find after the other, houses in order"
    };
    let stuck = if walk.when_stuck == "stop" {
        "stopping when nothing is found"
    } else {
        "with a digit of the solution given when nothing is found"
    };
    format!("The walk: {order}; {course}, {stuck}.")
}

/// What occurs.
pub(super) fn occurrence(
    collection: &StudyCollection,
    found: &Occurrence<'_>,
    figures: Vec<Figure>,
) -> Section {
    let Occurrence { counts, manifest, shares, needed } = found;
    let name = &collection.name;
    let totals = &counts.totals;
    let mut few = false;
    let rows: Vec<Vec<Cell>> = possible_shapes()
        .map(|(open, naked)| {
            let shape = counts.shape(open, naked);
            let houses = counts.exposure[usize::from(open)];
            let estimate = shares.iter().find(|s| (s.open, s.naked) == (open, naked));
            let [value, interval] = share_cells(estimate.and_then(|s| s.share.as_ref()));
            let rests_on_few = shape.puzzles < FEW;
            few |= rests_on_few;
            let mark = if rests_on_few { " *" } else { "" };
            vec![
                number(open.into()),
                number(naked.into()),
                number((open - naked).into()),
                number(houses),
                number(shape.proper),
                sorted(
                    per_thousand(shape.proper, houses),
                    shape.proper as f64 / houses.max(1) as f64,
                ),
                sorted(grouped(shape.puzzles) + mark, shape.puzzles as f64),
                value,
                interval,
            ]
        })
        .collect();
    let mut blocks: Vec<Block> = figures.into_iter().map(Block::Figure).collect();
    blocks.push(Block::Table(Table {
        id: format!("shapes-{name}"),
        caption: format!(
            "Proper subsets by shape in {} quiet positions of {} puzzles",
            grouped(totals.quiet_positions),
            grouped(totals.puzzles)
        ),
        columns: vec![
            column("open", "open cells of the house"),
            column("naked", "size of the naked side"),
            column("hidden", "size of the hidden side"),
            column("houses", "houses with that many open cells, over all quiet positions"),
            column("subsets", "proper subsets"),
            column("per 1,000", "proper subsets per 1,000 of those houses"),
            column("puzzles", "puzzles with at least one"),
            column("share", "of puzzles; of weight where puzzles carry weights"),
            column("95 % interval", ""),
        ],
        rows,
        file: Some(format!("data/occurrence-{name}/shares.csv")),
    }));
    if few {
        blocks.push(warning(format!(
            "* rests on fewer than {FEW} puzzles: scan more before relying on the rate. 0 means not \
             seen here, not never."
        )));
    }
    blocks.push(Block::Table(needed_table(name, needed)));
    if needed.weighted {
        blocks.push(remark(
            "Puzzles of this collection carry weights or belong to families. The charts of this section \
             and the counts count them alike; shares and their intervals are by weight, with families \
             as independent units.",
        ));
    }
    blocks.push(remark(walk_words(manifest)));
    if manifest.rejected.iter().any(|(_, rows)| *rows > 0) {
        blocks.push(warning(format!(
            "{}. They are listed with file, line and reason in data/occurrence-{name}/rejects.csv.",
            rejected_words(manifest)
        )));
    }
    Section {
        id: format!("occurrence-{name}"),
        title: format!("Which subsets occur: {}", collection.title),
        intro: format!(
            "{} of {} puzzles ({}) have a quiet position, one without any single left; in these {} \
             positions {} subsets were recorded. The walk solved {} puzzles ({}).",
            grouped(totals.puzzles_with_quiet_positions),
            grouped(totals.puzzles),
            percent(totals.puzzles_with_quiet_positions, totals.puzzles),
            grouped(totals.quiet_positions),
            grouped(totals.subsets),
            grouped(totals.solved),
            percent(totals.solved, totals.puzzles)
        ),
        blocks,
    }
}

/// Which looks come first and last.
fn needed_table(name: &str, needed: &LookShares) -> Table {
    let columns = |row: Option<&LookShare>| {
        let [value, interval] = share_cells(row.and_then(|row| row.share.as_ref()));
        [row.map_or_else(|| text("-"), |row| number(row.puzzles)), value, interval]
    };
    // Those without a look stand at the ends: the easiest first, the hardest last.
    let without = |row: &&LookShare| !needed.last.iter().any(|other| other.look == row.look);
    let mut looks: Vec<&str> =
        needed.first.iter().filter(without).map(|row| row.look.as_str()).collect();
    looks.extend(needed.last.iter().skip(1).map(|row| row.look.as_str()));
    looks.extend(needed.last.first().map(|row| row.look.as_str()));
    let rows = looks.iter().map(|look| {
        let of = |rows: &'_ [LookShare]| columns(rows.iter().find(|row| row.look == *look));
        let mut cells = vec![text(*look)];
        cells.extend(of(&needed.first));
        cells.extend(of(&needed.last));
        cells
    });
    let share_of = if needed.weighted { "of the weight of all puzzles" } else { "of all puzzles" };
    Table {
        id: format!("looks-{name}"),
        caption: format!(
            "Which look {} puzzles need: first, the one that finds something at the first quiet \
             position; last, the one furthest down the order that the walk needed, solved or not",
            grouped(needed.puzzles)
        ),
        columns: vec![
            words(
                "look",
                "singles alone: no quiet position comes up; nothing found: no look helps",
            ),
            column("first", "puzzles"),
            column("share first", share_of),
            column("95 % first", "interval"),
            column("last", "puzzles"),
            column("share last", share_of),
            column("95 % last", "interval"),
        ],
        rows: rows.collect(),
        file: Some(format!("data/occurrence-{name}/looks.csv")),
    }
}

/// Collections side by side.
pub(super) fn comparison(figures: Vec<Figure>) -> Section {
    Section {
        id: "comparison".to_owned(),
        title: "Collections compared".to_owned(),
        intro: "How much of the picture is the puzzles, and how much is how they were drawn."
            .to_owned(),
        blocks: figures.into_iter().map(Block::Figure).collect(),
    }
}

/// Writes what the looks cost as CSV.
pub(super) fn effort_csv(sides: &[SideComparison]) -> Result<Vec<u8>, StudyError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let header = [
        "open",
        "naked",
        "hidden",
        "houses",
        "puzzles",
        "mean_naked",
        "mean_hidden",
        "ratio",
        "low",
        "high",
        "p_adjusted",
        "cheaper",
        "equal_place_weight",
    ];
    writer.write_record(header)?;
    for side in sides {
        let field = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
        let ratio = side.ratio.as_ref();
        writer.write_record([
            side.open.to_string(),
            side.naked.to_string(),
            side.hidden().to_string(),
            side.houses.to_string(),
            side.puzzles.to_string(),
            side.mean_naked.to_string(),
            side.mean_hidden.to_string(),
            field(ratio.map(|ratio| ratio.value)),
            field(ratio.map(|ratio| ratio.interval.low)),
            field(ratio.map(|ratio| ratio.interval.high)),
            side.p_adjusted.to_string(),
            side.cheaper.name().to_owned(),
            field(side.equal_place_weight),
        ])?;
    }
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(bytes)
}

/// Says why looks are not compared with their complements.
pub(super) fn effort_of_weighted(title: &str) -> Section {
    Section {
        id: "effort".to_owned(),
        title: "A look and its complement".to_owned(),
        intro: String::new(),
        blocks: vec![warning(format!(
            "Not compared: puzzles of \"{title}\" carry weights or belong to families, and this \
             comparison counts puzzles alike. Name another collection under [effort]."
        ))],
    }
}

/// What looks and their complements cost.
pub(super) fn effort(
    sides: &[SideComparison],
    puzzles: u64,
    weights: [f64; 3],
    figures: Vec<Figure>,
) -> Section {
    let mut few = false;
    let rows: Vec<Vec<Cell>> = sides
        .iter()
        .map(|side| {
            let rests_on_few = side.puzzles < FEW;
            few |= rests_on_few;
            let mark = if rests_on_few { " *" } else { "" };
            let mean = |mean: f64| {
                if side.houses == 0 { text("-") } else { sorted(format!("{mean:.1}"), mean) }
            };
            let ratio = side.ratio.as_ref().map_or_else(
                || text("-"),
                |ratio| {
                    let Interval { low, high } = ratio.interval;
                    let digits = numbers::decimals(low, high);
                    let value = ratio.value;
                    let words = format!("{value:.digits$} ({low:.digits$}–{high:.digits$})");
                    sorted(words, value)
                },
            );
            vec![
                number(side.open.into()),
                number(side.naked.into()),
                number(side.houses),
                sorted(grouped(side.puzzles) + mark, side.puzzles as f64),
                mean(side.mean_naked),
                mean(side.mean_hidden),
                ratio,
                text(side.cheaper.name()),
                side.equal_place_weight
                    .map_or_else(|| text("-"), |weight| sorted(format!("{weight:.2}"), weight)),
            ]
        })
        .collect();
    let table = Table {
        id: "effort-table".to_owned(),
        caption: format!(
            "Mean glances per house, and the ratio of their sums with the puzzle as cluster; the \
             first {} puzzles were walked",
            grouped(puzzles)
        ),
        columns: vec![
            column("open", "open cells of the house"),
            column("naked", "size of the naked side; the hidden side has the other open cells"),
            column("houses", "that hold a proper subset of the shape"),
            column("puzzles", "with such a house"),
            column("naked look", "mean glances"),
            column("hidden look", "mean glances"),
            column("ratio (95 %)", "naked over hidden, with its 95 % interval"),
            words(
                "cheaper",
                "the side whose look costs less: the interval is clear of 1, and p is below 0.05 \
                 after Holm's correction over all shapes",
            ),
            column(
                "equal at",
                "the weight of a place gathered at which both looks would cost the same, the other \
                 weights as they are; - if none above 0 does that",
            ),
        ],
        rows,
        file: Some("data/effort/effort.csv".to_owned()),
    };
    let [cell, place, try_] = weights;
    let mut blocks = vec![remark(format!(
        "Effort is a model with stated assumptions, not difficulty: pencil marks are visible; a \
             naked look sees each open cell once and tries sets cell by cell; a hidden look first \
             gathers the places of each missing digit. A cell seen weighs {cell}, a place gathered \
             {place}, a try {try_}."
    ))];
    let mut figures = figures.into_iter().map(Block::Figure);
    blocks.extend(figures.next());
    blocks.push(Block::Table(table));
    if few {
        blocks.push(warning(format!("* rests on fewer than {FEW} puzzles.")));
    }
    blocks.extend(figures);
    Section {
        id: "effort".to_owned(),
        title: "A look and its complement".to_owned(),
        intro:
            "Which of the two to look for: both looks are made in the same houses, which hold the \
             split, at the same positions, until they end. A look that costs less here may still be \
             rare; the tables of what occurs say how rare."
                .to_owned(),
        blocks,
    }
}

/// Rulebooks found by search.
pub(super) fn order(report: &OrderReport, start: &str, figure: Option<Figure>) -> Section {
    let rows = report.orders().map(|order| {
        let held_out = &order.held_out;
        let glances = held_out.glances_estimate.as_ref().map_or_else(String::new, |estimate| {
            format!(
                "{} to {}",
                grouped(estimate.interval.low.round() as u64),
                grouped(estimate.interval.high.round() as u64)
            )
        });
        let reached = held_out.reached.value();
        let looks: Vec<String> = order.order.looks().iter().map(|&look| look_words(look)).collect();
        vec![
            text(order.name.clone()),
            sorted(grouped(held_out.glances.ratio.round() as u64), held_out.glances.ratio),
            text(glances),
            sorted(
                format!(
                    "{} of {}",
                    grouped(held_out.reached.hits()),
                    grouped(held_out.reached.trials())
                ),
                reached,
            ),
            sorted(share(reached), reached),
            text(looks.join(", ")),
        ]
    });
    let table = Table {
        id: "orders".to_owned(),
        caption: format!(
            "Rulebooks measured on {} held-out puzzles; chosen on {} others among {} orders",
            grouped(report.held_out_puzzles),
            grouped(report.training_puzzles),
            grouped(report.evaluations.made)
        ),
        columns: vec![
            words("rulebook", ""),
            column("glances", "mean per puzzle, one-by-one walk"),
            column("95 % interval", ""),
            column("fully reached", "puzzles that end where the full ladder ends"),
            column("share", "of puzzles"),
            words("looks in order", ""),
        ],
        rows: rows.collect(),
        file: Some("data/order/frontier.csv".to_owned()),
    };
    let mut blocks: Vec<Block> = figure.map(Block::Figure).into_iter().collect();
    blocks.push(Block::Table(table));
    let changed = report.frontier.iter().filter(|order| !order.changes.is_empty());
    let changes: Vec<Vec<Cell>> = changed
        .map(|order| vec![text(order.name.clone()), text(order.changes.join("; "))])
        .collect();
    if !changes.is_empty() {
        blocks.push(Block::Table(Table {
            id: "order-changes".to_owned(),
            caption: format!("What the rulebooks found have changed against {start}"),
            columns: vec![words("rulebook", ""), words("changes", "")],
            rows: changes,
            file: None,
        }));
    }
    Section {
        id: "order".to_owned(),
        title: "Rulebooks that cost less or reach more".to_owned(),
        intro: format!(
            "Local search from {start}, the full ladder and the ratio rule (success divided by \
             cost); comparisons are paired, on puzzles that the search has not seen."
        ),
        blocks,
    }
}

/// What a collection is like.
pub(super) fn description(
    collection: &StudyCollection,
    description: &Description,
    figure: Option<Figure>,
) -> Section {
    let name = &collection.name;
    let rows = description.clues.iter().map(|row| {
        let [value, interval] = share_cells(row.share.as_ref());
        let published = row
            .published_percent
            .map_or_else(|| text("-"), |percent| sorted(format!("{percent} %"), percent));
        vec![number(row.clues.into()), number(row.puzzles), value, interval, published]
    });
    let table = Table {
        id: format!("clues-{name}"),
        caption: format!(
            "Clue counts of {} puzzles; published: all minimal puzzles, {}",
            grouped(description.puzzles),
            MINIMAL_PUZZLES.source
        ),
        columns: vec![
            column("clues", ""),
            column("puzzles", ""),
            column("share", "of puzzles; of weight where puzzles carry weights"),
            column("95 % interval", ""),
            column("published", "share among all minimal puzzles"),
        ],
        rows: rows.collect(),
        file: Some(format!("figures/collection-{name}-clues.csv")),
    };
    let mean = description.mean_clues.as_ref().map_or_else(String::new, |mean| {
        format!(
            "Clues: mean {:.3} (95 %: {:.3} to {:.3}), standard deviation {:.3}. ",
            mean.value, mean.interval.low, mean.interval.high, description.sd_clues
        )
    });
    let weighted = if description.weighted > 0 {
        format!(
            "{} puzzles carry weights, in {} families, worth {:.0} independent draws. ",
            grouped(description.weighted),
            grouped(description.families),
            description.effective_size
        )
    } else {
        String::new()
    };
    let mut blocks: Vec<Block> = figure.map(Block::Figure).into_iter().collect();
    blocks.push(Block::Table(table));
    if !description.notes.is_empty() {
        let notes = description.notes.join("; ");
        blocks.push(remark(format!("The collection says of itself: {notes}.")));
    }
    Section {
        id: format!("collection-{name}"),
        title: format!("The collection: {}", collection.title),
        intro: format!(
            "{} valid puzzles in {} rows. {weighted}{mean}{} of {} are minimal; {} repeat an earlier \
             puzzle exactly and {} up to symmetry and relabelling; singles solve {}.",
            grouped(description.puzzles),
            grouped(description.rows),
            grouped(description.minimal_puzzles),
            grouped(description.puzzles),
            grouped(description.repeated),
            grouped(description.equivalent),
            grouped(description.by_singles_puzzles)
        ),
        blocks,
    }
}

/// Specimens of one kind.
pub(super) struct SpecimenGroup {
    pub(super) title: String,
    /// What was wanted, in words.
    pub(super) wanted: String,
    /// How many puzzles were searched.
    pub(super) puzzles: u64,
    pub(super) shown: Vec<ShownSpecimen>,
}

/// Positions chosen to show splits: those asked for, then one of each shape.
pub(super) fn specimens(
    groups: Vec<SpecimenGroup>,
    gallery: Option<(Gallery, Vec<ShownSpecimen>)>,
) -> Section {
    let mut blocks = Vec::new();
    for group in groups {
        blocks.push(Block::Paragraph(format!(
            "{}: wanted {}; the clearest {} of {} puzzles.",
            group.title,
            group.wanted,
            group.shown.len(),
            grouped(group.puzzles)
        )));
        if group.shown.is_empty() {
            blocks.push(warning(format!("{}: not seen in these puzzles.", group.title)));
        }
        blocks.extend(group.shown.into_iter().map(Block::Specimen));
    }
    if let Some((gallery, shown)) = gallery {
        blocks.push(Block::Paragraph(format!(
            "One position for each shape, the clearest of {} puzzles.",
            grouped(gallery.examined.puzzles)
        )));
        blocks.extend(shown.into_iter().map(Block::Specimen));
        let missing: Vec<String> = gallery.missing().iter().map(ToString::to_string).collect();
        if !missing.is_empty() {
            blocks.push(warning(format!("Not seen in these puzzles: {}.", missing.join(", "))));
        }
    }
    let weights = WEIGHTS;
    Section {
        id: "specimens".to_owned(),
        title: "Specimens".to_owned(),
        intro: format!(
            "Clarity is a stated choice, not a measurement: {} less {} for each other subset in the \
             position and {} for each candidate to read in the house, plus {} for each elimination, \
             {} if nothing easier is there and {} if a single follows at once.",
            weights.start,
            weights.other_subset,
            weights.candidate_to_read,
            weights.elimination,
            weights.nothing_easier,
            weights.leads_to_placement
        ),
        blocks,
    }
}

/// A specimen for the report, with the files of its pictures.
pub(super) fn specimen(
    specimen: &Specimen,
    name: &str,
    theme: Theme,
    files: Vec<(String, String)>,
) -> Result<ShownSpecimen, StudyError> {
    let failed = |error| crate::charts::ChartError::Figure { name: specimen.title(), error };
    // In the report the description stands beside the figures.
    let board = Diagram { caption: String::new(), ..specimen.diagram() };
    let board = board.svg(theme, Width::Column).map_err(failed)?;
    let strip = HouseStrip { key: false, ..specimen.strip() };
    let strip = strip.svg(theme, Width::Column).map_err(failed)?;
    Ok(ShownSpecimen {
        id: name.to_owned(),
        title: sentence_start(&specimen.shape().to_string()),
        svg: board,
        strip_svg: Some(strip),
        line: specimen.puzzle.to_string(),
        description: specimen.description(),
        origin: format!(
            "{}, quiet position {}",
            specimen.origin,
            u32::from(specimen.quiet_position) + 1
        ),
        score: format!("Clarity {}", specimen.score()),
        files,
    })
}
