//! Everything that a pass counts, merged in the order of the puzzles.

use std::ops::AddAssign;

use tallyhouse_census::PartRates;

use super::example::Example;
use super::left_out::LeftOut;
use super::puzzle::WalkedPuzzle;
use super::tally::Tally;
use crate::counted::Counted;

/// At most so many examples are kept for a claim.
const MOST_EXAMPLES: usize = 20;

#[derive(Clone, Debug, Default)]
pub(super) struct Sums {
    pub(super) all: Counted,
    pub(super) weighted: u64,
    pub(super) in_families: u64,
    pub(super) quiet_positions: u64,
    /// By rulebook.
    pub(super) books: Vec<BookSums>,
    /// By claim, those of all files in order.
    pub(super) claims: Vec<ClaimSums>,
    /// If asked for.
    pub(super) left_out: LeftOut,
    /// How many houses show each shape, if asked for.
    pub(super) rates: PartRates,
}

/// Subsets of one shape that a rulebook leaves.
#[derive(Clone, Debug, Default)]
pub(super) struct Missed {
    pub(super) subsets: u64,
    pub(super) proper: u64,
    /// Puzzles in which a proper one is left.
    pub(super) puzzles: Counted,
}

#[derive(Clone, Debug, Default)]
pub(super) struct BookSums {
    /// By open count and naked size.
    pub(super) missed: [[Missed; 10]; 10],
    pub(super) solved: u64,
    /// Puzzles whose reach falls short of the full ladder's, of all.
    pub(super) short: Tally,
}

/// What is counted for one claim.
#[derive(Clone, Debug, Default)]
pub(crate) struct ClaimSums {
    pub(super) tally: Tally,
    pub(super) examples: Vec<Example>,
}

impl ClaimSums {
    /// Adds what a puzzle has to a numerator and a denominator.
    pub(crate) fn add(&mut self, puzzle: &WalkedPuzzle<'_>, hits: u64, of: u64) {
        self.tally.add(puzzle, hits, of);
    }

    /// Keeps a position that speaks against the claim, if there is room.
    pub(crate) fn keep(&mut self, example: impl FnOnce() -> Option<Example>) {
        if self.examples.len() < MOST_EXAMPLES {
            self.examples.extend(example());
        }
    }
}

impl Sums {
    pub(super) fn new(books: usize, claims: usize) -> Self {
        Self {
            books: vec![BookSums::default(); books],
            claims: vec![ClaimSums::default(); claims],
            ..Self::default()
        }
    }
}

impl AddAssign<&Self> for Sums {
    fn add_assign(&mut self, other: &Self) {
        self.all += &other.all;
        self.weighted += other.weighted;
        self.in_families += other.in_families;
        self.quiet_positions += other.quiet_positions;
        for (sums, more) in self.books.iter_mut().zip(&other.books) {
            *sums += more;
        }
        for (sums, more) in self.claims.iter_mut().zip(&other.claims) {
            *sums += more;
        }
        self.left_out += &other.left_out;
        self.rates.append(other.rates.clone());
    }
}

impl AddAssign<&Self> for BookSums {
    fn add_assign(&mut self, other: &Self) {
        for (sum, more) in self.missed.iter_mut().flatten().zip(other.missed.iter().flatten()) {
            sum.subsets += more.subsets;
            sum.proper += more.proper;
            sum.puzzles += &more.puzzles;
        }
        self.solved += other.solved;
        self.short += &other.short;
    }
}

impl AddAssign<&Self> for ClaimSums {
    fn add_assign(&mut self, other: &Self) {
        self.tally += &other.tally;
        self.examples.extend_from_slice(&other.examples);
        self.examples.sort_by_key(Example::order);
        self.examples.truncate(MOST_EXAMPLES);
    }
}
