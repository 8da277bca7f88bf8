//! What was counted, over all puzzles.

use std::ops::AddAssign;
use std::sync::Arc;

use tallyhouse_board::HouseKind;
use tallyhouse_collection::Entry;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_stats::{AddClusters, Rate, RateCluster};

use super::count::{Counts, LINES, PLACES, Place, Sheet};

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
    /// The same of looks that failed everywhere: the positions, and those where a later look finds
    /// something; by way and line.
    pub(super) failures: Sheet,
}

impl<Q: ?Sized> Default for Cluster<Q> {
    fn default() -> Self {
        let [sheet, failures] = Default::default();
        Self { asked: None, weight: 0, puzzles: 0, sheet, failures }
    }
}

impl<Q: ?Sized> Cluster<Q> {
    /// Takes one puzzle with its counts, to which it gives its weight.
    pub(super) fn of_puzzle(asked: &Arc<Q>, entry: &Entry, sheet: Sheet) -> Self {
        let (weight, failures) = (entry.millionths(), Sheet::default());
        Self {
            asked: Some(asked.clone()),
            weight,
            puzzles: 1,
            sheet: sheet.times(weight),
            failures,
        }
    }

    /// The same with the looks that failed everywhere.
    pub(super) fn with_failures(self, failures: Sheet) -> Self {
        Self { failures: failures.times(self.weight), ..self }
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
        self.failures += &other.failures;
    }
}

/// How far the finds of a look lead, and whether anything comes after it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct ProgressRates {
    /// Finds, and those of them that bring a single.
    pub(super) singles: Rate,
    /// Looks, those of them that bring a single, and glances.
    pub(super) cost: Rate,
    /// Positions where the look failed everywhere, and those of them where a later look finds something.
    pub(super) later: Rate,
}

/// Rates by reading, look, open count and kind of house; the kinds first all together.
#[derive(Debug, Default)]
pub(super) struct YieldSums {
    rates: Vec<[Rate; KINDS + 1]>,
    /// By reading and line.
    progress: Vec<ProgressRates>,
    pub(super) clusters: u64,
}

impl YieldSums {
    /// The rates of a reading at the place with this index and its other kinds of house.
    pub(super) fn rates(&self, reading: usize, place: usize) -> [Rate; KINDS + 1] {
        self.rates.get(group(reading, place)).copied().unwrap_or_default()
    }

    /// What came of the looks of a reading in one line.
    pub(super) fn progress(&self, reading: usize, line: usize) -> ProgressRates {
        self.progress.get(reading * LINES + line).copied().unwrap_or_default()
    }

    /// Adds the looks of one way and their progress.
    fn add_way(&mut self, weight: i128, readings: &[Reading], lines: &[(usize, Counts)]) {
        let way = lines[0].0 / PLACES;
        let numbered = readings.iter().enumerate();
        for (number, reading) in numbered.filter(|(_, reading)| reading.way == way) {
            let looks = lines.chunk_by(|a, b| Place::line_of_all(a.0) == Place::line_of_all(b.0));
            for opens in looks {
                let mut look = Counts::default();
                for kinds in opens.chunk_by(|a, b| a.0 / KINDS == b.0 / KINDS) {
                    let rates = &mut self.rates[group(number, kinds[0].0 % PLACES)];
                    let mut all = Counts::default();
                    for (index, counts) in kinds {
                        rates[1 + index % KINDS].add(reading.rate(weight, counts));
                        all += *counts;
                    }
                    rates[0].add(reading.rate(weight, &all));
                    let line = number * LINES + Place::line(kinds[0].0);
                    self.progress[line].add(weight, reading, &all);
                    look += all;
                }
                let line = number * LINES + Place::line_of_all(opens[0].0);
                self.progress[line].add(weight, reading, &look);
            }
        }
    }
}

impl Reading {
    /// Finds among looks made, and their costs.
    fn rate(&self, weight: i128, counts: &Counts) -> RateCluster {
        let (hits, trials) = (counts.finds, counts.made);
        RateCluster { weight, hits, trials, cost: self.cost(counts) }
    }
}

impl ProgressRates {
    fn add(&mut self, weight: i128, reading: &Reading, counts: &Counts) {
        let &Counts { made, finds, then_single: hits, .. } = counts;
        self.singles.add(RateCluster { weight, hits, trials: finds, cost: 0 });
        self.cost.add(RateCluster { weight, hits, trials: made, cost: reading.cost(counts) });
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
        if self.rates.is_empty() {
            self.rates.resize_with(group(readings.len(), 0), Default::default);
            self.progress.resize_with(readings.len() * LINES, Default::default);
        }
        for lines in cluster.sheet.lines.chunk_by(|a, b| a.0 / PLACES == b.0 / PLACES) {
            self.add_way(weight, readings, lines);
        }
        for &(index, Counts { made: trials, finds: hits, .. }) in &cluster.failures.lines {
            let numbered = readings.iter().enumerate();
            for (number, _) in numbered.filter(|(_, reading)| reading.way == index / LINES) {
                let rates = &mut self.progress[number * LINES + index % LINES];
                rates.later.add(RateCluster { weight, hits, trials, cost: 0 });
            }
        }
    }

    fn merge(&mut self, other: Self) {
        self.clusters += other.clusters;
        if self.rates.is_empty() {
            (self.rates, self.progress) = (other.rates, other.progress);
            return;
        }
        for (mine, theirs) in self.rates.iter_mut().flatten().zip(other.rates.into_iter().flatten())
        {
            *mine += theirs;
        }
        for (mine, theirs) in self.progress.iter_mut().zip(other.progress) {
            mine.singles += theirs.singles;
            mine.cost += theirs.cost;
            mine.later += theirs.later;
        }
    }
}
