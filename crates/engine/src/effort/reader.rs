use tallyhouse_board::{House, PlaceSet};

use super::{GlanceWeights, Glances};

tallyhouse_words::choice! {
    /// How a person learns what stands in a house.
    #[non_exhaustive]
    pub enum Learning {
        /// From pencil marks: the candidates of a cell, or the places of a digit cell after cell.
        CellByCell,
        /// From pencil marks: the house is read once for each look, and that tells everything.
        WholeHouse,
        /// Cell by cell, and what was learned of a house is remembered until it changes, cells and digits
        /// apart: a cell until one of its candidates goes, a digit until one of its places goes. A look
        /// that failed in a house is not made there again before a candidate of that house goes.
        Remembered,
        /// Without pencil marks: the places of a digit from the houses that cross the house.
        CrossingHouses,
    }
}

/// A model of the person who searches: how a house is learned, and what a glance weighs.
///
/// ```
/// use tallyhouse_engine::effort::{GlanceWeights, Learning, Reader};
///
/// let marking = Reader { learning: Learning::CellByCell, weights: GlanceWeights::default() };
/// assert!(!marking.remembers());
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reader {
    /// How a house is learned.
    pub learning: Learning,
    /// What glances weigh.
    pub weights: GlanceWeights,
}

impl Reader {
    /// Tests if what a look costs depends on the looks before it.
    #[must_use]
    pub const fn remembers(&self) -> bool {
        matches!(self.learning, Learning::Remembered)
    }
}

/// What a look in one house went through, whoever reads it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LookCounts {
    /// The house's open cells; 0 if the look is not made there.
    pub open: u64,
    /// The distinct other houses that cross an open cell of the house.
    pub crossing: u64,
    /// Cells whose candidates were learned.
    pub cells: u64,
    /// Digits whose places were learned.
    pub digits: u64,
    /// Cells or digits tried as the next of a set.
    pub tries: u64,
}

impl LookCounts {
    /// Returns the glances of somebody who learns in this way and has nothing to remember.
    #[must_use]
    pub const fn glances(&self, learning: Learning) -> Glances {
        let &Self { open, crossing, cells, digits, tries } = self;
        match learning {
            Learning::CellByCell | Learning::Remembered => {
                Glances { cells_seen: cells, places_gathered: digits * open, tries }
            }
            Learning::WholeHouse => Glances { cells_seen: open, places_gathered: 0, tries },
            Learning::CrossingHouses => {
                Glances { cells_seen: cells, places_gathered: digits * crossing, tries }
            }
        }
    }
}

/// Counts the distinct other houses that cross these cells of a house.
pub(super) fn crossing_houses(house: House, open: PlaceSet) -> u64 {
    let others = open.iter().flat_map(|place| house.cells()[place].houses());
    let set = others.fold(0u32, |set, other| set | 1 << other.index());
    u64::from((set & !(1 << house.index())).count_ones())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crossing_houses_are_counted_once() {
        let places = |bits| PlaceSet::from_bits_truncate(bits);
        // Row 1, columns 1, 2 and 9: these columns, and boxes 1 and 3.
        assert_eq!(crossing_houses(House::row(0), places(0b1_0000_0011)), 5);
        // All of a box: three rows and three columns; all of a row: nine columns and three boxes.
        assert_eq!(crossing_houses(House::box_(4), places(0b1_1111_1111)), 6);
        assert_eq!(crossing_houses(House::row(3), places(0b1_1111_1111)), 12);
        assert_eq!(crossing_houses(House::box_(0), places(0)), 0);
    }

    #[test]
    fn each_way_of_learning_has_its_price() {
        let look = LookCounts { open: 6, crossing: 5, cells: 6, digits: 4, tries: 3 };
        let glances = |learning| {
            let Glances { cells_seen, places_gathered, tries } = look.glances(learning);
            [cells_seen, places_gathered, tries]
        };
        assert_eq!(glances(Learning::CellByCell), [6, 24, 3]);
        assert_eq!(glances(Learning::WholeHouse), [6, 0, 3]);
        assert_eq!(glances(Learning::CrossingHouses), [6, 20, 3]);
        assert_eq!(LookCounts::default().glances(Learning::WholeHouse), Glances::default());
    }
}
