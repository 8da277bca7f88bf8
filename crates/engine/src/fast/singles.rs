//! Placing singles in sixteen puzzles at once.
//!
//! A digit's plane is three bands of 27 bits: bit 9·row + column within the band. A fixed cell keeps
//! its bit in the plane of its digit and in no other.

use tallyhouse_board::{Cell, Digit, Puzzle};

use super::lanes::{Lanes, Words};

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
    pub(super) fn load(&mut self, lane: usize, values: &[u8]) {
        // Row 0 gathers the blanks and is dropped.
        let mut placing = [[0u32; 3]; 10];
        for (band, values) in values.chunks_exact(27).enumerate() {
            for (bit, &value) in values.iter().enumerate() {
                placing[usize::from(value)][band] |= 1 << bit;
            }
        }
        for (digit, placing) in placing[1..].iter().enumerate() {
            for (band, &placing) in placing.iter().enumerate() {
                self.planes[digit][band].0[lane] = BAND;
                self.placing[digit][band].0[lane] = placing;
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
        self.put_back(lane, &[[0; 3]; 9], [0; 3]);
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

    /// Returns a board for which [`Boards::is_filled`] holds.
    pub(super) fn filled(&self, lane: usize) -> Puzzle {
        let mut cells = [None; Cell::COUNT];
        for (digit, planes) in Digit::all().zip(&self.planes) {
            for (band, plane) in planes.iter().enumerate() {
                let mut bits = plane.0[lane];
                while bits != 0 {
                    cells[band * 27 + bits.trailing_zeros() as usize] = Some(digit);
                    bits &= bits - 1;
                }
            }
        }
        Puzzle::new(cells).unwrap_or_else(|repeat| unreachable!("{repeat:?}"))
    }

    /// Puts a board into a lane with nothing to be placed.
    pub(super) fn put_back(&mut self, lane: usize, planes: &[[u32; 3]; 9], open: [u32; 3]) {
        for (digit, plane) in planes.iter().enumerate() {
            for (band, &word) in plane.iter().enumerate() {
                self.planes[digit][band].0[lane] = word;
                self.placing[digit][band].0[lane] = 0;
            }
        }
        for (lanes, band) in self.open.iter_mut().zip(open) {
            lanes.0[lane] = band;
        }
    }

    /// Places what is to be placed, then finds the singles that follow. Returns lanes that are zero
    /// where none was found, and lanes that are not zero where a cell or a digit of a house has no
    /// place left.
    #[inline(always)]
    pub(super) fn round<W: Words>(&mut self) -> (Lanes, Lanes) {
        let (mut found, mut dead) = (Lanes::ZERO, Lanes::ZERO);
        for part in 0..W::PARTS {
            self.place::<W>(part);
            let (part_found, part_dead) = self.find::<W>(part);
            part_found.store(&mut found, part);
            part_dead.store(&mut dead, part);
        }
        (found, dead)
    }

    #[inline(always)]
    fn place<W: Words>(&mut self, part: usize) {
        let mut fixed = [W::splat(0); 3];
        for placing in &self.placing {
            for (fixed, placing) in fixed.iter_mut().zip(placing) {
                *fixed = fixed.or(W::load(placing, part));
            }
        }
        for (open, fixed) in self.open.iter_mut().zip(fixed) {
            W::load(open, part).and_not(fixed).store(open, part);
        }
        for (plane, placing) in self.planes.iter_mut().zip(&self.placing) {
            let placing = load_bands::<W>(placing, part);
            let seen = seen_from(placing);
            for (((plane, placing), seen), fixed) in
                plane.iter_mut().zip(placing).zip(seen).zip(fixed)
            {
                W::load(plane, part).and_not(seen.or(fixed)).or(placing).store(plane, part);
            }
        }
    }

    #[inline(always)]
    fn find<W: Words>(&mut self, part: usize) -> (W, W) {
        let zero = W::splat(0);
        let open = load_bands::<W>(&self.open, part);
        let mut dead = zero;
        let mut naked = [zero; 3];
        let mut any_naked = zero;
        for band in 0..3 {
            let (mut once, mut twice) = (zero, zero);
            for plane in &self.planes {
                let plane = W::load(&plane[band], part);
                twice = twice.or(once.and(plane));
                once = once.or(plane);
            }
            dead = dead.or(open[band].and_not(once));
            naked[band] = once.and_not(twice).and(open[band]);
            any_naked = any_naked.or(naked[band]);
        }
        let any_naked = any_naked.non_zero();
        let naked_only = W::load(&self.naked_only, part).and(any_naked);
        naked_only.store(&mut self.naked_only, part);
        let hidden_open =
            [open[0].and_not(naked_only), open[1].and_not(naked_only), open[2].and_not(naked_only)];
        let mut hidden_found = zero;
        for (plane, placing) in self.planes.iter().zip(&mut self.placing) {
            let plane = load_bands::<W>(plane, part);
            let (alone, missing) = alone_in_a_house(plane);
            dead = dead.or(missing);
            for band in 0..3 {
                let hidden = plane[band].and(alone[band]).and(hidden_open[band]);
                hidden_found = hidden_found.or(hidden);
                hidden.or(plane[band].and(naked[band])).store(&mut placing[band], part);
            }
        }
        any_naked.or(W::load(&self.naked_placed, part)).store(&mut self.naked_placed, part);
        hidden_found.or(W::load(&self.hidden_placed, part)).store(&mut self.hidden_placed, part);
        (any_naked.or(hidden_found), dead)
    }
}

// No closures in what follows: a closure is a function without the caller's instructions, and the
// register operations would not be inlined into it.

#[inline(always)]
fn load_bands<W: Words>(bands: &[Lanes; 3], part: usize) -> [W; 3] {
    [W::load(&bands[0], part), W::load(&bands[1], part), W::load(&bands[2], part)]
}

/// Returns all cells that share a house with one of these cells, and the cells themselves.
#[inline(always)]
fn seen_from<W: Words>(cells: [W; 3]) -> [W; 3] {
    let mut columns = W::splat(0);
    let mut seen = [W::splat(0); 3];
    for band in 0..3 {
        let x = cells[band];
        let folded = x.or(x.shr(9)).or(x.shr(18)).and(W::splat(ROW));
        columns = columns.or(folded);
        let boxes = folded.or(folded.shr(1)).or(folded.shr(2)).and(W::splat(FIRST_THIRDS));
        let boxes = in_all_rows(boxes.or(boxes.shl(1)).or(boxes.shl(2)));
        let thirds = x.or(x.shr(1)).or(x.shr(2)).and(W::splat(THIRDS));
        let rows = thirds.or(thirds.shr(3)).or(thirds.shr(6)).and(W::splat(ROW_STARTS));
        seen[band] = boxes.or(rows.shl(9).sub(rows));
    }
    let columns = in_all_rows(columns);
    [seen[0].or(columns), seen[1].or(columns), seen[2].or(columns)]
}

/// Repeats nine bits in the three rows of a band.
#[inline(always)]
fn in_all_rows<W: Words>(row: W) -> W {
    row.or(row.shl(9)).or(row.shl(18))
}

/// Returns the cells of all houses in which a digit has exactly one place, and lanes that are not zero
/// where some house has none.
#[inline(always)]
fn alone_in_a_house<W: Words>(plane: [W; 3]) -> ([W; 3], W) {
    let (row, firsts, thirds, starts) =
        (W::splat(ROW), W::splat(FIRST_THIRDS), W::splat(THIRDS), W::splat(ROW_STARTS));
    let mut missing = W::splat(0);
    let mut several = W::splat(0);
    let mut some = [W::splat(0); 3];
    let mut alone = [W::splat(0); 3];
    for band in 0..3 {
        let x = plane[band];
        // Down the three rows of the band: one bit per column.
        let (a, b, c) = (x.and(row), x.shr(9).and(row), x.shr(18));
        let (once, twice) = (a.or(b).or(c), a.majority(b, c));
        some[band] = once;
        several = several.or(twice);
        // Across the three columns of each box.
        let more = twice.or(twice.shr(1)).or(twice.shr(2));
        let more = more.or(once.majority(once.shr(1), once.shr(2)));
        let any = once.or(once.shr(1)).or(once.shr(2));
        missing = missing.or(firsts.and_not(any));
        let boxes = any.and_not(more).and(firsts);
        let in_boxes = in_all_rows(boxes.or(boxes.shl(1)).or(boxes.shl(2)));
        // Along each row, first within thirds, then over the three thirds.
        let (a, b, c) = (x.and(thirds), x.shr(1).and(thirds), x.shr(2).and(thirds));
        let (once, twice) = (a.or(b).or(c), a.majority(b, c));
        let more = twice.or(twice.shr(3)).or(twice.shr(6));
        let more = more.or(once.majority(once.shr(3), once.shr(6)));
        let any = once.or(once.shr(3)).or(once.shr(6));
        missing = missing.or(starts.and_not(any));
        let rows = any.and_not(more).and(starts);
        alone[band] = in_boxes.or(rows.shl(9).sub(rows));
    }
    let several = several.or(some[0].majority(some[1], some[2]));
    let any = some[0].or(some[1]).or(some[2]);
    missing = missing.or(row.and_not(any));
    let columns = in_all_rows(any.and_not(several));
    ([alone[0].or(columns), alone[1].or(columns), alone[2].or(columns)], missing)
}
