//! How splitting goes down from level to level.

/// How many clue sets are carried down from level to level, and which are preferred.
pub(super) struct Descent {
    /// With how many clues it begins.
    pub(super) most_clues: usize,
    /// For each number of clues from there down; the last one stands for all below.
    pub(super) levels: &'static [Level],
}

/// The clue sets with the same number of clues.
pub(super) struct Level {
    /// How many are kept, in percent of the population.
    kept: usize,
    /// Each redundant clue less than so many makes a set worth so many times as much.
    few: (u32, f64),
    /// Each redundant clue more than so many makes a set worth so many times as much.
    many: (u32, f64),
}

impl Level {
    pub(super) const fn new(kept: usize, few: (u32, f64), many: (u32, f64)) -> Self {
        Self { kept, few, many }
    }

    pub(super) const fn kept(&self, population: usize) -> usize {
        (population * self.kept).div_ceil(100)
    }

    /// How much a set is worth by its redundant clues. Multiplied out, so that no two machines differ.
    pub(super) fn worth(&self, redundant: u32) -> f64 {
        let (few, many) = (redundant..self.few.0, self.many.0..redundant);
        let worth = few.fold(1.0, |worth, _| worth * self.few.1);
        many.fold(worth, |worth, _| worth * self.many.1)
    }
}

impl Descent {
    pub(super) fn level(&self, clues: usize) -> &'static Level {
        let last = self.levels.len() - 1;
        &self.levels[(self.most_clues - clues).min(last)]
    }
}
