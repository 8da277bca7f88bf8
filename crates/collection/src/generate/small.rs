//! The generators on the 4×4 frame, where all laws are known exactly: the list of all 288 boards
//! answers.

use std::sync::LazyLock;

use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Clues, Frame, Frame4};
use tallyhouse_engine::Answer;

use super::asking::{Ask, Inquiry, MakingFrame};
use super::descent::{Descent, Level};
use super::solved::SolvedBoards;

static SOLVED: LazyLock<SolvedBoards<Frame4>> = LazyLock::new(SolvedBoards::new);

/// A set of the 288 boards.
type Boards = [u64; 5];

/// For each cell and digit the boards that have it there.
static WITH_DIGIT: LazyLock<[[Boards; 5]; 16]> = LazyLock::new(|| {
    let mut table = [[[0; 5]; 5]; 16];
    for (number, board) in small_boards().iter().enumerate() {
        for (cell, &digit) in board.values().iter().enumerate() {
            table[cell][usize::from(digit)][number / 64] |= 1 << (number % 64);
        }
    }
    table
});

/// Lists all solved 4×4 boards.
pub(super) fn small_boards() -> Vec<Clues<Frame4>> {
    fn fill(clues: Clues<Frame4>, cell: usize, list: &mut Vec<Clues<Frame4>>) {
        if cell == Frame4::CELLS {
            list.push(clues);
            return;
        }
        for digit in 1..=4 {
            let clash = |other| Frame4::share_a_house(cell, other) && clues.get(other) == digit;
            if !(0..cell).any(clash) {
                fill(clues.with(cell, digit), cell + 1, list);
            }
        }
    }
    let mut list = Vec::new();
    fill(Clues::BLANK, 0, &mut list);
    list
}

impl MakingFrame for Frame4 {
    const DESCENT: Descent = Descent {
        most_clues: 8,
        levels: &[
            Level::new(200, (0, 1.0), (4, 1.1)),
            Level::new(50, (5, 1.3), (5, 1.2)),
            Level::new(100, (3, 1.5), (4, 1.2)),
            Level::new(70, (2, 1.2), (3, 1.1)),
        ],
    };

    fn solved_board(rng: &mut ChaCha8Rng) -> Clues<Self> {
        SOLVED.draw(rng)
    }

    fn run<C: Inquiry<Self>>(inquiries: &mut [C]) {
        for inquiry in inquiries {
            let mut ask = inquiry.first();
            while let Some(Ask { clues, except, limit }) = ask {
                let mut boards = [!0, !0, !0, !0, (1 << (288 - 256)) - 1];
                for (cell, &digit) in clues.values().iter().enumerate() {
                    if digit != 0 {
                        let with = &WITH_DIGIT[cell][usize::from(digit)];
                        boards = std::array::from_fn(|word| boards[word] & with[word]);
                    }
                }
                if let Some((cell, digit)) = except {
                    let with = &WITH_DIGIT[cell][usize::from(digit)];
                    boards = std::array::from_fn(|word| boards[word] & !with[word]);
                }
                let found: u32 = boards.iter().map(|word: &u64| word.count_ones()).sum();
                ask = inquiry.next(Answer { solutions: found.min(limit), complete: true });
            }
        }
    }
}
