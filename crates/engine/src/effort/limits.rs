use super::{Glances, Learning, LookCounts};
use crate::{Look, Size};

/// Returns the fewest and the most glances that a look for subsets can cost in a house of this open
/// count, whatever the house holds, for somebody who learns in this way.
///
/// Each set of 2 to k cells (or digits) is tried at most once, as its first cells and the last one
/// tried. Nothing need be eligible, so there may be no try at all. Who remembers may know all. Where
/// a look is not made, and for other looks, it costs nothing.
#[must_use]
pub fn look_limits(look: Look, open: u8, learning: Learning) -> [Glances; 2] {
    let is_made = |size: Size| size.covers(open) && 1 < size.get() && size.get() < open;
    let Some(size) = look.size().filter(|&size| is_made(size)) else {
        return [Glances::default(); 2];
    };
    let all = u64::from(open);
    let (cells, digits) = if matches!(look, Look::Naked(_)) { (all, 0) } else { (0, all) };
    let tries = (2..=u64::from(size.get())).map(|of| choose(all, of)).sum();
    let [few, many] = crossing_limits(open);
    let least = LookCounts { open: all, crossing: few, cells, digits, tries: 0 };
    let most = LookCounts { crossing: many, tries, ..least };
    let least = match learning {
        Learning::Remembered => Glances::default(),
        _ => least.glances(learning),
    };
    [least, most.glances(learning)]
}

/// The fewest and the most houses that can cross the open cells of a house.
fn crossing_limits(open: u8) -> [u64; 2] {
    let n = u64::from(open);
    // A line is crossed by a line for each cell and by one to three boxes, a box by the rows and columns
    // of its cells.
    let line = [n + n.div_ceil(3), n + n.min(3)];
    let rows_and_columns =
        (1..=3u64).flat_map(|rows| (1..=3u64).map(move |columns| [rows, columns]));
    let holding = rows_and_columns
        .filter(|[rows, columns]| (n.max(*rows).max(*columns)..=rows * columns).contains(&n));
    let of_box = holding.map(|[rows, columns]| rows + columns);
    of_box.fold(line, |[few, many], crossing| [few.min(crossing), many.max(crossing)])
}

fn choose(all: u64, of: u64) -> u64 {
    (0..of).fold(1, |ways, taken| ways * (all - taken) / (taken + 1))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use tallyhouse_board::House;

    use super::*;
    use crate::effort::make_looks;
    use crate::effort::reference::positions;

    #[test]
    fn limits_by_hand() {
        let limits = |look: &str, open| {
            look_limits(look.parse().unwrap(), open, Learning::CellByCell)
                .map(|glances| [glances.cells_seen, glances.places_gathered, glances.tries])
        };
        assert_eq!(limits("naked 2", 6), [[6, 0, 0], [6, 0, 15]]);
        assert_eq!(limits("hidden 4", 6), [[0, 36, 0], [0, 36, 15 + 20 + 15]]);
        assert_eq!(limits("naked 2 open 7..9", 6), [[0; 3]; 2]);
        assert_eq!(limits("hidden 6", 6), [[0; 3]; 2]);
    }

    #[test]
    fn each_way_of_learning_has_its_limits_by_hand() {
        let limits = |learning| {
            look_limits("hidden 2 open 6".parse().unwrap(), 6, learning)
                .map(|glances| [glances.cells_seen, glances.places_gathered, glances.tries])
        };
        assert_eq!(limits(Learning::WholeHouse), [[6, 0, 0], [6, 0, 15]]);
        assert_eq!(limits(Learning::Remembered), [[0, 0, 0], [0, 36, 15]]);
        // A box open in two rows and three columns, and a line open in all three boxes.
        assert_eq!(limits(Learning::CrossingHouses), [[0, 6 * 5, 0], [0, 6 * 9, 15]]);
        // A box with two open cells in one row; a line's in two boxes. All nine: six, and twelve.
        assert_eq!([crossing_limits(2), crossing_limits(9)], [[3, 4], [6, 12]]);
    }

    proptest! {
        #[test]
        fn no_look_leaves_its_limits(position in positions(), size in 2u8..=7) {
            for house in House::all() {
                let open = position.open_places(house).len() as u8;
                let looks = [Look::naked(size).unwrap(), Look::hidden(size).unwrap()];
                make_looks(&position, house, looks, |look, counts, _| {
                    for &learning in Learning::ALL {
                        let [least, most] = look_limits(look, open, learning);
                        let found = counts.glances(learning);
                        let kinds = [
                            (least.cells_seen, found.cells_seen, most.cells_seen),
                            (least.places_gathered, found.places_gathered, most.places_gathered),
                            (least.tries, found.tries, most.tries),
                        ];
                        for (least, found, most) in kinds {
                            assert!((least..=most).contains(&found), "{look} in {house}: {found}");
                        }
                    }
                });
            }
        }
    }
}
