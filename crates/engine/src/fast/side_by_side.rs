//! Walks on sixteen puzzles side by side, with orders that begin with both singles in all houses.
//!
//! Then a course matters only at quiet positions: singles reach one and the same position whatever
//! their order. Singles are placed in all lanes at once on digit planes; a lane that comes to rest is taken out,
//! its subsets are found with a table of unions, and it goes back or makes room for the next puzzle.
//! Lanes that need a digit of the solution wait until there are many of them to be solved side by
//! side.

use tallyhouse_board::{Cell, Digit, Puzzle};

use super::course_board::{ALL_TURNS, Turns};
use super::intersections::{apply_intersections, first_intersection};
use super::lanes::{HouseMasks, Instructions, LANES};
use super::look_table::LookTable;
use super::search::solve_from;
use super::singles::{Board, Boards, Round};
use super::splits::find_subsets;
use crate::tight::Tight;
use crate::{
    AppliedLook, Course, Order, Outcome, QuietPosition, Recorder, Subset, WalkEnd, WalkOptions,
    WhenStuck,
};

/// Walks puzzles side by side with one order.
pub(super) struct LaneWalk {
    looks: LookTable,
    /// The houses by their turns; `None` together.
    course: Option<Turns>,
    when_stuck: WhenStuck,
    boards: Box<Boards>,
    states: [Option<LaneState>; LANES],
    subsets: Vec<Subset>,
    room: Vec<Tight>,
    /// The walks that wait for the solution of their puzzle.
    waiting: Vec<Waiting>,
    /// What was found of the puzzles that were waited for.
    solutions: Vec<Option<Puzzle>>,
    /// The puzzles whose walks got stuck, and where.
    stuck: Vec<(usize, Board)>,
}

/// What is known of the puzzle in a lane beside its board.
#[derive(Clone, Copy, Debug)]
struct LaneState {
    index: usize,
    quiet_positions: u16,
    given_digits: u8,
    /// The last look beyond singles that was needed.
    hardest: Option<usize>,
    /// Where the solution stands, once it was sought.
    solution: Option<usize>,
}

/// A walk that was taken out of its lane at a quiet position where nothing is found.
struct Waiting {
    state: LaneState,
    board: Board,
    naked_placed: u16,
    hidden_placed: u16,
}

/// What becomes of a lane at rest.
enum Rest {
    GoesOn,
    Waits,
    Ends(Outcome),
}

impl LaneWalk {
    /// Returns `None` if the order does not begin with naked 1, hidden 1 in all houses or has other
    /// looks for singles, or if the course leaves houses out or comes to one twice.
    pub(super) fn new(options: &WalkOptions) -> Option<Self> {
        let (singles, others) = options.order.looks().split_at_checked(2)?;
        let course = match &options.course {
            Course::Together => None,
            Course::OneByOne(houses) => {
                Some(Turns::new(houses).filter(|turns| turns.course == ALL_TURNS)?)
            }
        };
        let fits =
            *singles == Order::ladder().looks()[..2] && others.iter().all(|look| !look.is_single());
        fits.then(|| Self {
            looks: LookTable::new(&options.order),
            course,
            when_stuck: options.when_stuck,
            boards: Box::new(Boards::empty()),
            states: [None; LANES],
            subsets: Vec::new(),
            room: Vec::new(),
            waiting: Vec::new(),
            solutions: Vec::new(),
            stuck: Vec::new(),
        })
    }

    /// Walks all puzzles.
    #[inline(always)]
    pub(super) fn walk<I: Instructions, R: Recorder>(
        &mut self,
        puzzles: &[Puzzle],
        recorder: &mut R,
    ) {
        self.solutions.clear();
        self.stuck.clear();
        let mut next = 0;
        loop {
            let mut busy = 0;
            for lane in 0..LANES {
                busy += u32::from(self.refill(lane, puzzles, &mut next));
            }
            if busy == 0 {
                return;
            }
            while busy > 0 {
                let Round { resting: mut left, dead } = self.boards.round::<I::Words>();
                while left != 0 {
                    let lane = left.trailing_zeros() as usize;
                    left &= left - 1;
                    let Some(mut state) = self.states[lane] else { continue };
                    let rest = if dead >> lane & 1 == 0 {
                        self.rest::<I, R>(lane, &mut state, recorder)
                    } else {
                        Rest::Ends(Outcome::Contradiction)
                    };
                    match rest {
                        Rest::GoesOn => {
                            self.states[lane] = Some(state);
                            continue;
                        }
                        Rest::Waits => self.wait(lane, state),
                        Rest::Ends(outcome) => {
                            if outcome == Outcome::Stuck {
                                self.stuck.push((state.index, self.boards.board(lane)));
                            }
                            let end = self.ending(lane, &state, outcome);
                            recorder.end(state.index, &end, &|| states(&self.boards, lane));
                        }
                    }
                    busy -= u32::from(!self.refill(lane, puzzles, &mut next));
                }
            }
            self.solve(puzzles);
        }
    }

    /// Returns the puzzles of the last walk that got stuck, and where.
    pub(super) fn stuck(&self) -> &[(usize, Board)] {
        &self.stuck
    }

    /// Puts the next puzzle into a lane, or a walk that need not wait any more; returns false if
    /// there is neither.
    fn refill(&mut self, lane: usize, puzzles: &[Puzzle], next: &mut usize) -> bool {
        if let Some(puzzle) = puzzles.get(*next) {
            self.states[lane] = Some(LaneState {
                index: *next,
                quiet_positions: 0,
                given_digits: 0,
                hardest: None,
                solution: None,
            });
            self.boards.load(lane, puzzle.values());
            *next += 1;
            return true;
        }
        if let Some(walk) = self.waiting.pop_if(|walk| walk.state.solution.is_some()) {
            self.states[lane] = Some(walk.state);
            self.boards.put_back(lane, &walk.board);
            self.boards.naked_placed.0[lane] = walk.naked_placed;
            self.boards.hidden_placed.0[lane] = walk.hidden_placed;
            return true;
        }
        self.states[lane] = None;
        self.boards.put_back(lane, &Board::BLANK);
        false
    }

    /// Takes a walk out of its lane.
    fn wait(&mut self, lane: usize, state: LaneState) {
        self.waiting.push(Waiting {
            state,
            board: self.boards.board(lane),
            naked_placed: self.boards.naked_placed.0[lane],
            hidden_placed: self.boards.hidden_placed.0[lane],
        });
    }

    /// Solves the puzzles of the walks that wait.
    fn solve(&mut self, puzzles: &[Puzzle]) {
        let wanted: Vec<Puzzle> =
            self.waiting.iter().map(|walk| puzzles[walk.state.index]).collect();
        let boards: Vec<Option<&Board>> =
            self.waiting.iter().map(|walk| Some(&walk.board)).collect();
        self.solutions = solve_from(&boards, &wanted);
        for (place, walk) in self.waiting.iter_mut().enumerate() {
            walk.state.solution = Some(place);
        }
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
            given_digits: state.given_digits,
        }
    }

    /// Handles a lane without singles in which every cell and every digit of a house has a place.
    #[inline(always)]
    fn rest<I: Instructions, R: Recorder>(
        &mut self,
        lane: usize,
        state: &mut LaneState,
        recorder: &mut R,
    ) -> Rest {
        let open = self.boards.open(lane);
        if open == [0; 3] {
            return Rest::Ends(Outcome::Solved);
        }
        let mut planes = self.boards.planes(lane);
        for plane in &mut planes {
            for (band, open) in plane.iter_mut().zip(open) {
                *band &= open;
            }
        }
        let before = planes;
        let houses = I::by_house(&planes);
        let Some(exposure) = find_subsets::<I>(&houses, &mut self.room, &mut self.subsets) else {
            return Rest::Ends(Outcome::Contradiction);
        };
        let still_open: u32 = open.iter().map(|band| band.count_ones()).sum();
        let candidates: u32 = planes.iter().flatten().map(|word| word.count_ones()).sum();
        let subset_look = self.looks.first(&self.subsets);
        let mut first = subset_look;
        if let Some(index) = self.looks.intersections() {
            let is_earlier = subset_look.is_none_or(|subset_look| index < subset_look);
            let mut cleared = planes;
            if is_earlier && apply_intersections(&mut cleared) {
                first = Some(index);
                planes = match &self.course {
                    None => cleared,
                    Some(turns) => first_intersection(&planes, &turns.houses),
                };
            }
        }
        if let Some(first) = first {
            self.looks.mark(first, self.course.as_ref(), &mut self.subsets);
        }
        let mut given = None;
        if first.is_none() && self.when_stuck == WhenStuck::GiveDigit {
            let Some(place) = state.solution else { return Rest::Waits };
            given =
                self.solutions[place].and_then(|solution| fewest_candidates(&houses, &solution));
        }
        let boards = &self.boards;
        recorder.quiet_position(&QuietPosition {
            puzzle: state.index,
            number: state.quiet_positions,
            given_digits: state.given_digits,
            fixed_cells: (81 - still_open) as u8,
            candidates_left: candidates as u16,
            exposure,
            subsets: &self.subsets,
            applied: match (first, given) {
                (Some(first), _) => AppliedLook::Look(first),
                (None, Some(_)) => AppliedLook::Given,
                (None, None) => AppliedLook::Nothing,
            },
            states: &|| states(boards, lane),
        });
        state.quiet_positions += 1;
        state.hardest = state.hardest.max(first);
        if let Some((cell, digit)) = given {
            self.give(lane, state, cell, digit);
            return Rest::GoesOn;
        }
        if first.is_none() {
            return Rest::Ends(Outcome::Stuck);
        }
        for subset in self.subsets.iter().filter(|subset| subset.applied) {
            let mut bands = [0u32; 3];
            for place in subset.cells.complement().iter() {
                let cell = subset.house.cells()[place].index();
                bands[cell / 27] |= 1 << (cell % 27);
            }
            for digit in subset.digits.iter().map(Digit::index) {
                for band in 0..3 {
                    planes[digit][band] &= !bands[band];
                }
            }
        }
        for (digit, (plane, before)) in planes.iter().zip(&before).enumerate() {
            for band in 0..3 {
                if plane[band] != before[band] {
                    self.boards.keep(lane, digit, band, plane[band] | !open[band]);
                }
            }
        }
        Rest::GoesOn
    }

    /// Has a digit of the solution placed.
    fn give(&mut self, lane: usize, state: &mut LaneState, cell: usize, digit: usize) {
        state.given_digits += 1;
        self.boards.place_next(lane, digit, cell);
        if state.hardest.is_none() && self.boards.hidden_placed.0[lane] == 0 {
            // Naked singles alone may still be enough.
            self.boards.naked_only.0[lane] = u16::MAX;
        }
    }
}

/// Returns the first open cell with the fewest candidates, and its digit in the solution.
fn fewest_candidates(houses: &HouseMasks, solution: &Puzzle) -> Option<(usize, usize)> {
    let count = |cell: &Cell| houses[cell.index() / 9][cell.index() % 9].count_ones();
    let cell = Cell::all().filter(|cell| count(cell) > 0).min_by_key(count)?;
    Some((cell.index(), solution.get(cell)?.index()))
}

/// Returns the board of a lane in the form of [`crate::Position::states`].
fn states(boards: &Boards, lane: usize) -> [u16; Cell::COUNT] {
    let (planes, open) = (boards.planes(lane), boards.open(lane));
    let mut states = [0; Cell::COUNT];
    for (cell, state) in states.iter_mut().enumerate() {
        let (band, bit) = (cell / 27, cell % 27);
        for (digit, plane) in planes.iter().enumerate() {
            *state |= ((plane[band] >> bit & 1) as u16) << digit;
        }
        if open[band] >> bit & 1 == 0 {
            *state |= 1 << 9;
        }
    }
    states
}
