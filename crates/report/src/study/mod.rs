//! Studies: a recipe turned into one folder with a report.
//!
//! The folder holds `report.html`, `report.md`, `recipe.toml`, `figures/` and `data/`; what is large
//! lies in `work/`, which the report does not need. Stages that still fit are not done again.

mod assemble;
mod collections;
mod folder;
mod part;
mod recipe;
mod run;
mod sections;
mod stages;

use std::fs;
use std::path::{Path, PathBuf};

use tallyhouse_collection::Progress;
use tallyhouse_document::Verdict;
use tallyhouse_storage::{Files, OutFolder, Sharing, StorageError};

pub use tallyhouse_figures::Paper;

pub use collections::{FirstPuzzles, first_puzzles};
pub use recipe::{
    BUILT_IN, Lead, OrderSearch, Origin, StudyCharts, StudyCollection, StudyCompare, StudyEffort,
    StudyPanel, StudyRecipe, StudySpecimens, StudyTimings, StudyWorksheet, StudyYields,
    WantedSpecimens,
};

use collections::{Collected, Study};
use run::Run;
use stages::{Ledger, Stages};

use crate::ReportError;
use crate::charts::CellLinks;
use crate::error::io_error;

/// A study and where it goes.
#[derive(Clone, Debug)]
pub struct StudySettings {
    /// The recipe.
    pub recipe: StudyRecipe,
    /// Its text, which is kept beside the report.
    pub recipe_text: String,
    /// Its file; none if it is built in.
    pub recipe_path: Option<PathBuf>,
    /// The folder.
    pub out: PathBuf,
    /// Whether another study in the folder is replaced.
    pub replace: bool,
    /// The command that makes the study, for the report.
    pub command: String,
    /// Whether what the report says first is also written alone, as one page.
    pub brief: bool,
    /// What pages are printed on.
    pub paper: Paper,
}

/// What a finished study did.
#[derive(Clone, Debug)]
pub struct Studied {
    /// The stages that were done.
    pub done: Vec<String>,
    /// The stages that were still good.
    pub kept: Vec<String>,
    /// What the report begins with.
    pub told: Told,
    /// What a reader should know before the numbers: rows that were rejected.
    pub warnings: Vec<String>,
}

/// What a report says first.
#[derive(Clone, Debug, Default)]
pub struct Told {
    /// The story: three to five sentences.
    pub story: Vec<String>,
    /// The verdicts, with the titles of their sections.
    pub verdicts: Vec<(String, Vec<Verdict>)>,
}

/// Hears what a study is doing.
pub trait StudyProgress: Sync {
    /// A stage begins; the returned progress hears how far it comes.
    fn stage(
        &self,
        verb: &'static str,
        units: &'static str,
        total: Option<u64>,
    ) -> Box<dyn Progress>;
}

/// Runs a study.
///
/// # Errors
/// If the folder holds something else, or a stage fails.
pub fn run(settings: &StudySettings, progress: &dyn StudyProgress) -> Result<Studied, ReportError> {
    let recipe = &settings.recipe;
    let out = &settings.out;
    if let Some(parent) = out.parent() {
        fs::create_dir_all(parent).map_err(StorageError::write(parent))?;
    }
    let folder = OutFolder::claim(out, Sharing::Exclusive)?;
    let mut stages = Stages::open(&folder, settings, stages::program())?;
    let mut run = Run::new(settings, progress, &mut stages);
    let collections = recipe.collections.iter().map(|one| Collected::new(&mut run, one));
    let mut collections = collections.collect::<Result<Vec<_>, _>>()?;
    for Collected { collection, census, .. } in &mut collections {
        census.cells_lead_to = CellLinks::Rows(sections::shapes_table_id(&collection.name));
    }
    if let Some(shown) = recipe.specimens.as_ref().filter(|specimens| specimens.gallery) {
        collections[shown.collection].census.cells_lead_to = CellLinks::Specimens;
    }
    let study = Study { recipe, collections };
    for section in sections::IN_ORDER {
        for part in section(&study)? {
            part.run(&mut run)?;
        }
    }
    let folders = run.folders;
    stages.tidy()?;
    let mut studied = Studied {
        told: Told::default(),
        done: stages.done.clone(),
        kept: stages.kept.clone(),
        warnings: study.collections.iter().filter_map(Collected::warning).collect(),
    };
    stages.finish(&settings.recipe_text, |aside| {
        studied.told = assemble::write(settings, &study, &folders, aside)?;
        Ok(())
    })?;
    Ok(studied)
}

/// Does a study again in a folder of its own and returns how its numbers differ from those that are
/// there: file by file, nothing if they agree.
///
/// # Errors
/// If there is no such study, or as [`run`].
pub fn check(
    settings: &StudySettings,
    progress: &dyn StudyProgress,
) -> Result<Vec<String>, ReportError> {
    let missing = |path: &Path| ReportError::Folder {
        path: path.to_owned(),
        reason: "holds no study to check".to_owned(),
    };
    let there = &settings.out;
    let ledger = Ledger::read(there)?.ok_or_else(|| missing(there))?;
    let aside =
        tempfile::Builder::new().prefix(".tallyhouse-check-").tempdir().map_err(io_error(there))?;
    let out = aside.path().join("study");
    run(&StudySettings { out: out.clone(), ..settings.clone() }, progress)?;
    let below = |path: &Path| if path.is_dir() { Files::of(path) } else { Ok(Files::default()) };
    let mut differences = Vec::new();
    for file in ["report.md", "report.html"] {
        let read = |folder: &Path| fs::read(folder.join(file)).ok();
        if read(there) != read(&out) {
            differences.push(format!("{file} differs"));
        }
    }
    for folder in ["data", "figures"] {
        let (old, new) = (below(&there.join(folder))?, below(&out.join(folder))?);
        for (name, written) in new.iter() {
            match old.get(name) {
                None => differences.push(format!("{folder}/{name} is missing")),
                Some(other) if other != written => {
                    differences.push(format!("{folder}/{name} differs"));
                }
                Some(_) => {}
            }
        }
        let extra = old.iter().filter(|(name, _)| new.get(name).is_none());
        differences.extend(extra.map(|(name, _)| format!("{folder}/{name} is not made any more")));
    }
    if differences.is_empty() {
        differences.extend(ledger.check(there).err().map(|fault| fault.to_string()));
    }
    Ok(differences)
}
