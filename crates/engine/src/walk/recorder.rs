use tallyhouse_board::Cell;

use crate::{Exposure, Position, Step, Subset};

/// How a walk ended. A contradiction is not always noticed: a puzzle whose walk is stuck may have no
/// solution.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, strum::Display, strum::IntoStaticStr, strum::VariantNames,
)]
#[strum(serialize_all = "kebab-case")]
pub enum Outcome {
    /// Every cell is fixed and no house repeats a digit.
    Solved,
    /// No look finds anything.
    Stuck,
    /// The position has no solution.
    Contradiction,
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
#[non_exhaustive]
pub struct QuietPosition<'a> {
    /// The index of the puzzle among those walked; 0 in the walk of one.
    pub puzzle: usize,
    /// The number among the quiet positions of the walk, from 0.
    pub number: u16,
    /// How many digits were given before.
    pub given_digits: u8,
    /// How many cells are fixed.
    pub fixed_cells: u8,
    /// How many candidates the open cells have.
    pub candidates_left: u16,
    /// How many houses have each open count; none has 1.
    pub exposure: Exposure,
    /// Every subset of every house: houses in order, then rising masks of cells.
    pub subsets: &'a [Subset],
    /// What the walk applies here.
    pub applied: AppliedLook,
    /// Gives the board state, in the form of [`Position::states`].
    pub states: &'a dyn Fn() -> [u16; Cell::COUNT],
}

/// The end of a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WalkEnd {
    /// How the walk ended.
    pub outcome: Outcome,
    /// The number of quiet positions.
    pub quiet_positions: u16,
    /// The index in the order of the last look that was needed; `None` if none was.
    pub hardest: Option<usize>,
    /// How many digits were given.
    pub given_digits: u8,
}

/// Receives what a walk sees. Puzzles may be walked side by side: calls for different puzzles
/// interleave, those for one puzzle come in order.
///
/// ```
/// use tallyhouse_engine::{QuietPosition, Recorder, WalkOptions, walk};
///
/// #[derive(Default)]
/// struct Subsets(usize);
///
/// impl Recorder for Subsets {
///     fn quiet_position(&mut self, position: &QuietPosition<'_>) {
///         self.0 += position.subsets.len();
///     }
/// }
///
/// // A blank board is quiet and stays so: no house offers a subset.
/// let (puzzle, mut seen) = (".".repeat(81).parse()?, Subsets::default());
/// let walked = walk(&puzzle, &WalkOptions::default(), &mut seen);
/// assert_eq!((walked.end.quiet_positions, seen.0), (1, 0));
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
pub trait Recorder {
    /// Is called at each quiet position, before anything is applied.
    fn quiet_position(&mut self, _position: &QuietPosition<'_>) {}

    /// Is called by [`walk`](crate::walk()) with each step and the position it starts from; the fast
    /// walk has no steps to show.
    fn step(&mut self, _before: &Position, _step: &Step) {}

    /// Is called when the walk of the puzzle with this index has ended; `states` gives the board
    /// state, in the form of [`Position::states`].
    fn end(&mut self, _puzzle: usize, _end: &WalkEnd, _states: &dyn Fn() -> [u16; Cell::COUNT]) {}
}

/// Keeps nothing.
impl Recorder for () {}
