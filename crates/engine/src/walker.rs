use tallyhouse_board::Puzzle;

use crate::walk::walk_numbered;
use crate::{FastWalk, Recorder, WalkOptions};

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
}
