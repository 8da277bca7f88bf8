//! Exact sums of hits among trials over clusters, by weight, whatever tells the rates apart.
//!
//! A cluster is a family, or a puzzle without one. Puzzles that weigh 1 and stand alone, which are
//! nearly all, are summed up in plain numbers, the others exactly by weight.

use std::collections::BTreeMap;
use std::ops::AddAssign;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::Weight;
use tallyhouse_stats::{AddClusters, AlikeHits, AlikeTrials, InTurn, Rate, RateCluster};

use crate::sums::Millionths;

/// What tells rates apart.
pub(crate) trait Key: Copy + Ord {
    /// Returns the key of the trials that hits of this key are among; its own if it is of trials.
    fn trials(self) -> Self;
}

/// Sums of a part, or of several that follow each other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RateSums<K: Key> {
    /// Puzzles without weight and family.
    alone: AlikeSums<K>,
    /// The others, counted alike.
    others: AlikeSums<K>,
    /// The others, by weight and family.
    weighed: InTurn<WeighedSums<K>>,
}

/// Sums over puzzles that count alike, each a cluster of its own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct AlikeSums<K: Ord> {
    pub(crate) trials: BTreeMap<K, AlikeTrials>,
    pub(crate) hits: BTreeMap<K, AlikeHits>,
}

/// Rates by key: of hits over the clusters that have any, of trials over all.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct WeighedSums<K: Ord>(BTreeMap<K, Rate>);

/// The puzzles of a cluster.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Cluster<K: Ord> {
    weight: Millionths,
    puzzles: u64,
    /// Hits and trials by weight.
    counted: BTreeMap<K, Millionths>,
}

/// What rates a scan or a question came to.
pub(crate) struct FinishedRates<K: Key> {
    alone: AlikeSums<K>,
    others: AlikeSums<K>,
    weighed: WeighedSums<K>,
}

impl<K: Key> RateSums<K> {
    /// Adds sums over puzzles without weight and family.
    pub(crate) fn add_alone(&mut self, alone: AlikeSums<K>) {
        self.alone.merge(alone);
    }

    /// Adds the next puzzle: its trials and hits, each key once.
    pub(crate) fn add(
        &mut self,
        weight: Option<Weight>,
        family: Option<u64>,
        counted: &[(K, u32)],
    ) {
        if weight.is_none() && family.is_none() {
            self.alone.add(counted);
            return;
        }
        self.others.add(counted);
        let weight = Millionths::of(weight.unwrap_or(Weight::ONE));
        let by_weight = |&(key, count): &(K, u32)| (key, Millionths(weight.0 * i128::from(count)));
        let counted = counted.iter().map(by_weight).collect();
        self.weighed.add(family, &Cluster { weight, puzzles: 1, counted });
    }

    /// Appends the next part.
    pub(crate) fn append(&mut self, next: Self) {
        self.alone.merge(next.alone);
        self.others.merge(next.others);
        self.weighed.append(next.weighed);
    }

    /// Ends with the last part.
    pub(crate) fn finish(self) -> FinishedRates<K> {
        let Self { alone, others, weighed } = self;
        FinishedRates { alone, others, weighed: weighed.finish() }
    }
}

impl<K: Key> AlikeSums<K> {
    fn add(&mut self, counted: &[(K, u32)]) {
        for &(key, count) in counted {
            if key == key.trials() {
                self.trials.entry(key).or_default().add(count);
            } else {
                let is_trials = |other: &&(K, u32)| other.0 == key.trials();
                let trials = counted.iter().find(is_trials).map_or(0, |(_, trials)| *trials);
                self.hits.entry(key).or_default().add(count, trials);
            }
        }
    }

    fn merge(&mut self, other: Self) {
        for (key, trials) in other.trials {
            *self.trials.entry(key).or_default() += trials;
        }
        for (key, hits) in other.hits {
            *self.hits.entry(key).or_default() += hits;
        }
    }

    fn trials(&self, key: K) -> AlikeTrials {
        self.trials.get(&key.trials()).copied().unwrap_or_default()
    }

    fn hits(&self, key: K) -> AlikeHits {
        self.hits.get(&key).copied().unwrap_or_default()
    }
}

impl<K: Key> FinishedRates<K> {
    /// Returns the rate of hits with this key; weights are in millionths.
    pub(crate) fn rate(&self, key: K) -> Rate {
        let one = Weight::ONE.millionths().into();
        let mut rate = self.alone.hits(key).among(&self.alone.trials(key), one);
        let weighed = |key| self.weighed.0.get(&key).copied().unwrap_or_default();
        rate += weighed(key).among(&weighed(key.trials()));
        rate
    }

    /// Returns how many hits were counted, each puzzle alike.
    pub(crate) fn hits(&self, key: K) -> u64 {
        self.alone.hits(key).hits + self.others.hits(key).hits
    }

    /// Returns how many trials were counted, each puzzle alike.
    pub(crate) fn trials(&self, key: K) -> u64 {
        self.alone.trials(key).trials + self.others.trials(key).trials
    }
}

impl<K: Key> AddAssign<&Self> for Cluster<K> {
    fn add_assign(&mut self, other: &Self) {
        self.weight.0 += other.weight.0;
        self.puzzles += other.puzzles;
        for (key, counted) in &other.counted {
            self.counted.entry(*key).or_default().0 += counted.0;
        }
    }
}

impl<K: Key> AddClusters for WeighedSums<K> {
    type Cluster = Cluster<K>;

    fn add_cluster(&mut self, cluster: &Cluster<K>) {
        let weight = RateCluster::mean_weight(cluster.weight.0, cluster.puzzles.into());
        for (key, counted) in &cluster.counted {
            let trials = cluster.counted.get(&key.trials()).map_or(0, |trials| trials.0);
            let hits = if *key == key.trials() { 0 } else { counted.0 };
            let sum = self.0.entry(*key).or_default();
            sum.add(RateCluster { weight, hits, trials, cost: 0 });
        }
    }

    fn merge(&mut self, other: Self) {
        for (key, rate) in other.0 {
            *self.0.entry(key).or_default() += rate;
        }
    }
}

impl<K: Key> Default for RateSums<K> {
    fn default() -> Self {
        let (alone, others) = (AlikeSums::default(), AlikeSums::default());
        Self { alone, others, weighed: InTurn::default() }
    }
}

impl<K: Ord> Default for AlikeSums<K> {
    fn default() -> Self {
        Self { trials: BTreeMap::new(), hits: BTreeMap::new() }
    }
}

impl<K: Ord> Default for WeighedSums<K> {
    fn default() -> Self {
        Self(BTreeMap::new())
    }
}

impl<K: Ord> Default for Cluster<K> {
    fn default() -> Self {
        Self { weight: Millionths::default(), puzzles: 0, counted: BTreeMap::new() }
    }
}
