use std::collections::HashSet;

use tallyhouse_board::Puzzle;

/// Returns 128 bits of the BLAKE3 hash of some values, cell by cell.
#[must_use]
pub fn fingerprint(values: &[u8]) -> u128 {
    let hash = blake3::hash(values);
    u128::from_le_bytes(std::array::from_fn(|i| hash.as_bytes()[i]))
}

/// Finds puzzles that were seen before, cell by cell the same.
///
/// Keeps the [`fingerprint`] of each puzzle, 128 bits, so two different puzzles among n are taken for
/// the same with a chance below n²/2¹²⁹: 2 in 10²¹ for 10⁹ puzzles. The memory is 17 bytes for each of
/// the slots, of which 7/16 to 7/8 are in use: 19 to 39 bytes per puzzle, and half as much again while
/// the slots are doubled.
///
/// ```
/// use tallyhouse_board::Puzzle;
/// use tallyhouse_collection::Duplicates;
///
/// let mut duplicates = Duplicates::new();
/// let with_points: Puzzle = format!("12{}", ".".repeat(79)).parse()?;
/// let with_zeros: Puzzle = format!("12{}", "0".repeat(79)).parse()?;
/// assert!(duplicates.first_seen(&with_points));
/// assert!(!duplicates.first_seen(&with_zeros));
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
#[derive(Clone, Debug, Default)]
pub struct Duplicates {
    seen: HashSet<u128>,
}

impl Duplicates {
    /// Starts with nothing seen.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Tells if this is the first time; a blank is the same however it was written.
    pub fn first_seen(&mut self, puzzle: &Puzzle) -> bool {
        self.seen.insert(fingerprint(puzzle.values()))
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::Cell;

    use super::*;

    #[test]
    fn only_the_same_puzzle_is_a_repeat() {
        let puzzle: Puzzle = format!("12{}", ".".repeat(79)).parse().unwrap();
        let same: Puzzle = format!("12{}", "0".repeat(79)).parse().unwrap();
        let other = puzzle.without(Cell::at(0, 1));
        let mut duplicates = Duplicates::new();
        let first: Vec<bool> = [puzzle, other, same, other]
            .iter()
            .map(|puzzle| duplicates.first_seen(puzzle))
            .collect();
        assert_eq!(first, [true, true, false, false]);
    }
}
