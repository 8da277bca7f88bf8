//! Naked and hidden singles: the looks of size 1, which end in a placement.

use tallyhouse_board::{Cell, CellSet, Digit, DigitSet, House};

use crate::{Position, Size, Subset};

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

/// Tests if the eliminations of a subset leave a naked or a hidden single that was none before.
/// `candidates` are those of each cell beforehand, none where a digit is fixed.
///
/// ```
/// use tallyhouse_board::{Cell, Digit, DigitSet, House};
/// use tallyhouse_engine::{HouseSplits, Position, brings_single};
///
/// // Row 1 begins 12, 12, 13: the naked pair leaves the third cell a 3.
/// let mut position = Position::blank();
/// let digits = |digits: [u8; 2]| digits.into_iter().filter_map(Digit::new).collect::<DigitSet>();
/// for (column, own) in [[1, 2], [1, 2], [1, 3]].into_iter().enumerate() {
///     position.remove(Cell::at(0, column), digits(own).complement());
/// }
/// let row = House::row(0);
/// let splits = HouseSplits::of_house(&position, row).unwrap();
/// let pair = splits.subsets(row).find(|subset| subset.naked == 2).unwrap();
/// assert!(brings_single(|cell| position.candidates(cell), &pair));
/// ```
#[must_use]
pub fn brings_single(candidates: impl Fn(Cell) -> DigitSet, subset: &Subset) -> bool {
    let cells = subset.house.cells();
    let cleared: CellSet = subset.cells.complement().iter().map(|place| cells[place]).collect();
    let left = |cell: Cell| {
        let gone = if cleared.contains(cell) { subset.digits } else { DigitSet::EMPTY };
        candidates(cell) - gone
    };
    cleared.iter().any(|cell| {
        let gone = candidates(cell) & subset.digits;
        let is_alone = |digit: Digit, house: House| {
            let holds = |other: &&Cell| left(**other).contains(digit);
            house.cells().iter().filter(holds).take(2).count() == 1
        };
        !gone.is_empty() && left(cell).len() == 1
            || gone.iter().any(|digit| cell.houses().iter().any(|&house| is_alone(digit, house)))
    })
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
