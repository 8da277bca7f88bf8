//! One block of rows: walks, counts and rejects.

use tallyhouse_board::Puzzle;
use tallyhouse_census::{PartRates, PuzzleScan, Scanner};
use tallyhouse_collection::{Block, Reject};
use tallyhouse_engine::{Order, Subset};

use super::left_out::LeftOut;
use super::puzzle::WalkedPuzzle;
use super::sums::{Missed, Sums};
use super::walks::{BookWalker, StuckEnd, TrialWalk};
use crate::reach::ladder_states;
use crate::yields::prices::{PriceCounts, PricePlan};
use crate::{Claim, Rulebook};

/// What is counted.
pub(super) struct Plan<'a> {
    pub(super) books: Vec<&'a Rulebook>,
    pub(super) claims: Vec<&'a Claim>,
    /// Whether each shape is left out in turn.
    pub(super) shapes: bool,
    /// What is asked of prices.
    pub(super) prices: PricePlan,
    pub(super) walk: TrialWalk,
}

/// Counts a block of rows; returns its rejects beside the sums.
pub(super) fn judge_block(plan: &Plan<'_>, block: Block) -> (Sums, PriceCounts, Vec<Reject>) {
    let mut sums = Sums::new(plan.books.len(), plan.claims.len());
    let ladder = plan.walk.under(&Order::ladder());
    let mut scanner = Scanner::new(&ladder, true);
    let (valid, rejects) = scanner.scan_apart(block);

    let puzzles: Vec<Puzzle> = valid.iter().map(|scan| scan.entry.puzzle).collect();
    let ends: Vec<Vec<Option<StuckEnd>>> = plan
        .books
        .iter()
        .map(|book| {
            if *book.order() == Order::ladder() {
                valid.iter().map(|scan| ladder_end(scan)).collect()
            } else {
                BookWalker::new(plan.walk.under(book.order())).ends(&puzzles)
            }
        })
        .collect();
    if plan.shapes {
        sums.left_out += &LeftOut::of(&valid);
        sums.rates = PartRates::of_scans(valid.iter().copied());
    }
    let prices = plan.prices.count(&valid, &puzzles);
    for (index, scan) in valid.into_iter().enumerate() {
        let ends = ends.iter().map(|ends| ends[index].as_ref());
        let books = plan.books.iter().copied().zip(ends);
        plan.count(&WalkedPuzzle::new(scan, books), &mut sums);
    }
    (sums, prices, rejects)
}

fn ladder_end(scan: &PuzzleScan) -> Option<StuckEnd> {
    let states = *ladder_states(scan)?;
    let position = scan.positions.last()?.number;
    let of_end = scan.subsets.iter().filter(|(number, _)| *number == position);
    Some(StuckEnd { subsets: of_end.map(|(_, subset)| *subset).collect(), states, position })
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
        for (claim, sums) in self.claims.iter().zip(&mut sums.claims) {
            claim.test.count(puzzle, sums);
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
