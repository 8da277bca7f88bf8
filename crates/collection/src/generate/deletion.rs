//! Puzzles by random deletion.

use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::Clues;

use tallyhouse_engine::Answer;

use super::asking::{Ask, Inquiry, MakingFrame, without_clue};
use super::sight::{Cells, Sight};

/// From a solved board, groups of clues (single clues, or the images of one under a symmetry) are
/// tried in random order and left out where one solution remains. A question left undecided ends the
/// try: a clue is kept only where it was shown to be needed.
pub(super) struct Deletion<F> {
    sight: Sight<F>,
    clues: Clues<F>,
    given: Cells,
    order: Vec<Cells>,
    next: usize,
    /// Groups that would leave fewer clues than this are not tried.
    least: usize,
    undecided: bool,
}

impl<F: MakingFrame> Deletion<F> {
    /// Draws a board and an order of the groups.
    pub(super) fn new(rng: &mut ChaCha8Rng, groups: &[Cells], least: usize) -> Self {
        let board = F::solved_board(rng);
        let mut order = groups.to_vec();
        order.shuffle(rng);
        Self::of(board, order, least)
    }

    /// Takes clues that have one solution, and the order in which groups are tried.
    pub(super) fn of(clues: Clues<F>, order: Vec<Cells>, least: usize) -> Self {
        let (sight, given) = (Sight::of(clues), clues.given());
        Self { sight, clues, given, order, next: 0, least, undecided: false }
    }

    pub(super) fn result(&self) -> Option<Clues<F>> {
        (self.next >= self.order.len() && !self.undecided).then_some(self.clues)
    }

    /// Tells if the try ended with a question left undecided.
    pub(super) const fn is_undecided(&self) -> bool {
        self.undecided
    }

    fn leave_out(&mut self, group: Cells) {
        self.clues = self.clues.only(!group);
        self.given &= !group;
    }

    /// Goes on to the next group about which only a search can tell.
    fn question(&mut self) -> Option<Ask<F>> {
        loop {
            let &group = self.order.get(self.next)?;
            let rest = self.given & !group;
            let can_go = if (rest.count_ones() as usize) < self.least {
                Some(false)
            } else {
                self.sight.can_go(group, rest)
            };
            match can_go {
                None => return Some(self.ask(group)),
                Some(true) => self.leave_out(group),
                Some(false) => {}
            }
            self.next += 1;
        }
    }

    fn ask(&self, group: Cells) -> Ask<F> {
        if group.count_ones() == 1 {
            return without_clue(&self.clues, group.trailing_zeros() as usize);
        }
        Ask { clues: self.clues.only(!group), except: None, limit: 2 }
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
        let group = self.order[self.next];
        if answer.solutions == u32::from(group.count_ones() > 1) {
            self.leave_out(group);
        }
        self.next += 1;
        self.question()
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::Frame4;

    use super::*;
    use crate::generate::sight::each;
    use crate::generate::small::small_boards;

    #[test]
    fn a_clue_nobody_could_decide_about_ends_the_try() {
        // Of a minimal puzzle without its solution, nothing is told at sight.
        let groups = |cells: Cells| each(cells).map(|cell| 1 << cell).collect::<Vec<Cells>>();
        let mut whole = [Deletion::<Frame4>::of(small_boards()[0], groups(0xffff), 0)];
        Frame4::run(&mut whole);
        let clues = whole[0].result().unwrap();
        let known = clues.given();
        let mut deletion = Deletion::of(clues, groups(known), 0);
        assert!(deletion.first().is_some());
        assert!(deletion.next(Answer { solutions: 1, complete: true }).is_some());
        assert!(deletion.next(Answer { solutions: 1, complete: false }).is_none());
        assert!(deletion.is_undecided());
        assert_eq!(deletion.result(), None);
        // A try that is decided to its end gives its clues.
        let mut deletion = Deletion::of(clues, groups(known & known.wrapping_neg()), 0);
        assert!(deletion.first().is_some());
        assert!(deletion.next(Answer { solutions: 1, complete: true }).is_none());
        assert_eq!(deletion.result(), Some(clues));
    }
}
