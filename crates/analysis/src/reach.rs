//! How far walks get, measured by the full ladder's.

use tallyhouse_board::{Cell, House};
use tallyhouse_census::PuzzleScan;
use tallyhouse_engine::{HouseSplits, Outcome, Position, Subset};

/// The bit of a board state's cells that are fixed.
pub(crate) const FIXED: u16 = 1 << 9;

/// Tests if a walk that gets stuck reaches less than another: a candidate is left that the other has
/// removed, or a cell open that the other has fixed. `other` is `None` if that one solves the puzzle.
pub(crate) fn falls_short(end: &[u16; Cell::COUNT], other: Option<&[u16; Cell::COUNT]>) -> bool {
    other.is_none_or(|other| {
        end.iter().zip(other).any(|(end, other)| {
            end & !other & !FIXED != 0 || other & FIXED != 0 && end & FIXED == 0
        })
    })
}

/// Returns the board where the full ladder's walk gets stuck; `None` if it solves the puzzle.
pub(crate) fn ladder_states(scan: &PuzzleScan) -> Option<&[u16; Cell::COUNT]> {
    let last = scan.positions.last().filter(|_| scan.outcome != Outcome::Solved);
    last.and_then(|position| position.states.as_deref())
}

/// Returns every subset of a board: houses in order, then rising masks of cells.
pub(crate) fn subsets_at(states: &[u16; Cell::COUNT]) -> Vec<Subset> {
    // A valid puzzle's states are never malformed, nor its houses crowded.
    let Ok(position) = Position::from_states(states) else { return Vec::new() };
    let subsets_of = |house| {
        let splits = HouseSplits::of_house(&position, house).ok()?;
        Some(splits.subsets(house).collect::<Vec<_>>())
    };
    House::all().filter_map(subsets_of).flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reach_is_compared_cell_by_cell() {
        let mut ladder = [0b11; Cell::COUNT];
        ladder[0] = 0b1 | 1 << 9;
        let mut same = ladder;
        assert!(!falls_short(&same, Some(&ladder)) && falls_short(&same, None));
        // Less left in one cell makes up for nothing in another.
        same[5] = 0b10 | 1 << 9;
        assert!(!falls_short(&same, Some(&ladder)));
        same[7] = 0b111;
        assert!(falls_short(&same, Some(&ladder)));
        // A single candidate that is not fixed.
        let mut open = ladder;
        open[0] = 0b1;
        assert!(falls_short(&open, Some(&ladder)) && !falls_short(&ladder, Some(&open)));
    }
}
