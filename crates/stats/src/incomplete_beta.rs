//! The binomial density and the regularised incomplete beta function for counts up to 10^12.
//!
//! `statrs` has both, but takes its prefactor from differences of log-gammas and stops the continued
//! fraction after 140 terms: the tests below show what that costs with large counts. Here the
//! density is Loader's saddle-point form (C. Loader, "Fast and Accurate Computation of Binomial
//! Probabilities", 2000), and the fraction runs until it has converged.

use std::f64::consts::PI;

use statrs::function::gamma::ln_gamma;

/// A probability together with its complement, both with all their digits.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Odds {
    pub(crate) hit: f64,
    pub(crate) miss: f64,
}

impl Odds {
    pub(crate) fn of(hit: f64) -> Self {
        Self { hit, miss: 1.0 - hit }
    }

    pub(crate) fn swapped(self) -> Self {
        Self { hit: self.miss, miss: self.hit }
    }

    fn ln_hit(self) -> f64 {
        if self.hit < self.miss { self.hit.ln() } else { (-self.miss).ln_1p() }
    }
}

/// The density of `hits` hits beside `misses` misses; both may be fractions.
pub(crate) fn binomial_density(hits: f64, misses: f64, odds: Odds) -> f64 {
    let trials = hits + misses;
    if hits == 0.0 {
        return (misses * odds.swapped().ln_hit()).exp();
    }
    if misses == 0.0 {
        return (hits * odds.ln_hit()).exp();
    }
    if odds.hit == 0.0 || odds.miss == 0.0 {
        return 0.0;
    }
    let exponent = stirling_rest(trials)
        - stirling_rest(hits)
        - stirling_rest(misses)
        - deviance(hits, trials * odds.hit)
        - deviance(misses, trials * odds.miss);
    exponent.exp() * (trials / (2.0 * PI * hits * misses)).sqrt()
}

/// ln n! less Stirling's formula.
fn stirling_rest(n: f64) -> f64 {
    if n < 16.0 {
        return ln_gamma(n + 1.0) - (n + 0.5) * n.ln() + n - 0.5 * (2.0 * PI).ln();
    }
    let square = n * n;
    (1.0 / 12.0
        - (1.0 / 360.0 - (1.0 / 1260.0 - (1.0 / 1680.0 - 1.0 / 1188.0 / square) / square) / square)
            / square)
        / n
}

/// count · ln(count / mean) + mean − count, by a series where the terms would cancel.
fn deviance(count: f64, mean: f64) -> f64 {
    let gap = count - mean;
    if gap.abs() >= 0.1 * (count + mean) {
        return count * (count / mean).ln() - gap;
    }
    let v = gap / (count + mean);
    let mut sum = gap * v;
    let mut power = 2.0 * count * v;
    let mut odd = 3.0;
    loop {
        power *= v * v;
        let next = sum + power / odd;
        if next == sum {
            return sum;
        }
        sum = next;
        odd += 2.0;
    }
}

/// I_x(a, b) at x = `odds.hit`, for a ≥ 1 and b ≥ 1.
///
/// With whole numbers this is the probability of at least a hits in a + b − 1 trials.
pub(crate) fn incomplete_beta(a: f64, b: f64, odds: Odds) -> f64 {
    if a * odds.miss < b * odds.hit {
        1.0 - lower_part(b, a, odds.swapped())
    } else {
        lower_part(a, b, odds)
    }
}

fn lower_part(a: f64, b: f64, odds: Odds) -> f64 {
    if odds.hit == 0.0 {
        return 0.0;
    }
    a * binomial_density(a, b - 1.0, odds) * odds.miss / continued_fraction(a, b, odds)
}

/// The continued fraction under the prefactor x^a·(1 − x)^b / B(a, b), by the modified method of
/// Lentz.
///
/// In this form, where x enters as a(1 − x) − bx, nothing cancels for x close to 1. A. R. DiDonato &
/// A. H. Morris, ACM Trans. Math. Softw. 18, 1992, 360–373.
fn continued_fraction(a: f64, b: f64, odds: Odds) -> f64 {
    const CONVERGED: f64 = 1e-15;
    let Odds { hit: x, miss: y } = odds;
    let gap = a * y - b * x + 1.0;
    let denominator = |m: f64| {
        m + m * (b - m) * x / (a + 2.0 * m - 1.0)
            + (a + m) * (gap + m * (1.0 + y)) / (a + 2.0 * m + 1.0)
    };
    let mut value = a * gap / (a + 1.0);
    let mut c = value;
    let mut d = 0.0;
    let mut m = 0.0;
    loop {
        m += 1.0;
        let scale = x / (a + 2.0 * m - 1.0);
        let numerator = (a + m - 1.0) * (a + b + m - 1.0) * m * (b - m) * scale * scale;
        let next = denominator(m);
        d = 1.0 / (next + numerator * d);
        c = next + numerator / c;
        let step = c * d;
        value *= step;
        if (step - 1.0).abs() <= CONVERGED || step.is_nan() {
            return value;
        }
    }
}

/// The x at which I_x(a, b) is `probability`, sought from `start`.
pub(crate) fn rising_quantile(a: f64, b: f64, probability: f64, start: f64) -> f64 {
    root(start, |x| {
        let odds = Odds::of(x);
        let tail = incomplete_beta(a, b, odds);
        let slope = a * binomial_density(a, b - 1.0, odds) / tail;
        ((tail / probability).ln(), slope)
    })
}

/// The x at which I_{1−x}(a, b) is `probability`, sought from `start`: no digits of a small x are
/// lost.
pub(crate) fn falling_quantile(a: f64, b: f64, probability: f64, start: f64) -> f64 {
    root(start, |x| {
        let odds = Odds::of(x).swapped();
        let tail = incomplete_beta(a, b, odds);
        let slope = x * a * binomial_density(a, b - 1.0, odds) / ((1.0 - x) * tail);
        ((probability / tail).ln(), slope)
    })
}

/// The root between 0 and 1 of a rising function that gives its value and its slope by ln x:
/// Newton's steps in ln x, and halving where one leaves the bracket.
fn root(start: f64, function: impl Fn(f64) -> (f64, f64)) -> f64 {
    const STEPS: u32 = 200;
    let (mut low, mut high, mut x) = (0.0, 1.0, start);
    for _ in 0..STEPS {
        let (value, slope) = function(x);
        if value < 0.0 {
            low = x;
        } else {
            high = x;
        }
        let newton = x * (-value / slope).exp();
        if (newton - x).abs() <= 4.0 * f64::EPSILON * x {
            return newton;
        }
        x = if low < newton && newton < high { newton } else { f64::midpoint(low, high) };
        if high - low <= 4.0 * f64::EPSILON * low {
            return x;
        }
    }
    x
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{Binomial, Discrete};
    use statrs::function::beta::beta_reg;

    use super::*;
    use crate::test_support::{assert_close, assert_relative};

    #[test]
    fn density_agrees_with_exact_coefficients() {
        // 10 choose 3 = 120 and 60 choose 30 = 118264581564861424.
        assert_relative(binomial_density(3.0, 7.0, Odds::of(0.5)), 120.0 / 1024.0, 1e-13);
        let central = 118_264_581_564_861_424.0 / 2f64.powi(60);
        assert_relative(binomial_density(30.0, 30.0, Odds::of(0.5)), central, 1e-13);
        assert_eq!(binomial_density(0.0, 4.0, Odds::of(0.0)), 1.0);
        assert_eq!(binomial_density(1.0, 4.0, Odds::of(0.0)), 0.0);
        assert_eq!(binomial_density(4.0, 0.0, Odds::of(1.0)), 1.0);
    }

    #[test]
    fn density_agrees_with_statrs() {
        for (trials, share) in [(5, 0.3), (40, 0.01), (263, 0.31), (1000, 0.5)] {
            let law = Binomial::new(share, trials).unwrap();
            for hits in 0..=trials {
                let expected = law.pmf(hits);
                let found = binomial_density(hits as f64, (trials - hits) as f64, Odds::of(share));
                assert_close(found, expected, 1e-11 * expected + 1e-300);
            }
        }
    }

    #[test]
    fn tail_is_the_sum_of_the_density() {
        for (trials, share) in [(1u32, 0.2), (7, 0.5), (60, 0.03), (400, 0.9), (2000, 0.4)] {
            let odds = Odds::of(share);
            let mut sum = 0.0;
            for hits in (1..=trials).rev() {
                sum += binomial_density(hits.into(), (trials - hits).into(), odds);
                let tail = incomplete_beta(hits.into(), (trials - hits + 1).into(), odds);
                assert_close(tail, sum, 1e-12 * sum + 1e-300);
            }
        }
    }

    #[test]
    fn tail_agrees_with_statrs_where_its_fraction_converges() {
        for (a, b) in [(1.5, 2.5), (3.25, 80.0), (40.0, 60.5), (150.0, 149.0)] {
            for x in [0.01, 0.1, 0.3, 0.5, 0.7, 0.99] {
                assert_close(incomplete_beta(a, b, Odds::of(x)), beta_reg(a, b, x), 1e-12);
            }
        }
    }

    /// By symmetry, I_½(a, a) = ½ for every a. The second half is the reason for this module.
    #[test]
    fn the_middle_is_one_half_where_statrs_has_lost_it() {
        for a in [1.0, 1e3, 1e6, 1e9] {
            assert_close(incomplete_beta(a, a, Odds::of(0.5)), 0.5, 1e-11);
        }
        assert!((beta_reg(1e6, 1e6, 0.5) - 0.5).abs() > 1e-3);
    }

    #[test]
    fn quantiles_give_the_tail_back() {
        for (a, b) in [(3.0, 999_998.0), (5.0, 1e9 - 4.0), (4.0, 1e12 - 3.0), (5e5, 5e5 + 1.0)] {
            let x = rising_quantile(a, b, 0.025, a / (a + b));
            assert_relative(incomplete_beta(a, b, Odds::of(x)), 0.025, 1e-11);
            let x = falling_quantile(b, a, 0.025, a / (a + b));
            assert_relative(incomplete_beta(b, a, Odds::of(x).swapped()), 0.025, 1e-11);
        }
    }
}
