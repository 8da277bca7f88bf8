//! Minimal puzzles with a controlled bias.

use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::Clues;
use tallyhouse_engine::Answer;

use super::asking::{Ask, Inquiry, MakingFrame, without_clue};

/// Tries until one succeeds: a new board loses clues in random order; the try fails if a second
/// solution comes up before the clues are minimal (D. Berthier, Unbiased Statistics of a Constraint
/// Satisfaction Problem – a Controlled-Bias Generator, CISSE 2009).
///
/// Whether n clues have one solution can only change once along the order, so the last such n is
/// found by halving, and the try succeeds if the clues are minimal there.
pub(super) struct ControlledBias<F> {
    rng: ChaCha8Rng,
    board: Clues<F>,
    order: Vec<usize>,
    stage: Stage,
    tries: u64,
    most_tries: u64,
    /// How many tries ended with a question left undecided.
    undecided: u64,
}

#[derive(Clone, Copy)]
enum Stage {
    /// The first `none` clues of the order have several solutions, the first `one` have one.
    Halving {
        none: usize,
        one: usize,
        asked: usize,
    },
    /// The first `clues` of the order have one solution; those from `next` on, but for the last,
    /// which is known to be needed, are still to be tried.
    Trying {
        clues: usize,
        next: usize,
    },
    Minimal {
        clues: usize,
    },
    GivenUp,
}

impl<F: MakingFrame> ControlledBias<F> {
    pub(super) fn new(rng: &ChaCha8Rng, most_tries: u64) -> Self {
        let order = (0..F::CELLS).collect();
        Self {
            rng: rng.clone(),
            board: Clues::BLANK,
            order,
            stage: Stage::GivenUp,
            tries: 0,
            most_tries,
            undecided: 0,
        }
    }

    pub(super) fn result(&self) -> Option<Clues<F>> {
        match self.stage {
            Stage::Minimal { clues } => Some(self.first_clues(clues)),
            _ => None,
        }
    }

    pub(super) const fn tries(&self) -> u64 {
        self.tries
    }

    pub(super) const fn undecided(&self) -> u64 {
        self.undecided
    }

    pub(super) fn into_rng(self) -> ChaCha8Rng {
        self.rng
    }

    fn first_clues(&self, count: usize) -> Clues<F> {
        let add = |clues: Clues<F>, &cell: &usize| clues.with(cell, self.board.get(cell));
        self.order[..count].iter().fold(Clues::BLANK, add)
    }

    fn new_try(&mut self) -> Option<Ask<F>> {
        if self.tries == self.most_tries {
            self.stage = Stage::GivenUp;
            return None;
        }
        self.tries += 1;
        self.board = F::solved_board(&mut self.rng);
        self.order.shuffle(&mut self.rng);
        self.halve(0, F::CELLS)
    }

    fn halve(&mut self, none: usize, one: usize) -> Option<Ask<F>> {
        if none + 1 == one {
            return self.try_clue(one, 0);
        }
        // Most orders turn near two fifths of the board.
        let likely = F::CELLS * 2 / 5;
        let asked = if none < likely && likely < one { likely } else { usize::midpoint(none, one) };
        self.stage = Stage::Halving { none, one, asked };
        Some(Ask { clues: self.first_clues(asked), except: None, limit: 2 })
    }

    fn try_clue(&mut self, clues: usize, next: usize) -> Option<Ask<F>> {
        if next + 1 >= clues {
            self.stage = Stage::Minimal { clues };
            return None;
        }
        self.stage = Stage::Trying { clues, next };
        Some(without_clue(&self.first_clues(clues), self.order[next]))
    }
}

impl<F: MakingFrame> Inquiry<F> for ControlledBias<F> {
    fn first(&mut self) -> Option<Ask<F>> {
        self.new_try()
    }

    fn next(&mut self, answer: Answer) -> Option<Ask<F>> {
        if !answer.complete {
            self.undecided += 1;
            return self.new_try();
        }
        match self.stage {
            Stage::Halving { none, one, asked } => {
                if answer.solutions == 1 {
                    self.halve(none, asked)
                } else {
                    self.halve(asked, one)
                }
            }
            Stage::Trying { clues, next } if answer.solutions > 0 => self.try_clue(clues, next + 1),
            Stage::Trying { .. } => self.new_try(),
            Stage::Minimal { .. } | Stage::GivenUp => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::Frame4;

    use super::*;
    use crate::generate::recipe::stream;

    #[test]
    fn a_question_left_undecided_ends_the_try() {
        let mut inquiry = ControlledBias::<Frame4>::new(&stream(1, 0), 2);
        assert!(inquiry.first().is_some());
        assert!(inquiry.next(Answer { solutions: 1, complete: false }).is_some());
        assert_eq!((inquiry.tries(), inquiry.undecided()), (2, 1));
        assert!(inquiry.next(Answer { solutions: 0, complete: false }).is_none());
        assert_eq!((inquiry.result(), inquiry.undecided()), (None, 2));
    }
}
