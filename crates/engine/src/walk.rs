//! The walk: repeating looks on a puzzle until nothing is found.

use tallyhouse_board::{Cell, Digit, House, Puzzle};

use crate::single::{is_without_singles, one_per_cell};
use crate::{
    Contradiction, Find, HouseSplits, Look, Order, Position, Single, Step, Subset, hidden_singles,
    intersections, naked_singles, solutions,
};

/// How finds are applied.
#[derive(Clone, Debug, PartialEq, Eq, strum::EnumDiscriminants)]
#[strum_discriminants(
    name(CourseKind),
    doc = "The kinds of [`Course`], by name.",
    derive(
        Default,
        strum::Display,
        strum::EnumMessage,
        strum::EnumString,
        strum::IntoStaticStr,
        strum::VariantArray
    ),
    strum(serialize_all = "kebab-case")
)]
pub enum Course {
    /// All finds of the first look that has any are applied at once.
    ///
    /// The result does not depend on the order of houses and is invariant under the board's
    /// symmetries.
    #[strum_discriminants(default)]
    Together,
    /// As a person works: the first find is applied at once; rows first, then columns, then boxes.
    ///
    /// The houses come in the order given here. Within a house, naked sides come in the order of
    /// their cells and hidden sides of their digits.
    OneByOne(Vec<House>),
}

impl From<CourseKind> for Course {
    /// Takes the houses of a one-by-one walk in their usual order.
    fn from(kind: CourseKind) -> Self {
        match kind {
            CourseKind::Together => Self::Together,
            CourseKind::OneByOne => Self::OneByOne(House::all().collect()),
        }
    }
}

/// What happens when no look finds anything.
#[derive(
    Clone,
    Copy,
    Debug,
    Default,
    PartialEq,
    Eq,
    strum::Display,
    strum::EnumMessage,
    strum::EnumString,
    strum::IntoStaticStr,
    strum::VariantArray,
)]
#[strum(serialize_all = "kebab-case")]
pub enum WhenStuck {
    /// The walk ends.
    #[default]
    Stop,
    /// One digit of the solution is given, and the walk goes on.
    ///
    /// It is given in the open cell with the fewest candidates, of several the one of lowest index.
    GiveDigit,
}

/// Everything that decides a walk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WalkOptions {
    /// The looks.
    pub order: Order,
    /// How finds are applied.
    pub course: Course,
    /// What happens when no look finds anything.
    pub when_stuck: WhenStuck,
}

impl Default for WalkOptions {
    /// The default ladder, together, stopping when stuck.
    fn default() -> Self {
        Self { order: Order::ladder(), course: Course::Together, when_stuck: WhenStuck::Stop }
    }
}

/// How a walk ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Every cell is fixed.
    Solved,
    /// No look finds anything.
    Stuck,
    /// The position has no solution.
    Contradiction(Contradiction),
}

/// What the walk did at a quiet position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AppliedLook {
    /// The look with this index in the order.
    Look(usize),
    /// Nothing was found, so a digit was given.
    Given,
    /// Nothing was found; the walk ends.
    Nothing,
}

/// A quiet position of a walk, as a recorder sees it before anything is applied.
pub struct QuietPosition<'a> {
    /// The number among the quiet positions of the walk, from 0.
    pub number: u16,
    /// How many digits were given before.
    pub given_digits: u8,
    /// How many cells are fixed.
    pub fixed_cells: u8,
    /// How many candidates the open cells have.
    pub candidates_left: u16,
    /// How many houses have each open count; index 0 and 1 are zero but for solved houses.
    pub exposure: [u8; 10],
    /// Every subset of every house: houses in order, then rising masks of cells.
    pub subsets: &'a [Subset],
    /// What the walk applies here.
    pub applied: AppliedLook,
    /// Gives the board state, in the form of [`Position::states`].
    pub states: &'a dyn Fn() -> [u16; Cell::COUNT],
}

/// Receives what a walk sees.
pub trait Recorder {
    /// Is called at each quiet position, before anything is applied.
    fn quiet_position(&mut self, position: &QuietPosition<'_>);

    /// Is called with each step and the position it starts from.
    fn step(&mut self, _before: &Position, _step: &Step) {}
}

/// The end of a walk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WalkResult {
    /// How the walk ended.
    pub outcome: Outcome,
    /// The number of quiet positions.
    pub quiet_positions: u16,
    /// The index in the order of the last look that was needed; `None` if none was.
    pub hardest: Option<usize>,
    /// How many digits were given.
    pub given_digits: u8,
    /// The position at the end.
    pub end: Position,
}

/// Walks a puzzle from its givens.
pub fn walk<R: Recorder + ?Sized>(
    puzzle: &Puzzle,
    options: &WalkOptions,
    recorder: &mut R,
) -> WalkResult {
    let mut result = WalkResult {
        outcome: Outcome::Stuck,
        quiet_positions: 0,
        hardest: None,
        given_digits: 0,
        end: Position::new(puzzle),
    };
    result.outcome = match take_steps(puzzle, options, recorder, &mut result) {
        Ok(()) if result.end.is_solved() => Outcome::Solved,
        Ok(()) => Outcome::Stuck,
        Err(contradiction) => Outcome::Contradiction(contradiction),
    };
    result
}

fn take_steps<R: Recorder + ?Sized>(
    puzzle: &Puzzle,
    options: &WalkOptions,
    recorder: &mut R,
    so_far: &mut WalkResult,
) -> Result<(), Contradiction> {
    let mut solution: Option<Puzzle> = None;
    loop {
        so_far.end.check()?;
        if so_far.end.is_solved() {
            return Ok(());
        }
        let quiet = is_without_singles(&so_far.end);
        let splits = if quiet { Some(all_splits(&so_far.end)?) } else { None };
        let mut step = find_step(&so_far.end, options, splits.as_deref())?;
        if step.is_none() && options.when_stuck == WhenStuck::GiveDigit {
            let known = match solution {
                Some(known) => known,
                None => match solutions(puzzle, 1).first() {
                    Some(known) => *solution.insert(*known),
                    None => return Ok(()),
                },
            };
            step = Some(given_step(&so_far.end, &known));
        }
        if let Some(splits) = &splits {
            record(so_far, splits, step.as_ref(), recorder);
        }
        let Some(step) = step else { return Ok(()) };
        recorder.step(&so_far.end, &step);
        match step.look {
            Some((index, _)) => so_far.hardest = so_far.hardest.max(Some(index)),
            None => so_far.given_digits += 1,
        }
        step.apply(&mut so_far.end)?;
    }
}

fn all_splits(position: &Position) -> Result<Vec<HouseSplits>, Contradiction> {
    House::all().map(|house| HouseSplits::of_house(position, house)).collect()
}

fn record<R: Recorder + ?Sized>(
    so_far: &mut WalkResult,
    splits: &[HouseSplits],
    step: Option<&Step>,
    recorder: &mut R,
) {
    let position = &so_far.end;
    let mut exposure = [0u8; 10];
    let mut subsets = Vec::new();
    for (house, splits) in House::all().zip(splits) {
        exposure[splits.open.len()] += 1;
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
        number: so_far.quiet_positions,
        given_digits: so_far.given_digits,
        fixed_cells: (Cell::COUNT - position.open_cells().len()) as u8,
        candidates_left: position.candidates_left() as u16,
        exposure,
        subsets: &subsets,
        applied: match step {
            Some(Step { look: Some((index, _)), .. }) => AppliedLook::Look(*index),
            Some(Step { look: None, .. }) => AppliedLook::Given,
            None => AppliedLook::Nothing,
        },
        states: &|| position.states(),
    });
    so_far.quiet_positions += 1;
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
    find_step(position, options, None)
}

fn find_step(
    position: &Position,
    options: &WalkOptions,
    splits: Option<&[HouseSplits]>,
) -> Result<Option<Step>, Contradiction> {
    let mut splits = splits.map(std::borrow::Cow::Borrowed);
    for (index, &look) in options.order.looks().iter().enumerate() {
        if splits.is_none() && !look.is_single() && look != Look::Intersections {
            splits = Some(std::borrow::Cow::Owned(all_splits(position)?));
        }
        let splits = splits.as_deref().unwrap_or(&[]);
        let finds = match &options.course {
            Course::Together => find_everywhere(position, look, splits),
            Course::OneByOne(houses) => find_first(position, look, splits, houses),
        };
        if !finds.is_empty() {
            return Ok(Some(Step { look: Some((index, look)), finds }));
        }
    }
    Ok(None)
}

fn find_everywhere(position: &Position, look: Look, splits: &[HouseSplits]) -> Vec<Find> {
    let every =
        |find_in: &dyn Fn(House) -> Vec<Single>| one_per_cell(House::all().flat_map(find_in));
    match look {
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
        Look::Naked(_) | Look::Hidden(_) => House::all()
            .zip(splits)
            .flat_map(|(house, splits)| found(look, house, splits))
            .collect(),
    }
}

fn find_first(
    position: &Position,
    look: Look,
    splits: &[HouseSplits],
    houses: &[House],
) -> Vec<Find> {
    let in_house = |&house: &House| match look {
        Look::Naked(size) if size.get() == 1 => {
            naked_singles(position, house, size).next().map(Find::NakedSingle)
        }
        Look::Hidden(size) if size.get() == 1 => {
            hidden_singles(position, house, size).next().map(Find::HiddenSingle)
        }
        Look::Intersections => intersections(position, house).next().map(Find::Intersection),
        Look::Naked(_) | Look::Hidden(_) => {
            found(look, house, &splits[house.index()]).min_by_key(|find| match (look, find) {
                (Look::Naked(_), Find::Subset(subset)) => subset.cells.iter().collect(),
                (_, Find::Subset(subset)) => {
                    let missing = position.missing(house);
                    (missing - subset.digits).iter().map(Digit::index).collect()
                }
                _ => Vec::new(),
            })
        }
    };
    houses.iter().find_map(in_house).into_iter().collect()
}

fn found(look: Look, house: House, splits: &HouseSplits) -> impl Iterator<Item = Find> + '_ {
    splits.subsets(house).filter(move |subset| look.finds(subset)).map(|mut subset| {
        subset.applied = true;
        Find::Subset(subset)
    })
}

fn given_step(position: &Position, solution: &Puzzle) -> Step {
    let cell = position.open_cells().iter().min_by_key(|&cell| position.candidates(cell).len());
    let given = cell.and_then(|cell| Some(Find::Given { cell, digit: solution.get(cell)? }));
    Step { look: None, finds: given.into_iter().collect() }
}
