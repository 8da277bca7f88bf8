//! Which reader people's times are like.

use std::iter;
use std::path::Path;

use serde_json::{Value, json};
use tallyhouse_analysis::timings::{TimingSettings, TimingsReport, timings};
use tallyhouse_collection::Rejects;
use tallyhouse_document::{Block, Table};
use tallyhouse_storage::Digest;

use crate::ReportError;
use crate::cells::{column, remark, text, warning, words};
use crate::error::io_error;
use crate::saving::Written;
use crate::study::collections::Study;
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{StudyProgress, StudyRecipe, StudyTimings};

/// The section that fits readers to times.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let recipe = study.recipe;
    let part = |wanted| Box::new(TimingsPart { recipe, wanted }) as Box<dyn AnyPart>;
    Ok(recipe.timings.iter().map(part).collect())
}

struct TimingsPart<'a> {
    recipe: &'a StudyRecipe,
    wanted: &'a StudyTimings,
}

impl Part for TimingsPart<'_> {
    type Data = ();

    fn name(&self) -> String {
        "timings".to_owned()
    }

    fn title(&self) -> String {
        "Which reader people's times are like".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let digest = |path: &Path| Digest::of_file(path).map_err(io_error(path));
        let StudyTimings { times, items, seed } = self.wanted;
        let digests = [digest(times)?.to_string(), digest(items)?.to_string()];
        Ok(json!([digests, times, items, seed, self.recipe.level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        _: &dyn StudyProgress,
    ) -> Result<Found<()>, ReportError> {
        let settings = TimingSettings { level: self.recipe.level, seed: self.wanted.seed };
        let [times, items] =
            [&self.wanted.times, &self.wanted.items].map(|path| path.to_string_lossy());
        let mut rejects = Rejects::in_folder(&[], folder.path);
        let report = timings(settings, &times, &items, &mut rejects)?;
        rejects.finish()?;
        let files = report.files()?;
        let written = files.iter().map(|(name, bytes)| folder.write(name, bytes));
        let written: Vec<Written> = written.collect::<Result<_, _>>()?;
        Ok(found(&report, written.first()))
    }

    fn draw(&self, (): &(), _: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        Ok(Vec::new())
    }
}

fn found(report: &TimingsReport, written: Option<&Written>) -> Found<()> {
    let remarks = report.remarks().into_iter().map(remark);
    let warnings = report.warnings.iter().map(warning);
    let finding = Finding { leads: false, collection: None, words: report.finding() };
    Found {
        intro: format!(
            "How long people took for looks in single houses, beside what each reader goes through: \
             seconds = pace of the person × (start of a look + weighted cells seen, places gathered \
             and tries), with a mean pace of 1 and no weight below 0. {}",
            report.rows_in_words()
        ),
        before: warnings.collect(),
        after: iter::once(Block::Table(table(report, written)))
            .chain(TimingsReport::NOTES.map(remark))
            .chain(remarks)
            .collect(),
        findings: vec![finding],
        data: (),
    }
}

fn table(report: &TimingsReport, written: Option<&Written>) -> Table {
    let columns = TimingsReport::HEADS.iter().enumerate().map(|(at, head)| match at {
        0 => words(head, ""),
        _ => column(head, ""),
    });
    let row = |row: Vec<String>| row.into_iter().map(text).collect();
    Table {
        id: "timings-table".to_owned(),
        caption: report.caption(),
        columns: columns.collect(),
        rows: report.table().into_iter().map(row).collect(),
        file: written.map(Written::link),
    }
}
