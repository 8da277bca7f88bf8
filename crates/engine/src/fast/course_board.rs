//! One board whose houses are kept by their turn in a course, each with all it holds.

use tallyhouse_board::{Cell, House, Puzzle};

use crate::Exposure;

/// Every house, a bit each by its turn.
pub(super) const ALL_TURNS: u32 = (1 << House::COUNT) - 1;

/// Rows of tables by turn: a power of two, so that a masked turn needs no check.
const ROWS: usize = 32;

/// Where the houses of a course have their turns, and the cells their places in them.
pub(super) struct Turns {
    /// The houses by turn; those outside the course come last.
    pub(super) houses: [House; House::COUNT],
    /// The turn of each house, by its index.
    pub(super) turn_of: [u8; House::COUNT],
    /// The turns of the course.
    pub(super) course: u32,
    cells: [CellTurns; Cell::COUNT],
    /// The cells of the houses, by turn.
    places: [[u8; 16]; ROWS],
}

/// Where a cell stands in its three houses, ready to be used: this is looked up for each candidate
/// that goes.
#[derive(Clone, Copy)]
struct CellTurns {
    turns: [u8; 3],
    /// Where the rows of the houses begin in flattened tables.
    rows: [u16; 3],
    /// Where the cell stands in flattened tables.
    entries: [u16; 3],
    /// The cell among the places of the houses.
    bits: [u16; 3],
    set: u32,
}

impl Turns {
    /// Returns `None` if a house has two turns.
    pub(super) fn new(course: &[House]) -> Option<Self> {
        let others = House::all().filter(|house| !course.contains(house));
        let houses: Vec<House> = course.iter().copied().chain(others).collect();
        let houses: [House; House::COUNT] = houses.try_into().ok()?;
        let mut turn_of = [0; House::COUNT];
        for (turn, house) in (0..).zip(houses) {
            turn_of[house.index()] = turn;
        }
        let cells = std::array::from_fn(|index| {
            let houses = Cell::all().nth(index).map_or([House::row(0); 3], Cell::houses);
            let turns = houses.map(|house| turn_of[house.index()]);
            let place = |house: House| {
                house.cells().iter().position(|cell| cell.index() == index).unwrap_or(0) as u16
            };
            let set = turns.iter().fold(0, |set, turn| set | 1 << turn);
            let rows = turns.map(|turn| u16::from(turn) * 16);
            let places = houses.map(place);
            let entries = std::array::from_fn(|house| rows[house] + places[house]);
            CellTurns { turns, rows, entries, bits: places.map(|place| 1 << place), set }
        });
        let course = ((1u64 << course.len()) - 1) as u32;
        let mut places = [[0; 16]; ROWS];
        for (places, house) in places.iter_mut().zip(houses) {
            for (place, cell) in places.iter_mut().zip(house.cells()) {
                *place = cell.index() as u8;
            }
        }
        Some(Self { houses, turn_of, course, cells, places })
    }
}

/// Flattened tables are a power of two, so that a masked index needs no check.
#[inline(always)]
fn flat(index: u16) -> usize {
    usize::from(index) & (ROWS * 16 - 1)
}

#[inline(always)]
fn row(turn: u8) -> usize {
    usize::from(turn) & (ROWS - 1)
}

/// A position, with what each house holds by its turn.
#[derive(Clone)]
pub(super) struct CourseBoard {
    /// The candidates of the nine cells of a house; 0 for fixed cells.
    pub(super) cells: [[u16; 16]; ROWS],
    /// The open places of the nine digits in a house.
    pub(super) places: [[u16; 16]; ROWS],
    /// The digits of fixed cells, 0 for open ones.
    pub(super) fixed: [u8; Cell::COUNT],
    /// The cells with one candidate: the first 64 cells, and the others.
    pub(super) naked: [u64; 2],
    /// The digits with one place in a house.
    pub(super) hidden: [u16; ROWS],
    /// The houses that have such digits.
    pub(super) with_hidden: u32,
    /// How many cells of a house are open.
    pub(super) open_counts: [u8; ROWS],
    /// The houses of each open count.
    pub(super) by_open: [u32; 10],
    /// The houses whose candidates changed since this was last set to zero.
    pub(super) changed: u32,
    /// True if a cell or a digit of a house has no place left.
    pub(super) is_dead: bool,
}

impl CourseBoard {
    pub(super) const fn empty() -> Self {
        Self {
            cells: [[0; 16]; ROWS],
            places: [[0; 16]; ROWS],
            fixed: [0; Cell::COUNT],
            naked: [0; 2],
            hidden: [0; ROWS],
            with_hidden: 0,
            open_counts: [0; ROWS],
            by_open: [0; 10],
            changed: 0,
            is_dead: false,
        }
    }

    /// Begins with the givens of a puzzle.
    #[inline(always)]
    pub(super) fn load(&mut self, turns: &Turns, puzzle: &Puzzle) {
        self.fixed = *puzzle.values();
        self.naked = [0; 2];
        self.is_dead = false;
        self.changed = ALL_TURNS;
        let mut missing = [0x1ffu16; ROWS];
        for (cell, &value) in turns.cells.iter().zip(&self.fixed) {
            // Bit 0 stands for a blank and falls away.
            let digit = (1u16 << value) >> 1;
            for turn in cell.turns {
                missing[row(turn)] &= !digit;
            }
        }
        self.open_counts = [0; ROWS];
        for (index, (cell, &value)) in turns.cells.iter().zip(&self.fixed).enumerate() {
            let [a, b, c] = cell.turns.map(row);
            let is_open = u16::from(value == 0);
            let mask = missing[a] & missing[b] & missing[c] & is_open.wrapping_neg();
            for (turn, entry) in [a, b, c].into_iter().zip(cell.entries) {
                self.cells.as_flattened_mut()[flat(entry)] = mask;
                self.open_counts[turn] += is_open as u8;
            }
            let is_single = mask & mask.wrapping_sub(1) == 0 && is_open == 1;
            self.naked[index / 64] |= u64::from(is_single) << (index % 64);
            self.is_dead |= is_open == 1 && mask == 0;
        }
        self.by_open = [0; 10];
        self.with_hidden = 0;
        for (turn, missing) in missing[..House::COUNT].iter().enumerate() {
            self.by_open[usize::from(self.open_counts[turn])] |= 1 << turn;
            let cells = &self.cells[turn];
            let (mut once, mut twice) = (0, 0);
            for mask in &cells[..9] {
                twice |= once & mask;
                once |= mask;
            }
            self.is_dead |= once != *missing;
            self.hidden[turn] = once & !twice;
            self.with_hidden |= u32::from(once != twice) << turn;
            let mut places = [0u16; 16];
            for (place, mask) in cells[..9].iter().enumerate() {
                for (digit, places) in places.iter_mut().enumerate() {
                    *places |= if mask & 1 << digit != 0 { 1 << place } else { 0 };
                }
            }
            self.places[turn] = places;
        }
    }

    /// Returns the candidates of an open cell.
    #[inline(always)]
    pub(super) fn candidates(&self, turns: &Turns, cell: usize) -> u16 {
        self.cells.as_flattened()[flat(turns.cells[cell].entries[0])]
    }

    /// Returns the houses that have a cell with one candidate.
    #[inline(always)]
    pub(super) fn with_naked(&self, turns: &Turns) -> u32 {
        let mut houses = 0;
        for (word, mut cells) in self.naked.into_iter().enumerate() {
            while cells != 0 {
                houses |= turns.cells[word * 64 + cells.trailing_zeros() as usize].set;
                cells &= cells - 1;
            }
        }
        houses
    }

    /// Returns the first cell with one candidate in a house that has one.
    #[inline(always)]
    pub(super) fn first_naked(&self, house: House) -> usize {
        let cells = house.cell_set().bits();
        match self.naked[0] & cells as u64 {
            0 => 64 + (self.naked[1] & (cells >> 64) as u64).trailing_zeros() as usize,
            first => first.trailing_zeros() as usize,
        }
    }

    /// Fixes a digit in a cell that has it as a candidate, and removes it from all peers.
    #[inline(always)]
    pub(super) fn place(&mut self, turns: &Turns, cell: usize, digit: usize) {
        let at = turns.cells[cell];
        let others = self.candidates(turns, cell) & !(1 << digit);
        self.fixed[cell] = digit as u8 + 1;
        self.naked[cell / 64] &= !(1 << (cell % 64));
        self.changed |= at.set;
        let mut peers = [0; 3];
        for (house, peers) in peers.iter_mut().enumerate() {
            self.cells.as_flattened_mut()[flat(at.entries[house])] = 0;
            let places = &mut self.places.as_flattened_mut()[flat(at.rows[house] + digit as u16)];
            *peers = *places & !at.bits[house];
            *places = 0;
            let turn = row(at.turns[house]);
            self.hidden[turn] &= !(1 << digit);
            self.with_hidden &= !(u32::from(self.hidden[turn] == 0) << turn);
            let open = &mut self.open_counts[turn];
            self.by_open[usize::from(*open)] &= !(1 << turn);
            *open -= 1;
            self.by_open[usize::from(*open)] |= 1 << turn;
        }
        self.take_places(at, others);
        for (turn, mut peers) in at.turns.into_iter().zip(peers) {
            let cells = &turns.places[row(turn)];
            while peers != 0 {
                let peer = cells[peers.trailing_zeros() as usize & 15];
                self.remove(turns, usize::from(peer), 1 << digit);
                peers &= peers - 1;
            }
        }
    }

    /// Removes candidates of an open cell.
    #[inline(always)]
    pub(super) fn remove(&mut self, turns: &Turns, cell: usize, digits: u16) {
        let at = turns.cells[cell];
        let before = self.candidates(turns, cell);
        let gone = before & digits;
        if gone == 0 {
            return;
        }
        let after = before & !digits;
        for entry in at.entries {
            self.cells.as_flattened_mut()[flat(entry)] = after;
        }
        self.changed |= at.set;
        self.is_dead |= after == 0;
        self.naked[cell / 64] |= u64::from(after & after.wrapping_sub(1) == 0) << (cell % 64);
        self.take_places(at, gone);
    }

    /// Returns how many houses of each kind have each open count.
    pub(super) fn exposure(&self, turns: &Turns) -> Exposure {
        let mut exposure = Exposure::default();
        for (house, open) in turns.houses.iter().zip(&self.open_counts) {
            exposure.add(*house, usize::from(*open));
        }
        exposure
    }

    /// Takes a cell from the places of digits. A digit that has no place in a house beforehand is
    /// being fixed there.
    #[inline(always)]
    fn take_places(&mut self, at: CellTurns, mut digits: u16) {
        while digits != 0 {
            let digit = digits.trailing_zeros() as u16;
            digits &= digits - 1;
            for house in 0..3 {
                let places = &mut self.places.as_flattened_mut()[flat(at.rows[house] + digit)];
                let before = *places;
                let after = before & !at.bits[house];
                *places = after;
                if after & after.wrapping_sub(1) == 0 && before != 0 {
                    self.is_dead |= after == 0;
                    self.hidden[row(at.turns[house])] |= 1 << digit;
                    self.with_hidden |= 1 << at.turns[house];
                }
            }
        }
    }

    /// Returns the board in the form of [`crate::Position::states`].
    pub(super) fn states(&self, turns: &Turns) -> [u16; Cell::COUNT] {
        std::array::from_fn(|cell| match self.fixed[cell] {
            0 => self.candidates(turns, cell),
            value => 1 << (value - 1) | 1 << 9,
        })
    }

    /// Returns the first open cell with the fewest candidates.
    pub(super) fn fewest_candidates(&self, turns: &Turns) -> Option<usize> {
        let open = (0..Cell::COUNT).filter(|&cell| self.fixed[cell] == 0);
        open.min_by_key(|&cell| self.candidates(turns, cell).count_ones())
    }

    /// Returns the number of open cells.
    pub(super) fn open_cells(&self) -> u32 {
        self.fixed.iter().map(|&value| u32::from(value == 0)).sum()
    }

    /// Returns the number of candidates in open cells.
    pub(super) fn candidates_left(&self, turns: &Turns) -> u32 {
        (0..Cell::COUNT).map(|cell| self.candidates(turns, cell).count_ones()).sum()
    }
}
