//! The together-walk does not care how a board is turned, shuffled or relabelled.

use std::collections::BTreeMap;

use tallyhouse_board::{Digit, HouseKind, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{Outcome, QuietPosition, Recorder, WalkOptions, walk};
use tallyhouse_tests::positions::rng;
use tallyhouse_tests::symmetry::Symmetry;

#[derive(Default, Debug, PartialEq, Eq)]
struct Tally {
    /// (kind of house, open, naked, live open, live naked, eliminations, proper sides, applied).
    #[allow(clippy::type_complexity)]
    subsets: BTreeMap<(u8, u8, u8, u8, u8, u8, bool, bool, bool), u32>,
    exposure: [u32; 10],
    looks: Vec<String>,
    outcome: Option<bool>,
}

struct Recorded {
    tally: Tally,
    swap_lines: bool,
}

impl Recorder for Recorded {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        for (sum, houses) in self.tally.exposure.iter_mut().zip(position.exposure) {
            *sum += u32::from(houses);
        }
        self.tally.looks.push(format!("{:?}", position.applied));
        for s in position.subsets {
            let kind = match (s.house.kind(), self.swap_lines) {
                (HouseKind::Row, false) | (HouseKind::Column, true) => 0,
                (HouseKind::Column, false) | (HouseKind::Row, true) => 1,
                (HouseKind::Box, _) => 2,
            };
            let key = (
                kind,
                s.open,
                s.naked,
                s.live_open,
                s.live_naked,
                s.eliminations,
                s.naked_proper,
                s.hidden_proper,
                s.applied,
            );
            *self.tally.subsets.entry(key).or_default() += 1;
        }
    }
}

fn tally(puzzle: &Puzzle, options: &WalkOptions, swap_lines: bool) -> Tally {
    let mut recorded = Recorded { tally: Tally::default(), swap_lines };
    let result = walk(puzzle, options, &mut recorded);
    recorded.tally.outcome = Some(result.outcome == Outcome::Solved);
    recorded.tally
}

#[test]
fn counts_are_unchanged_under_symmetries_and_relabelling() {
    let generator = MinimalByDeletion { seed: 5 };
    let plain = WalkOptions::default();
    let with_intersections =
        WalkOptions { order: plain.order.clone().with_intersections(), ..plain.clone() };
    let mut subsets = 0;
    for index in 0..400 {
        let puzzle = generator.puzzle(index);
        let symmetry = Symmetry::random(&mut rng(6, index));
        let image = Puzzle::new(symmetry.apply(puzzle.values()).map(Digit::new)).unwrap();
        for options in [&plain, &with_intersections] {
            let expected = tally(&puzzle, options, false);
            subsets += expected.subsets.len();
            assert_eq!(tally(&image, options, symmetry.transposed), expected, "{puzzle}");
        }
    }
    assert!(subsets > 500, "{subsets}");
}
