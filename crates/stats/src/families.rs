//! Clusters whose members come scattered.

use std::collections::BTreeMap;
use std::ops::AddAssign;

use crate::Clusters;

/// Sums over units, some of which belong to families whose members depend on each other.
///
/// A family is one cluster, wherever its members come; a unit without a family is a cluster of its
/// own. Mergeable in any order, so that parts of the data can be summed apart. Memory grows with the
/// number of families, not with that of units.
///
/// ```
/// use tallyhouse_stats::Families;
///
/// let mut families = Families::default();
/// families.add(Some(7), [1, 4]);
/// families.add(None, [0, 5]);
/// families.add(Some(7), [2, 4]);
/// let clusters = families.clusters();
/// assert_eq!((clusters.clusters(), clusters.sum(0), clusters.sum(1)), (2, 3, 13));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Families<const N: usize> {
    alone: Clusters<N>,
    families: BTreeMap<u64, [i128; N]>,
}

impl<const N: usize> Default for Families<N> {
    fn default() -> Self {
        Self { alone: Clusters::default(), families: BTreeMap::new() }
    }
}

impl<const N: usize> Families<N> {
    /// Adds the quantities of one unit; see [`Clusters`] for what they mean.
    pub fn add(&mut self, family: Option<u64>, quantities: [i128; N]) {
        match family {
            None => self.alone.add(quantities),
            Some(family) => self.add_to_family(family, quantities),
        }
    }

    fn add_to_family(&mut self, family: u64, quantities: [i128; N]) {
        let sums = self.families.entry(family).or_insert([0; N]);
        for (sum, more) in sums.iter_mut().zip(quantities) {
            match sum.checked_add(more) {
                Some(all) => *sum = all,
                None => self.alone.mark_overflow(),
            }
        }
    }

    /// Returns the number of families.
    #[must_use]
    pub fn families(&self) -> u64 {
        self.families.len() as u64
    }

    /// Returns the sums over clusters: the families, and the units without one.
    #[must_use]
    pub fn clusters(&self) -> Clusters<N> {
        let mut clusters = self.alone;
        self.families.values().for_each(|family| clusters.add(*family));
        clusters
    }
}

impl Families<1> {
    /// Returns the clusters (hits, size) of [`Clusters::share`], where these are the weights of the
    /// hits and `all` holds those of all units, hits included: only hits need to be added here, however
    /// many properties are counted.
    ///
    /// ```
    /// use tallyhouse_stats::{Families, Level};
    ///
    /// let (mut all, mut hits) = (Families::default(), Families::default());
    /// for (family, weight, is_hit) in [(None, 2, true), (Some(1), 3, false), (Some(1), 4, true)] {
    ///     all.add(family, [weight]);
    ///     if is_hit {
    ///         hits.add(family, [weight]);
    ///     }
    /// }
    /// let clusters = hits.among(&all);
    /// assert_eq!((clusters.clusters(), clusters.sum(0), clusters.sum(1)), (2, 6, 9));
    /// ```
    #[must_use]
    pub fn among(&self, all: &Self) -> Clusters<2> {
        // Alone, a hit is as large as its cluster: its product with the size is its square.
        let mut clusters = Clusters::hits_of_all(&self.alone, &all.alone);
        for (family, [size]) in &all.families {
            let [hits] = self.families.get(family).copied().unwrap_or_default();
            clusters.add([hits, *size]);
        }
        clusters
    }
}

impl<const N: usize> AddAssign<&Self> for Families<N> {
    fn add_assign(&mut self, other: &Self) {
        self.alone += other.alone;
        for (&family, &quantities) in &other.families {
            self.add_to_family(family, quantities);
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::test_support::clusters_of;
    use crate::{Level, StatsError};

    #[test]
    fn a_family_is_one_cluster_of_weighted_sums() {
        // Families (0.5·1 + 1.5·0, 2) and (2·1, 2), and a unit alone (0, 1·3); in halves.
        let mut families = Families::default();
        families.add(Some(4), [1, 1]);
        families.add(Some(9), [4, 4]);
        families.add(None, [0, 6]);
        families.add(Some(4), [0, 3]);
        assert_eq!(families.families(), 2);
        assert_eq!(families.clusters(), clusters_of(&[[0, 6], [1, 4], [4, 4]]));
    }

    #[test]
    fn families_beyond_all_bounds_are_refused() {
        let mut families = Families::default();
        families.add(Some(1), [i128::MAX, 1]);
        families.add(Some(1), [1, 1]);
        families.add(None, [1, 1]);
        assert_eq!(families.clusters().mean(Level::default()), Err(StatsError::Overflow));
    }

    proptest! {
        #[test]
        fn merging_in_any_order_is_adding(
            units in prop::collection::vec((prop::option::of(0u64..5), [0i128..9, 1i128..9]), 0..40),
            cut in 0usize..40,
        ) {
            let sum = |units: &[(Option<u64>, [i128; 2])]| {
                let mut families = Families::default();
                units.iter().for_each(|&(family, unit)| families.add(family, unit));
                families
            };
            let (left, right) = units.split_at(cut.min(units.len()));
            let (mut forth, mut back) = (sum(left), sum(right));
            forth += &sum(right);
            back += &sum(left);
            prop_assert_eq!(&forth, &sum(&units));
            prop_assert_eq!(&back, &sum(&units));
        }

        #[test]
        fn hits_among_all_are_pairs_of_hit_and_size(
            units in prop::collection::vec((prop::option::of(0u64..5), 1i128..9, any::<bool>()), 0..40),
        ) {
            let (mut all, mut hits) = (Families::default(), Families::default());
            let mut pairs = Families::default();
            for (family, weight, is_hit) in units {
                all.add(family, [weight]);
                if is_hit {
                    hits.add(family, [weight]);
                }
                pairs.add(family, [if is_hit { weight } else { 0 }, weight]);
            }
            prop_assert_eq!(hits.among(&all), pairs.clusters());
        }

        /// Without families every unit is a cluster.
        #[test]
        fn units_alone_are_clusters(units in prop::collection::vec([0i128..9, 1i128..9], 0..40)) {
            let mut families = Families::default();
            units.iter().for_each(|&unit| families.add(None, unit));
            prop_assert_eq!(families.clusters(), clusters_of(&units));
        }
    }
}
