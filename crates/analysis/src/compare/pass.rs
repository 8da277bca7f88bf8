//! One pass over the puzzles: walks, counts and rejects.

use std::ops::AddAssign;

use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_census::{PuzzleScan, Scanner};
use tallyhouse_collection::{Block, Part, Progress, Reject, Rejects, Rows};
use tallyhouse_engine::effort::{DueWalker, Glances, Learning, LookSums, Reader};
use tallyhouse_engine::{Order, Outcome, WalkOptions};
use tallyhouse_stats::InTurn;

use super::sums::{BookCluster, Cluster, CompareSums, Reach, ReaderCluster};
use super::{BLOCK, CompareSettings, Stop, StopFind};
use crate::AnalysisError;
use crate::reach::{FIXED, falls_short, ladder_states, subsets_at};

/// So many puzzles that only one rulebook solves are kept for each pair.
const MOST_STOPS: usize = 20;

/// The sums of a look for each way of learning, in the order of [`Learning::ALL`].
pub(super) type ByLearning = [LookSums; Learning::ALL.len()];

/// Everything that was counted.
pub(super) struct Counted {
    pub(super) sums: CompareSums,
    /// By rulebook, without weights.
    pub(super) books: Vec<BookCounts>,
    pub(super) puzzles: u64,
    pub(super) weighted: u64,
}

/// A rulebook, without weights.
#[derive(Clone, Debug, Default)]
pub(super) struct BookCounts {
    pub(super) solved: Pairs,
    pub(super) reached: Pairs,
    /// By look.
    pub(super) looks: Vec<ByLearning>,
    /// Where the base stops in puzzles that this rulebook solves.
    pub(super) base_stops: Vec<Stop>,
    /// Where this rulebook stops in puzzles that the base solves.
    pub(super) this_stops: Vec<Stop>,
}

/// Puzzles that this rulebook and the base, one of them or neither brings so far.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Pairs {
    pub(super) both: u64,
    pub(super) this_only: u64,
    pub(super) base_only: u64,
    pub(super) neither: u64,
}

impl Pairs {
    fn add(&mut self, here: bool, base: bool) {
        *match (here, base) {
            (true, true) => &mut self.both,
            (true, false) => &mut self.this_only,
            (false, true) => &mut self.base_only,
            (false, false) => &mut self.neither,
        } += 1;
    }
}

impl AddAssign for Pairs {
    fn add_assign(&mut self, other: Self) {
        self.both += other.both;
        self.this_only += other.this_only;
        self.base_only += other.base_only;
        self.neither += other.neither;
    }
}

impl AddAssign for BookCounts {
    fn add_assign(&mut self, other: Self) {
        self.solved += other.solved;
        self.reached += other.reached;
        self.looks.resize(other.looks.len(), ByLearning::default());
        let looks = self.looks.iter_mut().flatten().zip(other.looks.iter().flatten());
        looks.for_each(|(sum, more)| *sum += *more);
        for (stops, more) in
            [(&mut self.base_stops, other.base_stops), (&mut self.this_stops, other.this_stops)]
        {
            stops.extend(more);
            stops.truncate(MOST_STOPS);
        }
    }
}

/// What comes of a block of rows.
struct BlockCounts {
    run: InTurn<CompareSums>,
    books: Vec<BookCounts>,
    puzzles: u64,
    weighted: u64,
    rejects: Vec<Reject>,
}

/// What is walked and for whom, for all threads.
struct Plan<'a> {
    orders: Vec<&'a Order>,
    readers: Vec<Reader>,
    sources: Vec<String>,
}

pub(super) fn pass(
    settings: &CompareSettings,
    rows: &mut Rows,
    rejects: &mut Rejects,
    progress: &dyn Progress,
) -> Result<Counted, AnalysisError> {
    let plan = Plan {
        orders: settings.rulebooks.iter().map(|book| book.order()).collect(),
        readers: settings.readers.iter().map(|reader| reader.model).collect(),
        sources: rows.sources().iter().map(|source| source.name().to_owned()).collect(),
    };
    let mut run = InTurn::default();
    let mut books = vec![BookCounts::default(); plan.orders.len()];
    let (mut puzzles, mut weighted) = (0, 0);
    let work = |part: Part<'_>| part.map(|block| plan.count(block)).collect::<Vec<_>>();
    rows.pass(BLOCK, progress, work, |blocks| {
        for block in blocks {
            run.append(block.run);
            books.iter_mut().zip(block.books).for_each(|(sum, more)| *sum += more);
            puzzles += block.puzzles;
            weighted += block.weighted;
            block.rejects.iter().try_for_each(|reject| rejects.take(reject))?;
        }
        Ok::<(), AnalysisError>(())
    })?;
    Ok(Counted { sums: run.finish(), books, puzzles, weighted })
}

/// One walk.
struct Walked {
    /// The board where it stops; none if it solves the puzzle.
    stop: Option<[u16; Cell::COUNT]>,
    reached: bool,
    /// By look.
    looks: Vec<ByLearning>,
}

impl Walked {
    fn solved(&self) -> bool {
        self.stop.is_none()
    }

    /// The millionths of glances of a reader, by look.
    fn costs(&self, reader: &Reader) -> impl Iterator<Item = i128> {
        let of_look = move |sums: &ByLearning| {
            let glances: Glances = sums[reader.learning as usize].glances;
            glances.millionths(&reader.weights)
        };
        self.looks.iter().map(of_look)
    }
}

impl Plan<'_> {
    fn count(&self, block: Block) -> BlockCounts {
        let ladder = WalkOptions::default();
        let mut scanner = Scanner::new(&ladder, true);
        let (valid, rejects) = scanner.scan_apart(block);
        let mut counts = BlockCounts {
            run: InTurn::default(),
            books: vec![BookCounts::default(); self.orders.len()],
            puzzles: 0,
            weighted: 0,
            rejects,
        };
        let walks: Vec<Vec<Walked>> =
            self.orders.iter().map(|order| walk_all(order, &valid)).collect();
        for (index, scan) in valid.into_iter().enumerate() {
            let walks: Vec<&Walked> = walks.iter().map(|walks| &walks[index]).collect();
            counts.puzzles += 1;
            counts.weighted += u64::from(scan.entry.weight.is_some());
            for (book, counts) in counts.books.iter_mut().enumerate() {
                self.count_book(scan, [0, book], &walks, counts);
            }
            counts.run.add(scan.entry.family, &self.cluster(scan.entry.millionths(), &walks));
        }
        counts
    }

    /// Counts a puzzle under the base and another rulebook, without its weight.
    fn count_book(
        &self,
        scan: &PuzzleScan,
        [base, book]: [usize; 2],
        walks: &[&Walked],
        counts: &mut BookCounts,
    ) {
        let [of_base, here] = [base, book].map(|book| walks[book]);
        counts.solved.add(here.solved(), of_base.solved());
        counts.reached.add(here.reached, of_base.reached);
        counts.looks.resize(here.looks.len(), ByLearning::default());
        let looks = counts.looks.iter_mut().flatten().zip(here.looks.iter().flatten());
        looks.for_each(|(sum, more)| *sum += *more);
        let (stops, stop, solver) = match (&here.stop, &of_base.stop) {
            (None, Some(stop)) => (&mut counts.base_stops, stop, book),
            (Some(stop), None) => (&mut counts.this_stops, stop, base),
            _ => return,
        };
        if stops.len() < MOST_STOPS {
            stops.push(self.stop(scan, stop, self.orders[solver]));
        }
    }

    fn stop(&self, scan: &PuzzleScan, states: &[u16; Cell::COUNT], solver: &Order) -> Stop {
        let subsets = subsets_at(states);
        let find = solver.looks().iter().find_map(|&look| {
            let subset = *subsets.iter().find(|subset| look.finds(subset))?;
            Some(StopFind { look, subset })
        });
        let entry = &scan.entry;
        Stop {
            puzzle: entry.number,
            source: self.sources.get(entry.source).cloned().unwrap_or_default(),
            line: entry.line,
            givens: entry.puzzle,
            open_cells: states.iter().filter(|state| *state & FIXED == 0).count(),
            find,
            states: *states,
        }
    }

    /// A puzzle as a cluster of its own.
    fn cluster(&self, weight: i128, walks: &[&Walked]) -> Cluster {
        let base = walks[0];
        let if_so = |holds: bool| if holds { weight } else { 0 };
        let books = walks.iter().map(|here| {
            let both_solve = here.solved() && base.solved();
            let readers = self.readers.iter().map(|reader| {
                let looks: Vec<i128> = here.costs(reader).map(|cost| cost * weight).collect();
                let total = |costs: i128| if both_solve { costs } else { 0 };
                let of_base: i128 = base.costs(reader).sum();
                ReaderCluster {
                    where_both_solve: [total(looks.iter().sum()), total(of_base * weight)],
                    looks,
                }
            });
            BookCluster {
                solved: Reach { here: if_so(here.solved()), both: if_so(both_solve) },
                reached: Reach {
                    here: if_so(here.reached),
                    both: if_so(here.reached && base.reached),
                },
                readers: readers.collect(),
            }
        });
        Cluster { weight, books: books.collect() }
    }
}

/// Walks all puzzles one by one, through rows, columns and boxes.
fn walk_all(order: &Order, scans: &[&PuzzleScan]) -> Vec<Walked> {
    let puzzles: Vec<Puzzle> = scans.iter().map(|scan| scan.entry.puzzle).collect();
    let mut all = Vec::with_capacity(puzzles.len());
    DueWalker::new(order).walk(&puzzles, |index, due| {
        let stop = (due.outcome != Outcome::Solved).then(|| (due.states)());
        let short = |stop: &[u16; Cell::COUNT]| falls_short(stop, ladder_states(scans[index]));
        let mut looks = vec![ByLearning::default(); order.looks().len()];
        for of_look in due.looks {
            for (sums, &learning) in looks[of_look.look].iter_mut().zip(Learning::ALL) {
                *sums += *of_look.of(learning);
            }
        }
        all.push(Walked { reached: !stop.as_ref().is_some_and(short), stop, looks });
    });
    all
}
