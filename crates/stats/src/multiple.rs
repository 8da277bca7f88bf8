//! Many tests at once: adjusted p-values, in the order of the input.

use crate::StatsError;

/// Returns p-values adjusted by Holm's step-down method, which holds the probability of any false
/// rejection at the error rate whatever the dependence between the tests.
///
/// In rising order p₍ᵢ₎ becomes the largest of (m − j + 1)·p₍ⱼ₎ over j ≤ i, at most 1. S. Holm,
/// Scand. J. Statist. 6, 1979, 65–70.
///
/// ```
/// use tallyhouse_stats::holm;
///
/// assert_eq!(holm(&[0.01, 0.25, 0.5])?, [0.03, 0.5, 0.5]);
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
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

fn rising_order(p_values: &[f64]) -> Result<Vec<usize>, StatsError> {
    if let Some(&p) = p_values.iter().find(|p| !(0.0..=1.0).contains(*p)) {
        return Err(StatsError::PValue(p));
    }
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|&a, &b| p_values[a].total_cmp(&p_values[b]));
    Ok(order)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::Level;
    use crate::test_support::assert_close;

    fn rejections(adjusted: &[f64]) -> usize {
        adjusted.iter().filter(|&&p| p <= Level::default().error_rate()).count()
    }

    /// Y. Benjamini & Y. Hochberg, J. R. Statist. Soc. B 57, 1995, 289–300, §4 (data of Neuhaus et
    /// al.): controlling the familywise error rate at 0.05 rejects the three smallest of fifteen.
    #[test]
    fn neuhaus_data_have_three_rejections() {
        let p_values = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
            0.5719, 0.6528, 0.7590, 1.0000,
        ];
        let adjusted = holm(&p_values).unwrap();
        let expected = [0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2780];
        for (found, expected) in adjusted.iter().zip(expected) {
            assert_close(*found, expected, 1e-12);
        }
        assert_eq!(rejections(&adjusted), 3);
    }

    #[test]
    fn nothing_to_adjust_is_fine_and_bad_p_values_are_refused() {
        assert_eq!(holm(&[]), Ok(vec![]));
        assert_eq!(holm(&[0.2, 1.5]), Err(StatsError::PValue(1.5)));
        assert_eq!(holm(&[-0.1]), Err(StatsError::PValue(-0.1)));
        assert!(holm(&[f64::NAN]).is_err());
    }

    proptest! {
        /// Never below the p-value, never above Bonferroni's m·p.
        #[test]
        fn order_of_input_does_not_matter(p_values in prop::collection::vec(0.0f64..=1.0, 1..30)) {
            let adjusted = holm(&p_values).unwrap();
            let reversed: Vec<f64> = p_values.iter().rev().copied().collect();
            let mut back = holm(&reversed).unwrap();
            back.reverse();
            prop_assert_eq!(&adjusted, &back);
            let tests = p_values.len() as f64;
            for (p, adjusted) in p_values.iter().zip(&adjusted) {
                prop_assert!(p <= adjusted && *adjusted <= (tests * p).min(1.0));
            }
        }

        /// Holm as defined: go up the sorted p-values, reject while p ≤ α/(m − rank).
        #[test]
        fn holm_rejects_as_the_step_down_procedure(
            p_values in prop::collection::vec(0.0f64..0.1, 1..20),
        ) {
            let alpha = Level::default().error_rate();
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
