//! What was counted, over all puzzles.

use std::ops::AddAssign;
use std::sync::Arc;

use tallyhouse_board::HouseKind;
use tallyhouse_collection::Entry;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_stats::{AddClusters, Rate, RateCluster};

use super::count::{Counts, PLACES, Sheet};

const KINDS: usize = HouseKind::ALL.len();

/// A reader's costs in one way of counting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reading {
    /// The way, by its number.
    pub(super) way: usize,
    /// What glances weigh.
    pub(super) weights: GlanceWeights,
}

impl Reading {
    /// The glances in millionths.
    pub(super) fn cost(&self, counts: &Counts) -> i128 {
        let [cell, place, try_] = self.weights.millionths();
        counts.cells_seen * cell + counts.places_gathered * place + counts.tries * try_
    }
}

/// The puzzles of one cluster, and what is asked of them.
pub(super) struct Cluster<Q: ?Sized> {
    pub(super) asked: Option<Arc<Q>>,
    /// The sum of their weights.
    weight: i128,
    puzzles: i128,
    /// Each puzzle's counts times its weight.
    pub(super) sheet: Sheet,
}

impl<Q: ?Sized> Default for Cluster<Q> {
    fn default() -> Self {
        Self { asked: None, weight: 0, puzzles: 0, sheet: Sheet::default() }
    }
}

impl<Q: ?Sized> Cluster<Q> {
    /// Takes one puzzle with its counts, to which it gives its weight.
    pub(super) fn of_puzzle(asked: &Arc<Q>, entry: &Entry, mut sheet: Sheet) -> Self {
        let weight = entry.millionths();
        sheet.lines.iter_mut().for_each(|(_, counts)| *counts = counts.times(weight));
        Self { asked: Some(asked.clone()), weight, puzzles: 1, sheet }
    }

    /// The mean weight of its puzzles, so that a cluster of one counts as its puzzle.
    pub(super) fn mean_weight(&self) -> i128 {
        RateCluster::mean_weight(self.weight, self.puzzles)
    }
}

impl<Q: ?Sized> AddAssign<&Self> for Cluster<Q> {
    fn add_assign(&mut self, other: &Self) {
        if self.asked.is_none() {
            self.asked.clone_from(&other.asked);
        }
        self.weight += other.weight;
        self.puzzles += other.puzzles;
        self.sheet += &other.sheet;
    }
}

/// Rates by reading, look, open count and kind of house; the kinds first all together.
#[derive(Debug, Default)]
pub(super) struct YieldSums {
    rates: Vec<[Rate; KINDS + 1]>,
    pub(super) clusters: u64,
}

impl YieldSums {
    /// The rates of a reading at the place with this index and its other kinds of house.
    pub(super) fn rates(&self, reading: usize, place: usize) -> [Rate; KINDS + 1] {
        self.rates.get(group(reading, place)).copied().unwrap_or_default()
    }
}

fn group(reading: usize, place: usize) -> usize {
    (reading * PLACES + place) / KINDS
}

impl AddClusters for YieldSums {
    type Cluster = Cluster<[Reading]>;

    fn add_cluster(&mut self, cluster: &Cluster<[Reading]>) {
        self.clusters += 1;
        let Some(readings) = &cluster.asked else { return };
        let weight = cluster.mean_weight();
        let size = group(readings.len(), 0);
        if self.rates.len() < size {
            self.rates.resize_with(size, Default::default);
        }
        let groups = cluster.sheet.lines.chunk_by(|a, b| a.0 / KINDS == b.0 / KINDS);
        for lines in groups {
            let (way, place) = (lines[0].0 / PLACES, lines[0].0 % PLACES);
            let numbered = readings.iter().enumerate();
            for (number, reading) in numbered.filter(|(_, reading)| reading.way == way) {
                let rates = &mut self.rates[group(number, place)];
                let mut all = RateCluster { weight, hits: 0, trials: 0, cost: 0 };
                for (index, counts) in lines {
                    let (hits, trials) = (counts.finds, counts.made);
                    let cost = reading.cost(counts);
                    rates[1 + index % KINDS].add(RateCluster { weight, hits, trials, cost });
                    all.hits += hits;
                    all.trials += trials;
                    all.cost += cost;
                }
                rates[0].add(all);
            }
        }
    }

    fn merge(&mut self, other: Self) {
        self.clusters += other.clusters;
        if self.rates.len() < other.rates.len() {
            self.rates.resize_with(other.rates.len(), Default::default);
        }
        for (mine, theirs) in self.rates.iter_mut().flatten().zip(other.rates.into_iter().flatten())
        {
            *mine += theirs;
        }
    }
}
