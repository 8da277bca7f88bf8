use tallyhouse_board::{DigitSet, House};

use super::reader::crossing_houses;
use super::search::search;
use super::{Glances, Learning, LookCounts};
use crate::marks::HouseMarks;
use crate::walk::Count;
use crate::{Find, Look, Position, Size, Subset};

/// The cost of one look in one house.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HouseEffort {
    /// What was examined.
    pub glances: Glances,
    /// What the look ended at; `None` if it was exhausted, or not made in this house.
    pub found: Option<Find>,
}

/// Counts the glances of one look in one house, up to its first find.
///
/// Searching a house with more cells than candidates for them is counted too, but nothing is found
/// there but singles.
#[must_use]
pub fn look_effort(position: &Position, house: House, look: Look) -> HouseEffort {
    HouseEffort::of(&HouseMarks::new(position, house), look, position)
}

impl HouseEffort {
    /// `position` is that of the marks.
    pub(super) fn of(marks: &HouseMarks, look: Look, position: &Position) -> Self {
        let found = marks.find(look, position);
        Self { glances: Glances::of_look(marks, look, found.as_ref()), found }
    }
}

impl LookCounts {
    /// What a look goes through up to what it found, without the houses that cross its own.
    fn of_look(marks: &HouseMarks, look: Look, found: Option<&Find>) -> Self {
        let counts = match look {
            Look::Naked(size) | Look::Hidden(size) if !marks.has_room(size) => {
                return Self::default();
            }
            Look::Naked(size) => naked(marks, size.get(), found),
            Look::Hidden(size) => hidden(marks, size.get(), found),
            Look::Intersections => Self { digits: marks.missing.len() as u64, ..Self::default() },
        };
        Self { open: marks.open.len() as u64, ..counts }
    }
}

impl Count for Glances {
    fn of_look(marks: &HouseMarks, look: Look, found: Option<&Find>) -> Self {
        LookCounts::of_look(marks, look, found).glances(Learning::CellByCell)
    }

    fn add(&mut self, other: Self) {
        *self += other;
    }
}

fn naked(marks: &HouseMarks, size: u8, found: Option<&Find>) -> LookCounts {
    let cells = match found {
        Some(Find::NakedSingle(single)) => {
            let cells = marks.house.cells();
            marks.open.iter().take_while(|&place| cells[place] <= single.cell).count()
        }
        _ => marks.open.len(),
    };
    let end = match found {
        Some(Find::Subset(subset)) => Some(subset.cells.bits()),
        _ => None,
    };
    let candidates = marks.candidates.map(DigitSet::bits);
    let tries = search(&candidates, size.into(), |cells| Some(cells) == end);
    LookCounts { cells: cells as u64, tries, ..LookCounts::default() }
}

fn hidden(marks: &HouseMarks, size: u8, found: Option<&Find>) -> LookCounts {
    let digits = match found {
        Some(Find::HiddenSingle(single)) => {
            marks.missing.iter().take_while(|&digit| digit <= single.digit).count()
        }
        _ => marks.missing.len(),
    };
    let end = match found {
        Some(Find::Subset(subset)) => Some((marks.missing - subset.digits).bits()),
        _ => None,
    };
    let mut places = [0; 9];
    for digit in marks.missing.iter() {
        places[digit.index()] = marks.places(digit).bits();
    }
    let tries = search(&places, size.into(), |digits| Some(digits) == end);
    LookCounts { digits: digits as u64, tries, ..LookCounts::default() }
}

/// Makes every look for subsets in one house: naked and hidden, of sizes from 2 to the number of open
/// cells less 2. Hands over each look, what it went through, and what it found.
pub fn each_look(
    position: &Position,
    house: House,
    made: impl FnMut(Look, LookCounts, Option<Subset>),
) {
    let open = position.open_places(house).len() as u8;
    let sizes = (2..=open.saturating_sub(2)).map(Size::everywhere);
    let looks = sizes.flat_map(|size| [Look::Naked(size), Look::Hidden(size)]);
    make_looks(position, house, looks, made);
}

/// Makes some looks for subsets in one house. Hands over each look, what it went through, and what
/// it found.
pub fn make_looks(
    position: &Position,
    house: House,
    looks: impl IntoIterator<Item = Look>,
    mut made: impl FnMut(Look, LookCounts, Option<Subset>),
) {
    let marks = HouseMarks::new(position, house);
    let crossing = crossing_houses(house, marks.open);
    for look in looks {
        let (counts, found) = LookCounts::of_subset_look(&marks, look);
        made(look, LookCounts { crossing, ..counts }, found);
    }
}

/// Returns what a look for subsets goes through in one house if it passes over what is there, to the end:
/// that of somebody who finds nothing.
#[must_use]
pub fn look_to_the_end(position: &Position, house: House, look: Look) -> LookCounts {
    let marks = HouseMarks::new(position, house);
    let crossing = crossing_houses(house, marks.open);
    LookCounts { crossing, ..LookCounts::of_look(&marks, look, None) }
}

impl LookCounts {
    /// What a look for subsets goes through, without the houses that cross its own, and what it finds.
    pub(super) fn of_subset_look(marks: &HouseMarks, look: Look) -> (Self, Option<Subset>) {
        let found = marks.find_subset(look);
        (Self::of_look(marks, look, found.map(Find::Subset).as_ref()), found)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use tallyhouse_board::{Cell, Digit};

    use super::*;
    use crate::effort::reference::{Change, effort, looks, positions};

    /// A position whose row 1 has these candidates, from the left; the other cells of the row hold
    /// the other digits.
    fn row<const N: usize>(candidates: [&str; N]) -> Position {
        let mut position = Position::blank();
        let candidates = candidates.map(|text| {
            text.bytes().filter_map(|byte| Digit::new(byte - b'0')).collect::<DigitSet>()
        });
        let missing = candidates.iter().fold(DigitSet::EMPTY, |union, &digits| union | digits);
        for (column, digit) in (N..9).zip(missing.complement().iter()) {
            position.place(Cell::at(0, column), digit).unwrap();
        }
        for (column, digits) in candidates.into_iter().enumerate() {
            position.remove(Cell::at(0, column), digits.complement());
        }
        position
    }

    /// Cells seen, places gathered, tries, and the naked side of what was found.
    fn counts(position: &Position, look: &str) -> ([u64; 3], Option<u16>) {
        let HouseEffort { glances, found } =
            look_effort(position, House::row(0), look.parse().unwrap());
        let side = found.map(|find| match find {
            Find::Subset(subset) => subset.cells.bits(),
            Find::NakedSingle(single) | Find::HiddenSingle(single) => 1 << single.cell.column(),
            _ => panic!("{find:?}"),
        });
        ([glances.cells_seen, glances.places_gathered, glances.tries], side)
    }

    #[test]
    fn a_look_to_the_end_passes_over_what_is_there() {
        // A 345   B 12   C 1345   D 12   E 2345: of the cells only B and D hold two candidates; all
        // digits have two to three places. 1: four tries, 2: three; 3 with 4, then 5; 3 with 5; 4 with 5.
        let position = row(["345", "12", "1345", "12", "2345"]);
        let tries =
            |look: &str| look_to_the_end(&position, House::row(0), look.parse().unwrap()).tries;
        assert_eq!(tries("naked 2"), 1);
        assert_eq!(tries("hidden 3"), 4 + 3 + 1 + 1 + 1 + 1);
        // Where nothing is found, it is the look as it is made.
        let in_vain = look_to_the_end(&position, House::row(0), "hidden 2".parse().unwrap());
        make_looks(&position, House::row(0), ["hidden 2".parse().unwrap()], |_, counts, found| {
            assert_eq!((counts, found), (in_vain, None));
        });
    }

    #[test]
    fn five_open_cells_by_hand() {
        // A 345   B 12   C 1345   D 12   E 2345
        let position = row(["345", "12", "1345", "12", "2345"]);
        // Naked pair: five cells seen; B and D hold two candidates.
        //   B: D = 12, two digits, removes 1 from C and 2 from E.                          1 try
        assert_eq!(counts(&position, "naked 2"), ([5, 0, 1], Some(0b01010)));
        // Hidden triple: five digits, five places each: 25.
        //   1 BCD   2 BDE   3 ACE   4 ACE   5 ACE; all have two to three places.
        //   1: 2 = BCDE, four places; 3, 4, 5 = ABCDE, five.                               4 tries
        //   2: 3, 4, 5 = ABCDE.                                                            3 tries
        //   3: 4 = ACE, kept; 4 and 5 = ACE, three digits in three places,
        //      removes 1 from C and 2 from E.                                              2 tries
        assert_eq!(counts(&position, "hidden 3"), ([0, 25, 9], Some(0b01010)));
        // No single: every cell, every digit, in vain.
        assert_eq!(counts(&position, "naked 1"), ([5, 0, 0], None));
        assert_eq!(counts(&position, "hidden 1"), ([0, 25, 0], None));
        // No pair of digits shares two places, and none has only two.
        assert_eq!(counts(&position, "hidden 2"), ([0, 25, 0], None));
    }

    /// The glances of the readers without memory: marking, sharing, unmarked.
    fn by_reader(position: &Position, look: &str) -> [[u64; 3]; 3] {
        let marks = HouseMarks::new(position, House::row(0));
        let look: Look = look.parse().unwrap();
        let found = marks.find(look, position);
        let counts = LookCounts {
            crossing: crossing_houses(marks.house, marks.open),
            ..LookCounts::of_look(&marks, look, found.as_ref())
        };
        [Learning::CellByCell, Learning::WholeHouse, Learning::CrossingHouses].map(|learning| {
            let Glances { cells_seen, places_gathered, tries } = counts.glances(learning);
            [cells_seen, places_gathered, tries]
        })
    }

    #[test]
    fn each_reader_learns_a_house_in_his_way_by_hand() {
        // The house of the test above. A find from either side: who reads the house as a whole sees
        // its five cells; who has no marks looks at the seven houses that cross row 1 in its open
        // cells, columns 1 to 5 and boxes 1 and 2, for each of the five digits.
        let position = row(["345", "12", "1345", "12", "2345"]);
        assert_eq!(by_reader(&position, "naked 2"), [[5, 0, 1], [5, 0, 1], [5, 0, 1]]);
        assert_eq!(by_reader(&position, "hidden 3"), [[0, 25, 9], [5, 0, 9], [0, 35, 9]]);
        // A failure from either side. Naked 3; A, B and D hold two or three candidates.
        //   A: B = 12345, D = 12345.                                                       2 tries
        //   B: D = 12, kept; nothing is left to try with it.                               1 try
        assert_eq!(by_reader(&position, "naked 3"), [[5, 0, 3], [5, 0, 3], [5, 0, 3]]);
        assert_eq!(by_reader(&position, "hidden 2"), [[0, 25, 0], [5, 0, 0], [0, 35, 0]]);
        // Singles: a failed look at all cells or digits, whatever there is to see.
        assert_eq!(by_reader(&position, "naked 1"), [[5, 0, 0], [5, 0, 0], [5, 0, 0]]);
        assert_eq!(by_reader(&position, "hidden 1"), [[0, 25, 0], [5, 0, 0], [0, 35, 0]]);
        // Found at the second cell, and at the second digit: reading the house costs the same.
        let position = row(["123", "2", "134", "134"]);
        assert_eq!(by_reader(&position, "naked 1"), [[2, 0, 0], [4, 0, 0], [2, 0, 0]]);
        let position = row(["12", "13", "134", "134"]);
        assert_eq!(by_reader(&position, "hidden 1"), [[0, 8, 0], [4, 0, 0], [0, 12, 0]]);
    }

    #[test]
    fn six_open_cells_by_hand() {
        // A 34   B 12   C 1356   D 3456   E 12   F 2456
        let position = row(["34", "12", "1356", "3456", "12", "2456"]);
        // Naked pair: six cells seen; A, B and E hold two candidates.
        //   A: B = 1234, E = 1234.                                                         2 tries
        //   B: E = 12, removes 1 from C and 2 from F.                                      1 try
        assert_eq!(counts(&position, "naked 2"), ([6, 0, 3], Some(0b01_0010)));
        // Hidden quad: six digits, six places each: 36.
        //   1 BCE   2 BEF   3 ACD   4 ADF   5 CDF   6 CDF
        //   1: 2 = BCEF, kept.                                                             1 try
        //      1 2: 3, 4 = ABCDEF; 5, 6 = BCDEF.                                           4 tries
        //   1: 3 = ABCDE; 4 = ABCDEF; 5, 6 = BCDEF.                                        4 tries
        //   2: 3 = ABCDEF; 4 = ABDEF; 5, 6 = BCDEF.                                        4 tries
        //   3: 4 = ACDF, kept; 3 4: 5 = ACDF, kept; 3 4 5: 6 = ACDF, four digits in four
        //      places, removes 1 from C and 2 from F.                                      3 tries
        assert_eq!(counts(&position, "hidden 4"), ([0, 36, 16], Some(0b01_0010)));
    }

    #[test]
    fn sets_that_are_no_find_are_passed_over_by_hand() {
        // A 12   B 12   C 34   D 34   E 356   F 456
        let position = row(["12", "12", "34", "34", "356", "456"]);
        // A, B, C, D hold two candidates.
        //   A: B = 12, tight but removes nothing; C, D = 1234.                             3 tries
        //   B: C, D = 1234.                                                                2 tries
        //   C: D = 34, removes 3 from E and 4 from F.                                      1 try
        assert_eq!(counts(&position, "naked 2"), ([6, 0, 6], Some(0b1100)));
        // Naked quad, all six cells eligible.
        //   A: B = 12, kept.                                                               1 try
        //      A B: C = 1234, kept; then D = 1234: full, removes 3 and 4 but holds pairs;
        //           E, F = 123456.                                                         4 tries
        //      A B: D = 1234, kept; then E, F = 123456.                                    3 tries
        //      A B: E = 12356, F = 12456.                                                  2 tries
        //   A: C = 1234, kept.                                                             1 try
        //      A C: D = 1234, kept; then E, F = 123456.                                    3 tries
        //      A C: E, F = 123456.                                                         2 tries
        //   A: D = 1234, kept; then E, F = 123456.                                         3 tries
        //   A: E = 12356, F = 12456.                                                       2 tries
        //   B: C = 1234, kept.                                                             1 try
        //      B C: D = 1234, kept; then E, F = 123456.                                    3 tries
        //      B C: E, F = 123456.                                                         2 tries
        //   B: D = 1234, kept; then E, F = 123456.                                         3 tries
        //   B: E = 12356, F = 12456.                                                       2 tries
        //   C: D = 34, kept.                                                               1 try
        //      C D: E = 3456, kept; then F = 3456: full, removes nothing.                  2 tries
        //      C D: F = 3456, kept, nothing later.                                         1 try
        //   C: E = 3456, kept; then F = 3456, kept, nothing later.                         2 tries
        //   C: F = 3456, kept.                                                             1 try
        //   D: E = 3456, kept; then F = 3456, kept. D: F = 3456, kept.                     3 tries
        //   E: F = 3456, kept.                                                             1 try
        assert_eq!(counts(&position, "naked 4"), ([6, 0, 43], None));
    }

    #[test]
    fn singles_end_at_what_is_found() {
        // A 1234   B 134   C 3   D 1345   E 345: 2 has one place, A; 5 has D and E.
        let position = row(["1234", "134", "3", "1345", "345"]);
        // A, B, C.
        assert_eq!(counts(&position, "naked 1"), ([3, 0, 0], Some(0b100)));
        // Digits 1 and 2, five places each.
        assert_eq!(counts(&position, "hidden 1"), ([0, 10, 0], Some(0b1)));
    }

    #[test]
    fn looks_cost_nothing_where_they_are_not_made() {
        let position = row(["345", "12", "1345", "12", "2345"]);
        for look in ["naked 2 open 6..9", "hidden 1 open 1..4", "naked 5", "hidden 5", "naked 8"] {
            assert_eq!(counts(&position, look), ([0; 3], None), "{look}");
        }
        assert_eq!(counts(&position, "naked 2 open 5..5"), counts(&position, "naked 2"));
    }

    #[test]
    fn intersections_gather_every_missing_digit() {
        let mut position = row(["345", "12", "1345", "12", "2345"]);
        let effort = look_effort(&position, House::row(0), Look::Intersections);
        assert_eq!(effort.glances, Glances { places_gathered: 25, ..Glances::default() });
        assert_eq!(effort.found, None);
        // Without D, the 1 of row 1 is confined to B and C in box 1.
        position.remove(Cell::at(0, 3), [Digit::new(1).unwrap()].into_iter().collect());
        let effort = look_effort(&position, House::row(0), Look::Intersections);
        assert_eq!(effort.glances.places_gathered, 25);
        assert!(matches!(effort.found, Some(Find::Intersection(_))));
    }

    /// Row 1 with its places and its digits moved to these indices; the other rows are blank.
    fn moved(position: &Position, places: &[usize], digits: &[usize]) -> Position {
        let mut moved = Position::blank();
        let image = |digit: Digit| Digit::from_index(digits[digit.index()]).unwrap();
        let cells = House::row(0).cells();
        for (&from, &to) in cells.iter().zip(places) {
            if let Some(digit) = position.fixed(from) {
                moved.place(cells[to], image(digit)).unwrap();
            }
        }
        for (&from, &to) in cells.iter().zip(places) {
            let kept: DigitSet = position.candidates(from).iter().map(image).collect();
            moved.remove(cells[to], kept.complement());
        }
        moved
    }

    /// Row 1, all open, with the roles of places and digits exchanged: place p has the candidate d
    /// where place d had the candidate p.
    fn exchanged(position: &Position) -> Position {
        let mut exchanged = Position::blank();
        for (digit, cell) in Digit::all().zip(House::row(0).cells()) {
            let places = position.places(digit, House::row(0));
            let kept: DigitSet = places.iter().filter_map(Digit::from_index).collect();
            exchanged.remove(*cell, kept.complement());
        }
        exchanged
    }

    proptest! {
        #[test]
        fn every_look_agrees_with_the_reference(position in positions(), look in looks()) {
            for house in House::all() {
                let ours = look_effort(&position, house, look);
                let (glances, change) = effort(&position, house, look, true);
                prop_assert_eq!(ours.glances, glances, "{} in {}", look, house);
                let found = ours.found.map(|find| Change::of_find(&position, &find));
                prop_assert_eq!(found, change, "{} in {}", look, house);
            }
        }

        #[test]
        fn all_looks_of_a_house_agree_with_the_reference_for_each_reader(position in positions()) {
            for house in House::all() {
                let open = house.cells().iter().filter(|&&cell| position.fixed(cell).is_none());
                let open: Vec<Cell> = open.copied().collect();
                let crosses = |other: &House| {
                    *other != house && open.iter().any(|cell| other.cells().contains(cell))
                };
                let crossing = House::all().filter(crosses).count() as u64;
                let n = open.len() as u64;
                let mut made = Vec::new();
                each_look(&position, house, |look, counts, found| {
                    let (marking, change) = effort(&position, house, look, true);
                    assert_eq!(found.is_some(), change.is_some());
                    let digits = marking.places_gathered / n;
                    let unmarked = Glances { places_gathered: digits * crossing, ..marking };
                    let sharing = Glances { cells_seen: n, places_gathered: 0, ..marking };
                    assert_eq!(counts.glances(Learning::CellByCell), marking);
                    assert_eq!(counts.glances(Learning::CrossingHouses), unmarked);
                    assert_eq!(counts.glances(Learning::WholeHouse), sharing);
                    made.push(look.to_string());
                });
                let sizes = 2..n.saturating_sub(1);
                let expected: Vec<String> =
                    sizes.flat_map(|k| [format!("naked {k}"), format!("hidden {k}")]).collect();
                prop_assert_eq!(made, expected);
            }
        }

        #[test]
        fn names_of_digits_do_not_matter_to_naked_looks_nor_places_to_hidden_ones(
            position in positions(),
            permutation in Just((0..9).collect::<Vec<usize>>()).prop_shuffle(),
            size in 2u8..=8,
        ) {
            let identity: Vec<usize> = (0..9).collect();
            let original = moved(&position, &identity, &identity);
            let house = House::row(0);
            for (look, image) in [
                (Look::naked(size).unwrap(), moved(&position, &identity, &permutation)),
                (Look::naked(1).unwrap(), moved(&position, &identity, &permutation)),
                (Look::hidden(size).unwrap(), moved(&position, &permutation, &identity)),
                (Look::hidden(1).unwrap(), moved(&position, &permutation, &identity)),
            ] {
                let (before, after) =
                    (look_effort(&original, house, look), look_effort(&image, house, look));
                prop_assert_eq!(before.glances, after.glances);
                prop_assert_eq!(before.found.is_some(), after.found.is_some());
            }
        }

        #[test]
        fn naked_and_hidden_looks_exchange_when_places_and_digits_do(
            position in positions().prop_map(|position| {
                let mut open = Position::blank();
                for &cell in House::row(0).cells() {
                    let alone = position.fixed(cell).map(DigitSet::single);
                    let kept = alone.unwrap_or(position.candidates(cell));
                    open.remove(cell, kept.complement());
                }
                open
            }),
            size in 2u8..=8,
        ) {
            let naked = look_effort(&position, House::row(0), Look::naked(size).unwrap());
            let hidden =
                look_effort(&exchanged(&position), House::row(0), Look::hidden(size).unwrap());
            prop_assert_eq!(naked.glances.tries, hidden.glances.tries);
            prop_assert_eq!(
                (naked.glances.cells_seen, hidden.glances.places_gathered), (9, 81)
            );
            prop_assert_eq!(naked.found.is_some(), hidden.found.is_some());
        }
    }
}
