//! The stages of a study: each has a key made of all it depends on, and is done again only if the key
//! or a file it wrote has changed.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tallyhouse_census::write_file;

use super::StudyError;

/// The file that remembers the stages.
pub(super) const LEDGER: &str = "study.json";

/// How folders begin that are filled aside: those of stages and that of the report.
pub(super) const UNFINISHED: [&str; 2] = [".stage-", ".report-"];

/// Removes what runs left that were ended before their time.
pub(super) fn remove_unfinished(folder: &Path) -> Result<(), StudyError> {
    for entry in fs::read_dir(folder).map_err(io_error(folder))? {
        let entry = entry.map_err(io_error(folder))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if UNFINISHED.iter().any(|begin| name.starts_with(begin)) && entry.path().is_dir() {
            fs::remove_dir_all(entry.path()).map_err(io_error(&entry.path()))?;
        }
    }
    Ok(())
}

/// What is known of the stages of a study folder.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Ledger {
    /// The name of the study.
    pub(super) name: String,
    stages: BTreeMap<String, Stage>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Stage {
    key: String,
    /// The digest of each file of the stage's folder.
    files: BTreeMap<String, String>,
}

/// Runs stages in a study folder.
pub(super) struct Stages<'a> {
    folder: &'a Path,
    ledger: Ledger,
    /// What tells this program from others: another one may count otherwise.
    program: String,
    /// The names of the stages that were done.
    pub(super) done: Vec<String>,
    /// The names of the stages that were still good.
    pub(super) kept: Vec<String>,
}

fn io_error(path: &Path) -> impl FnOnce(io::Error) -> StudyError + '_ {
    move |error| StudyError::Io { path: path.to_owned(), error }
}

/// Returns the digest of the running program; its version where its file can't be read.
pub(super) fn program() -> String {
    let digest = std::env::current_exe().and_then(|path| {
        let mut hasher = blake3::Hasher::new();
        hasher.update_reader(fs::File::open(path)?)?;
        Ok(hasher.finalize().to_hex().to_string())
    });
    digest.unwrap_or_else(|_| env!("CARGO_PKG_VERSION").to_owned())
}

/// Lists the files below a folder with their digests, in order.
pub(super) fn digests(folder: &Path) -> Result<BTreeMap<String, String>, StudyError> {
    let mut files = BTreeMap::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).map_err(io_error(&next))? {
            let path = entry.map_err(io_error(&next))?.path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let mut hasher = blake3::Hasher::new();
            let file = fs::File::open(&path).map_err(io_error(&path))?;
            hasher.update_reader(file).map_err(io_error(&path))?;
            let name = path.strip_prefix(folder).unwrap_or(&path).display().to_string();
            files.insert(name, hasher.finalize().to_hex().to_string());
        }
    }
    Ok(files)
}

impl<'a> Stages<'a> {
    pub(super) fn open(folder: &'a Path, name: &str, program: String) -> Self {
        let text = fs::read_to_string(folder.join(LEDGER)).unwrap_or_default();
        // A damaged ledger only means that everything is done again.
        let mut ledger: Ledger = serde_json::from_str(&text).unwrap_or_default();
        name.clone_into(&mut ledger.name);
        Self { folder, ledger, program, done: Vec::new(), kept: Vec::new() }
    }

    /// Runs a stage that fills the folder `at`, unless it is still good, and returns the digest of
    /// what it wrote, for the keys of later stages.
    pub(super) fn run(
        &mut self,
        at: &str,
        depends: &impl Serialize,
        fill: impl FnOnce(&Path) -> Result<(), StudyError>,
    ) -> Result<String, StudyError> {
        let target = self.folder.join(at);
        let text = serde_json::to_string(&(&self.program, depends))?;
        let key = blake3::hash(text.as_bytes()).to_hex().to_string();
        let good = self.ledger.stages.get(at).is_some_and(|stage| {
            stage.key == key && target.is_dir() && digests(&target).is_ok_and(|d| d == stage.files)
        });
        if good {
            self.kept.push(at.to_owned());
        } else {
            self.fill(&target, fill)?;
            let stage = Stage { key, files: digests(&target)? };
            self.ledger.stages.insert(at.to_owned(), stage);
            self.save()?;
            self.done.push(at.to_owned());
        }
        let files = &self.ledger.stages[at].files;
        Ok(blake3::hash(serde_json::to_string(files)?.as_bytes()).to_hex().to_string())
    }

    /// Fills a folder beside and puts it in place as a whole.
    fn fill(
        &self,
        target: &Path,
        fill: impl FnOnce(&Path) -> Result<(), StudyError>,
    ) -> Result<(), StudyError> {
        let aside = tempfile::Builder::new()
            .prefix(UNFINISHED[0])
            .tempdir_in(self.folder)
            .map_err(io_error(self.folder))?;
        let made = aside.path().join("made");
        fs::create_dir(&made).map_err(io_error(&made))?;
        fill(&made)?;
        if let Some(parent) = target.parent() {
            fs::create_dir_all(parent).map_err(io_error(parent))?;
        }
        if target.exists() {
            fs::remove_dir_all(target).map_err(io_error(target))?;
        }
        fs::rename(&made, target).map_err(io_error(target))
    }

    fn save(&self) -> Result<(), StudyError> {
        let text = serde_json::to_string_pretty(&self.ledger)?;
        write_file(&self.folder.join(LEDGER), |writer| {
            io::Write::write_all(writer, text.as_bytes())
        })?;
        Ok(())
    }

    /// Removes what earlier recipes left: folders of stages that were not asked for this time.
    pub(super) fn tidy(&mut self) -> Result<(), StudyError> {
        let asked: Vec<&String> = self.done.iter().chain(&self.kept).collect();
        let stale: Vec<String> =
            self.ledger.stages.keys().filter(|name| !asked.contains(name)).cloned().collect();
        for name in stale {
            let folder: PathBuf = self.folder.join(&name);
            if folder.is_dir() {
                fs::remove_dir_all(&folder).map_err(io_error(&folder))?;
            }
            self.ledger.stages.remove(&name);
        }
        self.save()
    }
}
