//! Means and standard deviations.

use std::ops::AddAssign;

use serde::Serialize;

use crate::StatsError;
use crate::weights::check_weights;

/// Count, sum and sum of squares of whole numbers, exact and mergeable in any order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Moments {
    count: u64,
    sum: i128,
    /// Stops at its greatest value, which [`Moments::variance`] then refuses.
    squares: u128,
}

impl Moments {
    /// Adds one value.
    pub fn add(&mut self, value: i64) {
        self.count += 1;
        self.sum += i128::from(value);
        let size = u128::from(value.unsigned_abs());
        self.squares = self.squares.saturating_add(size * size);
    }

    /// Returns how many values were added.
    #[must_use]
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// Returns the sum of the values.
    #[must_use]
    pub const fn sum(&self) -> i128 {
        self.sum
    }

    /// Returns the mean.
    ///
    /// # Errors
    /// Without values.
    pub fn mean(&self) -> Result<f64, StatsError> {
        self.need(1)?;
        Ok(self.sum as f64 / self.count as f64)
    }

    /// Returns the variance with divisor n − 1: (n·Σx² − (Σx)²) / (n(n − 1)), the numerator exact.
    ///
    /// # Errors
    /// With fewer than two values, or if the numerator does not fit into 128 bits.
    pub fn variance(&self) -> Result<f64, StatsError> {
        self.need(2)?;
        let count = u128::from(self.count);
        // By Cauchy and Schwarz the square of the sum fits if this does.
        let scaled = count.checked_mul(self.squares).ok_or(StatsError::Overflow)?;
        let sum = self.sum.unsigned_abs();
        let square = sum.checked_mul(sum).ok_or(StatsError::Overflow)?;
        Ok((scaled - square) as f64 / (count as f64 * (count - 1) as f64))
    }

    /// Returns the square root of [`Moments::variance`].
    ///
    /// # Errors
    /// As [`Moments::variance`].
    pub fn standard_deviation(&self) -> Result<f64, StatsError> {
        self.variance().map(f64::sqrt)
    }

    /// Returns the standard error of the mean of independent values: the standard deviation / √n.
    ///
    /// # Errors
    /// As [`Moments::variance`].
    pub fn standard_error(&self) -> Result<f64, StatsError> {
        Ok((self.variance()? / self.count as f64).sqrt())
    }

    fn need(&self, expected: u64) -> Result<(), StatsError> {
        if self.count < expected {
            return Err(StatsError::TooFewValues { expected, found: self.count });
        }
        Ok(())
    }
}

impl AddAssign for Moments {
    fn add_assign(&mut self, other: Self) {
        self.count += other.count;
        self.sum += other.sum;
        self.squares = self.squares.saturating_add(other.squares);
    }
}

impl Extend<i64> for Moments {
    fn extend<I: IntoIterator<Item = i64>>(&mut self, values: I) {
        values.into_iter().for_each(|value| self.add(value));
    }
}

/// One part of a weighted whole.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stratum {
    /// How much of the whole it is; weights need not sum to 1.
    pub weight: f64,
    /// The mean inside the stratum.
    pub mean: f64,
    /// The variance inside the stratum.
    pub variance: f64,
}

impl Stratum {
    /// Returns a stratum in which every unit has this value.
    #[must_use]
    pub const fn of_value(value: f64, weight: f64) -> Self {
        Self { weight, mean: value, variance: 0.0 }
    }
}

/// Mean and variance of a whole made of strata.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Mixture {
    /// The weighted mean of the means.
    pub mean: f64,
    /// The weighted mean of the variances inside the strata.
    pub variance_within: f64,
    /// The weighted variance of the means.
    pub variance_between: f64,
}

impl Mixture {
    /// Returns the variance of the whole, both parts together.
    #[must_use]
    pub fn variance(&self) -> f64 {
        self.variance_within + self.variance_between
    }

    /// Returns the square root of [`Mixture::variance`].
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        self.variance().sqrt()
    }
}

/// Returns mean and variance of a whole made of strata, by the law of total variance:
/// Σ pₖ·Var(Xₖ) + Σ pₖ·(E(Xₖ) − E(X))² with pₖ = weight / Σ weights.
///
/// Leaving the second part out gives zero for anything that is constant inside the strata.
///
/// # Errors
/// If a weight, mean or variance is not finite, a weight or variance negative, or no weight
/// positive.
pub fn mix(strata: &[Stratum]) -> Result<Mixture, StatsError> {
    check_weights(strata.iter().map(|stratum| stratum.weight))?;
    for &Stratum { mean, variance, .. } in strata {
        if !(mean.is_finite() && variance.is_finite() && variance >= 0.0) {
            return Err(StatsError::Stratum { mean, variance });
        }
    }
    let total: f64 = strata.iter().map(|stratum| stratum.weight).sum();
    let weighted = |part: &dyn Fn(&Stratum) -> f64| {
        strata.iter().map(|stratum| stratum.weight / total * part(stratum)).sum::<f64>()
    };
    let mean = weighted(&|stratum| stratum.mean);
    Ok(Mixture {
        mean,
        variance_within: weighted(&|stratum| stratum.variance),
        variance_between: weighted(&|stratum| (stratum.mean - mean).powi(2)),
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::test_support::assert_close;

    fn moments(values: &[i64]) -> Moments {
        let mut moments = Moments::default();
        moments.extend(values.iter().copied());
        moments
    }

    /// Mouse survival: B. Efron & R. Tibshirani, *An Introduction to the Bootstrap*, 1993, Tables
    /// 2.1 and 2.2 (from memory).
    #[test]
    fn efron_tibshirani_mouse_survival() {
        let treatment = moments(&[94, 197, 16, 38, 99, 141, 23]);
        let control = moments(&[52, 104, 146, 10, 51, 30, 40, 27, 46]);
        assert_close(treatment.mean().unwrap(), 86.857, 0.0005);
        assert_close(control.mean().unwrap(), 56.222, 0.0005);
        assert_close(treatment.standard_error().unwrap(), 25.2355, 0.000_05);
        assert_close(control.standard_error().unwrap(), 14.1586, 0.000_05);
        let difference = treatment.mean().unwrap() - control.mean().unwrap();
        assert_close(difference, 30.635, 0.0005);
        let errors = [treatment, control].map(|group| group.standard_error().unwrap());
        assert_close(errors[0].hypot(errors[1]), 28.936, 0.0005);
    }

    /// Clue counts of minimal puzzles, reweighted from a controlled-bias sample to all minimal
    /// puzzles by C(81, n): D. Berthier, "Unbiased Statistics of a CSP", CISSE 09, Springer 2010,
    /// 91–97. The percentages and the sample's mean and deviation are from memory, the published
    /// result 26.577 and 1.116 too.
    #[test]
    fn berthier_reweighted_clue_counts() {
        let percent = [
            (21u32, 0.0030),
            (22, 0.11),
            (23, 1.87),
            (24, 11.85),
            (25, 30.59),
            (26, 33.82),
            (27, 17.01),
            (28, 4.17),
            (29, 0.52),
            (30, 0.035),
            (31, 0.0012),
        ];
        let sample = percent.map(|(clues, share)| Stratum::of_value(clues.into(), share));
        let sample = mix(&sample).unwrap();
        assert_close(sample.mean, 25.6669, 0.000_05);
        assert_close(sample.standard_deviation(), 1.1160, 0.000_05);

        let choose = |n: u32| (0..n).fold(1.0, |c, i| c * f64::from(81 - i) / f64::from(i + 1));
        let all = percent.map(|(n, share)| Stratum::of_value(n.into(), share * choose(n)));
        let all = mix(&all).unwrap();
        assert_close(all.mean, 26.5761, 0.000_05);
        assert_close(all.standard_deviation(), 1.1151, 0.000_05);
        // Clue counts don't vary inside their own strata: only the part between them is left.
        assert_eq!(all.variance_within, 0.0);
    }

    #[test]
    fn too_few_values_and_too_large_ones_are_refused() {
        assert_eq!(moments(&[]).mean(), Err(StatsError::TooFewValues { expected: 1, found: 0 }));
        assert_eq!(
            moments(&[7]).variance(),
            Err(StatsError::TooFewValues { expected: 2, found: 1 })
        );
        assert_eq!(moments(&[i64::MIN; 4]).variance(), Err(StatsError::Overflow));
        assert_eq!(moments(&[i64::MIN; 9]).variance(), Err(StatsError::Overflow));
    }

    #[test]
    fn bad_strata_are_refused() {
        assert_eq!(mix(&[]), Err(StatsError::NoWeight));
        assert_eq!(mix(&[Stratum::of_value(1.0, 0.0)]), Err(StatsError::NoWeight));
        assert_eq!(mix(&[Stratum::of_value(1.0, -1.0)]), Err(StatsError::Weight(-1.0)));
        assert!(mix(&[Stratum::of_value(f64::NAN, 1.0)]).is_err());
        assert!(mix(&[Stratum { weight: 1.0, mean: 0.0, variance: -1.0 }]).is_err());
    }

    /// Sums of squares near 10^18 leave no digits for a variance of 1 in floating point.
    #[test]
    fn variance_is_exact_far_from_zero() {
        let far = 1_000_000_000;
        assert_eq!(moments(&[far - 1, far, far + 1]).variance(), Ok(1.0));
    }

    proptest! {
        #[test]
        fn merging_is_adding(values in prop::collection::vec(-1_000_000i64..1_000_000, 2..40), cut in 0usize..40) {
            let (left, right) = values.split_at(cut.min(values.len()));
            let mut merged = moments(right);
            merged += moments(left);
            prop_assert_eq!(merged, moments(&values));
        }

        /// Pooling samples as strata with their divisor-n variances gives the variance of all values.
        #[test]
        fn strata_of_a_sample_give_its_variance(
            a in prop::collection::vec(-1000i64..1000, 2..20),
            b in prop::collection::vec(-1000i64..1000, 2..20),
        ) {
            let stratum = |values: &[i64]| {
                let sums = moments(values);
                let n = values.len() as f64;
                let variance = sums.variance().unwrap() * (n - 1.0) / n;
                Stratum { weight: n, mean: sums.mean().unwrap(), variance }
            };
            let all = stratum(&[&a[..], &b[..]].concat());
            let mixed = mix(&[stratum(&a), stratum(&b)]).unwrap();
            prop_assert!((mixed.mean - all.mean).abs() < 1e-9);
            prop_assert!((mixed.variance() - all.variance).abs() < 1e-6);
        }
    }
}
