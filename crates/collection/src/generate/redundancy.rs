//! Which clues could go?

use tallyhouse_board::Clues;
use tallyhouse_engine::Answer;

use super::asking::{Ask, Inquiry, MakingFrame, without_clue};
use super::sight::{Cells, Sight};

/// The question which of some clues are redundant: one solution is left without that clue alone.
pub(super) struct Redundancy<'a, F> {
    sight: &'a Sight<F>,
    clues: Clues<F>,
    given: Cells,
    /// The clues that are still to be asked about.
    left: Cells,
    /// Asking ends when so many redundant clues are found.
    enough: u32,
    asked: Asked,
    redundant: Cells,
    /// If the clues have several solutions.
    several: bool,
    undecided: bool,
}

enum Asked {
    /// If the clues have one solution.
    Solution,
    /// If there is another one without this clue.
    Clue(usize),
}

impl<'a, F: MakingFrame> Redundancy<'a, F> {
    /// Takes clues that have one solution, what can be seen of its digits, and the clues to ask about.
    pub(super) fn among(left: Cells, clues: Clues<F>, sight: &'a Sight<F>) -> Self {
        Self {
            sight,
            clues,
            given: clues.given(),
            left,
            enough: u32::MAX,
            asked: Asked::Clue(0),
            redundant: 0,
            several: false,
            undecided: false,
        }
    }

    /// Asks first if the clues have one solution.
    pub(super) const fn solution_first(mut self) -> Self {
        self.asked = Asked::Solution;
        self
    }

    /// Ends with the first redundant clue that is found.
    pub(super) const fn one_is_enough(mut self) -> Self {
        self.enough = 1;
        self
    }

    /// Returns the redundant clues; `None` if the clues have several solutions or that could not be
    /// decided for each.
    pub(super) fn result(&self) -> Option<Cells> {
        (!self.several && !self.undecided).then_some(self.redundant)
    }

    pub(super) const fn is_undecided(&self) -> bool {
        self.undecided
    }

    /// Goes on to the next clue about which only a search can tell.
    fn seek(&mut self) -> Option<Ask<F>> {
        while self.left != 0 && self.redundant.count_ones() < self.enough {
            let cell = self.left.trailing_zeros() as usize;
            let clue = 1 << cell;
            self.left &= !clue;
            match self.sight.can_go(clue, self.given & !clue) {
                Some(true) => self.redundant |= clue,
                Some(false) => {}
                None => {
                    self.asked = Asked::Clue(cell);
                    return Some(without_clue(&self.clues, cell));
                }
            }
        }
        None
    }
}

impl<F: MakingFrame> Inquiry<F> for Redundancy<'_, F> {
    fn first(&mut self) -> Option<Ask<F>> {
        match self.asked {
            Asked::Solution => Some(Ask { clues: self.clues, except: None, limit: 2 }),
            Asked::Clue(_) => self.seek(),
        }
    }

    fn next(&mut self, answer: Answer) -> Option<Ask<F>> {
        self.undecided = !answer.complete;
        match self.asked {
            Asked::Solution => self.several = answer.solutions > 1,
            Asked::Clue(cell) => self.redundant |= Cells::from(answer.solutions == 0) << cell,
        }
        if self.undecided || self.several { None } else { self.seek() }
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::Frame4;

    use super::*;
    use crate::generate::small::small_boards;

    #[test]
    fn a_clue_nobody_could_decide_about_is_not_needed() {
        // Of a minimal puzzle without its solution, nothing is told at sight.
        let mut clues: Clues<Frame4> = small_boards()[0];
        for cell in 0..16 {
            let sight = Sight::of(clues);
            let mut inquiry = [Redundancy::among(1 << cell, clues, &sight)];
            Frame4::run(&mut inquiry);
            let gone = inquiry[0].result().unwrap();
            clues = clues.only(!gone);
        }
        let sight = Sight::of(clues);
        let mut inquiry = Redundancy::among(clues.given(), clues, &sight);
        assert!(inquiry.first().is_some());
        assert!(inquiry.next(Answer { solutions: 1, complete: true }).is_some());
        assert!(inquiry.next(Answer { solutions: 0, complete: false }).is_none());
        assert!(inquiry.is_undecided());
        assert_eq!(inquiry.result(), None);
    }
}
