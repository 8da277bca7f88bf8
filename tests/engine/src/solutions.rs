//! Solutions as the engine's search shows them, one question at a time.

use tallyhouse_board::{Cell, Digit, Puzzle};
use tallyhouse_engine::{Answer, Asker, Question, ask};

struct List {
    question: Question,
    boards: Vec<Puzzle>,
}

impl Asker for List {
    fn first(&mut self) -> Option<Question> {
        Some(self.question)
    }

    fn next(&mut self, answer: Answer) -> Option<Question> {
        assert!(answer.complete, "given up: {}", self.question.clues);
        assert_eq!(answer.solutions as usize, self.boards.len());
        None
    }

    fn solution(&mut self, board: &dyn Fn() -> Puzzle) {
        self.boards.push(board());
    }
}

fn list(question: Question) -> Vec<Puzzle> {
    let mut lists = [List { question, boards: Vec::new() }];
    ask(&mut lists);
    let [List { boards, .. }] = lists;
    boards
}

/// Returns the solutions of a puzzle, at most `limit` of them, which is 1 or more.
///
/// # Panics
/// If the search is given up.
#[must_use]
pub fn solutions(puzzle: &Puzzle, limit: u32) -> Vec<Puzzle> {
    list(Question { clues: puzzle.into(), except: None, limit })
}

/// Tests if a puzzle has a solution in which the cell does not hold the digit.
///
/// # Panics
/// If the search is given up.
#[must_use]
pub fn has_other_solution(puzzle: &Puzzle, cell: Cell, digit: Digit) -> bool {
    !list(Question { clues: puzzle.into(), except: Some((cell, digit)), limit: 1 }).is_empty()
}
