//! The files of a trial.

use std::fs;
use std::io::Write;
use std::path::Path;

use serde::Serialize;
use tallyhouse_stats::{Level, Limits};
use tallyhouse_storage::{Files, StorageError, write_file, write_json, write_sealed_and};

use super::example::Example;
use super::{
    BookReport, JudgeReport, LeftOutShape, LookPrice, MissedShape, ShareCounts, TrialWalk, Verdict,
};
use crate::AnalysisError;
use crate::csv_file::{estimate_fields, number_field, to_csv, value_fields};

/// Writes all files but the rejects and the manifest.
pub(super) fn write(report: &JudgeReport, out: &Path) -> Result<(), AnalysisError> {
    for (number, book) in report.books.iter().enumerate() {
        let folder = out.join(book.rulebook.name());
        fs::create_dir_all(&folder).map_err(StorageError::write(&folder))?;
        let here = (number == 0).then_some(out).into_iter().chain([folder.as_path()]);
        for folder in here {
            write_csv(&folder.join("missed.csv"), missed_csv(book))?;
        }
        write_csv(&folder.join("missed-shares.csv"), missed_shares_csv(book))?;
    }
    if !report.left_out.is_empty() {
        write_csv(&out.join("left-out.csv"), left_out_csv(&report.left_out))?;
    }
    write_json(&out.join("verdicts.json"), &report.verdicts)?;
    write_csv(&out.join("verdicts.csv"), verdicts_csv(&report.verdicts))?;
    write_csv(&out.join("juries.csv"), juries_csv(&report.verdicts))?;
    write_csv(&out.join("counterexamples.csv"), examples_csv(report))
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

fn write_csv(path: &Path, csv: Result<Vec<u8>, csv::Error>) -> Result<(), AnalysisError> {
    write_file(path, |writer| writer.write_all(&csv?))?;
    Ok(())
}

fn missed_csv(book: &BookReport) -> Result<Vec<u8>, csv::Error> {
    let record = |shape: &MissedShape| {
        let &MissedShape { open, naked, hidden, subsets, proper, puzzles, .. } = shape;
        [open.into(), naked.into(), hidden.into(), subsets, proper, puzzles]
    };
    to_csv("open,naked,hidden,subsets,proper,puzzles", book.missed.iter().map(record))
}

/// Tells how many puzzles show a shape, as a share of all; by weight where they carry weights.
fn missed_shares_csv(book: &BookReport) -> Result<Vec<u8>, csv::Error> {
    let record = |shape: &MissedShape| {
        let &MissedShape { open, naked, hidden, puzzles, share, .. } = shape;
        (open, naked, hidden, puzzles, estimate_fields(share.as_ref()))
    };
    let header = "open,naked,hidden,puzzles,share,low,high,method";
    to_csv(header, book.missed.iter().map(record))
}

/// Tells what each shape matters for; shares are of all puzzles, by weight where they carry weights.
fn left_out_csv(shapes: &[LeftOutShape]) -> Result<Vec<u8>, csv::Error> {
    let record = |shape: &LeftOutShape| {
        let of_shape = [shape.open, shape.naked, shape.hidden];
        let [applied, short] =
            [shape.applied_share, shape.short_share].map(|share| value_fields(share.as_ref()));
        let rest = [shape.elsewhere, shape.splits, shape.superseded];
        (of_shape, (shape.applied, applied), (shape.short, short), rest)
    };
    let header = "open,naked,hidden,applied,applied_share,applied_low,applied_high,\
                  short,short_share,short_low,short_high,elsewhere,splits,superseded";
    to_csv(header, shapes.iter().map(record))
}

fn verdicts_csv(verdicts: &[Verdict]) -> Result<Vec<u8>, csv::Error> {
    let header = "\
        file,claim,kind,verdict,measure,threshold,estimate,low,high,method,count,of,of_what,puzzles,\
        unit,units,weighted,p_value,p_adjusted,more_puzzles,counterexamples,reason,holm_factor,\
        population,jury";
    let record = |v: &Verdict| {
        let claimed = (v.file.clone(), v.claim.clone(), v.kind, v.decision, v.measure.clone());
        let found = (v.threshold.to_string(), estimate_fields(v.estimate.as_ref()));
        let number = |of: fn(&ShareCounts) -> u64| {
            v.counts.as_ref().map_or_else(String::new, |counts| of(counts).to_string())
        };
        let of_what = v.counts.as_ref().map(|counts| counts.of_what.clone());
        let counted = (number(|c| c.count), number(|c| c.of), of_what, v.puzzles);
        let units = (v.unit, v.units, v.weighted);
        let p_values = [v.p_value, v.p_adjusted].map(number_field);
        let more = (v.more_puzzles, v.examples.len(), v.reason.clone(), v.holm_factor);
        (claimed, found, counted, units, p_values, more, v.population.clone(), v.who_says_what())
    };
    to_csv(header, verdicts.iter().map(record))
}

/// One row for each number that a member of a jury goes by.
fn juries_csv(verdicts: &[Verdict]) -> Result<Vec<u8>, csv::Error> {
    let header = "\
        file,claim,frame,reader,verdict,p_value,open_least,open_most,number,low,high,method,reason,\
        units,look,made,finds,glances,price,price_low,price_high,than,than_made,than_finds,\
        than_glances,than_price,than_price_low,than_price_high";
    let look = |look: Option<&LookPrice>| -> [String; 7] {
        look.map_or_else(Default::default, |look| {
            let Limits { value, low, high } = look.price;
            let [value, low, high] = [value, low, high].map(number_field);
            let counts = [look.made, look.finds].map(|count| count.to_string());
            let [made, finds] = counts;
            [look.look.clone(), made, finds, look.glances.to_string(), value, low, high]
        })
    };
    let records = verdicts.iter().flat_map(|verdict| {
        let jurors = verdict.jury.iter();
        let numbers = jurors.flat_map(|juror| juror.prices.iter().map(move |price| (juror, price)));
        numbers.map(move |(juror, price)| {
            let claim = (&verdict.file, &verdict.claim);
            let who = (juror.frame, &juror.reader, juror.decision, number_field(juror.p_value));
            let found = (price.open, estimate_fields(price.estimate.as_ref()), &price.reason);
            let looks = [look(price.looks.first()), look(price.looks.get(1))];
            (claim, who, found, price.units, looks)
        })
    });
    to_csv(header, records)
}

/// One row per position, its 81 masks as numbers with blanks between them.
fn examples_csv(report: &JudgeReport) -> Result<Vec<u8>, csv::Error> {
    let header = "\
        file,claim,walk,puzzle,line,position,house_kind,house,open,naked,hidden,cells,digits,states";
    let records = report.verdicts.iter().flat_map(|verdict| {
        verdict.examples.iter().map(|example| {
            let claim = (verdict.file.clone(), verdict.claim.clone(), report.walk_of(verdict));
            let place = (example.puzzle, example.givens.to_string(), example.position);
            let states = example.states.map(|state| state.to_string()).join(" ");
            (claim, place, split(example), states)
        })
    });
    to_csv(header, records)
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
    readers: Vec<&'a str>,
    walk: TrialWalk,
    population: &'a str,
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
        Self {
            kind: "trial",
            schema_version: 2,
            tool: concat!("tallyhouse ", env!("CARGO_PKG_VERSION")),
            sources: &report.sources,
            blake3: &report.blake3,
            notes: &report.notes,
            rulebooks: books.collect(),
            claims: claims.collect(),
            readers: report.readers.iter().map(|reader| reader.name.as_str()).collect(),
            walk: report.walk,
            population: &report.population,
            level: report.level,
            totals: &report.totals,
            rejected: &report.rejected,
            files,
        }
    }
}
