//! Sixteen puzzles side by side: one `u32` lane per puzzle.
//!
//! Plain arrays and loops; the compiler turns each operation into one or two vector instructions where
//! the caller has enabled them.

use std::ops::{BitAnd, BitAndAssign, BitOr, BitOrAssign, Not, Shl, Shr, Sub};

/// How many puzzles are walked side by side.
pub(super) const LANES: usize = 16;

/// One 32-bit word of each puzzle.
#[derive(Clone, Copy)]
#[repr(align(64))]
pub(super) struct Lanes(pub(super) [u32; LANES]);

impl Lanes {
    pub(super) const ZERO: Self = Self([0; LANES]);

    #[inline(always)]
    pub(super) const fn splat(word: u32) -> Self {
        Self([word; LANES])
    }

    #[inline(always)]
    fn map(self, f: impl Fn(u32) -> u32) -> Self {
        let mut out = Self::ZERO;
        for lane in 0..LANES {
            out.0[lane] = f(self.0[lane]);
        }
        out
    }

    #[inline(always)]
    fn zip(self, other: Self, f: impl Fn(u32, u32) -> u32) -> Self {
        let mut out = Self::ZERO;
        for lane in 0..LANES {
            out.0[lane] = f(self.0[lane], other.0[lane]);
        }
        out
    }

    /// Returns all ones in lanes that are not zero.
    #[inline(always)]
    pub(super) fn non_zero(self) -> Self {
        self.map(|word| if word != 0 { u32::MAX } else { 0 })
    }
}

impl BitAnd for Lanes {
    type Output = Self;
    #[inline(always)]
    fn bitand(self, other: Self) -> Self {
        self.zip(other, |a, b| a & b)
    }
}

impl BitOr for Lanes {
    type Output = Self;
    #[inline(always)]
    fn bitor(self, other: Self) -> Self {
        self.zip(other, |a, b| a | b)
    }
}

impl Not for Lanes {
    type Output = Self;
    #[inline(always)]
    fn not(self) -> Self {
        self.map(|a| !a)
    }
}

impl Sub for Lanes {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.zip(other, u32::wrapping_sub)
    }
}

impl Shl<u32> for Lanes {
    type Output = Self;
    #[inline(always)]
    fn shl(self, by: u32) -> Self {
        self.map(|a| a << by)
    }
}

impl Shr<u32> for Lanes {
    type Output = Self;
    #[inline(always)]
    fn shr(self, by: u32) -> Self {
        self.map(|a| a >> by)
    }
}

impl BitAndAssign for Lanes {
    #[inline(always)]
    fn bitand_assign(&mut self, other: Self) {
        *self = *self & other;
    }
}

impl BitOrAssign for Lanes {
    #[inline(always)]
    fn bitor_assign(&mut self, other: Self) {
        *self = *self | other;
    }
}

/// Returns the bits that are on in at least two of three words.
#[inline(always)]
pub(super) fn majority(a: Lanes, b: Lanes, c: Lanes) -> Lanes {
    (a & b) | ((a | b) & c)
}
