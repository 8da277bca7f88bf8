//! Sums over puzzles for one number, with their weights and families.

use std::ops::AddAssign;

use tallyhouse_stats::{Clusters, Estimate, Families, Level, StatsError};

use super::puzzle::WalkedPuzzle;

/// A numerator and a denominator over puzzles. Whole numbers, so that they merge in any order.
#[derive(Clone, Debug, Default)]
pub(super) struct Tally {
    /// The numerator without weights.
    pub(super) hits: u64,
    /// The denominator without weights.
    pub(super) of: u64,
    /// Both times the puzzles' weights in millionths.
    sums: Families<2>,
    /// The most units of a puzzle.
    most: u64,
    /// The least and the greatest weight.
    weights: Option<[i128; 2]>,
}

impl Tally {
    /// Adds a puzzle. One without a unit says nothing of the number and is left out, so that the
    /// degrees of freedom count only puzzles that can differ.
    pub(super) fn add(&mut self, puzzle: &WalkedPuzzle<'_>, hits: u64, of: u64) {
        if of == 0 {
            return;
        }
        self.hits += hits;
        self.of += of;
        self.most = self.most.max(of);
        let weight = puzzle.weight();
        self.sums.add(puzzle.family(), [hits, of].map(|count| i128::from(count) * weight));
        let [least, most] = self.weights.unwrap_or([weight; 2]);
        self.weights = Some([least.min(weight), most.max(weight)]);
    }

    /// Returns the sums over independent units.
    pub(super) fn clusters(&self) -> Clusters<2> {
        self.sums.clusters()
    }

    /// Returns the numerator's share, by weight if puzzles themselves are the units.
    pub(super) fn share(&self, level: Level) -> Result<Estimate, StatsError> {
        if self.most == 1 {
            self.clusters().share_by_weight(level)
        } else {
            self.clusters().share(level)
        }
    }

    /// Tests if some puzzles depend on each other.
    pub(super) fn has_families(&self) -> bool {
        self.sums.families() > 0
    }

    /// Tests if every puzzle counts the same and none depends on another.
    pub(super) fn is_plain(&self) -> bool {
        !self.has_families() && self.weights.is_none_or(|[least, most]| least == most)
    }
}

impl AddAssign<&Self> for Tally {
    fn add_assign(&mut self, other: &Self) {
        self.hits += other.hits;
        self.of += other.of;
        self.most = self.most.max(other.most);
        self.sums += &other.sums;
        self.weights = match (self.weights, other.weights) {
            (Some([a, b]), Some([c, d])) => Some([a.min(c), b.max(d)]),
            (some, none) => some.or(none),
        };
    }
}
