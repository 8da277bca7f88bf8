//! Rulebooks and claims on trial.
//!
//! One pass over a collection walks each valid puzzle under the full ladder and under each rulebook,
//! all of them together and stopping when stuck. Puzzles are the independent units; where they have
//! families, families are. All sums are whole numbers and blocks of rows are fixed, so no result
//! depends on the number of threads.
//!
//! * **Missed**: the subsets that remain at a rulebook's end position. As in a census, `puzzles`
//!   counts those with a *proper* subset of the shape.
//! * **Reach** falls short where the rulebook's end keeps a candidate that the full ladder removes, or
//!   leaves a cell open that the ladder fixes.
//! * **Occurrence** (`rare`, `implies`): proper subsets at the quiet positions of the full ladder's
//!   walk, before anything is applied.
//! * **Effort** (`easier`, `as-hard-as`): at those positions, each house that holds a proper subset of
//!   the claim's shape is searched once by either look. The number judged is the sum of weighted
//!   glances of the first divided by that of the second, with the puzzle as cluster. In a house where
//!   the subset is proper on the other side alone, a look may be exhausted without a find; that is
//!   part of its cost.
//! * **Verdicts** need both: the 95 % interval is clear of the threshold, and the p-value is below
//!   0.05 after Holm's correction over the claims of one file.
//!
//! Plain collections: shares of puzzles get Wilson's or Clopper–Pearson's interval. With weights or
//! families, and for rates per position or house, the ratio estimator is linearised over clusters;
//! a weighted share without a single hit gets the exact bound for Kish's effective sample size, which
//! is an approximation.

pub(crate) mod numbers;
mod output;
mod pass;
mod sums;
mod table;
mod tally;
mod verdict;
mod walks;

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};
use std::time::Instant;

use rayon::prelude::*;
use serde::Serialize;
use tallyhouse_census::{CensusError, Progress, make_folder};
use tallyhouse_collection::{ReadError, Reason, Reject, RejectsFile, Row, Rows, Source};
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_stats::Estimate;

use crate::{AnalysisError, ClaimFile, Rulebook};
use pass::{Costs, Plan, PlannedClaim, judge_block};
pub use sums::Example;
use sums::{BookSums, Sums};
pub use verdict::{Decision, EffortReport, FlipPoints, RawGlances, Threshold, Verdict};

/// How many rows are judged side by side.
const BLOCK: usize = 1000;
/// How many blocks are read before they are judged.
const BLOCKS_AT_ONCE: usize = 64;

/// What is put on trial, with which puzzles.
#[derive(Clone, Debug)]
pub struct JudgeSettings {
    /// Where the puzzles come from.
    pub sources: Vec<Source>,
    /// The rulebooks; the missed counts of the first also lie in the folder itself.
    pub rulebooks: Vec<Rulebook>,
    /// The claims. Built-in rulebooks that they name are added to the rulebooks.
    pub claims: Vec<ClaimFile>,
    /// What glances weigh.
    pub weights: GlanceWeights,
    /// The folder for the results; new or empty.
    pub out: PathBuf,
}

/// Everything that a trial found; its text is made for teachers.
#[derive(Clone, Debug)]
pub struct JudgeReport {
    /// The verdicts, in the order of files and claims.
    pub verdicts: Vec<Verdict>,
    /// The rulebooks, those added for claims last.
    pub books: Vec<BookReport>,
    /// The claim files.
    pub claims: Vec<ClaimFile>,
    /// What glances weighed.
    pub weights: GlanceWeights,
    /// What was read.
    pub totals: Totals,
    /// Rejected rows by reason.
    pub rejected: Vec<(String, u64)>,
    /// The first rejected row, in words.
    pub first_reject: Option<String>,
    /// The file that lists rejected rows, if there are any.
    pub rejects: Option<PathBuf>,
    /// The names of the sources.
    pub sources: Vec<String>,
    /// The digest of all rows.
    pub blake3: String,
    /// The comment lines at the head of the collection.
    pub notes: Vec<String>,
    /// How long it took; the only entry that differs between equal runs.
    pub wall_seconds: f64,
}

/// What a trial went through.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Totals {
    /// Rows read: puzzles and rejected rows.
    pub rows: u64,
    /// Valid puzzles.
    pub puzzles: u64,
    /// Puzzles that state a weight.
    pub weighted: u64,
    /// Puzzles that belong to a family.
    pub in_families: u64,
    /// Quiet positions of the full ladder's walks.
    pub quiet_positions: u64,
}

/// What a rulebook leaves.
#[derive(Clone, Debug)]
pub struct BookReport {
    /// The rulebook.
    pub rulebook: Rulebook,
    /// All puzzles.
    pub puzzles: u64,
    /// Puzzles that it solves.
    pub solved: u64,
    /// Puzzles in which it reaches less than the full ladder.
    pub short: u64,
    /// The share of these, weighted where puzzles are; none if no interval can be given.
    pub estimate: Option<Estimate>,
    /// The subsets at its end positions by shape, 2 ≤ open ≤ 9 and 1 ≤ naked < open, zeros included.
    pub missed: Vec<MissedShape>,
}

/// How many subsets of one shape remain at the end positions of a rulebook.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct MissedShape {
    /// The open count of the house.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// The size of the hidden side.
    pub hidden: u8,
    /// Subsets.
    pub subsets: u64,
    /// Subsets that are proper on some side.
    pub proper: u64,
    /// Puzzles with at least one proper subset.
    pub puzzles: u64,
}

impl JudgeReport {
    /// Returns the walk that the examples of a verdict come from: a rulebook's name or `full-ladder`.
    fn walk_of(&self, verdict: &Verdict) -> &str {
        let file = self.claims.iter().find(|file| file.name == verdict.file);
        let claim = file.and_then(|file| file.claims.iter().find(|c| c.id == verdict.claim));
        claim.and_then(|claim| claim.test.rulebook()).unwrap_or("full-ladder")
    }
}

/// Puts rulebooks and claims on trial and writes the results.
///
/// # Errors
/// Before reading: if there is nothing to judge, names are not distinct, a claim speaks of a rulebook
/// that is neither given nor built in, a weight is too far from 1, or the folder is in use. Then if a
/// source can't be read, no row is a valid puzzle, sums leave the range in which they are exact, or
/// writing fails.
pub fn judge(
    settings: &JudgeSettings,
    progress: &dyn Progress,
) -> Result<JudgeReport, AnalysisError> {
    let start = Instant::now();
    check_names(settings)?;
    let added = added_rulebooks(settings)?;
    let plan = plan(settings, &added)?;
    let mut rows = Rows::open(settings.sources.clone())?;
    let first = rows.take(BLOCK * BLOCKS_AT_ONCE)?;
    let sources: Vec<String> =
        settings.sources.iter().map(|source| source.name().to_owned()).collect();
    if first.is_empty() {
        return Err(ReadError::Empty(sources.join(", ")).into());
    }
    make_folder(&settings.out, "")?;

    let mut rejects = Rejects::new(&settings.out);
    let sums = pass(settings, &plan, &mut rows, first, &mut rejects, progress)?;
    let (first_reject, rejects) = rejects.finish()?;
    if let (0, Some(rejects)) = (sums.puzzles, &rejects) {
        return Err(CensusError::AllRejected {
            rows: sums.rows,
            first: first_reject.unwrap_or_default(),
            rejects: rejects.clone(),
        }
        .into());
    }

    let mut verdicts = Vec::new();
    let mut of_claims = sums.claims.as_slice();
    for file in &settings.claims {
        let (of_file, rest) = of_claims.split_at(file.claims.len());
        verdicts.extend(verdict::verdicts(sums.puzzles, file, of_file)?);
        of_claims = rest;
    }
    let books = plan.books.iter().zip(&sums.books).map(|(book, of)| report(book, &sums, of));
    let report = JudgeReport {
        verdicts,
        books: books.collect::<Result<_, _>>()?,
        claims: settings.claims.clone(),
        weights: settings.weights,
        totals: Totals {
            rows: sums.rows,
            puzzles: sums.puzzles,
            weighted: sums.weighted,
            in_families: sums.in_families,
            quiet_positions: sums.quiet_positions,
        },
        rejected: Reason::KINDS.iter().map(ToString::to_string).zip(sums.rejected).collect(),
        first_reject,
        rejects,
        sources,
        blake3: rows.digest(),
        notes: rows.notes().to_vec(),
        wall_seconds: (start.elapsed().as_secs_f64() * 1000.0).round() / 1000.0,
    };
    output::write(&report, &settings.out)?;
    Ok(report)
}

fn check_names(settings: &JudgeSettings) -> Result<(), AnalysisError> {
    if settings.rulebooks.is_empty() && settings.claims.is_empty() {
        return Err(AnalysisError::NothingToJudge);
    }
    let books = settings.rulebooks.iter().map(|book| ("rulebook", book.name()));
    let files = settings.claims.iter().map(|file| ("claim file", file.name.as_str()));
    let mut seen = BTreeSet::new();
    for (kind, name) in books.chain(files) {
        if !seen.insert((kind, name)) {
            return Err(AnalysisError::SameName { kind, name: name.to_owned() });
        }
    }
    Ok(())
}

/// Loads the built-in rulebooks that claims name and that are not given.
fn added_rulebooks(settings: &JudgeSettings) -> Result<Vec<Rulebook>, AnalysisError> {
    let mut added: Vec<Rulebook> = Vec::new();
    for (file, claim) in
        settings.claims.iter().flat_map(|file| file.claims.iter().map(move |claim| (file, claim)))
    {
        let Some(name) = claim.test.rulebook() else { continue };
        if settings.rulebooks.iter().chain(&added).any(|book| book.name() == name) {
            continue;
        }
        let built_in: Vec<&str> = Rulebook::built_in().collect();
        if !built_in.contains(&name) {
            let given = settings.rulebooks.iter().map(Rulebook::name);
            let known: BTreeSet<&str> = given.chain(built_in).collect();
            return Err(AnalysisError::WithoutData {
                file: file.name.clone(),
                claim: claim.id.clone(),
                missing: format!(
                    "no rulebook '{name}' is given, expected one of {}",
                    known.into_iter().collect::<Vec<_>>().join(", ")
                ),
            });
        }
        added.push(Rulebook::load(name)?);
    }
    Ok(added)
}

fn plan<'a>(settings: &'a JudgeSettings, added: &'a [Rulebook]) -> Result<Plan<'a>, AnalysisError> {
    let books: Vec<&Rulebook> = settings.rulebooks.iter().chain(added).collect();
    let claims = settings.claims.iter().flat_map(|file| &file.claims).map(|claim| {
        let name = claim.test.rulebook();
        let book = name.and_then(|name| books.iter().position(|book| book.name() == name));
        PlannedClaim { test: &claim.test, book }
    });
    let claims = claims.collect();
    Ok(Plan { books, claims, costs: Costs::new(&settings.weights)? })
}

fn pass(
    settings: &JudgeSettings,
    plan: &Plan<'_>,
    rows: &mut Rows,
    first: Vec<Row>,
    rejects: &mut Rejects,
    progress: &dyn Progress,
) -> Result<Sums, AnalysisError> {
    let mut sums = Sums::new(plan.books.len(), plan.claims.len());
    let mut some = first;
    while !some.is_empty() {
        if let Some(rows) = rows.expected() {
            progress.expect(rows);
        }
        let start = sums.rows;
        let blocks: Vec<(Sums, Vec<Reject>)> = some
            .par_chunks(BLOCK)
            .enumerate()
            .map(|(number, block)| {
                let first = start + (number * BLOCK) as u64;
                let judged = judge_block(plan, &settings.sources, first, block);
                progress.advance(block.len() as u64);
                judged
            })
            .collect();
        for (more, rejected) in blocks {
            sums += &more;
            rejects.write(&rejected)?;
        }
        some = rows.take(BLOCK * BLOCKS_AT_ONCE)?;
    }
    Ok(sums)
}

fn report(book: &Rulebook, all: &Sums, sums: &BookSums) -> Result<BookReport, AnalysisError> {
    let shapes = (2..=9u8).flat_map(|open| (1..open).map(move |naked| (open, naked)));
    let missed = shapes.map(|(open, naked)| {
        let sums::Missed { subsets, proper, puzzles } =
            sums.missed[usize::from(open)][usize::from(naked)];
        MissedShape { open, naked, hidden: open - naked, subsets, proper, puzzles }
    });
    let estimate = verdict::share_estimate(&sums.short)
        .map_err(|error| AnalysisError::Stats { claim: book.name().to_owned(), error })?;
    Ok(BookReport {
        rulebook: book.clone(),
        puzzles: all.puzzles,
        solved: sums.solved,
        short: sums.short.y(),
        estimate,
        missed: missed.collect(),
    })
}

/// The file of rejected rows, made when the first one comes and named when it is whole.
struct Rejects {
    path: PathBuf,
    unfinished: PathBuf,
    file: Option<RejectsFile<BufWriter<File>>>,
    first: Option<String>,
}

impl Rejects {
    fn new(out: &Path) -> Self {
        let (path, unfinished) = (out.join("rejects.csv"), out.join("rejects.csv.partial"));
        Self { path, unfinished, file: None, first: None }
    }

    fn write(&mut self, rejects: &[Reject]) -> Result<(), CensusError> {
        let Some(first) = rejects.first() else { return Ok(()) };
        self.first.get_or_insert_with(|| first.to_string());
        let mut write = || -> io::Result<()> {
            let file = match &mut self.file {
                Some(file) => file,
                None => {
                    let file = BufWriter::new(File::create(&self.unfinished)?);
                    let file = self.file.insert(RejectsFile::new(file));
                    file.header()?;
                    file
                }
            };
            rejects.iter().try_for_each(|reject| file.write(reject).map_err(io::Error::from))
        };
        write().map_err(|error| CensusError::Write { path: self.path.clone(), error })
    }

    /// Returns the first reject and the file, if there are any.
    fn finish(self) -> Result<(Option<String>, Option<PathBuf>), CensusError> {
        let Some(file) = self.file else { return Ok((None, None)) };
        let finish = || -> io::Result<()> {
            let file = file.finish()?.into_inner().map_err(io::IntoInnerError::into_error)?;
            file.sync_data()?;
            fs::rename(&self.unfinished, &self.path)
        };
        finish().map_err(|error| CensusError::Write { path: self.path.clone(), error })?;
        Ok((self.first, Some(self.path)))
    }
}
