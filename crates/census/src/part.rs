//! One part: a fixed range of rows, scanned by one thread.

use std::path::Path;

use tallyhouse_board::Puzzle;
use tallyhouse_collection::{Reason, Reject, RejectsFile, Row, Source};
use tallyhouse_engine::WalkOptions;

use crate::aside::write_file;
use crate::ledger::PartLedger;
use crate::run::{Progress, Settings, Tables};
use crate::tables::PartTables;
use crate::{CensusError, Counts, Numbered, Scanner, Sink};

/// A part of the input, ready to be scanned.
pub(crate) struct Part {
    /// The number of the part, from 0.
    pub(crate) number: u64,
    /// The position in the collection of its first row.
    pub(crate) first_row: u64,
    pub(crate) rows: Vec<Row>,
    /// BLAKE3 of the part's rows.
    pub(crate) digest: String,
}

/// How many rows are scanned side by side.
const BLOCK: usize = 1000;

pub(crate) fn file_stem(number: u64) -> String {
    format!("part-{number:05}")
}

/// Scans a part and writes its files; its ledger last, which marks the part as whole.
pub(crate) fn scan_part(
    part: &Part,
    sources: &[Source],
    settings: &Settings,
    progress: &dyn Progress,
) -> Result<PartLedger, CensusError> {
    let walk: &WalkOptions = &settings.walk;
    let mut counts = Counts::new(&walk.order);
    let mut tables = (settings.tables == Tables::All).then(|| PartTables::new(&walk.order));
    let mut rejects: Vec<Reject> = Vec::new();
    let mut scanner = Scanner::new(walk, settings.keep_states);
    for (block_number, block) in part.rows.chunks(BLOCK).enumerate() {
        let first = part.first_row + (block_number * BLOCK) as u64;
        let parsed: Vec<Result<Puzzle, Reason>> =
            block.iter().map(|row| row.puzzle().map_err(Reason::Unreadable)).collect();
        let numbered = |(number, (row, parsed)): (u64, (&Row, &Result<Puzzle, Reason>))| {
            let puzzle = *parsed.as_ref().ok()?;
            Some(Numbered { number, puzzle, weight: row.weight, family: row.family })
        };
        let puzzles: Vec<Numbered> =
            (first..).zip(block.iter().zip(&parsed)).filter_map(numbered).collect();
        let mut scans = scanner.scan(&puzzles).into_iter();
        for (row, parsed) in block.iter().zip(parsed) {
            // A row without a puzzle has no scan; each other row has the next one.
            let scanned = match parsed {
                Ok(_) => scans.next().unwrap_or(Err(Reason::NoSolution)),
                Err(reason) => Err(reason),
            };
            match scanned {
                Ok(scan) => {
                    counts.puzzle(scan);
                    if let Some(tables) = &mut tables {
                        tables.puzzle(scan);
                    }
                }
                Err(reason) => {
                    counts.reject(&reason);
                    rejects.push(Reject {
                        file: sources[row.source].name().to_owned(),
                        line: row.line,
                        text: row.text.clone(),
                        reason,
                    });
                }
            }
        }
        progress.advance(block.len() as u64);
    }

    let stem = file_stem(part.number);
    if let Some(tables) = tables {
        tables.write(&settings.out, &format!("{stem}.parquet"))?;
    }
    if !rejects.is_empty() {
        write_rejects(&settings.out, &stem, &rejects)?;
    }
    let ledger = PartLedger {
        digest: part.digest.clone(),
        first_reject: rejects.first().map(ToString::to_string),
        counts,
    };
    ledger.write(&settings.out, part.number)?;
    Ok(ledger)
}

fn write_rejects(out: &Path, stem: &str, rejects: &[Reject]) -> Result<(), CensusError> {
    let path = crate::ledger::folder(out).join(format!("{stem}.rejects.csv"));
    write_file(&path, |writer| {
        let mut file = RejectsFile::new(writer);
        for reject in rejects {
            file.write(reject)?;
        }
        file.finish().map(drop)
    })
}
