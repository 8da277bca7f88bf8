//! Placing singles in sixteen puzzles at once.
//!
//! A digit's plane is nine rows of nine bits, bit 0 the first column. A fixed cell keeps its bit in the
//! plane of its digit and in no other.

use tallyhouse_board::{Cell, Digit, Puzzle};

use super::lanes::{LaneSet, Lanes, Planes, Words};

const ROW: u16 = 0x1ff;
/// The first column of each box.
const FIRSTS: u16 = 0b001_001_001;

/// The board of each lane, and what is to be placed next.
pub(super) struct Boards {
    /// Candidates by digit and row.
    planes: [[Lanes; 9]; 9],
    /// Cells that are to be fixed, by digit and row.
    placing: [[Lanes; 9]; 9],
    /// Cells that are not fixed, by row.
    open: [Lanes; 9],
    /// All ones in lanes where only naked singles have been placed so far and some were found in
    /// every round.
    pub(super) naked_only: Lanes,
    /// Not zero in lanes in which naked singles were placed.
    pub(super) naked_placed: Lanes,
    /// Not zero in lanes in which a hidden single was placed when no naked one was left, unless the
    /// walk has come to rest since.
    pub(super) hidden_placed: Lanes,
}

/// What a round found, as sets of lanes.
pub(super) struct Round {
    /// No single was found.
    pub(super) resting: LaneSet,
    /// A cell or a digit of a house has no place left, or a cell has two digits.
    pub(super) dead: LaneSet,
}

/// One board with nothing to be placed.
#[derive(Clone, Copy)]
pub(super) struct Board {
    pub(super) planes: Planes,
    /// Cells that are not fixed, by band.
    pub(super) open: [u32; 3],
}

impl Board {
    /// Without a candidate.
    pub(super) const BLANK: Self = Self { planes: [[0; 3]; 9], open: [0; 3] };
}

impl Boards {
    pub(super) const fn empty() -> Self {
        Self {
            planes: [[Lanes::ZERO; 9]; 9],
            placing: [[Lanes::ZERO; 9]; 9],
            open: [Lanes::ZERO; 9],
            naked_only: Lanes::ZERO,
            naked_placed: Lanes::ZERO,
            hidden_placed: Lanes::ZERO,
        }
    }

    /// Fills a lane with a puzzle: nothing fixed yet, the givens about to be placed.
    pub(super) fn load(&mut self, lane: usize, values: &[u8]) {
        // Entry 0 gathers the blanks and is dropped: a test of each cell is guessed wrong too often.
        let mut placing = [[0; 9]; 10];
        for (row, values) in values.chunks_exact(9).enumerate() {
            for (column, &value) in values.iter().enumerate() {
                placing[usize::from(value)][row] |= 1 << column;
            }
        }
        for (planes, rows) in self.placing.iter_mut().zip(&placing[1..]) {
            for (lanes, row) in planes.iter_mut().zip(rows) {
                lanes.0[lane] = *row;
            }
        }
        for lanes in self.planes.as_flattened_mut() {
            lanes.0[lane] = ROW;
        }
        for open in &mut self.open {
            open.0[lane] = ROW;
        }
        self.naked_only.0[lane] = u16::MAX;
        self.naked_placed.0[lane] = 0;
        self.hidden_placed.0[lane] = 0;
    }

    /// Returns the board of a lane.
    #[inline(always)]
    pub(super) fn board(&self, lane: usize) -> Board {
        Board { planes: self.planes(lane), open: self.open(lane) }
    }

    /// Returns the candidates of a lane.
    #[inline(always)]
    pub(super) fn planes(&self, lane: usize) -> Planes {
        let mut planes = [[0; 3]; 9];
        for (plane, rows) in planes.iter_mut().zip(&self.planes) {
            *plane = bands(rows, lane);
        }
        planes
    }

    /// Returns the cells of a lane that are not fixed, by band.
    #[inline(always)]
    pub(super) fn open(&self, lane: usize) -> [u32; 3] {
        bands(&self.open, lane)
    }

    /// Returns the board of a lane that has come to rest, all cells fixed, and is not dead.
    ///
    /// Each house then has a place for each digit, and no cell has two digits.
    pub(super) fn filled(&self, lane: usize) -> Puzzle {
        let mut cells = [None; Cell::COUNT];
        for (digit, plane) in Digit::all().zip(self.planes(lane)) {
            for (band, mut bits) in plane.into_iter().enumerate() {
                while bits != 0 {
                    cells[band * 27 + bits.trailing_zeros() as usize] = Some(digit);
                    bits &= bits - 1;
                }
            }
        }
        Puzzle::new(cells).unwrap_or_else(|repeat| unreachable!("{repeat:?}"))
    }

    /// Puts a board into a lane; a blank one stays idle.
    pub(super) fn put_back(&mut self, lane: usize, board: &Board) {
        for (rows, plane) in self.planes.iter_mut().zip(&board.planes) {
            put_bands(rows, lane, plane);
        }
        for placing in self.placing.as_flattened_mut() {
            placing.0[lane] = 0;
        }
        put_bands(&mut self.open, lane, &board.open);
    }

    /// Has a digit placed next.
    pub(super) fn place_next(&mut self, lane: usize, digit: usize, cell: usize) {
        self.placing[digit][cell / 9].0[lane] |= 1 << (cell % 9);
    }

    /// Takes a candidate away, even if it is to be placed next.
    pub(super) fn forbid(&mut self, lane: usize, digit: usize, cell: usize) {
        self.planes[digit][cell / 9].0[lane] &= !(1 << (cell % 9));
        self.placing[digit][cell / 9].0[lane] &= !(1 << (cell % 9));
    }

    /// Keeps of the candidates of a digit in a band only these.
    pub(super) fn keep(&mut self, lane: usize, digit: usize, band: usize, kept: u32) {
        for (rows, row) in self.planes[digit][band * 3..][..3].iter_mut().zip(0..) {
            rows.0[lane] &= (kept >> (9 * row)) as u16;
        }
    }

    /// Places what is to be placed, then finds the singles that follow.
    #[inline(always)]
    pub(super) fn round<W: Words>(&mut self) -> Round {
        self.place::<W>();
        self.find::<W>()
    }

    #[inline(always)]
    fn place<W: Words>(&mut self) {
        let mut fixed = [Lanes::ZERO; 9];
        for row in 0..9 {
            let mut all = W::load(&self.placing[0][row]);
            for placing in &self.placing[1..] {
                all = all.or(W::load(&placing[row]));
            }
            all.store(&mut fixed[row]);
            W::load(&self.open[row]).and_not(all).store(&mut self.open[row]);
        }
        for (plane, placing) in self.planes.iter_mut().zip(&self.placing) {
            let (columns, boxes) = columns_and_boxes::<W>(placing);
            for row in 0..9 {
                let here = W::load(&placing[row]);
                let gone = columns.or(boxes[row / 3]).or(W::load(&fixed[row]));
                let kept = W::load(&plane[row]).and_not(gone).and(here.is_zero());
                kept.or(here).store(&mut plane[row]);
            }
        }
    }

    #[inline(always)]
    fn find<W: Words>(&mut self) -> Round {
        let zero = W::splat(0);
        let (mut naked, mut hidden_open) = ([Lanes::ZERO; 9], [Lanes::ZERO; 9]);
        let (mut any_naked, mut dead) = (zero, zero);
        for row in 0..9 {
            let (mut once, mut twice) = (W::load(&self.planes[0][row]), zero);
            for plane in &self.planes[1..] {
                let plane = W::load(&plane[row]);
                twice = twice.or(once.and(plane));
                once = once.or(plane);
            }
            let open = W::load(&self.open[row]);
            // Open cells without a candidate, fixed ones with two.
            dead = dead.or(open.and_not(once)).or(twice.and_not(open));
            let of_row = once.and_not(twice).and(open);
            any_naked = any_naked.or(of_row);
            of_row.store(&mut naked[row]);
        }
        let naked_only = W::load(&self.naked_only).and_not(any_naked.is_zero());
        naked_only.store(&mut self.naked_only);
        any_naked.or(W::load(&self.naked_placed)).store(&mut self.naked_placed);
        for (open, hidden) in self.open.iter().zip(&mut hidden_open) {
            W::load(open).and_not(naked_only).store(hidden);
        }
        let mut found = zero;
        let mut missing = Missing::<W>::none();
        for (plane, placing) in self.planes.iter().zip(&mut self.placing) {
            let (columns, boxes) = missing.alone_in_columns_and_boxes(plane);
            for row in 0..9 {
                let here = W::load(&plane[row]);
                let is_alone = here.and(here.add(W::splat(u16::MAX))).is_zero();
                missing.row(here);
                let hidden = columns.or(boxes[row / 3]).or(is_alone);
                let singles = hidden.and(W::load(&hidden_open[row])).or(W::load(&naked[row]));
                let placed = here.and(singles);
                placed.store(&mut placing[row]);
                found = found.or(placed);
            }
        }
        let hidden_placed = W::load(&self.hidden_placed).or(found.and_not(naked_only));
        hidden_placed.store(&mut self.hidden_placed);
        let alive = dead.or(missing.any()).zero_lanes();
        Round { resting: found.zero_lanes(), dead: !alive }
    }
}

/// Returns the bands of a lane.
#[inline(always)]
fn bands(rows: &[Lanes; 9], lane: usize) -> [u32; 3] {
    let mut bands = [0; 3];
    for (band, rows) in bands.iter_mut().zip(rows.chunks_exact(3)) {
        let [a, b, c] = [0, 1, 2].map(|row| u32::from(rows[row].0[lane]));
        *band = a | b << 9 | c << 18;
    }
    bands
}

#[inline(always)]
fn put_bands(rows: &mut [Lanes; 9], lane: usize, bands: &[u32; 3]) {
    for (row, rows) in rows.iter_mut().enumerate() {
        rows.0[lane] = (bands[row / 3] >> (9 * (row % 3))) as u16 & ROW;
    }
}

// No closures in what follows: a closure is a function without the caller's instructions, and the
// register operations would not be inlined into it.

/// Fills the boxes in which the first bit is on.
#[inline(always)]
fn whole_boxes<W: Words>(firsts: W) -> W {
    firsts.shl::<3>().sub(firsts)
}

/// Returns the columns that hold one of these cells, and for each band the boxes that do.
#[inline(always)]
fn columns_and_boxes<W: Words>(cells: &[Lanes; 9]) -> (W, [W; 3]) {
    let mut columns = W::splat(0);
    let mut boxes = [W::splat(0); 3];
    for (band, boxes) in boxes.iter_mut().enumerate() {
        let [a, b, c] = load_band::<W>(cells, band);
        let folded = a.or(b).or(c);
        columns = columns.or(folded);
        let firsts = folded.or(folded.shr::<1>()).or(folded.shr::<2>()).and(W::splat(FIRSTS));
        *boxes = whole_boxes(firsts);
    }
    (columns, boxes)
}

#[inline(always)]
fn load_band<W: Words>(rows: &[Lanes; 9], band: usize) -> [W; 3] {
    [W::load(&rows[3 * band]), W::load(&rows[3 * band + 1]), W::load(&rows[3 * band + 2])]
}

/// Whether each house has a place for each digit seen so far.
struct Missing<W> {
    /// Not zero in lanes where some row has none.
    rows: W,
    /// The columns of which each has some.
    columns: W,
    /// The boxes of which each has some, by their first column.
    boxes: W,
}

impl<W: Words> Missing<W> {
    #[inline(always)]
    fn none() -> Self {
        Self { rows: W::splat(0), columns: W::splat(ROW), boxes: W::splat(FIRSTS) }
    }

    #[inline(always)]
    fn row(&mut self, places: W) {
        self.rows = self.rows.or(places.is_zero());
    }

    /// Not zero in lanes where anything is missing.
    #[inline(always)]
    fn any(self) -> W {
        let columns = W::splat(ROW).and_not(self.columns);
        self.rows.or(columns).or(W::splat(FIRSTS).and_not(self.boxes))
    }

    /// Returns the columns in which a digit has one place, and for each band the boxes.
    #[inline(always)]
    fn alone_in_columns_and_boxes(&mut self, plane: &[Lanes; 9]) -> (W, [W; 3]) {
        let (mut once, mut twice) = (W::splat(0), W::splat(0));
        let mut boxes = [W::splat(0); 3];
        for (band, boxes) in boxes.iter_mut().enumerate() {
            let [a, b, c] = load_band::<W>(plane, band);
            // Down the three rows of the band.
            let either = a.or(b);
            let (some, several) = (either.or(c), a.and(b).or(either.and(c)));
            twice = twice.or(several).or(once.and(some));
            once = once.or(some);
            // Across the three columns of each box.
            let (next, last) = (some.shr::<1>(), some.shr::<2>());
            let either = some.or(next);
            let any = either.or(last);
            let more = some.and(next).or(either.and(last));
            let more = more.or(several).or(several.shr::<1>()).or(several.shr::<2>());
            self.boxes = self.boxes.and(any);
            *boxes = whole_boxes(any.and_not(more).and(W::splat(FIRSTS)));
        }
        self.columns = self.columns.and(once);
        (once.and_not(twice), boxes)
    }
}
