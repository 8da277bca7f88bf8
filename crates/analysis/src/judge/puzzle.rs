//! One puzzle of a trial, as claims see it.

use tallyhouse_board::Cell;
use tallyhouse_census::PuzzleScan;
use tallyhouse_engine::Subset;

use super::example::Example;
use super::walks::StuckEnd;
use crate::reach::{falls_short, ladder_states};
use crate::{Rulebook, Shapes};

/// A valid puzzle, walked under the full ladder and under each rulebook.
pub(crate) struct WalkedPuzzle<'a> {
    /// The walk under the full ladder, with all board states.
    pub(crate) scan: &'a PuzzleScan,
    /// The rulebooks, in their order.
    pub(crate) books: Vec<BookWalk<'a>>,
}

/// What a rulebook makes of a puzzle.
pub(crate) struct BookWalk<'a> {
    name: &'a str,
    /// Where it gets stuck; `None` if it solves the puzzle.
    pub(crate) end: Option<&'a StuckEnd>,
    /// If it reaches less than the full ladder.
    pub(crate) falls_short: bool,
}

impl<'a> WalkedPuzzle<'a> {
    /// Takes where each rulebook gets stuck.
    pub(super) fn new(
        scan: &'a PuzzleScan,
        books: impl Iterator<Item = (&'a Rulebook, Option<&'a StuckEnd>)>,
    ) -> Self {
        let ladder = ladder_states(scan);
        let books = books.map(|(book, end)| BookWalk {
            name: book.name(),
            end,
            falls_short: end.is_some_and(|end| falls_short(&end.states, ladder)),
        });
        Self { scan, books: books.collect() }
    }

    /// Returns how much the puzzle counts, in millionths.
    pub(crate) fn weight(&self) -> i128 {
        self.scan.entry.millionths()
    }

    /// Returns the family of puzzles that depend on each other.
    pub(crate) fn family(&self) -> Option<u64> {
        self.scan.entry.family
    }

    /// Returns the walk under a rulebook.
    pub(crate) fn under(&self, rulebook: &str) -> Option<&BookWalk<'a>> {
        self.books.iter().find(|book| book.name == rulebook)
    }

    /// Iterates over the subsets of these shapes on the full ladder's walk, each with the number of
    /// its position; by position and house.
    pub(crate) fn meant(&self, shapes: &Shapes) -> impl Iterator<Item = &'a (u16, Subset)> {
        self.scan.subsets.iter().filter(move |(_, subset)| shapes.includes(subset))
    }

    fn states(&self, number: u16) -> Option<[u16; Cell::COUNT]> {
        self.scan.positions.get(usize::from(number))?.states.as_deref().copied()
    }

    /// Shows a subset on the full ladder's walk.
    pub(crate) fn example_at(&self, number: u16, subset: &Subset) -> Option<Example> {
        Some(self.example(number, self.states(number)?, Some(*subset)))
    }

    /// Shows a position of some walk.
    pub(crate) fn example(
        &self,
        position: u16,
        states: [u16; Cell::COUNT],
        subset: Option<Subset>,
    ) -> Example {
        let (puzzle, givens) = (self.scan.entry.number, self.scan.entry.puzzle);
        Example { puzzle, givens, position, states, subset }
    }
}
