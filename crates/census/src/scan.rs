//! Scanning one puzzle: its walk, its validity and its records.

use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_collection::{Reason, validity};
use tallyhouse_engine::{AppliedLook, Outcome, QuietPosition, Recorder, Subset, WalkOptions, walk};

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
    pub outcome: Outcome,
    /// The number of quiet positions.
    pub quiet_positions: u16,
    /// The index in the order of the last look that was needed.
    pub hardest: Option<usize>,
    /// How many digits were given.
    pub given_digits: u8,
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

/// Receives the scan of each valid puzzle, in the order of the collection.
pub trait Sink {
    /// Takes the records of one puzzle.
    fn puzzle(&mut self, scan: &PuzzleScan);
}

/// Scans puzzles one after the other, reusing its buffers.
pub struct Scanner<'a> {
    options: &'a WalkOptions,
    scan: PuzzleScan,
    keep_states: bool,
}

impl<'a> Scanner<'a> {
    /// Makes a scanner; `keep_states` adds the board state to each position.
    #[must_use]
    pub fn new(options: &'a WalkOptions, keep_states: bool) -> Self {
        let blank = Puzzle::new([None; Cell::COUNT]);
        let puzzle = PuzzleRecord {
            number: 0,
            puzzle: blank.unwrap_or_else(|_| unreachable!("a blank board repeats no digit")),
            clues: 0,
            outcome: Outcome::Stuck,
            quiet_positions: 0,
            hardest: None,
            given_digits: 0,
        };
        let scan = PuzzleScan { puzzle, positions: Vec::new(), subsets: Vec::new() };
        Self { options, scan, keep_states }
    }

    /// Walks a puzzle and returns its records.
    ///
    /// # Errors
    /// If the puzzle has no solution or several. A walk that solves a puzzle without a given digit
    /// proves that there is just one, because no look removes a candidate of any solution; only the
    /// other puzzles are searched for a second solution.
    pub fn scan(&mut self, number: u64, puzzle: &Puzzle) -> Result<&PuzzleScan, Reason> {
        self.scan.positions.clear();
        self.scan.subsets.clear();
        let result = {
            let PuzzleScan { positions, subsets, .. } = &mut self.scan;
            let mut buffers = Buffers { positions, subsets, keep_states: self.keep_states };
            walk(puzzle, self.options, &mut buffers)
        };
        match result.outcome {
            Outcome::Contradiction(_) => return Err(Reason::NoSolution),
            Outcome::Solved if result.given_digits == 0 => {}
            Outcome::Solved | Outcome::Stuck => validity(puzzle)?,
        }
        self.scan.puzzle = PuzzleRecord {
            number,
            puzzle: *puzzle,
            clues: puzzle.clues() as u8,
            outcome: result.outcome,
            quiet_positions: result.quiet_positions,
            hardest: result.hardest,
            given_digits: result.given_digits,
        };
        Ok(&self.scan)
    }
}

struct Buffers<'a> {
    positions: &'a mut Vec<PositionRecord>,
    subsets: &'a mut Vec<(u16, Subset)>,
    keep_states: bool,
}

impl Recorder for Buffers<'_> {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.positions.push(PositionRecord {
            number: position.number,
            given_digits: position.given_digits,
            fixed_cells: position.fixed_cells,
            candidates_left: position.candidates_left,
            exposure: position.exposure,
            subsets: position.subsets.len() as u16,
            applied: position.applied,
            states: self.keep_states.then(|| (position.states)()),
        });
        self.subsets.extend(position.subsets.iter().map(|subset| (position.number, *subset)));
    }
}
