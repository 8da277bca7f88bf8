//! Scanning one puzzle: its walk, its validity and its records.

use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_collection::{Block, Entry, Reject, validity_of};
use tallyhouse_engine::{
    AppliedLook, Exposure, Outcome, QuietPosition, Recorder, Subset, WalkEnd, WalkOptions, Walker,
};

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
    pub exposure: Exposure,
    /// The number of subsets.
    pub subsets: u16,
    /// What the walk applied.
    pub applied: AppliedLook,
    /// The board state, if kept: see [`tallyhouse_engine::Position::states`].
    pub states: Option<Box<[u16; Cell::COUNT]>>,
}

/// Everything recorded of one puzzle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PuzzleScan {
    /// The puzzle.
    pub entry: Entry,
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

/// Scans puzzles in batches, reusing its buffers.
pub struct Scanner {
    walker: Walker,
    keep_states: bool,
    scans: Vec<PuzzleScan>,
}

impl Scanner {
    /// Makes a scanner; `keep_states` adds the board state to each position.
    #[must_use]
    pub fn new(options: &WalkOptions, keep_states: bool) -> Self {
        Self { walker: Walker::new(options.clone()), keep_states, scans: Vec::new() }
    }

    /// Walks the puzzles of a block and returns for each row its records or why it is rejected.
    ///
    /// A walk that solves a puzzle proves that there is just one solution: no look removes a candidate
    /// of any solution, and digits are given of a proven solution alone. Only the other puzzles are
    /// searched for a second one.
    pub fn scan(&mut self, block: Block) -> Vec<Result<&PuzzleScan, Reject>> {
        let rows = self.take(block);
        let scans = &mut self.scans[..rows.iter().flatten().count()];
        let keep_states = self.keep_states;
        let boards: Vec<Puzzle> = scans.iter().map(|scan| scan.entry.puzzle).collect();
        self.walker.walk(&boards, &mut Batch { scans, keep_states });
        self.verdicts(rows, &boards)
    }

    /// The same, records and rejects apart.
    pub fn scan_apart(&mut self, block: Block) -> (Vec<&PuzzleScan>, Vec<Reject>) {
        let (mut scans, mut rejects) = (Vec::with_capacity(block.len()), Vec::new());
        for scanned in self.scan(block) {
            match scanned {
                Ok(scan) => scans.push(scan),
                Err(reject) => rejects.push(reject),
            }
        }
        (scans, rejects)
    }

    /// Takes the entries of a block; what is left are their places among the rejects.
    fn take(&mut self, block: Block) -> Vec<Result<(), Reject>> {
        let mut entries = 0;
        let mut take = |entry: Entry| {
            match self.scans.get_mut(entries) {
                Some(scan) => scan.begin(entry),
                None => self.scans.push(PuzzleScan::new(entry)),
            }
            entries += 1;
        };
        block.into_iter().map(|row| row.map(&mut take)).collect()
    }

    fn verdicts(
        &self,
        rows: Vec<Result<(), Reject>>,
        puzzles: &[Puzzle],
    ) -> Vec<Result<&PuzzleScan, Reject>> {
        let is_proved = |scan: &PuzzleScan| scan.outcome == Outcome::Solved;
        let scans = &self.scans[..puzzles.len()];
        let doubtful: Vec<usize> =
            (0..scans.len()).filter(|&index| !is_proved(&scans[index])).collect();
        let mut validities =
            self.walker.count_solutions(puzzles, &doubtful).into_iter().map(validity_of);
        let mut scans = scans.iter();
        let verdict = |row: Result<(), Reject>| {
            row?;
            let scan = scans.next().unwrap_or_else(|| unreachable!("each entry is scanned"));
            let mut search =
                || validities.next().unwrap_or_else(|| unreachable!("all are searched"));
            let validity = if is_proved(scan) { Ok(()) } else { search() };
            validity.map_err(|reason| scan.entry.reject(reason)).map(|()| scan)
        };
        rows.into_iter().map(verdict).collect()
    }
}

impl PuzzleScan {
    fn new(entry: Entry) -> Self {
        let clues = entry.puzzle.clues() as u8;
        Self {
            entry,
            clues,
            outcome: Outcome::Stuck,
            quiet_positions: 0,
            hardest: None,
            given_digits: 0,
            positions: Vec::new(),
            subsets: Vec::new(),
        }
    }

    /// Begins with another puzzle in the same buffers.
    fn begin(&mut self, entry: Entry) {
        self.positions.clear();
        self.subsets.clear();
        self.clues = entry.puzzle.clues() as u8;
        self.given_digits = 0;
        self.entry = entry;
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
            states: keep_states.then(|| Box::new((position.states)())),
        });
        self.subsets.extend(position.subsets.iter().map(|subset| (position.number, *subset)));
    }
}

struct Batch<'a> {
    scans: &'a mut [PuzzleScan],
    keep_states: bool,
}

impl Recorder for Batch<'_> {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.scans[position.puzzle].record(position, self.keep_states);
    }

    fn end(&mut self, puzzle: usize, end: &WalkEnd, _: &dyn Fn() -> [u16; Cell::COUNT]) {
        let record = &mut self.scans[puzzle];
        record.outcome = end.outcome;
        record.quiet_positions = end.quiet_positions;
        record.hardest = end.hardest;
        record.given_digits = end.given_digits;
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::{MinimalByDeletion, Reason};
    use tallyhouse_engine::WhenStuck;

    use super::*;

    #[test]
    fn no_digit_is_given_without_a_proven_solution() {
        let options = WalkOptions { when_stuck: WhenStuck::GiveDigit, ..WalkOptions::default() };
        let blank: Puzzle = ".".repeat(Cell::COUNT).parse().unwrap();
        let mut scanner = Scanner::new(&options, false);
        let scanned = scanner.scan(vec![Ok(Entry::new(0, blank))]);
        assert_eq!(scanned[0].as_ref().unwrap_err().reason, Reason::SeveralSolutions);
        assert_eq!(scanner.scans[0].given_digits, 0);
    }

    #[test]
    fn each_row_of_a_block_has_its_own_verdict() {
        let made = MinimalByDeletion { seed: 8 }.puzzles(0..20);
        let blank: Puzzle = ".".repeat(Cell::COUNT).parse().unwrap();
        let options = WalkOptions::default();
        let mut scanner = Scanner::new(&options, false);
        // Buffers that are used again hold nothing of an earlier block.
        for round in 0..2 {
            let row = |(number, puzzle): (u64, &Puzzle)| match number % 4 {
                1 => Err(Entry::new(number, *puzzle).reject(Reason::Undecided)),
                2 => Ok(Entry::new(number, blank)),
                _ => Ok(Entry::new(number, *puzzle)),
            };
            let block: Block = (round..).zip(&made).map(row).collect();
            for (number, scanned) in (round..).zip(scanner.scan(block)) {
                match (number % 4, scanned) {
                    (1, Err(reject)) => assert_eq!(reject.reason, Reason::Undecided),
                    (2, Err(reject)) => assert_eq!(reject.reason, Reason::SeveralSolutions),
                    (0 | 3, Ok(scan)) => {
                        assert_eq!(scan.entry.number, number);
                        assert_eq!(scan.entry.puzzle, made[(number - round) as usize]);
                    }
                    (_, other) => panic!("{number}: {other:?}"),
                }
            }
        }
    }
}
