use tallyhouse_board::Puzzle;

use crate::walk::walk_numbered;
use crate::{Answer, FastWalk, Recorder, WalkOptions, count_solutions};

/// Walks many puzzles: fast where the options allow it, else one after the other with the simple
/// engine. The records are the same.
///
/// ```
/// use tallyhouse_engine::{Outcome, Recorder, WalkEnd, WalkOptions, Walker};
///
/// struct Stuck(usize);
///
/// impl Recorder for Stuck {
///     fn end(&mut self, _puzzle: usize, end: &WalkEnd, _states: &dyn Fn() -> [u16; 81]) {
///         self.0 += usize::from(end.outcome == Outcome::Stuck);
///     }
/// }
///
/// let mut stuck = Stuck(0);
/// Walker::new(WalkOptions::default()).walk(&[".".repeat(81).parse()?; 3], &mut stuck);
/// assert_eq!(stuck.0, 3);
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
pub struct Walker {
    options: WalkOptions,
    fast: Option<FastWalk>,
}

impl Walker {
    /// Prepares walks with these options.
    #[must_use]
    pub fn new(options: WalkOptions) -> Self {
        Self { fast: FastWalk::new(&options), options }
    }

    /// Walks all puzzles. Steps are shown by the simple engine alone.
    pub fn walk<R: Recorder>(&mut self, puzzles: &[Puzzle], recorder: &mut R) {
        match &mut self.fast {
            Some(fast) => fast.walk(puzzles, recorder),
            None => {
                for (index, puzzle) in puzzles.iter().enumerate() {
                    walk_numbered(index, puzzle, &self.options, recorder);
                }
            }
        }
    }

    /// Returns how many solutions some of the puzzles that were walked last have, at most two. `wanted`
    /// are their indices; searches begin where the walks got stuck.
    #[must_use]
    pub fn count_solutions(&self, puzzles: &[Puzzle], wanted: &[usize]) -> Vec<Answer> {
        match &self.fast {
            Some(fast) => fast.count_solutions(puzzles, wanted),
            None => {
                let puzzles: Vec<Puzzle> = wanted.iter().map(|&index| puzzles[index]).collect();
                count_solutions(&puzzles, 2)
            }
        }
    }
}
