//! The files of a trial.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use serde::Serialize;
use tallyhouse_board::Cell;
use tallyhouse_stats::Level;
use tallyhouse_storage::{Files, StorageError, write_file, write_json, write_sealed_and};

use super::sums::Example;
use super::{BookReport, JudgeReport, Verdict};
use crate::AnalysisError;
use crate::occurrence::estimate_fields;

/// Writes all files but the rejects and the manifest.
pub(super) fn write(report: &JudgeReport, out: &Path) -> Result<(), AnalysisError> {
    for (number, book) in report.books.iter().enumerate() {
        let folder = out.join(book.rulebook.name());
        fs::create_dir_all(&folder).map_err(StorageError::write(&folder))?;
        let here = (number == 0).then_some(out).into_iter().chain([folder.as_path()]);
        for folder in here {
            write_file(&folder.join("missed.csv"), |writer| write_missed(book, writer))?;
        }
        let shares = folder.join("missed-shares.csv");
        write_file(&shares, |writer| write_missed_shares(book, writer))?;
    }
    write_json(&out.join("verdicts.json"), &report.verdicts)?;
    write_file(&out.join("verdicts.csv"), |writer| write_verdicts(&report.verdicts, writer))?;
    write_file(&out.join("counterexamples.csv"), |writer| write_examples(report, writer))?;
    Ok(())
}

/// Writes the manifest.
pub(super) fn write_manifest(
    report: &JudgeReport,
    path: &Path,
    files: Files,
) -> Result<(), StorageError> {
    let apart = Apart { wall_seconds: report.wall_seconds };
    write_sealed_and(path, &Manifest::of(report, files), &apart).map(drop)
}

/// What differs between equal runs.
#[derive(Serialize)]
struct Apart {
    wall_seconds: f64,
}

fn write_missed(book: &BookReport, writer: &mut dyn Write) -> io::Result<()> {
    writeln!(writer, "open,naked,hidden,subsets,proper,puzzles")?;
    for shape in &book.missed {
        writeln!(
            writer,
            "{},{},{},{},{},{}",
            shape.open, shape.naked, shape.hidden, shape.subsets, shape.proper, shape.puzzles
        )?;
    }
    Ok(())
}

/// Writes how many puzzles show a shape, as a share of all; by weight where they carry weights.
fn write_missed_shares(book: &BookReport, writer: impl Write) -> io::Result<()> {
    let mut file = csv::Writer::from_writer(writer);
    file.write_record(["open", "naked", "hidden", "puzzles", "share", "low", "high", "method"])?;
    for shape in &book.missed {
        let sizes = [shape.open, shape.naked, shape.hidden].map(|size| size.to_string());
        let fields = sizes.into_iter().chain([shape.puzzles.to_string()]);
        file.write_record(fields.chain(estimate_fields(shape.share.as_ref())))?;
    }
    file.flush()
}

fn write_verdicts(verdicts: &[Verdict], writer: impl Write) -> io::Result<()> {
    let mut file = csv::Writer::from_writer(writer);
    file.write_record([
        "file",
        "claim",
        "kind",
        "verdict",
        "measure",
        "threshold",
        "estimate",
        "low",
        "high",
        "method",
        "count",
        "of",
        "of_what",
        "puzzles",
        "unit",
        "units",
        "weighted",
        "p_value",
        "p_adjusted",
        "more_puzzles",
        "counterexamples",
        "reason",
        "holm_factor",
    ])?;
    for v in verdicts {
        let number = |value: Option<f64>| value.map_or(String::new(), |value| value.to_string());
        let interval = v.estimate.map(|estimate| estimate.interval);
        file.write_record([
            v.file.clone(),
            v.claim.clone(),
            v.kind.to_owned(),
            v.decision.name().to_owned(),
            v.measure.clone(),
            v.threshold.to_string(),
            number(v.estimate.map(|estimate| estimate.value)),
            number(interval.map(|interval| interval.low)),
            number(interval.map(|interval| interval.high)),
            v.estimate.map_or(String::new(), |estimate| estimate.method.to_string()),
            v.count.to_string(),
            v.of.to_string(),
            v.of_what.many.clone(),
            v.puzzles.to_string(),
            v.unit.name().to_owned(),
            v.units.to_string(),
            v.weighted.to_string(),
            number(v.p_value),
            number(v.p_adjusted),
            v.more_puzzles.map_or(String::new(), |more| more.to_string()),
            v.examples.len().to_string(),
            v.reason.clone().unwrap_or_default(),
            v.holm_factor.map_or(String::new(), |factor| factor.to_string()),
        ])?;
    }
    file.flush()
}

/// One row per position, its 81 masks as numbers with blanks between them.
fn write_examples(report: &JudgeReport, writer: impl Write) -> io::Result<()> {
    let mut file = csv::Writer::from_writer(writer);
    file.write_record([
        "file",
        "claim",
        "walk",
        "puzzle",
        "line",
        "position",
        "house_kind",
        "house",
        "open",
        "naked",
        "hidden",
        "cells",
        "digits",
        "states",
    ])?;
    for verdict in &report.verdicts {
        let walk = report.walk_of(verdict);
        for example in &verdict.examples {
            let mut record = vec![
                verdict.file.clone(),
                verdict.claim.clone(),
                walk.to_owned(),
                example.puzzle.to_string(),
                example.givens.to_string(),
                example.position.to_string(),
            ];
            record.extend(split(example));
            let states: Vec<String> =
                Cell::all().map(|cell| example.states[cell.index()].to_string()).collect();
            record.push(states.join(" "));
            file.write_record(record)?;
        }
    }
    file.flush()
}

fn split(example: &Example) -> [String; 7] {
    example.subset.map_or_else(Default::default, |subset| {
        [
            subset.house.kind().to_string(),
            subset.house.number().to_string(),
            subset.open.to_string(),
            subset.naked.to_string(),
            subset.hidden().to_string(),
            subset.cells.bits().to_string(),
            subset.digits.bits().to_string(),
        ]
    })
}

#[derive(Serialize)]
struct Manifest<'a> {
    kind: &'static str,
    schema_version: u32,
    tool: &'static str,
    sources: &'a [String],
    blake3: &'a str,
    notes: &'a [String],
    rulebooks: Vec<ManifestBook<'a>>,
    claims: Vec<ManifestClaims<'a>>,
    weights: ManifestWeights,
    level: Level,
    totals: &'a super::Totals,
    rejected: &'a [(String, u64)],
    files: Files,
}

#[derive(Serialize)]
struct ManifestBook<'a> {
    name: &'a str,
    title: &'a str,
    source: &'a str,
    looks: Vec<String>,
}

#[derive(Serialize)]
struct ManifestClaims<'a> {
    name: &'a str,
    title: &'a str,
    source: &'a str,
    claims: Vec<&'a str>,
}

#[derive(Serialize)]
struct ManifestWeights {
    cell: f64,
    place: f64,
    #[serde(rename = "try")]
    try_: f64,
}

impl<'a> Manifest<'a> {
    fn of(report: &'a JudgeReport, files: Files) -> Self {
        let books = report.books.iter().map(|book| ManifestBook {
            name: book.rulebook.name(),
            title: book.rulebook.title(),
            source: book.rulebook.source(),
            looks: book.rulebook.looks().map(|advised| advised.look.to_string()).collect(),
        });
        let claims = report.claims.iter().map(|file| ManifestClaims {
            name: &file.name,
            title: &file.title,
            source: &file.source,
            claims: file.claims.iter().map(|claim| claim.id.as_str()).collect(),
        });
        let weights = &report.weights;
        Self {
            kind: "trial",
            schema_version: 1,
            tool: concat!("tallyhouse ", env!("CARGO_PKG_VERSION")),
            sources: &report.sources,
            blake3: &report.blake3,
            notes: &report.notes,
            rulebooks: books.collect(),
            claims: claims.collect(),
            weights: ManifestWeights {
                cell: weights.cell(),
                place: weights.place(),
                try_: weights.try_(),
            },
            level: report.level,
            totals: &report.totals,
            rejected: &report.rejected,
            files,
        }
    }
}
