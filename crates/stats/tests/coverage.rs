//! How often intervals of level 95 % hold the truth: by enumeration where all outcomes can be
//! listed, else by simulation with a fixed seed.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{Binomial, Discrete};
use tallyhouse_stats::{
    Cluster, ClusterSums, Interval, Level, PairedCounts, Resampling, Share, cluster_bootstrap,
    newcombe_difference,
};

/// The probabilities of 0 to n hits.
fn law(trials: u64, share: f64) -> Vec<f64> {
    let law = Binomial::new(share, trials).unwrap();
    (0..=trials).map(|hits| law.pmf(hits)).collect()
}

/// The coverage at each of 999 probabilities, exact.
fn coverages(trials: u64, interval: fn(Share) -> Interval) -> Vec<f64> {
    let intervals: Vec<_> =
        (0..=trials).map(|hits| interval(Share::new(hits, trials).unwrap())).collect();
    (1..1000)
        .map(|thousandths| {
            let share = f64::from(thousandths) / 1000.0;
            let covering = intervals.iter().zip(law(trials, share));
            covering.filter(|(i, _)| i.contains(share)).map(|(_, p)| p).sum()
        })
        .collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn least(values: &[f64]) -> f64 {
    values.iter().copied().fold(1.0, f64::min)
}

#[test]
fn wilson_covers_its_level_on_average() {
    for trials in [10, 30, 100, 300] {
        let coverage = coverages(trials, |share| share.wilson(Level::P95));
        println!(
            "Wilson, n = {trials}: mean {:.4}, least {:.4}",
            mean(&coverage),
            least(&coverage)
        );
        assert!((mean(&coverage) - 0.95).abs() < 0.005);
        assert!(least(&coverage) > 0.83);
    }
}

#[test]
fn clopper_pearson_always_covers_its_level() {
    for trials in [10, 30, 100, 300] {
        let coverage = coverages(trials, |share| share.clopper_pearson(Level::P95));
        println!("exact, n = {trials}: mean {:.4}, least {:.4}", mean(&coverage), least(&coverage));
        assert!(least(&coverage) >= 0.95);
    }
}

#[test]
fn the_choice_between_them_holds_up_where_hits_are_rare() {
    let rare: Vec<f64> = {
        let intervals: Vec<_> = (0..=1000)
            .map(|hits| Share::new(hits, 1000).unwrap().estimate(Level::P95).interval)
            .collect();
        (1..100)
            .map(|i| f64::from(i) / 5000.0)
            .map(|share| {
                let covering = intervals.iter().zip(law(1000, share));
                covering.filter(|(i, _)| i.contains(share)).map(|(_, p)| p).sum()
            })
            .collect()
    };
    println!("choice, n = 1000, p < 0.02: mean {:.4}, least {:.4}", mean(&rare), least(&rare));
    assert!(least(&rare) > 0.93);
}

/// The one-sided limit for any number of hits.
#[test]
fn the_exact_upper_limit_always_covers_its_level() {
    let coverage =
        coverages(60, |share| Interval { low: 0.0, high: share.exact_upper(Level::P95) });
    assert!(least(&coverage) >= 0.95);
}

#[test]
fn newcombe_differences_cover_their_level_on_average() {
    let (m, n) = (30, 40);
    let intervals: Vec<Vec<_>> = (0..=m)
        .map(|a| {
            let first = Share::new(a, m).unwrap();
            (0..=n)
                .map(|b| newcombe_difference(first, Share::new(b, n).unwrap(), Level::P95).interval)
                .collect()
        })
        .collect();
    let shares = || (1..20).map(|twentieths| f64::from(twentieths) / 20.0);
    let mut coverage = Vec::new();
    for p in shares() {
        for q in shares() {
            let (first, second) = (law(m, p), law(n, q));
            let mut covered = 0.0;
            for (row, a) in intervals.iter().zip(&first) {
                for (interval, b) in row.iter().zip(&second) {
                    if interval.contains(p - q) {
                        covered += a * b;
                    }
                }
            }
            coverage.push(covered);
        }
    }
    println!("Newcombe, 30 and 40: mean {:.4}, least {:.4}", mean(&coverage), least(&coverage));
    assert!((mean(&coverage) - 0.95).abs() < 0.01);
    assert!(least(&coverage) > 0.92);
}

/// All tables of 30 units, for several laws. The lowered φ makes the interval cautious where the two
/// properties mostly agree; the interval for separate samples, the negative control, ignores the
/// correlation and covers more still.
#[test]
fn newcombe_paired_differences_cover_their_level() {
    const UNITS: u64 = 30;
    let factorial: Vec<f64> = (0..=UNITS)
        .scan(1.0, |f, n| {
            Some({
                *f *= (n.max(1)) as f64;
                *f
            })
        })
        .collect();
    for [e, f, g, h] in [
        [0.4, 0.1, 0.1, 0.4],
        [0.6, 0.1, 0.05, 0.25],
        [0.25, 0.25, 0.25, 0.25],
        [0.1, 0.3, 0.1, 0.5],
        [0.45, 0.05, 0.05, 0.45],
    ] {
        let (mut paired, mut separate) = (0.0, 0.0);
        for both in 0..=UNITS {
            for first in 0..=UNITS - both {
                for second in 0..=UNITS - both - first {
                    let neither = UNITS - both - first - second;
                    let table = PairedCounts::new(both, first, second, neither).unwrap();
                    let probability = [(both, e), (first, f), (second, g), (neither, h)]
                        .iter()
                        .fold(factorial[UNITS as usize], |product, &(count, p): &(u64, f64)| {
                            product * p.powi(count as i32) / factorial[count as usize]
                        });
                    if table.difference(Level::P95).interval.contains(f - g) {
                        paired += probability;
                    }
                    let blind = newcombe_difference(table.first(), table.second(), Level::P95);
                    if blind.interval.contains(f - g) {
                        separate += probability;
                    }
                }
            }
        }
        println!("paired {e} {f} {g} {h}: {paired:.4}, as if separate {separate:.4}");
        assert!((0.945..0.995).contains(&paired));
        if e * h > f * g {
            assert!(separate > paired);
        }
    }
}

/// Clusters of 1 to 9 places. Each cluster has its own rate, 0.05 or 0.55 with even odds, so that
/// places inside one cluster are alike; the true ratio is 0.3.
struct Clusters {
    random: ChaCha8Rng,
}

impl Clusters {
    const RATIO: f64 = 0.3;

    fn seeded(seed: u64) -> Self {
        Self { random: ChaCha8Rng::seed_from_u64(seed) }
    }

    fn draw(&mut self) -> (i64, u64) {
        let places = self.random.random_range(1..=9u64);
        let rate = if self.random.random_bool(0.5) { 0.05 } else { 0.55 };
        let hits = (0..places).filter(|_| self.random.random_bool(rate)).count();
        (hits as i64, places)
    }
}

fn share_of(repetitions: u32, mut covered: impl FnMut() -> bool) -> f64 {
    f64::from((0..repetitions).map(|_| u32::from(covered())).sum::<u32>()) / f64::from(repetitions)
}

#[test]
fn the_ratio_over_clusters_covers_its_level_and_ignoring_clusters_does_not() {
    let mut clusters = Clusters::seeded(11);
    let mut naive = 0;
    let repetitions = 4000;
    let covered = share_of(repetitions, || {
        let mut sums = ClusterSums::default();
        for _ in 0..80 {
            let (hits, places) = clusters.draw();
            sums.add(hits, places);
        }
        let share = Share::new(sums.y() as u64, sums.x() as u64).unwrap();
        naive += u32::from(share.wilson(Level::P95).contains(Clusters::RATIO));
        let estimate = sums.ratio().unwrap().estimate(Level::P95).unwrap();
        estimate.interval.contains(Clusters::RATIO)
    });
    let naive = f64::from(naive) / f64::from(repetitions);
    println!("ratio over 80 clusters: {covered:.4}; places as if independent: {naive:.4}");
    // The standard error of 4000 repetitions is 0.0034.
    assert!((covered - 0.95).abs() < 0.012);
    assert!(naive < 0.88);
}

#[test]
fn p_values_of_the_ratio_reject_a_true_bound_as_often_as_stated() {
    let mut clusters = Clusters::seeded(12);
    let rejected = share_of(4000, || {
        let mut sums = ClusterSums::default();
        for _ in 0..80 {
            let (hits, places) = clusters.draw();
            sums.add(hits, places);
        }
        sums.ratio().unwrap().p_value_below(Clusters::RATIO).unwrap().unwrap() <= 0.05
    });
    println!("a true bound is rejected at 5 %: {rejected:.4}");
    assert!((rejected - 0.05).abs() < 0.015);
}

#[test]
fn the_cluster_bootstrap_covers_its_level() {
    let mut clusters = Clusters::seeded(13);
    let mut seed = 0;
    let covered = share_of(1000, || {
        let sample: Vec<_> = (0..80)
            .map(|_| clusters.draw())
            .map(|(y, x)| Cluster { y: y as f64, x: x as f64 })
            .collect();
        seed += 1;
        let resampling = Resampling { seed, resamples: 500 };
        let found = cluster_bootstrap(&sample, resampling, |y, x| y / x).unwrap();
        found.estimate(Level::P95).interval.contains(Clusters::RATIO)
    });
    println!("cluster bootstrap over 80 clusters: {covered:.4}");
    // The standard error of 1000 repetitions is 0.007, and percentiles of few clusters are short.
    assert!((covered - 0.95).abs() < 0.025);
}
