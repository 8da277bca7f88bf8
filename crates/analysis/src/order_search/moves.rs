//! Small changes of an order.

use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;

use super::draft::{Draft, Kind, Rung};

/// A way to change an order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Move {
    /// Two neighbours change places.
    Swap,
    /// A look goes to any other place.
    Shift,
    /// A look for singles goes to any other place.
    Single,
    /// Several looks in a row go to any other place together.
    Block,
    /// A look for subsets is left out.
    Drop,
    /// A look for subsets comes in anywhere.
    Add,
    /// A range loses an open count at one end.
    Narrow,
    /// A range gains an open count at one end.
    Widen,
    /// A range is cut in two, which then move apart.
    Split,
    /// Two ranges of one kind that meet become one.
    Merge,
    /// At one open count the complement is looked for instead.
    OtherSide,
    /// Another order's shapes are looked for in the same order as far as possible.
    Graft,
}

const MOVES: [Move; 12] = [
    Move::Swap,
    Move::Shift,
    Move::Single,
    Move::Block,
    Move::Drop,
    Move::Add,
    Move::Narrow,
    Move::Widen,
    Move::Split,
    Move::Merge,
    Move::OtherSide,
    Move::Graft,
];

/// Changes orders, mostly in the ways that have led to good ones.
#[derive(Debug, Default)]
pub(super) struct Changer {
    /// How often each way was taken and how often it was worth it.
    ways: [(u32, u32); MOVES.len()],
}

/// The most looks that move together.
const LONGEST_BLOCK: usize = 5;
/// Before anything is known of a way, it counts as one that was worth it so often of so many times.
const AT_FIRST: (u32, u32) = (2, 20);

impl Changer {
    /// Changes a draft at random, and tells how: ways that were worth it are more likely, and each
    /// outcome of a way is as likely as another. Ways that change nothing here are passed over.
    pub(super) fn change(
        &self,
        draft: &Draft,
        other: &Draft,
        rng: &mut ChaCha8Rng,
    ) -> (usize, Draft) {
        let chance = |&way: &usize| {
            let (taken, good) = self.ways[way];
            f64::from(good + AT_FIRST.0) / f64::from(taken + AT_FIRST.1)
        };
        let ways: [usize; MOVES.len()] = std::array::from_fn(|way| way);
        loop {
            // Shift always has an outcome: there are at least the two singles.
            let Ok(&way) = ways.choose_weighted(rng, chance) else { continue };
            if let Some(changed) = MOVES[way].outcomes(draft, other).choose(rng) {
                return (way, changed.clone());
            }
        }
    }

    /// Learns if a change led to an order that nothing found so far dominates.
    pub(super) fn learn(&mut self, way: usize, good: bool) {
        let (taken, of_them) = &mut self.ways[way];
        *taken += 1;
        *of_them += u32::from(good);
    }
}

impl Move {
    fn outcomes(self, draft: &Draft, other: &Draft) -> Vec<Draft> {
        let rungs = draft.rungs();
        let subsets = (0..rungs.len()).filter(|&index| rungs[index].kind.size > 1);
        let with =
            |index: usize, new: &[Rung]| [&rungs[..index], new, &rungs[index + 1..]].concat();
        let outcomes: Vec<Vec<Rung>> = match self {
            Self::Graft => {
                let graft = draft.graft(other);
                return if graft == *draft { Vec::new() } else { vec![graft] };
            }
            Self::Swap => (1..rungs.len())
                .map(|index| {
                    let mut rungs = rungs.to_vec();
                    rungs.swap(index - 1, index);
                    rungs
                })
                .collect(),
            Self::Shift => (0..rungs.len()).flat_map(|from| moved(rungs, from, 1)).collect(),
            Self::Single => (0..rungs.len())
                .filter(|&from| rungs[from].kind.size == 1)
                .flat_map(|from| moved(rungs, from, 1))
                .collect(),
            Self::Block => (2..=LONGEST_BLOCK)
                .flat_map(|length| (0..rungs.len()).map(move |from| (from, length)))
                .filter(|(from, length)| from + length <= rungs.len())
                .flat_map(|(from, length)| moved(rungs, from, length))
                .collect(),
            Self::Drop => subsets.map(|index| with(index, &[])).collect(),
            Self::Add => every_subset_rung()
                .filter(|new| rungs.iter().all(|rung| !rung.overlaps(*new)))
                .flat_map(|new| {
                    (0..=rungs.len()).map(move |index| {
                        let mut rungs = rungs.to_vec();
                        rungs.insert(index, new);
                        rungs
                    })
                })
                .collect(),
            Self::Narrow => subsets
                .flat_map(|index| {
                    let rung = rungs[index];
                    [Rung { low: rung.low + 1, ..rung }, Rung { high: rung.high - 1, ..rung }]
                        .map(|narrower| with(index, &[narrower]))
                })
                .collect(),
            Self::Widen => subsets
                .flat_map(|index| {
                    let rung = rungs[index];
                    [Rung { low: rung.low - 1, ..rung }, Rung { high: rung.high + 1, ..rung }]
                        .map(|wider| with(index, &[wider]))
                })
                .collect(),
            Self::Split => subsets
                .flat_map(|index| {
                    let rung = rungs[index];
                    (rung.low..rung.high).flat_map(move |cut| {
                        let lower = Rung { high: cut, ..rung };
                        let upper = Rung { low: cut + 1, ..rung };
                        // Side by side they would do what the whole does.
                        let others = with(index, &[]);
                        let apart = move |stays: Rung, goes: Rung| {
                            let mut others = others.clone();
                            others.insert(index, stays);
                            (0..=others.len())
                                .filter(move |&to| to != index && to != index + 1)
                                .map(move |to| {
                                    let mut others = others.clone();
                                    others.insert(to, goes);
                                    others
                                })
                        };
                        apart.clone()(lower, upper).chain(apart(upper, lower)).collect::<Vec<_>>()
                    })
                })
                .collect(),
            Self::Merge => subsets
                .flat_map(|index| {
                    let rung = rungs[index];
                    (0..rungs.len())
                        .filter(move |&other| {
                            rungs[other].kind == rung.kind && rungs[other].low == rung.high + 1
                        })
                        .flat_map(move |other| {
                            let whole = Rung { high: rungs[other].high, ..rung };
                            [(index, other), (other, index)].map(|(stays, goes)| {
                                let mut rungs = rungs.to_vec();
                                rungs[stays] = whole;
                                rungs.remove(goes);
                                rungs
                            })
                        })
                })
                .collect(),
            Self::OtherSide => subsets
                .flat_map(|index| {
                    let rung = rungs[index];
                    let Kind { side, size } = rung.kind;
                    (rung.low..=rung.high).filter(move |open| open - size > 1).map(move |open| {
                        let kind = Kind { side: side.other(), size: open - size };
                        let pieces = [
                            Rung { high: open - 1, ..rung },
                            Rung { kind, low: open, high: open },
                            Rung { low: open + 1, ..rung },
                        ];
                        let pieces: Vec<Rung> =
                            pieces.into_iter().filter(|piece| piece.low <= piece.high).collect();
                        [&rungs[..index], &pieces, &rungs[index + 1..]].concat()
                    })
                })
                .collect(),
        };
        outcomes.into_iter().filter_map(Draft::checked).collect()
    }
}

/// Puts so many looks, from this place on, at every other place.
fn moved(rungs: &[Rung], from: usize, length: usize) -> impl Iterator<Item = Vec<Rung>> {
    let (block, mut others) = (rungs[from..from + length].to_vec(), rungs.to_vec());
    others.drain(from..from + length);
    (0..=others.len())
        .filter(move |&to| to != from)
        .map(move |to| [&others[..to], &block, &others[to..]].concat())
}

fn every_subset_rung() -> impl Iterator<Item = Rung> {
    Kind::subsets().flat_map(|kind| {
        (kind.least_open()..=9)
            .flat_map(move |low| (low..=9).map(move |high| Rung { kind, low, high }))
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use rand::SeedableRng;
    use tallyhouse_engine::Order;

    use super::*;
    use crate::order_search::draft::draft;

    fn outcomes(kind: Move, text: &str) -> Vec<String> {
        kind.outcomes(&draft(text), &draft(text))
            .iter()
            .map(|draft| draft.order().to_string())
            .collect()
    }

    /// Looks for the shapes of the other come in the order of the first; the rest of them come last.
    #[test]
    fn a_graft_takes_the_order_of_one_and_the_shapes_of_another() {
        let graft = |one: &str, other: &str| draft(one).graft(&draft(other)).order().to_string();
        assert_eq!(
            graft(
                "naked 1, naked 2 open 3..7, hidden 1, naked 5 open 8, naked 3",
                "naked 1, hidden 1, hidden 3 open 8, naked 2 open 4..9, naked 3 open 5, hidden 2 open 9"
            ),
            // Hidden 3 of eight is the shape of naked 5.
            "naked 1, naked 2 open 4..7, hidden 1, naked 5 open 8, naked 3 open 5, \
             naked 2 open 8..9, hidden 2 open 9"
        );
        let ladder = Order::ladder().to_string();
        assert_eq!(graft(&ladder, &ladder), ladder);
    }

    #[test]
    fn ways_that_were_worth_it_are_taken_more_often() {
        let mut changer = Changer::default();
        (0..200).for_each(|_| changer.learn(0, true));
        (1..MOVES.len()).for_each(|way| (0..200).for_each(|_| changer.learn(way, false)));
        let (mut rng, ladder) =
            (ChaCha8Rng::seed_from_u64(5), Draft::of(&Order::ladder()).unwrap());
        let swaps = (0..200).filter(|_| changer.change(&ladder, &ladder, &mut rng).0 == 0).count();
        assert!((180..200).contains(&swaps), "{swaps}");
    }

    #[test]
    fn moves_do_what_they_say() {
        assert_eq!(
            outcomes(Move::Swap, "naked 1, hidden 1, naked 2"),
            ["hidden 1, naked 1, naked 2", "naked 1, naked 2, hidden 1"]
        );
        assert_eq!(outcomes(Move::Shift, "naked 1, hidden 1"), ["hidden 1, naked 1"; 2]);
        assert_eq!(
            outcomes(Move::Single, "naked 2, naked 1, hidden 1"),
            [
                "naked 1, naked 2, hidden 1",
                "naked 2, hidden 1, naked 1",
                "hidden 1, naked 2, naked 1",
                "naked 2, hidden 1, naked 1",
            ]
        );
        assert_eq!(
            outcomes(Move::Block, "naked 1, hidden 1, naked 2"),
            ["naked 2, naked 1, hidden 1", "hidden 1, naked 2, naked 1"]
        );
        assert_eq!(outcomes(Move::Drop, "naked 1, naked 2, hidden 1"), ["naked 1, hidden 1"]);
        // Sizes 2 to 8 have 28, 21, 15, 10, 6, 3 and 1 ranges; two sides, three places.
        assert_eq!(outcomes(Move::Add, "naked 1, hidden 1").len(), 84 * 2 * 3);
        assert_eq!(
            outcomes(Move::Narrow, "naked 1, hidden 1, naked 4"),
            ["naked 1, hidden 1, naked 4 open 6..9", "naked 1, hidden 1, naked 4 open 5..8"]
        );
        assert_eq!(
            outcomes(Move::Widen, "naked 1, hidden 1, naked 4 open 6..8"),
            ["naked 1, hidden 1, naked 4 open 5..8", "naked 1, hidden 1, naked 4 open 6..9"]
        );
        assert_eq!(
            outcomes(Move::Split, "naked 1, hidden 1, hidden 7"),
            [
                "hidden 7 open 9, naked 1, hidden 1, hidden 7 open 8",
                "naked 1, hidden 7 open 9, hidden 1, hidden 7 open 8",
                "hidden 7 open 8, naked 1, hidden 1, hidden 7 open 9",
                "naked 1, hidden 7 open 8, hidden 1, hidden 7 open 9",
            ]
        );
        assert_eq!(
            outcomes(Move::Merge, "naked 1, naked 4 open 5..6, hidden 1, naked 4 open 7..9"),
            ["naked 1, naked 4, hidden 1", "naked 1, hidden 1, naked 4"]
        );
        assert_eq!(
            outcomes(Move::OtherSide, "naked 1, hidden 1, naked 4 open 6..8"),
            [
                "naked 1, hidden 1, hidden 2 open 6, naked 4 open 7..8",
                "naked 1, hidden 1, naked 4 open 6, hidden 3 open 7, naked 4 open 8",
                "naked 1, hidden 1, naked 4 open 6..7, hidden 4 open 8",
            ]
        );
    }

    proptest! {
        #[test]
        fn changed_orders_stay_valid_and_new(seed in any::<u64>()) {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            let mut draft = Draft::of(&Order::ladder()).unwrap();
            let other = crate::order_search::draft::draft("naked 1, naked 2 open 4..6, hidden 1");
            for _ in 0..25 {
                let (_, changed) = Changer::default().change(&draft, &other, &mut rng);
                prop_assert_ne!(&changed, &draft);
                // Reading the order checks every condition anew.
                prop_assert_eq!(&Draft::of(&changed.order()).unwrap(), &changed);
                draft = changed;
            }
        }
    }
}
