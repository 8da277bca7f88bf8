//! What can be told about a clue at sight, without a search.

use std::marker::PhantomData;

use tallyhouse_board::{Cell, Clues, Frame};

/// A set of cells of a frame, a bit each, as [`Clues::given`] gives them.
pub(super) type Cells = u128;

/// Visits the cells of a set in rising order.
pub(super) fn each(mut cells: Cells) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let cell = (cells != 0).then(|| cells.trailing_zeros() as usize);
        cells &= cells.wrapping_sub(1);
        cell
    })
}

struct Geometry<F>(PhantomData<F>);

impl<F: Frame> Geometry<F> {
    /// For each cell its row, column and box.
    const HOUSES: &'static [[Cells; 3]; Cell::COUNT] = &{
        let mut table = [[0; 3]; Cell::COUNT];
        let mut cell = 0;
        while cell < F::CELLS {
            let (row, column) = (cell / F::SIDE, cell % F::SIDE);
            let mut other = 0;
            while other < F::CELLS {
                let (r, c) = (other / F::SIDE, other % F::SIDE);
                table[cell][0] |= ((r == row) as Cells) << other;
                table[cell][1] |= ((c == column) as Cells) << other;
                let in_box = r / F::BOX == row / F::BOX && c / F::BOX == column / F::BOX;
                table[cell][2] |= (in_box as Cells) << other;
                other += 1;
            }
            cell += 1;
        }
        table
    };

    /// For each cell those that share a house with it, without itself.
    const PEERS: &'static [Cells; Cell::COUNT] = &{
        let mut table = [0; Cell::COUNT];
        let mut cell = 0;
        while cell < F::CELLS {
            let [row, column, r#box] = Self::HOUSES[cell];
            table[cell] = (row | column | r#box) & !(1 << cell);
            cell += 1;
        }
        table
    };
}

/// Digits of one solution: all of them, or those of some clues.
#[derive(Clone)]
pub(super) struct Sight<F> {
    digits: Clues<F>,
    /// The cells of each digit, by its value.
    cells: [Cells; 10],
    /// If exchanges are tried that show a clue to be needed: all digits must be known.
    tries_exchanges: bool,
}

impl<F: Frame> Sight<F> {
    pub(super) fn of(digits: Clues<F>) -> Self {
        let mut cells = [0; 10];
        for (cell, &digit) in digits.values().iter().enumerate() {
            cells[usize::from(digit)] |= 1 << cell;
        }
        let is_whole = std::mem::take(&mut cells[0]) == 0;
        Self { digits, cells, tries_exchanges: is_whole }
    }

    /// The same where most clues can go: then trying exchanges takes longer than it spares.
    pub(super) fn of_redundant(digits: Clues<F>) -> Self {
        Self { tries_exchanges: false, ..Self::of(digits) }
    }

    /// Tells if clues of the solution can go without any other solution coming in; `None` if only a
    /// search can tell. `rest` are the clues that would be left.
    pub(super) fn can_go(&self, clues: Cells, rest: Cells) -> Option<bool> {
        if each(clues).all(|cell| self.is_forced(cell, rest)) {
            return Some(true);
        }
        let is_needed = self.tries_exchanges && each(clues).any(|cell| self.is_needed(cell, rest));
        is_needed.then_some(false)
    }

    fn digit(&self, cell: usize) -> usize {
        usize::from(self.digits.get(cell))
    }

    /// Tests if the clues alone leave a cell one digit, or that digit one place in a house.
    fn is_forced(&self, cell: usize, clues: Cells) -> bool {
        let digit = self.digit(cell);
        let peers = Geometry::<F>::PEERS[cell] & clues;
        let others = (1..=F::SIDE).filter(|&other| other != digit);
        if others.clone().all(|other| self.cells[other] & peers != 0) {
            return true;
        }
        let seen = |seen, clue: usize| seen | Geometry::<F>::PEERS[clue];
        let free = !each(self.cells[digit] & clues).fold(clues, seen);
        Geometry::<F>::HOUSES[cell].iter().any(|house| house & free == 1 << cell)
    }

    /// Tests if another solution comes of exchanging two digits, or the digits of two lines, in cells
    /// of which one is the cell and none is a clue.
    fn is_needed(&self, cell: usize, clues: Cells) -> bool {
        let digit = self.digit(cell);
        let exchanged = |other| other != digit && self.exchange_is_free(cell, other, clues);
        (1..=F::SIDE).any(exchanged) || self.line_is_free(cell, clues)
    }

    /// Follows two digits from house to house.
    fn exchange_is_free(&self, cell: usize, other: usize, clues: Cells) -> bool {
        let (mut last, mut next) = (self.cells[self.digit(cell)], self.cells[other]);
        let (mut reached, mut fresh): (Cells, Cells) = (0, 1 << cell);
        while fresh != 0 {
            reached |= fresh;
            let seen = each(fresh).fold(0, |seen, cell| seen | Geometry::<F>::PEERS[cell]);
            fresh = seen & next & !reached;
            if fresh & clues != 0 {
                return false;
            }
            (last, next) = (next, last);
        }
        true
    }

    /// Follows two rows of a band, or columns of a stack, from digit to digit.
    fn line_is_free(&self, cell: usize, clues: Cells) -> bool {
        let lines = [(0, F::SIDE, cell / F::SIDE), (1, 1, cell % F::SIDE)];
        lines.into_iter().any(|(kind, step, number)| {
            let line = Geometry::<F>::HOUSES[cell][kind];
            let first = number / F::BOX * F::BOX;
            let mut beside = (first..first + F::BOX).filter(|&other| other != number);
            beside.any(|other| {
                let mut at = cell;
                loop {
                    let across = at + other * step - number * step;
                    if clues >> across & 1 == 1 {
                        return false;
                    }
                    at = (self.cells[self.digit(across)] & line).trailing_zeros() as usize;
                    if at == cell {
                        return true;
                    }
                    if clues >> at & 1 == 1 {
                        return false;
                    }
                }
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use rand::seq::SliceRandom;
    use tallyhouse_board::{Frame4, Frame9};
    use tallyhouse_engine::Answer;

    use super::*;
    use crate::generate::GivensSymmetry;
    use crate::generate::asking::{Ask, Inquiry, MakingFrame};
    use crate::generate::recipe::stream;
    use crate::generate::small::small_boards;

    /// How many solutions do clues have, up to two?
    struct Count<F>(Clues<F>, u32);

    impl<F: MakingFrame> Inquiry<F> for Count<F> {
        fn first(&mut self) -> Option<Ask<F>> {
            Some(Ask { clues: self.0, except: None, limit: 2 })
        }

        fn next(&mut self, answer: Answer) -> Option<Ask<F>> {
            self.1 = answer.solutions;
            None
        }
    }

    /// Takes clues away in turn as long as one solution is left, and compares what is told at sight
    /// with a search. Returns how often clues can go, can't, and how often only a search tells.
    fn compare<F: MakingFrame>(board: Clues<F>, order: &[Cells]) -> [u32; 3] {
        let sight = Sight::of(board);
        let (mut clues, mut given, mut told) = (board, board.given(), [0; 3]);
        for &group in order {
            let rest = each(group).fold(clues, |clues, cell| clues.with(cell, 0));
            let mut count = [Count(rest, 0)];
            F::run(&mut count);
            let can_go = count[0].1 == 1;
            let at_sight = sight.can_go(group, given & !group);
            assert!(at_sight.is_none_or(|told| told == can_go), "{clues} {group:b}");
            // Without the other digits, less is told and nothing else.
            let fewer = Sight::of(clues).can_go(group, given & !group);
            let same = if given == board.given() { at_sight } else { at_sight.filter(|go| *go) };
            assert_eq!(fewer, same);
            told[at_sight.map_or(2, |go| usize::from(!go))] += 1;
            if can_go {
                (clues, given) = (rest, given & !group);
            }
        }
        told
    }

    #[test]
    fn what_is_told_at_sight_is_what_a_search_finds() {
        let half_turn = GivensSymmetry::HalfTurn;
        for (turn, board) in small_boards().into_iter().enumerate() {
            let order: Vec<Cells> = (0..16).map(|place| 1 << ((place * 5 + turn) % 16)).collect();
            compare(board, &order);
            compare(board, &half_turn.groups::<Frame4>());
        }
        let mut told = [0; 3];
        for seed in 0..20 {
            let mut rng = stream(seed, 1);
            let board = Frame9::solved_board(&mut rng);
            for mut order in [(0..81).map(|cell| 1 << cell).collect(), half_turn.groups::<Frame9>()]
            {
                order.shuffle(&mut rng);
                let more = compare::<Frame9>(board, &order);
                told = std::array::from_fn(|kind| told[kind] + more[kind]);
            }
        }
        // Most questions need no search.
        assert!(told[0] > told[2] && told[1] > told[2] / 3, "{told:?}");
    }
}
