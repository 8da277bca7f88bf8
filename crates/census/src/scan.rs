//! Scanning one puzzle: its walk, its validity and its records.

use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_collection::{Reason, Weight, validities};
use tallyhouse_engine::{
    AppliedLook, BatchEnd, BatchOutcome, BatchRecorder, FastWalk, QuietPosition, Recorder, Subset,
    WalkOptions, walk,
};

/// One row of the table of puzzles.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PuzzleRecord {
    /// The position in the collection: rows counted from 0, rejected ones included.
    pub number: u64,
    /// The givens.
    pub puzzle: Puzzle,
    /// The number of givens.
    pub clues: u8,
    /// How the walk ended.
    pub outcome: BatchOutcome,
    /// The number of quiet positions.
    pub quiet_positions: u16,
    /// The index in the order of the last look that was needed.
    pub hardest: Option<usize>,
    /// How many digits were given.
    pub given_digits: u8,
    /// How much the puzzle counts; 1 if not given.
    pub weight: Option<Weight>,
    /// The family of puzzles that depend on each other, if it has one.
    pub family: Option<u64>,
}

/// One row of the table of quiet positions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PositionRecord {
    /// The number within the puzzle, from 0.
    pub number: u16,
    /// How many digits were given before.
    pub given_digits: u8,
    /// How many cells are fixed.
    pub fixed_cells: u8,
    /// How many candidates the open cells have.
    pub candidates_left: u16,
    /// How many houses have each open count.
    pub exposure: [u8; 10],
    /// The number of subsets.
    pub subsets: u16,
    /// What the walk applied.
    pub applied: AppliedLook,
    /// The board state, if kept: see [`tallyhouse_engine::Position::states`].
    pub states: Option<[u16; Cell::COUNT]>,
}

/// Everything recorded of one puzzle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PuzzleScan {
    /// The puzzle.
    pub puzzle: PuzzleRecord,
    /// Its quiet positions in order.
    pub positions: Vec<PositionRecord>,
    /// Its subsets, each with the number of its position, in the order of positions, houses and
    /// rising masks of cells.
    pub subsets: Vec<(u16, Subset)>,
}

/// A puzzle of a collection, ready to be scanned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Numbered {
    /// The position in the collection.
    pub number: u64,
    /// The givens.
    pub puzzle: Puzzle,
    /// How much it counts, if that is given.
    pub weight: Option<Weight>,
    /// The family, if it has one.
    pub family: Option<u64>,
}

/// Receives the scan of each valid puzzle, in the order of the collection.
pub trait Sink {
    /// Takes the records of one puzzle.
    fn puzzle(&mut self, scan: &PuzzleScan);
}

/// Scans puzzles in batches, reusing its buffers.
///
/// Uses the fast walk where the options allow it and the simple one otherwise; the records are the
/// same.
pub struct Scanner<'a> {
    options: &'a WalkOptions,
    fast: Option<FastWalk>,
    keep_states: bool,
    scans: Vec<PuzzleScan>,
}

impl<'a> Scanner<'a> {
    /// Makes a scanner; `keep_states` adds the board state to each position.
    #[must_use]
    pub fn new(options: &'a WalkOptions, keep_states: bool) -> Self {
        Self { options, fast: FastWalk::new(options), keep_states, scans: Vec::new() }
    }

    /// Walks puzzles and returns for each its records or
    /// why it is not valid.
    ///
    /// A walk that solves a puzzle without a given digit proves that there is just one solution,
    /// because no look removes a candidate of any solution; only the other puzzles are searched for
    /// a second one.
    pub fn scan(&mut self, puzzles: &[Numbered]) -> Vec<Result<&PuzzleScan, Reason>> {
        let boards: Vec<Puzzle> = puzzles.iter().map(|numbered| numbered.puzzle).collect();
        if self.scans.len() < puzzles.len() {
            self.scans.resize_with(puzzles.len(), PuzzleScan::blank);
        }
        let scans = &mut self.scans[..puzzles.len()];
        for (scan, &Numbered { number, puzzle, weight, family }) in scans.iter_mut().zip(puzzles) {
            scan.positions.clear();
            scan.subsets.clear();
            scan.puzzle.number = number;
            scan.puzzle.puzzle = puzzle;
            scan.puzzle.clues = puzzle.clues() as u8;
            scan.puzzle.given_digits = 0;
            scan.puzzle.weight = weight;
            scan.puzzle.family = family;
        }
        let keep_states = self.keep_states;
        match &mut self.fast {
            Some(fast) => fast.walk(&boards, &mut Batch { scans, keep_states }),
            None => {
                for scan in scans {
                    walk_simply(scan, self.options, keep_states);
                }
            }
        }
        self.verdicts(puzzles.len())
    }

    fn verdicts(&self, count: usize) -> Vec<Result<&PuzzleScan, Reason>> {
        let scans = &self.scans[..count];
        let is_proved = |scan: &PuzzleScan| {
            scan.puzzle.outcome == BatchOutcome::Solved && scan.puzzle.given_digits == 0
        };
        let doubtful: Vec<Puzzle> =
            scans.iter().filter(|scan| !is_proved(scan)).map(|scan| scan.puzzle.puzzle).collect();
        let mut validities = validities(&doubtful).into_iter();
        let verdict = |scan| {
            let validity = if is_proved(scan) {
                Ok(())
            } else {
                validities.next().unwrap_or(Err(Reason::Undecided))
            };
            validity.map(|()| scan)
        };
        scans.iter().map(verdict).collect()
    }
}

impl PuzzleScan {
    fn blank() -> Self {
        let blank = Puzzle::new([None; Cell::COUNT]);
        let puzzle = PuzzleRecord {
            number: 0,
            puzzle: blank.unwrap_or_else(|_| unreachable!("a blank board repeats no digit")),
            clues: 0,
            outcome: BatchOutcome::Stuck,
            quiet_positions: 0,
            hardest: None,
            given_digits: 0,
            weight: None,
            family: None,
        };
        Self { puzzle, positions: Vec::new(), subsets: Vec::new() }
    }

    fn record(&mut self, position: &QuietPosition<'_>, keep_states: bool) {
        self.positions.push(PositionRecord {
            number: position.number,
            given_digits: position.given_digits,
            fixed_cells: position.fixed_cells,
            candidates_left: position.candidates_left,
            exposure: position.exposure,
            subsets: position.subsets.len() as u16,
            applied: position.applied,
            states: keep_states.then(|| (position.states)()),
        });
        self.subsets.extend(position.subsets.iter().map(|subset| (position.number, *subset)));
    }
}

struct Batch<'a> {
    scans: &'a mut [PuzzleScan],
    keep_states: bool,
}

impl BatchRecorder for Batch<'_> {
    fn quiet_position(&mut self, index: usize, position: &QuietPosition<'_>) {
        self.scans[index].record(position, self.keep_states);
    }

    fn end(&mut self, index: usize, end: &BatchEnd) {
        let record = &mut self.scans[index].puzzle;
        record.outcome = end.outcome;
        record.quiet_positions = end.quiet_positions;
        record.hardest = end.hardest;
    }
}

struct Single<'a> {
    scan: &'a mut PuzzleScan,
    keep_states: bool,
}

impl Recorder for Single<'_> {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.scan.record(position, self.keep_states);
    }
}

fn walk_simply(scan: &mut PuzzleScan, options: &WalkOptions, keep_states: bool) {
    let puzzle = scan.puzzle.puzzle;
    let result = walk(&puzzle, options, &mut Single { scan, keep_states });
    let record = &mut scan.puzzle;
    record.outcome = result.outcome.into();
    record.quiet_positions = result.quiet_positions;
    record.hardest = result.hardest;
    record.given_digits = result.given_digits;
}
