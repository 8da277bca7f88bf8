use std::array;
use std::marker::PhantomData;

use rand::{Rng, RngExt};
use tallyhouse_board::{Clues, Digit, Frame};

use super::symmetry::permutation;

/// One way to exchange the digits of a frame for each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Relabelling<F> {
    /// The new digit by old digit; blanks stay blank.
    new: [u8; Digit::COUNT + 1],
    frame: PhantomData<F>,
}

impl<F: Frame> Relabelling<F> {
    /// How many there are.
    pub const COUNT: u32 = {
        let (mut count, mut side) = (1, F::SIDE as u32);
        while side > 1 {
            count *= side;
            side -= 1;
        }
        count
    };

    /// Iterates over all relabellings, the identity first.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..Self::COUNT).map(Self::nth)
    }

    /// Draws a relabelling, all equally likely.
    #[must_use]
    pub fn random(rng: &mut impl Rng) -> Self {
        Self::nth(rng.random_range(0..Self::COUNT))
    }

    /// Returns the relabelling that numbers digits in the order in which they first appear, and then
    /// those that don't appear, by value.
    #[must_use]
    pub fn by_first_appearance(clues: &Clues<F>) -> Self {
        let mut new = [0; Digit::COUNT + 1];
        let mut labels = 0;
        for digit in clues.values().iter().copied().chain(1..=F::SIDE as u8) {
            if digit != 0 && new[usize::from(digit)] == 0 {
                labels += 1;
                new[usize::from(digit)] = labels;
            }
        }
        Self { new, frame: PhantomData }
    }

    /// Returns the clues with exchanged digits.
    #[must_use]
    pub fn apply(&self, clues: &Clues<F>) -> Clues<F> {
        (0..F::CELLS).fold(Clues::BLANK, |image, cell| {
            image.with(cell, self.new[usize::from(clues.get(cell))])
        })
    }

    fn nth(index: u32) -> Self {
        let order = permutation(F::SIDE, index);
        let new = array::from_fn(|digit| match digit {
            0 => 0,
            digit if digit <= F::SIDE => order[digit - 1] + 1,
            _ => 0,
        });
        Self { new, frame: PhantomData }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use tallyhouse_board::{Frame4, Frame9};

    use super::*;

    #[test]
    fn relabellings_are_all_different() {
        assert_eq!(Relabelling::<Frame9>::COUNT, 362_880);
        assert_eq!(Relabelling::<Frame4>::all().collect::<HashSet<_>>().len(), 24);
        let clues = Clues::<Frame4>::from_values(&[4, 0, 2, 1, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]);
        let clues = clues.unwrap();
        let numbered = Relabelling::by_first_appearance(&clues).apply(&clues);
        assert_eq!(numbered.to_string(), "1.23.2..........");
        assert_eq!(Relabelling::all().next().unwrap().apply(&clues), clues);
        let images: HashSet<_> =
            Relabelling::all().map(|relabelling| relabelling.apply(&clues)).collect();
        // Three of four digits occur: 4 · 3 · 2 images.
        assert_eq!(images.len(), 24);
    }
}
