//! The stages of a study, one after the other.

use std::path::Path;

use serde::Serialize;

use super::folder::StageFolder;
use super::stages::Stages;
use super::{StudyProgress, StudySettings};
use crate::ReportError;

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

    /// Runs a stage and returns the digest of what it wrote, for the keys of later stages.
    pub(super) fn stage(
        &mut self,
        folder: &str,
        name: &str,
        depends: &impl Serialize,
        fill: impl FnOnce(&StageFolder<'_>) -> Result<(), ReportError>,
    ) -> Result<String, ReportError> {
        let charts = &self.settings.recipe.charts;
        let fill = |path: &Path| fill(&StageFolder { path, name, charts });
        self.stages.run(folder, depends, fill)
    }
}
