use tallyhouse_board::Puzzle;
use tallyhouse_engine::solutions;

use crate::Reason;

/// Tests if a puzzle has exactly one solution.
///
/// # Errors
/// [`Reason::NoSolution`] or [`Reason::SeveralSolutions`].
pub fn validity(puzzle: &Puzzle) -> Result<(), Reason> {
    match solutions(puzzle, 2).len() {
        0 => Err(Reason::NoSolution),
        1 => Ok(()),
        _ => Err(Reason::SeveralSolutions),
    }
}
