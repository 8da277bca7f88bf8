//! Finding the solutions of a puzzle by search; singles between the guesses.

use tallyhouse_board::{Cell, Digit, House, Puzzle};

use crate::single::one_per_cell;
use crate::{Contradiction, Position, Size, hidden_singles};

/// Returns the solutions of a puzzle, at most `limit` of them, each as a board full of givens.
#[must_use]
pub fn solutions(puzzle: &Puzzle, limit: usize) -> Vec<Puzzle> {
    let mut found = Vec::new();
    search(Position::new(puzzle), limit, &mut found);
    found
}

/// Tests if a puzzle has a solution in which the cell does not hold the digit.
#[must_use]
pub fn has_other_solution(puzzle: &Puzzle, cell: Cell, digit: Digit) -> bool {
    if puzzle.get(cell) == Some(digit) {
        return false;
    }
    let mut position = Position::new(puzzle);
    position.remove(cell, tallyhouse_board::DigitSet::single(digit));
    let mut found = Vec::new();
    search(position, 1, &mut found);
    !found.is_empty()
}

fn search(mut position: Position, limit: usize, found: &mut Vec<Puzzle>) {
    if found.len() >= limit || place_singles(&mut position).is_err() {
        return;
    }
    let fewest = position.open_cells().iter().min_by_key(|&cell| position.candidates(cell).len());
    let Some(cell) = fewest else {
        let mut digits = [None; Cell::COUNT];
        for cell in Cell::all() {
            digits[cell.index()] = position.fixed(cell);
        }
        found.extend(Puzzle::new(digits));
        return;
    };
    for digit in position.candidates(cell).iter() {
        let mut guess = position.clone();
        if guess.place(cell, digit).is_ok() {
            search(guess, limit, found);
        }
    }
}

fn place_singles(position: &mut Position) -> Result<(), Contradiction> {
    let anywhere = Size::everywhere(1);
    loop {
        position.check()?;
        let naked: Vec<_> = position
            .open_cells()
            .iter()
            .filter_map(|cell| Some((cell, position.candidates(cell).only()?)))
            .collect();
        for &(cell, digit) in &naked {
            position.place(cell, digit)?;
        }
        if !naked.is_empty() {
            continue;
        }
        let hidden =
            one_per_cell(House::all().flat_map(|house| hidden_singles(position, house, anywhere)));
        if hidden.is_empty() {
            return Ok(());
        }
        for single in hidden {
            position.place(single.cell, single.digit)?;
        }
    }
}
