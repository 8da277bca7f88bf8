//! All tight sets of one house, with their properties, straight from the definitions.

use std::cmp::Ordering;

use tallyhouse_board::{DigitSet, House, PlaceSet};

use crate::{Contradiction, Position, Shape};

/// A tight set: cells of one house whose candidates are exactly as many digits as the cells.
///
/// It splits the open cells into a naked side (the set) and a hidden side (the rest).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TightSet {
    /// The cells, by their places in the house.
    pub cells: PlaceSet,
    /// The union of their candidates; as many digits as cells.
    pub digits: DigitSet,
    /// How many candidates of `digits` stand in the other open cells.
    pub eliminations: u8,
    /// True if no smaller tight set lies inside.
    pub naked_proper: bool,
    /// True if no larger tight set lies around it, short of all open cells.
    pub hidden_proper: bool,
}

impl TightSet {
    /// Tests if the split removes anything, which makes it a subset in the census' sense.
    #[must_use]
    pub const fn is_productive(&self) -> bool {
        self.eliminations > 0
    }
}

/// All tight sets of a house.
///
/// ```
/// use tallyhouse_board::{Digit, DigitSet, House, PlaceSet};
/// use tallyhouse_engine::HouseSplits;
///
/// let marks = ["12", "12", "1345", "2345", "345", "", "", "", ""];
/// let candidates =
///     marks.map(|text| text.bytes().filter_map(|byte| Digit::new(byte - b'0')).collect());
/// let open = PlaceSet::from_bits_truncate(0b11111);
/// let splits = HouseSplits::of_cells(open, &candidates).expect("no cells are crowded");
/// let [pair] = splits.subsets(House::row(0)).collect::<Vec<_>>()[..] else { panic!() };
/// assert_eq!(pair.shape().to_string(), "5 open: naked 2 | hidden 3");
/// assert_eq!((pair.digits.to_string(), pair.eliminations), ("12".to_owned(), 2));
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HouseSplits {
    /// The open cells, by their places in the house.
    pub open: PlaceSet,
    /// The tight sets in rising order of their place masks, with and without eliminations.
    pub tight_sets: Vec<TightSet>,
    /// The cells in settled blocks: inclusion-minimal tight sets without eliminations.
    pub settled: PlaceSet,
}

/// Cells that have fewer candidates between them than they are: the house can't be filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crowding {
    /// The cells.
    pub cells: PlaceSet,
    /// Their candidates.
    pub digits: DigitSet,
}

impl HouseSplits {
    /// Finds all tight sets of a house from the candidates of its nine places; places outside
    /// `open` are ignored.
    ///
    /// # Errors
    /// The first set of cells that are more than their candidates.
    pub fn of_cells(open: PlaceSet, candidates: &[DigitSet; 9]) -> Result<Self, Crowding> {
        let mut masks = [0u16; 9];
        for (mask, place) in masks.iter_mut().zip(open.iter()) {
            *mask = candidates[place].bits();
        }
        let masks = &masks[..open.len()];
        let full = (1usize << masks.len()) - 1;
        let mut union = [0u16; 512];
        let mut tight = Vec::new();
        for set in 1..=full {
            union[set] = union[set & (set - 1)] | masks[set.trailing_zeros() as usize];
            match union[set].count_ones().cmp(&set.count_ones()) {
                Ordering::Less => {
                    return Err(Crowding {
                        cells: spread(set as u16, open),
                        digits: DigitSet::from_bits_truncate(union[set]),
                    });
                }
                Ordering::Equal if set != full => tight.push(Tight::new(set as u16, masks)),
                Ordering::Equal | Ordering::Greater => {}
            }
        }
        let cells = OpenCells::new(open, &tight);
        Ok(Self { open, tight_sets: cells.tight_sets().collect(), settled: cells.settled })
    }

    /// Finds all tight sets of a house of a position.
    ///
    /// # Errors
    /// [`Contradiction::Crowded`] if some cells are more than their candidates.
    pub fn of_house(position: &Position, house: House) -> Result<Self, Contradiction> {
        let candidates = house.cells().map(|cell| position.candidates(cell));
        Self::of_cells(position.open_places(house), &candidates)
            .map_err(|Crowding { cells, digits }| Contradiction::Crowded { house, cells, digits })
    }

    /// Iterates over the subsets: the tight sets with eliminations.
    pub fn subsets(&self, house: House) -> impl Iterator<Item = Subset> + '_ {
        let productive = self.tight_sets.iter().filter(|set| set.is_productive());
        productive.map(move |set| Subset::new(house, self.open, self.settled, set))
    }
}

/// A tight set as bits: bit i stands for the i-th open cell.
#[derive(Clone, Copy)]
pub(crate) struct Tight {
    set: u16,
    digits: u16,
    eliminations: u8,
    /// True if another cell has no other candidates.
    crowds: bool,
}

impl Tight {
    /// Takes the candidates of each open cell.
    #[inline]
    pub(crate) fn new(set: u16, candidates: &[u16]) -> Self {
        let digits = bits(set).fold(0, |union, cell| union | candidates[cell]);
        let (mut eliminations, mut crowds) = (0, false);
        for cell in bits(((1 << candidates.len()) - 1) & !set) {
            let removed = candidates[cell] & digits;
            eliminations += removed.count_ones() as u8; // at most 8 cells of 8 digits
            crowds |= removed == candidates[cell];
        }
        Self { set, digits, eliminations, crowds }
    }
}

/// The open cells of a house and its tight sets.
///
/// What a tight set is worth is decided here alone. The fast engine finds the bits in its own way.
pub(crate) struct OpenCells<'a> {
    places: PlaceSet,
    tight: &'a [Tight],
    settled: PlaceSet,
}

impl<'a> OpenCells<'a> {
    /// Takes every tight set in rising order; neither the empty set nor that of all cells is one.
    #[inline]
    pub(crate) fn new(places: PlaceSet, tight: &'a [Tight]) -> Self {
        let cells = Self { places, tight, settled: PlaceSet::EMPTY };
        let is_settled = |of: &&Tight| of.eliminations == 0 && cells.is_naked_proper(of.set);
        let settled = tight.iter().filter(is_settled).fold(0, |settled, of| settled | of.set);
        Self { settled: spread(settled, places), ..cells }
    }

    fn tight_sets(&self) -> impl Iterator<Item = TightSet> + '_ {
        self.tight.iter().map(|of| self.tight_set(of))
    }

    /// Iterates over the subsets in rising order of their places.
    #[inline]
    pub(crate) fn subsets(&self, house: House) -> impl Iterator<Item = Subset> + '_ {
        let productive = self.tight.iter().filter(|of| of.eliminations > 0);
        productive.map(move |of| Subset::new(house, self.places, self.settled, &self.tight_set(of)))
    }

    /// Tests if some cells are more than their candidates. Every cell has a candidate.
    ///
    /// Take the fewest such cells: without any one of them the others are a tight set that holds all
    /// candidates of that one.
    #[inline]
    pub(crate) fn are_crowded(&self) -> bool {
        self.tight.iter().any(|of| of.crowds)
    }

    #[inline]
    fn tight_set(&self, of: &Tight) -> TightSet {
        TightSet {
            cells: spread(of.set, self.places),
            digits: DigitSet::from_bits_truncate(of.digits),
            eliminations: of.eliminations,
            naked_proper: self.is_naked_proper(of.set),
            hidden_proper: self.is_hidden_proper(of.set),
        }
    }

    #[inline]
    fn is_naked_proper(&self, set: u16) -> bool {
        !self.tight.iter().any(|other| other.set != set && other.set & !set == 0)
    }

    #[inline]
    fn is_hidden_proper(&self, set: u16) -> bool {
        !self.tight.iter().any(|other| other.set != set && set & !other.set == 0)
    }
}

/// The places that a set of open cells has among all open places.
#[inline]
fn spread(set: u16, open: PlaceSet) -> PlaceSet {
    let mut places = 0;
    for (cell, place) in bits(open.bits()).enumerate() {
        places |= (set >> cell & 1) << place;
    }
    PlaceSet::from_bits_truncate(places)
}

#[inline]
fn bits(mut set: u16) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let bit = (set != 0).then(|| set.trailing_zeros() as usize)?;
        set &= set - 1;
        Some(bit)
    })
}

/// A productive split of a house: one record of the census.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Subset {
    /// The house.
    pub house: House,
    /// The number of open cells in the house.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// Open cells outside settled blocks.
    pub live_open: u8,
    /// Cells of the naked side outside settled blocks.
    pub live_naked: u8,
    /// The naked side, by places in the house.
    pub cells: PlaceSet,
    /// The digits of the naked side.
    pub digits: DigitSet,
    /// How many candidates the split removes; the same from either side.
    pub eliminations: u8,
    /// True if no smaller tight set lies inside.
    pub naked_proper: bool,
    /// True if no larger tight set lies around it, short of all open cells.
    pub hidden_proper: bool,
    /// True if the walk applied the subset at this position.
    pub applied: bool,
}

impl Subset {
    fn new(house: House, open: PlaceSet, settled: PlaceSet, set: &TightSet) -> Self {
        Self {
            house,
            open: open.len() as u8,
            naked: set.cells.len() as u8,
            live_open: (open - settled).len() as u8,
            live_naked: (set.cells - settled).len() as u8,
            cells: set.cells,
            digits: set.digits,
            eliminations: set.eliminations,
            naked_proper: set.naked_proper,
            hidden_proper: set.hidden_proper,
            applied: false,
        }
    }

    /// Returns the open count and the sizes of the two sides.
    #[must_use]
    pub const fn shape(&self) -> Shape {
        Shape::of_split(self.open, self.naked)
    }

    /// Returns the size of the hidden side.
    #[must_use]
    pub const fn hidden(&self) -> u8 {
        self.open - self.naked
    }

    /// Returns the cells of the hidden side outside settled blocks.
    #[must_use]
    pub const fn live_hidden(&self) -> u8 {
        self.live_open - self.live_naked
    }

    /// Tests if the subset is proper on at least one side.
    #[must_use]
    pub const fn is_proper(&self) -> bool {
        self.naked_proper || self.hidden_proper
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Builds a house from digit strings, one per place; an empty string is a fixed cell.
    fn splits(house: [&str; 9]) -> Result<HouseSplits, Crowding> {
        let candidates = house.map(|digits| {
            digits.bytes().filter_map(|b| tallyhouse_board::Digit::new(b - b'0')).collect()
        });
        let open = (0..9).filter(|&place| !house[place].is_empty()).collect();
        HouseSplits::of_cells(open, &candidates)
    }

    #[test]
    fn a_pair_is_a_split_with_two_sides() {
        let house = splits(["12", "12", "1345", "2345", "345", "", "", "", ""]).unwrap();
        assert_eq!(house.tight_sets.len(), 1);
        let set = house.tight_sets[0];
        assert_eq!((set.cells.bits(), set.digits.to_string()), (0b11, "12".to_string()));
        assert_eq!(set.eliminations, 2);
        assert!(set.naked_proper && set.hidden_proper);
    }

    #[test]
    fn settled_blocks_do_not_count_as_live() {
        // The pair on 1 and 2 is settled; the pair on 3 and 4 still removes 3 from two cells.
        let house = splits(["12", "12", "34", "34", "3567", "5678", "3678", "5678", ""]).unwrap();
        assert_eq!(house.settled.bits(), 0b11);
        let subsets: Vec<_> = house.subsets(House::row(0)).collect();
        assert_eq!(subsets.len(), 2);
        let pair = subsets[0];
        assert_eq!((pair.cells.bits(), pair.open, pair.naked, pair.hidden()), (0b1100, 8, 2, 6));
        assert_eq!((pair.live_open, pair.live_naked, pair.live_hidden()), (6, 2, 4));
        assert!(pair.naked_proper && !pair.hidden_proper && pair.is_proper());
        let both = subsets[1];
        assert_eq!((both.cells.bits(), both.live_naked, both.live_hidden()), (0b1111, 2, 4));
        assert!(!both.naked_proper && both.hidden_proper);
    }

    #[test]
    fn a_crowded_house_is_a_contradiction() {
        let crowding = splits(["12", "12", "12", "345", "", "", "", "", ""]).unwrap_err();
        assert_eq!((crowding.cells.bits(), crowding.digits.to_string().as_str()), (0b111, "12"));
    }

    #[test]
    fn nine_single_cells_make_512_sets_less_the_two_ends() {
        // Nine disjoint singletons have 2⁹ tight sets, of which the empty and the full one are no
        // splits (product of order ideals; own extreme case).
        let house = splits(["1", "2", "3", "4", "5", "6", "7", "8", "9"]).unwrap();
        assert_eq!(house.tight_sets.len(), 510);
        assert_eq!(house.settled, PlaceSet::FULL);
        assert_eq!(house.subsets(House::row(0)).count(), 0);
        assert!(splits(["123456789"; 9]).unwrap().tight_sets.is_empty());
    }
}
