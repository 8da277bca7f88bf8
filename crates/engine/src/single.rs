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
    Digit::all().filter(move |_| covered).filter_map(move |digit| {
        let place = position.places(digit, house).only()?;
        Some(Single { cell: house.cells()[place], digit, house })
    })
}

/// Tests if no naked and no hidden single is left.
pub(crate) fn is_without_singles(position: &Position) -> bool {
    if position.open_cells().iter().any(|cell| position.candidates(cell).len() == 1) {
        return false;
    }
    House::all().all(|house| {
        let (mut once, mut more) = (DigitSet::EMPTY, DigitSet::EMPTY);
        for &cell in house.cells() {
            let candidates = position.candidates(cell);
            more = more | once & candidates;
            once = once | candidates;
        }
        (once - more).is_empty()
    })
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
