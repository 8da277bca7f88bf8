//! Puzzles with a weight or a family.

use std::collections::BTreeMap;
use std::ops::AddAssign;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::{Entry, Weight};
use tallyhouse_stats::{AddClusters, InTurn, Rate, RateCluster};

use super::slot::{At, Slot};
use super::tally::{Moments, Tally};
use crate::sums::Millionths;

/// Sums of the clusters of a part.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub(super) struct Weighed(InTurn<WeighedSums>);

/// Rates by slot: of a shape over the clusters that show it, of the houses themselves over all.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub(super) struct WeighedSums(BTreeMap<Slot, Rate>);

/// The puzzles of a cluster, or one of them.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Cluster {
    weight: Millionths,
    puzzles: u64,
    /// Houses by slot, by weight.
    houses: BTreeMap<Slot, Millionths>,
}

impl Weighed {
    /// Begins with a puzzle.
    pub(super) fn begin(&self, entry: &Entry) -> Cluster {
        let weight = Millionths::of(entry.weight.unwrap_or(Weight::ONE));
        Cluster { weight, puzzles: 1, houses: BTreeMap::new() }
    }

    /// Ends with it.
    pub(super) fn end(&mut self, entry: &Entry, puzzle: &Cluster) {
        self.0.add(entry.family, puzzle);
    }

    pub(super) fn append(&mut self, next: Self) {
        self.0.append(next.0);
    }

    pub(super) fn finish(self) -> WeighedSums {
        self.0.finish()
    }
}

impl Cluster {
    /// Adds what a puzzle, which is all there is yet, shows at moments.
    pub(super) fn add(&mut self, moments: Moments, tally: &Tally) {
        let weight = self.weight.0;
        let mut add = |at, houses: u32| {
            for moment in moments.each() {
                self.houses.insert(Slot::new(moment, at), Millionths(weight * i128::from(houses)));
            }
        };
        for (kind, by_open) in tally.houses.iter().enumerate() {
            let by_open = (0..).zip(by_open).skip(2).filter(|(_, houses)| **houses > 0);
            by_open.for_each(|(open, houses)| add(At::new(kind, open, 0), *houses));
        }
        tally.shown().for_each(|(at, shown, _)| add(at, shown.houses));
    }
}

impl AddAssign<&Self> for Cluster {
    fn add_assign(&mut self, other: &Self) {
        self.weight.0 += other.weight.0;
        self.puzzles += other.puzzles;
        for (slot, houses) in &other.houses {
            self.houses.entry(*slot).or_default().0 += houses.0;
        }
    }
}

impl AddClusters for WeighedSums {
    type Cluster = Cluster;

    fn add_cluster(&mut self, cluster: &Cluster) {
        let weight = RateCluster::mean_weight(cluster.weight.0, cluster.puzzles.into());
        for (slot, houses) in &cluster.houses {
            let trials = cluster.houses.get(&slot.houses()).map_or(0, |houses| houses.0);
            let hits = if *slot == slot.houses() { 0 } else { houses.0 };
            let sum = self.0.entry(*slot).or_default();
            sum.add(RateCluster { weight, hits, trials, cost: 0 });
        }
    }

    fn merge(&mut self, other: Self) {
        for (slot, rate) in other.0 {
            *self.0.entry(slot).or_default() += rate;
        }
    }
}

impl WeighedSums {
    /// Returns the rate of a shape.
    pub(super) fn rate(&self, slot: Slot) -> Rate {
        let of = |slot| self.0.get(&slot).copied().unwrap_or_default();
        of(slot).among(&of(slot.houses()))
    }
}
