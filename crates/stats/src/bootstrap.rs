//! The bootstrap over clusters.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::Serialize;

use crate::{Estimate, Interval, Level, Method, StatsError};

/// One cluster: two numbers that are summed over clusters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cluster {
    /// What was counted.
    pub y: f64,
    /// The size, or a second count.
    pub x: f64,
}

/// How to resample.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Resampling {
    /// The seed; the same seed gives the same result.
    pub seed: u64,
    /// How many resamples to draw, at least 2. Percentile intervals need 1000 or more.
    pub resamples: u32,
}

/// A statistic and how it varied over resamples.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bootstrap {
    /// The statistic of the sample itself.
    pub value: f64,
    /// The standard deviation over the resamples (divisor B − 1).
    pub standard_error: f64,
    /// The mean over the resamples less the value.
    pub bias: f64,
    /// What was drawn.
    pub resampling: Resampling,
    #[serde(skip)]
    sorted: Vec<f64>,
}

impl Bootstrap {
    /// Returns the percentile interval: the quantiles of the resamples that leave half of the error
    /// rate on either side. A quantile at p is the least resampled value with a share of at least p
    /// at or below it.
    ///
    /// The value itself may lie outside when the resamples are badly biased. B. Efron &
    /// R. Tibshirani, *An Introduction to the Bootstrap*, 1993, ch. 13 (from memory).
    #[must_use]
    pub fn estimate(&self, level: Level) -> Estimate {
        let tail = level.error_rate() / 2.0;
        let interval = Interval { low: self.quantile(tail), high: self.quantile(1.0 - tail) };
        Estimate { value: self.value, interval, method: Method::BootstrapPercentile }
    }

    fn quantile(&self, share: f64) -> f64 {
        let last = self.sorted.len() - 1;
        let rank = (share * self.sorted.len() as f64).ceil() as usize;
        self.sorted[rank.saturating_sub(1).min(last)]
    }
}

/// Draws as many clusters as there are, with replacement, again and again, and computes the
/// statistic from the sums (Σy, Σx) of each draw.
///
/// Assumes independent clusters from one law. Costs clusters × resamples random numbers. Sums are
/// taken in the order of the draws, so a seed gives the same bits everywhere.
///
/// A. C. Davison & D. V. Hinkley, *Bootstrap Methods and Their Application*, 1997, ch. 2.
///
/// # Errors
/// With fewer than two clusters or resamples, numbers that aren't finite, or a statistic that isn't
/// finite for the sample or for a draw.
pub fn cluster_bootstrap(
    clusters: &[Cluster],
    resampling: Resampling,
    statistic: impl Fn(f64, f64) -> f64,
) -> Result<Bootstrap, StatsError> {
    if clusters.len() < 2 {
        return Err(StatsError::TooFewClusters(clusters.len() as u64));
    }
    if resampling.resamples < 2 {
        return Err(StatsError::TooFewResamples(resampling.resamples));
    }
    let bad = |cluster: &Cluster| !(cluster.y.is_finite() && cluster.x.is_finite());
    if let Some(index) = clusters.iter().position(bad) {
        return Err(StatsError::Cluster { index });
    }
    let evaluate = |sums: Cluster| {
        let value = statistic(sums.y, sums.x);
        if value.is_finite() {
            Ok(value)
        } else {
            Err(StatsError::Statistic { y: sums.y, x: sums.x })
        }
    };
    let value = evaluate(sum(clusters.iter()))?;
    let mut random = ChaCha8Rng::seed_from_u64(resampling.seed);
    let mut sorted = (0..resampling.resamples)
        .map(|_| {
            let draw = clusters.iter().map(|_| &clusters[random.random_range(0..clusters.len())]);
            evaluate(sum(draw))
        })
        .collect::<Result<Vec<_>, _>>()?;
    sorted.sort_by(f64::total_cmp);
    let count = sorted.len() as f64;
    let mean = sorted.iter().sum::<f64>() / count;
    let squares: f64 = sorted.iter().map(|drawn| (drawn - mean).powi(2)).sum();
    let standard_error = (squares / (count - 1.0)).sqrt();
    Ok(Bootstrap { value, standard_error, bias: mean - value, resampling, sorted })
}

fn sum<'a>(clusters: impl Iterator<Item = &'a Cluster>) -> Cluster {
    clusters.fold(Cluster { y: 0.0, x: 0.0 }, |sums, cluster| Cluster {
        y: sums.y + cluster.y,
        x: sums.x + cluster.x,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::{assert_close, assert_relative};

    const SEED: u64 = 20_260_101;

    fn clusters(pairs: &[(f64, f64)]) -> Vec<Cluster> {
        pairs.iter().map(|&(y, x)| Cluster { y, x }).collect()
    }

    fn ratio(y: f64, x: f64) -> f64 {
        y / x
    }

    const CITIES: [(f64, f64); 10] = [
        (143.0, 138.0),
        (104.0, 93.0),
        (69.0, 61.0),
        (260.0, 179.0),
        (75.0, 48.0),
        (63.0, 37.0),
        (50.0, 29.0),
        (48.0, 23.0),
        (111.0, 30.0),
        (50.0, 2.0),
    ];

    /// Every multiset of ten cities with its probability 10!/(10^10 · ∏ counts!), with the ratio.
    fn exact_law() -> Vec<(f64, f64)> {
        fn extend(city: usize, left: u32, weight: f64, sums: Cluster, law: &mut Vec<(f64, f64)>) {
            let (y, x) = CITIES[city];
            let mut weight = weight;
            for count in 0..=left {
                if count > 0 {
                    weight /= f64::from(count);
                }
                let times = f64::from(count);
                let sums = Cluster { y: sums.y + times * y, x: sums.x + times * x };
                if city + 1 < CITIES.len() {
                    extend(city + 1, left - count, weight, sums, law);
                } else if count == left {
                    law.push((ratio(sums.y, sums.x), weight));
                }
            }
        }
        let mut law = Vec::new();
        extend(0, 10, 3_628_800.0 / 1e10, Cluster { y: 0.0, x: 0.0 }, &mut law);
        law.sort_by(|a, b| a.0.total_cmp(&b.0));
        law
    }

    fn quantile_of(law: &[(f64, f64)], share: f64) -> f64 {
        let mut below = 0.0;
        law.iter()
            .find(|(_, weight)| {
                below += weight;
                below >= share
            })
            .unwrap()
            .0
    }

    /// Ten cities: A. C. Davison & D. V. Hinkley, *Bootstrap Methods and Their Application*, 1997,
    /// ex. 1.2 (data set `city`). The law of the bootstrap is enumerated in full; 200 000 resamples
    /// must come within four of their own standard errors of it.
    #[test]
    fn davison_hinkley_cities_against_the_exact_law() {
        let law = exact_law();
        assert_eq!(law.len(), 92_378);
        let mean: f64 = law.iter().map(|(value, weight)| value * weight).sum();
        let variance: f64 = law.iter().map(|(v, weight)| (v - mean).powi(2) * weight).sum();
        assert_close(mean, 1.559_786_1, 5e-8);
        assert_close(variance.sqrt(), 0.221_498_1, 5e-8);
        let known =
            [(0.025, 1.251_116_1), (0.05, 1.285_714_3), (0.5, 1.519_886_4), (0.95, 1.968_045_1)];
        for (share, expected) in known.into_iter().chain([(0.975, 2.106_976_7)]) {
            assert_close(quantile_of(&law, share), expected, 5e-8);
        }

        let resampling = Resampling { seed: SEED, resamples: 200_000 };
        let found = cluster_bootstrap(&clusters(&CITIES), resampling, ratio).unwrap();
        assert_close(found.value, 1.520_312_5, 1e-15);
        assert_close(found.bias, 0.039_473_6, 4.0 * 0.2215 / 200_000f64.sqrt());
        assert_relative(found.standard_error, variance.sqrt(), 0.01);
        for (level, low, high) in [(0.95, 0.025, 0.975), (0.9, 0.05, 0.95)] {
            let interval = found.estimate(Level::new(level).unwrap()).interval;
            // The share of the law at or below each limit, within four binomial standard errors.
            for (limit, share) in [(interval.low, low), (interval.high, high)] {
                let below: f64 =
                    law.iter().filter(|(v, _)| *v <= limit).map(|(_, weight)| weight).sum();
                let error = 4.0 * (share * (1.0 - share) / 200_000.0f64).sqrt();
                assert_close(below, share, error + 2e-4);
            }
        }
    }

    /// Mouse survival: B. Efron & R. Tibshirani, *An Introduction to the Bootstrap*, 1993, Tables
    /// 2.1 and 2.2 (from memory): ideal bootstrap standard errors of the mean 23.3635 and 13.3489,
    /// which are √((n − 1)/n) times the textbook ones.
    #[test]
    fn efron_tibshirani_ideal_standard_errors() {
        let treatment = [94.0, 197.0, 16.0, 38.0, 99.0, 141.0, 23.0].as_slice();
        let control = [52.0, 104.0, 146.0, 10.0, 51.0, 30.0, 40.0, 27.0, 46.0].as_slice();
        for (group, ideal) in [(treatment, 23.3635), (control, 13.3489)] {
            let group: Vec<_> = group.iter().map(|&y| Cluster { y, x: 1.0 }).collect();
            let resampling = Resampling { seed: SEED, resamples: 100_000 };
            let found = cluster_bootstrap(&group, resampling, ratio).unwrap();
            // Four standard errors of a standard deviation: 4 / √(2B).
            assert_relative(found.standard_error, ideal, 0.009);
        }
    }

    #[test]
    fn a_seed_gives_the_same_bits() {
        let cities = clusters(&CITIES);
        let draw =
            |seed| cluster_bootstrap(&cities, Resampling { seed, resamples: 50 }, ratio).unwrap();
        assert_eq!(draw(1), draw(1));
        assert_ne!(draw(1).standard_error, draw(2).standard_error);
    }

    #[test]
    fn quantiles_are_order_statistics() {
        let resampling = Resampling { seed: 0, resamples: 4 };
        let sorted = vec![1.0, 2.0, 3.0, 4.0];
        let drawn = Bootstrap { value: 2.0, standard_error: 1.0, bias: 0.0, resampling, sorted };
        assert_eq!(drawn.quantile(0.25), 1.0);
        assert_eq!(drawn.quantile(0.26), 2.0);
        assert_eq!(drawn.quantile(1e-9), 1.0);
        assert_eq!(drawn.quantile(1.0), 4.0);
    }

    #[test]
    fn bad_input_is_refused() {
        let resampling = Resampling { seed: 1, resamples: 10 };
        let bootstrap = |pairs: &[(f64, f64)], resampling| {
            cluster_bootstrap(&clusters(pairs), resampling, ratio)
        };
        assert_eq!(bootstrap(&[(1.0, 1.0)], resampling), Err(StatsError::TooFewClusters(1)));
        assert_eq!(
            bootstrap(&[(1.0, 1.0), (f64::NAN, 1.0)], resampling),
            Err(StatsError::Cluster { index: 1 })
        );
        assert_eq!(
            bootstrap(&[(1.0, 1.0); 2], Resampling { resamples: 1, ..resampling }),
            Err(StatsError::TooFewResamples(1))
        );
        assert_eq!(
            bootstrap(&[(1.0, 0.0); 3], resampling),
            Err(StatsError::Statistic { y: 3.0, x: 0.0 })
        );
    }
}
