//! Rulebooks and claims on trial.
//!
//! One pass over a collection walks each valid puzzle under the full ladder and under each rulebook,
//! all of them in one way (a [`TrialWalk`]) and stopping when stuck. Puzzles are the independent units; where they have
//! families, families are. All sums are whole numbers and blocks of rows are fixed, so no result
//! depends on the number of threads.
//!
//! * **Missed**: the subsets that remain at a rulebook's end position. As in a census, `puzzles`
//!   counts those with a *proper* subset of the shape.
//! * **Reach** falls short where the rulebook's end keeps a candidate that the full ladder removes, or
//!   leaves a cell open that the ladder fixes.
//! * **Shapes left out**: the full ladder's walk again, for each shape that it applies, with no look made
//!   where it would find that shape. It reaches less, or other finds do the same work.
//! * **Occurrence** (`rare`, `implies`): proper subsets at the quiet positions of the full ladder's
//!   walk, before anything is applied.
//! * **Prices** (`easier`, `as-hard-as`, `pays`, `never-pays`): glances spent on a look, in vain or not,
//!   for each find, counted and estimated as by [`crate::yields`]. A *jury* is asked: frame `every` for
//!   the readers that it allows, and frame `due` for all. All members supported: supported; all
//!   refuted: refuted; at least one of each, still so by Holm within the jury: *depends*; else
//!   undecided.
//! * **Verdicts** need both: the interval is clear of the threshold, and the p-value is below the
//!   error rate after Holm's correction over the claims of one file. A claim that follows from the
//!   definitions is *certain* and no part of that: it has neither interval nor p-value.
//!
//! Plain collections: shares of puzzles get Wilson's or Clopper–Pearson's interval. With weights or
//! families, and for rates per position or house, the ratio estimator is linearised over clusters;
//! a weighted share without a single hit gets the exact bound for Kish's effective sample size, which
//! is an approximation.

mod example;
mod jury;
mod left_out;
mod output;
mod pass;
mod puzzle;
mod sums;
mod table;
mod tally;
mod verdict;
mod walks;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use serde::Serialize;
use tallyhouse_census::{CensusError, HouseRate};
use tallyhouse_collection::{Part, Progress, Rejects, Rows, Source};
use tallyhouse_engine::Order;
use tallyhouse_stats::{Estimate, Level, StatsError};
use tallyhouse_storage::{Files, StorageError};
use tallyhouse_words::list_or;

use crate::population::population;
use crate::yields::prices::{PriceCounts, PricePlan, PriceQuestion};
use crate::{AnalysisError, Claim, ClaimFile, Coverage, ReaderFile, Rulebook};
pub use example::Example;
use jury::Jury;
pub use jury::{Juror, JurorPrice, LookPrice};
pub use left_out::LeftOutShape;
use pass::{Plan, judge_block};
pub(crate) use puzzle::WalkedPuzzle;
pub(crate) use sums::ClaimSums;
use sums::{BookSums, Sums};
pub use verdict::{ShareCounts, Unit, Verdict};
pub(crate) use walks::StuckEnd;
pub use walks::TrialWalk;

/// How many rows are judged side by side.
const BLOCK: usize = 1000;

/// What is put on trial, with which puzzles.
#[derive(Clone, Debug)]
pub struct JudgeSettings {
    /// Where the puzzles come from.
    pub sources: Vec<Source>,
    /// The rulebooks; the missed counts of the first also lie in the folder itself.
    pub rulebooks: Vec<Rulebook>,
    /// The claims. Built-in rulebooks that they name are added to the rulebooks.
    pub claims: Vec<ClaimFile>,
    /// The readers that claims about prices ask, or choose from by name.
    pub readers: Vec<ReaderFile>,
    /// How the puzzles are walked.
    pub walk: TrialWalk,
    /// The level of all intervals.
    pub level: Level,
    /// Whether each shape is left out of the full ladder's walk in turn.
    pub shapes: bool,
    /// The folder that is filled with the results, all but the manifest.
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
    /// What each shape matters for; empty if that was not asked for.
    pub left_out: Vec<LeftOutShape>,
    /// How many houses show each shape; empty if the former was not asked for.
    pub rates: Vec<HouseRate>,
    /// The readers that claims about prices asked or chose from.
    pub readers: Vec<ReaderFile>,
    /// How the puzzles were walked.
    pub walk: TrialWalk,
    /// What the collection is a sample of.
    pub population: String,
    /// The level of all intervals.
    pub level: Level,
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
    /// The share of these, weighted where puzzles are; none if no interval can be given, or if there
    /// can be none by the definitions: see [`Coverage::clears_all`].
    pub estimate: Option<Estimate>,
    /// The subsets at its end positions by shape, 2 ≤ open ≤ 9 and 1 ≤ naked < open, zeros included.
    pub missed: Vec<MissedShape>,
}

/// How many subsets of one shape remain at the end positions of a rulebook.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
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
    /// The share of these, weighted where puzzles are; none if no interval can be given, or if there
    /// can be none by the definitions: see [`Coverage::clears`].
    pub share: Option<Estimate>,
}

impl JudgeReport {
    /// Writes the manifest, sealed but for the wall time; `files` are all others of the folder.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn write_manifest(&self, path: &Path, files: Files) -> Result<(), StorageError> {
        output::write_manifest(self, path, files)
    }

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
/// that is neither given nor built in. Then if a source can't be read, no row is a valid puzzle, sums
/// leave the range in which they are exact, or writing fails.
pub fn judge(
    settings: &JudgeSettings,
    progress: &dyn Progress,
) -> Result<JudgeReport, AnalysisError> {
    let start = Instant::now();
    check_names(settings)?;
    let added = added_rulebooks(settings)?;
    let books: Vec<&Rulebook> = settings.rulebooks.iter().chain(&added).collect();
    let (juries, questions) = juries(settings, &books)?;
    let plan = Plan {
        books,
        claims: settings.claims.iter().flat_map(|file| &file.claims).collect(),
        shapes: settings.shapes,
        prices: PricePlan::new(&questions),
        walk: settings.walk,
    };
    let mut rows = Rows::open(settings.sources.clone())?;
    if !questions.is_empty() {
        rows = rows.with_families_together();
    }
    rows.read_ahead(BLOCK)?;
    fs::create_dir_all(&settings.out).map_err(StorageError::write(&settings.out))?;

    let mut rejects = Rejects::in_folder(&settings.sources, &settings.out);
    let (sums, prices) = pass(&plan, &mut rows, &mut rejects, progress)?;
    let prices = plan.prices.answers(prices);
    let rejects_file = rejects.finish()?;
    let first_reject = rejects.first().map(str::to_owned);
    if let (0, Some(rejects)) = (sums.all.puzzles, &rejects_file) {
        return Err(CensusError::AllRejected {
            rows: rows.rows(),
            first: first_reject.unwrap_or_default(),
            rejects: rejects.clone(),
        }
        .into());
    }

    let sources: Vec<String> =
        settings.sources.iter().map(|source| source.name().to_owned()).collect();
    let population = population(rows.notes(), &sources);
    let mut verdicts = Vec::new();
    let (mut of_claims, mut of_juries) = (sums.claims.as_slice(), juries.as_slice());
    for file in &settings.claims {
        let (of_file, rest) = of_claims.split_at(file.claims.len());
        let (juries, other_juries) = of_juries.split_at(file.claims.len());
        let trial = verdict::Trial {
            file,
            plan: &plan,
            sums: &sums,
            prices: &prices,
            population: &population,
            level: settings.level,
        };
        verdicts.extend(trial.verdicts(of_file, juries)?);
        (of_claims, of_juries) = (rest, other_juries);
    }
    let books = plan
        .books
        .iter()
        .zip(&sums.books)
        .map(|(book, of)| report(book, settings.level, &sums, of));
    let left_out = if settings.shapes {
        sums.left_out.report(&sums.all, settings.level)
    } else {
        Ok(Vec::new())
    };
    let left_out = left_out
        .map_err(|error| AnalysisError::Stats { claim: "shapes left out".to_owned(), error })?;
    let rates =
        if settings.shapes { sums.rates.clone().finish(settings.level) } else { Ok(Vec::new()) };
    let rates = rates
        .map_err(|error| AnalysisError::Stats { claim: "shapes in houses".to_owned(), error })?;
    let report = JudgeReport {
        verdicts,
        left_out,
        rates,
        books: books.collect::<Result<_, _>>()?,
        claims: settings.claims.clone(),
        readers: settings.readers.clone(),
        walk: settings.walk,
        population,
        level: settings.level,
        totals: Totals {
            rows: rows.rows(),
            puzzles: sums.all.puzzles,
            weighted: sums.weighted,
            in_families: sums.in_families,
            quiet_positions: sums.quiet_positions,
        },
        rejected: rejects.counts().named(),
        first_reject,
        rejects: rejects_file,
        sources,
        blake3: rows.digest(),
        notes: rows.notes().to_vec(),
        wall_seconds: (start.elapsed().as_secs_f64() * 1000.0).round() / 1000.0,
    };
    output::write(&report, &settings.out)?;
    Ok(report)
}

fn check_names(settings: &JudgeSettings) -> Result<(), AnalysisError> {
    if settings.rulebooks.is_empty() && settings.claims.is_empty() && !settings.shapes {
        return Err(AnalysisError::NothingToJudge);
    }
    let books = settings.rulebooks.iter().map(|book| ("rulebook", book.name()));
    let files = settings.claims.iter().map(|file| ("claim file", file.name.as_str()));
    let readers = settings.readers.iter().map(|reader| ("reader", reader.name.as_str()));
    AnalysisError::unless_distinct(books.chain(files).chain(readers))
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

/// Calls the juries, one for each claim about prices, with all that they are asked.
fn juries(
    settings: &JudgeSettings,
    books: &[&Rulebook],
) -> Result<(Vec<Option<Jury>>, Vec<PriceQuestion>), AnalysisError> {
    let (mut juries, mut questions) = (Vec::new(), Vec::new());
    for file in &settings.claims {
        for claim in &file.claims {
            let jury = jury(settings, books, file, claim, questions.len())?;
            questions.extend(jury.iter().flat_map(Jury::questions).cloned());
            juries.push(jury);
        }
    }
    Ok((juries, questions))
}

fn jury(
    settings: &JudgeSettings,
    books: &[&Rulebook],
    file: &ClaimFile,
    claim: &Claim,
    first: usize,
) -> Result<Option<Jury>, AnalysisError> {
    let Some(prices) = claim.test.prices() else { return Ok(None) };
    let without_data = |missing: String| AnalysisError::WithoutData {
        file: file.name.clone(),
        claim: claim.id.clone(),
        missing,
    };
    let reader = |name: &String| {
        let found = settings.readers.iter().find(|reader| reader.name == *name);
        found.ok_or_else(|| {
            let known = settings.readers.iter().map(|reader| &reader.name);
            without_data(format!("no reader '{name}' is given, expected one of {}", list_or(known)))
        })
    };
    let readers = match prices.readers() {
        Some(names) => names.iter().map(reader).collect::<Result<Vec<_>, _>>()?,
        None => settings.readers.iter().collect(),
    };
    let book = claim.test.rulebook().and_then(|name| books.iter().find(|b| b.name() == name));
    let order = settings.walk.order(&book.map_or_else(Order::ladder, |book| book.order().clone()));
    let jury = Jury::new(prices, &readers, &order, first);
    if jury.is_empty() {
        let missing = "no reader can be asked: frame 'every' needs one who remembers nothing, and \
                       frame 'due' a rulebook with one of the looks";
        return Err(without_data(missing.to_owned()));
    }
    Ok(Some(jury))
}

fn pass(
    plan: &Plan<'_>,
    rows: &mut Rows,
    rejects: &mut Rejects,
    progress: &dyn Progress,
) -> Result<(Sums, PriceCounts), AnalysisError> {
    let mut sums = Sums::new(plan.books.len(), plan.claims.len());
    let mut prices = PriceCounts::default();
    let judge = |part: Part<'_>| part.map(|block| judge_block(plan, block)).collect::<Vec<_>>();
    rows.pass(BLOCK, progress, judge, |judged| {
        for (more, more_prices, rejected) in judged {
            sums += &more;
            prices.append(more_prices);
            rejected.iter().try_for_each(|reject| rejects.take(reject))?;
        }
        Ok::<(), AnalysisError>(())
    })?;
    Ok((sums, prices))
}

fn report(
    book: &Rulebook,
    level: Level,
    all: &Sums,
    sums: &BookSums,
) -> Result<BookReport, AnalysisError> {
    let shapes = (2..=9u8).flat_map(|open| (1..open).map(move |naked| (open, naked)));
    let coverage = Coverage::of(book.order());
    let unless = |certain: bool, share: Result<Estimate, StatsError>| {
        let share = if certain { Ok(None) } else { Estimate::if_known(share) };
        share.map_err(|error| AnalysisError::Stats { claim: book.name().to_owned(), error })
    };
    let missed = shapes.map(|(open, naked)| {
        let of_shape = &sums.missed[usize::from(open)][usize::from(naked)];
        let share = of_shape.puzzles.share(&all.all, level);
        Ok(MissedShape {
            open,
            naked,
            hidden: open - naked,
            subsets: of_shape.subsets,
            proper: of_shape.proper,
            puzzles: of_shape.puzzles.puzzles,
            share: unless(coverage.clears(open, naked), share)?,
        })
    });
    let missed = missed.collect::<Result<Vec<_>, AnalysisError>>()?;
    let estimate = unless(coverage.clears_all(), sums.short.share(level))?;
    Ok(BookReport {
        rulebook: book.clone(),
        puzzles: all.all.puzzles,
        solved: sums.solved,
        short: sums.short.hits,
        estimate,
        missed,
    })
}
