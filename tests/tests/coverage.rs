//! How often the intervals of rates hold the truth: clusters are drawn again and again from a large pool
//! of real ones, whose own rates are the truth.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use tallyhouse_census::{PuzzleScan, Scanner};
use tallyhouse_collection::{Entry, MinimalByDeletion, Weight};
use tallyhouse_engine::WalkOptions;
use tallyhouse_stats::{Level, Rate, RateCluster};

/// A puzzle: its weight, its houses by open count and those that show each shape, all by
/// weight.
#[derive(Clone, Default)]
struct Unit {
    weight: i128,
    houses: [i128; 10],
    shown: [[i128; 10]; 10],
}

impl Unit {
    fn add(&mut self, scan: &PuzzleScan) {
        let weight = scan.entry.millionths();
        self.weight = weight;
        for position in &scan.positions {
            for (sum, houses) in self.houses.iter_mut().zip(position.exposure.all()) {
                *sum += weight * i128::from(houses);
            }
        }
        let proper = scan.subsets.iter().filter(|(_, subset)| subset.is_proper());
        let mut seen: Vec<_> = proper
            .map(|(at, s)| (*at, s.house, usize::from(s.open), usize::from(s.naked)))
            .collect();
        seen.sort_unstable();
        seen.dedup();
        seen.iter().for_each(|&(_, _, open, naked)| self.shown[open][naked] += weight);
    }

    fn of_shape(&self, open: usize, naked: usize) -> RateCluster {
        let (hits, trials) = (self.shown[open][naked], self.houses[open]);
        RateCluster { weight: self.weight, hits, trials, cost: 0 }
    }
}

/// Puzzles by random deletion, in whole thousands, each a cluster.
fn puzzles(thousands: u64, weight: impl Fn(u64) -> Option<Weight> + Sync) -> Vec<Unit> {
    let scanned = |thousand: u64| {
        let numbers = 1000 * thousand..1000 * (thousand + 1);
        let made = MinimalByDeletion { seed: 5 }.puzzles(numbers.clone());
        let entry = |(number, puzzle)| {
            let mut entry = Entry::new(number, puzzle);
            entry.weight = weight(number);
            Ok(entry)
        };
        let mut scanner = Scanner::new(&WalkOptions::default(), false);
        let scans = scanner.scan(numbers.zip(made).map(entry).collect()).into_iter();
        let unit = |scan: Result<&PuzzleScan, _>| {
            let mut unit = Unit::default();
            unit.add(scan.unwrap());
            unit
        };
        scans.map(unit).collect::<Vec<_>>()
    };
    (0..thousands).into_par_iter().flat_map_iter(scanned).collect()
}

#[derive(Default)]
struct Tally {
    effective: f64,
    /// Samples with limits at both ends, and those of them that hold the truth.
    printed: [u32; 2],
    /// Samples with few hits, and those of them whose upper end is not below the truth.
    few: [u32; 2],
}

const DRAWS: u32 = 2000;

/// Draws samples of so many clusters and tallies how often each shape's interval holds the truth. At
/// least so many shapes have 100 effective hits or more, limits at both ends, or few hits.
fn check(name: &str, pool: &[Unit], size: usize, expected: [usize; 3]) {
    let shapes: Vec<(usize, usize)> =
        (4..10).flat_map(|open| (2..open - 1).map(move |naked| (open, naked))).collect();
    let tallies: Vec<Tally> = shapes
        .par_iter()
        .map(|&(open, naked)| {
            let clusters: Vec<RateCluster> =
                pool.iter().map(|unit| unit.of_shape(open, naked)).collect();
            let [hits, trials] = [|c: &RateCluster| c.hits, |c: &RateCluster| c.trials]
                .map(|of| clusters.iter().map(of).sum::<i128>() as f64);
            let truth = hits / trials;
            let mut random = ChaCha8Rng::seed_from_u64((10 * open + naked) as u64);
            let mut tally = Tally::default();
            for _ in 0..DRAWS {
                let mut rate = Rate::default();
                for _ in 0..size {
                    rate.add(clusters[random.random_range(0..clusters.len())]);
                }
                tally.effective += rate.effective_hits() / f64::from(DRAWS);
                let share = rate.share(Level::default()).unwrap();
                let high = share.high.is_some_and(|high| truth <= high);
                let (sum, holds) = match share.low {
                    Some(low) => (&mut tally.printed, low <= truth && high),
                    None => (&mut tally.few, high),
                };
                sum[0] += 1;
                sum[1] += u32::from(holds);
            }
            tally
        })
        .collect();
    let part = |[all, some]: [u32; 2]| f64::from(some) / f64::from(all.max(1));
    let mut shapes_with = [0; 3];
    for ((open, naked), tally) in shapes.iter().zip(&tallies) {
        let (printed, few) = (part(tally.printed), part(tally.few));
        println!(
            "{name}, {size} clusters, {open} open, naked {naked}: {:.1} effective hits; {} printed hold \
             {printed:.4}, {} with few hits {few:.4}",
            tally.effective, tally.printed[0], tally.few[0]
        );
        if tally.effective >= 100.0 {
            shapes_with[0] += 1;
            assert!((0.93..=0.97).contains(&printed), "{name} {open} {naked}: {printed}");
        }
        // Of fewer samples, chance alone may leave less.
        if tally.printed[0] >= 400 {
            shapes_with[1] += 1;
            assert!(printed >= 0.9, "{name} {open} {naked}: {printed}");
        }
        if tally.few[0] >= 400 {
            shapes_with[2] += 1;
            assert!(few >= 0.9, "{name} {open} {naked}: {few}");
        }
    }
    let enough = shapes_with.iter().zip(expected).all(|(found, expected)| *found >= expected);
    assert!(enough, "{name}: {shapes_with:?}");
}

#[test]
#[ignore = "takes a minute or two"]
fn intervals_of_rates_hold_the_truth() {
    let pool = puzzles(60, |_| None);
    check("puzzles", &pool, 1000, [5, 10, 8]);
    check("puzzles", &pool, 10_000, [12, 15, 3]);
    // One in ten weighs a hundred times as much: 5,000 puzzles are worth some 590.
    let heavy = |number: u64| {
        Weight::from_millionths(if number.is_multiple_of(10) { 100_000_000 } else { 1_000_000 })
    };
    check("puzzles by weight", &puzzles(60, heavy), 5000, [0, 5, 8]);
}
