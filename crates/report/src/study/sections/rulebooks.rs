//! Rulebooks head to head.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tallyhouse_analysis::compare::{CompareSettings, compare};
use tallyhouse_analysis::{ReaderFile, Rulebook};
use tallyhouse_collection::Rejects;
use tallyhouse_document::Block;
use tallyhouse_words::sentence_start;

use crate::ReportError;
use crate::chart_kind::{Chart, Draw};
use crate::charts::HeadToHead;
use crate::compared::{ShownStop, basis, findings, stops, tables};
use crate::saving::Written;
use crate::specimen::{Kept, Specimen};
use crate::study::collections::{Collected, Study};
use crate::study::folder::StageFolder;
use crate::study::part::{AnyPart, Finding, Found, Part, Parts};
use crate::study::{StudyCompare, StudyProgress};

/// The section that holds rulebooks against each other.
pub(super) fn of<'a>(study: &'a Study<'a>) -> Parts<'a> {
    let part = |wanted: &'a StudyCompare| -> Result<Box<dyn AnyPart>, ReportError> {
        let load = |name: &String| Rulebook::load(name);
        let readers: Vec<&str> = match wanted.readers.as_slice() {
            [] => ReaderFile::built_in().collect(),
            readers => readers.iter().map(String::as_str).collect(),
        };
        let settings = CompareSettings {
            rulebooks: wanted.rulebooks.iter().map(load).collect::<Result<_, _>>()?,
            readers: readers.into_iter().map(ReaderFile::load).collect::<Result<_, _>>()?,
            level: study.recipe.level,
        };
        let collected = &study.collections[wanted.collection];
        Ok(Box::new(RulebooksPart { collected, settings }))
    };
    study.recipe.compare.iter().map(part).collect()
}

struct RulebooksPart<'a> {
    collected: &'a Collected<'a>,
    settings: CompareSettings,
}

/// What the pictures are drawn from.
#[derive(Serialize, Deserialize)]
struct Drawable {
    all: HeadToHead,
    stops: Vec<KeptStop>,
}

/// A puzzle that only one of two rulebooks solves.
#[derive(Serialize, Deserialize)]
struct KeptStop {
    name: String,
    title: String,
    words: String,
    line: String,
    specimen: Option<Kept>,
}

impl From<ShownStop> for KeptStop {
    fn from(stop: ShownStop) -> Self {
        let ShownStop { name, title, words, line, specimen } = stop;
        Self { name, title, words, line, specimen: specimen.as_ref().map(Kept::from) }
    }
}

impl Part for RulebooksPart<'_> {
    type Data = Drawable;

    fn name(&self) -> String {
        "rulebooks".to_owned()
    }

    fn title(&self) -> String {
        "Rulebooks head to head".to_owned()
    }

    fn depends(&self) -> Result<Value, ReportError> {
        let CompareSettings { rulebooks, readers, level } = &self.settings;
        let rulebooks: Vec<String> = rulebooks.iter().map(Rulebook::to_toml).collect();
        Ok(json!([self.collected.digest, rulebooks, format!("{readers:?}"), level]))
    }

    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<Drawable>, ReportError> {
        let bar = progress.stage("comparing", "puzzles", None);
        let sources = self.collected.sources.clone();
        // Which rows are rejected, the scan of the collection has said.
        let mut rejects = Rejects::in_file(&sources, folder.path.join("rejects.csv"));
        let report = compare(&self.settings, sources.clone(), &mut rejects, &*bar)?;
        let files = report.files()?;
        let written = files.iter().map(|(name, bytes)| folder.write(name, bytes));
        let written: Vec<Written> = written.collect::<Result<_, _>>()?;
        let found = findings(&report);
        let paragraph = |words: &String| Block::Paragraph(format!("{}.", sentence_start(words)));
        let finding = |words: String| Finding {
            leads: false,
            collection: Some(self.collected.collection.name.clone()),
            words,
        };
        let links = [0, 1, 2].map(|file: usize| written[file].link());
        Ok(Found {
            intro: basis(&report),
            before: found.iter().map(paragraph).collect(),
            after: tables(&report, Some(links)).into_iter().map(Block::Table).collect(),
            findings: found.into_iter().map(finding).collect(),
            data: Drawable {
                all: HeadToHead::of_report(&report)?,
                stops: stops(&report)?.into_iter().map(KeptStop::from).collect(),
            },
        })
    }

    fn draw(&self, data: &Drawable, folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError> {
        let mut blocks = folder.charts(|draw| match draw {
            Draw::HeadToHead(draw) => Some(draw(&data.all)),
            _ => None,
        })?;
        for KeptStop { name, title, words, line, specimen } in &data.stops {
            let specimen = specimen.as_ref().map(Specimen::try_from).transpose()?;
            let (title, words, line) = (title.clone(), words.clone(), line.clone());
            let stop = ShownStop { name: name.clone(), title, words, line, specimen };
            let Some(board) = stop.board() else { continue };
            let caption = format!("{} The puzzle: {}", stop.words, stop.line);
            let chart = Chart { figure: Box::new(board), caption };
            blocks.extend(folder.chart(&stop.name, Some(chart))?);
        }
        Ok(blocks)
    }
}
