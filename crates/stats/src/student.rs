//! Student's t.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Student's t with at least one degree of freedom.
pub(crate) struct Student(Law);

enum Law {
    T(StudentsT),
    Normal(Normal),
}

impl Student {
    /// From here on the normal law stands in. Its tail at 2 is off by 6·10⁻⁷ of itself here, while
    /// the t of `statrs` loses digits as the degrees of freedom grow.
    const MANY: u64 = 10_000_000;

    pub(crate) fn new(degrees_of_freedom: u64) -> Self {
        if degrees_of_freedom < Self::MANY
            && let Ok(law) = StudentsT::new(0.0, 1.0, degrees_of_freedom as f64)
        {
            return Self(Law::T(law));
        }
        Self(Law::Normal(Normal::standard()))
    }

    /// The probability of more than t.
    pub(crate) fn upper_tail(&self, t: f64) -> f64 {
        match &self.0 {
            Law::T(law) => law.sf(t),
            Law::Normal(law) => law.sf(t),
        }
    }

    /// The t above which this probability, less than ½, lies.
    ///
    /// Found by halving: `StudentsT::inverse_cdf` of `statrs` gives 1.827 for 1.960 with 10⁷ degrees
    /// of freedom and does not return with 10⁹.
    pub(crate) fn upper_quantile(&self, probability: f64) -> f64 {
        let (mut low, mut high) = (0.0, 2.0);
        while self.upper_tail(high) > probability {
            low = high;
            high *= 2.0;
        }
        loop {
            let middle = f64::midpoint(low, high);
            if middle == low || middle == high {
                return middle;
            }
            if self.upper_tail(middle) > probability { low = middle } else { high = middle }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::assert_close;

    /// Upper 2.5 % points, as in any table of Student's t.
    #[test]
    fn quantiles_agree_with_tables() {
        let rows =
            [(1, 12.7062), (2, 4.3027), (4, 2.7764), (9, 2.2622), (11, 2.2010), (30, 2.0423)];
        for (freedom, expected) in rows {
            assert_close(Student::new(freedom).upper_quantile(0.025), expected, 0.000_05);
        }
    }

    /// t = z + (z³ + z)/(4ν) + (5z⁵ + 16z³ + 3z)/(96ν²) + …: M. Abramowitz & I. Stegun, *Handbook of
    /// Mathematical Functions*, 26.7.5.
    #[test]
    fn quantiles_of_many_degrees_agree_with_the_expansion() {
        let z: f64 = 1.959_963_984_540_054;
        for freedom in [1000, 100_000, 1_000_000, 9_999_999, 10_000_000, 1_000_000_000] {
            let v = freedom as f64;
            let expected = z
                + (z.powi(3) + z) / (4.0 * v)
                + (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / (96.0 * v * v);
            let found = Student::new(freedom).upper_quantile(0.025);
            assert_close(found, expected, 3e-7);
        }
    }

    /// With one degree of freedom the law is Cauchy's, whose upper tail is ½ − atan(t)/π.
    #[test]
    fn one_degree_is_the_cauchy_law() {
        let law = Student::new(1);
        for t in [-3.0f64, 0.0, 0.4, 2.0, 50.0] {
            assert_close(law.upper_tail(t), 0.5 - t.atan() / std::f64::consts::PI, 1e-12);
        }
    }
}
