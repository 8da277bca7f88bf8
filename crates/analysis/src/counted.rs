use std::ops::AddAssign;

use tallyhouse_stats::{Estimate, Families, Level, StatsError};

/// Puzzles that were counted, with what they weigh by family, in millionths.
#[derive(Clone, Debug, Default)]
pub(crate) struct Counted {
    pub(crate) puzzles: u64,
    weights: Families<1>,
}

impl Counted {
    /// Counts a puzzle.
    pub(crate) fn add(&mut self, family: Option<u64>, weight: i128) {
        self.puzzles += 1;
        self.weights.add(family, [weight]);
    }

    /// Returns what they weigh together.
    pub(crate) fn weight(&self) -> i128 {
        self.weights.clusters().sum(0)
    }

    /// Returns how many families they belong to.
    pub(crate) fn families(&self) -> u64 {
        self.weights.families()
    }

    /// Returns how many independent units they are: families, and puzzles without one.
    pub(crate) fn units(&self) -> u64 {
        self.weights.clusters().clusters()
    }

    /// Returns their share of all puzzles, by weight.
    pub(crate) fn share(&self, all: &Self, level: Level) -> Result<Estimate, StatsError> {
        self.weights.among(&all.weights).share_by_weight(level)
    }
}

impl AddAssign<&Self> for Counted {
    fn add_assign(&mut self, other: &Self) {
        self.puzzles += other.puzzles;
        self.weights += &other.weights;
    }
}
