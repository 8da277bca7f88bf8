//! Solution counts against a SAT solver on valid, broken and several-solution puzzles.

use rand::RngExt;
use tallyhouse_board::{Cell, Digit, Puzzle};
use tallyhouse_collection::{MinimalByDeletion, Reason, validity};
use tallyhouse_engine::{has_other_solution, solutions};
use tallyhouse_tests::brute_force::cells_of_house;
use tallyhouse_tests::positions::{rng, sparse_puzzle};
use varisat::{ExtendFormula, Lit, Solver, Var};

const LIMIT: usize = 3;

fn literal(cell: usize, digit: u8) -> Lit {
    Lit::positive(Var::from_index(cell * 9 + usize::from(digit) - 1))
}

/// Counts solutions by asking a SAT solver again and again, each solution forbidden once found.
fn count_by_sat(puzzle: &Puzzle, forbidden: Option<(usize, u8)>) -> usize {
    let mut solver = Solver::new();
    for cell in 0..81 {
        let some: Vec<Lit> = (1..=9).map(|digit| literal(cell, digit)).collect();
        solver.add_clause(&some);
        for a in 1..=9 {
            for b in a + 1..=9 {
                solver.add_clause(&[!literal(cell, a), !literal(cell, b)]);
            }
        }
    }
    for house in 0..27 {
        let cells = cells_of_house(house);
        for digit in 1..=9 {
            for (index, &a) in cells.iter().enumerate() {
                for &b in &cells[index + 1..] {
                    solver.add_clause(&[!literal(a, digit), !literal(b, digit)]);
                }
            }
        }
    }
    for (cell, digit) in puzzle.givens() {
        solver.add_clause(&[literal(cell.index(), digit.value())]);
    }
    if let Some((cell, digit)) = forbidden {
        solver.add_clause(&[!literal(cell, digit)]);
    }
    for count in 0..LIMIT {
        if !solver.solve().unwrap() {
            return count;
        }
        let model = solver.model().unwrap();
        let differs: Vec<Lit> = model.into_iter().filter(|l| l.is_positive()).map(|l| !l).collect();
        solver.add_clause(&differs);
    }
    LIMIT
}

#[test]
fn counts_agree_on_valid_broken_and_open_puzzles() {
    let generator = MinimalByDeletion { seed: 21 };
    let mut seen = [0; LIMIT + 1];
    for index in 0..120 {
        let rng = &mut rng(22, index);
        let valid = generator.puzzle(index);
        // One clue changed to another digit that no house repeats: often no solution is left.
        let changed = valid.givens().find_map(|(cell, _)| {
            let mut digits = valid.values().map(Digit::new);
            let other = Digit::new(rng.random_range(1..=9));
            (digits[cell.index()] != other).then(|| digits[cell.index()] = other)?;
            Puzzle::new(digits).ok()
        });
        for puzzle in [Some(valid), changed, Some(sparse_puzzle(rng))].into_iter().flatten() {
            let expected = count_by_sat(&puzzle, None);
            seen[expected] += 1;
            let found = solutions(&puzzle, LIMIT);
            assert_eq!(found.len(), expected, "{puzzle}");
            for solution in &found {
                assert_eq!(solution.clues(), 81);
                assert!(puzzle.givens().all(|(cell, digit)| solution.get(cell) == Some(digit)));
            }
            let verdict = match expected {
                0 => Err(Reason::NoSolution),
                1 => Ok(()),
                _ => Err(Reason::SeveralSolutions),
            };
            assert_eq!(validity(&puzzle), verdict, "{puzzle}");
            if let Some((cell, digit)) = puzzle.givens().nth(rng.random_range(0..10)) {
                let without = puzzle.without(cell);
                let expected = count_by_sat(&without, Some((cell.index(), digit.value()))) > 0;
                assert_eq!(has_other_solution(&without, cell, digit), expected, "{puzzle}");
            }
        }
    }
    assert!(seen.iter().all(|&count| count >= 5), "each count should occur: {seen:?}");
}

#[test]
fn a_blank_board_gives_as_many_solutions_as_asked_for() {
    let blank = Puzzle::new([None; Cell::COUNT]).unwrap();
    let found = solutions(&blank, 50);
    assert_eq!(found.len(), 50);
    let distinct: std::collections::BTreeSet<_> = found.iter().collect();
    assert_eq!(distinct.len(), 50);
}
