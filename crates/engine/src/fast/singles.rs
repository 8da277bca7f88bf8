//! Placing singles in sixteen puzzles at once.
//!
//! A digit's plane is three bands of 27 bits: bit 9·row + column within the band. A fixed cell keeps
//! its bit in the plane of its digit and in no other.

use super::lanes::{LANES, Lanes, majority};

const BAND: u32 = (1 << 27) - 1;
const ROW: u32 = 0x1ff;
/// The first column of each box in each row of a band.
const THIRDS: u32 = 0b001_001_001 | 0b001_001_001 << 9 | 0b001_001_001 << 18;
const FIRST_THIRDS: u32 = 0b001_001_001;
/// The first column of each row of a band.
const ROW_STARTS: u32 = 1 | 1 << 9 | 1 << 18;

/// The board of each lane, and what is to be placed next.
pub(super) struct Boards {
    /// Candidates by digit and band.
    pub(super) planes: [[Lanes; 3]; 9],
    /// Cells that are to be fixed, by digit and band.
    pub(super) placing: [[Lanes; 3]; 9],
    /// Cells that are not fixed, by band.
    pub(super) open: [Lanes; 3],
    /// All ones in lanes where only naked singles have been placed so far and some were found in
    /// every round.
    pub(super) naked_only: Lanes,
    /// Not zero in lanes in which naked singles were placed.
    pub(super) naked_placed: Lanes,
    /// Not zero in lanes in which a hidden single was placed when no naked one was left.
    pub(super) hidden_placed: Lanes,
}

impl Boards {
    pub(super) const fn empty() -> Self {
        Self {
            planes: [[Lanes::ZERO; 3]; 9],
            placing: [[Lanes::ZERO; 3]; 9],
            open: [Lanes::ZERO; 3],
            naked_only: Lanes::ZERO,
            naked_placed: Lanes::ZERO,
            hidden_placed: Lanes::ZERO,
        }
    }

    /// Fills a lane with a puzzle: nothing fixed yet, the givens about to be placed.
    pub(super) fn load(&mut self, lane: usize, values: &[u8; 81]) {
        for digit in 0..9 {
            for band in 0..3 {
                self.planes[digit][band].0[lane] = BAND;
                self.placing[digit][band].0[lane] = 0;
            }
        }
        for (cell, &value) in values.iter().enumerate() {
            if value != 0 {
                self.placing[usize::from(value) - 1][cell / 27].0[lane] |= 1 << (cell % 27);
            }
        }
        for band in 0..3 {
            self.open[band].0[lane] = BAND;
        }
        self.naked_only.0[lane] = u32::MAX;
        self.naked_placed.0[lane] = 0;
        self.hidden_placed.0[lane] = 0;
    }

    /// Empties a lane: it stays idle.
    pub(super) fn clear(&mut self, lane: usize) {
        for digit in 0..9 {
            for band in 0..3 {
                self.planes[digit][band].0[lane] = 0;
                self.placing[digit][band].0[lane] = 0;
            }
        }
        for band in 0..3 {
            self.open[band].0[lane] = 0;
        }
    }

    /// Tests a board without open cells: 81 digits, and each digit in every row, column and box.
    pub(super) fn is_filled(&self, lane: usize) -> bool {
        let mut cells = 0;
        for planes in &self.planes {
            let [a, b, c] = [0, 1, 2].map(|band| planes[band].0[lane]);
            cells += a.count_ones() + b.count_ones() + c.count_ones();
            let folded = a | b | c;
            if (folded | folded >> 9 | folded >> 18) & 0x1ff != 0x1ff {
                return false;
            }
            for band in [a, b, c] {
                let rows = [band & 0x1ff, band >> 9 & 0x1ff, band >> 18];
                let boxes = rows[0] | rows[1] | rows[2];
                let in_boxes = (boxes | boxes >> 1 | boxes >> 2) & 0b001_001_001;
                if rows.contains(&0) || in_boxes != 0b001_001_001 {
                    return false;
                }
            }
        }
        cells == 81
    }

    /// Puts a board into a lane with nothing to be placed.
    pub(super) fn put_back(&mut self, lane: usize, planes: &[[u32; 3]; 9], open: [u32; 3]) {
        for digit in 0..9 {
            for band in 0..3 {
                self.planes[digit][band].0[lane] = planes[digit][band];
                self.placing[digit][band].0[lane] = 0;
            }
        }
        for band in 0..3 {
            self.open[band].0[lane] = open[band];
        }
    }

    /// Places what is to be placed, then finds the singles that follow. Returns lanes that are zero
    /// where none was found.
    #[inline(always)]
    pub(super) fn round(&mut self) -> [u32; LANES] {
        self.place();
        self.find().0
    }

    /// The same, with lanes that are not zero where a cell or a digit of a house has no place left.
    #[inline(always)]
    pub(super) fn round_checked(&mut self) -> ([u32; LANES], [u32; LANES]) {
        self.place();
        self.find()
    }

    #[inline(always)]
    fn place(&mut self) {
        let mut fixed = [Lanes::ZERO; 3];
        for placing in &self.placing {
            for band in 0..3 {
                fixed[band] |= placing[band];
            }
        }
        for band in 0..3 {
            self.open[band] &= !fixed[band];
        }
        for digit in 0..9 {
            let placing = self.placing[digit];
            let seen = seen_from(placing);
            let plane = &mut self.planes[digit];
            for band in 0..3 {
                plane[band] = (plane[band] & !(seen[band] | fixed[band])) | placing[band];
            }
        }
    }

    #[inline(always)]
    fn find(&mut self) -> ([u32; LANES], [u32; LANES]) {
        let mut dead = Lanes::ZERO;
        let mut naked = [Lanes::ZERO; 3];
        let mut any_naked = Lanes::ZERO;
        for band in 0..3 {
            let (mut once, mut twice) = (Lanes::ZERO, Lanes::ZERO);
            for plane in &self.planes {
                twice |= once & plane[band];
                once |= plane[band];
            }
            dead |= self.open[band] & !once;
            naked[band] = once & !twice & self.open[band];
            any_naked |= naked[band];
        }
        let any_naked = any_naked.non_zero();
        self.naked_only &= any_naked;
        let hidden_allowed = !self.naked_only;
        let mut found = any_naked;
        let mut hidden_found = Lanes::ZERO;
        for digit in 0..9 {
            let plane = self.planes[digit];
            let (alone, missing) = alone_in_a_house(plane);
            dead |= missing;
            for band in 0..3 {
                let hidden = plane[band] & alone[band] & self.open[band] & hidden_allowed;
                hidden_found |= hidden;
                self.placing[digit][band] = hidden | (plane[band] & naked[band]);
            }
        }
        self.naked_placed |= any_naked;
        self.hidden_placed |= hidden_found;
        found |= hidden_found;
        (found.0, dead.0)
    }
}

/// Returns all cells that share a house with one of these cells, and the cells themselves.
#[inline(always)]
fn seen_from(cells: [Lanes; 3]) -> [Lanes; 3] {
    let mut columns = Lanes::ZERO;
    let mut seen = [Lanes::ZERO; 3];
    for band in 0..3 {
        let x = cells[band];
        let folded = (x | x >> 9 | x >> 18) & Lanes::splat(ROW);
        columns |= folded;
        let boxes = (folded | folded >> 1 | folded >> 2) & Lanes::splat(FIRST_THIRDS);
        seen[band] = in_all_rows(boxes | boxes << 1 | boxes << 2);
        let thirds = (x | x >> 1 | x >> 2) & Lanes::splat(THIRDS);
        let rows = (thirds | thirds >> 3 | thirds >> 6) & Lanes::splat(ROW_STARTS);
        seen[band] |= (rows << 9) - rows;
    }
    let columns = in_all_rows(columns);
    for band in &mut seen {
        *band |= columns;
    }
    seen
}

/// Repeats nine bits in the three rows of a band.
#[inline(always)]
fn in_all_rows(row: Lanes) -> Lanes {
    row | row << 9 | row << 18
}

/// Returns the cells of all houses in which a digit has exactly one place, and lanes that are not zero
/// where some house has none.
#[inline(always)]
fn alone_in_a_house(plane: [Lanes; 3]) -> ([Lanes; 3], Lanes) {
    let mut missing = Lanes::ZERO;
    let mut alone = [Lanes::ZERO; 3];
    let mut some = [Lanes::ZERO; 3];
    let mut several = Lanes::ZERO;
    for band in 0..3 {
        let x = plane[band];
        // Down the three rows of the band: one bit per column.
        let row = Lanes::splat(ROW);
        let (a, b, c) = (x & row, x >> 9 & row, x >> 18);
        let (once, twice) = (a | b | c, majority(a, b, c));
        some[band] = once;
        several |= twice;
        // Across the three columns of each box.
        let firsts = Lanes::splat(FIRST_THIRDS);
        let more = twice | twice >> 1 | twice >> 2 | majority(once, once >> 1, once >> 2);
        let any = once | once >> 1 | once >> 2;
        missing |= !any & firsts;
        let boxes = any & !more & firsts;
        alone[band] = in_all_rows(boxes | boxes << 1 | boxes << 2);
        // Along each row, first within thirds, then over the three thirds.
        let thirds = Lanes::splat(THIRDS);
        let (a, b, c) = (x & thirds, x >> 1 & thirds, x >> 2 & thirds);
        let (once, twice) = (a | b | c, majority(a, b, c));
        let more = twice | twice >> 3 | twice >> 6 | majority(once, once >> 3, once >> 6);
        let any = once | once >> 3 | once >> 6;
        missing |= !any & Lanes::splat(ROW_STARTS);
        let rows = any & !more & Lanes::splat(ROW_STARTS);
        alone[band] |= (rows << 9) - rows;
    }
    several |= majority(some[0], some[1], some[2]);
    let any = some[0] | some[1] | some[2];
    missing |= !any & Lanes::splat(ROW);
    let columns = in_all_rows(any & !several);
    for band in &mut alone {
        *band |= columns;
    }
    (alone, missing)
}
