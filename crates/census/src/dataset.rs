//! Reading a dataset back, quiet position by quiet position.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use polars::prelude::{Int64Type, UInt8Type, UInt16Type};
use tallyhouse_board::{DigitSet, House, PlaceSet};
use tallyhouse_collection::Rejects;
use tallyhouse_engine::{Subset, WalkOptions};
use tallyhouse_storage::{Files, OutFolder, StorageError, contents, read_json};
use tallyhouse_words::{counted, list_some};

use crate::layout::{self, MANIFEST, plan_path, table_path};
use crate::schema::Table;
use crate::table_file::TableFile;
use crate::tables::{PUZZLES, SUBSETS};
use crate::{CensusError, Manifest, Tables, manifest};

/// A finished dataset with tables.
#[derive(Clone, Debug)]
pub struct Dataset {
    folder: PathBuf,
    /// What readers know it by, if not by its folder.
    name: Option<String>,
    manifest: Manifest,
    walk: WalkOptions,
    listed: Listed,
}

/// A finished dataset by its list of files: what is read is what was written.
#[derive(Clone, Debug)]
pub(crate) struct Listed {
    folder: PathBuf,
    files: Arc<Files>,
    /// The command that makes the folder again.
    again: String,
}

impl Listed {
    pub(crate) fn of(folder: &Path, manifest: &Manifest) -> Result<Self, CensusError> {
        let again = manifest.again(folder);
        let files = contents(folder).map_err(|fault| spoilt(fault, &again))?.unwrap_or_default();
        Ok(Self { folder: folder.to_owned(), files: Arc::new(files), again })
    }

    pub(crate) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Reads a file and fails if it is not as it was written.
    pub(crate) fn read(&self, name: &str) -> Result<Vec<u8>, CensusError> {
        self.read_at(&self.folder.join(name))
    }

    fn read_at(&self, path: &Path) -> Result<Vec<u8>, CensusError> {
        self.files.read_at(&self.folder, path).map_err(|fault| spoilt(fault, &self.again))
    }

    /// Returns the parts with a table that is not as it was written.
    ///
    /// # Errors
    /// If anything else is damaged, or there are files that are not on the list.
    pub(crate) fn damaged_parts(&self, folder: &OutFolder) -> Result<BTreeSet<u64>, CensusError> {
        folder.expect_only(&self.files, &[])?;
        let mut parts = BTreeSet::new();
        for (path, _) in self.files.iter() {
            match (self.files.check_one(&self.folder, path), layout::part_of(path)) {
                (Ok(()), _) => {}
                (Err(_), Some(part)) => {
                    parts.insert(part);
                }
                (Err(fault), None) => return Err(spoilt(fault, &self.again)),
            }
        }
        Ok(parts)
    }

    /// Fails if a file is not as it was written.
    pub(crate) fn check(&self) -> Result<(), CensusError> {
        self.files.check(&self.folder).map_err(|fault| spoilt(fault, &self.again))
    }

    /// Returns the first rejected row in words, from the list of them.
    pub(crate) fn first_reject(&self) -> Result<Option<String>, CensusError> {
        let path = self.folder.join(Rejects::FILE_NAME);
        if self.files.get(&layout::listed(&self.folder, &path)?).is_none() {
            return Ok(None);
        }
        self.read_at(&path)?;
        Ok(Rejects::read_first(&path)?)
    }
}

fn spoilt(fault: StorageError, again: &str) -> CensusError {
    let how = match &fault {
        StorageError::Part { part, .. } if layout::part_of(part).is_some() => " --resume",
        StorageError::Part { .. } => " --replace",
        _ => "",
    };
    CensusError::Spoilt { fault, again: format!("{again}{how}") }
}

/// The subsets recorded at one quiet position.
#[derive(Clone, Copy, Debug)]
pub struct RecordedPosition<'a> {
    /// The position of the puzzle in the collection.
    pub puzzle: u64,
    /// The number among the quiet positions of the puzzle's walk, from 0.
    pub position: u16,
    /// How many digits were given before.
    pub given_digits: u8,
    /// Every subset of every house; `applied` by the dataset's walk.
    pub subsets: &'a [Subset],
}

/// Tests if a folder holds a dataset of a scan, finished or not.
///
/// # Errors
/// If its manifest can't be read.
pub fn is_dataset(folder: &Path) -> Result<bool, CensusError> {
    let manifest: Option<serde_json::Value> = read_json(&folder.join(MANIFEST))?;
    // Only a dataset has walked puzzles into tables; a trial has no tables.
    let has = |manifest: &serde_json::Value, name| manifest.get(name).is_some();
    Ok(match manifest {
        Some(manifest) => has(&manifest, "walk") && has(&manifest, "tables"),
        None => plan_path(folder).is_file(),
    })
}

impl Dataset {
    /// Opens a dataset.
    ///
    /// # Errors
    /// If it is unfinished, of another version, without tables, or its manifest is damaged.
    pub fn open(folder: &Path) -> Result<Self, CensusError> {
        let manifest = manifest(folder)?;
        let refuse = |reason: String| CensusError::NoRecords { path: folder.to_owned(), reason };
        if manifest.tables == Tables::None {
            return Err(refuse(
                "it has no tables: scan the puzzles again with --tables all".to_owned(),
            ));
        }
        let path = folder.join(MANIFEST);
        let damaged = |reason: String| CensusError::Damaged { path: path.clone(), reason };
        let walk = manifest.walk.options().map_err(|error| damaged(error.to_string()))?;
        let listed = Listed::of(folder, &manifest)?;
        Ok(Self { folder: folder.to_owned(), name: None, manifest, walk, listed })
    }

    /// Gives the dataset a name for readers.
    #[must_use]
    pub fn named(mut self, name: &str) -> Self {
        self.name = Some(name.to_owned());
        self
    }

    /// Returns what readers know the dataset by: its name, else its folder.
    #[must_use]
    pub fn title(&self) -> String {
        self.name.clone().unwrap_or_else(|| format!("dataset {}", self.folder.display()))
    }

    /// Says what its puzzles are a sample of, as far as it is known: how they were made, or the files
    /// they came from.
    #[must_use]
    pub fn population(&self) -> String {
        let Manifest { collection, totals, .. } = &self.manifest;
        let puzzles = counted(totals.puzzles, "puzzle", "puzzles");
        let from = match &collection.made {
            Some(made) => format!("made by {}", made.recipe.sampling().name()),
            None => format!("of {}", list_some(&collection.sources, 3)),
        };
        format!("{puzzles} {from}")
    }

    /// Returns the folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Returns the manifest.
    #[must_use]
    pub const fn manifest(&self) -> &Manifest {
        &self.manifest
    }

    /// Returns the walk that the positions are from.
    #[must_use]
    pub const fn walk(&self) -> &WalkOptions {
        &self.walk
    }

    /// Returns the numbers of the parts that the dataset has.
    pub fn parts(&self) -> impl Iterator<Item = u64> + use<> {
        0..self.manifest.parts
    }

    /// Returns the first rejected row in words, from the list beside the tables.
    ///
    /// # Errors
    /// If the list is there but can't be read.
    pub fn first_reject(&self) -> Result<Option<String>, CensusError> {
        self.listed.first_reject()
    }

    /// Reads columns of a part of a table.
    pub(crate) fn table<R>(
        &self,
        table: &Table<R>,
        part: u64,
        columns: &[&str],
    ) -> Result<TableFile, CensusError> {
        let path = table_path(&self.folder, table.name, part);
        let bytes = self.listed.read_at(&path)?;
        TableFile::of_bytes(path, bytes, table, columns, &self.manifest.walk.order)
    }

    /// Visits the puzzles of a part in order, each with the shapes of its proper subsets, a bit each:
    /// `10 * open + naked`.
    ///
    /// # Errors
    /// If a table is missing or damaged.
    pub fn each_puzzle(&self, part: u64, visit: &mut dyn FnMut(u128)) -> Result<(), CensusError> {
        let puzzles = self.table(&PUZZLES, part, &["puzzle"])?.numbers::<Int64Type>("puzzle")?;
        let columns = ["puzzle", "open", "naked", "naked_proper", "hidden_proper"];
        let table = self.table(&SUBSETS, part, &columns)?;
        let of = table.numbers::<Int64Type>("puzzle")?;
        let (open, naked) =
            (table.numbers::<UInt8Type>("open")?, table.numbers::<UInt8Type>("naked")?);
        let (one, other) = (table.truths("naked_proper")?, table.truths("hidden_proper")?);
        let mut row = 0;
        for puzzle in puzzles {
            let mut shapes = 0u128;
            while row < of.len() && of[row] == puzzle {
                if open[row] > 9 || naked[row] >= open[row] {
                    return Err(table.damaged("a row has sizes that no house can have"));
                }
                let bit = 1 << (10 * u32::from(open[row]) + u32::from(naked[row]));
                shapes |= if one[row] || other[row] { bit } else { 0 };
                row += 1;
            }
            visit(shapes);
        }
        Ok(())
    }

    /// Visits the quiet positions of a part that have subsets, in order, and returns how many subsets
    /// it has.
    ///
    /// # Errors
    /// If the table is missing or damaged.
    pub fn each_position(
        &self,
        part: u64,
        visit: &mut dyn FnMut(&RecordedPosition<'_>),
    ) -> Result<u64, CensusError> {
        let table = self.table(&SUBSETS, part, &COLUMNS)?;
        let rows = subsets(&table)?;
        if !rows.is_sorted_by_key(|&(puzzle, position, ..)| (puzzle, position)) {
            return Err(table.damaged("its positions are not in order"));
        }
        let of_part = |row: &Row| self.manifest.part_of(row.0) == part;
        if !rows.iter().all(of_part) {
            return Err(table.damaged("it has puzzles of another part"));
        }
        let at_one_position = |a: &Row, b: &Row| (a.0, a.1) == (b.0, b.1);
        for rows in rows.chunk_by(at_one_position) {
            let (puzzle, position, given_digits, _) = rows[0];
            let subsets: Vec<Subset> = rows.iter().map(|row| row.3).collect();
            visit(&RecordedPosition { puzzle, position, given_digits, subsets: &subsets });
        }
        Ok(rows.len() as u64)
    }

    /// Fails if another number of subsets was read than the scan recorded.
    ///
    /// # Errors
    /// [`CensusError::Damaged`] with both numbers.
    pub fn check_subsets(&self, read: u64) -> Result<(), CensusError> {
        let recorded = self.manifest.totals.subsets;
        if read == recorded {
            return Ok(());
        }
        let reason = format!("it has {read} rows in all, but manifest.json counts {recorded}");
        Err(CensusError::Damaged { path: self.folder.join("subsets"), reason })
    }
}

/// Puzzle, quiet position, how many digits were given before, and the subset.
type Row = (u64, u16, u8, Subset);

/// Reads the subsets of a part.
fn subsets(table: &TableFile) -> Result<Vec<Row>, CensusError> {
    let puzzle = table.numbers::<Int64Type>("puzzle")?;
    let position = table.numbers::<UInt16Type>("position")?;
    let house_kind = table.codes("house_kind")?;
    let bytes = |name| table.numbers::<UInt8Type>(name);
    let (house, given_digits) = (bytes("house")?, bytes("given_digits")?);
    let (open, naked) = (bytes("open")?, bytes("naked")?);
    let (live_open, live_naked) = (bytes("live_open")?, bytes("live_naked")?);
    let eliminations = bytes("eliminations")?;
    let masks = |name| table.numbers::<UInt16Type>(name);
    let (cells, digits) = (masks("cells")?, masks("digits")?);
    let naked_proper = table.truths("naked_proper")?;
    let hidden_proper = table.truths("hidden_proper")?;
    let applied = table.truths("applied")?;
    let subset = |row: usize| {
        let wrong = |what: &str| table.damaged(format!("row {} {what}", row + 1));
        let number = usize::from(house[row]);
        let index = 9 * usize::from(house_kind[row]) + number;
        let house = (1..=9).contains(&number).then(|| House::new(index - 1)).flatten();
        let subset = Subset {
            house: house.ok_or_else(|| wrong("has no house from 1 to 9"))?,
            open: open[row],
            naked: naked[row],
            live_open: live_open[row],
            live_naked: live_naked[row],
            cells: PlaceSet::from_bits_truncate(cells[row]),
            digits: DigitSet::from_bits_truncate(digits[row]),
            eliminations: eliminations[row],
            naked_proper: naked_proper[row],
            hidden_proper: hidden_proper[row],
            applied: applied[row],
        };
        let sizes = [cells[row].count_ones(), digits[row].count_ones()];
        if sizes != [u32::from(subset.naked); 2] || cells[row] | digits[row] > 0x1FF {
            return Err(wrong("has other cells or digits than its naked side counts"));
        }
        let Subset { open, naked, live_open, live_naked, .. } = subset;
        if !(1..open).contains(&naked) || open > 9 || live_open > open || live_naked > live_open {
            return Err(wrong("has sizes that no house can have"));
        }
        Ok((puzzle[row].cast_unsigned(), position[row], given_digits[row], subset))
    };
    (0..table.height()).map(subset).collect()
}

/// The columns that [`subsets`] reads.
const COLUMNS: [&str; 15] = [
    "puzzle",
    "position",
    "house_kind",
    "house",
    "open",
    "naked",
    "live_open",
    "live_naked",
    "cells",
    "digits",
    "eliminations",
    "naked_proper",
    "hidden_proper",
    "applied",
    "given_digits",
];

#[cfg(test)]
mod tests {
    use std::fs;

    use tallyhouse_collection::{Entry, MinimalByDeletion, Silent, Source};

    use super::*;
    use crate::tables::POSITIONS;
    use crate::{Counts, SCHEMA_VERSION, Scanner, Settings, each_needed};

    /// Three parts; the last is small.
    const COUNT: u64 = 2100;

    fn scanned(folder: &Path, change: impl FnOnce(&mut Settings)) -> Result<Dataset, CensusError> {
        let puzzles = MinimalByDeletion { seed: 3 }.puzzles(0..COUNT);
        let lines: String = puzzles.iter().map(|puzzle| format!("{puzzle}\n")).collect();
        let source = Source::memory("in.txt", format!("bad\n{lines}").into_bytes());
        let mut settings =
            Settings { part_size: 1000, ..Settings::new(vec![source], folder.join("census")) };
        change(&mut settings);
        crate::run(&settings, &Silent).unwrap();
        assert!(is_dataset(&settings.out).unwrap());
        Dataset::open(&settings.out)
    }

    /// Compares all records and boards with a scan of the puzzles.
    fn check_records(dataset: &Dataset, expected_parts: &[u64]) {
        assert_eq!(dataset.parts().collect::<Vec<_>>(), expected_parts);
        let mut scanner = Scanner::new(dataset.walk(), true);
        let mut read = 0;
        for part in dataset.parts() {
            let mut seen: Vec<(u64, u16, u8, Vec<Subset>)> = Vec::new();
            let mut visit = |at: &RecordedPosition<'_>| {
                seen.push((at.puzzle, at.position, at.given_digits, at.subsets.to_vec()));
            };
            read += dataset.each_position(part, &mut visit).unwrap();
            // Row 0 is no puzzle.
            let rows = 1.max(part * 1000)..(COUNT + 1).min((part + 1) * 1000);
            let puzzles = MinimalByDeletion { seed: 3 }.puzzles(rows.start - 1..rows.end - 1);
            let entries = rows.zip(puzzles).map(|(number, puzzle)| Ok(Entry::new(number, puzzle)));
            let mut expected = Vec::new();
            let mut boards = Vec::new();
            for scan in scanner.scan(entries.collect()) {
                let scan = scan.unwrap();
                for position in &scan.positions {
                    let here = scan.subsets.iter().filter(|(at, _)| *at == position.number);
                    let subsets: Vec<Subset> = here.map(|(_, subset)| *subset).collect();
                    if !subsets.is_empty() {
                        let number = scan.entry.number;
                        expected.push((number, position.number, position.given_digits, subsets));
                        boards.push((scan.entry.puzzle, *position.states.clone().unwrap()));
                    }
                }
            }
            assert_eq!(seen, expected);
            let wanted: Vec<(u64, u16)> = expected.iter().map(|row| (row.0, row.1)).collect();
            let rebuilt = dataset.boards(part).unwrap().rebuild(&wanted).unwrap();
            let rebuilt: Vec<_> = rebuilt.iter().map(|(p, at)| (*p, at.states())).collect();
            assert!(rebuilt == boards);
        }
        dataset.check_subsets(read).unwrap();
        assert!(read > 500);
        let error = dataset.check_subsets(read + 1).unwrap_err().to_string();
        assert!(error.contains("rows in all, but manifest.json counts"), "{error}");
    }

    #[test]
    fn records_and_boards_are_those_of_a_scan() {
        let one_by_one = WalkOptions {
            course: tallyhouse_engine::Course::OneByOne(House::all().collect()),
            when_stuck: tallyhouse_engine::WhenStuck::GiveDigit,
            ..WalkOptions::default()
        };
        for walk in [WalkOptions::default(), one_by_one] {
            for keep_states in [false, true] {
                let folder = tempfile::tempdir().unwrap();
                let dataset = scanned(folder.path(), |settings| {
                    settings.walk = walk.clone();
                    settings.keep_states = keep_states;
                });
                let dataset = dataset.unwrap();
                check_records(&dataset, &[0, 1, 2]);
                let first = dataset.first_reject().unwrap().unwrap();
                assert_eq!(first, "in.txt, line 1: 3 characters instead of 81");
                let boards = dataset.boards(0).unwrap();
                let missing = boards.rebuild(&[(7000, 0)]).unwrap_err().to_string();
                assert!(missing.contains("puzzle 7000 is missing"), "{missing}");
                let missing = boards.rebuild(&[(1, 999)]).unwrap_err().to_string();
                assert!(missing.contains("quiet position 999"), "{missing}");
            }
        }
    }

    /// Puzzles that singles solve have no quiet position, so a part may have no row of positions.
    #[test]
    fn parts_without_quiet_positions_have_all_columns() {
        let folder = tempfile::tempdir().unwrap();
        let puzzles = MinimalByDeletion { seed: 3 }.puzzles(0..2400);
        let entries = puzzles.iter().map(|puzzle| Ok(Entry::new(0, *puzzle))).collect();
        let mut scanner = Scanner::new(&WalkOptions::default(), false);
        let scans = scanner.scan(entries).into_iter().map(Result::unwrap);
        let easy = scans.filter(|scan| scan.quiet_positions == 0).map(|scan| scan.entry.puzzle);
        let mut lines: Vec<String> = easy.take(1000).map(|puzzle| format!("{puzzle}\n")).collect();
        assert_eq!(lines.len(), 1000);
        lines.extend(puzzles.iter().take(50).map(|puzzle| format!("{puzzle}\n")));
        let dataset = scanned(folder.path(), |settings| {
            settings.sources = vec![Source::memory("in.txt", lines.concat().into_bytes())];
            settings.keep_states = true;
        });
        let dataset = dataset.unwrap();
        let columns: Vec<&str> = POSITIONS.column_names(true).collect();
        assert_eq!(columns.last(), Some(&"state"));
        let height = |part| dataset.table(&POSITIONS, part, &columns).unwrap().height();
        assert!(height(0) == 0 && height(1) > 0);
        dataset.parts().for_each(|part| drop(dataset.boards(part).unwrap()));
    }

    #[test]
    fn words_that_the_walk_does_not_know_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let mut dataset = scanned(folder.path(), |_| {}).unwrap();
        dataset.manifest.walk.order[2] = "naked 2 open 8..9".to_owned();
        crate::finish::write_manifest(dataset.folder(), &dataset.manifest).unwrap();
        let error = each_needed(dataset.folder(), &mut |_| {}).unwrap_err().to_string();
        assert!(
            error.contains(
                "puzzles/part-00000000.parquet: the column 'hardest_look' has other words"
            ),
            "{error}"
        );
    }

    #[test]
    fn what_holds_no_records_is_refused_with_a_reason() {
        let folder = tempfile::tempdir().unwrap();
        let none = scanned(folder.path(), |settings| settings.tables = Tables::None);
        let none = none.unwrap_err().to_string();
        assert!(none.contains("it has no tables: scan the puzzles again"), "{none}");

        let refused = |text: &str| {
            fs::write(folder.path().join("census/manifest.json"), text).unwrap();
            Dataset::open(&folder.path().join("census")).unwrap_err().to_string()
        };
        let other = refused("{\"schema_version\": 99}");
        assert!(other.contains("has schema version 99, this program reads 3; make"), "{other}");
        assert!(refused("{}").contains("has schema version unknown"));
        let no_fields = refused(&format!("{{\"schema_version\": {SCHEMA_VERSION}}}"));
        assert!(no_fields.contains("it carries no seal"), "{no_fields}");
        assert!(refused("{").contains("manifest.json"));
        fs::remove_file(folder.path().join("census/manifest.json")).unwrap();
        let open = || Dataset::open(&folder.path().join("census")).unwrap_err().to_string();
        assert!(open().ends_with("it has no manifest.json"), "{}", open());
        assert!(!is_dataset(&folder.path().join("census")).unwrap());
        let plan = plan_path(&folder.path().join("census"));
        fs::create_dir(plan.parent().unwrap()).unwrap();
        fs::write(plan, "{}").unwrap();
        assert!(is_dataset(&folder.path().join("census")).unwrap());
        assert!(open().contains("unfinished: finish it with census --resume"), "{}", open());
    }

    /// Every flipped bit of every file is noticed, and its file named.
    #[test]
    fn damaged_files_are_named() {
        let folder = tempfile::tempdir().unwrap();
        let dataset = scanned(folder.path(), |settings| settings.keep_states = true).unwrap();
        let out = dataset.folder().to_owned();
        let read = || -> Result<u64, CensusError> {
            let dataset = Dataset::open(&out)?;
            let mut keys = Vec::new();
            let mut visit = |at: &RecordedPosition<'_>| keys.push((at.puzzle, at.position));
            let read = dataset.each_position(2, &mut visit)?;
            dataset.boards(2)?.rebuild(&keys)?;
            dataset.each_puzzle(2, &mut |_| {})?;
            dataset.table(&PUZZLES, 2, &["puzzle"])?;
            dataset.first_reject()?;
            Counts::of_dataset(&out)?;
            Ok(read)
        };
        let whole = read().unwrap();
        let files = ["subsets", "positions", "puzzles"]
            .map(|table| format!("{table}/part-00000002.parquet"))
            .into_iter()
            .chain(["counts.csv", "exposure.csv", "rejects.csv"].map(str::to_owned));
        for name in files {
            let path = out.join(&name);
            let bytes = fs::read(&path).unwrap();
            let named = |what: &str| {
                let error = read().unwrap_err().to_string();
                assert!(error.contains(&format!("{name} {what}")), "{error}");
                assert!(
                    error.contains("or take the file from a copy: tallyhouse census in.txt"),
                    "{error}"
                );
            };
            for spoilt in [&bytes[..bytes.len() / 2], &bytes[..0]] {
                fs::write(&path, spoilt).unwrap();
                named("is not as it was written");
            }
            // What no flip can make either.
            fs::copy(path.with_file_name("part-00000001.parquet"), &path).unwrap_or_default();
            named("is not as it was written");
            if name != "rejects.csv" {
                fs::remove_file(&path).unwrap();
                named("is missing");
            }
            for (index, at) in (0..bytes.len()).step_by((bytes.len() / 100).max(1)).enumerate() {
                let mut damaged = bytes.clone();
                damaged[at] ^= 1 << (index % 8);
                fs::write(&path, damaged).unwrap();
                named("is not as it was written");
            }
            fs::write(&path, bytes).unwrap();
        }
        for name in ["manifest.json", "files.json"] {
            let path = out.join(name);
            let bytes = fs::read(&path).unwrap();
            let end = bytes.windows(8).position(|text| text == b"\"wall_se").unwrap_or(bytes.len());
            for (index, at) in (0..end).step_by(end / 100).enumerate() {
                let mut damaged = bytes.clone();
                damaged[at] ^= 1 << (index % 8);
                fs::write(&path, damaged).unwrap();
                let error = read().unwrap_err().to_string();
                assert!(error.contains("census/manifest.json") || error.contains(name), "{error}");
            }
            fs::write(&path, bytes).unwrap();
        }
        assert_eq!(read().unwrap(), whole);
    }
}
