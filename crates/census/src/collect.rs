//! Reading sources into a collection folder: every row is kept, rejected or reported as a repeat.

use std::collections::HashMap;
use std::fs;
use std::path::PathBuf;

use rayon::iter::ParallelIterator;
use rayon::slice::ParallelSlice;
use tallyhouse_board::{Clues, Puzzle};
use tallyhouse_collection::{
    Canonical, ReadError, Reason, Reject, Row, Rows, Source, canonical, fingerprint, validities,
};

use crate::aside::make_folder;
use crate::folder::{
    CollectedPuzzle, CollectionManifest, CollectionTotals, KIND, make_table_folder, write_part,
};
use crate::ledger::write_json;
use crate::rejects::RejectsList;
use crate::run::{Progress, tool};
use crate::{CensusError, SCHEMA_VERSION};

/// How many puzzles a file of the table holds.
const PART: usize = 100_000;
/// How many rows are checked between two looks at the repeats.
const BLOCK: usize = 16_384;
/// How many rows one thread checks at a time.
const CHUNK: usize = 256;

/// What is done with puzzles that were seen before. All are listed in `repeats.csv`.
#[derive(
    Clone,
    Copy,
    Debug,
    Default,
    PartialEq,
    Eq,
    strum::Display,
    strum::EnumMessage,
    strum::EnumString,
    strum::IntoStaticStr,
    strum::VariantArray,
)]
#[strum(serialize_all = "kebab-case")]
pub enum Repeats {
    /// No puzzle is dropped.
    #[strum(serialize = "none")]
    Keep,
    /// Puzzles that repeat an earlier one cell by cell.
    #[default]
    #[strum(serialize = "exact")]
    DropExact,
    /// Puzzles equivalent to an earlier one under symmetry and relabelling.
    #[strum(serialize = "equivalent")]
    DropEquivalent,
}

/// What is read and where it goes.
#[derive(Clone, Debug)]
pub struct CollectSettings {
    /// The sources.
    pub sources: Vec<Source>,
    /// The folder to write; it must not exist or be empty.
    pub out: PathBuf,
    /// What is done with repeats.
    pub repeats: Repeats,
    /// Whether equivalent puzzles are looked for.
    pub equivalents: bool,
    /// The day, for the manifest.
    pub date: String,
}

/// What a collection was made of.
#[derive(Clone, Debug)]
pub struct Collected {
    /// The manifest as written.
    pub manifest: CollectionManifest,
    /// The first rejected row, in words.
    pub first_reject: Option<String>,
}

/// Where a puzzle was seen first.
#[derive(Clone, Copy)]
struct Seen {
    source: u32,
    line: u64,
}

/// Reads all sources into a collection folder.
///
/// # Errors
/// If the folder is in use, a source can't be read, no row is a valid puzzle, or writing fails; the
/// folder has a manifest only if everything went well.
pub fn collect(
    settings: &CollectSettings,
    progress: &dyn Progress,
) -> Result<Collected, CensusError> {
    let mut rows = Rows::open(settings.sources.clone())?;
    let mut block = rows.take(BLOCK)?;
    if block.is_empty() {
        let names: Vec<&str> = settings.sources.iter().map(Source::name).collect();
        return Err(ReadError::Empty(names.join(", ")).into());
    }
    make_folder(&settings.out, "")?;
    make_table_folder(&settings.out)?;
    let mut collecting = Collecting::new(settings)?;
    while !block.is_empty() {
        collecting.take(&block)?;
        if let Some(rows) = rows.expected() {
            progress.expect(rows);
        }
        progress.advance(block.len() as u64);
        block = rows.take(BLOCK)?;
    }
    collecting.finish(&rows)
}

struct Collecting<'a> {
    settings: &'a CollectSettings,
    totals: CollectionTotals,
    rejected: [u64; Reason::KINDS.len()],
    first_reject: Option<String>,
    rejects: RejectsList,
    repeats: Option<csv::Writer<fs::File>>,
    exact: HashMap<u128, Seen>,
    classes: HashMap<u128, Seen>,
    waiting: Vec<CollectedPuzzle>,
    parts: u64,
    hasher: blake3::Hasher,
}

/// A row after its checks.
struct Checked {
    puzzle: Result<Puzzle, Reason>,
    class: Option<u128>,
}

fn check(rows: &[Row], equivalents: bool) -> Vec<Checked> {
    let parsed: Vec<Result<Puzzle, Reason>> =
        rows.iter().map(|row| row.puzzle().map_err(Reason::Unreadable)).collect();
    let puzzles: Vec<Puzzle> = parsed.iter().flatten().copied().collect();
    let mut valid = validities(&puzzles).into_iter();
    let checked = |parsed: Result<Puzzle, Reason>| {
        let puzzle = parsed
            .and_then(|puzzle| valid.next().unwrap_or(Err(Reason::Undecided)).map(|()| puzzle));
        let class = puzzle.as_ref().ok().filter(|_| equivalents).map(|puzzle| {
            let Canonical { form, .. } = canonical(&Clues::from(puzzle));
            fingerprint(form.values())
        });
        Checked { puzzle, class }
    };
    parsed.into_iter().map(checked).collect()
}

impl<'a> Collecting<'a> {
    fn new(settings: &'a CollectSettings) -> Result<Self, CensusError> {
        Ok(Self {
            settings,
            totals: CollectionTotals::default(),
            rejected: [0; Reason::KINDS.len()],
            first_reject: None,
            rejects: RejectsList::in_folder(&settings.out),
            repeats: None,
            exact: HashMap::new(),
            classes: HashMap::new(),
            waiting: Vec::new(),
            parts: 0,
            hasher: blake3::Hasher::new(),
        })
    }

    fn take(&mut self, block: &[Row]) -> Result<(), CensusError> {
        let equivalents = self.settings.equivalents;
        let checked: Vec<Vec<Checked>> =
            block.par_chunks(CHUNK).map(|rows| check(rows, equivalents)).collect();
        for (row, checked) in block.iter().zip(checked.into_iter().flatten()) {
            self.totals.read += 1;
            match checked.puzzle {
                Ok(puzzle) => self.accept(row, puzzle, checked.class)?,
                Err(reason) => self.reject(row, reason)?,
            }
        }
        Ok(())
    }

    fn accept(
        &mut self,
        row: &Row,
        puzzle: Puzzle,
        class: Option<u128>,
    ) -> Result<(), CensusError> {
        self.totals.accepted += 1;
        let here = Seen { source: row.source as u32, line: row.line };
        let same = first_of(&mut self.exact, fingerprint(puzzle.values()), here);
        let alike = class.and_then(|class| first_of(&mut self.classes, class, here));
        self.totals.repeated += u64::from(same.is_some());
        let equivalent = alike.is_some() && same.is_none();
        if self.settings.equivalents {
            *self.totals.equivalent.get_or_insert(0) += u64::from(equivalent);
        }
        let drop = match self.settings.repeats {
            Repeats::Keep => false,
            Repeats::DropExact => same.is_some(),
            Repeats::DropEquivalent => same.is_some() || alike.is_some(),
        };
        if let Some(first) = same.or(alike) {
            let how = if same.is_some() { "exactly" } else { "equivalent" };
            self.list_repeat(row, first, how, drop)?;
        }
        if drop {
            self.totals.dropped += 1;
            return Ok(());
        }
        self.totals.puzzles += 1;
        self.totals.weighted += u64::from(row.weight.is_some());
        let collected = CollectedPuzzle {
            puzzle,
            label: row.label.clone(),
            weight: row.weight,
            family: row.family,
            file: self.settings.sources[row.source].name().to_owned(),
            source_line: row.line,
        };
        self.hasher.update(collected.as_line().as_bytes());
        self.hasher.update(b"\n");
        self.waiting.push(collected);
        if self.waiting.len() == PART { self.write_part() } else { Ok(()) }
    }

    fn reject(&mut self, row: &Row, reason: Reason) -> Result<(), CensusError> {
        self.totals.rejected += 1;
        self.rejected[reason.kind()] += 1;
        let reject = Reject {
            file: self.settings.sources[row.source].name().to_owned(),
            line: row.line,
            text: row.text.clone(),
            reason,
        };
        self.first_reject.get_or_insert_with(|| reject.to_string());
        self.rejects.write(&reject)
    }

    fn list_repeat(
        &mut self,
        row: &Row,
        first: Seen,
        how: &str,
        dropped: bool,
    ) -> Result<(), CensusError> {
        let path = self.settings.out.join("repeats.csv");
        let failed = |error: csv::Error| CensusError::write(&path)(error.into());
        if self.repeats.is_none() {
            let mut file = csv::Writer::from_path(&path).map_err(failed)?;
            let header = ["file", "line", "text", "how", "first_file", "first_line", "dropped"];
            file.write_record(header).map_err(failed)?;
            self.repeats = Some(file);
        }
        let name = |source: usize| self.settings.sources[source].name();
        let (line, first_line) = (row.line.to_string(), first.line.to_string());
        let dropped = if dropped { "yes" } else { "no" };
        let (file, first_file) = (name(row.source), name(first.source as usize));
        match &mut self.repeats {
            Some(repeats) => repeats
                .write_record([file, &line, &row.text, how, first_file, &first_line, dropped])
                .map_err(failed),
            None => Ok(()),
        }
    }

    fn write_part(&mut self) -> Result<(), CensusError> {
        let first = self.totals.puzzles - self.waiting.len() as u64;
        write_part(&self.settings.out, self.parts, first, &self.waiting)?;
        self.parts += 1;
        self.waiting.clear();
        Ok(())
    }

    fn finish(mut self, rows: &Rows) -> Result<Collected, CensusError> {
        let out = &self.settings.out;
        self.rejects.finish()?;
        if let Some(mut file) = self.repeats.take() {
            file.flush().map_err(CensusError::write(&out.join("repeats.csv")))?;
        }
        if self.totals.accepted == 0 {
            return Err(CensusError::AllRejected {
                rows: self.totals.read,
                first: self.first_reject.unwrap_or_default(),
                rejects: out.join(RejectsList::FILE_NAME),
            });
        }
        if !self.waiting.is_empty() {
            self.write_part()?;
        }
        let manifest = CollectionManifest {
            kind: KIND.to_owned(),
            schema_version: SCHEMA_VERSION,
            tool: tool(),
            date: self.settings.date.clone(),
            sources: self.settings.sources.iter().map(|s| s.name().to_owned()).collect(),
            notes: rows.notes().to_vec(),
            blake3: self.hasher.finalize().to_hex().to_string(),
            repeats: match self.settings.repeats {
                Repeats::Keep => "kept",
                Repeats::DropExact => "exact repeats dropped",
                Repeats::DropEquivalent => "equivalent puzzles dropped",
            }
            .to_owned(),
            totals: self.totals,
            rejected: Reason::KINDS.iter().map(ToString::to_string).zip(self.rejected).collect(),
            parts: self.parts,
        };
        write_json(&out.join("manifest.json"), &manifest)?;
        Ok(Collected { manifest, first_reject: self.first_reject })
    }
}

/// Returns where a hash was seen first, if it was.
fn first_of(seen: &mut HashMap<u128, Seen>, hash: u128, here: Seen) -> Option<Seen> {
    match seen.entry(hash) {
        std::collections::hash_map::Entry::Occupied(first) => Some(*first.get()),
        std::collections::hash_map::Entry::Vacant(slot) => {
            slot.insert(here);
            None
        }
    }
}
