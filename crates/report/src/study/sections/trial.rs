//! Verdicts, rulebooks and what they leave.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tallyhouse_analysis::{
    ClaimFile, Coverage, JudgeReport, JudgeSettings, Juror, JurorPrice, ReaderFile, Rulebook,
    ShapeCoverage, TrialWalk, Unit, Verdict, judge, to_csv,
};
use tallyhouse_document::{Block, Cell, Column, Span, Table};
use tallyhouse_stats::{Decision, Level, Threshold};
use tallyhouse_words::{Measured, count, counted, exact_percent, p_value, rounded, sentence_start};

use crate::ReportError;
use crate::cells::{
    NONE, column, interval_column, number, remark, share_cells, sorted, text, warning, words,
};
use crate::chart_kind::Draw;
use crate::charts::{Juries, LeftShapes, finds_by};
use crate::saving::Written;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{StudyProgress, StudyRecipe};

/// The sections with the verdicts, one for each collection.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let recipe = study.recipe;
    if recipe.rulebooks.is_empty() && recipe.claims.is_empty() {
        return Ok(Vec::new());
    }
    let rulebooks: Vec<Rulebook> =
        recipe.rulebooks.iter().map(|name| Rulebook::load(name)).collect::<Result<_, _>>()?;
    let claims: Vec<ClaimFile> =
        recipe.claims.iter().map(|name| ClaimFile::load(name)).collect::<Result<_, _>>()?;
    let part = |collected| {
        let (rulebooks, claims) = (rulebooks.clone(), claims.clone());
        Box::new(TrialPart { recipe, collected, rulebooks, claims }) as Box<dyn AnyPart>
    };
    Ok(study.collections.iter().map(part).collect())
}

/// What the charts of a trial are drawn from.
#[derive(Serialize, Deserialize)]
struct Drawable {
    left: Vec<LeftShapes>,
    juries: Juries,
}

struct TrialPart<'a> {
    recipe: &'a StudyRecipe,
    collected: &'a Collected<'a>,
    rulebooks: Vec<Rulebook>,
    claims: Vec<ClaimFile>,
}

impl Part for TrialPart<'_> {
    type Data = Drawable;

    fn name(&self) -> String {
        format!("trial-{}", self.collected.collection.name)
    }

    fn title(&self) -> String {
        format!("Verdicts: {}", self.collected.collection.title)
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let rulebooks: Vec<String> = self.rulebooks.iter().map(Rulebook::to_toml).collect();
        let claims = format!("{:?}", self.claims);
        Ok(json!([self.collected.digest, rulebooks, claims, self.recipe.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<Drawable>, ReportError> {
        let bar = progress.stage("judging", "puzzles", None);
        let data = folder.data_folder()?;
        let settings = JudgeSettings {
            sources: self.collected.sources.clone(),
            rulebooks: self.rulebooks.clone(),
            claims: self.claims.clone(),
            readers: built_in_readers()?,
            walk: TrialWalk::default(),
            level: self.recipe.level,
            shapes: false,
            out: data,
        };
        let report = judge(&settings, &*bar)?;
        let missed = folder.write("missed-by-rulebook.csv", &missed_csv(&report)?)?;
        self.found(&report, &missed)
    }

    fn draw(&self, data: &Drawable, folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        folder.charts(|draw| match draw {
            Draw::Trial(draw) => Some(draw(&data.left)),
            Draw::Juries(draw) => Some(draw(&data.juries)),
            _ => None,
        })
    }
}

/// The readers that juries ask.
pub(super) fn built_in_readers() -> Result<Vec<ReaderFile>, ReportError> {
    Ok(ReaderFile::built_in().map(ReaderFile::load).collect::<Result<_, _>>()?)
}

impl TrialPart<'_> {
    fn found(
        &self,
        report: &JudgeReport,
        missed: &Written,
    ) -> Result<Found<Drawable>, ReportError> {
        let (name, level) = (&self.collected.collection.name, self.recipe.level);
        let mut before = Vec::new();
        if !report.verdicts.is_empty() {
            let shown = report.verdicts.iter().map(|v| verdict(name, v)).collect();
            before.push(Block::Verdicts(shown));
            before.push(remark(format!(
                "Each verdict speaks of its population and of nothing else. To be supported or refuted, \
                 a claim needs two things: a {level} interval clear of the threshold, and a p-value \
                 below {} after Holm's correction over the claims of one file. Printed intervals are \
                 not corrected. With many puzzles everything is significant; the threshold says what \
                 matters. What follows from the definitions is \
                 certain and needs no data: it has neither interval nor p-value.",
                rounded(level.error_rate(), 1)
            )));
            if report.verdicts.iter().any(|verdict| !verdict.jury.is_empty()) {
                before.push(remark(
                    "The price of a look is the glances spent for each find, looks in vain included. \
                     Glances come from models of readers with stated assumptions; they are not \
                     difficulty. A jury decides claims about prices: readers who remember nothing, in \
                     every house at every quiet position, and all readers, where the look is due: where \
                     its turn comes in the walk of its rulebook. If some say yes and others no, \
                     after Holm's correction within the jury, it depends. A price is a mean, not a \
                     rule for each house.",
                ));
            }
            let tables = report.verdicts.iter().filter_map(|verdict| jury_table(name, verdict));
            before.extend(tables.map(Block::Table));
        }
        before.push(Block::Table(rulebooks(name, report, level)));
        let mut after = vec![Block::Table(missed_table(name, report, missed))];
        let biases = report.notes.iter().filter_map(|note| note.strip_prefix("bias: "));
        after.extend(biases.map(|bias| {
            warning(format!("How the puzzles were drawn limits what they show: {bias}."))
        }));
        Ok(Found {
            intro: format!(
                "{}, each walked under the full ladder and under every rulebook, all finds of a look \
                 together. Intervals count each {} as one independent case.",
                counted(report.totals.puzzles, "puzzle", "puzzles"),
                report.verdicts.first().map_or(Unit::Puzzle, |verdict| verdict.unit).name()
            ),
            before,
            after,
            findings: falls_short(name, report).into_iter().collect(),
            data: Drawable {
                left: LeftShapes::of_report(report),
                juries: Juries::of_verdicts(&report.verdicts)?,
            },
        })
    }
}

/// How often the first rulebook gets less far than the full ladder.
fn falls_short(collection: &str, report: &JudgeReport) -> Option<Finding> {
    let book = report.books.first()?;
    let share = Measured::from(book.estimate?);
    Some(Finding {
        leads: true,
        collection: Some(collection.to_owned()),
        words: format!(
            "the rulebook \u{201c}{}\u{201d} (a list of looks, made in turn) gets less far than the full \
             ladder (all looks for naked and hidden singles to quads) in {} of {}",
            book.rulebook.title(),
            share.percent(),
            counted(book.puzzles, "puzzle", "puzzles"),
        ),
    })
}

/// What a verdict rests on, in one line with rounded numbers.
fn evidence(verdict: &Verdict) -> String {
    let caution = verdict.caution.as_ref().map_or_else(String::new, |c| format!("; {c}"));
    if verdict.reason.is_some() {
        return "It follows from the definitions".to_owned();
    }
    if let (Some(counts), Some(estimate)) = (&verdict.counts, verdict.estimate) {
        let share = Measured::from(estimate).percent();
        return format!("{share} of {}{caution}", counts.of_what.counted(counts.of));
    }
    // A number that the data set no limit to tells nothing.
    let numbers = || {
        verdict.jury.iter().flat_map(|juror| {
            let estimates = juror.prices.iter().filter_map(|price| price.estimate);
            let told = estimates.filter(|estimate| estimate.interval.width().is_finite());
            told.map(|estimate| (Measured::from(estimate), &*juror.reader))
        })
    };
    let by_number = |a: &(Measured, &str), b: &(Measured, &str)| a.0.value.total_cmp(&b.0.value);
    let (Some(least), Some(most)) = (numbers().min_by(by_number), numbers().max_by(by_number))
    else {
        return match verdict.decision {
            Decision::Undecided => "Too little was found to go by".to_owned(),
            _ => format!("Limits decide it; no interval has both ends{caution}"),
        };
    };
    let looks = verdict.jury.iter().flat_map(|juror| &juror.prices).map(|price| &price.looks[..]);
    let range = |number: fn(Measured) -> String| {
        let [low, high] = [least.0, most.0].map(number);
        if low == high { low } else { format!("{low} to {high}") }
    };
    let readers =
        if least.1 == most.1 { least.1.to_owned() } else { format!("{} to {}", least.1, most.1) };
    let told = match looks.max_by_key(|looks| looks.len()) {
        Some([look, other]) => {
            let ratio = if most.0.value < 2.0 {
                format!("{} of", range(in_percent))
            } else {
                format!("{} times", range(Measured::number_in_prose))
            };
            let [look, other] = finds_by([&look.look, &other.look]);
            format!("A {look} costs {ratio} what the {other} costs ({readers})")
        }
        _ => format!("A find costs {} glances ({readers})", range(Measured::number_in_prose)),
    };
    told + &caution
}

/// Writes a ratio in per cent for prose.
fn in_percent(ratio: Measured) -> String {
    format!("{} %", ratio.times(100.0).number_in_prose())
}

pub(super) fn verdict(collection: &str, verdict: &Verdict) -> tallyhouse_document::Verdict {
    let as_share = verdict.counts.is_some();
    let bound = |bound: f64| if as_share { exact_percent(bound) } else { bound.to_string() };
    let (estimate, interval) = match verdict.estimate.filter(|_| as_share) {
        None => (verdict.words.clone(), String::new()),
        Some(estimate) => {
            let measured = Measured::from(estimate);
            (
                format!("{}: {}", verdict.measure, measured.percent_value()),
                format!("{} interval {}", estimate.level, measured.percent_interval()),
            )
        }
    };
    let estimate = match verdict.reason {
        None if !as_share => format!("{}: {estimate}", verdict.measure),
        _ => estimate,
    };
    let threshold = match verdict.threshold {
        Threshold::Below(end) => format!("below {}", bound(end)),
        Threshold::Above(end) => format!("above {}", bound(end)),
        Threshold::Within([low, high]) => format!("from {} to {}", bound(low), bound(high)),
    };
    let counted_in = verdict.counts.as_ref().map_or_else(
        || counted(verdict.puzzles, "puzzle", "puzzles"),
        |counts| format!("{} of {}", count(counts.count), counts.of_what.counted(counts.of)),
    );
    let more = match verdict.decision {
        Decision::Undecided => verdict.to_decide(),
        _ => String::new(),
    };
    let caution = verdict
        .caution
        .as_ref()
        .map_or_else(String::new, |caution| format!("; caution: {caution}"));
    let example = |example: &tallyhouse_analysis::Example| {
        let split = example
            .subset
            .as_ref()
            .map_or_else(String::new, |subset| format!(", {}, {}", subset.house, subset.shape()));
        vec![
            Span::Words(format!("puzzle {} ", example.puzzle)),
            Span::Puzzle(example.givens.to_string()),
            Span::Words(format!(", quiet position {}{split}", example.position + 1)),
        ]
    };
    tallyhouse_document::Verdict {
        id: format!("verdict-{collection}.{}.{}", verdict.file, verdict.claim),
        statement: verdict.statement.clone(),
        verdict: verdict.decision.into(),
        population: sentence_start(&verdict.population),
        said: verdict.who_says_what().as_deref().map_or_else(String::new, sentence_start),
        evidence: evidence(verdict),
        estimate,
        interval,
        denominator: match verdict.reason {
            Some(_) => String::new(),
            None => format!(
                "{counted_in}; independent cases: {}{caution}",
                verdict.unit.counted(verdict.units)
            ),
        },
        threshold: match verdict.p_adjusted {
            Some(p) => format!("{threshold}; {} after Holm", p_value(p)),
            None => threshold,
        },
        more,
        counterexamples: verdict.examples.iter().take(5).map(example).collect(),
    }
}

/// What each member of a jury pays, one row for each number.
fn jury_table(collection: &str, verdict: &Verdict) -> Option<Table> {
    let compared = verdict.jury.iter().flat_map(|juror| &juror.prices).any(|p| p.looks.len() > 1);
    let rows: Vec<Vec<Cell>> = verdict
        .jury
        .iter()
        .flat_map(|juror| {
            let rows = juror.prices.iter().map(|price| jury_row(juror, price, compared));
            // A member speaks once, of all open counts.
            rows.enumerate().map(|(number, mut row)| {
                row.push(text(if number == 0 {
                    juror.decision.to_string()
                } else {
                    String::new()
                }));
                row
            })
        })
        .collect();
    let number = if compared { "ratio" } else { "price" };
    let finds = column("finds", "of the times that the look was made");
    let made = column("made", "times");
    let price = column("price", "glances for a find");
    let mut columns = vec![words("frame", "when looks are made"), words("reader", "")];
    if compared {
        for side in ["first", "second"] {
            let of = |column: &Column| Column {
                title: format!("{}, {side}", column.title),
                ..column.clone()
            };
            columns.extend([&made, &finds, &price].map(of));
        }
        columns.push(column(
            number,
            "price of the first look by that of the second, with its interval",
        ));
    } else {
        columns.push(column("open", "open cells of the house"));
        columns.extend([made, finds, column("price", "glances for a find, with its interval")]);
    }
    columns.push(words("says", "by itself, without correction for other claims and members"));
    (!rows.is_empty()).then(|| Table {
        id: format!("jury-{collection}.{}.{}", verdict.file, verdict.claim),
        caption: format!(
            "Who says what of \u{201c}{}\u{201d}: {}, in {}; {}",
            verdict.statement,
            verdict.measure,
            counted(verdict.puzzles, "puzzle", "puzzles"),
            verdict.population
        ),
        columns,
        rows,
        file: None,
    })
}

fn jury_row(juror: &Juror, price: &JurorPrice, compared: bool) -> Vec<Cell> {
    let mut row = vec![text(juror.frame.name()), text(&juror.reader)];
    if !compared {
        row.push(number(u64::from(price.open[0])));
    }
    for look in &price.looks {
        row.extend([number(look.made), number(look.finds)]);
        if compared {
            let of_find = look.price.value.map(|price| sorted(rounded(price, 2), price));
            row.push(of_find.unwrap_or_else(|| text(NONE)));
        }
    }
    row.push(match price.estimate {
        Some(estimate) => sorted(Measured::from(estimate).number(), estimate.value),
        None => text(NONE),
    });
    row
}

fn rulebooks(name: &str, report: &JudgeReport, level: Level) -> Table {
    let rows = report.books.iter().map(|book| {
        let gaps: Vec<String> =
            Coverage::of(book.rulebook.order()).gaps().map(ShapeCoverage::name).collect();
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
        caption: format!("Rulebooks on {}", counted(report.totals.puzzles, "puzzle", "puzzles")),
        columns: vec![
            words("rulebook", ""),
            words("shapes that no look finds", "going by the looks alone, without data"),
            column("solved", "puzzles"),
            column("reach falls short", "puzzles in which the full ladder goes further"),
            column("share", "of puzzles; none where the definitions say that there are none"),
            interval_column(level),
        ],
        rows: rows.collect(),
        file: None,
    }
}

/// Writes what all rulebooks leave as CSV.
fn missed_csv(report: &JudgeReport) -> Result<Vec<u8>, csv::Error> {
    let records = report.books.iter().flat_map(|book| {
        book.missed.iter().map(|shape| {
            let split = [shape.open, shape.naked, shape.hidden];
            (book.rulebook.name(), split, [shape.subsets, shape.proper, shape.puzzles])
        })
    });
    to_csv("rulebook,open,naked,hidden,subsets,proper,puzzles", records)
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
            "Subsets that remain at the end positions of rulebooks, in {}; shapes that none leaves \
             are not listed",
            counted(report.totals.puzzles, "puzzle", "puzzles")
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn looks_are_named_with_their_houses_where_these_differ() {
        assert_eq!(finds_by(["naked 2 open 6", "hidden 4 open 6"]), ["naked pair", "hidden quad"]);
        assert_eq!(
            finds_by(["hidden 2 in boxes", "hidden 2 in rows and columns"]),
            ["hidden pair in boxes", "hidden pair in rows and columns"]
        );
        let sure = |value: f64| Measured { value, low: 0.99 * value, high: 1.01 * value };
        let percents = [0.0394, 0.182, 1.44, 0.0044].map(|value| in_percent(sure(value)));
        assert_eq!(percents, ["3.9 %", "18 %", "140 %", "0.44 %"]);
        assert_eq!(in_percent(Measured { value: 0.87, low: 0.8, high: 1.0 }), "90 %");
    }
}
