//! Reading a dataset back, quiet position by quiet position.

use std::path::{Path, PathBuf};

use polars::prelude::{Int64Type, UInt8Type, UInt16Type};
use tallyhouse_board::{DigitSet, House, PlaceSet};
use tallyhouse_collection::Rejects;
use tallyhouse_engine::{Subset, WalkOptions};
use tallyhouse_storage::read_json;

use crate::boards::Boards;
use crate::layout::{MANIFEST, plan_path, table_path};
use crate::schema::Table;
use crate::table_file::TableFile;
use crate::tables::SUBSETS;
use crate::{CensusError, Manifest, Shard, Tables, manifest};

/// A finished dataset with tables.
#[derive(Clone, Debug)]
pub struct Dataset {
    folder: PathBuf,
    /// What readers know it by, if not by its folder.
    name: Option<String>,
    manifest: Manifest,
    walk: WalkOptions,
    shard: Option<Shard>,
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
        let shard = manifest.shard.as_deref().map(str::parse).transpose();
        let shard = shard.map_err(|error: crate::ParseShardError| damaged(error.to_string()))?;
        Ok(Self { folder: folder.to_owned(), name: None, manifest, walk, shard })
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

    /// Returns the numbers of the parts that the dataset has: of a slice, those of the slice.
    pub fn parts(&self) -> impl Iterator<Item = u64> + '_ {
        let covered = |part: &u64| self.shard.is_none_or(|shard| shard.covers(*part));
        (0..self.manifest.parts).filter(covered)
    }

    /// Returns the first rejected row in words, from the list beside the tables.
    ///
    /// # Errors
    /// If the list is there but can't be read.
    pub fn first_reject(&self) -> Result<Option<String>, CensusError> {
        let path = self.folder.join(Rejects::FILE_NAME);
        Ok(Rejects::read_first(&path)?)
    }

    /// Reads columns of a part of a table.
    pub(crate) fn table<R>(
        &self,
        table: &Table<R>,
        part: u64,
        columns: &[&str],
    ) -> Result<TableFile, CensusError> {
        let path = table_path(&self.folder, table.name, part);
        TableFile::open(path, table, columns, &self.manifest.walk.order)
    }

    /// Fails if a part of a table is missing or not what the schema says. Reads no row.
    pub(crate) fn check_table<R>(&self, table: &Table<R>, part: u64) -> Result<(), CensusError> {
        let path = table_path(&self.folder, table.name, part);
        let Manifest { keep_states, walk, .. } = &self.manifest;
        let columns: Vec<&str> = table.column_names(*keep_states).collect();
        TableFile::check(path, table, &columns, &walk.order)
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
        let of_part = |row: &Row| row.0 / self.manifest.part_size == part;
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

    /// Opens the boards of a part.
    ///
    /// # Errors
    /// If a table is missing or damaged.
    pub fn boards(&self, part: u64) -> Result<Boards<'_>, CensusError> {
        Boards::open(self, part)
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
    use crate::{SCHEMA_VERSION, Scanner, Settings, each_cluster, each_needed};

    fn scanned(folder: &Path, change: impl FnOnce(&mut Settings)) -> Result<Dataset, CensusError> {
        let puzzles = MinimalByDeletion { seed: 3 }.puzzles(0..250);
        let lines: String = puzzles.iter().map(|puzzle| format!("{puzzle}\n")).collect();
        let mut settings = Settings {
            sources: vec![Source::memory("in.txt", format!("bad\n{lines}").into_bytes())],
            out: folder.join("census"),
            walk: WalkOptions::default(),
            tables: Tables::All,
            keep_states: false,
            part_size: 100,
            seed: None,
            shard: None,
            resume: false,
            expect_rows: None,
        };
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
            let rows = part * 100..251.min((part + 1) * 100);
            let puzzle = |number| MinimalByDeletion { seed: 3 }.puzzle(number - 1);
            let entries = rows.filter(|&row| row > 0);
            let entries = entries.map(|number| Ok(Entry::new(number, puzzle(number))));
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
        assert!(read > 50);
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
        let lines = MinimalByDeletion { seed: 3 }.puzzles(0..12);
        let lines: String = lines.iter().map(|puzzle| format!("{puzzle}\n")).collect();
        let dataset = scanned(folder.path(), |settings| {
            settings.sources = vec![Source::memory("in.txt", lines.into_bytes())];
            settings.keep_states = true;
            settings.part_size = 1;
        });
        let dataset = dataset.unwrap();
        let columns: Vec<&str> = POSITIONS.column_names(true).collect();
        assert_eq!(columns.last(), Some(&"state"));
        let mut without = 0;
        for part in dataset.parts() {
            without += u32::from(dataset.table(&POSITIONS, part, &columns).unwrap().height() == 0);
            dataset.boards(part).unwrap();
        }
        assert!((1..12).contains(&without), "{without}");
    }

    #[test]
    fn words_that_the_walk_does_not_know_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let mut dataset = scanned(folder.path(), |_| {}).unwrap();
        dataset.manifest.walk.order[2] = "naked 2 open 8..9".to_owned();
        let text = serde_json::to_string(&dataset.manifest).unwrap();
        fs::write(folder.path().join("census/manifest.json"), text).unwrap();
        let error = each_needed(dataset.folder(), &mut |_| {}).unwrap_err().to_string();
        assert!(
            error.contains("puzzles/part-00000.parquet: the column 'hardest_look' has other words"),
            "{error}"
        );
    }

    #[test]
    fn a_slice_has_its_own_parts() {
        let folder = tempfile::tempdir().unwrap();
        let slice = scanned(folder.path(), |settings| settings.shard = "1/2".parse().ok());
        check_records(&slice.unwrap(), &[0, 2]);
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
        assert!(no_fields.starts_with("cannot read ") && no_fields.contains("missing field"));
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

    /// No damage to a table is a panic; what can be told is an error that names the file.
    #[test]
    fn damaged_tables_are_named() {
        let folder = tempfile::tempdir().unwrap();
        let dataset = scanned(folder.path(), |settings| settings.keep_states = true).unwrap();
        let read = || -> Result<u64, CensusError> {
            let mut keys = Vec::new();
            let mut visit = |at: &RecordedPosition<'_>| keys.push((at.puzzle, at.position));
            let read = dataset.each_position(1, &mut visit)?;
            dataset.boards(1)?.rebuild(&keys)?;
            each_cluster(dataset.folder(), &mut |_| {})?;
            each_needed(dataset.folder(), &mut |_| {})?;
            Ok(read)
        };
        let whole = read().unwrap();
        for table in ["subsets", "positions", "puzzles"] {
            let path = folder.path().join("census").join(table).join("part-00001.parquet");
            let bytes = fs::read(&path).unwrap();
            let named = |error: CensusError| {
                let error = error.to_string();
                let name = format!("{table}/part-00001.parquet: ");
                assert!(error.starts_with("cannot read ") && error.contains(&name), "{error}");
            };
            fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
            named(read().unwrap_err());
            fs::write(&path, b"").unwrap();
            named(read().unwrap_err());
            fs::remove_file(&path).unwrap();
            named(read().unwrap_err());
            // The table of another part has other puzzles.
            let other = path.with_file_name("part-00002.parquet");
            fs::copy(other, &path).unwrap();
            named(read().unwrap_err());
            let (mut flips, mut errors) = (0, 0);
            for (index, flipped) in (0..bytes.len()).step_by(bytes.len() / 100).enumerate() {
                let mut damaged = bytes.clone();
                damaged[flipped] ^= 1 << (index % 8);
                fs::write(&path, damaged).unwrap();
                flips += 1;
                if let Err(error) = read() {
                    assert!(error.to_string().starts_with("cannot read "), "{error}");
                    errors += 1;
                }
            }
            // Pages have no checksum: a flipped digit may read as another.
            assert!(3 * errors > flips, "{table}: {errors} of {flips} were noticed");
            fs::write(&path, bytes).unwrap();
        }
        assert_eq!(read().unwrap(), whole);
    }
}
