//! Puzzles by random deletion.

use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::Clues;

use tallyhouse_engine::Answer;

use super::asking::{Ask, Inquiry, MakingFrame};

/// From a solved board, groups of clues (single clues, or the images of one under a symmetry) are
/// tried in random order and left out where one solution remains. A question left undecided ends the
/// try: a clue is kept only where it was shown to be needed.
pub(super) struct Deletion<F> {
    clues: Clues<F>,
    order: Vec<Vec<usize>>,
    next: usize,
    /// Groups that would leave fewer clues than this are not tried.
    least: usize,
    undecided: bool,
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
        Self { clues, order, next: 0, least, undecided: false }
    }

    pub(super) fn result(&self) -> Option<Clues<F>> {
        (self.next >= self.order.len() && !self.undecided).then_some(self.clues)
    }

    /// Tells if the try ended with a question left undecided.
    pub(super) const fn is_undecided(&self) -> bool {
        self.undecided
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

impl<F: MakingFrame> Inquiry<F> for Deletion<F> {
    fn first(&mut self) -> Option<Ask<F>> {
        self.question()
    }

    fn next(&mut self, answer: Answer) -> Option<Ask<F>> {
        if !answer.complete {
            self.undecided = true;
            return None;
        }
        let group = &self.order[self.next];
        if answer.solutions == u32::from(group.len() > 1) {
            self.clues = self.without(group);
        }
        self.next += 1;
        self.question()
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::Frame4;

    use super::*;
    use crate::generate::small::small_boards;

    #[test]
    fn a_clue_nobody_could_decide_about_ends_the_try() {
        let groups = |cells: usize| (0..cells).map(|cell| vec![cell]).collect::<Vec<_>>();
        let mut deletion = Deletion::<Frame4>::of(small_boards()[0], groups(2), 0);
        assert!(deletion.first().is_some());
        assert!(deletion.next(Answer { solutions: 0, complete: true }).is_some());
        assert!(deletion.next(Answer { solutions: 0, complete: false }).is_none());
        assert!(deletion.is_undecided());
        assert_eq!(deletion.result(), None);
        // A try that is decided to its end gives its clues.
        let mut deletion = Deletion::<Frame4>::of(small_boards()[0], groups(1), 0);
        assert!(deletion.first().is_some());
        assert!(deletion.next(Answer { solutions: 1, complete: true }).is_none());
        assert_eq!(deletion.result(), Some(small_boards()[0]));
    }
}
