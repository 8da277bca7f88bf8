use tallyhouse_board::{Cell, House, Puzzle};
use tallyhouse_engine::Subset;

/// A position that speaks against a claim, ready for drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Example {
    /// The position in the collection: rows counted from 0, rejected ones included.
    pub puzzle: u64,
    /// The givens.
    pub givens: Puzzle,
    /// The number of the quiet position in its walk, from 0.
    pub position: u16,
    /// The board state: see [`tallyhouse_engine::Position::states`].
    pub states: [u16; Cell::COUNT],
    /// The subset; none if the rulebook's end holds no subset at all.
    pub subset: Option<Subset>,
}

impl Example {
    pub(super) fn order(&self) -> (u64, u16, Option<House>, u16) {
        let cells = self.subset.map_or(0, |subset| subset.cells.bits());
        (self.puzzle, self.position, self.subset.map(|subset| subset.house), cells)
    }
}
