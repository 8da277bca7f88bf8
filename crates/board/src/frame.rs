//! The frame parameter: generators and canonical forms run on the 9×9 board and, so that they can be
//! tested against laws known exactly, on the 4×4 board.

use std::fmt;
use std::hash::{Hash, Hasher};
use std::marker::PhantomData;

use crate::{Cell, Digit, Puzzle, Repeat};

/// The size of a board: boxes of `BOX` by `BOX` cells.
pub trait Frame: Copy + fmt::Debug + Eq + Ord + Hash + Send + Sync + 'static {
    /// The side of a box.
    const BOX: usize;
    /// The side of the board, which is also the number of digits.
    const SIDE: usize = Self::BOX * Self::BOX;
    /// The number of cells, counted row by row.
    const CELLS: usize = Self::SIDE * Self::SIDE;

    /// Returns the box of a cell, counted row by row.
    #[must_use]
    fn box_of(cell: usize) -> usize {
        cell / Self::SIDE / Self::BOX * Self::BOX + cell % Self::SIDE / Self::BOX
    }

    /// Tests if two cells share a row, column or box.
    #[must_use]
    fn share_a_house(one: usize, other: usize) -> bool {
        one / Self::SIDE == other / Self::SIDE
            || one % Self::SIDE == other % Self::SIDE
            || Self::box_of(one) == Self::box_of(other)
    }
}

/// The 9×9 board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Frame9;

impl Frame for Frame9 {
    const BOX: usize = 3;
}

/// The 4×4 board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Frame4;

impl Frame for Frame4 {
    const BOX: usize = 2;
}

/// Digits on some cells of a frame. Nothing is promised: a house may repeat a digit.
///
/// ```
/// use tallyhouse_board::{Clues, Frame4};
///
/// assert_eq!(Clues::<Frame4>::BLANK.with(3, 4).to_string(), "...4............");
/// ```
#[derive(Clone, Copy)]
pub struct Clues<F> {
    /// 0 for a blank cell; cells past the frame's last stay 0.
    digits: [u8; Cell::COUNT],
    frame: PhantomData<F>,
}

impl<F: Frame> Clues<F> {
    /// The frame without any clue.
    pub const BLANK: Self = Self { digits: [0; Cell::COUNT], frame: PhantomData };

    /// Takes one value per cell, 0 for a blank; `None` if there are not as many as cells, or a value
    /// is no digit of the frame.
    #[must_use]
    pub fn from_values(values: &[u8]) -> Option<Self> {
        if values.len() != F::CELLS || values.iter().any(|&value| usize::from(value) > F::SIDE) {
            return None;
        }
        let mut clues = Self::BLANK;
        clues.digits[..F::CELLS].copy_from_slice(values);
        Some(clues)
    }

    /// Returns the values cell by cell, 0 for a blank.
    #[must_use]
    #[inline]
    pub fn values(&self) -> &[u8] {
        &self.digits[..F::CELLS]
    }

    /// Returns the value of a cell, 0 for a blank.
    ///
    /// # Panics
    /// If the frame has no such cell.
    #[must_use]
    #[inline]
    pub fn get(&self, cell: usize) -> u8 {
        self.values()[cell]
    }

    /// Returns the clues with this value in a cell, 0 for a blank.
    ///
    /// # Panics
    /// If the frame has no such cell or digit.
    #[must_use]
    #[inline]
    pub fn with(mut self, cell: usize, value: u8) -> Self {
        assert!(cell < F::CELLS && usize::from(value) <= F::SIDE);
        self.digits[cell] = value;
        self
    }

    /// Returns the clues in these cells alone, bit i for cell i.
    #[must_use]
    #[inline]
    pub fn only(mut self, cells: u128) -> Self {
        for (cell, digit) in self.digits.iter_mut().enumerate() {
            *digit *= (cells >> cell & 1) as u8;
        }
        self
    }

    /// Returns the cells with a clue, bit i for cell i.
    #[must_use]
    pub fn given(&self) -> u128 {
        let is_given = |(cell, &value): (usize, &u8)| u128::from(value != 0) << cell;
        self.values().iter().enumerate().map(is_given).fold(0, |all, cell| all | cell)
    }

    /// Returns the number of clues.
    #[must_use]
    pub fn count(&self) -> usize {
        self.values().iter().filter(|&&value| value != 0).count()
    }
}

impl<F: Frame> PartialEq for Clues<F> {
    fn eq(&self, other: &Self) -> bool {
        self.digits == other.digits
    }
}

impl<F: Frame> Eq for Clues<F> {}

impl<F: Frame> PartialOrd for Clues<F> {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl<F: Frame> Ord for Clues<F> {
    /// Compares cell by cell; a blank comes before any digit.
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.digits.cmp(&other.digits)
    }
}

impl<F: Frame> Hash for Clues<F> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.values().hash(state);
    }
}

impl<F: Frame> fmt::Display for Clues<F> {
    /// Writes one character per cell, `.` for a blank.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let character = |&value: &u8| if value == 0 { '.' } else { char::from(b'0' + value) };
        f.pad(&self.values().iter().map(character).collect::<String>())
    }
}

impl<F: Frame> fmt::Debug for Clues<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Clues({self})")
    }
}

impl From<&Puzzle> for Clues<Frame9> {
    fn from(puzzle: &Puzzle) -> Self {
        Self { digits: *puzzle.values(), frame: PhantomData }
    }
}

impl TryFrom<&Clues<Frame9>> for Puzzle {
    type Error = Repeat;

    fn try_from(clues: &Clues<Frame9>) -> Result<Self, Repeat> {
        Self::new(clues.digits.map(Digit::new))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn houses_of_both_frames_have_the_published_neighbours() {
        // Sudoku graph: 81 vertices, 20-regular (Herzberg & Murty, Notices AMS 54(6), 2007). On
        // 4×4: 3 + 3 + 1 = 7 neighbours by the same count.
        fn neighbours<F: Frame>(cell: usize) -> usize {
            (0..F::CELLS).filter(|&other| other != cell && F::share_a_house(cell, other)).count()
        }
        assert!((0..81).all(|cell| neighbours::<Frame9>(cell) == 20));
        assert!((0..16).all(|cell| neighbours::<Frame4>(cell) == 7));
    }

    #[test]
    fn clues_keep_their_values() {
        let clues = Clues::<Frame4>::BLANK.with(3, 4).with(15, 1);
        assert_eq!(clues.to_string(), "...4...........1");
        assert_eq!((clues.count(), clues.given()), (2, 1 << 3 | 1 << 15));
        assert_eq!(Clues::from_values(clues.values()), Some(clues));
        assert_eq!(Clues::<Frame4>::from_values(&[5; 16]), None);
        assert_eq!(Clues::<Frame4>::from_values(&[1; 81]), None);
        assert!(Clues::<Frame4>::BLANK < clues);
        let puzzle: Puzzle = format!("12{}", ".".repeat(79)).parse().unwrap();
        assert_eq!(Puzzle::try_from(&Clues::from(&puzzle)), Ok(puzzle));
    }
}
