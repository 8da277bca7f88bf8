//! Questions about solutions on any frame: the fast engine answers for 9×9, the list of all 288
//! boards for 4×4.

use std::sync::LazyLock;

use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Cell, Clues, Digit, Frame, Frame4, Frame9, Puzzle};
use tallyhouse_engine::{Answer, Asker, MOST_GUESSES, Question, ask_within};

use super::solved::SolvedBoards;

/// How many solutions have these clues, up to a limit?
#[derive(Clone, Copy)]
pub struct Ask<F> {
    pub(super) clues: Clues<F>,
    /// A digit that a cell may not hold in a solution that counts.
    pub(super) except: Option<(usize, u8)>,
    pub(super) limit: u32,
}

/// An inquiry: questions, each depending on the answers before.
pub trait Inquiry<F> {
    /// After how many guesses a search is given up.
    const MOST_GUESSES: u32 = MOST_GUESSES;

    /// Returns the first question, or nothing if there is none.
    fn first(&mut self) -> Option<Ask<F>>;

    /// Takes the answer and returns the next question.
    fn next(&mut self, answer: Answer) -> Option<Ask<F>>;
}

/// A frame on which puzzles can be generated.
pub trait MakingFrame: Frame {
    /// Draws a solved board, each as likely as any other.
    fn solved_board(rng: &mut ChaCha8Rng) -> Clues<Self>;

    /// Runs all inquiries to their ends.
    fn run<C: Inquiry<Self>>(inquiries: &mut [C]);
}

static SOLVED_9: LazyLock<SolvedBoards<Frame9>> = LazyLock::new(SolvedBoards::new);
static SOLVED_4: LazyLock<SolvedBoards<Frame4>> = LazyLock::new(SolvedBoards::new);

impl MakingFrame for Frame9 {
    fn solved_board(rng: &mut ChaCha8Rng) -> Clues<Self> {
        SOLVED_9.draw(rng)
    }

    fn run<C: Inquiry<Self>>(inquiries: &mut [C]) {
        let mut askers: Vec<Lane<'_, C>> =
            inquiries.iter_mut().map(|inquiry| Lane { inquiry }).collect();
        ask_within(&mut askers, C::MOST_GUESSES);
    }
}

struct Lane<'a, C> {
    inquiry: &'a mut C,
}

impl<C: Inquiry<Frame9>> Lane<'_, C> {
    /// Answers by itself what needs no search: clues that repeat a digit have no solution.
    fn question(&mut self, mut ask: Option<Ask<Frame9>>) -> Option<Question> {
        while let Some(Ask { clues, except, limit }) = ask {
            if let Ok(puzzle) = Puzzle::try_from(&clues) {
                let except =
                    except.and_then(|(cell, digit)| Some((Cell::new(cell)?, Digit::new(digit)?)));
                return Some(Question { puzzle, except, limit });
            }
            ask = self.inquiry.next(Answer { solutions: 0, complete: true });
        }
        None
    }
}

impl<C: Inquiry<Frame9>> Asker for Lane<'_, C> {
    fn first(&mut self) -> Option<Question> {
        let ask = self.inquiry.first();
        self.question(ask)
    }

    fn next(&mut self, answer: Answer) -> Option<Question> {
        let ask = self.inquiry.next(answer);
        self.question(ask)
    }
}

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
#[must_use]
pub fn small_boards() -> Vec<Clues<Frame4>> {
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
    fn solved_board(rng: &mut ChaCha8Rng) -> Clues<Self> {
        SOLVED_4.draw(rng)
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
