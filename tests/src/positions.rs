//! Random boards, puzzles and positions, all from a seed.

use std::collections::BTreeSet;

use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Cell, Digit, DigitSet, Puzzle};
use tallyhouse_engine::Position;

use crate::brute_force::Board;

/// A generator for one numbered case.
pub fn rng(seed: u64, case: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(case);
    rng
}

/// A random solved board: a cyclic pattern under a random symmetry and relabelling of digits.
pub fn solved_board(rng: &mut ChaCha8Rng) -> [u8; 81] {
    let symmetry = crate::symmetry::Symmetry::random(rng);
    let mut board = [0; 81];
    for row in 0..9 {
        for column in 0..9 {
            board[row * 9 + column] = ((row * 3 + row / 3 + column) % 9 + 1) as u8;
        }
    }
    symmetry.apply(&board)
}

/// A random position around a solved board: some cells fixed, the others with the true digit and
/// each other possible digit by chance. Some are quiet, most are not.
pub fn position(rng: &mut ChaCha8Rng) -> Position {
    let board = solved_board(rng);
    let mut cells: Vec<Cell> = Cell::all().collect();
    cells.shuffle(rng);
    let fixed = rng.random_range(12..66);
    let keep = rng.random_range(0.05..0.9);
    let mut position = Position::blank();
    let digit = |cell: Cell| Digit::new(board[cell.index()]).unwrap();
    for &cell in &cells[..fixed] {
        position.place(cell, digit(cell)).unwrap();
    }
    for &cell in &cells[fixed..] {
        let gone: DigitSet =
            Digit::all().filter(|&d| d != digit(cell) && !rng.random_bool(keep)).collect();
        position.remove(cell, gone);
    }
    position
}

/// A random puzzle with about as many clues as hard puzzles have; often with several solutions.
pub fn sparse_puzzle(rng: &mut ChaCha8Rng) -> Puzzle {
    let board = solved_board(rng);
    let clues = rng.random_range(22..36);
    let mut cells: Vec<usize> = (0..81).collect();
    cells.shuffle(rng);
    let mut digits = [None; 81];
    for &cell in &cells[..clues] {
        digits[cell] = Digit::new(board[cell]);
    }
    Puzzle::new(digits).unwrap()
}

/// The same position as ordinary sets.
pub fn plain(position: &Position) -> Board {
    let set = |digits: DigitSet| -> BTreeSet<u8> { digits.iter().map(Digit::value).collect() };
    Cell::all()
        .map(|cell| position.open_cells().contains(cell).then(|| set(position.candidates(cell))))
        .collect()
}
