//! Random boards, puzzles and positions, each decided by a seed.

use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Cell, Digit, DigitSet, Puzzle};
use tallyhouse_engine::{Position, unique_solution};

use crate::plain;

/// Values cell by cell, 0 for a blank.
pub type Values = [u8; 81];

/// Returns the generator of random numbers for a seed.
#[must_use]
pub fn rng(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// Returns the digits that no peer of a blank cell shows.
fn legal(values: &Values, cell: usize) -> Vec<u8> {
    let peers: Vec<usize> = Cell::all()
        .nth(cell)
        .map_or_else(Vec::new, |cell| cell.peers().iter().map(Cell::index).collect());
    (1..=9).filter(|&digit| peers.iter().all(|&peer| values[peer] != digit)).collect()
}

/// Returns a random solved board: backtracking in the cell with the fewest choices, digits in
/// random order. Not uniform over all boards.
#[must_use]
pub fn solved_board(rng: &mut ChaCha8Rng) -> Values {
    let mut values = [0; 81];
    let mut first_row: Vec<u8> = (1..=9).collect();
    first_row.shuffle(rng);
    values[..9].copy_from_slice(&first_row);
    assert!(fill(&mut values, rng), "any first row can be completed");
    values
}

fn fill(values: &mut Values, rng: &mut ChaCha8Rng) -> bool {
    let blank = (0..81).filter(|&cell| values[cell] == 0);
    let Some((mut choices, cell)) =
        blank.map(|cell| (legal(values, cell), cell)).min_by_key(|(choices, _)| choices.len())
    else {
        return true;
    };
    choices.shuffle(rng);
    for digit in choices {
        values[cell] = digit;
        if fill(values, rng) {
            return true;
        }
    }
    values[cell] = 0;
    false
}

/// Keeps the values of random cells, so many of them.
#[must_use]
pub fn keep_clues(board: &Values, clues: usize, rng: &mut ChaCha8Rng) -> Values {
    let mut cells: Vec<usize> = (0..81).collect();
    cells.shuffle(rng);
    let mut values = [0; 81];
    for &cell in &cells[..clues] {
        values[cell] = board[cell];
    }
    values
}

/// Returns a random puzzle with 24 to 34 clues. It has a solution, often several.
#[must_use]
pub fn loose_puzzle(rng: &mut ChaCha8Rng) -> Puzzle {
    let board = solved_board(rng);
    let clues = rng.random_range(24..=34);
    plain::puzzle(&keep_clues(&board, clues, rng))
}

/// Returns a random puzzle with one clue changed, so that most have no solution. No house repeats
/// a digit.
#[must_use]
pub fn altered_puzzle(rng: &mut ChaCha8Rng) -> Puzzle {
    loop {
        let board = solved_board(rng);
        let clues = rng.random_range(24..=34);
        let mut values = keep_clues(&board, clues, rng);
        let mut cells: Vec<usize> = (0..81).filter(|&cell| values[cell] != 0).collect();
        cells.shuffle(rng);
        for cell in cells {
            let mut choices = legal(&values, cell);
            choices.retain(|&digit| digit != board[cell]);
            choices.shuffle(rng);
            if let Some(&digit) = choices.first() {
                values[cell] = digit;
                return plain::puzzle(&values);
            }
        }
    }
}

/// Returns a random valid puzzle and its solution: clues are dropped in random order while the
/// solution stays the only one, until nothing more can go or so many are left.
#[must_use]
pub fn valid_puzzle(least_clues: usize, rng: &mut ChaCha8Rng) -> (Puzzle, Values) {
    let board = solved_board(rng);
    let mut cells: Vec<usize> = (0..81).collect();
    cells.shuffle(rng);
    let mut values = board;
    let mut clues = 81;
    for cell in cells {
        if clues == least_clues {
            break;
        }
        values[cell] = 0;
        if unique_solution(&plain::puzzle(&values)).is_some() {
            clues -= 1;
        } else {
            values[cell] = board[cell];
        }
    }
    (plain::puzzle(&values), board)
}

/// Builds a position of a solved board: fixed cells hold their digit, open ones their digit and
/// those of `extra` (bit 0 for digit 1) that no fixed peer shows.
#[must_use]
pub fn position_of(board: &Values, fixed: &[bool], extra: &[u16]) -> Position {
    let givens = std::array::from_fn(|cell| if fixed[cell] { board[cell] } else { 0 });
    let mut position = Position::new(&plain::puzzle(&givens));
    for cell in position.open_cells().iter() {
        let kept = DigitSet::from_bits_truncate(extra[cell.index()]);
        let own = Digit::new(board[cell.index()]).map_or(DigitSet::EMPTY, DigitSet::single);
        position.remove(cell, (kept | own).complement());
    }
    position
}

/// Returns a random position of a random solved board; open cells keep each wrong candidate with a
/// probability drawn once for the position. It may be quiet or not.
#[must_use]
pub fn position(rng: &mut ChaCha8Rng) -> Position {
    let board = solved_board(rng);
    let share_fixed = rng.random_range(0.15..0.75);
    let share_kept = rng.random_range(0.05..0.9);
    let fixed: Vec<bool> = (0..81).map(|_| rng.random_bool(share_fixed)).collect();
    let extra: Vec<u16> = (0..81)
        .map(|_| (0..9).filter(|_| rng.random_bool(share_kept)).map(|bit| 1 << bit).sum())
        .collect();
    position_of(&board, &fixed, &extra)
}
