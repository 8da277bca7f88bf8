//! Every naked k in a house of n open cells is a hidden n−k with the same eliminations, found by a
//! search over digits that knows nothing of naked sets (elementary complement; common practice, no
//! source).

use std::collections::BTreeSet;

use tallyhouse_board::House;
use tallyhouse_engine::HouseSplits;
use tallyhouse_tests::brute_force::{HiddenSet, hidden_sets};
use tallyhouse_tests::positions::{plain, position, rng};

#[test]
fn naked_and_hidden_search_find_the_same_splits() {
    let mut splits_seen = 0;
    for case in 0..2000 {
        let position = position(&mut rng(3, case));
        let board = plain(&position);
        for house in House::all() {
            let splits = HouseSplits::of_house(&position, house).unwrap();
            let missing = position.missing(house);
            let from_naked: BTreeSet<HiddenSet> = splits
                .tight_sets
                .iter()
                .map(|set| {
                    let hidden = splits.open - set.cells;
                    let cell = |place: usize| house.cells()[place];
                    let eliminations: BTreeSet<(usize, u8)> = hidden
                        .iter()
                        .flat_map(|place| {
                            let gone = position.candidates(cell(place)) & set.digits;
                            gone.iter().map(move |d| (cell(place).index(), d.value()))
                        })
                        .collect();
                    assert_eq!(eliminations.len(), usize::from(set.eliminations));
                    HiddenSet {
                        digits: (missing - set.digits).iter().map(|d| d.value()).collect(),
                        cells: hidden.iter().map(|place| cell(place).index()).collect(),
                        eliminations,
                    }
                })
                .collect();
            splits_seen += from_naked.len();
            let from_hidden: BTreeSet<HiddenSet> =
                hidden_sets(&board, house.index()).into_iter().collect();
            assert_eq!(from_naked, from_hidden, "{house} of {position:?}");
        }
    }
    assert!(splits_seen > 20_000, "{splits_seen}");
}
