//! Numbers of solutions against a general SAT solver, which knows no singles and no guesses in
//! cells, and against counts that follow from the board alone.
//!
//! One variable per cell and digit; each of the 324 constraints (a cell has a digit, a house has a
//! digit) is an exactly-one. 729 candidates and 324 constraints: follows from the counts in
//! Herzberg & Murty, "Sudoku Squares and Chromatic Polynomials", Notices AMS 54(6), 2007, 708–717.

use std::collections::BTreeSet;

use rand::RngExt;
use rand::seq::SliceRandom;
use tallyhouse_board::{Cell, Digit, Puzzle};
use tallyhouse_engine::unique_solution;
use tallyhouse_oracles::brute_force::house_cells;
use tallyhouse_oracles::positions::Values;
use tallyhouse_oracles::solutions::{has_other_solution, solutions};
use tallyhouse_oracles::{plain, positions};
use varisat::{ExtendFormula, Lit, Solver, Var};

fn var(cell: usize, digit: u8) -> Var {
    Var::from_index(cell * 9 + usize::from(digit) - 1)
}

/// Returns the 324 sets of variables of which exactly one is true.
fn constraints() -> Vec<Vec<Var>> {
    let cells = (0..81).map(|cell| (1..=9).map(|digit| var(cell, digit)).collect());
    let houses = (0..27).flat_map(|house| {
        (1..=9).map(move |digit| house_cells(house).map(|cell| var(cell, digit)).to_vec())
    });
    cells.chain(houses).collect()
}

fn solver(puzzle: &Puzzle) -> Solver<'static> {
    let mut solver = Solver::new();
    for one_of in constraints() {
        solver.add_clause(&one_of.iter().map(|var| var.positive()).collect::<Vec<_>>());
        for (i, a) in one_of.iter().enumerate() {
            for b in &one_of[..i] {
                solver.add_clause(&[a.negative(), b.negative()]);
            }
        }
    }
    for (cell, &digit) in puzzle.values().iter().enumerate().filter(|(_, digit)| **digit != 0) {
        solver.add_clause(&[var(cell, digit).positive()]);
    }
    solver
}

/// Lists solutions by blocking each one found.
fn by_sat(puzzle: &Puzzle, limit: usize) -> BTreeSet<Values> {
    let mut solver = solver(puzzle);
    let mut found = BTreeSet::new();
    while found.len() < limit && solver.solve().unwrap() {
        let shown: Vec<Lit> =
            solver.model().unwrap().into_iter().filter(|lit| lit.is_positive()).collect();
        let mut values = [0; 81];
        for lit in &shown {
            values[lit.index() / 9] = (lit.index() % 9 + 1) as u8;
        }
        assert!(found.insert(values), "a blocked solution came back");
        solver.add_clause(&shown.iter().map(|&lit| !lit).collect::<Vec<_>>());
    }
    found
}

fn by_engine(puzzle: &Puzzle, limit: usize) -> BTreeSet<Values> {
    let list = solutions(puzzle, limit as u32);
    let found: BTreeSet<Values> = list.iter().map(|solution| *solution.values()).collect();
    assert_eq!(found.len(), list.len(), "a solution came twice: {puzzle}");
    for values in &found {
        // `plain::puzzle` refuses repeats, so a full board is a solved one.
        assert_eq!(plain::puzzle(values).clues(), 81);
        let keeps = |(cell, digit): (Cell, Digit)| values[cell.index()] == digit.value();
        assert!(puzzle.givens().all(keeps), "{puzzle}");
    }
    found
}

#[test]
fn the_encoding_has_324_constraints_of_729_candidates() {
    let constraints = constraints();
    assert_eq!(constraints.len(), 324);
    let variables: BTreeSet<Var> = constraints.into_iter().flatten().collect();
    assert_eq!(variables.len(), 729);
}

#[test]
fn numbers_of_solutions_agree_with_sat() {
    let mut seen = [0usize; 4];
    for seed in 0..800 {
        let mut rng = positions::rng(10_000_000 + seed);
        let puzzle = match seed % 4 {
            0 => positions::valid_puzzle(17, &mut rng).0,
            1 => positions::altered_puzzle(&mut rng),
            2 => positions::loose_puzzle(&mut rng),
            _ => {
                // A valid puzzle less a clue: often two or three solutions.
                let (puzzle, _) = positions::valid_puzzle(25, &mut rng);
                let clues: Vec<Cell> = puzzle.givens().map(|(cell, _)| cell).collect();
                puzzle.without(clues[rng.random_range(0..clues.len())])
            }
        };
        let (expected, found) = (by_sat(&puzzle, 3), by_engine(&puzzle, 3));
        assert_eq!(found.len(), expected.len(), "{puzzle}");
        if found.len() < 3 {
            assert_eq!(found, expected, "{puzzle}");
        }
        for limit in 1..3 {
            assert_eq!(by_engine(&puzzle, limit).len(), limit.min(found.len()), "{puzzle}");
        }
        let only = if found.len() == 1 { found.first() } else { None };
        assert_eq!(unique_solution(&puzzle).as_ref().map(Puzzle::values), only, "{puzzle}");
        seen[found.len()] += 1;
    }
    println!("by number of solutions up to 3: {seen:?}");
    assert!(seen.iter().all(|&count| count >= 20), "{seen:?}");
}

#[test]
fn other_solutions_agree_with_sat() {
    let (mut yes, mut no) = (0, 0);
    for seed in 0..60 {
        let mut rng = positions::rng(11_000_000 + seed);
        let puzzle = match seed % 3 {
            0 => positions::valid_puzzle(26, &mut rng).0,
            1 => positions::altered_puzzle(&mut rng),
            _ => positions::loose_puzzle(&mut rng),
        };
        let mut solver = solver(&puzzle);
        for cell in (0..81).filter(|&cell| puzzle.values()[cell] == 0) {
            for _ in 0..2 {
                let digit = rng.random_range(1..=9);
                solver.assume(&[var(cell, digit).negative()]);
                let expected = solver.solve().unwrap();
                let digit = Digit::new(digit).unwrap();
                let found = has_other_solution(&puzzle, Cell::new(cell).unwrap(), digit);
                assert_eq!(found, expected, "{puzzle}: cell {cell} other than {digit}");
                if expected { yes += 1 } else { no += 1 }
            }
        }
    }
    assert!(yes > 1_000 && no > 1_000, "{yes} yes, {no} no");
}

/// A puzzle with one solution has no other; asked cell by cell for the solution's own digits.
#[test]
fn a_valid_puzzle_has_no_other_solution() {
    for seed in 0..40 {
        let (puzzle, board) = positions::valid_puzzle(17, &mut positions::rng(12_000_000 + seed));
        for cell in Cell::all().filter(|&cell| puzzle.get(cell).is_none()) {
            let digit = Digit::new(board[cell.index()]).unwrap();
            assert!(!has_other_solution(&puzzle, cell, digit), "{puzzle}");
        }
        // Minimal, so without any one clue another digit fits there.
        for (cell, digit) in puzzle.givens() {
            assert!(has_other_solution(&puzzle.without(cell), cell, digit), "{puzzle}");
        }
    }
}

/// Any digit but the given is lacking in its cell as soon as there is a solution at all; to ask for
/// another digit than the given takes the given away.
#[test]
fn a_given_is_part_of_every_solution() {
    for seed in 0..20 {
        let puzzle = positions::loose_puzzle(&mut positions::rng(17_000_000 + seed));
        for (cell, given) in puzzle.givens() {
            for digit in Digit::all() {
                let found = has_other_solution(&puzzle, cell, digit);
                let expected =
                    digit != given || has_other_solution(&puzzle.without(cell), cell, digit);
                assert_eq!(found, expected, "{puzzle}: {cell} other than {digit}");
            }
        }
    }
}

/// No puzzle with 16 clues has exactly one solution (G. McGuire, B. Tugemann, G. Civario, "There Is
/// No 16-Clue Sudoku", arXiv:1201.0749; Experimental Mathematics 23(2), 2014, 190–217, journal pages
/// from memory). Random clue sets are a weak test of it, but a solution lost shows.
#[test]
fn sixteen_clues_never_suffice() {
    for seed in 0..300 {
        let mut rng = positions::rng(13_000_000 + seed);
        let board = positions::solved_board(&mut rng);
        let puzzle = plain::puzzle(&positions::keep_clues(&board, 16, &mut rng));
        assert_eq!(by_engine(&puzzle, 2).len(), 2, "{puzzle}");
    }
}

/// Two digits that no clue shows can be exchanged, so a valid puzzle shows at least eight (common
/// practice, no source).
#[test]
fn two_digits_unseen_make_two_solutions() {
    for seed in 0..200 {
        let mut rng = positions::rng(14_000_000 + seed);
        let board = positions::solved_board(&mut rng);
        let values = board.map(|digit| if digit <= 2 { 0 } else { digit });
        let found = by_engine(&plain::puzzle(&values), 2_000);
        // The 18 blank cells form even rings through the houses; each can be filled in two ways.
        let mut ring: Vec<usize> = (0..81).collect();
        for house in 0..27 {
            let blank: Vec<usize> =
                house_cells(house).into_iter().filter(|&cell| values[cell] == 0).collect();
            let [a, b] = blank[..] else { panic!("each house has two blank cells") };
            let (from, to) = (ring[a], ring[b]);
            ring.iter_mut().filter(|ring| **ring == from).for_each(|ring| *ring = to);
        }
        let rings: BTreeSet<usize> =
            (0..81).filter(|&cell| values[cell] == 0).map(|cell| ring[cell]).collect();
        assert_eq!(found.len(), 1 << rings.len());
        let swapped = board.map(|digit| if digit <= 2 { 3 - digit } else { digit });
        assert!(found.contains(&board) && found.contains(&swapped));
    }
}

/// Four cells in two rows, two columns and two boxes that hold two digits crosswise: blank, they
/// have exactly two solutions (common practice, no source).
#[test]
fn a_crosswise_rectangle_has_two_solutions() {
    let mut found = 0;
    for seed in 0..100 {
        let mut rng = positions::rng(15_000_000 + seed);
        let board = positions::solved_board(&mut rng);
        let mut columns: Vec<usize> = (0..9).collect();
        columns.shuffle(&mut rng);
        for (&a, &b) in columns.iter().zip(&columns[1..]).filter(|(a, b)| **a / 3 != **b / 3) {
            for (upper, lower) in
                [(0, 1), (0, 2), (1, 2), (3, 4), (3, 5), (4, 5), (6, 7), (6, 8), (7, 8)]
            {
                let cells = [upper * 9 + a, upper * 9 + b, lower * 9 + a, lower * 9 + b];
                if board[cells[0]] != board[cells[3]] || board[cells[1]] != board[cells[2]] {
                    continue;
                }
                let mut values = board;
                for cell in cells {
                    values[cell] = 0;
                }
                let puzzle = plain::puzzle(&values);
                assert_eq!(by_engine(&puzzle, 9).len(), 2, "{puzzle}");
                assert_eq!(by_sat(&puzzle, 9), by_engine(&puzzle, 9), "{puzzle}");
                found += 1;
            }
        }
    }
    assert!(found >= 20, "only {found} rectangles");
}

/// The empty board has more solutions than are asked for, a full one its own, and a house that
/// cannot be filled none.
#[test]
fn extreme_boards() {
    let blank = plain::puzzle(&[0; 81]);
    assert_eq!(by_engine(&blank, 50).len(), 50);
    assert_eq!(by_sat(&blank, 3).len(), 3);
    let board = positions::solved_board(&mut positions::rng(16_000_000));
    assert_eq!(by_engine(&plain::puzzle(&board), 3), BTreeSet::from([board]));
    // Digits 1 to 8 in the first row, 9 below in the column of its last cell.
    let mut values = [0; 81];
    for (cell, digit) in (1..=8u8).enumerate() {
        values[cell] = digit;
    }
    values[5 * 9 + 8] = 9;
    let broken = plain::puzzle(&values);
    assert!(by_engine(&broken, 3).is_empty() && by_sat(&broken, 3).is_empty());
}
