//! A dataset whose files are exchanged for others, with lists and digests as if they had been written so:
//! what lies behind the digests is reached.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use tallyhouse_census::{CensusError, Dataset, Per, Question, QuestionError, Settings};
use tallyhouse_collection::{Silent, Source};
use tallyhouse_stats::Level;
use tallyhouse_storage::{Digest, Files, Written, read_json, write_json, write_sealed};
use tempfile::TempDir;

/// Made by random deletion; their walks take looks of all sizes.
const PUZZLES: &[u8] = include_bytes!("../seeds/puzzles.txt");

/// The tables of a dataset; each has one part.
pub const PARTS: [&str; 3] = [
    "puzzles/part-00000000.parquet",
    "positions/part-00000000.parquet",
    "subsets/part-00000000.parquet",
];

/// A dataset in a folder of its own.
pub struct Forged {
    _parent: TempDir,
    folder: PathBuf,
    files: Files,
    manifest: Value,
    parts: [Vec<u8>; PARTS.len()],
}

impl Forged {
    /// Scans the puzzles of the seeds.
    ///
    /// # Panics
    /// If the program can't.
    pub fn new() -> Self {
        let parent = tempfile::tempdir().expect("a folder can be made");
        let folder = parent.path().join("dataset");
        let source = vec![Source::memory("puzzles.txt", PUZZLES)];
        let settings = Settings { keep_states: true, ..Settings::new(source, folder.clone()) };
        tallyhouse_census::run(&settings, &Silent).expect("the puzzles are good");
        let read = |name: &str| -> Value {
            read_json(&folder.join(name)).expect("it was just written").expect("it is there")
        };
        let manifest = read("manifest.json");
        let files = serde_json::from_value(read("files.json")).expect("a list of files");
        let parts = PARTS.map(|part| fs::read(folder.join(part)).expect("it was just written"));
        let forged = Self { _parent: parent, folder, files, manifest, parts };
        // As it is, it reads to its end, also with lists that were written anew.
        for (part, bytes) in PARTS.iter().zip(&forged.parts) {
            forged.put(part, b"no table");
            read_all(&forged.folder).expect_err("one part is no table");
            forged.put(part, bytes);
            read_all(&forged.folder).expect("nothing was changed");
        }
        forged
    }

    /// Returns the folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Exchanges a part, and lists it as if it had been written so; all others are as at first.
    ///
    /// # Panics
    /// If the folder can't be written.
    pub fn put(&self, name: &str, bytes: &[u8]) {
        for (part, good) in PARTS.iter().zip(&self.parts) {
            let bytes = if *part == name { bytes } else { good };
            fs::write(self.folder.join(part), bytes).expect("the folder is ours");
        }
        let written = Written { bytes: bytes.len() as u64, blake3: Digest::of(bytes) };
        let mut files = self.files.clone();
        files.insert(name.parse().expect("a path below a folder"), written);
        self.seal(&files, self.manifest.clone());
    }

    /// Exchanges the manifest, and seals it; the list of files is ours.
    ///
    /// # Panics
    /// If the folder can't be written.
    pub fn put_manifest(&self, manifest: Value) {
        self.seal(&self.files, manifest);
    }

    fn seal(&self, files: &Files, mut manifest: Value) {
        let list = write_json(&self.folder.join("files.json"), files).expect("the folder is ours");
        let list = json!({ "list": "files.json", "bytes": list.bytes, "blake3": list.blake3 });
        if let Value::Object(members) = &mut manifest {
            members.remove("seal");
            members.insert("files".to_owned(), list);
            let at = self.folder.join("manifest.json");
            write_sealed(&at, members).expect("the folder is ours");
        }
    }
}

/// Reads all that a dataset can be asked for; returns how many positions were visited.
///
/// # Errors
/// As the library.
pub fn read_all(folder: &Path) -> Result<usize, CensusError> {
    let dataset = Dataset::open(folder)?;
    dataset.each_puzzle(0, &mut |_| ())?;
    let mut positions = Vec::new();
    let subsets = dataset.each_position(0, &mut |at| positions.push((at.puzzle, at.position)))?;
    dataset.check_subsets(subsets)?;
    let boards = dataset.boards(0)?;
    assert_eq!(boards.rebuild(&positions)?.len(), positions.len());
    // Only the first part is ours.
    if dataset.manifest().parts == 1 {
        let by = ["open".to_owned(), "naked".to_owned()];
        match Question::new(&dataset, Per::House, &by, "") {
            Ok(question) => drop(question.ask(&dataset, Level::default())?),
            Err(QuestionError::NoColumn { .. }) => {}
            Err(error) => panic!("{error}"),
        }
    }
    Ok(positions.len())
}
