//! Puzzles by random deletion.

use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::Clues;

use tallyhouse_engine::Answer;

use super::asking::{Ask, Course, MakingFrame};

/// From a solved board, groups of clues (single clues, or the images of one under a symmetry) are
/// tried in random order and left out where one solution remains.
pub(super) struct Deletion<F> {
    clues: Clues<F>,
    order: Vec<Vec<usize>>,
    next: usize,
    /// Groups that would leave fewer clues than this are not tried.
    least: usize,
}

impl<F: MakingFrame> Deletion<F> {
    /// Draws a board and an order of the groups.
    pub(super) fn new(rng: &mut ChaCha8Rng, groups: &[Vec<usize>], least: usize) -> Self {
        let board = F::solved_board(rng);
        let mut order = groups.to_vec();
        order.shuffle(rng);
        Self::of(board, order, least)
    }

    /// Takes clues that have one solution, and the order in which groups are tried.
    pub(super) fn of(clues: Clues<F>, order: Vec<Vec<usize>>, least: usize) -> Self {
        Self { clues, order, next: 0, least }
    }

    pub(super) fn result(&self) -> Option<Clues<F>> {
        (self.next >= self.order.len()).then_some(self.clues)
    }

    fn without(&self, group: &[usize]) -> Clues<F> {
        group.iter().fold(self.clues, |clues, &cell| clues.with(cell, 0))
    }

    fn question(&mut self) -> Option<Ask<F>> {
        let count = self.clues.count();
        while self.order.get(self.next)?.len() + self.least > count {
            self.next += 1;
        }
        let group = &self.order[self.next];
        let clues = self.without(group);
        // Another solution differs from the known one in the only cell that is left out.
        Some(match group[..] {
            [cell] => Ask { clues, except: Some((cell, self.clues.get(cell))), limit: 1 },
            _ => Ask { clues, except: None, limit: 2 },
        })
    }
}

impl<F: MakingFrame> Course<F> for Deletion<F> {
    fn first(&mut self) -> Option<Ask<F>> {
        self.question()
    }

    fn next(&mut self, answer: Answer) -> Option<Ask<F>> {
        let group = &self.order[self.next];
        if answer.complete && answer.solutions == u32::from(group.len() > 1) {
            self.clues = self.without(group);
        }
        self.next += 1;
        self.question()
    }
}
