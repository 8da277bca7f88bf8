use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

use crate::incomplete_beta::{Odds, binomial_density, incomplete_beta};

/// McNemar's tests of "as many units have only the first property as only the second".
///
/// All p-values are two-sided. With b and c units of the two kinds: χ² = (b − c)²/(b + c) with one
/// degree of freedom, (|b − c| − 1)²/(b + c) with continuity correction; exact: b is binomial with
/// b + c trials and probability ½.
///
/// Q. McNemar, Psychometrika 12, 1947, 153–157; A. Agresti, *Categorical Data Analysis*, 2002,
/// §10.1 (both from memory).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct McNemar {
    /// χ² without correction; none if no unit has one property only.
    pub chi_squared: Option<f64>,
    /// χ² with continuity correction; none if no unit has one property only.
    pub corrected_chi_squared: Option<f64>,
    /// The p-value of the exact binomial test.
    pub exact: f64,
    /// The mid-p value: the exact one less the probability of what was observed.
    pub mid_p: f64,
}

impl McNemar {
    pub(crate) fn of(first_only: u64, second_only: u64) -> Self {
        let gap = first_only.abs_diff(second_only) as f64;
        let (few, many) = (first_only.min(second_only) as f64, first_only.max(second_only) as f64);
        let chi_squared = |gap: f64| (few + many > 0.0).then(|| gap * gap / (few + many));
        let even = Odds::of(0.5);
        // At most `few` of the one kind is at least `many` of the other.
        let tail = if many == 0.0 { 1.0 } else { incomplete_beta(many, few + 1.0, even) };
        Self {
            chi_squared: chi_squared(gap),
            corrected_chi_squared: chi_squared((gap - 1.0).max(0.0)),
            exact: (2.0 * tail).min(1.0),
            mid_p: 2.0 * tail - binomial_density(few, many, even),
        }
    }

    /// Returns the p-value of χ² without correction.
    #[must_use]
    pub fn chi_squared_p_value(&self) -> Option<f64> {
        self.chi_squared.map(one_degree_tail)
    }

    /// Returns the p-value of χ² with continuity correction.
    #[must_use]
    pub fn corrected_p_value(&self) -> Option<f64> {
        self.corrected_chi_squared.map(one_degree_tail)
    }
}

/// The upper tail of χ² with one degree of freedom, as two normal tails: no cancellation.
fn one_degree_tail(chi_squared: f64) -> f64 {
    2.0 * Normal::standard().sf(chi_squared.sqrt())
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{Binomial, ChiSquared, Discrete};

    use super::*;
    use crate::PairedCounts;
    use crate::test_support::{assert_close, assert_relative};

    /// Approval ratings, n = 1600: A. Agresti, *Categorical Data Analysis* (1990 p. 350; 2002
    /// §10.1), also the example of R's `mcnemar.test`.
    #[test]
    fn agresti_approval_ratings() {
        let table = PairedCounts::new(794, 150, 86, 570).unwrap();
        let test = table.mcnemar();
        assert_close(test.chi_squared.unwrap(), 17.355_932_2, 5e-8);
        assert_relative(test.chi_squared_p_value().unwrap(), 3.099_29e-5, 2e-6);
        assert_close(test.chi_squared.unwrap().sqrt(), 4.17, 0.005);
        assert_close(test.corrected_chi_squared.unwrap(), 16.817_796_6, 5e-8);
        assert_relative(test.corrected_p_value().unwrap(), 4.114_56e-5, 2e-6);
        assert_relative(test.exact, 3.715_94e-5, 2e-6);
        assert_relative(test.mid_p, 2.893_39e-5, 2e-6);
        assert_close(table.first().value() - table.second().value(), 0.04, 1e-15);
    }

    /// Binomial identities.
    #[test]
    fn small_exact_p_values() {
        let rows =
            [(0, 5, 0.0625), (1, 9, 0.021_484_375), (8, 2, 0.109_375), (10, 0, 0.001_953_125)];
        for (b, c, p) in rows {
            assert_relative(McNemar::of(b, c).exact, p, 1e-13);
        }
        assert_eq!(McNemar::of(3, 3).exact, 1.0);
        assert_close(McNemar::of(3, 3).mid_p, 1.0, 1e-14);
        assert_eq!(McNemar::of(3, 3).corrected_chi_squared, Some(0.0));
    }

    #[test]
    fn no_discordant_units_show_nothing() {
        let test = McNemar::of(0, 0);
        assert_eq!(test.chi_squared, None);
        assert_eq!(test.corrected_p_value(), None);
        assert_eq!((test.exact, test.mid_p), (1.0, 1.0));
    }

    #[test]
    fn exact_p_values_are_density_sums() {
        for (b, c) in [(0u64, 1u64), (2, 9), (40, 71), (300, 260), (5, 5)] {
            let law = Binomial::new(0.5, b + c).unwrap();
            let tail: f64 = (0..=b.min(c)).map(|few| law.pmf(few)).sum();
            assert_relative(McNemar::of(b, c).exact, (2.0 * tail).min(1.0), 1e-11);
            assert_relative(McNemar::of(b, c).mid_p, 2.0 * tail - law.pmf(b.min(c)), 1e-11);
            assert_eq!(McNemar::of(b, c), McNemar::of(c, b));
        }
    }

    #[test]
    fn p_value_agrees_with_the_chi_squared_law_of_statrs() {
        let law = ChiSquared::new(1.0).unwrap();
        for chi_squared in [0.1, 1.0, 3.841_458_820_694_124, 10.0] {
            assert_relative(one_degree_tail(chi_squared), law.sf(chi_squared), 1e-9);
        }
        assert_close(one_degree_tail(3.841_458_820_694_124), 0.05, 1e-11);
    }

    /// With millions of discordant units the exact test and χ² agree.
    #[test]
    fn large_counts_approach_the_normal_law() {
        let test = McNemar::of(5_000_000, 5_005_000);
        assert_relative(test.mid_p, test.chi_squared_p_value().unwrap(), 1e-4);
    }
}
