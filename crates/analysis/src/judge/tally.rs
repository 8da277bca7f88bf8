//! Sums over puzzles for one ratio, with their weights and families.

use std::collections::BTreeMap;
use std::ops::AddAssign;

use tallyhouse_collection::Weight;
use tallyhouse_stats::{
    ClusterSums, RatioEstimate, Share, StatsError, effective_sample_size, weighted_ratio,
};

/// What a puzzle counts and to whom it belongs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Standing {
    pub(super) weight: Option<Weight>,
    pub(super) family: Option<u64>,
}

/// Sums of (y, x) over puzzles. Whole numbers, so that they merge in any order.
#[derive(Clone, Debug, Default)]
pub(super) struct Tally {
    raw: ClusterSums,
    /// Puzzles without a family, each its own cluster.
    alone: BTreeMap<Weight, ClusterSums>,
    /// Families: sums weighted with millionths.
    families: BTreeMap<u64, [i128; 2]>,
}

impl Tally {
    /// Adds a puzzle. One without a unit (x = 0) says nothing of the ratio and is left out, so that
    /// the degrees of freedom count only puzzles that can differ.
    pub(super) fn add(&mut self, standing: Standing, y: u64, x: u64) {
        if x == 0 {
            return;
        }
        let weight = standing.weight.unwrap_or(Weight::ONE);
        // Glances of one puzzle stay far below 2^63.
        let signed = i64::try_from(y).unwrap_or(i64::MAX);
        self.raw.add(signed, x);
        match standing.family {
            None => self.alone.entry(weight).or_default().add(signed, x),
            Some(family) => {
                let millionths = i128::from(weight.millionths());
                let sums = self.families.entry(family).or_default();
                sums[0] += millionths * i128::from(y);
                sums[1] += millionths * i128::from(x);
            }
        }
    }

    /// Returns Σy without weights.
    pub(super) fn y(&self) -> u64 {
        u64::try_from(self.raw.y()).unwrap_or(u64::MAX)
    }

    /// Returns Σx without weights.
    pub(super) fn x(&self) -> u64 {
        u64::try_from(self.raw.x()).unwrap_or(u64::MAX)
    }

    /// Returns the number of independent units: families, and puzzles without one.
    pub(super) fn clusters(&self) -> u64 {
        self.alone.values().map(ClusterSums::clusters).sum::<u64>() + self.families.len() as u64
    }

    /// Tests if some puzzles depend on each other.
    pub(super) fn has_families(&self) -> bool {
        !self.families.is_empty()
    }

    /// Tests if every puzzle counts the same and none depends on another.
    pub(super) fn is_plain(&self) -> bool {
        self.families.is_empty() && self.alone.len() <= 1
    }

    /// Returns Σwy / Σwx with its linearised standard error.
    pub(super) fn ratio(&self) -> Result<RatioEstimate, StatsError> {
        let mut classes: Vec<(f64, ClusterSums)> =
            self.alone.iter().map(|(weight, sums)| (value(*weight), *sums)).collect();
        // Where sums of weights are too large for exact squares, their last bits are left out.
        let largest = self.families.values().flatten().copied().max().unwrap_or(0);
        let shift = (128 - largest.leading_zeros()).saturating_sub(52);
        let mut families = ClusterSums::default();
        for [y, x] in self.families.values().map(|sums| sums.map(|sum| sum >> shift)) {
            families
                .add(i64::try_from(y).unwrap_or(i64::MAX), u64::try_from(x).unwrap_or(u64::MAX));
        }
        if families.clusters() > 0 {
            classes.push((2f64.powi(shift as i32) / 1e6, families));
        }
        weighted_ratio(&classes)
    }

    /// Returns hits (y) among trials (x), of which each puzzle is at most one.
    pub(super) fn share(&self) -> Result<Share, StatsError> {
        Share::new(self.y(), self.x())
    }

    /// Returns no hits among the effective number of trials, for a weighted share without any.
    pub(super) fn none_among_effective(&self) -> Result<Share, StatsError> {
        let alone = self
            .alone
            .iter()
            .map(|(weight, sums)| (value(*weight), u64::try_from(sums.x()).unwrap_or(u64::MAX)));
        let families = self.families.values().map(|sums| (sums[1] as f64 / 1e6, 1));
        let trials = effective_sample_size(&alone.chain(families).collect::<Vec<_>>())?;
        Share::new(0, trials.floor() as u64)
    }
}

fn value(weight: Weight) -> f64 {
    weight.millionths() as f64 / 1e6
}

impl AddAssign<&Self> for Tally {
    fn add_assign(&mut self, other: &Self) {
        self.raw += other.raw;
        for (weight, sums) in &other.alone {
            *self.alone.entry(*weight).or_default() += *sums;
        }
        for (family, [y, x]) in &other.families {
            let sums = self.families.entry(*family).or_default();
            sums[0] += y;
            sums[1] += x;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn standing(weight: &str, family: Option<u64>) -> Standing {
        Standing { weight: Some(weight.parse().unwrap()), family }
    }

    #[test]
    fn weights_of_one_are_no_weights() {
        let mut tally = Tally::default();
        for (y, weight) in [(1, None), (0, Some(Weight::ONE)), (1, None)] {
            tally.add(Standing { weight, family: None }, y, 1);
        }
        assert!(tally.is_plain());
        assert_eq!(tally.share(), Share::new(2, 3));
        let mut sums = ClusterSums::default();
        [1, 0, 1].into_iter().for_each(|y| sums.add(y, 1));
        assert_eq!(tally.ratio(), sums.ratio());
    }

    #[test]
    fn a_family_is_one_cluster_of_weighted_sums() {
        // By hand: families (0.5·1 + 1.5·0, 2) and (2·1, 2), and a puzzle alone (0, 1·3).
        let mut tally = Tally::default();
        tally.add(standing("0.5", Some(4)), 1, 1);
        tally.add(standing("2", Some(9)), 1, 1);
        tally.add(standing("3", None), 0, 1);
        tally.add(standing("1.5", Some(4)), 0, 1);
        assert!(!tally.is_plain());
        assert_eq!((tally.clusters(), tally.y(), tally.x()), (3, 2, 4));
        let mut sums = ClusterSums::default();
        // In halves.
        [(1, 4), (4, 4), (0, 6)].into_iter().for_each(|(y, x)| sums.add(y, x));
        let (found, expected) = (tally.ratio().unwrap(), sums.ratio().unwrap());
        assert!((found.ratio - expected.ratio).abs() < 1e-12);
        assert!((found.standard_error - expected.standard_error).abs() < 1e-12);
        // (2 + 2 + 3)² / (4 + 4 + 9) = 2.88: two trials.
        assert_eq!(tally.none_among_effective(), Share::new(0, 2));
    }

    #[test]
    fn puzzles_without_a_unit_are_left_out() {
        let mut tally = Tally::default();
        [(3, 4), (0, 0), (1, 4)]
            .into_iter()
            .for_each(|(y, x)| tally.add(Standing::default(), y, x));
        assert_eq!((tally.clusters(), tally.ratio().unwrap().ratio), (2, 0.5));
    }

    #[test]
    fn huge_weights_stay_finite() {
        let mut tally = Tally::default();
        for family in 0..1000 {
            tally.add(standing("1000000000", Some(family)), 1_000_000 + family % 7, 2_000_000);
        }
        let ratio = tally.ratio().unwrap();
        assert!((ratio.ratio - 0.5).abs() < 1e-5 && ratio.standard_error > 0.0);
    }

    #[test]
    fn merging_equals_adding() {
        let mut all = Tally::default();
        let mut parts = [Tally::default(), Tally::default()];
        for i in 0..40u64 {
            let weight = Weight::from_millionths(1 + i % 5 * 700_000);
            let one = Standing { weight, family: (i % 3 == 0).then_some(i / 9) };
            all.add(one, i % 4, 5);
            parts[(i % 2) as usize].add(one, i % 4, 5);
        }
        let [mut first, second] = parts;
        first += &second;
        assert_eq!(first.ratio(), all.ratio());
        assert_eq!((first.clusters(), first.y(), first.x()), (all.clusters(), all.y(), all.x()));
    }
}
