//! Sixteen puzzles side by side: one `u16` lane per puzzle.

use tallyhouse_board::House;

/// Candidates of one board by digit and band: bit 9·row + column within the band.
pub(super) type Planes = [[u32; 3]; 9];

/// How many puzzles are walked side by side.
pub(super) const LANES: usize = 16;

/// A few lanes, a bit each.
pub(super) type LaneSet = u16;

/// Nine bits of each puzzle, in memory.
#[derive(Clone, Copy)]
#[repr(C, align(32))]
pub(super) struct Lanes(pub(super) [u16; LANES]);

impl Lanes {
    pub(super) const ZERO: Self = Self([0; LANES]);
}

/// Nine bits of each puzzle, to calculate with.
pub(super) trait Words: Copy {
    fn load(lanes: &Lanes) -> Self;
    fn store(self, lanes: &mut Lanes);
    fn splat(word: u16) -> Self;
    fn and(self, other: Self) -> Self;
    fn or(self, other: Self) -> Self;
    /// Bits that are on here and off in the other.
    fn and_not(self, other: Self) -> Self;
    fn add(self, other: Self) -> Self;
    fn sub(self, other: Self) -> Self;
    fn shl<const BY: i32>(self) -> Self;
    fn shr<const BY: i32>(self) -> Self;
    /// All ones in lanes that are zero.
    fn is_zero(self) -> Self;
    /// The lanes that are zero.
    fn zero_lanes(self) -> LaneSet;
}

/// What instruction sets do each in their own way.
pub(super) trait Instructions {
    type Words: Words;

    /// Turns the planes of one board into candidate masks.
    fn by_house(planes: &Planes) -> HouseMasks;
    /// Moves the masks of a house that are not zero to the front, with zeros behind them; returns which of the
    /// nine places they had.
    fn compress(masks: &[u16; 16], front: &mut [u16; 16]) -> u16;
    /// Finds the sets of cells with as many candidates as cells, as bits of 32 sets per word, the
    /// empty set and the set of all cells included. Returns how many there are.
    fn tight_sets(candidates: &[u16; 16], open: usize, tight: &mut [u32; 16]) -> u32;
}

/// Candidates of the nine cells of each house, 0 for fixed cells; what is behind them means nothing.
pub(super) type HouseMasks = [[u16; 16]; House::COUNT];

/// Lane i holds all ones where bit b of i is on.
const SET_BITS: [[u16; 32]; 5] = {
    let mut table = [[0; 32]; 5];
    let mut bit = 0;
    while bit < 5 {
        let mut set = 0;
        while set < 32 {
            if set >> bit & 1 == 1 {
                table[bit][set] = u16::MAX;
            }
            set += 1;
        }
        bit += 1;
    }
    table
};

/// Lane i holds the number of bits that are on in i.
pub(super) const SIZES: [u16; 32] = {
    let mut table = [0; 32];
    let mut set: usize = 0;
    while set < 32 {
        table[set] = set.count_ones() as u16;
        set += 1;
    }
    table
};

/// Returns the union of the candidates of the cells past the fifth that `high` names.
#[inline(always)]
pub(super) fn union_past_five(candidates: &[u16; 16], high: usize) -> u16 {
    (0..4).fold(0, |union, bit| {
        union | candidates[5 + bit] & 0u16.wrapping_sub((high >> bit & 1) as u16)
    })
}

/// The sets of the first word that name no absent cell.
#[inline(always)]
pub(super) const fn sets_of_present_cells(open: usize) -> u32 {
    if open >= 5 { u32::MAX } else { (1 << (1 << open)) - 1 }
}

/// Plain arrays and loops; the compiler turns each operation into one or two vector instructions where
/// the caller has enabled them.
impl Words for Lanes {
    #[inline(always)]
    fn load(lanes: &Lanes) -> Self {
        *lanes
    }

    #[inline(always)]
    fn store(self, lanes: &mut Lanes) {
        *lanes = self;
    }

    #[inline(always)]
    fn splat(word: u16) -> Self {
        Self([word; LANES])
    }

    #[inline(always)]
    fn and(self, other: Self) -> Self {
        self.zip(other, |a, b| a & b)
    }

    #[inline(always)]
    fn or(self, other: Self) -> Self {
        self.zip(other, |a, b| a | b)
    }

    #[inline(always)]
    fn and_not(self, other: Self) -> Self {
        self.zip(other, |a, b| a & !b)
    }

    #[inline(always)]
    fn add(self, other: Self) -> Self {
        self.zip(other, u16::wrapping_add)
    }

    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.zip(other, u16::wrapping_sub)
    }

    #[inline(always)]
    fn shl<const BY: i32>(self) -> Self {
        self.map(|a| a << BY)
    }

    #[inline(always)]
    fn shr<const BY: i32>(self) -> Self {
        self.map(|a| a >> BY)
    }

    #[inline(always)]
    fn is_zero(self) -> Self {
        self.map(|word| if word == 0 { u16::MAX } else { 0 })
    }

    #[inline(always)]
    fn zero_lanes(self) -> LaneSet {
        (0..).zip(self.0).fold(0, |set, (lane, word)| set | LaneSet::from(word == 0) << lane)
    }
}

/// What every processor can do.
pub(super) struct Portable;

impl Instructions for Portable {
    type Words = Lanes;

    #[inline(always)]
    fn by_house(planes: &Planes) -> HouseMasks {
        let mut houses = [[0; 16]; House::COUNT];
        for row in 0..9 {
            for column in 0..9 {
                let shift = row % 3 * 9 + column;
                let bit = |(digit, plane): (usize, &[u32; 3])| {
                    ((plane[row / 3] >> shift & 1) as u16) << digit
                };
                let mask = planes.iter().enumerate().map(bit).sum();
                houses[row][column] = mask;
                houses[9 + column][row] = mask;
                houses[18 + row / 3 * 3 + column / 3][row % 3 * 3 + column % 3] = mask;
            }
        }
        houses
    }

    #[inline(always)]
    fn compress(masks: &[u16; 16], front: &mut [u16; 16]) -> u16 {
        *front = [0; 16];
        let (mut open, mut count) = (0, 0);
        for (place, &mask) in masks[..9].iter().enumerate() {
            // What is not open is written over by the next.
            front[count] = mask;
            open |= u16::from(mask != 0) << place;
            count += usize::from(mask != 0);
        }
        open
    }

    #[inline(always)]
    fn tight_sets(candidates: &[u16; 16], open: usize, tight: &mut [u32; 16]) -> u32 {
        let mut low = [0u16; 32];
        for (masks, candidates) in SET_BITS.iter().zip(candidates) {
            for (low, mask) in low.iter_mut().zip(masks) {
                *low |= candidates & mask;
            }
        }
        let mut count = 0;
        for (high, tight) in tight[..1 << open.saturating_sub(5)].iter_mut().enumerate() {
            let union = union_past_five(candidates, high);
            let size = high.count_ones() as u16;
            let mut bits = [0u32; 32];
            for set in 0..32 {
                let digits = (low[set] | union).count_ones() as u16;
                bits[set] = u32::from(digits == SIZES[set] + size) << set;
            }
            let bits = bits.iter().fold(0, |all, bit| all | bit) & sets_of_present_cells(open);
            *tight = bits;
            count += bits.count_ones();
        }
        count
    }
}

impl Lanes {
    #[inline(always)]
    fn map(self, f: impl Fn(u16) -> u16) -> Self {
        let mut out = Self::ZERO;
        for (out, word) in out.0.iter_mut().zip(self.0) {
            *out = f(word);
        }
        out
    }

    #[inline(always)]
    fn zip(self, other: Self, f: impl Fn(u16, u16) -> u16) -> Self {
        let mut out = Self::ZERO;
        for ((out, a), b) in out.0.iter_mut().zip(self.0).zip(other.0) {
            *out = f(a, b);
        }
        out
    }
}
