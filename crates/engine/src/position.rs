use std::fmt;

use tallyhouse_board::{Cell, CellSet, Digit, DigitSet, House, PlaceSet, Puzzle};

/// The bit of a board state that tells a fixed cell.
const FIXED: u16 = 1 << 9;

/// What is known at one moment: each cell holds a fixed digit or a set of candidates.
///
/// Fixed digits are always already removed from the candidates of their peers.
///
/// ```
/// use tallyhouse_board::{Cell, Puzzle};
/// use tallyhouse_engine::Position;
///
/// let puzzle: Puzzle = format!("5{}", ".".repeat(80)).parse()?;
/// let position = Position::new(&puzzle);
/// assert_eq!(position.fixed(Cell::at(0, 0)), puzzle.get(Cell::at(0, 0)));
/// assert_eq!(position.candidates(Cell::at(0, 8)).to_string(), "12346789");
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
#[derive(Clone, PartialEq, Eq)]
pub struct Position {
    /// Candidates of an open cell, the digit alone of a fixed one.
    masks: [DigitSet; Cell::COUNT],
    open: CellSet,
}

/// Why a position has no solution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Contradiction {
    /// An open cell has no candidate left.
    #[error("{0} has no candidate left")]
    NoCandidate(Cell),
    /// A digit has no place left in a house.
    #[error("{digit} has no place left in {house}")]
    NoPlace {
        /// The digit.
        digit: Digit,
        /// The house.
        house: House,
    },
    /// A digit is to be fixed where it is not a candidate.
    #[error("{digit} is not a candidate of {cell}")]
    NotACandidate {
        /// The digit.
        digit: Digit,
        /// The cell.
        cell: Cell,
    },
    /// A state to rebuild a position from fixes no digit, or several.
    #[error("{cell} can't have the state {state:#b}: a fixed cell has bit 9 and that of one digit")]
    State {
        /// The cell.
        cell: Cell,
        /// The state.
        state: u16,
    },
    /// Cells of a house have fewer candidates between them than they are.
    #[error("{} cells of {house} share only {} candidates", cells.len(), digits.len())]
    Crowded {
        /// The house.
        house: House,
        /// The cells, by their places in the house.
        cells: PlaceSet,
        /// Their candidates.
        digits: DigitSet,
    },
}

impl Position {
    /// Returns the position with nothing fixed and every candidate open.
    #[must_use]
    pub fn blank() -> Self {
        Self { masks: [DigitSet::FULL; Cell::COUNT], open: CellSet::FULL }
    }

    /// Fixes the givens of a puzzle. Nothing else is concluded.
    #[must_use]
    pub fn new(puzzle: &Puzzle) -> Self {
        let mut position = Self::blank();
        for (cell, digit) in puzzle.givens() {
            position.fix(cell, digit);
        }
        position
    }

    /// Returns the candidates of an open cell, nothing for a fixed one.
    #[must_use]
    #[inline]
    pub fn candidates(&self, cell: Cell) -> DigitSet {
        if self.open.contains(cell) { self.masks[cell.index()] } else { DigitSet::EMPTY }
    }

    /// Returns the digit of a fixed cell.
    #[must_use]
    #[inline]
    pub fn fixed(&self, cell: Cell) -> Option<Digit> {
        if self.open.contains(cell) { None } else { self.masks[cell.index()].only() }
    }

    /// Returns the cells without a fixed digit.
    #[must_use]
    #[inline]
    pub const fn open_cells(&self) -> CellSet {
        self.open
    }

    /// Returns the places of a house that are open.
    #[must_use]
    pub fn open_places(&self, house: House) -> PlaceSet {
        (0..9).filter(|&place| self.open.contains(house.cells()[place])).collect()
    }

    /// Tests if every cell is fixed.
    #[must_use]
    pub const fn is_solved(&self) -> bool {
        self.open.is_empty()
    }

    /// Returns the number of candidates in open cells.
    #[must_use]
    pub fn candidates_left(&self) -> usize {
        self.open.iter().map(|cell| self.masks[cell.index()].len()).sum()
    }

    /// Returns the places of a digit in the open cells of a house.
    #[must_use]
    pub fn places(&self, digit: Digit, house: House) -> PlaceSet {
        (0..9).filter(|&place| self.candidates(house.cells()[place]).contains(digit)).collect()
    }

    /// Returns the digits that are not fixed in a house.
    #[must_use]
    pub fn missing(&self, house: House) -> DigitSet {
        let fixed: DigitSet = house.cells().iter().filter_map(|&cell| self.fixed(cell)).collect();
        fixed.complement()
    }

    /// Returns the board state as 81 masks: the candidates of an open cell (bit 0 for digit 1); for
    /// a fixed cell its digit and bit 9.
    #[must_use]
    pub fn states(&self) -> [u16; Cell::COUNT] {
        let mut states = self.masks.map(DigitSet::bits);
        for cell in (CellSet::FULL - self.open).iter() {
            states[cell.index()] |= FIXED;
        }
        states
    }

    /// Rebuilds a position from its board state: see [`Position::states`].
    ///
    /// # Errors
    /// If a state is malformed, or fixes a digit twice in a house.
    pub fn from_states(states: &[u16; Cell::COUNT]) -> Result<Self, Contradiction> {
        let mut position = Self::blank();
        let cells = || Cell::all().zip(states.iter().copied());
        for (cell, state) in cells().filter(|&(_, state)| state >= FIXED) {
            let digit = DigitSet::from_bits(state & !FIXED).and_then(DigitSet::only);
            position.place(cell, digit.ok_or(Contradiction::State { cell, state })?)?;
        }
        for (cell, state) in cells().filter(|&(_, state)| state < FIXED) {
            position.remove(cell, DigitSet::from_bits_truncate(state).complement());
        }
        Ok(position)
    }

    /// Fixes a digit and removes it from the candidates of all peers.
    ///
    /// # Errors
    /// [`Contradiction::NotACandidate`] if the cell is fixed to something else or its candidates
    /// lack the digit. To fix the same digit twice is no error.
    pub fn place(&mut self, cell: Cell, digit: Digit) -> Result<(), Contradiction> {
        if !self.masks[cell.index()].contains(digit) {
            return Err(Contradiction::NotACandidate { digit, cell });
        }
        self.fix(cell, digit);
        Ok(())
    }

    fn fix(&mut self, cell: Cell, digit: Digit) {
        self.masks[cell.index()] = DigitSet::single(digit);
        self.open = self.open.without(cell);
        for peer in (cell.peers() & self.open).iter() {
            self.masks[peer.index()] = self.masks[peer.index()].without(digit);
        }
    }

    /// Removes candidates of an open cell and returns how many there were to remove.
    pub fn remove(&mut self, cell: Cell, digits: DigitSet) -> usize {
        let gone = self.candidates(cell) & digits;
        if !gone.is_empty() {
            self.masks[cell.index()] = self.masks[cell.index()] - gone;
        }
        gone.len()
    }

    /// Tests the two simplest conditions for a solution: each open cell has a candidate, and each
    /// digit is fixed or has a place in every house.
    ///
    /// # Errors
    /// The first broken condition, cells before houses.
    pub fn check(&self) -> Result<(), Contradiction> {
        for cell in self.open.iter() {
            if self.masks[cell.index()].is_empty() {
                return Err(Contradiction::NoCandidate(cell));
            }
        }
        for house in House::all() {
            let shown = house
                .cells()
                .iter()
                .fold(DigitSet::EMPTY, |union, cell| union | self.masks[cell.index()]);
            if let Some(digit) = shown.complement().first() {
                return Err(Contradiction::NoPlace { digit, house });
            }
        }
        Ok(())
    }
}

impl fmt::Debug for Position {
    /// Writes one line per row: fixed digits bare, candidates in braces.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for cell in Cell::all() {
            if cell.column() == 0 {
                writeln!(f)?;
            }
            match self.fixed(cell) {
                Some(digit) => write!(f, "{digit} ")?,
                None => write!(f, "{:?} ", self.candidates(cell))?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn digit(value: u8) -> Digit {
        Digit::new(value).unwrap()
    }

    #[test]
    fn a_placed_digit_leaves_its_peers() {
        let mut position = Position::blank();
        let cell = Cell::at(4, 4);
        position.place(cell, digit(5)).unwrap();
        assert_eq!(position.fixed(cell), Some(digit(5)));
        assert!(position.candidates(cell).is_empty());
        assert_eq!(position.candidates_left(), 80 * 9 - 20);
        assert_eq!(position.open_cells().len(), 80);
        assert_eq!(position.places(digit(5), House::row(0)).len(), 8);
        assert_eq!(position.states()[40], 1 << 4 | 1 << 9);
        assert_eq!(Position::from_states(&position.states()), Ok(position.clone()));
        for state in [1 << 9, 0b11 | 1 << 9, 1 | 1 << 10, 1 | 1 << 9 | 1 << 15] {
            let mut states = position.states();
            states[40] = state;
            assert_eq!(Position::from_states(&states), Err(Contradiction::State { cell, state }));
        }
        assert_eq!(position.place(cell, digit(5)), Ok(()));
        assert_eq!(
            position.place(Cell::at(4, 0), digit(5)),
            Err(Contradiction::NotACandidate { digit: digit(5), cell: Cell::at(4, 0) })
        );
    }

    #[test]
    fn dead_ends_are_named() {
        let mut position = Position::blank();
        assert_eq!(position.check(), Ok(()));
        for cell in House::row(2).cells() {
            position.remove(*cell, DigitSet::single(digit(7)));
        }
        assert_eq!(
            position.check(),
            Err(Contradiction::NoPlace { digit: digit(7), house: House::row(2) })
        );
        position.remove(Cell::at(8, 8), DigitSet::FULL);
        assert_eq!(position.check(), Err(Contradiction::NoCandidate(Cell::at(8, 8))));
    }
}
