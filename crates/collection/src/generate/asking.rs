//! Questions about solutions on any frame; the fast engine answers for 9×9.

use std::sync::LazyLock;

use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Cell, Clues, Digit, Frame, Frame9};
use tallyhouse_engine::{Answer, Asker, MOST_GUESSES, Question, ask_within};

use super::descent::{Descent, Level};
use super::solved::SolvedBoards;

/// How many solutions have these clues, up to a limit?
#[derive(Clone, Copy)]
pub(super) struct Ask<F> {
    pub(super) clues: Clues<F>,
    /// A digit that a cell may not hold in a solution that counts.
    pub(super) except: Option<(usize, u8)>,
    pub(super) limit: u32,
}

/// Asks for another solution without one of the clues: it differs from the known one in that cell.
pub(super) fn without_clue<F: Frame>(clues: &Clues<F>, cell: usize) -> Ask<F> {
    Ask { clues: clues.with(cell, 0), except: Some((cell, clues.get(cell))), limit: 1 }
}

/// An inquiry: questions, each depending on the answers before.
pub(super) trait Inquiry<F> {
    /// After how many guesses a search is given up.
    const MOST_GUESSES: u32 = MOST_GUESSES;

    /// Returns the first question, or nothing if there is none.
    fn first(&mut self) -> Option<Ask<F>>;

    /// Takes the answer and returns the next question.
    fn next(&mut self, answer: Answer) -> Option<Ask<F>>;
}

/// A frame on which puzzles can be generated.
pub(super) trait MakingFrame: Frame {
    /// How splitting goes.
    const DESCENT: Descent;

    /// Draws a solved board, each as likely as any other.
    fn solved_board(rng: &mut ChaCha8Rng) -> Clues<Self>;

    /// Runs all inquiries to their ends.
    fn run<C: Inquiry<Self>>(inquiries: &mut [C]);
}

static SOLVED_9: LazyLock<SolvedBoards<Frame9>> = LazyLock::new(SolvedBoards::new);

impl MakingFrame for Frame9 {
    /// By the mean square of what 300,000 sets led to, in a trial in which all numbers of redundant clues
    /// were about as frequent, rounded by hand; how many are kept, by trial. Effective draws a second
    /// differ little nearby.
    const DESCENT: Descent = Descent {
        most_clues: 34,
        levels: &[
            Level::new(200, (0, 1.0), (18, 1.13)),
            Level::new(20, (11, 1.35), (20, 1.25)),
            Level::new(30, (15, 1.35), (20, 1.28)),
            Level::new(50, (12, 1.57), (19, 1.35)),
            Level::new(80, (12, 1.5), (18, 1.35)),
            Level::new(100, (10, 1.45), (16, 1.28)),
            Level::new(100, (10, 1.28), (13, 1.22)),
            Level::new(60, (9, 1.21), (12, 1.1)),
            Level::new(40, (8, 1.1), (12, 1.0)),
            Level::new(20, (6, 1.05), (12, 1.0)),
            Level::new(10, (6, 1.05), (12, 1.0)),
        ],
    };

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

fn question(ask: Ask<Frame9>) -> Question {
    let Ask { clues, except, limit } = ask;
    let except = except.and_then(|(cell, digit)| Some((Cell::new(cell)?, Digit::new(digit)?)));
    Question { clues, except, limit }
}

impl<C: Inquiry<Frame9>> Asker for Lane<'_, C> {
    fn first(&mut self) -> Option<Question> {
        self.inquiry.first().map(question)
    }

    fn next(&mut self, answer: Answer) -> Option<Question> {
        self.inquiry.next(answer).map(question)
    }
}
