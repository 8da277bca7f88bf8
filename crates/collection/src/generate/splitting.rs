//! Weighted minimal puzzles by multilevel splitting of the deletion path.
//!
//! A random order of deletions visits each clue set of n cells with probability 1 / C(cells, n), and
//! it meets a minimal puzzle only about once in 257,000 orders on 9×9. Splitting (H. Kahn & T. E.
//! Harris, Estimation of particle transmission by random sampling, National Bureau of Standards
//! Applied Mathematics Series 12, 1951) carries a population of orders at once: at each level every
//! clue set loses one random clue, those with several solutions are dropped, and the rest are copied
//! to fill the population again, while a common weight takes the share that was left. The expected
//! sum of weight × C(cells, n) over the minimal puzzles met is exactly the number of minimal puzzles
//! of the board, and so it is for any statistic of them. The puzzles of one board are one family:
//! they depend on each other.

use std::collections::BTreeMap;

use rand::RngExt;
use rand::seq::index;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::Clues;
use tallyhouse_engine::Answer;

use super::asking::{Ask, Inquiry, MakingFrame, without_clue};
use super::sight::{Sight, each};

/// One clue set of the population that is to lose a clue.
struct Branch<'a, F> {
    sight: &'a Sight<F>,
    clues: Clues<F>,
    /// The cell that loses its clue.
    cell: usize,
    /// If one solution was left.
    survives: bool,
    /// If that could not be decided: then it does not survive.
    undecided: bool,
}

impl<F: MakingFrame> Inquiry<F> for Branch<'_, F> {
    fn first(&mut self) -> Option<Ask<F>> {
        let clue = 1 << self.cell;
        match self.sight.can_go(clue, self.clues.given() & !clue) {
            None => Some(without_clue(&self.clues, self.cell)),
            Some(can_go) => {
                self.survives = can_go;
                None
            }
        }
    }

    fn next(&mut self, answer: Answer) -> Option<Ask<F>> {
        self.survives = answer.complete && answer.solutions == 0;
        self.undecided = !answer.complete;
        None
    }
}

/// The question whether every clue was shown to be needed.
pub(super) struct Minimality<'a, F> {
    sight: &'a Sight<F>,
    pub(super) clues: Clues<F>,
    /// The clue that is asked about.
    cell: usize,
    pub(super) minimal: bool,
    undecided: bool,
}

impl<'a, F: MakingFrame> Minimality<'a, F> {
    /// Takes clues and digits of their only solution.
    pub(super) fn of(clues: Clues<F>, sight: &'a Sight<F>) -> Self {
        Self { sight, clues, cell: 0, minimal: true, undecided: false }
    }

    /// Goes on to the next clue about which only a search can tell.
    fn seek(&mut self, from: usize) -> Option<Ask<F>> {
        let given = self.clues.given();
        for cell in each(given).filter(|&cell| cell >= from) {
            match self.sight.can_go(1 << cell, given & !(1 << cell)) {
                Some(false) => {}
                Some(true) => {
                    self.minimal = false;
                    return None;
                }
                None => {
                    self.cell = cell;
                    return Some(without_clue(&self.clues, cell));
                }
            }
        }
        None
    }
}

impl<F: MakingFrame> Inquiry<F> for Minimality<'_, F> {
    fn first(&mut self) -> Option<Ask<F>> {
        self.seek(0)
    }

    fn next(&mut self, answer: Answer) -> Option<Ask<F>> {
        self.undecided = !answer.complete;
        if answer.solutions == 0 || self.undecided {
            self.minimal = false;
            return None;
        }
        self.seek(self.cell + 1)
    }
}

/// Returns the minimal puzzles met from one random board, each once, with its share of the estimated
/// number of minimal puzzles of that board, and how many questions were left undecided. What could not
/// be decided is not among them.
pub(super) fn family<F: MakingFrame>(
    rng: &mut ChaCha8Rng,
    population: usize,
) -> (Vec<(Clues<F>, f64)>, u64) {
    let board = F::solved_board(rng);
    let sight = Sight::of(board);
    let mut clue_sets = vec![board; population];
    let mut found: BTreeMap<Clues<F>, f64> = BTreeMap::new();
    let mut weight = 1.0 / population as f64;
    let mut subsets = 1.0;
    let mut undecided = 0;
    for count in (1..=F::CELLS).rev() {
        let mut branches: Vec<Branch<'_, F>> = clue_sets
            .iter()
            .map(|&clues| {
                let clue = rng.random_range(0..count);
                let cell = each(clues.given()).nth(clue).unwrap_or_default();
                Branch { sight: &sight, clues, cell, survives: false, undecided: false }
            })
            .collect();
        F::run(&mut branches);
        // What is minimal does not survive any deletion.
        let mut dead: Vec<Minimality<'_, F>> = branches
            .iter()
            .filter(|branch| !branch.survives)
            .map(|branch| Minimality::of(branch.clues, &sight))
            .collect();
        F::run(&mut dead);
        undecided += branches.iter().filter(|branch| branch.undecided).count() as u64;
        undecided += dead.iter().filter(|end| end.undecided).count() as u64;
        for end in dead.iter().filter(|end| end.minimal) {
            *found.entry(end.clues).or_default() += weight * subsets;
        }
        let alive: Vec<Clues<F>> = branches
            .iter()
            .filter(|branch| branch.survives)
            .map(|branch| branch.clues.with(branch.cell, 0))
            .collect();
        if alive.is_empty() {
            break;
        }
        weight *= alive.len() as f64 / population as f64;
        // C(cells, count − 1) from C(cells, count).
        subsets *= count as f64 / (F::CELLS - count + 1) as f64;
        clue_sets =
            alive.iter().copied().cycle().take(population / alive.len() * alive.len()).collect();
        let rest = population - clue_sets.len();
        clue_sets.extend(index::sample(rng, alive.len(), rest).iter().map(|i| alive[i]));
    }
    (found.into_iter().collect(), undecided)
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::Frame4;

    use super::*;
    use crate::generate::recipe::stream;

    #[test]
    fn a_clue_nobody_could_decide_about_is_not_needed() {
        // Of a minimal puzzle without its solution, nothing is told at sight.
        let mut rng = stream(1, 0);
        let (found, _) = family::<Frame4>(&mut rng, 20);
        let clues = found[0].0;
        let sight = Sight::of(clues);
        let mut inquiry = Minimality::of(clues, &sight);
        assert!(inquiry.first().is_some());
        assert!(inquiry.next(Answer { solutions: 1, complete: true }).is_some());
        assert!(inquiry.next(Answer { solutions: 0, complete: false }).is_none());
        assert!(inquiry.undecided && !inquiry.minimal);
    }
}
