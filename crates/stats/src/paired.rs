//! The same units judged twice.

use std::ops::AddAssign;

use serde::Serialize;

use crate::clusters::float;
use crate::estimate::Law;
use crate::incomplete_beta::{Odds, incomplete_beta};
use crate::{Clusters, Estimate, FEW_HITS, Interval, Level, Limits, Method, Share, StatsError};

/// How often both, one or none of two properties hold for the same units.
///
/// ```
/// use tallyhouse_stats::{Level, PairedCounts};
///
/// // Of 50 units 36 have both properties, 12 the first alone, 2 the second alone.
/// let counts = PairedCounts::new(36, 12, 2, 0)?;
/// let difference = counts.difference(Level::default());
/// assert!((difference.value - 0.2).abs() < 1e-12);
/// assert!(difference.interval.low > 0.05 && counts.p_value_equal() < 0.05);
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct PairedCounts {
    both: u64,
    first_only: u64,
    second_only: u64,
    neither: u64,
}

impl PairedCounts {
    /// Checks the counts.
    ///
    /// # Errors
    /// If all are zero or their sum does not fit into 64 bits.
    pub fn new(
        both: u64,
        first_only: u64,
        second_only: u64,
        neither: u64,
    ) -> Result<Self, StatsError> {
        let units = [first_only, second_only, neither]
            .into_iter()
            .try_fold(both, u64::checked_add)
            .ok_or(StatsError::TableTooLarge)?;
        if units == 0 {
            return Err(StatsError::NoTrials);
        }
        Ok(Self { both, first_only, second_only, neither })
    }

    /// Returns the share of units with the first property.
    #[must_use]
    pub const fn first(self) -> Share {
        Share { hits: self.both + self.first_only, trials: self.units() }
    }

    /// Returns the share of units with the second property.
    #[must_use]
    pub const fn second(self) -> Share {
        Share { hits: self.both + self.second_only, trials: self.units() }
    }

    const fn units(self) -> u64 {
        self.both + self.first_only + self.second_only + self.neither
    }

    /// Returns the difference of the two shares, first minus second, with Newcombe's square-and-add
    /// interval for paired data.
    ///
    /// With Wilson limits l, u of each share the limits are d − √(a² − 2φab + b²), a = p₁ − l₁ and
    /// b = u₂ − p₂, and d + √(a² − 2φab + b²), a = u₁ − p₁ and b = p₂ − l₂. φ is the correlation of
    /// the table, its numerator eh − fg lowered by n/2 (not below 0) where it is positive; φ is 0
    /// where a margin is empty.
    ///
    /// R. G. Newcombe, Statist. Med. 17, 1998, 2635–2650, method 10.
    #[must_use]
    pub fn difference(self, level: Level) -> Estimate {
        let (first, second) = (self.first(), self.second());
        let [(below_first, above_first), (below_second, above_second)] =
            [first, second].map(|share| {
                let Interval { low, high } = share.wilson(level);
                (share.value() - low, high - share.value())
            });
        let phi = self.phi();
        // Rounding may take the sum of squares below zero when phi is 1.
        let reach = |a: f64, b: f64| (a * a - 2.0 * phi * a * b + b * b).max(0.0).sqrt();
        let value = first.value() - second.value();
        let interval = Interval {
            low: (value - reach(below_first, above_second)).max(-1.0),
            high: (value + reach(above_first, below_second)).min(1.0),
        };
        Estimate { value, interval, level, method: Method::NewcombePaired, law: Law::Unknown }
    }

    fn phi(self) -> f64 {
        let [first, second] = [self.first(), self.second()];
        let product = |a: u64, b: u64| u128::from(a) * u128::from(b);
        let margins = [first, first.misses(), second, second.misses()];
        if margins.iter().any(|margin| margin.hits() == 0) {
            return 0.0;
        }
        let agreeing = product(self.both, self.neither);
        let differing = product(self.first_only, self.second_only);
        let numerator = if agreeing > differing {
            ((agreeing - differing) as f64 - self.units() as f64 / 2.0).max(0.0)
        } else {
            -((differing - agreeing) as f64)
        };
        let scale: f64 = margins.iter().map(|margin| (margin.hits() as f64).sqrt()).product();
        numerator / scale
    }

    /// Returns the two-sided p-value of "both shares are equal" by McNemar's exact test: of the units
    /// with one property only, as many have the first as the second, each with probability ½.
    ///
    /// A. Agresti, *Categorical Data Analysis*, 2002, §10.1.
    #[must_use]
    pub fn p_value_equal(self) -> f64 {
        let few = self.first_only.min(self.second_only) as f64;
        let many = self.first_only.max(self.second_only) as f64;
        // At most `few` of the one kind is at least `many` of the other.
        let tail = if many == 0.0 { 1.0 } else { incomplete_beta(many, few + 1.0, Odds::of(0.5)) };
        (2.0 * tail).min(1.0)
    }
}

/// What units weigh that have both, one or none of two properties, over independent clusters; mergeable in
/// any order.
///
/// Where all clusters are one unit and weigh alike, the answers are those of [`PairedCounts`]. Otherwise
/// the difference is a ratio of sums, linearised over clusters; if those that differ are worth fewer than
/// [`FEW_HITS`], it has no ends.
///
/// ```
/// use tallyhouse_stats::{Level, PairedCounts, PairedWeights};
///
/// let mut weights = PairedWeights::default();
/// for (cluster, times) in [([5, 0, 0, 5], 36), ([0, 5, 0, 5], 12), ([0, 0, 5, 5], 2)] {
///     (0..times).for_each(|_| weights.add(cluster));
/// }
/// let counted = PairedCounts::new(36, 12, 2, 0)?.difference(Level::default());
/// assert_eq!(weights.difference(Level::default())?, counted.into());
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PairedWeights(Clusters<4>);

impl PairedWeights {
    /// Adds one cluster: what its units weigh that have both properties, the first alone, the second
    /// alone; and what all its units weigh.
    pub fn add(&mut self, cluster: [i128; 4]) {
        self.0.add(cluster);
    }

    /// Returns the counts if all clusters are one unit and weigh alike.
    fn plain(&self) -> Result<Option<PairedCounts>, StatsError> {
        let sums = self.0.reduced()?;
        let hits = |quantity| Some(sums.pick([quantity, 3]).plain_share()?.hits());
        let [Some(both), Some(first), Some(second)] = [0, 1, 2].map(hits) else {
            return Ok(None);
        };
        let neither = sums.clusters() - both - first - second;
        PairedCounts::new(both, first, second, neither).map(Some)
    }

    /// Returns the difference of the two shares, first minus second.
    ///
    /// # Errors
    /// Without a unit, and if sums were too large.
    pub fn difference(&self, level: Level) -> Result<Limits, StatsError> {
        if let Some(counts) = self.plain()? {
            return Ok(counts.difference(level).into());
        }
        let [first, second] = [1, 2].map(|quantity| self.0.pick([quantity, 3]).quotient());
        let value = Some(first? - second?);
        if self.effective_differing() < FEW_HITS {
            return Ok(Limits { value, ..Limits::default() });
        }
        let estimate = Estimate::if_known(self.0.pick([1, 2, 3]).difference(level))?;
        Ok(estimate.map_or(Limits { value, ..Limits::default() }, Limits::from))
    }

    /// As many clusters of one weight would tell as much of the units that have one property alone.
    fn effective_differing(&self) -> f64 {
        let sum = self.0.sum(1) as f64 + self.0.sum(2) as f64;
        let product = |i, j| float(self.0.product(i, j));
        let squares = product(1, 1) + 2.0 * product(1, 2) + product(2, 2);
        if squares > 0.0 { sum * sum / squares } else { 0.0 }
    }
}

impl AddAssign for PairedWeights {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use statrs::distribution::{Binomial, Discrete};

    use super::*;
    use crate::test_support::{assert_close, assert_relative};

    fn table(both: u64, first_only: u64, second_only: u64, neither: u64) -> PairedCounts {
        PairedCounts::new(both, first_only, second_only, neither).unwrap()
    }

    /// R. G. Newcombe, Statist. Med. 17, 1998, 2635–2650, Table III, method 10.
    #[test]
    fn newcombe_1998_table_iii() {
        let rows = [
            (table(36, 12, 2, 0), 0.0569, 0.3404),
            (table(20, 12, 2, 16), 0.0562, 0.3292),
            (table(18, 12, 2, 18), 0.0562, 0.3290),
            (table(36, 14, 0, 0), 0.1528, 0.4167),
            (table(35, 14, 0, 1), 0.1461, 0.4175),
            (table(18, 14, 0, 18), 0.1441, 0.3963),
            (table(2, 97, 1, 0), 0.8721, 0.9854),
            // Printed second-hand as 0.8736; by the formula 0.87367.
            (table(1, 97, 1, 1), 0.8737, 0.9850),
            (table(0, 29, 1, 0), 0.6666, 0.9882),
            (table(2, 98, 0, 0), 0.9178, 0.9945),
            (table(1, 98, 0, 1), 0.9171, 0.9916),
            (table(0, 30, 0, 0), 0.8395, 1.0),
            (table(54, 0, 0, 0), -0.0664, 0.0664),
            (table(53, 0, 0, 1), -0.0729, 0.0729),
            (table(30, 0, 0, 24), -0.0358, 0.0358),
        ];
        for (counts, low, high) in rows {
            let found = counts.difference(Level::default()).interval;
            assert_close(found.low, low, 0.000_05);
            assert_close(found.high, high, 0.000_05);
        }
    }

    #[test]
    fn tables_without_units_are_refused() {
        assert_eq!(PairedCounts::new(0, 0, 0, 0), Err(StatsError::NoTrials));
        assert_eq!(PairedCounts::new(u64::MAX, 1, 0, 0), Err(StatsError::TableTooLarge));
    }

    /// Approval ratings, n = 1600, 0.59 and 0.55 approve: A. Agresti, *Categorical Data Analysis*
    /// (1990 p. 350; 2002 §10.1).
    #[test]
    fn agresti_approval_ratings() {
        let counts = table(794, 150, 86, 570);
        assert_relative(counts.p_value_equal(), 3.715_94e-5, 2e-6);
        assert_close(counts.difference(Level::default()).value, 0.04, 1e-15);
    }

    #[test]
    fn exact_p_values_are_density_sums() {
        for (b, c) in [(0u64, 1u64), (2, 9), (40, 71), (300, 260), (5, 5), (0, 5), (10, 0)] {
            let law = Binomial::new(0.5, b + c).unwrap();
            let tail: f64 = (0..=b.min(c)).map(|few| law.pmf(few)).sum();
            let found = table(7, b, c, 3).p_value_equal();
            assert_relative(found, (2.0 * tail).min(1.0), 1e-11);
            assert_eq!(found, table(7, c, b, 3).p_value_equal());
        }
        assert_eq!(table(7, 0, 0, 3).p_value_equal(), 1.0);
    }

    #[test]
    fn huge_counts_stay_finite() {
        let counts = table(1 << 61, 1 << 40, 3, 1 << 61);
        let found = counts.difference(Level::default());
        assert!(found.interval.contains(found.value));
    }

    /// Weights 1 to 3 in turn: 20 units have the first alone, 60 the second alone, of 200.
    #[test]
    fn by_weight_the_difference_is_that_of_paired_values() {
        let (mut weights, mut values) = (PairedWeights::default(), Clusters::default());
        for unit in 0..200 {
            let weight = 1 + unit % 3;
            let [first, second] = [unit < 20, (40..100).contains(&unit)].map(i128::from);
            weights.add([0, first * weight, second * weight, weight]);
            values.add([first * weight, second * weight, weight]);
        }
        let found = weights.difference(Level::default()).unwrap();
        assert_eq!(found, values.difference(Level::default()).unwrap().into());
        assert!(found.high.unwrap() < 0.0);
    }

    #[test]
    fn few_that_differ_by_weight_set_no_ends() {
        let mut weights = PairedWeights::default();
        (0..200).for_each(|unit| {
            let weight = 1 + unit % 2;
            weights.add([0, if unit < 20 { weight } else { 0 }, 0, weight]);
        });
        let found = weights.difference(Level::default()).unwrap();
        assert_eq!((found.value, found.low, found.high), (Some(0.1), None, None));
        assert!(PairedWeights::default().difference(Level::default()).is_err());
    }

    proptest! {
        #[test]
        fn exchanging_the_properties_exchanges_the_limits(
            e in 0u64..300, f in 0u64..300, g in 0u64..300, h in 1u64..300,
        ) {
            let forth = table(e, f, g, h).difference(Level::default());
            let back = table(e, g, f, h).difference(Level::default());
            prop_assert!((forth.interval.low + back.interval.high).abs() < 1e-14);
            prop_assert!(forth.interval.contains(forth.value));
        }

        /// Exchanging "holds" and "does not hold" turns the sign of the difference.
        #[test]
        fn exchanging_hits_and_misses_turns_the_sign(
            e in 0u64..300, f in 0u64..300, g in 0u64..300, h in 1u64..300,
        ) {
            let forth = table(e, f, g, h).difference(Level::default());
            let back = table(h, g, f, e).difference(Level::default());
            prop_assert!((forth.interval.low + back.interval.high).abs() < 1e-13);
        }
    }
}
