use std::fmt;

use crate::Cell;

/// A set of cells; bit i of [`CellSet::bits`] stands for the cell with index i.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct CellSet(u128);

const ALL: u128 = (1 << Cell::COUNT) - 1;

element_set!(CellSet, u128, ALL, Cell, Cell::index, Cell::new, "cell");

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
