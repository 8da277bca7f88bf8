//! The collection folder: checked puzzles as Parquet, with where they came from.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use polars::prelude::{DataFrame, ParquetReader, PolarsError, SerReader};
use serde::{Deserialize, Serialize};
use tallyhouse_collection::{Entry, EntryText, Source, Weight};

use crate::ledger::read_json;
use crate::part::file_stem;
use crate::tables::{column, io_error, write_parquet};
use crate::{CensusError, SCHEMA_VERSION};

/// The folder of the table.
const TABLE: &str = "puzzles";
/// What tells a collection's manifest from others.
pub(crate) const KIND: &str = "collection";

/// The file `manifest.json` of a collection folder, written last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CollectionManifest {
    /// Always `collection`.
    pub kind: String,
    /// The version of table and manifest.
    pub schema_version: u32,
    /// The program and its version.
    pub tool: String,
    /// The day on which the collection was read, as in 2026-01-31.
    pub date: String,
    /// The sources as named on the command line.
    pub sources: Vec<String>,
    /// The comment lines at the head of the sources: how the puzzles were made.
    pub notes: Vec<String>,
    /// BLAKE3 over the puzzles as a scan of the folder reads them, each followed by a line feed.
    pub blake3: String,
    /// What became of the repeats: `kept`, or which were `dropped`.
    pub repeats: String,
    /// How many there were.
    pub totals: CollectionTotals,
    /// Rejected rows by reason.
    pub rejected: Vec<(String, u64)>,
    /// How many files the table has.
    pub parts: u64,
}

/// How many rows a collection's sources had and what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CollectionTotals {
    /// Rows read.
    pub read: u64,
    /// Rows that are no puzzle with exactly one solution.
    pub rejected: u64,
    /// Rows that are one.
    pub accepted: u64,
    /// Accepted rows that repeat an earlier puzzle exactly.
    pub repeated: u64,
    /// Accepted rows equivalent to an earlier puzzle but not the same; null if not looked for.
    pub equivalent: Option<u64>,
    /// Accepted rows that were dropped as repeats.
    pub dropped: u64,
    /// Puzzles in the table.
    pub puzzles: u64,
    /// Puzzles with a weight.
    pub weighted: u64,
}

/// Writes one file of the table; `first` is the position in the collection of its first puzzle.
pub(crate) fn write_part(
    out: &Path,
    part: u64,
    first: u64,
    entries: &[Entry],
    sources: &[Source],
) -> Result<(), CensusError> {
    let path = out.join(TABLE).join(format!("{}.parquet", file_stem(part)));
    write_parquet(&path, frame(first, entries, sources))
}

fn frame(first: u64, entries: &[Entry], sources: &[Source]) -> Result<DataFrame, PolarsError> {
    let all = || entries.iter();
    let numbers: Vec<u64> = (first..first + entries.len() as u64).collect();
    let lines: Vec<String> = all().map(|row| row.puzzle.to_string()).collect();
    let clues: Vec<u8> = all().map(|row| row.puzzle.clues() as u8).collect();
    let labels: Vec<Option<&str>> = all().map(|row| row.label.as_deref()).collect();
    // A weight has at most sixteen digits, so a double keeps it to the millionth.
    let weights: Vec<f64> =
        all().map(|row| row.weight.unwrap_or(Weight::ONE).millionths() as f64 / 1e6).collect();
    let weighted: Vec<bool> = all().map(|row| row.weight.is_some()).collect();
    let families: Vec<Option<u64>> = all().map(|row| row.family).collect();
    let files: Vec<&str> = all().map(|row| sources[row.source].name()).collect();
    let source_lines: Vec<u64> = all().map(|row| row.line).collect();
    DataFrame::new_infer_height(vec![
        column("puzzle", numbers),
        column("line", lines),
        column("clues", clues),
        column("label", labels),
        column("weight", weights),
        column("weighted", weighted),
        column("family", families),
        column("file", files),
        column("source_line", source_lines),
    ])
}

/// Makes the folder of the table.
pub(crate) fn make_table_folder(out: &Path) -> Result<(), CensusError> {
    let folder = out.join(TABLE);
    fs::create_dir_all(&folder).map_err(CensusError::write(&folder))
}

/// Reads the manifest of a collection folder; `None` if there is none.
///
/// # Errors
/// If it can't be read.
pub fn collection_manifest(folder: &Path) -> Result<Option<CollectionManifest>, CensusError> {
    read_json(&folder.join("manifest.json"))
}

/// Takes what can be typed for a source: a collection folder, a file, or `-`.
///
/// # Errors
/// If it is a folder but not a whole collection.
pub fn source_of(argument: &Path) -> Result<Source, CensusError> {
    if !argument.is_dir() {
        return Ok(Source::from_argument(argument));
    }
    let refuse = |reason: &str| CensusError::NoCollection {
        path: argument.to_owned(),
        reason: reason.to_owned(),
    };
    let manifest = match collection_manifest(argument) {
        Ok(Some(manifest)) if manifest.kind == KIND => manifest,
        Ok(None) => return Err(refuse("it has no manifest.json")),
        _ => return Err(refuse("its manifest.json is that of something else")),
    };
    if manifest.schema_version != SCHEMA_VERSION {
        return Err(refuse(&format!(
            "its schema version is {}, this program reads {SCHEMA_VERSION}",
            manifest.schema_version
        )));
    }
    let head: String = manifest.notes.iter().map(|note| format!("# {note}\n")).collect();
    let parts: Vec<PathBuf> = (0..manifest.parts)
        .map(|part| argument.join(TABLE).join(format!("{}.parquet", file_stem(part))))
        .collect();
    let open = move || -> io::Result<Box<dyn Read + Send>> {
        let text = io::Cursor::new(head.clone().into_bytes());
        Ok(Box::new(FolderText { text, parts: parts.clone(), next: 0 }))
    };
    let source = Source::opened_by(&argument.display().to_string(), open);
    Ok(source.with_format(tallyhouse_collection::Format::Lines))
}

/// The collection as text, read part by part.
struct FolderText {
    text: io::Cursor<Vec<u8>>,
    parts: Vec<PathBuf>,
    next: usize,
}

impl Read for FolderText {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            let read = self.text.read(buffer)?;
            if read > 0 || buffer.is_empty() {
                return Ok(read);
            }
            let Some(part) = self.parts.get(self.next) else { return Ok(0) };
            self.next += 1;
            self.text = io::Cursor::new(part_text(part).map_err(|error| {
                io::Error::new(error.kind(), format!("{}: {error}", part.display()))
            })?);
        }
    }
}

fn part_text(path: &Path) -> io::Result<Vec<u8>> {
    let read = || -> Result<Vec<u8>, PolarsError> {
        let frame = ParquetReader::new(File::open(path)?).finish()?;
        let (lines, labels) = (frame.column("line")?.str()?, frame.column("label")?.str()?);
        let (weights, weighted) =
            (frame.column("weight")?.f64()?, frame.column("weighted")?.bool()?);
        let families = frame.column("family")?.u64()?;
        let mut text = Vec::with_capacity(frame.height() * 90);
        for row in 0..frame.height() {
            let weight = match (weights.get(row), weighted.get(row)) {
                (Some(weight), Some(true)) => {
                    Weight::from_millionths((weight * 1e6).round() as u64).or(Some(Weight::ONE))
                }
                _ => None,
            };
            let entry = EntryText {
                grid: &lines.get(row).unwrap_or_default(),
                label: labels.get(row),
                weight,
                family: families.get(row),
            };
            writeln!(text, "{entry}")?;
        }
        Ok(text)
    };
    read().map_err(io_error)
}
