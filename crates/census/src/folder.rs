//! The collection folder: checked puzzles as Parquet, with where they came from.

use std::collections::HashMap;
use std::fs;
use std::io::{self, Read};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use tallyhouse_board::Puzzle;
use tallyhouse_collection::{
    BlockDigests, BlockHasher, Entry, EntryText, Numbering, Source, Weight,
};
use tallyhouse_storage::{Files, StorageError};

use crate::CensusError;
use crate::dataset::is_dataset;
use crate::layout::table_path;
use crate::manifest::read_manifest;
use crate::schema::{Table, column, texts, values};
use crate::table_file::{TableFile, write_table};

/// How many puzzles a file of the table holds.
pub(crate) const PART: usize = 100_000;

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
    /// BLAKE3 over the digests of blocks of 1,000 puzzles as a scan of the folder reads them, each
    /// followed by a line feed.
    pub blake3: String,
    /// What became of the repeats: `kept`, or which were `dropped`.
    pub repeats: String,
    /// How many there were.
    pub totals: CollectionTotals,
    /// Rejected rows by reason.
    pub rejected: Vec<(String, u64)>,
    /// How many files the table has.
    pub parts: u64,
    /// All files of the folder but this one.
    pub files: Files,
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

/// A row of the table.
pub(crate) struct CollectedRow {
    /// The position in the collection.
    number: u64,
    puzzle: Puzzle,
    label: Option<String>,
    weight: Option<Weight>,
    family: Option<u64>,
    /// The name of its source.
    file: Arc<str>,
    line: u64,
}

impl CollectedRow {
    /// Takes what is kept of an entry.
    pub(crate) fn new(number: u64, entry: Entry, file: Arc<str>) -> Self {
        let Entry { puzzle, label, weight, family, line, .. } = entry;
        Self { number, puzzle, label, weight, family, file, line }
    }
}

/// One row per puzzle of a collection.
pub(crate) static COLLECTION: Table<CollectedRow> = Table {
    name: "puzzles",
    row: "puzzle",
    columns: &[
        column("puzzle", "", "row of the collection, from 0", |rows, _| {
            values(rows, |row| row.number.cast_signed())
        }),
        column(
            "line",
            "",
            "the givens, row by row: 81 of `1`–`9` and `.` for a blank",
            |rows, _| texts(rows, |row| Some(row.puzzle.to_string())),
        ),
        column("clues", "cells", "number of givens", |rows, _| {
            values(rows, |row| row.puzzle.clues() as u8)
        }),
        column::<CollectedRow>("label", "", "what stood with the puzzle", |rows, _| {
            texts(rows, |row| row.label.as_deref())
        })
        .empty("if it has none"),
        // A weight has at most sixteen digits, so a double keeps it to the millionth.
        column("weight", "", "how much the puzzle counts; 1 if not given", |rows, _| {
            let weight = |row: &CollectedRow| row.weight.unwrap_or(Weight::ONE);
            values(rows, |row| weight(row).millionths() as f64 / 1e6)
        }),
        column("weighted", "", "whether a weight is given", |rows, _| {
            values(rows, |row| row.weight.is_some())
        }),
        column::<CollectedRow>(
            "family",
            "",
            "puzzles of one family depend on each other",
            |rows, _| values(rows, |row| row.family.map(u64::cast_signed)),
        )
        .empty("if the puzzle stands alone"),
        column("file", "", "the name of its source", |rows, _| texts(rows, |row| Some(&row.file))),
        column("source_line", "", "its line there, from 1", |rows, _| {
            values(rows, |row| row.line.cast_signed())
        }),
    ],
};

/// Writes one file of the table.
pub(crate) fn write_part(out: &Path, part: u64, rows: &[CollectedRow]) -> Result<(), CensusError> {
    write_table(&table_path(out, COLLECTION.name, part), COLLECTION.frame(rows, &[], false))?;
    Ok(())
}

/// Makes the folder of the table.
pub(crate) fn make_table_folder(out: &Path) -> Result<(), CensusError> {
    let folder = out.join(COLLECTION.name);
    fs::create_dir_all(&folder).map_err(CensusError::write(&folder))
}

/// Reads the manifest of a collection folder; `None` if there is none.
///
/// # Errors
/// If it can't be read or is of another version of the schema.
pub fn collection_manifest(folder: &Path) -> Result<Option<CollectionManifest>, CensusError> {
    read_manifest(folder, Some(KIND))
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
        Ok(Some(manifest)) => manifest,
        Ok(None) => return Err(refuse("it has no manifest.json")),
        Err(error @ (CensusError::OtherSchema { .. } | CensusError::Storage(_))) => {
            return Err(error);
        }
        _ if is_dataset(argument).is_ok_and(|is_one| is_one) => {
            return Err(refuse("it is a dataset of census; give the puzzles that were scanned"));
        }
        _ => return Err(refuse("its manifest.json is that of something else")),
    };
    let head: String = manifest.notes.iter().map(|note| format!("# {note}\n")).collect();
    let (folder, files) = (argument.to_owned(), Arc::new(manifest.files.clone()));
    let open = move |rows: Range<u64>| -> io::Result<Box<dyn Read + Send>> {
        let text = if rows.start == 0 { head.clone().into_bytes() } else { Vec::new() };
        let (next, skip) = (rows.start / PART as u64, rows.start as usize % PART);
        Ok(Box::new(FolderText {
            text: io::Cursor::new(text),
            folder: folder.clone(),
            files: Arc::clone(&files),
            parts: manifest.parts,
            next,
            skip,
        }))
    };
    let source = Source::opened_by(&argument.display().to_string(), open);
    let source = source.with_units(manifest.totals.puzzles, Numbering::Rows);
    Ok(source.in_folder(argument, manifest.files.digest().to_string()))
}

/// The collection as text, read part by part.
struct FolderText {
    text: io::Cursor<Vec<u8>>,
    folder: PathBuf,
    files: Arc<Files>,
    parts: u64,
    next: u64,
    /// How many rows of the next part were read before.
    skip: usize,
}

impl Read for FolderText {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            let read = self.text.read(buffer)?;
            if read > 0 || buffer.is_empty() {
                return Ok(read);
            }
            if self.next >= self.parts {
                return Ok(0);
            }
            let part = table_path(&self.folder, COLLECTION.name, self.next);
            self.next += 1;
            let skip = std::mem::take(&mut self.skip);
            let text = part_text(&self.folder, &self.files, &part, skip);
            self.text = io::Cursor::new(text.map_err(io::Error::other)?);
        }
    }
}

fn part_text(
    folder: &Path,
    files: &Files,
    path: &Path,
    skip: usize,
) -> Result<Vec<u8>, CensusError> {
    let columns = ["line", "label", "weight", "weighted", "family"];
    let bytes = files.read_at(folder, path)?;
    let table = TableFile::of_bytes(path.to_owned(), bytes, &COLLECTION, &columns, &[])?;
    text_of(&table, skip)
}

/// Returns the rows of a table as text, the first of them left out.
fn text_of(table: &TableFile, skip: usize) -> Result<Vec<u8>, CensusError> {
    let weights = table.weights()?;
    let weighted = table.truths("weighted")?;
    let families = table.integers("family")?;
    let mut text = String::with_capacity(table.height() * 90);
    for row in skip..table.height() {
        let entry = EntryText {
            grid: &table.text("line", row)?.unwrap_or_default(),
            label: table.text("label", row)?,
            weight: weighted[row].then_some(weights[row]),
            family: families.get(row).map(i64::cast_unsigned),
        };
        text += &format!("{entry}\n");
    }
    Ok(text.into_bytes())
}

/// Puts the rows of each family together where its first row is, and returns the digest of the rows in
/// their new order. The parts were just written.
pub(crate) fn put_families_together(out: &Path, parts: u64) -> Result<String, CensusError> {
    let columns: Vec<&str> = COLLECTION.column_names(false).collect();
    let read = |part| -> Result<TableFile, CensusError> {
        let path = table_path(out, COLLECTION.name, part);
        let bytes = fs::read(&path).map_err(StorageError::read(&path))?;
        TableFile::of_bytes(path, bytes, &COLLECTION, &columns, &[])
    };
    if parts == 0 {
        return Ok(BlockDigests::default().digest());
    }
    let mut all = read(0)?;
    (1..parts).try_for_each(|part| all.append(read(part)?))?;
    let families = all.integers("family")?;
    let mut first = HashMap::new();
    let place = |(row, family): (u32, Option<i64>)| match family {
        Some(family) => *first.entry(family).or_insert(row),
        None => row,
    };
    let places: Vec<u32> = (0..).zip(families.iter()).map(place).collect();
    let mut order: Vec<u32> = (0..).take(places.len()).collect();
    order.sort_by_key(|row| places[*row as usize]);
    let together = all.in_order(order)?;
    let rows = together.height();
    let mut hasher = BlockHasher::new(Numbering::Rows, 0);
    for (part, start) in (0..).zip((0..rows).step_by(PART)) {
        let numbers: Vec<i64> = (start as i64..rows.min(start + PART) as i64).collect();
        let table = together.rows(start, numbers.len());
        let table = table.with_numbers("puzzle", numbers)?;
        let text = text_of(&table, 0)?;
        let lines = str::from_utf8(&text).unwrap_or_default().lines();
        (start as u64..).zip(lines).for_each(|(number, line)| hasher.row(number, line));
        write_table(&table_path(out, COLLECTION.name, part), Ok(table.into_frame()))?;
    }
    Ok(hasher.finish().digest())
}
