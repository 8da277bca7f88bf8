//! The walk one by one: a step changes few houses, so what a house holds is kept until one of its
//! candidates changes.

use std::ops::Range;

use tallyhouse_board::{Cell, DigitSet, House, Puzzle};

use super::course_board::{ALL_TURNS, CourseBoard, Turns};
use super::intersections::meetings;
use super::lanes::Instructions;
use super::look_table::first_in_house;
use super::search::unique_solutions;
use super::splits::list_subsets;
use crate::tight::Tight;
use crate::{
    AppliedLook, Look, Order, Outcome, QuietPosition, Recorder, Subset, WalkEnd, WhenStuck,
};

/// Walks puzzles one by one with one order and course.
pub(crate) struct CourseWalk {
    turns: Turns,
    looks: Vec<CourseLook>,
    when_stuck: WhenStuck,
    board: CourseBoard,
    answers: Answers,
    listed: Vec<Subset>,
    room: Vec<Tight>,
}

/// The open counts from 1 to 9.
const EVERY_COUNT: u16 = 0x3fe;

/// A look, and the open counts of the houses in which it is made, a bit each.
struct CourseLook {
    look: Look,
    open_counts: u16,
    /// The houses where it was made since they last changed, in vain.
    failed: u32,
}

/// What the houses hold for looks for subsets, by turn.
struct Answers {
    subsets: [Vec<Subset>; House::COUNT],
    /// The houses with a subset that a naked look of this size finds, whatever its range.
    naked: [u32; 10],
    hidden: [u32; 10],
    /// The houses that are not known.
    unknown: u32,
    /// The houses that hold any subset.
    some: u32,
    /// The houses that hold no digit for the looks for intersections.
    no_intersection: u32,
}

/// What a look ended at.
#[derive(Clone, Copy)]
pub(crate) enum Ending {
    Placement { cell: usize, digit: usize },
    Subset(Subset),
    Intersection { digit: usize, cleared: House, places: u16 },
}

/// A find of the look with this index in the house with this turn.
#[derive(Clone, Copy)]
struct Found {
    look: usize,
    turn: usize,
    ending: Ending,
}

/// A look as it was made in the houses of a course, one after the other.
pub(crate) struct Made<'a> {
    /// The index of the look in its order.
    pub(crate) index: usize,
    pub(crate) look: Look,
    /// The houses in which it was made in vain, by their turns.
    pub(crate) in_vain: u32,
    /// Those of them that have changed since it was last made there.
    pub(crate) anew: u32,
    /// The house in which it found something, and what.
    pub(crate) found: Option<(usize, Ending)>,
    board: &'a CourseBoard,
    turns: &'a Turns,
}

impl Made<'_> {
    /// Returns the houses of an open count.
    #[inline(always)]
    pub(crate) const fn with_open(&self, open: usize) -> u32 {
        self.board.by_open[open]
    }

    /// Returns the open count of a house.
    #[inline(always)]
    pub(crate) const fn open(&self, turn: usize) -> u8 {
        self.board.open_counts[turn]
    }

    /// Returns the candidates of the cells of a house.
    #[inline(always)]
    pub(crate) const fn cells(&self, turn: usize) -> &[u16; 16] {
        &self.board.cells[turn]
    }

    /// Returns the open places of the digits in a house.
    #[inline(always)]
    pub(crate) const fn places(&self, turn: usize) -> &[u16; 16] {
        &self.board.places[turn]
    }

    /// Returns the candidates of a cell, none if it is fixed.
    pub(crate) fn candidates(&self, cell: Cell) -> DigitSet {
        DigitSet::from_bits_truncate(self.board.candidates(self.turns, cell.index()))
    }

    /// Returns the house with a turn.
    #[inline(always)]
    pub(crate) const fn house(&self, turn: usize) -> House {
        self.turns.houses[turn]
    }
}

/// Is told of each look of a walk. What readers of all kinds count follows from it.
pub(crate) trait Looks {
    /// False if nothing needs to be told.
    const LISTENS: bool;

    /// A look was made. `in_vain` and `found` are houses where it is made at all: where their open
    /// counts allow it.
    fn made(&mut self, made: &Made<'_>);
}

/// Counts nothing.
impl Looks for () {
    const LISTENS: bool = false;

    fn made(&mut self, _: &Made<'_>) {}
}

/// A walk under way.
struct Progress {
    index: usize,
    quiet_positions: u16,
    given_digits: u8,
    hardest: Option<usize>,
    /// The only solution once it was sought, if there is one.
    solution: Option<Option<Puzzle>>,
}

/// A walk that waits at a quiet position for the solution of its puzzle.
struct Waiting {
    progress: Progress,
    board: CourseBoard,
}

/// A walk as far as the first looks of its order lead.
pub(crate) struct Halfway {
    board: Box<CourseBoard>,
    /// How it ended, if it did.
    outcome: Option<Outcome>,
}

/// Why a walk is interrupted.
enum Halt {
    Ends(Outcome),
    Waits,
}

impl CourseWalk {
    /// Returns `None` if a house has two turns in the course.
    pub(crate) fn new(order: &Order, houses: &[House], when_stuck: WhenStuck) -> Option<Self> {
        Some(Self {
            turns: Turns::new(houses)?,
            looks: order.looks().iter().copied().map(CourseLook::new).collect(),
            when_stuck,
            board: CourseBoard::empty(),
            answers: Answers::empty(),
            listed: Vec::new(),
            room: Vec::new(),
        })
    }

    /// Walks all puzzles. Those that need a digit of the solution wait until they can be solved side by
    /// side.
    #[inline(always)]
    pub(super) fn walk<I: Instructions, R: Recorder>(
        &mut self,
        puzzles: &[Puzzle],
        recorder: &mut R,
    ) {
        let mut waiting = Vec::new();
        for (index, puzzle) in puzzles.iter().enumerate() {
            self.load::<()>(puzzle);
            let mut progress = Progress::new(index);
            match self.go_on::<I, R, (), true>(&mut progress, recorder, &mut ()) {
                Halt::Waits => waiting.push(Waiting { progress, board: self.board.clone() }),
                Halt::Ends(outcome) => self.end(&progress, outcome, recorder),
            }
        }
        let wanted: Vec<Puzzle> = waiting.iter().map(|walk| puzzles[walk.progress.index]).collect();
        for (mut walk, solution) in waiting.into_iter().zip(unique_solutions(&wanted)) {
            walk.progress.solution = Some(solution);
            self.board = walk.board;
            self.answers.unknown = ALL_TURNS;
            self.answers.no_intersection = 0;
            match self.go_on::<I, R, (), true>(&mut walk.progress, recorder, &mut ()) {
                Halt::Waits => unreachable!("the solution was sought"),
                Halt::Ends(outcome) => self.end(&walk.progress, outcome, recorder),
            }
        }
    }

    /// Walks one puzzle and tells of each look; returns how the walk ended.
    #[inline(always)]
    pub(super) fn walk_told<I: Instructions, L: Looks>(
        &mut self,
        puzzle: &Puzzle,
        looks: &mut L,
    ) -> Outcome {
        self.load::<L>(puzzle);
        match self.go_on::<I, (), L, false>(&mut Progress::new(0), &mut (), looks) {
            Halt::Ends(outcome) => outcome,
            Halt::Waits => unreachable!("no digit is given"),
        }
    }

    /// Walks one puzzle with the first looks of the order alone, as long as they find something.
    #[inline(always)]
    pub(super) fn walk_halfway<I: Instructions, L: Looks>(
        &mut self,
        puzzle: &Puzzle,
        first: usize,
        looks: &mut L,
    ) -> Halfway {
        self.load::<L>(puzzle);
        let outcome = loop {
            if let Some(outcome) = self.ended() {
                break Some(outcome);
            }
            match self.find::<I, L>(0..first, looks) {
                Ok(Some(found)) => self.apply(&found.ending),
                Ok(None) => break None,
                Err(Crowded) => break Some(Outcome::Contradiction),
            }
            self.forget::<L>();
        };
        Halfway { board: Box::new(self.board.clone()), outcome }
    }

    /// Goes on to the end where the first looks of the order have just found nothing.
    #[inline(always)]
    pub(super) fn walk_on<I: Instructions, L: Looks>(
        &mut self,
        halfway: &Halfway,
        first: usize,
        looks: &mut L,
    ) -> Outcome {
        self.board.clone_from(&halfway.board);
        if let Some(outcome) = halfway.outcome {
            return outcome;
        }
        self.board.changed = ALL_TURNS;
        self.forget::<L>();
        match self.find::<I, L>(first..self.looks.len(), looks) {
            Ok(Some(found)) => self.apply(&found.ending),
            Ok(None) => return Outcome::Stuck,
            Err(Crowded) => return Outcome::Contradiction,
        }
        self.forget::<L>();
        match self.go_on::<I, (), L, false>(&mut Progress::new(0), &mut (), looks) {
            Halt::Ends(outcome) => outcome,
            Halt::Waits => unreachable!("no digit is given"),
        }
    }

    /// Returns the board at the end, in the form of [`crate::Position::states`].
    pub(crate) fn states(&self) -> [u16; Cell::COUNT] {
        self.board.states(&self.turns)
    }

    #[inline(always)]
    fn load<L: Looks>(&mut self, puzzle: &Puzzle) {
        self.board.load(&self.turns, puzzle);
        self.forget::<L>();
    }

    fn end<R: Recorder>(&self, progress: &Progress, outcome: Outcome, recorder: &mut R) {
        let end = WalkEnd {
            outcome,
            quiet_positions: progress.quiet_positions,
            hardest: progress.hardest,
            given_digits: progress.given_digits,
        };
        recorder.end(progress.index, &end, &|| self.states());
    }

    #[inline(always)]
    fn go_on<I: Instructions, R: Recorder, L: Looks, const RECORDS: bool>(
        &mut self,
        progress: &mut Progress,
        recorder: &mut R,
        told: &mut L,
    ) -> Halt {
        loop {
            if let Some(outcome) = self.ended() {
                return Halt::Ends(outcome);
            }
            let is_quiet = RECORDS && self.is_quiet();
            if is_quiet && !self.answer::<I>() {
                return Halt::Ends(Outcome::Contradiction);
            }
            let Ok(found) = self.find::<I, L>(0..self.looks.len(), told) else {
                return Halt::Ends(Outcome::Contradiction);
            };
            let mut given = None;
            if RECORDS && found.is_none() && self.when_stuck == WhenStuck::GiveDigit {
                let Some(solution) = progress.solution else { return Halt::Waits };
                given = solution.and_then(|solution| self.given(&solution));
            }
            if is_quiet {
                self.record(progress, found.as_ref(), given.is_some(), recorder);
            }
            match (found, given) {
                (Some(found), _) => {
                    progress.hardest = progress.hardest.max(Some(found.look));
                    self.apply(&found.ending);
                }
                (None, Some((cell, digit))) => {
                    progress.given_digits += 1;
                    self.board.place(&self.turns, cell, digit);
                }
                (None, None) => return Halt::Ends(Outcome::Stuck),
            }
            self.forget::<L>();
        }
    }

    /// Returns how the walk ended if there is nothing left to look for.
    #[inline(always)]
    fn ended(&self) -> Option<Outcome> {
        if self.board.is_dead {
            return Some(Outcome::Contradiction);
        }
        (self.board.by_open[0] == ALL_TURNS).then_some(Outcome::Solved)
    }

    #[inline(always)]
    fn is_quiet(&self) -> bool {
        self.board.naked == [0; 2] && self.board.with_hidden == 0
    }

    fn given(&self, solution: &Puzzle) -> Option<(usize, usize)> {
        let cell = self.board.fewest_candidates(&self.turns)?;
        Some((cell, usize::from(solution.values()[cell].checked_sub(1)?)))
    }

    /// Forgets what was known of the houses that have changed.
    #[inline(always)]
    fn forget<L: Looks>(&mut self) {
        let changed = std::mem::take(&mut self.board.changed);
        self.answers.unknown |= changed;
        self.answers.no_intersection &= !changed;
        if L::LISTENS {
            for look in &mut self.looks {
                look.failed &= !changed;
            }
        }
    }

    /// Finds the subsets of all houses that are not known; returns false if one can't be filled.
    #[inline(always)]
    fn answer<I: Instructions>(&mut self) -> bool {
        let Self { turns, board, answers, room, .. } = self;
        // Without singles both sides of a subset have two cells at least.
        let least_open = if board.naked == [0; 2] && board.with_hidden == 0 { 4 } else { 2 };
        let mut unknown = std::mem::take(&mut answers.unknown);
        let (mut candidates, mut tight) = ([0; 16], [0; 16]);
        answers.clear(unknown);
        while unknown != 0 {
            let turn = unknown.trailing_zeros() as usize;
            unknown &= unknown - 1;
            let open = usize::from(board.open_counts[turn]);
            if open < least_open {
                continue;
            }
            let open_places = I::compress(&board.cells[turn], &mut candidates);
            // The empty set and the set of all open cells are always among them.
            if I::tight_sets(&candidates, open, &mut tight) <= 2 {
                continue;
            }
            let (house, found) = (turns.houses[turn], &mut answers.subsets[turn]);
            let fits = list_subsets(house, &candidates[..open], open_places, &tight, room, found);
            answers.note(turn);
            if !fits {
                return false;
            }
        }
        true
    }

    /// Makes looks in order until one finds something.
    #[inline(always)]
    fn find<I: Instructions, L: Looks>(
        &mut self,
        looks: Range<usize>,
        told: &mut L,
    ) -> Result<Option<Found>, Crowded> {
        for index in looks {
            if self.looks[index].look.is_for_subsets()
                && self.answers.unknown != 0
                && !self.answer::<I>()
            {
                return Err(Crowded);
            }
            let found = self.make(index);
            if L::LISTENS {
                self.tell(index, found.as_ref(), told);
            }
            if found.is_some() {
                return Ok(found);
            }
        }
        Ok(None)
    }

    #[inline(always)]
    fn tell<L: Looks>(&mut self, index: usize, found: Option<&Found>, told: &mut L) {
        let Self { turns, looks, board, .. } = self;
        let before = found.map_or(turns.course, |found| (1 << found.turn) - 1);
        let in_vain = looks[index].houses(board) & before & turns.course;
        let anew = in_vain & !looks[index].failed;
        looks[index].failed |= in_vain;
        told.made(&Made {
            index,
            look: looks[index].look,
            in_vain,
            anew,
            found: found.map(|found| (found.turn, found.ending)),
            board,
            turns,
        });
    }

    /// Makes a look in all houses of the course.
    #[inline(always)]
    fn make(&mut self, index: usize) -> Option<Found> {
        let board = &self.board;
        let houses = self.looks[index].houses(board) & self.turns.course;
        let (turn, ending) = match self.looks[index].look {
            Look::Naked(size) if size.get() == 1 => {
                let turn = first(board.with_naked(&self.turns) & houses)?;
                let cell = board.first_naked(self.turns.houses[turn]);
                let digit = board.candidates(&self.turns, cell).trailing_zeros() as usize;
                (turn, Ending::Placement { cell, digit })
            }
            Look::Hidden(size) if size.get() == 1 => {
                let turn = first(board.with_hidden & houses)?;
                let digit = board.hidden[turn].trailing_zeros() as usize;
                let place = board.places[turn][digit].trailing_zeros() as usize;
                let cell = self.turns.houses[turn].cells()[place].index();
                (turn, Ending::Placement { cell, digit })
            }
            Look::Naked(size) => {
                let turn = first(self.answers.naked[usize::from(size.get())] & houses)?;
                (turn, self.first_subset(turn, index)?)
            }
            Look::Hidden(size) => {
                let turn = first(self.answers.hidden[usize::from(size.get())] & houses)?;
                (turn, self.first_subset(turn, index)?)
            }
            Look::Intersections => self.first_intersection(houses)?,
        };
        Some(Found { look: index, turn, ending })
    }

    fn first_subset(&self, turn: usize, index: usize) -> Option<Ending> {
        let look = self.looks[index].look;
        let found = self.answers.subsets[turn].iter().filter(|subset| look.finds(subset));
        let first = first_in_house(look, found)?;
        Some(Ending::Subset(Subset { applied: true, ..*first }))
    }

    /// Finds the first intersection; houses where there is none are remembered.
    fn first_intersection(&mut self, houses: u32) -> Option<(usize, Ending)> {
        let mut rest = houses & !self.answers.no_intersection;
        while rest != 0 {
            let turn = rest.trailing_zeros() as usize;
            rest &= rest - 1;
            if let Some(ending) = self.intersection_in(turn) {
                return Some((turn, ending));
            }
            // Where no digit is newly confined, the other houses, which only lose candidates, offer
            // nothing new to remove.
            self.answers.no_intersection |= 1 << turn;
        }
        None
    }

    /// Returns the first intersection of digits that are confined in a house.
    fn intersection_in(&self, turn: usize) -> Option<Ending> {
        let house = self.turns.houses[turn];
        let confined = &self.board.places[turn];
        for meeting in meetings(house) {
            let cleared = meeting.cleared;
            let other = &self.board.places[usize::from(self.turns.turn_of[cleared.index()])];
            for digit in 0..9 {
                let places = meeting.clears(confined[digit], other[digit]);
                if places != 0 {
                    return Some(Ending::Intersection { digit, cleared, places });
                }
            }
        }
        None
    }

    #[inline(always)]
    fn apply(&mut self, ending: &Ending) {
        match ending {
            Ending::Placement { cell, digit } => self.board.place(&self.turns, *cell, *digit),
            Ending::Subset(subset) => {
                for place in subset.cells.complement().iter() {
                    let cell = subset.house.cells()[place].index();
                    self.board.remove(&self.turns, cell, subset.digits.bits());
                }
            }
            Ending::Intersection { digit, cleared, places } => {
                for (place, cell) in cleared.cells().iter().enumerate() {
                    if places >> place & 1 == 1 {
                        self.board.remove(&self.turns, cell.index(), 1 << digit);
                    }
                }
            }
        }
    }

    fn record<R: Recorder>(
        &mut self,
        progress: &mut Progress,
        found: Option<&Found>,
        is_given: bool,
        recorder: &mut R,
    ) {
        let Self { turns, board, answers, listed, .. } = self;
        listed.clear();
        for turn in turns.turn_of {
            if answers.some >> turn & 1 == 1 {
                listed.extend_from_slice(&answers.subsets[usize::from(turn)]);
            }
        }
        if let Some(Found { ending: Ending::Subset(found), .. }) = found {
            for subset in listed.iter_mut() {
                subset.applied = subset.house == found.house && subset.cells == found.cells;
            }
        }
        recorder.quiet_position(&QuietPosition {
            puzzle: progress.index,
            number: progress.quiet_positions,
            given_digits: progress.given_digits,
            fixed_cells: (Cell::COUNT as u32 - board.open_cells()) as u8,
            candidates_left: board.candidates_left(turns) as u16,
            exposure: board.exposure(turns),
            subsets: listed,
            applied: match found {
                Some(found) => AppliedLook::Look(found.look),
                None if is_given => AppliedLook::Given,
                None => AppliedLook::Nothing,
            },
            states: &|| board.states(turns),
        });
        progress.quiet_positions += 1;
    }
}

/// A house has more cells than candidates for them.
struct Crowded;

impl CourseLook {
    fn new(look: Look) -> Self {
        let is_made = |open: &u8| {
            look.size()
                .is_none_or(|size| size.covers(*open) && (size.get() == 1 || size.get() < *open))
        };
        let open_counts = (1..=9).filter(is_made).fold(0, |counts, open| counts | 1 << open);
        Self { look, open_counts, failed: 0 }
    }

    /// Returns the houses in which a person makes the look.
    #[inline(always)]
    fn houses(&self, board: &CourseBoard) -> u32 {
        if self.open_counts == EVERY_COUNT {
            return !board.by_open[0];
        }
        let mut houses = 0;
        for (open, of_count) in board.by_open.iter().enumerate() {
            houses |= of_count & u32::from(self.open_counts >> open & 1).wrapping_neg();
        }
        houses
    }
}

impl Answers {
    fn empty() -> Self {
        Self {
            subsets: Default::default(),
            naked: [0; 10],
            hidden: [0; 10],
            unknown: ALL_TURNS,
            some: 0,
            no_intersection: 0,
        }
    }

    fn clear(&mut self, turns: u32) {
        let mut some = self.some & turns;
        if some == 0 {
            return;
        }
        self.some &= !turns;
        for houses in self.naked.iter_mut().chain(&mut self.hidden) {
            *houses &= !turns;
        }
        while some != 0 {
            self.subsets[some.trailing_zeros() as usize].clear();
            some &= some - 1;
        }
    }

    /// Notes which looks find something in a house.
    fn note(&mut self, turn: usize) {
        for subset in &self.subsets[turn] {
            self.some |= 1 << turn;
            self.naked[usize::from(subset.naked)] |= u32::from(subset.naked_proper) << turn;
            self.hidden[usize::from(subset.hidden())] |= u32::from(subset.hidden_proper) << turn;
        }
    }
}

impl Progress {
    const fn new(index: usize) -> Self {
        Self { index, quiet_positions: 0, given_digits: 0, hardest: None, solution: None }
    }
}

#[inline(always)]
fn first(turns: u32) -> Option<usize> {
    (turns != 0).then_some(turns.trailing_zeros() as usize)
}
