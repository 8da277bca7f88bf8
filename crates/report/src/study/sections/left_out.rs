//! What each shape matters for.

use serde_json::{Value, json};
use tallyhouse_analysis::{JudgeReport, JudgeSettings, LeftOutShape, TrialWalk, judge};
use tallyhouse_document::{Block, Table};
use tallyhouse_words::{Measured, count, counted};

use crate::ReportError;
use crate::cells::{NONE, column, number, share_cells, text, words};
use crate::saving::Written;
use crate::shapes;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{StudyProgress, StudyRecipe};

/// The sections that leave each shape out, one for each collection.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let recipe = study.recipe;
    let part = |collected| Box::new(LeftOutPart { recipe, collected }) as Box<dyn AnyPart>;
    Ok(study.collections.iter().filter(|_| recipe.leave_out_shapes).map(part).collect())
}

struct LeftOutPart<'a> {
    recipe: &'a StudyRecipe,
    collected: &'a Collected<'a>,
}

impl Part for LeftOutPart<'_> {
    type Data = ();

    fn name(&self) -> String {
        format!("left-out-{}", self.collected.collection.name)
    }

    fn title(&self) -> String {
        format!("What each shape matters for: {}", self.collected.collection.title)
    }

    fn depends(&self) -> Result<Value, ReportError> {
        Ok(json!([self.collected.digest, self.recipe.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<()>, ReportError> {
        let bar = progress.stage("leaving shapes out", "puzzles", None);
        let settings = JudgeSettings {
            sources: self.collected.sources.clone(),
            rulebooks: Vec::new(),
            claims: Vec::new(),
            readers: Vec::new(),
            walk: TrialWalk::default(),
            level: self.recipe.level,
            shapes: true,
            out: folder.path.join("trial"),
        };
        let report = judge(&settings, &*bar)?;
        let written = folder.copy(&settings.out, "left-out.csv")?;
        Ok(self.found(&report, written.as_ref()))
    }

    fn draw(&self, (): &(), _: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        Ok(Vec::new())
    }
}

impl LeftOutPart<'_> {
    fn found(&self, report: &JudgeReport, written: Option<&Written>) -> Found<()> {
        let puzzles = counted(report.totals.puzzles, "puzzle", "puzzles");
        let share = |shape: &&LeftOutShape| shape.short_share.map_or(0.0, |share| share.value);
        let most = report.left_out.iter().max_by(|one, other| share(one).total_cmp(&share(other)));
        let finding = most.and_then(|shape| {
            let share = Measured::from(shape.short_share?);
            Some(Finding {
                leads: false,
                collection: Some(self.collected.collection.name.clone()),
                words: format!(
                    "without {} the full ladder reaches less in {} of {puzzles}, more than without any \
                     other shape",
                    shapes::in_prose(shape.open, shape.naked),
                    share.percent(),
                ),
            })
        });
        Found {
            intro: format!(
                "The full ladder's walk again, on {puzzles}, with one shape left out: no look may find it \
                 on either side. Where it reaches no less, other finds do the same work."
            ),
            before: Vec::new(),
            after: vec![Block::Table(self.table(report, &puzzles, written))],
            findings: finding.into_iter().collect(),
            data: (),
        }
    }

    fn table(&self, report: &JudgeReport, puzzles: &str, written: Option<&Written>) -> Table {
        let rows = report.left_out.iter().map(|shape| {
            let mut cells = vec![text(shapes::short(shape.open, shape.naked))];
            cells.extend(share_cells(shape.applied_share.as_ref()));
            cells.extend(share_cells(shape.short_share.as_ref()));
            cells.extend([number(shape.elsewhere), number(shape.splits)]);
            let of = shape.splits.max(1) as f64;
            let share = shape.superseded as f64 / of;
            let told = if shape.splits == 0 { NONE.to_owned() } else { count(shape.superseded) };
            cells.push(crate::cells::sorted(told, share));
            cells
        });
        let level = self.recipe.level;
        let interval = |of: &str| column(&format!("{level} interval"), of);
        Table {
            id: format!("left-out-table-{}", self.collected.collection.name),
            caption: format!("Each shape left out of the full ladder's walk; shares of {puzzles}"),
            columns: vec![
                words("shape", ""),
                column("applied", "puzzles in which the full ladder's walk applies it"),
                interval("of the share that applies it"),
                column("reaches less", "puzzles in which the walk without it reaches less"),
                interval("of the share that reaches less"),
                column("found later", "puzzles where it is applied under another shape instead"),
                column("splits", "different splits recorded, proper ones"),
                column("superseded", "of them never applied, because others did their work"),
            ],
            rows: rows.collect(),
            file: written.map(Written::link),
        }
    }
}
