//! The engine's values as plain numbers and sets.

use tallyhouse_board::{Cell, Digit, Puzzle};
use tallyhouse_engine::{Outcome, Position, Subset};

use crate::brute_force::{Candidates, End, Found, Tight};

/// Returns the candidates of each open cell of a position.
#[must_use]
pub fn candidates(position: &Position) -> Candidates {
    std::array::from_fn(|index| {
        let cell = Cell::new(index)?;
        let digits = position.candidates(cell).iter().map(Digit::value).collect();
        position.open_cells().contains(cell).then_some(digits)
    })
}

/// Returns a board state of 81 masks as fixed digits (0 for an open cell) and candidates.
#[must_use]
pub fn state(states: &[u16; 81]) -> ([u8; 81], Candidates) {
    let digits = |mask: u16| (1..=9u8).filter(move |digit| mask >> (digit - 1) & 1 == 1);
    let is_fixed = |mask: u16| mask >> 9 == 1;
    let fixed = states.map(|mask| if is_fixed(mask) { digits(mask).sum() } else { 0 });
    let open = |cell: usize| (!is_fixed(states[cell])).then(|| digits(states[cell]).collect());
    (fixed, std::array::from_fn(open))
}

/// Returns everything the engine says of a subset.
#[must_use]
pub fn found(subset: &Subset) -> Found {
    Found {
        house: subset.house.index(),
        open: subset.open.into(),
        naked: subset.naked.into(),
        hidden: subset.hidden().into(),
        live_open: subset.live_open.into(),
        live_naked: subset.live_naked.into(),
        live_hidden: subset.live_hidden().into(),
        tight: Tight {
            cells: subset.cells.iter().collect(),
            digits: subset.digits.iter().map(Digit::value).collect(),
            eliminations: subset.eliminations.into(),
            naked_proper: subset.naked_proper,
            hidden_proper: subset.hidden_proper,
        },
        applied: subset.applied,
    }
}

/// Returns how a walk ended.
#[must_use]
pub const fn end(outcome: Outcome) -> End {
    match outcome {
        Outcome::Solved => End::Solved,
        Outcome::Stuck => End::Stuck,
        Outcome::Contradiction => End::Contradiction,
    }
}

/// Returns the puzzle with these values, 0 for a blank.
///
/// # Panics
/// If a house repeats a digit.
#[must_use]
pub fn puzzle(values: &[u8; 81]) -> Puzzle {
    Puzzle::new(values.map(Digit::new)).expect("no house repeats a digit")
}
