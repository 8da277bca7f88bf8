//! The houses of puzzles that weigh 1, each a cluster of its own.

use std::collections::BTreeMap;

use tallyhouse_stats::{AlikeHits, AlikeTrials};

use super::slot::{At, KINDS, PLACES, Slot};
use super::sums::AlikeSums;
use super::tally::{Moments, Tally};

/// Sums while puzzles are added, apart for moments that have the same positions of a puzzle: most
/// puzzles have few positions, and one addition then serves several moments.
pub(super) struct Alone(Vec<OfMoments>);

#[derive(Clone)]
struct OfMoments {
    houses: [[AlikeTrials; 10]; KINDS],
    shown: [ShownSums; PLACES],
}

/// What puzzles show of a shape.
#[derive(Clone, Copy, Default)]
struct ShownSums {
    houses: AlikeHits,
    subsets: u64,
}

impl Default for Alone {
    fn default() -> Self {
        let none = OfMoments {
            houses: [[AlikeTrials::default(); 10]; KINDS],
            shown: [ShownSums::default(); PLACES],
        };
        Self(vec![none; Moments::COUNT])
    }
}

impl Alone {
    /// Adds a puzzle at moments.
    pub(super) fn add(&mut self, moments: Moments, tally: &Tally) {
        let sums = &mut self.0[moments.index()];
        for (sums, houses) in sums.houses.iter_mut().zip(&tally.by_kind) {
            sums.iter_mut().zip(houses).skip(2).for_each(|(sum, houses)| sum.add(*houses));
        }
        for (at, shown, of) in tally.shown() {
            let sum = &mut sums.shown[at.index()];
            sum.houses.add(shown.houses, of);
            sum.subsets += u64::from(shown.subsets);
        }
    }

    /// Returns the sums by moment, and adds the subsets to others.
    pub(super) fn sums(&self, subsets: &mut BTreeMap<Slot, u64>) -> AlikeSums<Slot> {
        let mut all = AlikeSums::default();
        for (moments, sums) in self.0.iter().enumerate() {
            for moment in Moments::of_index(moments) {
                for (kind, by_open) in sums.houses.iter().enumerate() {
                    let by_open = (0..).zip(by_open).filter(|(_, houses)| houses.clusters > 0);
                    for (open, houses) in by_open {
                        let slot = Slot::new(moment, At::new(kind, open, 0));
                        *all.trials.entry(slot).or_default() += *houses;
                    }
                }
                let shown = (0..).map(At::of_index).zip(&sums.shown);
                for (at, shown) in shown.filter(|(_, shown)| shown.subsets > 0) {
                    let slot = Slot::new(moment, at);
                    *all.hits.entry(slot).or_default() += shown.houses;
                    *subsets.entry(slot).or_default() += shown.subsets;
                }
            }
        }
        all
    }
}
