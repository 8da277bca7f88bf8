//! The parts of a report: what each measures, which is kept, and how that is shown.

use std::fs;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use tallyhouse_document::{Block, Section};
use tallyhouse_words::sentence_start;

use super::folder::StageFolder;
use super::run::Run;
use super::{StudyCollection, StudyProgress};
use crate::ReportError;
use crate::error::io_error;

/// Something that a study found, besides its verdicts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Finding {
    /// Whether it belongs to the story that the report begins with.
    #[serde(default)]
    pub(super) leads: bool,
    /// The name of the collection, if it is about one.
    pub(super) collection: Option<String>,
    /// What was found: a clause that begins in lower case or with a number, and ends without a stop.
    pub(super) words: String,
}

/// What a part found: its text, and what its pictures are drawn from.
#[derive(Serialize, Deserialize)]
pub(super) struct Found<T> {
    /// The first paragraph.
    pub(super) intro: String,
    /// What stands before the pictures.
    pub(super) before: Vec<Block>,
    /// What stands after them.
    pub(super) after: Vec<Block>,
    /// What the report says in short.
    pub(super) findings: Vec<Finding>,
    /// What the pictures are drawn from.
    pub(super) data: T,
}

impl<T> Found<T> {
    /// Nothing but what pictures are drawn from.
    pub(super) const fn pictures(intro: String, data: T) -> Self {
        Self { intro, before: Vec::new(), after: Vec::new(), findings: Vec::new(), data }
    }
}

/// A section of a report. What it measures is kept until something changes that it depends on; other
/// titles, themes and kinds of charts only show it again.
pub(super) trait Part {
    /// What the pictures are drawn from.
    type Data: Serialize + DeserializeOwned;

    /// Returns the anchor of the section, which is also the name of its folder.
    fn name(&self) -> String;

    /// Returns the heading.
    fn title(&self) -> String;

    /// Returns all that the numbers depend on, besides the program.
    fn depends(&self) -> Result<serde_json::Value, ReportError>;

    /// Measures, and writes the data.
    fn measure(
        &self,
        folder: &StageFolder<'_>,
        progress: &dyn StudyProgress,
    ) -> Result<Found<Self::Data>, ReportError>;

    /// Draws the pictures.
    fn draw(&self, data: &Self::Data, folder: &StageFolder<'_>) -> Result<Vec<Block>, ReportError>;
}

/// A part of any kind.
pub(super) trait AnyPart {
    /// Measures and shows it, as far as that has not been done.
    fn run(&self, run: &mut Run<'_, '_>) -> Result<(), ReportError>;
}

impl<P: Part> AnyPart for P {
    fn run(&self, run: &mut Run<'_, '_>) -> Result<(), ReportError> {
        let recipe = &run.settings.recipe;
        let name = self.name();
        let (measured, shown) = (format!("work/{name}"), format!("work/{name}-shown"));
        let progress = run.progress;
        let digest = run.stage(&measured, &name, &(&name, self.depends()?), |folder| {
            folder.keep(FOUND, &self.measure(folder, progress)?)
        })?;
        let titles: Vec<&str> = recipe.collections.iter().map(|one| one.title.as_str()).collect();
        let found = run.settings.out.join(&measured).join(FOUND);
        run.stage(&shown, &name, &(&digest, titles, &recipe.charts), |folder| {
            // What was just measured is read as what was kept, so that both are shown alike.
            let text = fs::read_to_string(&found).map_err(io_error(&found))?;
            let Found { intro, before, after, findings, data } =
                serde_json::from_str::<Found<P::Data>>(&text)?;
            let mut blocks = before;
            blocks.extend(self.draw(&data, folder)?);
            blocks.extend(after);
            folder.keep(FINDINGS, &findings)?;
            folder.keep(SECTION, &Section { id: name.clone(), title: self.title(), intro, blocks })
        })?;
        run.folders.extend([measured, shown]);
        Ok(())
    }
}

/// The file with what a part found.
const FOUND: &str = "found.json";
/// The file with what a part says in short.
pub(super) const FINDINGS: &str = "findings.json";
/// The file with the section that shows a part.
pub(super) const SECTION: &str = "section.json";

/// The parts that a section makes of a study: none, one, or one for each collection.
pub(super) type Parts<'a> = Result<Vec<Box<dyn AnyPart + 'a>>, ReportError>;

/// Writes findings as paragraphs, with the titles of their collections if there are several.
pub(super) fn paragraphs(findings: &[Finding], collections: &[StudyCollection]) -> Vec<String> {
    let title = |name: &String| {
        let found = collections.iter().find(|collection| collection.name == *name);
        found.filter(|_| collections.len() > 1).map(|collection| collection.title.as_str())
    };
    let paragraph = |finding: &Finding| match finding.collection.as_ref().and_then(title) {
        Some(title) => sentence(&format!("{title}: {}", finding.words)),
        None => sentence(&finding.words),
    };
    findings.iter().map(paragraph).collect()
}

/// Makes a sentence of a clause.
pub(super) fn sentence(clause: &str) -> String {
    let end = if clause.ends_with(['?', '.']) { "" } else { "." };
    sentence_start(clause) + end
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::Origin;

    #[test]
    fn collections_are_named_where_there_are_several() {
        let collection = |name: &str, title: &str| StudyCollection {
            name: name.to_owned(),
            title: title.to_owned(),
            origin: Origin::Read { files: Vec::new() },
        };
        let collections = [collection("a", "easy ones"), collection("b", "hard ones")];
        let found = [
            Finding {
                leads: false,
                collection: Some("a".to_owned()),
                words: "in 5 % of puzzles".to_owned(),
            },
            Finding { leads: false, collection: None, words: "both agree".to_owned() },
        ];
        assert_eq!(
            paragraphs(&found, &collections),
            ["Easy ones: in 5 % of puzzles.", "Both agree."]
        );
        assert_eq!(paragraphs(&found[..1], &collections[..1]), ["In 5 % of puzzles."]);
    }
}
