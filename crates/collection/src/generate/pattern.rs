//! Symmetries of the pattern of givens.

use tallyhouse_board::{Clues, Frame};

use super::sight::Cells;

tallyhouse_words::choice! {
    /// A symmetry that the pattern of givens may have.
    pub enum GivensSymmetry {
        /// Half a turn about the centre.
        HalfTurn,
        /// A quarter turn about the centre.
        QuarterTurn,
        /// Left and right are mirrored.
        LeftRight,
        /// Top and bottom are mirrored.
        TopBottom,
        /// Mirrored at the diagonal from the top left.
        Diagonal,
        /// Mirrored at the diagonal from the top right.
        Antidiagonal,
    }
}

impl GivensSymmetry {
    fn image<F: Frame>(self, cell: usize) -> usize {
        let (row, column, last) = (cell / F::SIDE, cell % F::SIDE, F::SIDE - 1);
        let (row, column) = match self {
            Self::HalfTurn => (last - row, last - column),
            Self::QuarterTurn => (column, last - row),
            Self::LeftRight => (row, last - column),
            Self::TopBottom => (last - row, column),
            Self::Diagonal => (column, row),
            Self::Antidiagonal => (last - column, last - row),
        };
        row * F::SIDE + column
    }

    /// Lists the cells in groups that are given or blank together.
    pub(super) fn groups<F: Frame>(self) -> Vec<Cells> {
        let mut seen: Cells = 0;
        let mut groups = Vec::new();
        for cell in 0..F::CELLS {
            let mut group: Cells = 0;
            let mut at = cell;
            while (seen | group) >> at & 1 == 0 {
                group |= 1 << at;
                at = self.image::<F>(at);
            }
            if group != 0 {
                groups.push(group);
            }
            seen |= group;
        }
        groups
    }

    /// Tests if the pattern of givens has the symmetry.
    #[must_use]
    pub fn holds<F: Frame>(self, clues: &Clues<F>) -> bool {
        (0..F::CELLS).all(|cell| (clues.get(cell) == 0) == (clues.get(self.image::<F>(cell)) == 0))
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::{Frame4, Frame9};

    use super::*;
    use crate::generate::sight::each;

    #[test]
    fn groups_part_the_board() {
        let sizes = |groups: Vec<Cells>| {
            let mut sizes = [0; 5];
            groups.iter().for_each(|group| sizes[group.count_ones() as usize] += 1);
            sizes
        };
        assert_eq!(sizes(GivensSymmetry::HalfTurn.groups::<Frame9>()), [0, 1, 40, 0, 0]);
        assert_eq!(sizes(GivensSymmetry::QuarterTurn.groups::<Frame9>()), [0, 1, 0, 0, 20]);
        assert_eq!(sizes(GivensSymmetry::LeftRight.groups::<Frame9>()), [0, 9, 36, 0, 0]);
        assert_eq!(sizes(GivensSymmetry::Antidiagonal.groups::<Frame4>()), [0, 4, 6, 0, 0]);
    }

    #[test]
    fn each_symmetry_knows_its_pattern() {
        for &symmetry in GivensSymmetry::ALL {
            assert_eq!(symmetry.name().parse(), Ok(symmetry));
            for group in symmetry.groups::<Frame9>() {
                let mark = |clues: Clues<Frame9>, cell| clues.with(cell, 1);
                assert!(symmetry.holds(&each(group).fold(Clues::BLANK, mark)));
                if group.count_ones() > 1 {
                    let fewer = group & (group - 1);
                    assert!(!symmetry.holds(&each(fewer).fold(Clues::BLANK, mark)));
                }
            }
        }
        assert!("spiral".parse::<GivensSymmetry>().is_err());
    }
}
