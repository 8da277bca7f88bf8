//! The fast walk: the ladder's kind of order, together, on sixteen puzzles side by side.
//!
//! It gives the same records as [`walk`](crate::walk()), which stays the simple engine that it is tested
//! against. Singles are placed in all lanes at once on digit planes; a lane that comes to rest is
//! taken out, its subsets are found with a table of unions, and it goes back or makes room for the
//! next puzzle.

#[cfg(target_arch = "x86_64")]
mod avx512;
mod instruction_set;
mod lanes;
mod search;
mod singles;
mod splits;

use tallyhouse_board::{Cell, Digit, Puzzle};

use crate::{
    AppliedLook, Course, Look, Order, Outcome, QuietPosition, Recorder, Subset, WalkEnd,
    WalkOptions, WhenStuck,
};
pub use instruction_set::InstructionSet;
use instruction_set::Task;
use lanes::{LANES, Words};
pub use search::{
    Answer, Asker, MOST_GUESSES, Question, ask, ask_within, count_solutions, unique_solution,
};
use singles::Boards;
use splits::find_subsets;

/// Walks many puzzles fast; [`Walker`](crate::Walker) does so wherever it can be done.
pub struct FastWalk {
    looks: Vec<Look>,
    instruction_set: InstructionSet,
    boards: Box<Boards>,
    states: [Option<LaneState>; LANES],
    subsets: Vec<Subset>,
}

/// What is known of the puzzle in a lane beside its board.
#[derive(Clone, Copy, Debug)]
struct LaneState {
    index: usize,
    quiet_positions: u16,
    /// The last look for subsets that was needed.
    hardest: Option<usize>,
}

struct WalkTask<'a, R> {
    fast: &'a mut FastWalk,
    puzzles: &'a [Puzzle],
    recorder: &'a mut R,
}

impl<R: Recorder> Task for WalkTask<'_, R> {
    #[inline(always)]
    fn run<W: Words>(self) {
        self.fast.walk_inlined::<W, R>(self.puzzles, self.recorder);
    }
}

impl FastWalk {
    /// Prepares the fast walk for these options, `None` if they ask for what only [`walk`](crate::walk())
    /// does: anything but the course together, stopping when stuck, and an order that begins with
    /// naked 1, hidden 1 in all houses and goes on with looks for subsets.
    #[must_use]
    pub fn new(options: &WalkOptions) -> Option<Self> {
        Self::with(options, InstructionSet::best())
    }

    /// The same with a chosen instruction set; all give the same records.
    #[must_use]
    pub fn with(options: &WalkOptions, instruction_set: InstructionSet) -> Option<Self> {
        let looks = options.order.looks();
        let (singles, subsets) = looks.split_at_checked(2)?;
        let fits = *singles == Order::ladder().looks()[..2]
            && subsets.iter().all(|look| *look != Look::Intersections && !look.is_single())
            && options.course == Course::Together
            && options.when_stuck == WhenStuck::Stop;
        fits.then(|| Self {
            looks: looks.to_vec(),
            instruction_set,
            boards: Box::new(Boards::empty()),
            states: [None; LANES],
            subsets: Vec::new(),
        })
    }

    /// Walks all puzzles.
    pub fn walk<R: Recorder>(&mut self, puzzles: &[Puzzle], recorder: &mut R) {
        instruction_set::run(self.instruction_set, WalkTask { fast: self, puzzles, recorder });
    }

    #[inline(always)]
    fn walk_inlined<W: Words, R: Recorder>(&mut self, puzzles: &[Puzzle], recorder: &mut R) {
        let mut next = 0;
        let mut busy = 0;
        for lane in 0..LANES {
            busy += u32::from(self.refill(lane, puzzles, &mut next));
        }
        while busy > 0 {
            let (found, _) = self.boards.round::<W>();
            for lane in 0..LANES {
                if found.0[lane] != 0 {
                    continue;
                }
                let Some(mut state) = self.states[lane] else { continue };
                match self.rest::<W, R>(lane, &mut state, recorder) {
                    None => self.states[lane] = Some(state),
                    Some(outcome) => {
                        let end = self.ending(lane, &state, outcome);
                        recorder.end(state.index, &end, &|| states(&self.boards, lane));
                        busy -= u32::from(!self.refill(lane, puzzles, &mut next));
                    }
                }
            }
        }
    }

    /// Puts the next puzzle into a lane; returns false if there is none.
    fn refill(&mut self, lane: usize, puzzles: &[Puzzle], next: &mut usize) -> bool {
        let Some(puzzle) = puzzles.get(*next) else {
            self.states[lane] = None;
            self.boards.clear(lane);
            return false;
        };
        self.states[lane] = Some(LaneState { index: *next, quiet_positions: 0, hardest: None });
        self.boards.load(lane, puzzle.values());
        *next += 1;
        true
    }

    fn ending(&self, lane: usize, state: &LaneState, outcome: Outcome) -> WalkEnd {
        let single = match (self.boards.naked_placed.0[lane], self.boards.hidden_placed.0[lane]) {
            (0, 0) => None,
            (_, 0) => Some(0),
            _ => Some(1),
        };
        WalkEnd {
            outcome,
            quiet_positions: state.quiet_positions,
            hardest: state.hardest.max(single),
            given_digits: 0,
        }
    }

    /// Handles a lane without singles. Returns how its walk ended, `None` if it goes on.
    #[inline(always)]
    fn rest<W: Words, R: Recorder>(
        &mut self,
        lane: usize,
        state: &mut LaneState,
        recorder: &mut R,
    ) -> Option<Outcome> {
        let open = [0, 1, 2].map(|band| self.boards.open[band].0[lane]);
        if open == [0; 3] {
            return Some(if self.boards.is_filled(lane) {
                Outcome::Solved
            } else {
                Outcome::Contradiction
            });
        }
        let mut planes = [[0; 3]; 9];
        for (words, plane) in planes.iter_mut().zip(&self.boards.planes) {
            for band in 0..3 {
                words[band] = plane[band].0[lane] & open[band];
            }
        }
        let masks = W::cell_masks(&planes);
        let some = planes.iter().fold([0; 3], |some, plane| {
            [some[0] | plane[0], some[1] | plane[1], some[2] | plane[2]]
        });
        if some != open {
            return Some(Outcome::Contradiction);
        }
        let Some(exposure) = find_subsets::<W>(&masks, &mut self.subsets) else {
            return Some(Outcome::Contradiction);
        };
        let still_open: u32 = open.iter().map(|band| band.count_ones()).sum();
        let candidates: u32 = planes.iter().flatten().map(|word| word.count_ones()).sum();
        let first = self
            .subsets
            .iter()
            .filter_map(|subset| self.looks.iter().position(|look| look.finds(subset)))
            .min();
        if let Some(first) = first {
            for subset in &mut self.subsets {
                subset.applied = self.looks[first].finds(subset);
            }
        }
        let boards = &self.boards;
        recorder.quiet_position(&QuietPosition {
            puzzle: state.index,
            number: state.quiet_positions,
            given_digits: 0,
            fixed_cells: (81 - still_open) as u8,
            candidates_left: candidates as u16,
            exposure,
            subsets: &self.subsets,
            applied: first.map_or(AppliedLook::Nothing, AppliedLook::Look),
            states: &|| states(boards, lane),
        });
        state.quiet_positions += 1;
        state.hardest = state.hardest.max(first);
        if first.is_none() {
            return Some(Outcome::Stuck);
        }
        for subset in self.subsets.iter().filter(|subset| subset.applied) {
            let mut bands = [0u32; 3];
            for place in subset.cells.complement().iter() {
                let cell = subset.house.cells()[place].index();
                bands[cell / 27] |= 1 << (cell % 27);
            }
            for digit in subset.digits.iter().map(Digit::index) {
                for band in 0..3 {
                    let plane = &mut self.boards.planes[digit][band].0[lane];
                    *plane &= !(bands[band] & open[band]);
                }
            }
        }
        None
    }
}

/// Returns the board of a lane in the form of [`crate::Position::states`].
fn states(boards: &Boards, lane: usize) -> [u16; Cell::COUNT] {
    let mut states = [0; Cell::COUNT];
    for (cell, state) in states.iter_mut().enumerate() {
        let (band, bit) = (cell / 27, cell % 27);
        for digit in 0..9 {
            *state |= ((boards.planes[digit][band].0[lane] >> bit & 1) as u16) << digit;
        }
        if boards.open[band].0[lane] >> bit & 1 == 0 {
            *state |= 1 << 9;
        }
    }
    states
}
