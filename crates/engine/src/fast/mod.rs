//! The fast engine: walks of many puzzles, and their solutions.
//!
//! It gives the same records as [`walk`](crate::walk()), which stays the simple engine that it is tested
//! against.

#[cfg(target_arch = "x86_64")]
mod avx2;
#[cfg(target_arch = "x86_64")]
mod avx512;
mod course_board;
mod instruction_set;
mod intersections;
mod lanes;
mod look_table;
mod one_by_one;
mod search;
mod side_by_side;
mod singles;
mod splits;

use tallyhouse_board::{Cell, House, Puzzle};

use crate::{Course, Order, Outcome, Recorder, WalkOptions, WhenStuck};
pub use instruction_set::InstructionSet;
use instruction_set::Task;
use lanes::Instructions;
use one_by_one::CourseWalk;
pub(crate) use one_by_one::{Ending, Halfway, Looks, Made};
use search::count_from;
pub use search::{
    Answer, Asker, MOST_GUESSES, Question, ask, ask_within, count_solutions, unique_solution,
    unique_solutions,
};
use side_by_side::LaneWalk;

/// Walks many puzzles fast; [`Walker`](crate::Walker) does so wherever it can be done.
pub struct FastWalk {
    walk: Kind,
    instruction_set: InstructionSet,
}

enum Kind {
    SideBySide(Box<LaneWalk>),
    Alone(Box<CourseWalk>),
}

struct WalkTask<'a, R> {
    walk: &'a mut Kind,
    puzzles: &'a [Puzzle],
    recorder: &'a mut R,
}

impl<R: Recorder> Task for WalkTask<'_, R> {
    #[inline(always)]
    fn run<I: Instructions>(self) {
        match self.walk {
            Kind::SideBySide(walk) => walk.walk::<I, R>(self.puzzles, self.recorder),
            Kind::Alone(walk) => walk.walk::<I, R>(self.puzzles, self.recorder),
        }
    }
}

impl FastWalk {
    /// Prepares the fast walk for these options, `None` if they ask for what only [`walk`](crate::walk())
    /// does: together, an order that does not begin with naked 1, hidden 1 in all houses or has
    /// another look for singles; one by one, a course that comes to a house twice.
    #[must_use]
    pub fn new(options: &WalkOptions) -> Option<Self> {
        Self::with(options, InstructionSet::best())
    }

    /// The same with a chosen instruction set; all give the same records.
    #[must_use]
    pub fn with(options: &WalkOptions, instruction_set: InstructionSet) -> Option<Self> {
        if !options.chooses_only(&["course", "when_stuck"]) {
            return None;
        }
        let walk = match (LaneWalk::new(options), &options.course) {
            (Some(walk), _) => Kind::SideBySide(Box::new(walk)),
            (None, Course::Together) => return None,
            (None, Course::OneByOne(houses)) => {
                Kind::Alone(Box::new(CourseWalk::new(&options.order, houses, options.when_stuck)?))
            }
        };
        Some(Self { walk, instruction_set })
    }

    /// Walks all puzzles.
    pub fn walk<R: Recorder>(&mut self, puzzles: &[Puzzle], recorder: &mut R) {
        let task = WalkTask { walk: &mut self.walk, puzzles, recorder };
        instruction_set::run(self.instruction_set, task);
    }

    /// Returns how many solutions some of the puzzles that were walked last have, at most two; begins
    /// where a walk got stuck, for no look removes a candidate of any solution.
    pub(crate) fn count_solutions(&self, puzzles: &[Puzzle], wanted: &[usize]) -> Vec<Answer> {
        let mut boards = vec![None; puzzles.len()];
        if let Kind::SideBySide(walk) = &self.walk {
            for (index, board) in walk.stuck() {
                boards[*index] = Some(board);
            }
        }
        let boards: Vec<_> = wanted.iter().map(|&index| boards[index]).collect();
        let puzzles: Vec<Puzzle> = wanted.iter().map(|&index| puzzles[index]).collect();
        count_from(&boards, &puzzles, 2, MOST_GUESSES)
    }
}

/// The walk one by one, with each look told.
pub(crate) struct ToldWalk {
    walk: Box<CourseWalk>,
    instruction_set: InstructionSet,
}

struct ToldTask<'a, L, E> {
    walk: &'a mut CourseWalk,
    puzzles: &'a [Puzzle],
    looks: &'a mut L,
    ended: E,
}

impl<L: Looks, E: FnMut(&mut L, Outcome, &dyn Fn() -> [u16; Cell::COUNT])> Task
    for ToldTask<'_, L, E>
{
    #[inline(always)]
    fn run<I: Instructions>(mut self) {
        for puzzle in self.puzzles {
            let outcome = self.walk.walk_told::<I, L>(puzzle, self.looks);
            (self.ended)(self.looks, outcome, &|| self.walk.states());
        }
    }
}

struct HalfwayTask<'a, L, E> {
    walk: &'a mut CourseWalk,
    puzzles: &'a [Puzzle],
    first: usize,
    looks: &'a mut L,
    arrived: E,
}

impl<L: Looks, E: FnMut(&mut L, Halfway)> Task for HalfwayTask<'_, L, E> {
    #[inline(always)]
    fn run<I: Instructions>(mut self) {
        for puzzle in self.puzzles {
            let halfway = self.walk.walk_halfway::<I, L>(puzzle, self.first, self.looks);
            (self.arrived)(self.looks, halfway);
        }
    }
}

struct OnTask<'a, L, E> {
    walk: &'a mut CourseWalk,
    halfway: &'a Halfway,
    first: usize,
    looks: &'a mut L,
    ended: E,
}

impl<L: Looks, E: FnOnce(&mut L, Outcome, &dyn Fn() -> [u16; Cell::COUNT])> Task
    for OnTask<'_, L, E>
{
    #[inline(always)]
    fn run<I: Instructions>(self) {
        let outcome = self.walk.walk_on::<I, L>(self.halfway, self.first, self.looks);
        (self.ended)(self.looks, outcome, &|| self.walk.states());
    }
}

impl ToldWalk {
    /// Returns `None` if the course comes to a house twice.
    pub(crate) fn with(
        order: &Order,
        houses: &[House],
        instruction_set: InstructionSet,
    ) -> Option<Self> {
        let walk = Box::new(CourseWalk::new(order, houses, WhenStuck::Stop)?);
        Some(Self { walk, instruction_set })
    }

    /// Walks all puzzles; `ended` is called after each, with how it ended and its board.
    pub(crate) fn walk<L: Looks>(
        &mut self,
        puzzles: &[Puzzle],
        looks: &mut L,
        ended: impl FnMut(&mut L, Outcome, &dyn Fn() -> [u16; Cell::COUNT]),
    ) {
        let task = ToldTask { walk: &mut self.walk, puzzles, looks, ended };
        instruction_set::run(self.instruction_set, task);
    }

    /// Walks all puzzles with the first looks of the order alone, as long as they find something;
    /// `arrived` is called after each.
    pub(crate) fn walk_halfway<L: Looks>(
        &mut self,
        puzzles: &[Puzzle],
        first: usize,
        looks: &mut L,
        arrived: impl FnMut(&mut L, Halfway),
    ) {
        let task = HalfwayTask { walk: &mut self.walk, puzzles, first, looks, arrived };
        instruction_set::run(self.instruction_set, task);
    }

    /// Goes on to the end where the first looks have just found nothing, as [`ToldWalk::walk`] would.
    pub(crate) fn walk_on<L: Looks>(
        &mut self,
        halfway: &Halfway,
        first: usize,
        looks: &mut L,
        ended: impl FnOnce(&mut L, Outcome, &dyn Fn() -> [u16; Cell::COUNT]),
    ) {
        let task = OnTask { walk: &mut self.walk, halfway, first, looks, ended };
        instruction_set::run(self.instruction_set, task);
    }
}
