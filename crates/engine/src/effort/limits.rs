use super::Glances;
use crate::Look;

/// Returns the fewest and the most glances that a look can cost in a house of this open count,
/// whatever the house holds.
///
/// Looks for subsets see all n cells, or gather n places for each of n digits. Each set of 2 to k
/// cells (or digits) is tried at most once, as its first cells and the last one tried. Nothing need
/// be eligible, so there may be no try at all. Looks for singles may end at the first cell or digit.
/// Where a look is not made it costs nothing.
#[must_use]
pub fn look_limits(look: Look, open: u8) -> [Glances; 2] {
    let all = u64::from(open);
    let (size, least) = match look {
        Look::Naked(size) => (size, Glances { cells_seen: all, ..Glances::default() }),
        Look::Hidden(size) => (size, Glances { places_gathered: all * all, ..Glances::default() }),
        Look::Intersections => {
            return [Glances { places_gathered: all * all, ..Glances::default() }; 2];
        }
    };
    let is_made = size.covers(open) && (size.get() == 1 || size.get() < open);
    match (is_made, size.get()) {
        (false, _) => [Glances::default(); 2],
        (true, 1) if matches!(look, Look::Naked(_)) => {
            [Glances { cells_seen: 1, ..Glances::default() }, least]
        }
        (true, 1) => [Glances { places_gathered: all, ..Glances::default() }, least],
        (true, size) => {
            let tries = (2..=u64::from(size)).map(|of| choose(all, of)).sum();
            [least, Glances { tries, ..least }]
        }
    }
}

fn choose(all: u64, of: u64) -> u64 {
    (0..of).fold(1, |ways, taken| ways * (all - taken) / (taken + 1))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use tallyhouse_board::House;

    use super::*;
    use crate::effort::look_effort;
    use crate::effort::reference::{looks, positions};

    #[test]
    fn limits_by_hand() {
        let limits = |look: &str, open| {
            look_limits(look.parse().unwrap(), open)
                .map(|glances| [glances.cells_seen, glances.places_gathered, glances.tries])
        };
        assert_eq!(limits("naked 2", 6), [[6, 0, 0], [6, 0, 15]]);
        assert_eq!(limits("hidden 4", 6), [[0, 36, 0], [0, 36, 15 + 20 + 15]]);
        assert_eq!(limits("naked 1", 3), [[1, 0, 0], [3, 0, 0]]);
        assert_eq!(limits("hidden 1", 3), [[0, 3, 0], [0, 9, 0]]);
        assert_eq!(limits("naked 2 open 7..9", 6), [[0; 3]; 2]);
        assert_eq!(limits("hidden 6", 6), [[0; 3]; 2]);
    }

    proptest! {
        #[test]
        fn no_look_leaves_its_limits(position in positions(), look in looks()) {
            for house in House::all() {
                let open = position.open_places(house).len() as u8;
                let Glances { cells_seen, places_gathered, tries } =
                    look_effort(&position, house, look).glances;
                let [least, most] = look_limits(look, open);
                let kinds = [
                    (least.cells_seen, cells_seen, most.cells_seen),
                    (least.places_gathered, places_gathered, most.places_gathered),
                    (least.tries, tries, most.tries),
                ];
                for (least, found, most) in kinds {
                    prop_assert!((least..=most).contains(&found), "{look} in {house}: {found}");
                }
            }
        }
    }
}
