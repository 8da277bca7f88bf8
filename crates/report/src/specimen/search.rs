//! Walking puzzles to find specimens.

use std::path::Path;

use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_census::{Dataset, PuzzleScan, Scanner};
use tallyhouse_collection::{
    Block, Entry, MinimalByDeletion, Part, Progress, Recipe, Reject, Rejects, Rows, Sampling,
    Source,
};
use tallyhouse_engine::{Position, Subset, WalkOptions};

use super::origin::walk_words;
use super::recorded::search_dataset;
use super::selection::{Candidate, Selection};
use super::{Examined, Origin, Specimen, Wanted};
use crate::ReportError;

/// How many rows one thread examines at a time.
const BLOCK: usize = 1000;
/// How many puzzles one thread makes and examines at a time.
const CHUNK: usize = 256;
/// How many puzzles are made between two looks at what was found.
const ROUND: usize = 16 * CHUNK;

/// Where puzzles come from.
#[derive(Clone, Debug)]
pub enum Puzzles {
    /// The rows of sources, one source after the other.
    Sources(Vec<Source>),
    /// The puzzles of a census, with the quiet positions of its walk.
    Dataset(Box<Dataset>),
    /// Minimal puzzles by random deletion, numbers 0 to `count` − 1 of a seed.
    Made {
        /// The seed.
        seed: u64,
        /// How many.
        count: u64,
    },
}

/// Who hears how a search goes on.
pub struct Hearing<'a> {
    /// Hears how far it has come.
    pub progress: &'a dyn Progress,
    /// The folder in which rejected rows are listed; they are counted in any case.
    pub rejects: Option<&'a Path>,
}

impl<'a> From<&'a dyn Progress> for Hearing<'a> {
    fn from(progress: &'a dyn Progress) -> Self {
        Self { progress, rejects: None }
    }
}

impl<'a, P: Progress> From<&'a P> for Hearing<'a> {
    fn from(progress: &'a P) -> Self {
        Self { progress, rejects: None }
    }
}

/// The outcome of a search.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// The specimens, clearest first; equal scores in the order of puzzles, positions, houses and
    /// cells.
    pub specimens: Vec<Specimen>,
    /// What was examined to find them.
    pub examined: Examined,
}

/// Examines all puzzles and returns the `most` clearest specimens that fit.
///
/// # Errors
/// If nothing can fit, a source can't be read, or no row is a valid puzzle. Rejected rows are
/// counted.
pub fn find<'a>(
    puzzles: &Puzzles,
    wanted: &Wanted,
    most: usize,
    hearing: impl Into<Hearing<'a>>,
) -> Result<Found, ReportError> {
    let selection = Selection::of_all(most);
    let (selection, examined) = search(puzzles, wanted, selection, hearing.into())?;
    Ok(Found { specimens: selection.into_specimens(wanted.lead()), examined })
}

/// Makes minimal puzzles by random deletion until `most` specimens are found or `limit` puzzles were
/// examined. The puzzles are examined in rounds of 4,096, the last one is finished, and the clearest
/// specimens so far are returned.
///
/// # Errors
/// If nothing can fit.
pub fn find_by_making(
    seed: u64,
    wanted: &Wanted,
    most: usize,
    limit: u64,
    progress: &dyn Progress,
) -> Result<Found, ReportError> {
    wanted.check()?;
    let mut search = Search::new(wanted, Selection::of_all(most));
    while search.examined.puzzles < limit && !search.selection.is_full() {
        search.make_round(seed, limit, progress)?;
    }
    let (selection, examined) = search.finish_made(seed);
    Ok(Found { specimens: selection.into_specimens(wanted.lead()), examined })
}

/// Examines all puzzles and adds what fits to a selection.
pub(super) fn search(
    puzzles: &Puzzles,
    wanted: &Wanted,
    selection: Selection,
    hearing: Hearing<'_>,
) -> Result<(Selection, Examined), ReportError> {
    wanted.check()?;
    let progress = hearing.progress;
    let mut search = Search::new(wanted, selection);
    match puzzles {
        Puzzles::Made { seed, count } => {
            progress.expect(*count);
            while search.examined.puzzles < *count {
                search.make_round(*seed, *count, progress)?;
            }
            Ok(search.finish_made(*seed))
        }
        Puzzles::Sources(sources) => search.read(sources, &hearing),
        Puzzles::Dataset(dataset) => search_dataset(dataset, wanted, search.selection, progress),
    }
}

struct Search<'a> {
    wanted: &'a Wanted,
    /// Without specimens, to begin a chunk with.
    empty: Selection,
    selection: Selection,
    examined: Examined,
    walk: WalkOptions,
}

/// What some puzzles gave: the specimens, and the rows that are no valid puzzle.
type Chosen = Result<(Selection, Vec<Reject>), ReportError>;

impl<'a> Search<'a> {
    fn new(wanted: &'a Wanted, empty: Selection) -> Self {
        let walk = WalkOptions::default();
        Self {
            wanted,
            selection: empty.clone(),
            empty,
            examined: Examined { walk: walk_words(&walk), ..Examined::default() },
            walk,
        }
    }

    fn make_round(
        &mut self,
        seed: u64,
        limit: u64,
        progress: &dyn Progress,
    ) -> Result<(), ReportError> {
        let start = self.examined.puzzles;
        let end = limit.min(start + ROUND as u64);
        let chunks: Vec<u64> = (start..end).step_by(CHUNK).collect();
        let source = made_source(seed);
        let origin = |entry: &Entry| Origin {
            source: source.clone(),
            number: entry.number,
            ..Origin::default()
        };
        let this = &*self;
        let results: Vec<Chosen> = chunks
            .into_par_iter()
            .map(|first| {
                let numbers = first..end.min(first + CHUNK as u64);
                let puzzles = MinimalByDeletion { seed }.puzzles(numbers.clone());
                let entries = numbers.zip(puzzles);
                let entries = entries.map(|(number, puzzle)| Ok(Entry::new(number, puzzle)));
                this.examine(entries.collect(), &origin)
            })
            .collect();
        for result in results {
            self.selection.merge(result?.0);
        }
        self.examined.puzzles = end;
        progress.advance(end - start);
        Ok(())
    }

    fn finish_made(mut self, seed: u64) -> (Selection, Examined) {
        self.examined.collection = made_source(seed);
        self.examined.notes = Recipe::plain(Sampling::Deletion, seed).notes();
        (self.selection, self.examined)
    }

    fn read(
        self,
        sources: &[Source],
        hearing: &Hearing<'_>,
    ) -> Result<(Selection, Examined), ReportError> {
        let origin = |entry: &Entry| Origin::of(entry, sources);
        let mut selection = self.selection.clone();
        let examined = each_block(
            sources,
            hearing,
            |block| self.examine(block, &origin),
            |more| selection.merge(more),
        )?;
        Ok((selection, Examined { walk: self.examined.walk, ..examined }))
    }

    fn examine(&self, block: Block, origin: &dyn Fn(&Entry) -> Origin) -> Chosen {
        let mut scanner = Scanner::new(&self.walk, true);
        let mut selection = self.empty.clone();
        let (scans, rejects) = scanner.scan_apart(block);
        scans.into_iter().try_for_each(|scan| self.select(scan, origin, &mut selection))?;
        Ok((selection, rejects))
    }

    fn select(
        &self,
        scan: &PuzzleScan,
        origin: &dyn Fn(&Entry) -> Origin,
        selection: &mut Selection,
    ) -> Result<(), ReportError> {
        for at_position in scan.subsets.chunk_by(|one, other| one.0 == other.0) {
            let Some(record) = scan.positions.get(usize::from(at_position[0].0)) else { continue };
            let fits = |(number, subset): &&(u16, Subset)| self.wanted.fits(*number, subset);
            let mut fitting = at_position.iter().filter(fits).peekable();
            let (Some(states), true) = (&record.states, fitting.peek().is_some()) else { continue };
            let position = Position::from_states(states)?;
            for (_, subset) in fitting {
                let candidate = Candidate {
                    number: scan.entry.number,
                    puzzle: scan.entry.puzzle,
                    quiet_position: record.number,
                    position: &position,
                    subsets: at_position.len(),
                    subset,
                };
                selection.offer(&candidate, || origin(&scan.entry));
            }
        }
        Ok(())
    }
}

/// Works on all rows of sources, a block in the hands of one thread, and folds what comes of the blocks in
/// their order. `work` returns the rows that are no valid puzzle beside what else came of a block.
///
/// # Errors
/// Those of `work`; if a source can't be read, or no row is a valid puzzle. Rejected rows are counted.
pub(crate) fn each_block<T: Send>(
    sources: &[Source],
    hearing: &Hearing<'_>,
    work: impl Fn(Block) -> Result<(T, Vec<Reject>), ReportError> + Sync,
    mut fold: impl FnMut(T) + Send,
) -> Result<Examined, ReportError> {
    let names: Vec<&str> = sources.iter().map(Source::name).collect();
    let mut rows = Rows::open(sources.to_vec())?;
    rows.read_ahead(BLOCK)?;
    let mut rejects = match hearing.rejects {
        Some(folder) => Rejects::in_folder(sources, folder),
        None => Rejects::counted(sources),
    };
    let examine = |part: Part<'_>| part.map(&work).collect::<Vec<_>>();
    rows.pass(BLOCK, hearing.progress, examine, |worked| {
        for worked in worked {
            let (more, rejected) = worked?;
            fold(more);
            rejected.iter().try_for_each(|reject| rejects.take(reject))?;
        }
        Ok::<(), ReportError>(())
    })?;
    rejects.finish()?;
    let (all, rejected) = (rows.rows(), rejects.counts().total());
    let first_reject = rejects.first().map(str::to_owned);
    if rejected == all {
        let first = first_reject.unwrap_or_default();
        return Err(ReportError::AllRejected { rows: all, first });
    }
    Ok(Examined {
        collection: names.join(", "),
        notes: rows.notes().to_vec(),
        digest: Some(rows.digest()),
        puzzles: all - rejected,
        rejected,
        first_reject,
        ..Examined::default()
    })
}

fn made_source(seed: u64) -> String {
    format!("minimal puzzles by random deletion, seed {seed}")
}
