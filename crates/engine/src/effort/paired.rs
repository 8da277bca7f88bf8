use tallyhouse_board::{House, PlaceSet};

use super::Glances;
use super::house::HouseEffort;
use crate::marks::HouseMarks;
use crate::{Contradiction, Find, Look, Position, Size, Subset};

/// What the look of one side of a split cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SideEffort {
    /// What was examined, up to the first find of the look.
    pub glances: Glances,
    /// True if the look ended at a find, false if it was exhausted.
    pub found: bool,
    /// True if that find is the split in question, and not another of the same size.
    pub same_split: bool,
}

/// A subset, looked for from either side in the same house at the same position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PairedEffort {
    /// The subset.
    pub subset: Subset,
    /// The naked look of the size of its naked side.
    pub naked: SideEffort,
    /// The hidden look of the size of its hidden side.
    pub hidden: SideEffort,
}

/// Returns the paired efforts of all proper subsets of a position, house by house.
///
/// A subset that is proper on one side only is found by the look of that side alone; the other look
/// goes on to another find or is exhausted. Subsets of one house that have the same shape come with
/// the same glances.
///
/// # Errors
/// [`Contradiction::Crowded`] if a house has more cells than candidates for them.
pub fn paired_efforts(position: &Position) -> Result<Vec<PairedEffort>, Contradiction> {
    let mut efforts = Vec::new();
    for house in House::all() {
        let marks = HouseMarks::new(position, house);
        let proper = marks.splits()?.subsets(house).filter(Subset::is_proper);
        efforts.extend(proper.map(|subset| compare(position, &marks, subset)));
    }
    Ok(efforts)
}

fn compare(position: &Position, marks: &HouseMarks, subset: Subset) -> PairedEffort {
    let side = |look| {
        let HouseEffort { glances, found } = HouseEffort::of(marks, look, position);
        let naked_side = found.and_then(|find| naked_side(position, subset.house, find));
        let same_split = naked_side == Some(subset.cells);
        SideEffort { glances, found: found.is_some(), same_split }
    };
    PairedEffort {
        subset,
        naked: side(Look::Naked(Size::everywhere(subset.naked))),
        hidden: side(Look::Hidden(Size::everywhere(subset.hidden()))),
    }
}

/// Returns the naked side of the split that a find makes in a house.
fn naked_side(position: &Position, house: House, find: Find) -> Option<PlaceSet> {
    let place_of = |cell| (0..9).filter(|&place| house.cells()[place] == cell).collect();
    match find {
        Find::NakedSingle(single) => Some(place_of(single.cell)),
        Find::HiddenSingle(single) => Some(position.open_places(house) - place_of(single.cell)),
        Find::Subset(subset) => Some(subset.cells),
        Find::Intersection(_) | Find::Given { .. } => None,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use tallyhouse_board::{Cell, Digit, DigitSet};

    use super::*;
    use crate::HouseSplits;
    use crate::effort::look_effort;
    use crate::effort::reference::{effort, positions};

    fn row_of_six(candidates: [&str; 6]) -> Position {
        let mut position = Position::blank();
        for (column, digit) in (6..9).zip(7..=9) {
            position.place(Cell::at(0, column), Digit::new(digit).unwrap()).unwrap();
        }
        for (column, text) in candidates.into_iter().enumerate() {
            let kept: DigitSet = text.bytes().filter_map(|b| Digit::new(b - b'0')).collect();
            position.remove(Cell::at(0, column), kept.complement());
        }
        position
    }

    fn in_row_1(position: &Position) -> Vec<PairedEffort> {
        let mut paired = paired_efforts(position).unwrap();
        paired.retain(|paired| paired.subset.house == House::row(0));
        paired
    }

    #[test]
    fn a_pair_and_its_complement_cost_what_they_do_by_hand() {
        // Counted by hand in the tests of single looks: 6 cells and 3 tries against 36 places and
        // 16 tries.
        let position = row_of_six(["34", "12", "1356", "3456", "12", "2456"]);
        let paired = in_row_1(&position);
        assert_eq!(paired.len(), 1);
        let side = |cells_seen, places_gathered, tries| SideEffort {
            glances: Glances { cells_seen, places_gathered, tries },
            found: true,
            same_split: true,
        };
        assert_eq!((paired[0].naked, paired[0].hidden), (side(6, 0, 3), side(0, 36, 16)));
    }

    #[test]
    fn another_split_of_the_shape_may_be_found_first() {
        // Two pairs, AB on 12 and CD on 34; each also removes something, so both are subsets. From
        // the naked side AB comes first; from the hidden side no quad is proper, because the six
        // cells hold the smaller hidden pair 56 in E and F.
        let position = row_of_six(["12", "12", "34", "34", "1356", "2456"]);
        let paired = in_row_1(&position);
        let shape = |p: &PairedEffort| (p.subset.cells.bits(), p.subset.naked_proper);
        let shapes: Vec<_> = paired.iter().map(shape).collect();
        assert_eq!(shapes, [(0b11, true), (0b1100, true), (0b1111, false)]);
        assert!(paired[0].naked.same_split && !paired[1].naked.same_split);
        assert_eq!(paired[0].naked, SideEffort { same_split: true, ..paired[1].naked });
        assert!(paired[1].naked.found && !paired[1].hidden.found);
        // The hidden pair is found from the hidden side alone.
        assert!(!paired[2].naked.found && paired[2].hidden.same_split);
    }

    #[test]
    fn singles_are_splits_too() {
        // The naked single 1 in A, seen first; and as a hidden quintuple.
        let position = row_of_six(["1", "1234", "1356", "3456", "1256", "2456"]);
        let paired = in_row_1(&position)[0];
        assert_eq!((paired.subset.naked, paired.subset.hidden()), (1, 5));
        assert!(paired.naked.same_split && paired.naked.glances.cells_seen == 1);
        assert!(paired.hidden.same_split && paired.hidden.glances.places_gathered == 36);
        // The hidden single 1 in F, and as a naked quintuple.
        let position = row_of_six(["234", "235", "356", "3456", "256", "12456"]);
        let paired = in_row_1(&position)[0];
        assert_eq!((paired.subset.naked, paired.subset.hidden()), (5, 1));
        assert!(paired.naked.same_split && paired.hidden.same_split);
        assert_eq!(paired.hidden.glances.places_gathered, 6);
    }

    #[test]
    fn a_crowded_house_is_named() {
        let mut position = Position::blank();
        for column in 0..3 {
            let pair: DigitSet = [1, 2].into_iter().filter_map(Digit::new).collect();
            position.remove(Cell::at(4, column), pair.complement());
        }
        assert!(matches!(
            paired_efforts(&position),
            Err(Contradiction::Crowded { house, .. }) if house == House::row(4)
        ));
    }

    proptest! {
        #[test]
        fn every_proper_subset_is_compared_by_its_two_looks(position in positions()) {
            let paired = paired_efforts(&position).unwrap();
            let mut expected = paired.iter();
            for house in House::all() {
                let splits = HouseSplits::of_house(&position, house).unwrap();
                for subset in splits.subsets(house).filter(Subset::is_proper) {
                    let paired = expected.next().unwrap();
                    prop_assert_eq!(paired.subset, subset);
                    let naked = Look::naked(subset.naked).unwrap();
                    let hidden = Look::hidden(subset.hidden()).unwrap();
                    for (side, look) in [(paired.naked, naked), (paired.hidden, hidden)] {
                        let (glances, change) = effort(&position, house, look, true);
                        prop_assert_eq!((side.glances, side.found), (glances, change.is_some()));
                        prop_assert_eq!(side.glances, look_effort(&position, house, look).glances);
                        // Every look that finds the split finds something; singles need no
                        // elimination, so theirs may be another.
                        if look.finds(&subset) {
                            prop_assert!(side.found);
                        }
                        prop_assert!(!side.same_split || look.finds(&subset));
                    }
                }
            }
            prop_assert!(expected.next().is_none());
        }
    }
}
