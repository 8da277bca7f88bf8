//! Rates over clusters that all weigh alike, in sums of 64 bits: a few nanoseconds each.

use std::ops::AddAssign;

use ethnum::I256;
use serde::{Deserialize, Serialize};

use crate::{Clusters, Rate};

/// Sums over clusters with trials, whatever their hits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct AlikeTrials {
    /// How many clusters have trials.
    pub clusters: u64,
    /// All their trials.
    pub trials: u64,
    /// The sum of the squares of each cluster's trials.
    pub squares: u64,
}

/// Sums over the clusters with hits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct AlikeHits {
    /// How many clusters have hits.
    pub clusters: u64,
    /// All their hits.
    pub hits: u64,
    /// The sum of the squares of each cluster's hits.
    pub squares: u64,
    /// The sum of the products of each cluster's hits and trials.
    pub mixed: u64,
    /// The most hits of a cluster.
    pub most: u64,
}

impl AlikeTrials {
    /// Adds one cluster; one without trials says nothing.
    #[inline]
    pub fn add(&mut self, trials: u32) {
        let trials = u64::from(trials);
        self.clusters += u64::from(trials > 0);
        self.trials += trials;
        self.squares += trials * trials;
    }
}

impl AlikeHits {
    /// Adds one cluster that has hits.
    #[inline]
    pub fn add(&mut self, hits: u32, trials: u32) {
        let (hits, trials) = (u64::from(hits), u64::from(trials));
        self.clusters += 1;
        self.hits += hits;
        self.squares += hits * hits;
        self.mixed += hits * trials;
        self.most = self.most.max(hits);
    }

    /// Returns the rate over all clusters with trials, each of this weight.
    #[must_use]
    pub fn among(&self, all: &AlikeTrials, weight: i128) -> Rate {
        if all.clusters == 0 {
            return Rate::default();
        }
        let sum = |count: u64| weight * i128::from(count);
        let product = |count: u64| I256::from(weight * weight) * I256::from(count);
        let [hh, ht, tt] = [self.squares, self.mixed, all.squares].map(product);
        let [with, clusters] = [self.clusters, all.clusters].map(product);
        let none = I256::ZERO;
        Rate {
            sums: Clusters::from_sums(
                all.clusters,
                [sum(self.hits), sum(all.trials), 0],
                [[hh, ht, none], [none, tt, none], [none; 3]],
            ),
            weights: Clusters::from_sums(
                all.clusters,
                [sum(self.clusters), sum(all.clusters)],
                [[with, with], [none, clusters]],
            ),
            most: Some([sum(self.most), weight]),
        }
    }
}

impl AddAssign for AlikeTrials {
    fn add_assign(&mut self, other: Self) {
        self.clusters += other.clusters;
        self.trials += other.trials;
        self.squares += other.squares;
    }
}

impl AddAssign for AlikeHits {
    fn add_assign(&mut self, other: Self) {
        self.clusters += other.clusters;
        self.hits += other.hits;
        self.squares += other.squares;
        self.mixed += other.mixed;
        self.most = self.most.max(other.most);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::RateCluster;

    proptest! {
        #[test]
        fn sums_are_those_of_clusters_of_one_weight(
            clusters in prop::collection::vec([0u32..20, 0u32..50], 0..30),
            cut in 0usize..30,
            weight in 1i128..2_000_000,
        ) {
            let (mut trials, mut hits) = ([AlikeTrials::default(); 2], [AlikeHits::default(); 2]);
            let mut expected = Rate::default();
            for (index, &[some, others]) in clusters.iter().enumerate() {
                let part = usize::from(index < cut);
                let all = some + others;
                trials[part].add(all);
                if some > 0 {
                    hits[part].add(some, all);
                }
                let [some, all] = [some, all].map(|count| weight * i128::from(count));
                expected.add(RateCluster { weight, hits: some, trials: all, cost: 0 });
            }
            let [mut all, more] = trials;
            all += more;
            let [mut some, more] = hits;
            some += more;
            let found = some.among(&all, weight);
            prop_assert_eq!(found.sums, expected.sums);
            prop_assert_eq!(found.weights, expected.weights);
            // Which of several alike has the most does not matter.
            let most = |rate: &Rate| rate.most.map(|[hits, _]| hits);
            prop_assert_eq!(most(&found), most(&expected));
        }
    }
}
