//! How often intervals of level 95 % hold the truth: by enumeration where all outcomes can be
//! listed, else by simulation with a fixed seed.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{Binomial, Discrete};
use tallyhouse_stats::{Clusters, Interval, Level, PairedCounts, Share};

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
        let coverage = coverages(trials, |share| share.wilson(Level::default()));
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
        let coverage = coverages(trials, |share| share.clopper_pearson(Level::default()));
        println!("exact, n = {trials}: mean {:.4}, least {:.4}", mean(&coverage), least(&coverage));
        assert!(least(&coverage) >= 0.95);
    }
}

#[test]
fn the_choice_between_them_holds_up_where_hits_are_rare() {
    let rare: Vec<f64> = {
        let intervals: Vec<_> = (0..=1000)
            .map(|hits| Share::new(hits, 1000).unwrap().estimate(Level::default()).interval)
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

/// All tables of 30 units, for several laws. The lowered φ makes the interval cautious where the two
/// properties mostly agree.
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
        let mut paired = 0.0;
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
                    if table.difference(Level::default()).interval.contains(f - g) {
                        paired += probability;
                    }
                }
            }
        }
        println!("paired {e} {f} {g} {h}: {paired:.4}");
        assert!((0.945..0.995).contains(&paired));
    }
}

/// Clusters of 1 to 9 places. Each cluster has its own rate, 0.05 or 0.55 with even odds, so that
/// places inside one cluster are alike; the true ratio is 0.3.
struct Population {
    random: ChaCha8Rng,
}

impl Population {
    const RATIO: f64 = 0.3;

    fn seeded(seed: u64) -> Self {
        Self { random: ChaCha8Rng::seed_from_u64(seed) }
    }

    fn cluster(&mut self) -> [i128; 2] {
        let places = self.random.random_range(1..=9i128);
        let rate = if self.random.random_bool(0.5) { 0.05 } else { 0.55 };
        let hits = (0..places).filter(|_| self.random.random_bool(rate)).count();
        [hits as i128, places]
    }

    fn clusters(&mut self, count: u32) -> Clusters<2> {
        let mut clusters = Clusters::default();
        (0..count).for_each(|_| clusters.add(self.cluster()));
        clusters
    }
}

fn share_of(repetitions: u32, mut covered: impl FnMut() -> bool) -> f64 {
    f64::from((0..repetitions).map(|_| u32::from(covered())).sum::<u32>()) / f64::from(repetitions)
}

#[test]
fn the_ratio_over_clusters_covers_its_level_and_ignoring_clusters_does_not() {
    let mut population = Population::seeded(11);
    let mut naive = 0;
    let repetitions = 4000;
    let covered = share_of(repetitions, || {
        let clusters = population.clusters(80);
        let share = Share::new(clusters.sum(0) as u64, clusters.sum(1) as u64).unwrap();
        naive += u32::from(share.wilson(Level::default()).contains(Population::RATIO));
        clusters.ratio(Level::default()).unwrap().interval.contains(Population::RATIO)
    });
    let naive = f64::from(naive) / f64::from(repetitions);
    println!("ratio over 80 clusters: {covered:.4}; places as if independent: {naive:.4}");
    // The standard error of 4000 repetitions is 0.0034.
    assert!((covered - 0.95).abs() < 0.012);
    assert!(naive < 0.88);
}

#[test]
fn p_values_of_the_ratio_reject_a_true_bound_as_often_as_stated() {
    let mut population = Population::seeded(12);
    let rejected = share_of(4000, || {
        let ratio = population.clusters(80).ratio(Level::default()).unwrap();
        ratio.p_value_below(Population::RATIO).unwrap() <= 0.05
    });
    println!("a true bound is rejected at 5 %: {rejected:.4}");
    assert!((rejected - 0.05).abs() < 0.015);
}

/// Two costs of the same places, a pair of ratios whose quotient is 0.3 / 0.5.
#[test]
fn ratios_of_ratios_and_differences_cover_their_level() {
    let mut population = Population::seeded(13);
    let mut differences = 0;
    let repetitions = 4000;
    let covered = share_of(repetitions, || {
        let mut pairs = Clusters::<4>::default();
        for _ in 0..80 {
            let [hits, places] = population.cluster();
            let [other, more] = population.cluster();
            // The second ratio: places hit in either of two looks at them, hits in the first.
            pairs.add([hits, places, 2 * hits + other, 3 * (places + more)]);
        }
        let difference = pairs.pick([0, 2, 1]).difference(Level::default()).unwrap();
        // Per place 0.3 − (0.6 + 0.3).
        differences += u32::from(difference.interval.contains(-0.6));
        let ratio = pairs.ratio_of_ratios(Level::default()).unwrap();
        // 0.3 / (0.9 · 5 / (3 · 10)) with 5 places on average.
        ratio.interval.contains(2.0)
    });
    let differences = f64::from(differences) / f64::from(repetitions);
    println!("ratio of ratios over 80 clusters: {covered:.4}; difference: {differences:.4}");
    assert!((covered - 0.95).abs() < 0.015);
    // Differences allow for heavy clusters that were not met; of these none is.
    assert!((0.935..0.995).contains(&differences));
}

/// Families of very unequal weight: about a tenth of them weigh nine tenths of all. `rate` is how many
/// of the families have the property, the light ones and the heavy ones.
fn unequal_families(random: &mut ChaCha8Rng, families: u32, rate: [f64; 2]) -> Clusters<2> {
    let mut clusters = Clusters::default();
    for _ in 0..families {
        let heavy = random.random_bool(0.1);
        let weight = if heavy { 81 } else { 1 };
        let hit = random.random_bool(rate[usize::from(heavy)]);
        clusters.add([i128::from(hit) * weight, weight]);
    }
    clusters
}

#[test]
fn weighted_shares_cover_their_level_where_families_are_unequal() {
    let mut random = ChaCha8Rng::seed_from_u64(14);
    let covered = share_of(2000, || {
        let families = unequal_families(&mut random, 2000, [0.4, 0.4]);
        families.share(Level::default()).unwrap().interval.contains(0.4)
    });
    println!("weighted share, 2000 families worth 200: {covered:.4}");
    assert!((covered - 0.95).abs() < 0.015);
}

/// One in ten of the heavy families has the property, which is 9 % of the weight. A sample of 200
/// holds some 20 of them, so one sample in eight or so has no hit at all.
#[test]
fn a_weighted_share_without_hits_covers_the_truth_and_counting_families_does_not() {
    let mut random = ChaCha8Rng::seed_from_u64(15);
    let truth = 0.09;
    let (mut none, mut as_counted) = (0, 0);
    let missed = (0..2000)
        .map(|_| unequal_families(&mut random, 200, [0.0, 0.1]))
        .filter(|families| families.sum(0) == 0)
        .filter(|families| {
            none += 1;
            let counted = Share::new(0, families.clusters()).unwrap().estimate(Level::default());
            as_counted += u32::from(counted.interval.contains(truth));
            !families.share(Level::default()).unwrap().interval.contains(truth)
        })
        .count();
    println!("no hit in {none} of 2000 samples; of these {missed} missed the truth");
    assert!(none > 150);
    assert!(missed * 20 <= none, "{missed} of {none}");
    assert_eq!(as_counted, 0);
}
