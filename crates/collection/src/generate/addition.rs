//! Minimal puzzles by random addition.

use rand::RngExt;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::Clues;

use tallyhouse_engine::Answer;

use super::asking::{Ask, Inquiry, MakingFrame};
use super::deletion::Deletion;

/// From a blank board, a random digit that no peer shows is added to a random blank cell and kept if
/// a solution is left, until there is only one; then clues are tried in random order and left out
/// where one solution remains, as in [`Deletion`]. A clue that nobody can decide about while clues are
/// added is not added.
pub(super) struct Addition<F> {
    rng: ChaCha8Rng,
    stage: Stage<F>,
}

enum Stage<F> {
    Adding { clues: Clues<F>, proposed: Clues<F> },
    Reducing(Box<Deletion<F>>),
}

impl<F: MakingFrame> Addition<F> {
    pub(super) fn new(rng: &ChaCha8Rng) -> Self {
        let stage = Stage::Adding { clues: Clues::BLANK, proposed: Clues::BLANK };
        Self { rng: rng.clone(), stage }
    }

    pub(super) fn result(&self) -> Option<Clues<F>> {
        match &self.stage {
            Stage::Adding { .. } => None,
            Stage::Reducing(deletion) => deletion.result(),
        }
    }

    /// Tells if the try ended with a question left undecided.
    pub(super) const fn is_undecided(&self) -> bool {
        match &self.stage {
            Stage::Adding { .. } => false,
            Stage::Reducing(deletion) => deletion.is_undecided(),
        }
    }

    pub(super) fn into_rng(self) -> ChaCha8Rng {
        self.rng
    }

    /// Proposes one clue more.
    fn propose(rng: &mut ChaCha8Rng, clues: &Clues<F>) -> Clues<F> {
        loop {
            let cell = rng.random_range(0..F::CELLS);
            let digit = rng.random_range(1..=F::SIDE as u8);
            let clash = |other| F::share_a_house(cell, other) && clues.get(other) == digit;
            if clues.get(cell) == 0 && !(0..F::CELLS).any(clash) {
                return clues.with(cell, digit);
            }
        }
    }
}

impl<F: MakingFrame> Inquiry<F> for Addition<F> {
    const MOST_GUESSES: u32 = 200;

    fn first(&mut self) -> Option<Ask<F>> {
        let Stage::Adding { clues, proposed } = &mut self.stage else { return None };
        *proposed = Self::propose(&mut self.rng, clues);
        Some(Ask { clues: *proposed, except: None, limit: 2 })
    }

    fn next(&mut self, answer: Answer) -> Option<Ask<F>> {
        match &mut self.stage {
            Stage::Adding { clues, proposed } => {
                if answer.complete && answer.solutions == 1 {
                    let mut order: Vec<usize> =
                        (0..F::CELLS).filter(|&cell| proposed.get(cell) != 0).collect();
                    order.shuffle(&mut self.rng);
                    let order = order.into_iter().map(|cell| 1 << cell).collect();
                    let mut deletion = Box::new(Deletion::of(*proposed, order, 0));
                    let ask = deletion.first();
                    self.stage = Stage::Reducing(deletion);
                    return ask;
                }
                if answer.solutions > 1 {
                    *clues = *proposed;
                }
                self.first()
            }
            Stage::Reducing(deletion) => deletion.next(answer),
        }
    }
}
