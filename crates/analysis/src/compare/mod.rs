//! Rulebooks head to head: what they cost and how far they get on the same puzzles.
//!
//! Each valid puzzle is walked one by one, through rows, columns and boxes, under each rulebook, stopping
//! when stuck; each walk is counted for every reader. *Reach* is that of [`crate::order_search`]: a puzzle is
//! fully reached where the walk ends no earlier than the full ladder's. All differences are paired: the
//! first rulebook is the base, with which each other is compared puzzle by puzzle. Puzzles are the
//! independent units; where they have families, families are; means and shares are by weight. All sums
//! are whole numbers, so no result depends on the number of threads.

mod pass;
mod sums;
mod table;

use serde::{Serialize, Serializer};
use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_census::CensusError;
use tallyhouse_collection::{Progress, Rejects, Rows, Source};
use tallyhouse_engine::{Look, Order, Subset};
use tallyhouse_stats::{Estimate, Level, Limits};

use crate::order_search::{CostDifference, PuzzleMean};
use crate::{AnalysisError, RawGlances, ReaderFile, Rulebook};

/// How many rows one thread walks.
const BLOCK: usize = 1000;

/// What is compared, and who is asked.
#[derive(Clone, Debug)]
pub struct CompareSettings {
    /// At least two rulebooks, each with a name of its own; the first is the base.
    pub rulebooks: Vec<Rulebook>,
    /// The readers, each with a name of its own.
    pub readers: Vec<ReaderFile>,
    /// The level of all intervals.
    pub level: Level,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CompareReport {
    /// What the collection is a sample of.
    pub population: String,
    /// The names of the sources.
    pub sources: Vec<String>,
    /// The comment lines at the head of the collection.
    pub notes: Vec<String>,
    /// The digest of all rows.
    pub blake3: String,
    /// The level of all intervals.
    pub level: Level,
    /// Rows read: puzzles and rejected rows.
    pub rows: u64,
    /// Valid puzzles.
    pub puzzles: u64,
    /// Puzzles that state a weight.
    pub weighted: u64,
    /// Clusters: families, and puzzles without one.
    pub clusters: u64,
    /// The readers.
    pub readers: Vec<String>,
    /// The rulebooks; the first is the base.
    pub rulebooks: Vec<ComparedRulebook>,
}

/// One rulebook on all puzzles.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ComparedRulebook {
    /// The name.
    pub name: String,
    /// The title for readers.
    pub title: String,
    /// The looks.
    #[serde(serialize_with = "as_text")]
    pub order: Order,
    /// Puzzles that it solves.
    pub solved: ReachShare,
    /// Puzzles in which it ends no earlier than the full ladder.
    pub reached: ReachShare,
    /// If it can't end earlier by the definitions: see [`crate::Coverage::clears_all`].
    pub reaches_all: bool,
    /// What it costs each reader.
    pub readers: Vec<ReaderCosts>,
    /// Beside the base; none for the base itself.
    pub against_base: Option<AgainstBase>,
}

/// How many puzzles are brought so far.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ReachShare {
    /// How many puzzles, whatever they weigh.
    pub puzzles: u64,
    /// Their share of all, by weight; without ends where it follows from the definitions.
    pub share: Limits,
}

/// What a rulebook costs a reader.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReaderCosts {
    /// The reader.
    pub reader: String,
    /// Weighted glances per puzzle, solved or not.
    pub glances: PuzzleMean,
    /// The same with its interval; none if all puzzles cost the same.
    pub glances_estimate: Option<Estimate>,
    /// What it costs more than the base; none for the base itself.
    pub against_base: Option<CostDifference>,
    /// The same on the puzzles that both solve, so given success; none if there are none.
    pub where_both_solve: Option<CostDifference>,
    /// Where the glances go, by the looks of the rulebook.
    pub looks: Vec<LookCosts>,
}

/// What one look of a rulebook costs a reader.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookCosts {
    /// The look.
    #[serde(serialize_with = "as_text")]
    pub look: Look,
    /// How often it was made in a house.
    pub made: u64,
    /// How often it found something there.
    pub finds: u64,
    /// The glances, in vain or not, without weights.
    pub raw: RawGlances,
    /// Weighted glances per puzzle.
    pub glances: Limits,
    /// Their share of all glances of this reader under this rulebook.
    pub share: Limits,
}

/// How far a rulebook gets beside the base.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AgainstBase {
    /// Puzzles solved by both, one or none of them.
    pub solved: PairedReach,
    /// Puzzles fully reached by both, one or none of them.
    pub reached: PairedReach,
    /// Puzzles that this rulebook alone solves, with where the base stops; the first few.
    pub base_stops: Vec<Stop>,
    /// Puzzles that the base alone solves, with where this rulebook stops; the first few.
    pub this_stops: Vec<Stop>,
}

/// Two rulebooks on the same puzzles.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PairedReach {
    /// Puzzles of both, whatever they weigh.
    pub both: u64,
    /// Of this rulebook alone.
    pub this_only: u64,
    /// Of the base alone.
    pub base_only: u64,
    /// Of neither.
    pub neither: u64,
    /// The share of this rulebook less that of the base, by weight; without ends where both can't end
    /// earlier than the full ladder by the definitions.
    pub more: Limits,
}

/// Where a rulebook stops in a puzzle that the other one solves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stop {
    /// The position in the collection: rows counted from 0, rejected ones included.
    pub puzzle: u64,
    /// The name of its source.
    pub source: String,
    /// Its line there, from 1.
    pub line: u64,
    /// The givens.
    #[serde(serialize_with = "as_text")]
    pub givens: Puzzle,
    /// How many cells are open.
    pub open_cells: usize,
    /// What the other finds there by its first look for subsets that finds something; none if only a single
    /// or an intersection leads on.
    pub find: Option<StopFind>,
    /// The board: see [`tallyhouse_engine::Position::states`].
    #[serde(skip)]
    pub states: [u16; Cell::COUNT],
}

/// What leads on where a rulebook stops.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct StopFind {
    /// The look of the other rulebook.
    #[serde(serialize_with = "as_text")]
    pub look: Look,
    /// The subset.
    #[serde(serialize_with = "as_place")]
    pub subset: Subset,
}

fn as_text<T: ToString, S: Serializer>(value: &T, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(&value.to_string())
}

/// Writes `row 3, 8 open: naked 5 | hidden 3`.
fn as_place<S: Serializer>(subset: &Subset, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(&format!("{}, {}", subset.house, subset.shape()))
}

impl CompareReport {
    /// Returns the rulebook with which the others are compared.
    ///
    /// # Panics
    /// Never: [`compare`] makes no report without two rulebooks.
    #[must_use]
    pub fn base(&self) -> &ComparedRulebook {
        &self.rulebooks[0]
    }

    /// Returns the others, each with what it is beside the base.
    pub fn others(&self) -> impl Iterator<Item = (&ComparedRulebook, &AgainstBase)> {
        self.rulebooks.iter().filter_map(|book| Some((book, book.against_base.as_ref()?)))
    }
}

/// Walks all valid puzzles under each rulebook and compares what that costs and reaches. Rejected rows go
/// to `rejects`.
///
/// # Errors
/// If there are fewer than two rulebooks, two rulebooks or readers have one name, a source can't be read,
/// no row is a valid puzzle, a family returns after others, or sums leave the range in which they are exact.
pub fn compare(
    settings: &CompareSettings,
    sources: Vec<Source>,
    rejects: &mut Rejects,
    progress: &dyn Progress,
) -> Result<CompareReport, AnalysisError> {
    if settings.rulebooks.len() < 2 {
        return Err(AnalysisError::TooFewRulebooks(settings.rulebooks.len()));
    }
    let books = settings.rulebooks.iter().map(|book| ("rulebook", book.name()));
    let readers = settings.readers.iter().map(|reader| ("reader", reader.name.as_str()));
    AnalysisError::unless_distinct(books.chain(readers))?;
    let mut rows = Rows::open(sources)?.with_families_together();
    rows.read_ahead(BLOCK)?;
    let counted = pass::pass(settings, &mut rows, rejects, progress)?;
    if counted.puzzles == 0
        && let Some(list) = rejects.finish()?
    {
        let first = rejects.first().unwrap_or_default().to_owned();
        return Err(CensusError::AllRejected { rows: rows.rows(), first, rejects: list }.into());
    }
    table::report(settings, counted, &rows)
}
