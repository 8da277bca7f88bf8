//! One share: hits among independent trials.

use serde::Serialize;

use crate::incomplete_beta::{Odds, falling_quantile, incomplete_beta, rising_quantile};
use crate::{Interval, Level, StatsError};

/// Shares with fewer hits, or fewer misses, than this get the Clopper–Pearson interval.
///
/// Common practice, no source: with ten of each kind the score interval is close to its level.
pub const RARE_BELOW: u64 = 10;

/// Hits among independent trials with one unknown probability.
///
/// Counts above 2^53 lose their last digits in the computation.
///
/// ```
/// use tallyhouse_stats::{Level, Share};
///
/// let found = Share::new(81, 263)?.estimate(Level::default());
/// assert_eq!(format!("{:.4} to {:.4}", found.interval.low, found.interval.high), "0.2553 to 0.3662");
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Share {
    pub(crate) hits: u64,
    pub(crate) trials: u64,
}

impl Share {
    /// Checks the counts.
    ///
    /// # Errors
    /// Without trials, or with more hits than trials.
    pub fn new(hits: u64, trials: u64) -> Result<Self, StatsError> {
        if trials == 0 {
            return Err(StatsError::NoTrials);
        }
        if hits > trials {
            let (hits, trials) = (hits.into(), trials.into());
            return Err(StatsError::HitsExceedTrials { hits, trials });
        }
        Ok(Self { hits, trials })
    }

    /// Returns the hits.
    #[must_use]
    pub const fn hits(self) -> u64 {
        self.hits
    }

    /// Returns the trials.
    #[must_use]
    pub const fn trials(self) -> u64 {
        self.trials
    }

    /// Returns hits / trials.
    #[must_use]
    pub fn value(self) -> f64 {
        self.hits as f64 / self.trials as f64
    }

    /// Returns the share with hits and misses exchanged.
    #[must_use]
    pub const fn misses(self) -> Self {
        Self { hits: self.trials - self.hits, trials: self.trials }
    }

    /// Returns Wilson's score interval: all p with (p̂ − p)² ≤ z²·p(1 − p)/n.
    ///
    /// Covers about the level on average over p, less for some p. E. B. Wilson, J. Amer. Statist.
    /// Assoc. 22, 1927, 209–212; R. G. Newcombe, Statist. Med. 17, 1998, 857–872, method 3.
    #[must_use]
    pub fn wilson(self, level: Level) -> Interval {
        let Trials { hits, misses } = self.counts();
        score_interval([hits, misses], level.two_sided_z())
    }

    /// Returns the Clopper–Pearson interval: the limits are the p at which each exact binomial tail
    /// is half of the error rate. It covers at least the level for every p.
    ///
    /// C. J. Clopper & E. S. Pearson, Biometrika 26, 1934, 404–413.
    #[must_use]
    pub fn clopper_pearson(self, level: Level) -> Interval {
        self.counts().exact_interval(level.error_rate() / 2.0)
    }

    pub(crate) fn counts(self) -> Trials {
        Trials { hits: self.hits as f64, misses: self.misses().hits as f64 }
    }
}

/// Hits and misses among independent trials, or as many as dependent ones are worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Trials {
    pub(crate) hits: f64,
    pub(crate) misses: f64,
}

impl Trials {
    pub(crate) fn count(self) -> f64 {
        self.hits + self.misses
    }

    /// The exact one-sided p-value against "p ≥ threshold": the probability of so few hits if p were
    /// the threshold. Small values support "p is below the threshold".
    pub(crate) fn p_value_below(self, threshold: f64) -> Result<f64, StatsError> {
        let odds = Odds::of(checked_threshold(threshold)?);
        Ok(Self { hits: self.misses, misses: self.hits }.at_least(odds.swapped()))
    }

    /// The exact one-sided p-value against "p ≤ threshold": the probability of so many hits if p were
    /// the threshold. Small values support "p is above the threshold".
    pub(crate) fn p_value_above(self, threshold: f64) -> Result<f64, StatsError> {
        Ok(self.at_least(Odds::of(checked_threshold(threshold)?)))
    }

    /// The probability of at least so many hits.
    fn at_least(self, odds: Odds) -> f64 {
        if self.hits == 0.0 {
            return 1.0;
        }
        incomplete_beta(self.hits, self.misses + 1.0, odds)
    }

    /// The limits with this tail beyond each of them.
    pub(crate) fn exact_interval(self, tail: f64) -> Interval {
        let Self { hits, misses } = self;
        let low = if hits == 0.0 {
            0.0
        } else if misses == 0.0 {
            (tail.ln() / hits).exp()
        } else {
            rising_quantile(hits, misses + 1.0, tail, score_interval([hits, misses], 2.0).low)
        };
        Interval { low, high: upper_limit([hits, misses], tail) }
    }
}

/// The logarithm of the odds of a share.
pub(crate) fn log_odds(share: f64) -> f64 {
    (share / (1.0 - share)).ln()
}

/// The p at which so few hits or fewer have this probability; counts need not be whole.
pub(crate) fn upper_limit([hits, misses]: [f64; 2], tail: f64) -> f64 {
    if misses <= 0.0 {
        1.0
    } else if hits == 0.0 {
        -(tail.ln() / misses).exp_m1()
    } else {
        let near = score_interval([hits, misses], 2.0).high;
        falling_quantile(misses, hits + 1.0, tail, near)
    }
}

/// The limits solve p²(n + z²) − p(2h + z²) + h²/n = 0. The lower one comes from the product of the
/// roots, because their difference would cancel for small shares.
fn score_interval([hits, misses]: [f64; 2], z: f64) -> Interval {
    let trials = hits + misses;
    let square = z * z;
    let sum = 2.0 * hits + square + z * (square + 4.0 * hits * (misses / trials)).sqrt();
    Interval {
        low: 2.0 * hits * (hits / trials) / sum,
        high: if misses == 0.0 { 1.0 } else { sum / (2.0 * (trials + square)) },
    }
}

fn checked_threshold(threshold: f64) -> Result<f64, StatsError> {
    if (0.0..=1.0).contains(&threshold) {
        Ok(threshold)
    } else {
        Err(StatsError::Threshold(threshold))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use statrs::distribution::{Binomial, Discrete, DiscreteCDF, Poisson};

    use super::*;
    use crate::Method;
    use crate::incomplete_beta::binomial_density;
    use crate::test_support::{assert_close, assert_relative};

    fn share(hits: u64, trials: u64) -> Share {
        Share::new(hits, trials).unwrap()
    }

    fn assert_limits(found: Interval, low: f64, high: f64, tolerance: f64) {
        assert_close(found.low, low, tolerance);
        assert_close(found.high, high, tolerance);
    }

    /// R. G. Newcombe, Statist. Med. 17, 1998, 857–872, Table I, method 3.
    #[test]
    fn newcombe_1998_table_i_wilson() {
        let rows = [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ];
        for (hits, trials, low, high) in rows {
            assert_limits(share(hits, trials).wilson(Level::default()), low, high, 0.000_05);
        }
        let exact = [
            (81, 263, 0.255_288_519_878_274_2, 0.366_209_576_982_8),
            (15, 148, 0.062_386_399_530_736_3, 0.160_487_241_723_308_1),
            (0, 20, 0.0, 0.161_125_158_052_819_4),
            (1, 29, 0.006_113_214_292_762_7, 0.171_755_218_793_202_9),
        ];
        for (hits, trials, low, high) in exact {
            assert_limits(share(hits, trials).wilson(Level::default()), low, high, 1e-15);
        }
    }

    /// The formula in exact arithmetic, for shares that Table I does not have.
    #[test]
    fn wilson_of_further_shares() {
        for (hits, low, high) in
            [(0, 0.0, 0.277_532_8), (1, 0.017_876_2, 0.404_150_0), (5, 0.236_593_1, 0.763_406_9)]
        {
            assert_limits(share(hits, 10).wilson(Level::default()), low, high, 5e-8);
        }
        let rare = share(3, 1_000_000).wilson(Level::default());
        assert_relative(rare.low, 1.020_271_2e-6, 5e-8);
        assert_relative(rare.high, 8.821_149_8e-6, 5e-8);
        assert_close(share(0, 1000).wilson(Level::default()).high, 0.003_826_758_5, 5e-11);
    }

    /// R. G. Newcombe, Statist. Med. 17, 1998, 857–872, Table I, method 5.
    #[test]
    fn newcombe_1998_table_i_clopper_pearson() {
        let rows = [
            (81, 263, 0.2527, 0.3676),
            (15, 148, 0.0578, 0.1617),
            (0, 20, 0.0, 0.1684),
            (1, 29, 0.0009, 0.1776),
        ];
        for (hits, trials, low, high) in rows {
            assert_limits(
                share(hits, trials).clopper_pearson(Level::default()),
                low,
                high,
                0.000_05,
            );
        }
        let found = share(81, 263).clopper_pearson(Level::default());
        assert_limits(found, 0.252_736_745_585_271_3, 0.367_621_922_601_351_4, 1e-14);
        let found = share(0, 20).clopper_pearson(Level::default());
        assert_limits(found, 0.0, 0.168_433_470_983_085_3, 1e-15);
    }

    /// NIST/SEMATECH *e-Handbook of Statistical Methods*, §7.2.4.2: 4 of 20 at 90 %.
    #[test]
    fn nist_exact_interval() {
        let found = share(4, 20).clopper_pearson(Level::percent(90.0).unwrap());
        assert_limits(found, 0.0714, 0.4010, 0.000_05);
    }

    /// Without hits the upper limit is 1 − (α/2)^(1/n).
    #[test]
    fn no_hits_leave_a_limit_in_closed_form() {
        let rows = [
            (10, 0.308_497_107_8),
            (100, 0.036_216_692_6),
            (10_000, 0.000_368_819_91),
            (1_000_000, 3.688_872_65e-6),
        ];
        for (trials, limit) in rows {
            let found = share(0, trials).clopper_pearson(Level::default());
            assert_relative(found.high, limit, 2e-8);
            assert_eq!(found.low, 0.0);
        }
    }

    /// Limits solved in 40-digit arithmetic from the binomial sums, for shares far outside the range
    /// of the tables.
    #[test]
    fn clopper_pearson_of_very_rare_shares() {
        let rows = [
            (3, 1_000_000, 6.186_725_501_906_4e-7, 8.767_247_788_145_22e-6),
            (5, 1_000_000_000, 1.623_486_392_047_54e-9, 1.166_833_204_041_85e-8),
            (1, 1_000_000_000_000, 2.531_780_798_428_96e-14, 5.571_643_390_926_16e-12),
            (3, 1_000_000_000_000, 6.186_721_228_960_29e-13, 8.767_273_069_717_04e-12),
            (9, 1_000_000_000_000, 4.115_373_097_386_33e-12, 1.708_480_345_135_01e-11),
        ];
        for (hits, trials, low, high) in rows {
            let found = share(hits, trials).clopper_pearson(Level::default());
            assert_relative(found.low, low, 1e-12);
            assert_relative(found.high, high, 1e-12);
        }
        let none = share(0, 1_000_000_000_000).clopper_pearson(Level::default());
        assert_relative(none.high, 3.688_879_454_107_13e-12, 1e-14);
    }

    /// A Poisson count in the limit (F. Garwood, Biometrika 28, 1936, 437–442), here 3 events: at the
    /// limits the tails of the law of `statrs` are half of the error rate.
    #[test]
    fn rare_shares_approach_the_poisson_limits() {
        let found = share(3, 1_000_000_000).clopper_pearson(Level::default());
        let law = |limit: f64| Poisson::new(limit * 1e9).unwrap();
        assert_relative(law(found.low).sf(2), 0.025, 1e-6);
        assert_relative(law(found.high).cdf(3), 0.025, 1e-6);
    }

    /// Limits solved in 50-digit arithmetic from the beta density.
    #[test]
    fn clopper_pearson_of_large_counts_of_both_kinds() {
        let rows = [
            (400_000, 0.399_039_608_432_534_6, 0.400_960_970_827_776_4),
            (400_000_000, 0.399_969_636_157_987_7, 0.400_030_364_420_886_14),
            (400_000_000_000, 0.399_999_039_817_454_16, 0.400_000_960_183_124_7),
        ];
        for (hits, low, high) in rows {
            let found = share(hits, hits / 4 * 10).clopper_pearson(Level::default());
            assert_limits(found, low, high, 1e-15);
        }
    }

    /// The limits are where binomial sums are half of the error rate.
    #[test]
    fn clopper_pearson_limits_leave_the_stated_tails() {
        for (hits, trials) in [(1, 2), (4, 20), (7, 9), (30, 200), (999, 1000)] {
            let found = share(hits, trials).clopper_pearson(Level::default());
            let at_least: f64 = {
                let law = Binomial::new(found.low, trials).unwrap();
                (hits..=trials).map(|x| law.pmf(x)).sum()
            };
            assert_relative(at_least, 0.025, 1e-9);
            let at_most: f64 = {
                let law = Binomial::new(found.high, trials).unwrap();
                (0..=hits).map(|x| law.pmf(x)).sum()
            };
            assert_relative(at_most, 0.025, 1e-9);
        }
    }

    #[test]
    fn p_values_are_density_sums() {
        for (hits, trials, threshold) in [(0, 50, 0.04), (3, 400, 0.02), (30, 40, 0.6), (9, 9, 0.9)]
        {
            let law = Binomial::new(threshold, trials).unwrap();
            let below: f64 = (0..=hits).map(|x| law.pmf(x)).sum();
            let above: f64 = (hits..=trials).map(|x| law.pmf(x)).sum();
            assert_relative(
                share(hits, trials).counts().p_value_below(threshold).unwrap(),
                below,
                1e-10,
            );
            assert_relative(
                share(hits, trials).counts().p_value_above(threshold).unwrap(),
                above,
                1e-10,
            );
        }
        assert_eq!(share(0, 5).counts().p_value_above(0.3), Ok(1.0));
        assert_eq!(share(0, 5).counts().p_value_below(0.0), Ok(1.0));
        assert_eq!(share(2, 5).counts().p_value_below(0.0), Ok(1.0));
        assert_eq!(share(2, 5).counts().p_value_below(1.0), Ok(0.0));
        assert_eq!(share(2, 5).counts().p_value_above(0.0), Ok(0.0));
        assert_eq!(share(2, 5).counts().p_value_above(1.0), Ok(1.0));
        assert_relative(
            share(0, 1_000_000).counts().p_value_below(3e-6).unwrap(),
            (-3f64).exp(),
            1e-5,
        );
    }

    /// A p-value below 2.5 % and a threshold outside the 95 % interval are the same verdict.
    #[test]
    fn p_values_and_clopper_pearson_agree() {
        for (hits, trials) in [(1, 1000), (40, 1000), (999, 1000)] {
            let found = share(hits, trials);
            let Interval { low, high } = found.clopper_pearson(Level::default());
            assert_relative(found.counts().p_value_above(low).unwrap(), 0.025, 1e-9);
            assert_relative(found.counts().p_value_below(high).unwrap(), 0.025, 1e-9);
        }
    }

    #[test]
    fn the_method_follows_the_rarer_kind() {
        let rows = [
            (9, 1000, Method::ClopperPearson),
            (10, 1000, Method::Wilson),
            (991, 1000, Method::ClopperPearson),
            (990, 1000, Method::Wilson),
        ];
        for (hits, trials, method) in rows {
            assert_eq!(share(hits, trials).estimate(Level::default()).method, method);
        }
    }

    #[test]
    fn bad_counts_and_thresholds_are_refused() {
        assert_eq!(Share::new(0, 0), Err(StatsError::NoTrials));
        assert_eq!(Share::new(3, 2), Err(StatsError::HitsExceedTrials { hits: 3, trials: 2 }));
        assert_eq!(share(1, 2).counts().p_value_below(1.1), Err(StatsError::Threshold(1.1)));
        assert!(share(1, 2).counts().p_value_above(f64::NAN).is_err());
    }

    fn shares() -> impl Strategy<Value = Share> {
        let trials = prop_oneof![1u64..200, 1u64..100_000, 1u64..=1_000_000_000_000];
        let rare = trials.clone().prop_flat_map(|n| (0..=n.min(20), Just(n)));
        prop_oneof![trials.prop_flat_map(|n| (0..=n, Just(n))), rare]
            .prop_map(|(hits, trials)| share(hits, trials))
    }

    fn methods() -> [fn(Share) -> Interval; 3] {
        [
            |share| share.wilson(Level::default()),
            |share| share.clopper_pearson(Level::default()),
            |share| share.estimate(Level::default()).interval,
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn intervals_contain_the_share_and_stay_between_0_and_1(share in shares()) {
            for interval in methods().map(|method| method(share)) {
                prop_assert!(interval.contains(share.value()));
                prop_assert!(0.0 <= interval.low && interval.high <= 1.0);
                prop_assert!(interval.width() > 0.0);
            }
        }

        #[test]
        fn exchanging_hits_and_misses_mirrors_the_interval(share in shares()) {
            for method in methods() {
                let (hits, misses) = (method(share), method(share.misses()));
                prop_assert!((hits.low - (1.0 - misses.high)).abs() < 1e-13);
                prop_assert!((hits.high - (1.0 - misses.low)).abs() < 1e-13);
            }
        }

        #[test]
        fn intervals_shrink_with_more_of_the_same(
            (hits, trials) in (1u64..5000).prop_flat_map(|n| (0..=n, Just(n))),
        ) {
            let (small, large) = (share(hits, trials), share(2 * hits, 2 * trials));
            for method in methods() {
                prop_assert!(method(large).width() < method(small).width());
            }
        }

        #[test]
        fn higher_levels_are_wider(share in shares()) {
            let high = Level::percent(99.0).unwrap();
            prop_assert!(share.wilson(high).width() > share.wilson(Level::default()).width());
            let exact = |level| share.clopper_pearson(level).width();
            prop_assert!(exact(high) > exact(Level::default()));
        }

        /// Together the two tails count what was observed twice.
        #[test]
        fn p_values_add_to_one_and_the_observed(found in shares(), digits in 0.0f64..15.0) {
            let threshold = 10f64.powf(-digits);
            let [below, above] =
                [found.counts().p_value_below(threshold), found.counts().p_value_above(threshold)].map(Result::unwrap);
            let odds = Odds::of(threshold);
            let (hits, misses) = (found.hits() as f64, found.misses().hits() as f64);
            let observed = binomial_density(hits, misses, odds);
            prop_assert!((0.0..=1.0).contains(&below) && (0.0..=1.0).contains(&above));
            prop_assert!((below + above - 1.0 - observed).abs() < 1e-9);
        }
    }
}
