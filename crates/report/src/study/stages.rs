//! The stages of a study: each has a key made of all it depends on, and is done again only if the key
//! or a file it wrote has changed.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tallyhouse_collection::Rejects;
use tallyhouse_storage::{
    Digest, Files, OutFolder, RelativePath, STUDY, Staging, StorageError, WORK, read_sealed,
    write_sealed,
};

use super::StudySettings;
use crate::ReportError;

/// What is known of a study folder.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Ledger {
    /// The name of the study.
    name: String,
    /// The key of each stage, by its folder.
    stages: BTreeMap<RelativePath, Digest>,
    /// All files of the folder but this one: those of stages, and those of the report if it is done.
    files: Files,
}

impl Ledger {
    /// Reads that of a folder; `None` if there is none.
    pub(super) fn read(folder: &Path) -> Result<Option<Self>, StorageError> {
        read_sealed(&folder.join(STUDY))
    }

    /// Fails if a file of the study is not as it was written.
    pub(super) fn check(&self, folder: &Path) -> Result<(), StorageError> {
        self.files.check(folder)
    }

    /// Returns the files of the report.
    fn report(&self) -> Files {
        let mut report = self.files.clone();
        report.take_below(&path(WORK));
        report
    }
}

/// Runs stages in a study folder.
pub(super) struct Stages<'a> {
    folder: &'a OutFolder,
    ledger: Ledger,
    /// The recipe that is run, if it lies in the folder: it is the user's.
    recipe: Option<RelativePath>,
    /// What tells this program from others: another one may count otherwise.
    program: String,
    /// The names of the stages that were done.
    pub(super) done: Vec<String>,
    /// The names of the stages that were still good.
    pub(super) kept: Vec<String>,
}

/// Returns the digest of the running program; its version where its file can't be read.
pub(super) fn program() -> String {
    let digest = std::env::current_exe().and_then(|path| Digest::of_file(&path));
    digest.map_or_else(|_| env!("CARGO_PKG_VERSION").to_owned(), |digest| digest.to_string())
}

/// Returns a path that this module names.
fn path(name: &str) -> RelativePath {
    match name.parse() {
        Ok(path) => path,
        Err(error) => unreachable!("{error}"),
    }
}

impl<'a> Stages<'a> {
    /// Begins in a folder that holds nothing but the same study, or one that may be replaced.
    pub(super) fn open(
        folder: &'a OutFolder,
        settings: &StudySettings,
        program: String,
    ) -> Result<Self, ReportError> {
        let name = &settings.recipe.name;
        let at = folder.path();
        let recipe = settings.recipe_path.as_deref().and_then(|recipe| within(at, recipe));
        let ledger = Ledger::read(at)?;
        if let Some(earlier) = &ledger
            && earlier.name != *name
            && !settings.replace
        {
            return Err(ReportError::Folder {
                path: at.to_owned(),
                reason: format!(
                    "holds the study '{}', not '{name}': choose another folder, or allow it to be \
                     replaced with --replace",
                    earlier.name
                ),
            });
        }
        let mut besides = vec![path(STUDY)];
        besides.extend(recipe.clone());
        let ledger = ledger.unwrap_or_default();
        folder.expect_only(&ledger.files, &besides)?;
        let ledger = Ledger { name: name.clone(), ..ledger };
        let stages = Self { folder, ledger, recipe, program, done: Vec::new(), kept: Vec::new() };
        stages.expect_own_report()?;
        folder.sweep_file(STUDY)?;
        Ok(stages)
    }

    /// Fails if somebody has changed a file of the report.
    fn expect_own_report(&self) -> Result<(), StorageError> {
        let mut report = self.ledger.report();
        if let Some(recipe) = &self.recipe {
            report.remove(recipe);
        }
        self.folder.expect_unchanged(&report)
    }

    /// Runs a stage that fills the folder `at`, unless it is still good, and returns the digest of
    /// what it wrote, for the keys of later stages.
    pub(super) fn run(
        &mut self,
        at: &str,
        depends: &impl Serialize,
        fill: impl FnOnce(&Path) -> Result<(), ReportError>,
    ) -> Result<String, ReportError> {
        let stage = path(at);
        let text = serde_json::to_string(&(&self.program, depends))?;
        let key = Digest::of(text.as_bytes());
        let old = self.ledger.files.clone().take_below(&stage);
        let is_good = self.ledger.stages.get(&stage) == Some(&key)
            && !old.is_empty()
            && old.check(&stage.below(self.folder.path())).is_ok();
        if is_good {
            self.kept.push(at.to_owned());
            return Ok(old.digest().to_string());
        }
        let staging = self.folder.stage()?;
        if let Err(error) = fill(staging.made()) {
            return Err(self.keep_rejects(&stage, old, error));
        }
        let mut files = self.put(&stage, old, staging, key)?;
        self.done.push(at.to_owned());
        Ok(files.take_below(&stage).digest().to_string())
    }

    /// Puts what was filled in the place of what a stage wrote before.
    fn put(
        &mut self,
        stage: &RelativePath,
        old: Files,
        staging: Staging,
        key: Digest,
    ) -> Result<Files, StorageError> {
        self.folder.discard(&old.seen_from_above(stage), None)?;
        let files = staging.install(Some(stage), None)?;
        self.ledger.files.take_below(stage);
        self.ledger.files.extend(&files);
        self.ledger.stages.insert(stage.clone(), key);
        self.save()?;
        // Until the list names the files, they are known by what is aside.
        drop(staging);
        Ok(files)
    }

    /// Keeps the list of rejected rows that an error names, where the stage would have been, and lets the
    /// error name it there. The stage is to be done again.
    fn keep_rejects(
        &mut self,
        stage: &RelativePath,
        old: Files,
        mut error: ReportError,
    ) -> ReportError {
        let Some(rejects) = error.rejects_mut() else { return error };
        match self.put_rejects(stage, old, rejects) {
            Ok(kept) => *rejects = kept,
            Err(failed) => return failed.into(),
        }
        error
    }

    fn put_rejects(
        &mut self,
        stage: &RelativePath,
        old: Files,
        rejects: &Path,
    ) -> Result<PathBuf, StorageError> {
        let staging = self.folder.stage()?;
        let copy = staging.made().join(Rejects::FILE_NAME);
        fs::copy(rejects, &copy).map_err(StorageError::write(&copy))?;
        // No key is the digest of this.
        self.put(stage, old, staging, Digest::of(b"failed"))?;
        Ok(stage.below(self.folder.path()).join(Rejects::FILE_NAME))
    }

    fn save(&self) -> Result<(), StorageError> {
        write_sealed(&self.folder.path().join(STUDY), &self.ledger).map(drop)
    }

    /// Removes what earlier recipes left: folders of stages that were not asked for this time.
    pub(super) fn tidy(&mut self) -> Result<(), StorageError> {
        let asked: Vec<&String> = self.done.iter().chain(&self.kept).collect();
        let is_stale = |stage: &&RelativePath| !asked.iter().any(|asked| *asked == stage.as_str());
        let stale: Vec<RelativePath> =
            self.ledger.stages.keys().filter(is_stale).cloned().collect();
        for stage in &stale {
            let files = self.ledger.files.clone().take_below(stage);
            self.folder.discard(&files.seen_from_above(stage), None)?;
            self.ledger.files.take_below(stage);
            self.ledger.stages.remove(stage);
        }
        if stale.is_empty() { Ok(()) } else { self.save() }
    }

    /// Puts the report in the place of the one before, and the list of all files last: the study is
    /// then whole. `fill` makes the report; `recipe` is its recipe.
    pub(super) fn finish(
        &mut self,
        recipe: &str,
        fill: impl FnOnce(&Path) -> Result<(), ReportError>,
    ) -> Result<(), ReportError> {
        let staging = self.folder.stage()?;
        fill(staging.made())?;
        self.expect_own_report()?;
        let report = Files::of(staging.made())?;
        if self.runs_own_recipe(recipe)? {
            // It is there already and stays the user's, should this be broken off.
            let copy = staging.made().join(RECIPE);
            fs::remove_file(&copy).map_err(StorageError::write(&copy))?;
        }
        let mut stale = self.ledger.report();
        report.iter().for_each(|(path, _)| stale.remove(path));
        let work = self.ledger.files.take_below(&path(WORK));
        self.ledger.files = work.seen_from_above(&path(WORK));
        self.ledger.files.extend(&report);
        write_sealed(&staging.made().join(STUDY), &self.ledger)?;
        self.folder.discard(&stale, None)?;
        staging.install(None, Some(STUDY))?;
        Ok(())
    }

    /// Tests if the recipe that was run is that of the folder; fails if it was changed in the meantime.
    fn runs_own_recipe(&self, text: &str) -> Result<bool, StorageError> {
        let folder = self.folder.path();
        let is_own = self.recipe.as_ref().is_some_and(|recipe| recipe.as_str() == RECIPE);
        match fs::read(folder.join(RECIPE)) {
            Ok(found) if is_own && found != text.as_bytes() => {
                Err(StorageError::Edited { folder: folder.to_owned(), found: RECIPE.to_owned() })
            }
            found => Ok(is_own && found.is_ok()),
        }
    }
}

/// The recipe beside the report.
pub(super) const RECIPE: &str = "recipe.toml";

/// Returns how a file is seen from a folder, if it lies below.
fn within(folder: &Path, file: &Path) -> Option<RelativePath> {
    let real = |path: &Path| -> Option<PathBuf> { path.canonicalize().ok() };
    let below = real(file)?.strip_prefix(real(folder)?).ok()?.to_owned();
    below.to_str()?.parse().ok()
}
