use std::fmt;
use std::str::FromStr;

/// One of the 81 cells, counted row by row from the upper left corner.
///
/// ```
/// use tallyhouse_board::Cell;
///
/// let cell: Cell = "r3c5".parse()?;
/// assert_eq!((cell.row(), cell.column(), cell.box_index()), (2, 4, 1));
/// assert_eq!(cell.peers().len(), 20);
/// # Ok::<(), tallyhouse_board::ParseCellError>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cell(u8);

impl Cell {
    /// How many cells a board has.
    pub const COUNT: usize = 81;

    /// Returns the cell with this index, or `None` past the end.
    #[must_use]
    pub const fn new(index: usize) -> Option<Self> {
        if index < Self::COUNT { Some(Self(index as u8)) } else { None }
    }

    /// Returns the cell at a row and column, both 0 to 8.
    ///
    /// # Panics
    /// If either is out of range.
    #[must_use]
    #[track_caller]
    pub const fn at(row: usize, column: usize) -> Self {
        assert!(row < 9 && column < 9, "row and column run from 0 to 8");
        Self((row * 9 + column) as u8)
    }

    /// Iterates over all cells in order.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> + ExactSizeIterator + Clone {
        (0..81u8).map(Self)
    }

    /// Returns the index, 0 to 80.
    #[must_use]
    #[inline]
    pub const fn index(self) -> usize {
        self.0 as usize
    }

    /// Returns the row, 0 to 8.
    #[must_use]
    #[inline]
    pub const fn row(self) -> usize {
        self.0 as usize / 9
    }

    /// Returns the column, 0 to 8.
    #[must_use]
    #[inline]
    pub const fn column(self) -> usize {
        self.0 as usize % 9
    }

    /// Returns the box, 0 to 8, counted row by row.
    #[must_use]
    #[inline]
    pub const fn box_index(self) -> usize {
        self.row() / 3 * 3 + self.column() / 3
    }
}

impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("r{}c{}", self.row() + 1, self.column() + 1))
    }
}

impl fmt::Debug for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// A text that is not a cell in r3c5 notation.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{text}' is not a cell: expected r1c1 to r9c9, row before column")]
pub struct ParseCellError {
    /// What was found.
    pub text: String,
}

impl FromStr for Cell {
    type Err = ParseCellError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match *text.as_bytes() {
            [b'r' | b'R', row @ b'1'..=b'9', b'c' | b'C', column @ b'1'..=b'9'] => {
                Ok(Self::at(usize::from(row - b'1'), usize::from(column - b'1')))
            }
            _ => Err(ParseCellError { text: text.to_owned() }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cell_has_twenty_peers_and_there_are_810_pairs() {
        // 20-regular graph with 810 edges: Herzberg & Murty, Notices AMS 54(6), 2007, 708–717.
        assert!(Cell::all().all(|cell| cell.peers().len() == 20));
        assert_eq!(Cell::all().map(|cell| cell.peers().len()).sum::<usize>() / 2, 810);
        for a in Cell::all() {
            assert!(!a.peers().contains(a));
            for b in a.peers().iter() {
                assert!(b.peers().contains(a));
            }
        }
    }

    #[test]
    fn names_round_trip() {
        for cell in Cell::all() {
            assert_eq!(cell.to_string().parse(), Ok(cell));
        }
        assert_eq!("r3c5".parse(), Ok(Cell::at(2, 4)));
        for wrong in ["", "r0c1", "r1c10", "c1r1", "r10c1", "r1c", "é"] {
            assert!(wrong.parse::<Cell>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_cell_lies_in_its_three_houses() {
        for cell in Cell::all() {
            for house in cell.houses() {
                assert!(house.cells().contains(&cell));
            }
        }
    }
}
