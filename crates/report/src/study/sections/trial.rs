//! Verdicts, rulebooks and what they leave.

use std::io::Write;

use serde_json::{Value, json};
use tallyhouse_analysis::{
    ClaimFile, Coverage, JudgeReport, JudgeSettings, LookGlances, Quantity, Rulebook,
    ShapeCoverage, Unit, Verdict, judge, to_csv,
};
use tallyhouse_document::{Block, Outcome, Span, Table};
use tallyhouse_stats::{Decision, Level, Threshold};
use tallyhouse_storage::write_file;
use tallyhouse_words::{Measured, count, counted, exact_percent, fixed, p_value, rounded};

use super::parts::{
    column, interval_column, number, remark, share_cells, sorted, text, warning, words,
};
use crate::ReportError;
use crate::chart_kind::Draw;
use crate::charts::LeftShapes;
use crate::saving::Written;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Found, Part, Parts};
use crate::study::{StudyEffort, StudyProgress, StudyRecipe};

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

struct TrialPart<'a> {
    recipe: &'a StudyRecipe,
    collected: &'a Collected<'a>,
    rulebooks: Vec<Rulebook>,
    claims: Vec<ClaimFile>,
}

impl Part for TrialPart<'_> {
    type Data = Vec<LeftShapes>;

    fn name(&self) -> String {
        format!("trial-{}", self.collected.collection.name)
    }

    fn title(&self) -> String {
        format!("Verdicts: {}", self.collected.collection.title)
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let rulebooks: Vec<String> = self.rulebooks.iter().map(Rulebook::to_toml).collect();
        let claims = format!("{:?}", self.claims);
        Ok(json!([
            self.collected.digest,
            rulebooks,
            claims,
            self.recipe.weights,
            self.recipe.level,
            self.effort_rows()
        ]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<Vec<LeftShapes>>, ReportError> {
        let bar = progress.stage("judging", "puzzles", None);
        let data = folder.data_folder()?;
        let settings = JudgeSettings {
            sources: self.collected.sources.clone(),
            rulebooks: self.rulebooks.clone(),
            claims: self.claims.clone(),
            weights: self.recipe.glance_weights(),
            level: self.recipe.level,
            effort_rows: self.effort_rows(),
            shapes: false,
            out: data,
        };
        let report = judge(&settings, &*bar)?;
        let text = report.to_string();
        write_file(&folder.path.join("verdicts.txt"), |w| w.write_all(text.as_bytes()))?;
        let missed = folder.write("missed-by-rulebook.csv", &missed_csv(&report)?)?;
        Ok(self.found(&report, &missed))
    }

    fn draw(
        &self,
        left: &Vec<LeftShapes>,
        folder: &StageFolder<'_>,
    ) -> Result<Vec<Block>, ReportError> {
        folder.charts(|draw| match draw {
            Draw::Trial(draw) => Some(draw(left)),
            _ => None,
        })
    }
}

impl TrialPart<'_> {
    /// Returns how many rows the table of looks beside their complements takes: verdicts on effort take
    /// the same.
    fn effort_rows(&self) -> Option<u64> {
        let is_compared = |effort: &&StudyEffort| {
            self.recipe.collections[effort.collection].name == self.collected.collection.name
        };
        self.recipe.effort.as_ref().filter(is_compared).map(|effort| effort.puzzles)
    }

    fn found(&self, report: &JudgeReport, missed: &Written) -> Found<Vec<LeftShapes>> {
        let (name, level) = (&self.collected.collection.name, self.recipe.level);
        let mut before = Vec::new();
        if !report.verdicts.is_empty() {
            let shown = report.verdicts.iter().map(|v| verdict(name, v)).collect();
            before.push(Block::Verdicts(shown));
            before.push(remark(format!(
                "A verdict other than undecided needs two things: a {level} interval clear of the \
                 threshold, and a p-value below {} after Holm's correction over the claims of one \
                 file. Printed intervals are not corrected. With many puzzles everything is \
                 significant; the threshold says what matters. What follows from the definitions is \
                 certain and needs no data: it has neither interval nor p-value.",
                rounded(level.error_rate(), 1)
            )));
            let tables = report.verdicts.iter().filter_map(|verdict| effort_table(name, verdict));
            before.extend(tables.map(Block::Table));
        }
        before.push(Block::Table(rulebooks(name, report, level)));
        let mut after = vec![Block::Table(missed_table(name, report, missed))];
        let biases = report.notes.iter().filter_map(|note| note.strip_prefix("bias: "));
        after.extend(biases.map(|bias| {
            warning(format!("How the puzzles were drawn limits what they show: {bias}."))
        }));
        Found {
            intro: format!(
                "{}, each walked under the full ladder and under every rulebook, all finds of a look \
                 together. The {} is the independent unit.",
                counted(report.totals.puzzles, "puzzle", "puzzles"),
                report.verdicts.first().map_or(Unit::Puzzle, |verdict| verdict.unit).name()
            ),
            before,
            after,
            findings: Vec::new(),
            data: LeftShapes::of_report(report),
        }
    }
}

fn verdict(collection: &str, verdict: &Verdict) -> tallyhouse_document::Verdict {
    let as_share = verdict.quantity != Quantity::Ratio;
    let bound = |bound: f64| if as_share { exact_percent(bound) } else { bound.to_string() };
    let (estimate, interval) = verdict.estimate.as_ref().map_or_else(
        || (verdict.words.clone(), String::new()),
        |estimate| {
            let measured = Measured::from(*estimate);
            let (value, interval) = if as_share {
                (measured.percent_value(), measured.percent_interval())
            } else {
                (measured.number_value(), measured.number_interval())
            };
            (
                format!("{}: {value}", verdict.measure),
                format!("{} interval {interval}", estimate.level),
            )
        },
    );
    let threshold = match verdict.threshold {
        Threshold::Below(end) => format!("below {}", bound(end)),
        Threshold::Above(end) => format!("above {}", bound(end)),
        Threshold::Within([low, high]) => format!("from {} to {}", bound(low), bound(high)),
    };
    let of = verdict.of_what.counted(verdict.of);
    let counted_in = if as_share { format!("{} of {of}", count(verdict.count)) } else { of };
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
        verdict: verdict.decision.name().parse().unwrap_or(Outcome::Undecided),
        estimate,
        interval,
        denominator: format!(
            "{counted_in}; {} as independent units{caution}",
            verdict.unit.counted(verdict.units)
        ),
        threshold: match verdict.p_adjusted {
            Some(p) => format!("{threshold}; {} after Holm", p_value(p)),
            None => threshold,
        },
        more,
        counterexamples: verdict.examples.iter().take(5).map(example).collect(),
    }
}

fn effort_table(collection: &str, verdict: &Verdict) -> Option<Table> {
    let effort = verdict.effort.as_ref().filter(|effort| effort.houses > 0)?;
    let row = |side: &LookGlances| {
        let [cells, places, tries] = side.per_house.map(|mean| sorted(fixed(mean, 2), mean));
        vec![text(side.look.clone()), cells, places, tries]
    };
    let flips: Vec<String> = effort.flips.iter().map(|flip| flip.words()).collect();
    Some(Table {
        id: format!("effort-{collection}.{}.{}", verdict.file, verdict.claim),
        caption: format!(
            "Behind \u{201c}{}\u{201d}: mean glances per house in {} of {}. \
             Sensitivity: {}.",
            verdict.statement,
            counted(effort.houses, "house", "houses"),
            counted(effort.puzzles, "puzzle", "puzzles"),
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
