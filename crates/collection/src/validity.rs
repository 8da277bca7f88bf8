use tallyhouse_board::Puzzle;
use tallyhouse_engine::{Answer, count_solutions};

use crate::{Block, Entry, Reason, Reject};

/// Tests for each puzzle if it has exactly one solution; else says why it is rejected.
#[must_use]
pub fn validities(puzzles: &[Puzzle]) -> Vec<Result<(), Reason>> {
    count_solutions(puzzles, 2).into_iter().map(validity_of).collect()
}

/// Says whether a puzzle with so many solutions is valid.
///
/// # Errors
/// Why it is rejected.
pub const fn validity_of(answer: Answer) -> Result<(), Reason> {
    match answer {
        Answer { solutions: 2.., .. } => Err(Reason::SeveralSolutions),
        Answer { complete: false, .. } => Err(Reason::Undecided),
        Answer { solutions: 1, .. } => Ok(()),
        Answer { solutions: 0, .. } => Err(Reason::NoSolution),
    }
}

/// Tests if a puzzle has exactly one solution.
///
/// # Errors
/// Why it is rejected.
pub fn validity(puzzle: &Puzzle) -> Result<(), Reason> {
    validities(std::slice::from_ref(puzzle)).pop().unwrap_or(Err(Reason::Undecided))
}

/// Rejects the puzzles of a block that have not exactly one solution.
#[must_use]
pub fn only_valid(block: Block) -> Block {
    let puzzles: Vec<Puzzle> = block.iter().flatten().map(|entry| entry.puzzle).collect();
    let mut verdicts = validities(&puzzles).into_iter();
    let check = |row: Result<Entry, Reject>| {
        let entry = row?;
        let verdict = verdicts.next().unwrap_or_else(|| unreachable!("each puzzle has a verdict"));
        verdict.map_err(|reason| entry.reject(reason)).map(|()| entry)
    };
    block.into_iter().map(check).collect()
}
