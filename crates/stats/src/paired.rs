//! The same units judged twice.

use serde::Serialize;

use crate::difference::square_and_add;
use crate::{Estimate, Level, McNemar, Method, Share, StatsError};

/// How often both, one or none of two properties hold for the same units.
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

    /// Returns the difference of the two shares, first minus second, with Newcombe's interval for
    /// paired data.
    ///
    /// As [`newcombe_difference`](crate::newcombe_difference), with −2φ·(product) added under each
    /// root. φ is the correlation of the table, its numerator eh − fg lowered by n/2 (not below 0)
    /// where it is positive; φ is 0 where a margin is empty.
    ///
    /// R. G. Newcombe, Statist. Med. 17, 1998, 2635–2650, method 10.
    #[must_use]
    pub fn difference(self, level: Level) -> Estimate {
        square_and_add(self.first(), self.second(), level, self.phi(), Method::NewcombePaired)
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

    /// Returns McNemar's tests of "both shares are equal".
    #[must_use]
    pub fn mcnemar(self) -> McNemar {
        McNemar::of(self.first_only, self.second_only)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::test_support::assert_close;

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
            let found = counts.difference(Level::P95).interval;
            assert_close(found.low, low, 0.000_05);
            assert_close(found.high, high, 0.000_05);
        }
    }

    #[test]
    fn tables_without_units_are_refused() {
        assert_eq!(PairedCounts::new(0, 0, 0, 0), Err(StatsError::NoTrials));
        assert_eq!(PairedCounts::new(u64::MAX, 1, 0, 0), Err(StatsError::TableTooLarge));
    }

    #[test]
    fn huge_counts_stay_finite() {
        let counts = table(1 << 61, 1 << 40, 3, 1 << 61);
        let found = counts.difference(Level::P95);
        assert!(found.interval.contains(found.value));
    }

    proptest! {
        #[test]
        fn exchanging_the_properties_exchanges_the_limits(
            e in 0u64..300, f in 0u64..300, g in 0u64..300, h in 1u64..300,
        ) {
            let forth = table(e, f, g, h).difference(Level::P95);
            let back = table(e, g, f, h).difference(Level::P95);
            prop_assert!((forth.interval.low + back.interval.high).abs() < 1e-14);
            prop_assert!(forth.interval.contains(forth.value));
        }

        /// Exchanging "holds" and "does not hold" turns the sign of the difference.
        #[test]
        fn exchanging_hits_and_misses_turns_the_sign(
            e in 0u64..300, f in 0u64..300, g in 0u64..300, h in 1u64..300,
        ) {
            let forth = table(e, f, g, h).difference(Level::P95);
            let back = table(h, g, f, e).difference(Level::P95);
            prop_assert!((forth.interval.low + back.interval.high).abs() < 1e-13);
        }
    }
}
