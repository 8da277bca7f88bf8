use crate::StatsError;

/// Returns Kish's effective sample size (Σw)² / Σw² of independent units, from classes of a weight
/// and how many units have it.
///
/// It is the number of equally weighted units that would estimate a mean as precisely, if the
/// weights say nothing about the values. L. Kish, *Survey Sampling*, 1965, §11.7 (from memory).
///
/// # Errors
/// If a weight is negative or not finite, or no unit has a positive one.
pub fn effective_sample_size(classes: &[(f64, u64)]) -> Result<f64, StatsError> {
    let filled = classes.iter().filter(|(_, units)| *units > 0);
    let largest = check_weights(filled.map(|&(weight, _)| weight))?;
    let sum = |power: i32| {
        let filled = classes.iter().filter(|(_, units)| *units > 0);
        // Relative to the largest, so that the squares of extreme weights stay finite.
        filled.map(|&(weight, units)| (weight / largest).powi(power) * units as f64).sum()
    };
    let (total, squares): (f64, f64) = (sum(1), sum(2));
    Ok(total * total / squares)
}

/// Checks weights and returns the largest.
pub(crate) fn check_weights(weights: impl Iterator<Item = f64>) -> Result<f64, StatsError> {
    let mut largest = 0.0;
    for weight in weights {
        if !(weight.is_finite() && weight >= 0.0) {
            return Err(StatsError::Weight(weight));
        }
        largest = f64::max(largest, weight);
    }
    if largest > 0.0 { Ok(largest) } else { Err(StatsError::NoWeight) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::assert_close;

    #[test]
    fn equal_weights_keep_the_sample_size() {
        assert_eq!(effective_sample_size(&[(0.3, 40)]), Ok(40.0));
        // Huge weights, as binomial coefficients are, don't overflow.
        assert_eq!(effective_sample_size(&[(1e300, 40)]), Ok(40.0));
    }

    #[test]
    fn unequal_weights_lower_it() {
        // (1 + 2 + 3)² / (1 + 4 + 9).
        let size = effective_sample_size(&[(1.0, 1), (2.0, 1), (3.0, 1)]).unwrap();
        assert_close(size, 36.0 / 14.0, 1e-14);
        let size = effective_sample_size(&[(1.0, 50), (0.0, 50)]).unwrap();
        assert_close(size, 50.0, 1e-12);
    }

    #[test]
    fn bad_weights_are_refused() {
        assert_eq!(effective_sample_size(&[]), Err(StatsError::NoWeight));
        assert_eq!(effective_sample_size(&[(1.0, 0)]), Err(StatsError::NoWeight));
        assert_eq!(effective_sample_size(&[(-1.0, 1)]), Err(StatsError::Weight(-1.0)));
        assert!(effective_sample_size(&[(f64::NAN, 1)]).is_err());
        assert_eq!(effective_sample_size(&[(f64::NAN, 0), (1.0, 3)]), Ok(3.0));
    }
}
