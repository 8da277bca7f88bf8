//! Where the walk of each rulebook ends.

use tallyhouse_board::{Cell, House, Puzzle};
use tallyhouse_engine::{
    AppliedLook, BatchEnd, BatchOutcome, BatchRecorder, FastWalk, HouseSplits, Order, Outcome,
    QuietPosition, Recorder, Subset, WalkOptions, walk,
};

/// The end of a walk that does not solve its puzzle.
#[derive(Clone, Debug)]
pub(super) struct StuckEnd {
    /// Every subset that remains: houses in order, then rising masks of cells.
    pub(super) subsets: Vec<Subset>,
    /// The board state.
    pub(super) states: [u16; Cell::COUNT],
    /// How many quiet positions came before.
    pub(super) position: u16,
}

/// Walks puzzles under one rulebook.
pub(super) struct BookWalker {
    options: WalkOptions,
    fast: Option<FastWalk>,
}

impl BookWalker {
    pub(super) fn new(order: &Order) -> Self {
        let options = WalkOptions { order: order.clone(), ..WalkOptions::default() };
        Self { fast: FastWalk::new(&options), options }
    }

    /// Returns where each walk gets stuck; `None` for the puzzles that it solves.
    pub(super) fn ends(&mut self, puzzles: &[Puzzle]) -> Vec<Option<StuckEnd>> {
        match &mut self.fast {
            Some(fast) => {
                let mut ends = Ends(vec![None; puzzles.len()]);
                fast.walk(puzzles, &mut ends);
                ends.0
            }
            None => puzzles.iter().map(|puzzle| simple_end(puzzle, &self.options)).collect(),
        }
    }
}

struct Ends(Vec<Option<StuckEnd>>);

impl BatchRecorder for Ends {
    fn quiet_position(&mut self, index: usize, position: &QuietPosition<'_>) {
        if position.applied == AppliedLook::Nothing {
            self.0[index] = Some(StuckEnd {
                subsets: position.subsets.to_vec(),
                states: (position.states)(),
                position: position.number,
            });
        }
    }

    fn end(&mut self, index: usize, end: &BatchEnd) {
        debug_assert_eq!(self.0[index].is_some(), end.outcome == BatchOutcome::Stuck);
    }
}

struct Nothing;

impl Recorder for Nothing {
    fn quiet_position(&mut self, _: &QuietPosition<'_>) {}
}

/// Without looks for singles the end need not be quiet, so its subsets are sought anew.
fn simple_end(puzzle: &Puzzle, options: &WalkOptions) -> Option<StuckEnd> {
    let result = walk(puzzle, options, &mut Nothing);
    let subsets_of = |house| {
        // A valid puzzle's houses are never crowded.
        let splits = HouseSplits::of_house(&result.end, house).unwrap_or_default();
        splits.subsets(house).collect::<Vec<_>>()
    };
    (result.outcome != Outcome::Solved).then(|| StuckEnd {
        subsets: House::all().flat_map(subsets_of).collect(),
        states: result.end.states(),
        position: result.quiet_positions,
    })
}

/// Tests if a walk that gets stuck reaches less than another: a candidate is left that the other has
/// removed, or a cell open that the other has fixed. `other` is `None` if that one solves the puzzle.
pub(super) fn falls_short(end: &[u16; Cell::COUNT], other: Option<&[u16; Cell::COUNT]>) -> bool {
    const FIXED: u16 = 1 << 9;
    other.is_none_or(|other| {
        end.iter().zip(other).any(|(end, other)| {
            end & !other & !FIXED != 0 || other & FIXED != 0 && end & FIXED == 0
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reach_is_compared_cell_by_cell() {
        let mut ladder = [0b11; Cell::COUNT];
        ladder[0] = 0b1 | 1 << 9;
        let mut same = ladder;
        assert!(!falls_short(&same, Some(&ladder)) && falls_short(&same, None));
        // Less left in one cell makes up for nothing in another.
        same[5] = 0b10 | 1 << 9;
        assert!(!falls_short(&same, Some(&ladder)));
        same[7] = 0b111;
        assert!(falls_short(&same, Some(&ladder)));
        // A single candidate that is not fixed.
        let mut open = ladder;
        open[0] = 0b1;
        assert!(falls_short(&open, Some(&ladder)) && !falls_short(&ladder, Some(&open)));
    }
}
