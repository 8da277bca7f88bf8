//! Weighted minimal puzzles by multilevel splitting of the deletion path.
//!
//! A random order of deletions visits each clue set of n cells with probability 1 / C(cells, n), and
//! it meets a minimal puzzle only about once in 257,000 orders on 9×9. Splitting (H. Kahn & T. E.
//! Harris, Estimation of particle transmission by random sampling, National Bureau of Standards
//! Applied Mathematics Series 12, 1951) follows many orders of one board at once. It begins with random
//! clue sets of the same number of clues and keeps those with one solution. At each level it lists every
//! clue set that lacks one more redundant clue, and keeps some of them: a set that is kept with
//! probability p has its weight divided by p. The expected sum of weight × C(cells, n) over the minimal
//! puzzles met is exactly the number of minimal puzzles of the board that have no more clues than the
//! sets it began with, and so it is for any statistic of them, whatever the probabilities are.
//!
//! They only decide how much the sums vary, and least where a set is worth the root of the mean square
//! of what it leads to. A set that runs out of redundant clues soon leads to minimal puzzles with many
//! clues, each of which counts for much; one with very many redundant clues leads to many puzzles. Those
//! that are worth most stay for certain, the others are drawn (P. Fearnhead & P. Clifford, On-line
//! inference for hidden Markov models via particle filters, Journal of the Royal Statistical Society B
//! 65, 2003; from memory). The puzzles of one board are one family: they depend on each other.

use rand::RngExt;
use rand::seq::index;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::Clues;

use super::asking::MakingFrame;
use super::redundancy::Redundancy;
use super::sight::{Cells, Sight, each};

/// Some clues of a board.
struct ClueSet {
    given: Cells,
    /// The clues that may be redundant; when they were asked about, those that are.
    redundant: Cells,
    /// The expected sum of weights is the share of all sets of so many cells.
    weight: f64,
    /// What is compared when some sets are kept.
    worth: f64,
}

/// What is known of one board.
struct Family<F> {
    rng: ChaCha8Rng,
    board: Clues<F>,
    sight: Sight<F>,
    sets: Vec<ClueSet>,
    found: Vec<(Clues<F>, f64)>,
    undecided: u64,
}

impl<F: MakingFrame> Family<F> {
    fn new(mut rng: ChaCha8Rng, population: usize) -> Self {
        let board = F::solved_board(&mut rng);
        let clues = F::DESCENT.most_clues;
        let count = F::DESCENT.level(clues).kept(population);
        let random_set = |_| {
            let cells = index::sample(&mut rng, F::CELLS, clues);
            let given = cells.iter().fold(0, |given, cell| given | 1 << cell);
            ClueSet { given, redundant: given, weight: 1.0 / count as f64, worth: 1.0 }
        };
        let sets = (0..count).map(random_set).collect();
        let sight = Sight::of_redundant(board);
        Self { rng, board, sight, sets, found: Vec::new(), undecided: 0 }
    }

    fn inquiries(&self, clues: usize) -> impl Iterator<Item = Redundancy<'_, F>> {
        self.sets.iter().map(move |set| {
            let inquiry = Redundancy::among(set.redundant, self.board.only(set.given), &self.sight);
            if clues == F::DESCENT.most_clues { inquiry.solution_first() } else { inquiry }
        })
    }

    /// Takes what is known of the sets: the minimal ones are found, the others lose one more clue.
    fn descend(&mut self, clues: usize, redundant: Vec<Option<Cells>>, population: usize) {
        let mut fewer = Vec::new();
        let level = F::DESCENT.level(clues);
        for (set, redundant) in std::mem::take(&mut self.sets).into_iter().zip(redundant) {
            let Some(redundant) = redundant else { continue };
            if redundant == 0 {
                let puzzles = set.weight * subsets(F::CELLS, clues);
                self.found.push((self.board.only(set.given), puzzles));
                continue;
            }
            let count = redundant.count_ones();
            let weight = set.weight / clues as f64;
            let worth = weight * level.worth(count) / f64::from(count);
            fewer.extend(each(redundant).map(|cell| {
                let [given, redundant] = [set.given, redundant].map(|cells| cells & !(1 << cell));
                ClueSet { given, redundant, weight, worth }
            }));
        }
        fewer.sort_unstable_by_key(|set| set.given);
        fewer.dedup_by(|same, set| {
            let is_same = same.given == set.given;
            if is_same {
                set.redundant &= same.redundant;
                set.weight += same.weight;
                set.worth += same.worth;
            }
            is_same
        });
        self.sets = keep(&mut self.rng, fewer, F::DESCENT.level(clues - 1).kept(population));
    }
}

/// Keeps no more than so many: those worth more than some threshold, and of the others each with its
/// probability, systematically.
fn keep(rng: &mut ChaCha8Rng, mut sets: Vec<ClueSet>, most: usize) -> Vec<ClueSet> {
    if sets.len() <= most {
        return sets;
    }
    let mut falling: Vec<f64> = sets.iter().map(|set| set.worth).collect();
    falling.sort_unstable_by(|a, b| b.total_cmp(a));
    let (mut rest, mut drawn): (f64, usize) = (falling.iter().sum(), most);
    for worth in falling {
        if drawn == 0 || worth * (drawn as f64) < rest {
            break;
        }
        rest -= worth;
        drawn -= 1;
    }
    let threshold = rest / drawn as f64;
    let mut turn = rng.random::<f64>();
    sets.retain_mut(|set| {
        let probability = set.worth / threshold;
        if probability >= 1.0 {
            return true;
        }
        turn += probability;
        let is_kept = turn >= 1.0;
        if is_kept {
            turn -= 1.0;
            set.weight /= probability;
        }
        is_kept
    });
    sets
}

/// The minimal puzzles met from one random board, each once, with its share of the estimated number of
/// minimal puzzles of that board, and how many clue sets were dropped because a question about them was
/// left undecided.
pub(super) type Met<F> = (Vec<(Clues<F>, f64)>, u64);

/// Follows a random board for each random stream.
pub(super) fn families<F: MakingFrame>(rngs: Vec<ChaCha8Rng>, population: usize) -> Vec<Met<F>> {
    let start = |rng| Family::<F>::new(rng, population);
    let mut families: Vec<Family<F>> = rngs.into_iter().map(start).collect();
    for clues in (1..=F::DESCENT.most_clues).rev() {
        if families.iter().all(|family| family.sets.is_empty()) {
            break;
        }
        // All together, so that no lane of the search waits.
        let mut inquiries: Vec<Redundancy<'_, F>> =
            families.iter().flat_map(|family| family.inquiries(clues)).collect();
        F::run(&mut inquiries);
        let answers: Vec<(Option<Cells>, bool)> =
            inquiries.iter().map(|inquiry| (inquiry.result(), inquiry.is_undecided())).collect();
        let mut answers = answers.into_iter();
        for family in &mut families {
            let of_family = answers.by_ref().take(family.sets.len());
            let (redundant, undecided): (Vec<_>, Vec<bool>) = of_family.unzip();
            family.undecided += undecided.into_iter().filter(|undecided| *undecided).count() as u64;
            family.descend(clues, redundant, population);
        }
    }
    families.into_iter().map(|family| (family.found, family.undecided)).collect()
}

/// Returns the number of subsets of a size.
pub(super) fn subsets(of: usize, size: usize) -> f64 {
    (0..size).map(|i| (of - i) as f64 / (i + 1) as f64).product()
}
