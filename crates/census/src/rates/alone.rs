//! Puzzles that weigh 1, each a cluster of its own.

use std::collections::BTreeMap;
use std::ops::AddAssign;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::Weight;
use tallyhouse_stats::{AlikeHits, AlikeTrials, Rate};

use super::KINDS;
use super::slot::{At, PLACES, Slot};
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
struct ShownSums {
    houses: AlikeHits,
    subsets: u64,
}

/// Sums by slot, where there is anything.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AloneSums {
    houses: BTreeMap<Slot, AlikeTrials>,
    shown: BTreeMap<Slot, ShownSums>,
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
        for (sums, houses) in sums.houses.iter_mut().zip(&tally.houses) {
            sums.iter_mut().zip(houses).skip(2).for_each(|(sum, houses)| sum.add(*houses));
        }
        for (at, shown, of) in tally.shown() {
            let sum = &mut sums.shown[at.index()];
            sum.houses.add(shown.houses, of);
            sum.subsets += u64::from(shown.subsets);
        }
    }

    /// Returns the sums by moment.
    pub(super) fn sums(&self) -> AloneSums {
        let mut all = AloneSums::default();
        for (moments, sums) in self.0.iter().enumerate() {
            for moment in Moments::of_index(moments) {
                for (kind, by_open) in sums.houses.iter().enumerate() {
                    let by_open = (0..).zip(by_open).filter(|(_, houses)| houses.clusters > 0);
                    for (open, houses) in by_open {
                        let slot = Slot::new(moment, At::new(kind, open, 0));
                        *all.houses.entry(slot).or_default() += *houses;
                    }
                }
                let shown = (0..).map(At::of_index).zip(&sums.shown);
                for (at, shown) in shown.filter(|(_, shown)| shown.subsets > 0) {
                    *all.shown.entry(Slot::new(moment, at)).or_default() += *shown;
                }
            }
        }
        all
    }
}

impl AloneSums {
    fn shown(&self, slot: Slot) -> ShownSums {
        self.shown.get(&slot).copied().unwrap_or_default()
    }

    fn trials(&self, slot: Slot) -> AlikeTrials {
        self.houses.get(&slot.houses()).copied().unwrap_or_default()
    }

    pub(super) fn houses(&self, slot: Slot) -> u64 {
        self.trials(slot).trials
    }

    pub(super) fn houses_with(&self, slot: Slot) -> u64 {
        self.shown(slot).houses.hits
    }

    pub(super) fn subsets(&self, slot: Slot) -> u64 {
        self.shown(slot).subsets
    }

    /// Returns the rate of a shape; weights are in millionths.
    pub(super) fn rate(&self, slot: Slot) -> Rate {
        self.shown(slot).houses.among(&self.trials(slot), Weight::ONE.millionths().into())
    }
}

impl AddAssign for ShownSums {
    fn add_assign(&mut self, other: Self) {
        self.houses += other.houses;
        self.subsets += other.subsets;
    }
}

impl AddAssign for AloneSums {
    fn add_assign(&mut self, other: Self) {
        for (slot, houses) in other.houses {
            *self.houses.entry(slot).or_default() += houses;
        }
        for (slot, shown) in other.shown {
            *self.shown.entry(slot).or_default() += shown;
        }
    }
}
