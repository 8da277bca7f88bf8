//! The walk: repeating looks on a puzzle until nothing is found.

mod one_by_one;
mod options;
mod recorder;

use tallyhouse_board::{Cell, House, Puzzle};

use crate::marks::Marks;
use crate::single::{is_without_singles, one_per_cell};
use crate::{
    Contradiction, Exposure, Find, Look, Order, Position, Single, Step, Subset, hidden_singles,
    intersections, naked_singles, unique_solution,
};
pub(crate) use one_by_one::{Count, OneByOne};
pub use options::{Course, CourseKind, UnknownChoice, WalkOptions, WhenStuck};
pub use recorder::{AppliedLook, Outcome, QuietPosition, Recorder, WalkEnd};

/// A walk that has ended, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Walked {
    /// How it ended.
    pub end: WalkEnd,
    /// The position at the end.
    pub position: Position,
}

/// Walks a puzzle from its givens.
///
/// ```
/// use tallyhouse_engine::{Outcome, WalkOptions, walk};
///
/// // A solved board but for its first cell.
/// let row = |start: usize| (0..9).map(move |place| ((start + place) % 9 + 1).to_string());
/// let board: String = [0, 3, 6, 1, 4, 7, 2, 5, 8].into_iter().flat_map(row).collect();
/// let walked = walk(&format!(".{}", &board[1..]).parse()?, &WalkOptions::default(), &mut ());
/// assert_eq!(walked.end.outcome, Outcome::Solved);
/// assert_eq!(walked.end.hardest, Some(0));
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
pub fn walk<R: Recorder + ?Sized>(
    puzzle: &Puzzle,
    options: &WalkOptions,
    recorder: &mut R,
) -> Walked {
    walk_numbered(0, puzzle, options, recorder)
}

/// Walks the puzzle with this index.
pub(crate) fn walk_numbered<R: Recorder + ?Sized>(
    index: usize,
    puzzle: &Puzzle,
    options: &WalkOptions,
    recorder: &mut R,
) -> Walked {
    let mut walk = Walk::new(puzzle, options);
    let steps = walk.take_steps(index, recorder);
    walk.end.outcome = Outcome::of(&steps, &walk.position);
    recorder.end(index, &walk.end, &|| walk.position.states());
    Walked { end: walk.end, position: walk.position }
}

impl Outcome {
    /// Tells how steps ended that led to this position.
    pub(crate) const fn of(steps: &Result<(), Contradiction>, end: &Position) -> Self {
        match steps {
            Ok(()) if end.is_solved() => Self::Solved,
            Ok(()) => Self::Stuck,
            Err(_) => Self::Contradiction,
        }
    }
}

/// A walk under way.
struct Walk<'a> {
    puzzle: &'a Puzzle,
    options: &'a WalkOptions,
    position: Position,
    finder: Finder<'a>,
    end: WalkEnd,
    /// The only solution, once it was asked for; `None` if there is none, or several.
    solution: Option<Option<Puzzle>>,
}

impl<'a> Walk<'a> {
    fn new(puzzle: &'a Puzzle, options: &'a WalkOptions) -> Self {
        let position = Position::new(puzzle);
        Self {
            puzzle,
            options,
            finder: Finder::new(&position, options),
            position,
            end: WalkEnd {
                outcome: Outcome::Stuck,
                quiet_positions: 0,
                hardest: None,
                given_digits: 0,
            },
            solution: None,
        }
    }

    fn take_steps<R: Recorder + ?Sized>(
        &mut self,
        index: usize,
        recorder: &mut R,
    ) -> Result<(), Contradiction> {
        loop {
            self.position.check()?;
            if self.position.is_solved() {
                return Ok(());
            }
            let quiet = is_without_singles(&self.position);
            if quiet {
                self.finder.marks.check()?;
            }
            let mut step = self.finder.step(&self.position)?;
            if step.is_none() && self.options.when_stuck == WhenStuck::GiveDigit {
                step = self.given_step();
            }
            if quiet {
                self.record(index, step.as_ref(), recorder)?;
            }
            let Some(step) = step else { return Ok(()) };
            recorder.step(&self.position, &step);
            match step.look {
                Some((index, _)) => self.end.hardest = self.end.hardest.max(Some(index)),
                None => self.end.given_digits += 1,
            }
            let before = self.position.clone();
            step.apply(&mut self.position)?;
            self.finder.update(&before, &self.position);
        }
    }

    fn given_step(&mut self) -> Option<Step> {
        let solution = (*self.solution.get_or_insert_with(|| unique_solution(self.puzzle)))?;
        let open = self.position.open_cells();
        let cell = open.iter().min_by_key(|&cell| self.position.candidates(cell).len())?;
        let digit = solution.get(cell)?;
        Some(Step { look: None, finds: vec![Find::Given { cell, digit }] })
    }

    fn record<R: Recorder + ?Sized>(
        &mut self,
        index: usize,
        step: Option<&Step>,
        recorder: &mut R,
    ) -> Result<(), Contradiction> {
        let mut exposure = Exposure::default();
        let mut subsets = Vec::new();
        for house in self.finder.marks.splits() {
            let (house, splits) = house?;
            exposure.add(house, splits.open.len());
            subsets.extend(splits.subsets(house));
        }
        for find in step.iter().flat_map(|step| &step.finds) {
            if let Find::Subset(found) = find {
                for subset in &mut subsets {
                    subset.applied |= subset.house == found.house && subset.cells == found.cells;
                }
            }
        }
        recorder.quiet_position(&QuietPosition {
            puzzle: index,
            number: self.end.quiet_positions,
            given_digits: self.end.given_digits,
            fixed_cells: (Cell::COUNT - self.position.open_cells().len()) as u8,
            candidates_left: self.position.candidates_left() as u16,
            exposure,
            subsets: &subsets,
            applied: match step {
                Some(Step { look: Some((index, _)), .. }) => AppliedLook::Look(*index),
                Some(Step { look: None, .. }) => AppliedLook::Given,
                None => AppliedLook::Nothing,
            },
            states: &|| self.position.states(),
        });
        self.end.quiet_positions += 1;
        Ok(())
    }
}

/// Returns what the first look of the order with any find does at a position, or `None` when
/// nothing is found.
///
/// # Errors
/// If a house whose subsets are looked at has more open cells than candidates for them.
pub fn next_step(
    position: &Position,
    options: &WalkOptions,
) -> Result<Option<Step>, Contradiction> {
    Finder::new(position, options).step(position)
}

/// Finds the next step, and keeps what it learned of the houses until they change.
struct Finder<'a> {
    order: &'a Order,
    marks: Marks,
    /// `None` on the course together.
    one_by_one: Option<OneByOne<'a, ()>>,
}

impl<'a> Finder<'a> {
    fn new(position: &Position, options: &'a WalkOptions) -> Self {
        let one_by_one = match &options.course {
            Course::Together => None,
            Course::OneByOne(houses) => Some(OneByOne::new(options.order.looks(), houses)),
        };
        Self { order: &options.order, marks: Marks::new(position), one_by_one }
    }

    fn step(&mut self, position: &Position) -> Result<Option<Step>, Contradiction> {
        let found = match &mut self.one_by_one {
            None => self.together(position)?,
            Some(course) => course
                .find(position, &self.marks, |_, (), _| ())?
                .map(|(index, find)| (index, vec![find])),
        };
        let look = |index: usize| Some((index, self.order.looks()[index]));
        Ok(found.map(|(index, finds)| Step { look: look(index), finds }))
    }

    fn together(&self, position: &Position) -> Result<Option<(usize, Vec<Find>)>, Contradiction> {
        for (index, &look) in self.order.looks().iter().enumerate() {
            let finds = find_everywhere(position, &self.marks, look)?;
            if !finds.is_empty() {
                return Ok(Some((index, finds)));
            }
        }
        Ok(None)
    }

    fn update(&mut self, before: &Position, after: &Position) {
        let changed = self.marks.update(before, after);
        if let Some(course) = &mut self.one_by_one {
            course.forget(&changed);
        }
    }
}

fn find_everywhere(
    position: &Position,
    marks: &Marks,
    look: Look,
) -> Result<Vec<Find>, Contradiction> {
    let every =
        |find_in: &dyn Fn(House) -> Vec<Single>| one_per_cell(House::all().flat_map(find_in));
    Ok(match look {
        Look::Naked(size) if size.get() == 1 => {
            every(&|house| naked_singles(position, house, size).collect())
                .into_iter()
                .map(Find::NakedSingle)
                .collect()
        }
        Look::Hidden(size) if size.get() == 1 => {
            every(&|house| hidden_singles(position, house, size).collect())
                .into_iter()
                .map(Find::HiddenSingle)
                .collect()
        }
        Look::Intersections => House::all()
            .flat_map(|house| intersections(position, house))
            .map(Find::Intersection)
            .collect(),
        Look::Naked(_) | Look::Hidden(_) => {
            let mut finds = Vec::new();
            for house in marks.splits() {
                let (house, splits) = house?;
                let found = splits.subsets(house).filter(|subset| look.finds(subset));
                finds.extend(found.map(|subset| Find::Subset(Subset { applied: true, ..subset })));
            }
            finds
        }
    })
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::MinimalByDeletion;

    use super::*;

    /// Checks what a walk says of itself against its steps.
    #[derive(Default)]
    struct Account {
        quiet_positions: u16,
        given_digits: u8,
        hardest: Option<usize>,
        /// What is applied at the last quiet position, how many subsets are flagged, and its states.
        announced: Option<(AppliedLook, usize, [u16; Cell::COUNT])>,
        ended: bool,
    }

    impl Recorder for Account {
        fn quiet_position(&mut self, quiet: &QuietPosition<'_>) {
            let states = (quiet.states)();
            let fixed = states.iter().filter(|&&state| state >> 9 == 1).count();
            let candidates: u32 =
                states.iter().filter(|&&state| state >> 9 == 0).map(|s| s.count_ones()).sum();
            assert_eq!((quiet.puzzle, quiet.number), (0, self.quiet_positions));
            assert_eq!(quiet.given_digits, self.given_digits);
            assert_eq!(usize::from(quiet.fixed_cells), fixed);
            assert_eq!(u32::from(quiet.candidates_left), candidates);
            let exposure = quiet.exposure.all();
            let open = exposure.iter().zip(0u32..).map(|(&houses, n)| u32::from(houses) * n);
            assert_eq!(exposure.iter().sum::<u8>(), 27);
            assert_eq!(open.sum::<u32>(), 3 * (81 - fixed as u32));
            let flagged = quiet.subsets.iter().filter(|subset| subset.applied).count();
            assert_eq!(self.announced.replace((quiet.applied, flagged, states)), None);
            self.quiet_positions += 1;
        }

        fn step(&mut self, before: &Position, step: &Step) {
            let is_subset = |find: &&Find| matches!(find, Find::Subset(subset) if subset.applied);
            let subsets = step.finds.iter().filter(is_subset).count();
            let applied =
                step.look.map_or(AppliedLook::Given, |(index, _)| AppliedLook::Look(index));
            if let Some(announced) = self.announced.take() {
                assert_eq!(announced, (applied, subsets, before.states()));
            } else {
                assert!(!is_without_singles(before) && step.look.is_some_and(|(i, _)| i < 2));
            }
            self.hardest = self.hardest.max(step.look.map(|(index, _)| index));
            self.given_digits += u8::from(step.look.is_none());
        }

        fn end(&mut self, puzzle: usize, end: &WalkEnd, states: &dyn Fn() -> [u16; Cell::COUNT]) {
            let WalkEnd { outcome, quiet_positions, hardest, given_digits } = *end;
            assert_eq!((puzzle, quiet_positions), (0, self.quiet_positions));
            assert_eq!((hardest, given_digits), (self.hardest, self.given_digits));
            let is_solved = states().iter().all(|&state| state >> 9 == 1);
            assert_eq!(outcome == Outcome::Solved, is_solved);
            if let Some((applied, flagged, last)) = self.announced {
                assert_eq!((applied, flagged, last), (AppliedLook::Nothing, 0, states()));
            }
            self.ended = true;
        }
    }

    #[test]
    fn a_walk_keeps_account_of_itself() {
        let (mut given, mut stuck, mut subsets) = (0, 0, 0);
        for puzzle in (MinimalByDeletion { seed: 6 }).puzzles(0..40) {
            for kind in [CourseKind::Together, CourseKind::OneByOne] {
                for when_stuck in [WhenStuck::Stop, WhenStuck::GiveDigit] {
                    let order = Order::ladder().with_intersections();
                    let options = WalkOptions { order, course: kind.into(), when_stuck };
                    let mut account = Account::default();
                    let Walked { end, position } = walk(&puzzle, &options, &mut account);
                    assert!(account.ended);
                    assert_eq!(position.is_solved(), end.outcome == Outcome::Solved);
                    assert_ne!(end.outcome, Outcome::Contradiction);
                    let solution = unique_solution(&puzzle).unwrap();
                    let agrees =
                        |cell| position.fixed(cell).is_none_or(|d| solution.get(cell) == Some(d));
                    assert!(Cell::all().all(agrees));
                    if when_stuck == WhenStuck::GiveDigit {
                        assert_eq!(end.outcome, Outcome::Solved);
                        given += u32::from(end.given_digits);
                    } else {
                        assert_eq!(end.given_digits, 0);
                        stuck += u32::from(end.outcome == Outcome::Stuck);
                    }
                    subsets += u32::from(end.hardest > Some(1));
                }
            }
        }
        assert!(given > 20 && stuck > 10 && subsets > 40, "{given}, {stuck}, {subsets}");
    }

    #[test]
    fn the_digit_given_is_in_the_first_cell_with_the_fewest_candidates() {
        struct Given(u32);

        impl Recorder for Given {
            fn step(&mut self, before: &Position, step: &Step) {
                let [Find::Given { cell, .. }] = step.finds[..] else { return };
                let count = |cell: Cell| before.candidates(cell).len();
                let fewest = before.open_cells().iter().map(count).min().unwrap();
                assert_eq!(before.open_cells().iter().find(|&c| count(c) == fewest), Some(cell));
                self.0 += 1;
            }
        }

        let mut given = Given(0);
        let options = WalkOptions { when_stuck: WhenStuck::GiveDigit, ..WalkOptions::default() };
        for puzzle in (MinimalByDeletion { seed: 7 }).puzzles(0..60) {
            walk(&puzzle, &options, &mut given);
        }
        assert!(given.0 > 20);
    }

    #[test]
    fn a_board_that_cannot_be_filled_ends_in_a_contradiction() {
        // r1c9 sees all nine digits.
        let puzzle: Puzzle = format!("12345678.........9{}", ".".repeat(63)).parse().unwrap();
        let walked = walk(&puzzle, &WalkOptions::default(), &mut ());
        assert_eq!(walked.end.outcome, Outcome::Contradiction);
    }
}
