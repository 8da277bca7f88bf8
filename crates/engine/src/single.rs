//! Naked and hidden singles: the looks of size 1, which end in a placement.

use tallyhouse_board::{Cell, CellSet, Digit, DigitSet, House};

use crate::{Position, Size};

/// A digit that must go into a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Single {
    /// The cell.
    pub cell: Cell,
    /// The digit.
    pub digit: Digit,
    /// The house in which it was seen; for a naked single, one in which the look was made.
    pub house: House,
}

/// Returns the naked singles of a house: open cells with one candidate left.
pub fn naked_singles(
    position: &Position,
    house: House,
    size: Size,
) -> impl Iterator<Item = Single> + '_ {
    let covered = size.covers(position.open_places(house).len() as u8);
    house.cells().iter().filter(move |_| covered).filter_map(move |&cell| {
        Some(Single { cell, digit: position.candidates(cell).only()?, house })
    })
}

/// Returns the hidden singles of a house: digits with one place left in its open cells.
pub fn hidden_singles(
    position: &Position,
    house: House,
    size: Size,
) -> impl Iterator<Item = Single> + '_ {
    let covered = size.covers(position.open_places(house).len() as u8);
    let alone = if covered { with_one_place(position, house) } else { DigitSet::EMPTY };
    alone.iter().filter_map(move |digit| {
        let holds = |cell: &Cell| position.candidates(*cell).contains(digit);
        Some(Single { cell: house.cells().iter().copied().find(holds)?, digit, house })
    })
}

/// Tests if no naked and no hidden single is left.
pub(crate) fn is_without_singles(position: &Position) -> bool {
    position.open_cells().iter().all(|cell| position.candidates(cell).len() != 1)
        && House::all().all(|house| with_one_place(position, house).is_empty())
}

/// Returns the digits that have one place in the open cells of a house.
fn with_one_place(position: &Position, house: House) -> DigitSet {
    let (mut once, mut more) = (DigitSet::EMPTY, DigitSet::EMPTY);
    for &cell in house.cells() {
        let candidates = position.candidates(cell);
        more = more | once & candidates;
        once = once | candidates;
    }
    once - more
}

/// Keeps the first single of each cell.
pub(crate) fn one_per_cell(singles: impl Iterator<Item = Single>) -> Vec<Single> {
    let mut seen = CellSet::EMPTY;
    let mut kept: Vec<Single> = Vec::new();
    for single in singles {
        // Two digits for one cell are a contradiction, which placing them will show.
        let new = !seen.contains(single.cell);
        if new || kept.iter().any(|k| k.cell == single.cell && k.digit != single.digit) {
            seen = seen.with(single.cell);
            kept.push(single);
        }
    }
    kept
}
