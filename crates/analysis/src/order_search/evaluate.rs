//! What an order costs and reaches on a set of puzzles.

use std::ops::Range;
use std::sync::OnceLock;

use rayon::prelude::*;
use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_engine::effort::{EffortEnd, EffortHalfway, EffortWalker, Glances};
use tallyhouse_engine::{Look, Order, Outcome, Recorder, WalkEnd, WalkOptions, Walker};

use crate::reach::falls_short;

/// Puzzles per piece of parallel work.
const BLOCK: usize = 32;

/// Puzzles whose efforts lie in memory together.
pub(super) const TOGETHER: usize = 10_000;

/// For sets of up to so many puzzles, boards after singles are kept: 25 MB for either order of them.
const MOST_KEPT: usize = 10_000;

/// What one puzzle cost under an order, and if the order reached what the full ladder does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct PuzzleEffort {
    pub(super) glances: Glances,
    pub(super) reached: bool,
}

impl PuzzleEffort {
    fn of(full: &FullReach, end: &EffortEnd<'_>) -> Self {
        Self { glances: end.total(), reached: full.is(end) }
    }
}

/// The same, summed over puzzles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Totals {
    pub(super) puzzles: u64,
    pub(super) glances: Glances,
    pub(super) reached: u64,
}

impl Totals {
    pub(super) fn of(efforts: &[PuzzleEffort]) -> Self {
        let mut totals = Self::default();
        efforts.iter().for_each(|effort| totals.add(effort));
        totals
    }

    pub(super) fn add(&mut self, effort: &PuzzleEffort) {
        self.puzzles += 1;
        self.glances += effort.glances;
        self.reached += u64::from(effort.reached);
    }
}

/// Where the full ladder ends.
#[derive(Clone, Debug, PartialEq, Eq)]
enum FullReach {
    Solved,
    /// The board state, as [`tallyhouse_engine::Position::states`]; apart, as most puzzles have none.
    Stuck(Box<[u16; Cell::COUNT]>),
}

impl FullReach {
    fn is(&self, end: &EffortEnd<'_>) -> bool {
        match self {
            Self::Solved => end.outcome == Outcome::Solved,
            Self::Stuck(states) => !falls_short(&(end.states)(), Some(states)),
        }
    }
}

/// Valid puzzles and how far the full ladder gets with each.
///
/// That end does not depend on the course of the walk, so the walk together, which is much faster,
/// stands for the walk one by one: a tight set S stays one when candidates go (N(S) can only shrink,
/// and with fewer digits than cells there would be no solution), so what can be removed at a position
/// can be removed, or is gone, at every later one. The full ladder stops only where no split removes
/// anything and no single is left; two courses can't stop at different positions, because each could
/// go on with the first removal of the other that it lacks.
///
/// Any other order of such looks removes nothing that the ladder does not, so it falls short unless it
/// ends at the same position.
pub(super) struct PuzzleSet<'a> {
    puzzles: &'a [Puzzle],
    ends: Vec<FullReach>,
    /// The walks as far as singles lead, naked or hidden ones first; most orders begin so.
    after_singles: [OnceLock<Vec<EffortHalfway>>; 2],
}

impl<'a> PuzzleSet<'a> {
    pub(super) fn new(puzzles: &'a [Puzzle]) -> Self {
        let ends = puzzles.par_chunks(BLOCK).flat_map_iter(full_reach).collect();
        Self { puzzles, ends, after_singles: Default::default() }
    }

    pub(super) const fn puzzles(&self) -> &[Puzzle] {
        self.puzzles
    }

    /// Walks the puzzles of a range one by one in rows, columns and boxes.
    pub(super) fn evaluate(&self, order: &Order, range: Range<usize>) -> Vec<PuzzleEffort> {
        let (puzzles, ends) = (&self.puzzles[range.clone()], &self.ends[range.clone()]);
        let Some(halfway) = self.after_singles(order) else {
            let walk = |walker: &mut EffortWalker, (puzzles, ends): (&[Puzzle], &[FullReach])| {
                let mut efforts = Vec::with_capacity(puzzles.len());
                walker
                    .walk(puzzles, |index, end| efforts.push(PuzzleEffort::of(&ends[index], end)));
                efforts
            };
            let blocks = puzzles.par_chunks(BLOCK).zip(ends.par_chunks(BLOCK));
            return blocks.map_init(|| EffortWalker::new(order), walk).flatten_iter().collect();
        };
        let walk = |walker: &mut EffortWalker, (walks, ends): (&[EffortHalfway], &[FullReach])| {
            let mut efforts = Vec::with_capacity(walks.len());
            walker.walk_on(walks, |index, end| efforts.push(PuzzleEffort::of(&ends[index], end)));
            efforts
        };
        let blocks = halfway[range].par_chunks(BLOCK).zip(ends.par_chunks(BLOCK));
        blocks.map_init(|| EffortWalker::new(order), walk).flatten_iter().collect()
    }

    /// Returns the walks as far as singles lead, if the order begins with them.
    fn after_singles(&self, order: &Order) -> Option<&[EffortHalfway]> {
        let ladder = Order::ladder();
        let [naked, hidden] = [ladder.looks()[0], ladder.looks()[1]];
        let begins = |singles: &[Look; 2]| order.looks().starts_with(singles);
        let which = [[naked, hidden], [hidden, naked]].iter().position(begins)?;
        if self.puzzles.len() > MOST_KEPT {
            return None;
        }
        let walk = |walker: &mut EffortWalker, puzzles| walker.walk_halfway(puzzles, 2);
        let walks = || {
            let blocks = self.puzzles.par_chunks(BLOCK);
            blocks.map_init(|| EffortWalker::new(order), walk).flatten_iter().collect()
        };
        Some(self.after_singles[which].get_or_init(walks))
    }

    /// Ranges of puzzles, one after the other.
    pub(super) fn blocks(&self) -> impl Iterator<Item = Range<usize>> {
        let len = self.puzzles.len();
        (0..len).step_by(TOGETHER).map(move |start| start..len.min(start + TOGETHER))
    }

    pub(super) fn evaluate_all(&self, order: &Order) -> Vec<PuzzleEffort> {
        self.evaluate(order, 0..self.puzzles.len())
    }
}

struct Ends(Vec<FullReach>);

impl Recorder for Ends {
    fn end(&mut self, puzzle: usize, end: &WalkEnd, states: &dyn Fn() -> [u16; Cell::COUNT]) {
        if end.outcome != Outcome::Solved {
            self.0[puzzle] = FullReach::Stuck(Box::new(states()));
        }
    }
}

fn full_reach(puzzles: &[Puzzle]) -> Vec<FullReach> {
    let mut ends = Ends(vec![FullReach::Solved; puzzles.len()]);
    Walker::new(WalkOptions::default()).walk(puzzles, &mut ends);
    ends.0
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::House;
    use tallyhouse_collection::MinimalByDeletion;
    use tallyhouse_engine::effort::effort_walk;
    use tallyhouse_engine::walk;

    use super::*;
    use crate::order_search::draft::draft;

    #[test]
    fn the_ladder_reaches_everything_and_singles_do_not() {
        let puzzles = MinimalByDeletion { seed: 21 }.puzzles(0..150);
        let set = PuzzleSet::new(&puzzles);
        // One by one, from the other side, and the ladder's own end: one and the same position.
        let turned = "hidden 1, naked 1, hidden 4, hidden 3, hidden 2, naked 4, naked 3, naked 2";
        assert_eq!(Totals::of(&set.evaluate_all(&draft(turned).order())).reached, 150);
        assert_eq!(Totals::of(&set.evaluate_all(&Order::ladder())).reached, 150);
        let singles = Totals::of(&set.evaluate_all(&draft("naked 1, hidden 1").order()));
        let moved =
            |puzzle: &Puzzle| walk(puzzle, &WalkOptions::default(), &mut ()).end.hardest > Some(1);
        let expected = puzzles.iter().filter(|puzzle| !moved(puzzle)).count();
        assert_eq!(singles.reached, expected as u64);
        assert!(0 < expected && expected < 150);
    }

    #[test]
    fn evaluation_is_the_sum_of_walks() {
        let puzzles = MinimalByDeletion { seed: 22 }.puzzles(0..70);
        let order =
            draft("hidden 1, naked 1, naked 3 open 6..9, hidden 2, naked 2 open 3..5").order();
        let late = draft("hidden 1, naked 3 open 6..9, naked 1").order();
        for order in [order, late, Order::ladder()] {
            compare(&puzzles, &order);
        }
    }

    fn compare(puzzles: &[Puzzle], order: &Order) {
        let mut expected = Totals::default();
        let houses: Vec<House> = House::all().collect();
        for puzzle in puzzles {
            let walked = effort_walk(puzzle, order, &houses, |_, _, _| {});
            let ladder = walk(puzzle, &WalkOptions::default(), &mut ());
            expected.puzzles += 1;
            expected.reached += u64::from(walked.end == ladder.position);
            for look in &walked.looks {
                expected.glances.cells_seen += look.glances.cells_seen;
                expected.glances.places_gathered += look.glances.places_gathered;
                expected.glances.tries += look.glances.tries;
            }
        }
        let set = PuzzleSet::new(puzzles);
        let all = set.evaluate_all(order);
        assert_eq!(Totals::of(&all), expected);
        assert_eq!([set.evaluate(order, 0..33), set.evaluate(order, 33..70)].concat(), all);
    }
}
