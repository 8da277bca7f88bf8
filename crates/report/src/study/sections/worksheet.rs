//! Sheets to practise on.

use serde_json::{Value, json};
use tallyhouse_analysis::{ReaderFile, Rulebook};
use tallyhouse_document::Block;
use tallyhouse_figures::Paper;

use crate::ReportError;
use crate::cells::warning;
use crate::specimen::Hearing;
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Found, Part, Parts};
use crate::study::{StudyProgress, StudyWorksheet};
use crate::worksheet::{Wish, WorksheetSettings, worksheet};

/// The section with the worksheet.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let part = |wanted: &'a StudyWorksheet| -> Result<Box<dyn AnyPart>, ReportError> {
        let collected = &study.collections[wanted.collection];
        let rulebook = wanted.rulebook.as_deref().map(Rulebook::load).transpose()?;
        let settings = WorksheetSettings {
            wish: Wish::new(wanted.practice, rulebook.as_ref())?,
            kind: wanted.kind,
            count: wanted.count,
            seed: wanted.seed,
            reader: ReaderFile::load(&wanted.reader)?,
            sources: collected.sources.clone(),
        };
        Ok(Box::new(WorksheetPart { settings, collected, paper: wanted.paper }))
    };
    study.recipe.worksheet.iter().map(part).collect()
}

struct WorksheetPart<'a> {
    settings: WorksheetSettings,
    collected: &'a Collected<'a>,
    paper: Paper,
}

impl Part for WorksheetPart<'_> {
    type Data = ();

    fn name(&self) -> String {
        "worksheet".to_owned()
    }

    fn title(&self) -> String {
        "A worksheet".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let WorksheetSettings { wish, kind, count, seed, reader, .. } = &self.settings;
        let [wish, reader] = [format!("{wish:?}"), format!("{reader:?}")];
        let digest = &self.collected.digest;
        Ok(json!([digest, wish, kind.name(), count, seed, reader, self.paper]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<()>, ReportError> {
        let bar = progress.stage("finding items", "puzzles", None);
        // Which rows are rejected, the scan of the collection has said.
        let sheet = match worksheet(self.settings.clone(), &Hearing::from(&*bar)) {
            Err(error @ ReportError::TooFewItems { .. }) => {
                let after = vec![warning(format!("No worksheet: {error}."))];
                return Ok(Found { after, ..Found::pictures(String::new(), ()) });
            }
            sheet => sheet?,
        };
        let file = |(name, bytes): (&'static str, Vec<u8>)| {
            let written = folder.write(name, &bytes)?;
            Ok((name.to_owned(), written.link()))
        };
        let files = sheet.files(self.paper)?.into_iter().map(file);
        let files: Vec<(String, String)> = files.collect::<Result<_, ReportError>>()?;
        let intro = format!("{}. {}", sheet.title(), sheet.intro().join(" "));
        Ok(Found { after: vec![Block::Files(files)], ..Found::pictures(intro, ()) })
    }

    fn draw(&self, (): &(), _: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        Ok(Vec::new())
    }
}
