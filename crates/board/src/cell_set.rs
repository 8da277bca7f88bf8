use std::fmt;
use std::ops::{BitAnd, BitOr, Sub};

use crate::Cell;

/// A set of cells; bit i of [`CellSet::bits`] stands for the cell with index i.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct CellSet(u128);

const ALL_BITS: u128 = (1 << Cell::COUNT) - 1;

impl CellSet {
    /// The set without cells.
    pub const EMPTY: Self = Self(0);
    /// The set of all 81 cells.
    pub const FULL: Self = Self(ALL_BITS);

    /// Returns the set with these bits, or `None` if a bit past the 81st is on.
    #[must_use]
    pub const fn from_bits(bits: u128) -> Option<Self> {
        if bits & !ALL_BITS == 0 { Some(Self(bits)) } else { None }
    }

    /// Returns the set with these bits; bits past the 81st are dropped.
    #[must_use]
    #[inline]
    pub const fn from_bits_truncate(bits: u128) -> Self {
        Self(bits & ALL_BITS)
    }

    /// Returns the mask.
    #[must_use]
    #[inline]
    pub const fn bits(self) -> u128 {
        self.0
    }

    /// Returns the set that holds this cell alone.
    #[must_use]
    #[inline]
    pub const fn single(cell: Cell) -> Self {
        Self(1 << cell.index())
    }

    /// Returns the number of cells.
    #[must_use]
    #[inline]
    pub const fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Tests if there are no cells.
    #[must_use]
    #[inline]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Tests if the cell is in the set.
    #[must_use]
    #[inline]
    pub const fn contains(self, cell: Cell) -> bool {
        self.0 >> cell.index() & 1 == 1
    }

    /// Returns the set and this cell.
    #[must_use]
    #[inline]
    pub const fn with(self, cell: Cell) -> Self {
        Self(self.0 | 1 << cell.index())
    }

    /// Returns the set but for this cell.
    #[must_use]
    #[inline]
    pub const fn without(self, cell: Cell) -> Self {
        Self(self.0 & !(1 << cell.index()))
    }

    /// Iterates in rising order.
    pub fn iter(self) -> impl Iterator<Item = Cell> + Clone {
        let mut rest = self.0;
        std::iter::from_fn(move || {
            let cell = Cell::new(rest.trailing_zeros() as usize)?;
            rest &= rest - 1;
            Some(cell)
        })
    }
}

impl BitOr for CellSet {
    type Output = Self;
    #[inline]
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

impl BitAnd for CellSet {
    type Output = Self;
    #[inline]
    fn bitand(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }
}

impl Sub for CellSet {
    type Output = Self;
    #[inline]
    fn sub(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }
}

impl FromIterator<Cell> for CellSet {
    fn from_iter<I: IntoIterator<Item = Cell>>(cells: I) -> Self {
        cells.into_iter().fold(Self::EMPTY, Self::with)
    }
}

impl fmt::Debug for CellSet {
    /// Draws the board, `x` for a cell in the set.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for row in 0..9 {
            writeln!(f)?;
            for column in 0..9 {
                f.write_str(if self.contains(Cell::at(row, column)) { "x" } else { "." })?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn set_words_do_what_they_say() {
        let (a, b) = (Cell::at(0, 0), Cell::at(8, 8));
        let set: CellSet = [b, a].into_iter().collect();
        assert_eq!(set.iter().collect::<Vec<_>>(), [a, b]);
        assert_eq!(set.without(a), CellSet::single(b));
        assert_eq!((set - CellSet::FULL, set & CellSet::FULL), (CellSet::EMPTY, set));
        assert_eq!((set | CellSet::FULL).len(), 81);
        assert_eq!(CellSet::from_bits(1 << 81), None);
        assert_eq!(CellSet::from_bits_truncate(u128::MAX), CellSet::FULL);
        assert!(format!("{set:?}").starts_with("\nx........\n"));
    }
}
