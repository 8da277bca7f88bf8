//! `tallyhouse verify`: are folders as they were written?

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::ensure;
use clap::Args;
use serde::Serialize;
use tallyhouse_storage::{Digest, Files, RelativePath, STUDY, WORK, contents};
use tallyhouse_words::counted;

use crate::messages;
use crate::options::Json;

/// Check that folders are as they were written
///
/// DIR is what another command wrote: a dataset, a collection, a study, a trial or any other folder
/// with manifest.json or study.json. Every file that it lists is read and compared with its digest.
/// One line tells of each folder; the exit code is 1 if a file is missing or has changed. Of a study that is
/// published without its folder work, the other files are compared.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tallyhouse verify collection
  tallyhouse verify collection trial --json")]
pub(crate) struct Verify {
    /// Folders that tallyhouse wrote
    #[arg(required = true, value_name = "DIR")]
    folders: Vec<PathBuf>,
    #[command(flatten)]
    json: Json,
}

/// What a folder is like: the contract of `--json`.
#[derive(Serialize)]
struct Verified<'a> {
    folder: &'a Path,
    good: bool,
    /// How many files it lists, the list included; none if the list can't be read.
    files: Option<usize>,
    /// How many of them lie in the work folder of a study that is not here.
    left_out: usize,
    /// The digest of the list.
    blake3: Option<Digest>,
    /// What is wrong.
    fault: Option<String>,
}

impl<'a> Verified<'a> {
    fn of(folder: &'a Path) -> Self {
        let mut left_out = 0;
        let (files, fault) = match contents(folder) {
            _ if folder.is_file() => {
                let found = folder.display();
                let fault =
                    format!("{found}: found a file, expected a folder that tallyhouse wrote");
                (None, Some(fault))
            }
            Ok(Some(files)) => {
                let mut here = files.clone();
                left_out = take_work(&mut here, folder);
                let fault = here.check(folder).err().map(|error| error.to_string());
                (Some(files), fault)
            }
            Ok(None) => {
                let fault = format!(
                    "{}: found neither manifest.json nor study.json, expected a finished folder of \
                     tallyhouse",
                    folder.display()
                );
                (None, Some(fault))
            }
            Err(error) => (None, Some(error.to_string())),
        };
        Self {
            folder,
            good: fault.is_none(),
            files: files.as_ref().map(Files::len),
            blake3: files.as_ref().map(Files::digest),
            left_out,
            fault,
        }
    }

    fn tell(&self, out: &mut dyn Write) -> io::Result<()> {
        match (&self.fault, self.files) {
            (Some(fault), _) => writeln!(out, "{fault}"),
            (None, files) => {
                let files = counted(files.unwrap_or_default() as u64, "file", "files");
                write!(out, "{}: good, {files}", self.folder.display())?;
                match self.left_out {
                    0 => writeln!(out),
                    left_out => writeln!(out, ", {left_out} of them in {WORK}, which is not here"),
                }
            }
        }
    }
}

/// Takes the files of a study's work folder off the list if there is no such folder, and counts them.
fn take_work(files: &mut Files, folder: &Path) -> usize {
    match WORK.parse::<RelativePath>() {
        Ok(work) if folder.join(STUDY).exists() && !folder.join(WORK).exists() => {
            files.take_below(&work).len()
        }
        _ => 0,
    }
}

impl Verify {
    pub(crate) fn run(&self) -> anyhow::Result<()> {
        let all: Vec<Verified<'_>> = self.folders.iter().map(|path| Verified::of(path)).collect();
        if self.json.json {
            messages::print_json(&all)?;
        } else {
            let mut out = io::stdout().lock();
            all.iter().try_for_each(|verified| verified.tell(&mut out))?;
        }
        let bad = all.iter().filter(|verified| !verified.good).count();
        ensure!(
            bad == 0,
            "{bad} of {} not as written",
            counted(all.len() as u64, "folder", "folders")
        );
        Ok(())
    }
}
