//! One block of rows: walks, counts and rejects.

use tallyhouse_board::Puzzle;
use tallyhouse_census::{PuzzleScan, Scanner};
use tallyhouse_collection::{Block, Reject};
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_engine::{Order, Outcome, Subset, WalkOptions};

use super::left_out::LeftOut;
use super::puzzle::WalkedPuzzle;
use super::sums::{Missed, Sums};
use super::walks::{BookWalker, StuckEnd};
use crate::{Claim, Rulebook};

/// What is counted.
pub(super) struct Plan<'a> {
    pub(super) books: Vec<&'a Rulebook>,
    pub(super) claims: Vec<&'a Claim>,
    pub(super) weights: &'a GlanceWeights,
    /// The rows that serve claims of effort.
    pub(super) effort_rows: u64,
    /// Whether each shape is left out in turn.
    pub(super) shapes: bool,
}

/// Counts a block of rows; returns its rejects beside the sums.
pub(super) fn judge_block(plan: &Plan<'_>, block: Block) -> (Sums, Vec<Reject>) {
    let mut sums = Sums::new(plan.books.len(), plan.claims.len());
    let mut rejects = Vec::new();
    let ladder = WalkOptions::default();
    let mut scanner = Scanner::new(&ladder, true);
    let mut valid: Vec<&PuzzleScan> = Vec::with_capacity(block.len());
    for scanned in scanner.scan(block) {
        match scanned {
            Ok(scan) => valid.push(scan),
            Err(reject) => rejects.push(reject),
        }
    }

    let puzzles: Vec<Puzzle> = valid.iter().map(|scan| scan.entry.puzzle).collect();
    let ends: Vec<Vec<Option<StuckEnd>>> = plan
        .books
        .iter()
        .map(|book| {
            if *book.order() == Order::ladder() {
                valid.iter().map(|scan| ladder_end(scan)).collect()
            } else {
                BookWalker::new(book.order()).ends(&puzzles)
            }
        })
        .collect();
    if plan.shapes {
        sums.left_out += &LeftOut::of(&valid);
    }
    for (index, scan) in valid.into_iter().enumerate() {
        let ends = ends.iter().map(|ends| ends[index].as_ref());
        let books = plan.books.iter().copied().zip(ends);
        plan.count(&WalkedPuzzle::new(scan, plan.weights, books), &mut sums);
    }
    (sums, rejects)
}

fn ladder_end(scan: &PuzzleScan) -> Option<StuckEnd> {
    let last = scan.positions.last()?;
    let subsets = || scan.subsets.iter().filter(|(number, _)| *number == last.number);
    (scan.outcome != Outcome::Solved).then_some(StuckEnd {
        subsets: subsets().map(|(_, subset)| *subset).collect(),
        states: *last.states.as_deref()?,
        position: last.number,
    })
}

impl Plan<'_> {
    fn count(&self, puzzle: &WalkedPuzzle<'_>, sums: &mut Sums) {
        sums.weighted += u64::from(puzzle.scan.entry.weight.is_some());
        sums.in_families += u64::from(puzzle.family().is_some());
        sums.quiet_positions += u64::from(puzzle.scan.quiet_positions);
        sums.all.add(puzzle.family(), puzzle.weight());
        for (book, sums) in puzzle.books.iter().zip(&mut sums.books) {
            sums.short.add(puzzle, book.falls_short.into(), 1);
            match book.end {
                None => sums.solved += 1,
                Some(end) => count_missed(puzzle, &end.subsets, &mut sums.missed),
            }
        }
        let serves_effort = puzzle.scan.entry.number < self.effort_rows;
        sums.effort_puzzles += u64::from(serves_effort);
        for (claim, sums) in self.claims.iter().zip(&mut sums.claims) {
            if serves_effort || claim.test.looks().is_none() {
                claim.test.count(puzzle, sums);
            }
        }
    }
}

fn count_missed(puzzle: &WalkedPuzzle<'_>, subsets: &[Subset], missed: &mut [[Missed; 10]; 10]) {
    // One bit per shape: which ones this puzzle has shown already.
    let mut shown = 0u128;
    for subset in subsets {
        let (open, naked) = (usize::from(subset.open), usize::from(subset.naked));
        let shape = &mut missed[open][naked];
        shape.subsets += 1;
        if subset.is_proper() {
            let bit = 1 << (open * 10 + naked);
            shape.proper += 1;
            if shown & bit == 0 {
                shape.puzzles.add(puzzle.family(), puzzle.weight());
            }
            shown |= bit;
        }
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::MinimalByDeletion;

    use tallyhouse_engine::Position;

    use super::*;

    #[test]
    fn positions_are_rebuilt_from_their_states() {
        let options = WalkOptions::default();
        for index in 0..20 {
            let puzzle = MinimalByDeletion { seed: 5 }.puzzle(index);
            let end = tallyhouse_engine::walk(&puzzle, &options, &mut Check).position;
            assert_eq!(Position::from_states(&end.states()), Ok(end));
        }
    }

    struct Check;

    impl tallyhouse_engine::Recorder for Check {
        fn quiet_position(&mut self, position: &tallyhouse_engine::QuietPosition<'_>) {
            let states = (position.states)();
            assert_eq!(Position::from_states(&states).unwrap().states(), states);
        }
    }
}
