//! The stages of a study, one after the other.

use std::fs;
use std::path::Path;

use serde::Serialize;
use tallyhouse_document::Section;

use super::collections::Collected;
use super::folder::StageFolder;
use super::part::{Found, Part};
use super::stages::Stages;
use super::{StudyError, StudyProgress, StudyRecipe, StudySettings, sections};

/// A study whose collections are there: what its sections measure.
pub(super) struct Study<'a> {
    pub(super) recipe: &'a StudyRecipe,
    pub(super) collections: Vec<Collected<'a>>,
}

/// A study while it runs.
pub(super) struct Run<'a, 'b> {
    pub(super) settings: &'a StudySettings,
    pub(super) progress: &'a dyn StudyProgress,
    stages: &'b mut Stages<'a>,
    /// The folders that the report is put together from, in its order.
    pub(super) folders: Vec<String>,
}

impl<'a, 'b> Run<'a, 'b> {
    pub(super) fn new(
        settings: &'a StudySettings,
        progress: &'a dyn StudyProgress,
        stages: &'b mut Stages<'a>,
    ) -> Self {
        Self { settings, progress, stages, folders: Vec::new() }
    }

    /// Does all stages that are not done yet.
    pub(super) fn all(&mut self) -> Result<Study<'a>, StudyError> {
        let recipe = &self.settings.recipe;
        let collections = recipe.collections.iter().map(|one| Collected::new(self, one));
        let collections = collections.collect::<Result<_, _>>()?;
        let study = Study { recipe, collections };
        for section in sections::IN_ORDER {
            for part in section(&study)? {
                part.run(self)?;
            }
        }
        Ok(study)
    }

    /// Runs a stage and returns the digest of what it wrote, for the keys of later stages.
    pub(super) fn stage(
        &mut self,
        folder: &str,
        name: &str,
        depends: &impl Serialize,
        fill: impl FnOnce(&StageFolder<'_>) -> Result<(), StudyError>,
    ) -> Result<String, StudyError> {
        let charts = &self.settings.recipe.charts;
        let fill = |path: &Path| fill(&StageFolder { path, name, charts });
        self.stages.run(folder, depends, fill)
    }

    /// Measures and shows a part.
    pub(super) fn part<P: Part>(&mut self, part: &P) -> Result<(), StudyError> {
        let recipe = &self.settings.recipe;
        let name = part.name();
        let (measured, shown) = (format!("work/{name}"), format!("work/{name}-shown"));
        let progress = self.progress;
        let digest = self.stage(&measured, &name, &(&name, part.depends()?), |folder| {
            folder.keep(FOUND, &part.measure(folder, progress)?)
        })?;
        let titles: Vec<&str> = recipe.collections.iter().map(|one| one.title.as_str()).collect();
        let found = self.settings.out.join(&measured).join(FOUND);
        self.stage(&shown, &name, &(&digest, titles, &recipe.charts), |folder| {
            // What was just measured is read as what was kept, so that both are shown alike.
            let text = fs::read_to_string(&found)
                .map_err(|error| StudyError::Io { path: found.clone(), error })?;
            let Found { intro, before, after, findings, data } =
                serde_json::from_str::<Found<P::Data>>(&text)?;
            let mut blocks = before;
            blocks.extend(part.draw(&data, folder)?);
            blocks.extend(after);
            folder.keep(FINDINGS, &findings)?;
            folder.keep(SECTION, &Section { id: name.clone(), title: part.title(), intro, blocks })
        })?;
        self.folders.extend([measured, shown]);
        Ok(())
    }
}

/// The file with what a part found.
const FOUND: &str = "found.json";
/// The file with what a part says in short.
pub(super) const FINDINGS: &str = "findings.json";
/// The file with the section that shows a part.
pub(super) const SECTION: &str = "section.json";
