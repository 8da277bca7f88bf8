//! How clear a specimen is for teaching.

use serde::Serialize;
use tallyhouse_board::{Cell, DigitSet, House};
use tallyhouse_engine::{Position, Single, Size, Subset, hidden_singles, naked_singles};

/// How much each part of the score counts. The figures are a choice, not a measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Weights {
    /// What a specimen starts with.
    pub start: i32,
    /// Taken off for each other subset in the position.
    pub other_subset: i32,
    /// Added for each elimination.
    pub elimination: i32,
    /// Taken off for each candidate that has to be read.
    pub candidate_to_read: i32,
    /// Added if nothing easier is in the position.
    pub nothing_easier: i32,
    /// Added if the eliminations lead to a placement at once.
    pub leads_to_placement: i32,
}

/// The weights of the score.
pub const WEIGHTS: Weights = Weights {
    start: 100,
    other_subset: 2,
    elimination: 2,
    candidate_to_read: 1,
    nothing_easier: 20,
    leads_to_placement: 20,
};

/// What makes a specimen clear.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct ScoreParts {
    /// How many other subsets the position has, in all houses.
    pub other_subsets: u16,
    /// How many candidates the split removes.
    pub eliminations: u8,
    /// How many candidates the open cells of the house have: what a reader checks to follow.
    pub candidates_to_read: u8,
    /// If no look of the full ladder that comes before the one that finds this split finds anything
    /// in the position; false if no look of the ladder finds it.
    pub nothing_easier: bool,
    /// If a single that was not there before appears once the eliminations are made.
    pub leads_to_placement: bool,
}

impl ScoreParts {
    /// Returns the score:
    ///
    /// ```text
    /// 100 − 2 · other subsets + 2 · eliminations − candidates to read
    ///     + 20 if nothing is easier + 20 if it leads to a placement
    /// ```
    ///
    /// The numbers are those of [`WEIGHTS`].
    #[must_use]
    pub const fn score(&self) -> i32 {
        WEIGHTS.start - WEIGHTS.other_subset * self.other_subsets as i32
            + WEIGHTS.elimination * self.eliminations as i32
            - WEIGHTS.candidate_to_read * self.candidates_to_read as i32
            + WEIGHTS.nothing_easier * self.nothing_easier as i32
            + WEIGHTS.leads_to_placement * self.leads_to_placement as i32
    }

    /// Collects all parts but the last, which takes longer and is set to false. `subsets` is the
    /// number of subsets in the position.
    pub(super) fn before_placement(position: &Position, subsets: usize, subset: &Subset) -> Self {
        let candidates = |&cell: &Cell| position.candidates(cell).len();
        Self {
            other_subsets: subsets.saturating_sub(1).try_into().unwrap_or(u16::MAX),
            eliminations: subset.eliminations,
            candidates_to_read: subset.house.cells().iter().map(candidates).sum::<usize>() as u8, // at most 81
            nothing_easier: subset.applied,
            leads_to_placement: false,
        }
    }

    /// Returns the parts of the highest score that a subset of a quiet position can have, as far as
    /// is known without the board. Each open cell has two candidates at least, each digit of the
    /// hidden side two places at least, and what is removed stands beside those.
    pub(super) fn at_best(subsets: usize, subset: &Subset) -> Self {
        Self {
            other_subsets: subsets.saturating_sub(1).try_into().unwrap_or(u16::MAX),
            eliminations: subset.eliminations,
            candidates_to_read: (2 * subset.open).saturating_add(subset.eliminations),
            nothing_easier: subset.applied,
            leads_to_placement: true,
        }
    }
}

/// A single that eliminations bring about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NextSingle {
    pub(super) single: Single,
    pub(super) naked: bool,
}

/// Returns the candidates that a subset removes, by cell in the order of places.
pub(super) fn eliminations(position: &Position, subset: &Subset) -> Vec<(Cell, DigitSet)> {
    let others = position.open_places(subset.house) - subset.cells;
    let cells = others.iter().map(|place| subset.house.cells()[place]);
    let removed = cells.map(|cell| (cell, position.candidates(cell) & subset.digits));
    removed.filter(|(_, digits)| !digits.is_empty()).collect()
}

/// Returns the first single that is there after the eliminations and was not before.
pub(super) fn first_new_single(position: &Position, subset: &Subset) -> Option<NextSingle> {
    new_singles(position, subset).next()
}

/// Returns the singles that are there after the eliminations and were not before: naked ones first, houses
/// in order.
pub(super) fn new_singles(
    position: &Position,
    subset: &Subset,
) -> impl Iterator<Item = NextSingle> + use<> {
    let before = singles(position);
    let mut after = position.clone();
    for (cell, digits) in eliminations(position, subset) {
        after.remove(cell, digits);
    }
    let is_new = move |next: &NextSingle| {
        let same = |old: &NextSingle| {
            (old.single.cell, old.single.digit) == (next.single.cell, next.single.digit)
        };
        !before.iter().any(same)
    };
    singles(&after).into_iter().filter(is_new)
}

/// Returns all singles, naked ones first; houses in order.
pub(super) fn singles(position: &Position) -> Vec<NextSingle> {
    let Ok(one) = Size::new(1) else { return Vec::new() };
    let naked = House::all().flat_map(|house| naked_singles(position, house, one));
    let hidden = House::all().flat_map(|house| hidden_singles(position, house, one));
    naked
        .map(|single| NextSingle { single, naked: true })
        .chain(hidden.map(|single| NextSingle { single, naked: false }))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_part_moves_the_score_its_own_way() {
        for other_subsets in [0, 3, 60] {
            for eliminations in [1, 8, 20] {
                for candidates_to_read in [8, 20, 45] {
                    for (nothing_easier, leads_to_placement) in [(false, false), (true, false)] {
                        let parts = ScoreParts {
                            other_subsets,
                            eliminations,
                            candidates_to_read,
                            nothing_easier,
                            leads_to_placement,
                        };
                        let score = parts.score();
                        let more = ScoreParts { other_subsets: other_subsets + 1, ..parts };
                        assert!(more.score() < score);
                        let more = ScoreParts { eliminations: eliminations + 1, ..parts };
                        assert!(more.score() > score);
                        let more =
                            ScoreParts { candidates_to_read: candidates_to_read + 1, ..parts };
                        assert!(more.score() < score);
                        let more = ScoreParts { leads_to_placement: true, ..parts };
                        assert!(more.score() > score);
                        let easier = ScoreParts { nothing_easier: !nothing_easier, ..parts };
                        assert_eq!(easier.score() < score, nothing_easier);
                    }
                }
            }
        }
    }

    #[test]
    fn the_score_is_the_documented_formula() {
        let parts = ScoreParts {
            other_subsets: 3,
            eliminations: 5,
            candidates_to_read: 17,
            nothing_easier: true,
            leads_to_placement: false,
        };
        assert_eq!(parts.score(), 100 - 2 * 3 + 2 * 5 - 17 + 20);
        assert_eq!(ScoreParts { leads_to_placement: true, ..parts }.score(), 127);
    }
}
