//! Many tests at once: adjusted p-values, in the order of the input.

use crate::{Level, StatsError};

/// Returns p-values adjusted by Holm's step-down method, which holds the probability of any false
/// rejection at the error rate whatever the dependence between the tests.
///
/// In rising order p₍ᵢ₎ becomes the largest of (m − j + 1)·p₍ⱼ₎ over j ≤ i, at most 1. S. Holm,
/// Scand. J. Statist. 6, 1979, 65–70 (from memory).
///
/// # Errors
/// [`StatsError::PValue`] if one is outside 0 to 1.
pub fn holm(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    let order = rising_order(p_values)?;
    let mut adjusted = vec![0.0; p_values.len()];
    let mut largest = 0.0;
    for (rank, index) in order.into_iter().enumerate() {
        let factor = (p_values.len() - rank) as f64;
        largest = f64::max(largest, (factor * p_values[index]).min(1.0));
        adjusted[index] = largest;
    }
    Ok(adjusted)
}

/// Returns p-values adjusted by Bonferroni's method: m·p, at most 1. Never below [`holm`].
///
/// # Errors
/// [`StatsError::PValue`] if one is outside 0 to 1.
pub fn bonferroni(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    check(p_values)?;
    let tests = p_values.len() as f64;
    Ok(p_values.iter().map(|p| (tests * p).min(1.0)).collect())
}

/// Returns p-values adjusted by the method of Benjamini and Hochberg, which holds the expected
/// share of false ones among the rejections at the error rate for independent tests.
///
/// In rising order p₍ᵢ₎ becomes the least of m/j·p₍ⱼ₎ over j ≥ i. Y. Benjamini & Y. Hochberg, J. R.
/// Statist. Soc. B 57, 1995, 289–300.
///
/// # Errors
/// [`StatsError::PValue`] if one is outside 0 to 1.
pub fn benjamini_hochberg(p_values: &[f64]) -> Result<Vec<f64>, StatsError> {
    let order = rising_order(p_values)?;
    let mut adjusted = vec![0.0; p_values.len()];
    let mut least = 1.0;
    for (rank, index) in order.into_iter().enumerate().rev() {
        let factor = p_values.len() as f64 / (rank + 1) as f64;
        least = f64::min(least, factor * p_values[index]);
        adjusted[index] = least;
    }
    Ok(adjusted)
}

/// Tells for each adjusted p-value if its hypothesis is rejected: it is at most 1 − level.
///
/// # Errors
/// [`StatsError::PValue`] if one is outside 0 to 1.
pub fn rejected(adjusted: &[f64], level: Level) -> Result<Vec<bool>, StatsError> {
    check(adjusted)?;
    Ok(adjusted.iter().map(|&p| p <= level.error_rate()).collect())
}

fn check(p_values: &[f64]) -> Result<(), StatsError> {
    match p_values.iter().find(|p| !(0.0..=1.0).contains(*p)) {
        Some(&p) => Err(StatsError::PValue(p)),
        None => Ok(()),
    }
}

fn rising_order(p_values: &[f64]) -> Result<Vec<usize>, StatsError> {
    check(p_values)?;
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|&a, &b| p_values[a].total_cmp(&p_values[b]));
    Ok(order)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::test_support::assert_close;

    /// Y. Benjamini & Y. Hochberg, J. R. Statist. Soc. B 57, 1995, 289–300, §4 (data of Neuhaus et
    /// al.).
    const NEUHAUS: [f64; 15] = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
        0.5719, 0.6528, 0.7590, 1.0000,
    ];

    fn rejections(adjusted: &[f64]) -> usize {
        rejected(adjusted, Level::P95).unwrap().into_iter().filter(|&yes| yes).count()
    }

    #[test]
    fn benjamini_hochberg_1995_section_4() {
        let adjusted = benjamini_hochberg(&NEUHAUS).unwrap();
        let expected = [
            0.0015,
            0.003,
            0.0095,
            0.035_625,
            0.0603,
            0.063_857_14,
            0.063_857_14,
            0.0645,
            0.0765,
            0.486,
            0.581_181_82,
            0.714_875,
            0.753_230_77,
            0.813_214_29,
            1.0,
        ];
        for (found, expected) in adjusted.iter().zip(expected) {
            assert_close(*found, expected, 5e-9);
        }
        assert_eq!(rejections(&adjusted), 4);
    }

    /// The same data.
    #[test]
    fn holm_and_bonferroni_reject_three() {
        let adjusted = holm(&NEUHAUS).unwrap();
        for (found, expected) in
            adjusted.iter().zip([0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2780])
        {
            assert_close(*found, expected, 1e-12);
        }
        assert_eq!(rejections(&adjusted), 3);
        assert_eq!(rejections(&bonferroni(&NEUHAUS).unwrap()), 3);
    }

    #[test]
    fn nothing_to_adjust_is_fine_and_bad_p_values_are_refused() {
        assert_eq!(holm(&[]), Ok(vec![]));
        assert_eq!(holm(&[0.2, 1.5]), Err(StatsError::PValue(1.5)));
        assert!(bonferroni(&[f64::NAN]).is_err());
        assert!(benjamini_hochberg(&[-0.1]).is_err());
        assert!(rejected(&[f64::NAN], Level::P95).is_err());
    }

    proptest! {
        #[test]
        fn order_of_input_does_not_matter_and_methods_are_ordered(
            p_values in prop::collection::vec(0.0f64..=1.0, 1..30),
        ) {
            let reversed: Vec<f64> = p_values.iter().rev().copied().collect();
            for method in [holm, bonferroni, benjamini_hochberg] {
                let mut back = method(&reversed).unwrap();
                back.reverse();
                prop_assert_eq!(&method(&p_values).unwrap(), &back);
            }
            let (b, h, bh) = (
                bonferroni(&p_values).unwrap(),
                holm(&p_values).unwrap(),
                benjamini_hochberg(&p_values).unwrap(),
            );
            for i in 0..p_values.len() {
                prop_assert!(p_values[i] <= bh[i] && bh[i] <= h[i] + 1e-15 && h[i] <= b[i]);
            }
        }

        /// Holm as defined: go up the sorted p-values, reject while p ≤ α/(m − rank).
        #[test]
        fn holm_rejects_as_the_step_down_procedure(
            p_values in prop::collection::vec(0.0f64..0.1, 1..20),
        ) {
            let alpha = Level::P95.error_rate();
            let mut sorted = p_values.clone();
            sorted.sort_by(f64::total_cmp);
            let steps = sorted
                .iter()
                .enumerate()
                .take_while(|(rank, p)| **p * (sorted.len() - rank) as f64 <= alpha)
                .count();
            prop_assert_eq!(rejections(&holm(&p_values).unwrap()), steps);
        }
    }
}
