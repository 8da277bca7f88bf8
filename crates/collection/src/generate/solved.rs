//! Solved boards drawn exactly uniformly.
//!
//! A solved board is seen as columns of boxes: each column of a box is a *set* of digits, the three
//! sets of a box part the nine digits, and so do the three sets of a board column. Given the sets of
//! a band, its rows can be filled in as many ways as the bipartite graph of columns and digits has
//! ordered factorisations into perfect matchings. So the boards are, for the sets of every stack,
//! (ways of band 1) × (ways of band 2) × (ways of band 3), and a board is drawn by choosing sets and
//! accepting them with a probability proportional to that product, then filling each band uniformly.
//! Nothing is approximate: every board has the same probability.

use rand::RngExt;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Clues, Frame};

/// The most digits, and so columns, that a frame has.
const MOST: usize = 9;
/// The most columns of a box.
const BOX: usize = 3;

/// A set of digits; bit 0 for digit 1.
type Digits = u16;
/// The digit sets of a box's columns, in rising order of their least digit unless said otherwise.
type Parting = [Digits; BOX];

/// How many bits of a number drawn choose an entry of the guide to the first bands.
const GUIDE_BITS: u32 = 12;

/// The tables from which boards of one frame are drawn.
pub(super) struct SolvedBoards<F> {
    frame: std::marker::PhantomData<F>,
    partings: Vec<Parting>,
    /// The number of a parting by its first two sets.
    numbers: Vec<u16>,
    /// Ways to fill a band whose first box has the standard parting, by the numbers of the others.
    ways: Vec<u32>,
    most_ways: u32,
    /// The numbers of two partings to that of the second, relabelled so that the first becomes the
    /// standard one.
    beside_standard: Vec<u16>,
    /// What may stand below each parting of the first band in a box.
    middles: Vec<Vec<Middle>>,
    /// First bands up to relabelling, with the running sum of their weights.
    starts: Vec<(Start, u64)>,
    /// The first of the starts whose running sum is above a multiple of 2 to the `guide_shift`.
    guide: Vec<u16>,
    guide_shift: u32,
}

/// The sets that the middle band may have in a box, column by column.
struct Middle {
    sets: Parting,
    number: u16,
}

/// The parting numbers of a band's boxes, one per stack; a third is 0 on a frame of two stacks.
type Start = [u16; BOX];

impl<F: Frame> SolvedBoards<F> {
    pub(super) fn new() -> Self {
        let mut boards = Self {
            frame: std::marker::PhantomData,
            partings: Vec::new(),
            numbers: vec![0; 1 << (2 * F::SIDE)],
            ways: Vec::new(),
            most_ways: 0,
            beside_standard: Vec::new(),
            middles: Vec::new(),
            starts: Vec::new(),
            guide: Vec::new(),
            guide_shift: 0,
        };
        list_partings::<F>(0, [0; BOX], &mut boards.partings);
        for (number, parting) in (0..).zip(&boards.partings) {
            boards.numbers[key::<F>(parting)] = number;
        }
        boards.middles = boards.partings.iter().map(|above| boards.middles(above)).collect();
        boards.beside_standard = boards.partings.iter().flat_map(|p| boards.beside(p)).collect();
        boards.fill_ways();
        let total = boards.total();
        boards.guide_shift = (u64::BITS - total.leading_zeros()).saturating_sub(GUIDE_BITS);
        boards.guide = (0..=total >> boards.guide_shift)
            .map(|part| boards.start_after(part << boards.guide_shift) as u16)
            .collect();
        boards
    }

    /// Returns the sum of all weights.
    fn total(&self) -> u64 {
        self.starts.last().map_or(0, |start| start.1)
    }

    /// Returns the first start whose running sum is above a number.
    fn start_after(&self, at: u64) -> usize {
        self.starts.partition_point(|start| start.1 <= at)
    }

    /// Fills the table of ways and the list of first bands. Bands that differ by a relabelling have
    /// as many ways, so one second box of each kind is enough.
    fn fill_ways(&mut self) {
        let count = self.partings.len();
        let thirds = if F::BOX == 3 { count } else { 1 };
        let mut by_second: Vec<Option<(usize, [u8; MOST])>> = vec![None; count];
        self.ways = vec![0; count * thirds];
        let keepers = keepers_of_standard::<F>();
        let mut sum = 0;
        for second in 0..count {
            if by_second[second].is_some() {
                continue;
            }
            let mut images = 0;
            for relabelling in &keepers {
                let image = self.number(&relabelled::<F>(&self.partings[second], relabelling));
                if by_second[image].is_none() {
                    by_second[image] = Some((second, *relabelling));
                    images += 1;
                }
            }
            for third in 0..thirds {
                let sets = self.columns([0, second, third]);
                let ways = ways(&sets[..F::SIDE], F::BOX);
                self.ways[second * thirds + third] = ways;
                self.most_ways = self.most_ways.max(ways);
                sum += images * u64::from(ways);
                self.starts.push(([0, second as u16, third as u16], sum));
            }
        }
        for (image, reached) in by_second.iter().enumerate() {
            let Some((second, relabelling)) = *reached else { continue };
            for third in 0..thirds {
                let moved = if F::BOX == 3 {
                    self.number(&relabelled::<F>(&self.partings[third], &relabelling))
                } else {
                    0
                };
                self.ways[image * thirds + moved] = self.ways[second * thirds + third];
            }
        }
    }

    fn number(&self, parting: &Parting) -> usize {
        usize::from(self.numbers[key::<F>(parting)])
    }

    /// Returns the numbers of all partings, relabelled so that this one becomes the standard one.
    fn beside(&self, standard: &Parting) -> Vec<u16> {
        let relabelling = to_standard::<F>(standard);
        let number = |parting| self.number(&relabelled::<F>(parting, &relabelling)) as u16;
        self.partings.iter().map(number).collect()
    }

    /// Lists what may stand in a box of the middle band below a parting, column by column: what is
    /// left of each column's digits parts the digits too.
    fn middles(&self, above: &Parting) -> Vec<Middle> {
        let full: Digits = (1 << F::SIDE) - 1;
        let fits = |column: usize, free: Digits| {
            (0..=full).filter(move |set| {
                set.count_ones() as usize == F::BOX && set & !free == 0 && set & above[column] == 0
            })
        };
        let mut list = Vec::new();
        for first in fits(0, full) {
            for second in fits(1, full & !first) {
                let sets = [first, second, full & !(first | second)];
                if F::BOX == 3 && sets[2] & above[2] == 0 {
                    list.push(Middle { sets, number: self.number_of(&sets) as u16 });
                }
            }
        }
        list
    }

    fn columns(&self, numbers: [usize; BOX]) -> [Digits; MOST] {
        let mut sets = [0; MOST];
        for (stack, number) in numbers.into_iter().take(F::BOX).enumerate() {
            sets[stack * F::BOX..][..F::BOX].copy_from_slice(&self.partings[number][..F::BOX]);
        }
        sets
    }

    /// Returns the number of a parting whose sets may stand in any order.
    fn number_of(&self, sets: &[Digits]) -> usize {
        let mut parting: Parting = [0; BOX];
        parting[..F::BOX].copy_from_slice(sets);
        parting[..F::BOX].sort_unstable_by_key(|set| set.trailing_zeros());
        self.number(&parting)
    }

    /// Returns in how many ways a band with these column sets can be filled.
    fn ways_of(&self, sets: &[Digits; MOST]) -> u32 {
        let mut numbers = [0; BOX];
        for (number, sets) in numbers.iter_mut().zip(sets[..F::SIDE].chunks_exact(F::BOX)) {
            *number = self.number_of(sets);
        }
        self.ways_by(numbers)
    }

    /// Returns in how many ways a band can be filled whose boxes have these partings.
    fn ways_by(&self, [first, second, third]: [usize; BOX]) -> u32 {
        let beside = &self.beside_standard[first * self.partings.len()..];
        let second = usize::from(beside[second]);
        if F::BOX == 3 {
            self.ways[second * self.partings.len() + usize::from(beside[third])]
        } else {
            self.ways[second]
        }
    }

    /// Draws a board.
    pub(super) fn draw(&self, rng: &mut ChaCha8Rng) -> Clues<F> {
        let (mut bands, full) = (self.draw_sets(rng), (1 << F::SIDE) - 1);
        // Everything so far stands in a standard order; any relabelling and any order of the columns
        // in their stacks is as likely.
        let mut relabelling: [u8; MOST] = std::array::from_fn(|digit| digit as u8);
        relabelling[..F::SIDE].shuffle(rng);
        for stack in 0..F::BOX {
            let mut order: [usize; BOX] = std::array::from_fn(|column| column);
            order[..F::BOX].shuffle(rng);
            for band in &mut bands[..F::BOX] {
                let old = *band;
                for (column, &from) in order[..F::BOX].iter().enumerate() {
                    band[stack * F::BOX + column] = old[stack * F::BOX + from];
                }
            }
        }
        let mut values = [0; MOST * MOST];
        for (band, sets) in bands[..F::BOX].iter().enumerate() {
            debug_assert_eq!(sets[..F::SIDE].iter().fold(0, |all, set| all | set), full);
            let rows = &mut values[band * F::BOX * F::SIDE..][..F::BOX * F::SIDE];
            fill_band::<F>(sets, self.ways_of(sets), rows, rng);
        }
        let values = values.map(|digit| relabelling[usize::from(digit)] + 1);
        Clues::from_values(&values[..F::CELLS])
            .unwrap_or_else(|| unreachable!("every value is a digit of the frame"))
    }

    /// Draws the column sets of all bands with a probability proportional to the number of boards
    /// that have them.
    fn draw_sets(&self, rng: &mut ChaCha8Rng) -> [[Digits; MOST]; BOX] {
        let total = self.total();
        let full = (1 << F::SIDE) - 1;
        loop {
            let at = rng.random_range(0..total);
            let mut start = usize::from(self.guide[(at >> self.guide_shift) as usize]);
            while self.starts[start].1 <= at {
                start += 1;
            }
            let start = self.starts[start].0.map(usize::from);
            let mut middles = [None; BOX];
            if F::BOX == 3 {
                for (middle, start) in middles.iter_mut().zip(start) {
                    let all = &self.middles[start];
                    *middle = Some(&all[rng.random_range(0..all.len())]);
                }
                let numbers = middles.map(|middle| middle.map_or(0, |m| usize::from(m.number)));
                if rng.random_range(0..self.most_ways) >= self.ways_by(numbers) {
                    continue;
                }
            }
            let mut bands = [[0; MOST]; BOX];
            bands[0] = self.columns(start);
            for (stack, middle) in middles.iter().enumerate() {
                if let Some(middle) = middle {
                    bands[1][stack * F::BOX..][..F::BOX].copy_from_slice(&middle.sets[..F::BOX]);
                }
            }
            let last: [Digits; MOST] = std::array::from_fn(|column| {
                if column < F::SIDE { full & !(bands[0][column] | bands[1][column]) } else { 0 }
            });
            bands[F::BOX - 1] = last;
            if rng.random_range(0..self.most_ways) < self.ways_of(&last) {
                return bands;
            }
        }
    }

    /// Counts the boards that the drawing can give, by the weights it draws with.
    #[cfg(test)]
    fn count(&self) -> u128 {
        use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
        let full = (1 << F::SIDE) - 1;
        let complete = |start: &Start| -> u64 {
            let first = self.columns(start.map(usize::from));
            let rest = |used: &[Digits; MOST]| {
                std::array::from_fn(|c| if c < F::SIDE { full & !used[c] } else { 0 })
            };
            if F::BOX == 2 {
                return u64::from(self.ways_of(&rest(&first)));
            }
            let mut sum = 0;
            let [a, b, c] = start.map(|number| &self.middles[usize::from(number)]);
            for a in a {
                for b in b {
                    for c in c {
                        let mut middle = [0; MOST];
                        for (stack, one) in [a, b, c].into_iter().enumerate() {
                            middle[stack * 3..][..3].copy_from_slice(&one.sets);
                        }
                        let used = std::array::from_fn(|column| first[column] | middle[column]);
                        sum += u64::from(self.ways_of(&middle))
                            * u64::from(self.ways_of(&rest(&used)));
                    }
                }
            }
            sum
        };
        let before = std::iter::once(0).chain(self.starts.iter().map(|start| start.1));
        let weighted: Vec<(Start, u64)> =
            self.starts.iter().zip(before).map(|(s, before)| (s.0, s.1 - before)).collect();
        let sum: u128 = weighted
            .par_iter()
            .map(|(start, weight)| u128::from(*weight) * u128::from(complete(start)))
            .sum();
        let columns: u128 = (1..=F::BOX as u128).product();
        sum * self.partings.len() as u128 * columns.pow(F::BOX as u32)
    }
}

fn key<F: Frame>(parting: &Parting) -> usize {
    usize::from(parting[0]) << F::SIDE | usize::from(parting[1])
}

/// Lists all partings of the digits that are still free.
fn list_partings<F: Frame>(depth: usize, sets: Parting, list: &mut Vec<Parting>) {
    let free = sets.iter().fold((1 << F::SIDE) - 1, |free, set| free & !set);
    if free == 0 {
        list.push(sets);
        return;
    }
    let least = free & free.wrapping_neg();
    for set in 0..=free {
        if set & !free == 0 && set & least != 0 && set.count_ones() as usize == F::BOX {
            let mut sets = sets;
            sets[depth] = set;
            list_partings::<F>(depth + 1, sets, list);
        }
    }
}

/// Returns a relabelling to the standard parting: the first digits in the first column, and so on.
fn to_standard<F: Frame>(parting: &Parting) -> [u8; MOST] {
    let mut relabelling = [0u8; MOST];
    let mut next = 0;
    for &set in &parting[..F::BOX] {
        let mut rest = set;
        while rest != 0 {
            relabelling[rest.trailing_zeros() as usize] = next;
            next += 1;
            rest &= rest - 1;
        }
    }
    relabelling
}

/// Lists the relabellings that keep the standard parting.
fn keepers_of_standard<F: Frame>() -> Vec<[u8; MOST]> {
    fn extend<F: Frame>(prefix: &mut Vec<u8>, list: &mut Vec<[u8; MOST]>) {
        let digit = prefix.len();
        if digit == F::SIDE {
            list.push(std::array::from_fn(|d| prefix.get(d).copied().unwrap_or(0)));
            return;
        }
        for to in 0..F::SIDE as u8 {
            let same_set = |earlier: usize| earlier / F::BOX == digit / F::BOX;
            let fits = prefix.iter().enumerate().all(|(earlier, &image)| {
                image != to
                    && same_set(earlier)
                        == (usize::from(image) / F::BOX == usize::from(to) / F::BOX)
            });
            if fits {
                prefix.push(to);
                extend::<F>(prefix, list);
                prefix.pop();
            }
        }
    }
    let mut list = Vec::new();
    extend::<F>(&mut Vec::new(), &mut list);
    list
}

/// Relabels a parting and puts its sets into rising order of their least digit.
fn relabelled<F: Frame>(parting: &Parting, relabelling: &[u8; MOST]) -> Parting {
    let mut image: Parting = [0; BOX];
    for (image, &set) in image.iter_mut().zip(&parting[..F::BOX]) {
        let mut rest = set;
        while rest != 0 {
            *image |= 1 << relabelling[rest.trailing_zeros() as usize];
            rest &= rest - 1;
        }
    }
    image[..F::BOX].sort_unstable_by_key(|set| set.trailing_zeros());
    image
}

/// Counts the ordered factorisations of a bipartite graph of columns and digits, in which each has
/// `degree` neighbours, into perfect matchings.
fn ways(sets: &[Digits], degree: usize) -> u32 {
    match degree {
        0 | 1 => 1,
        2 => 1 << cycles(sets, |_, _| {}),
        _ => {
            let mut sum = 0;
            each_matching(sets, false, &mut |row| {
                sum += ways(&without_row(sets, row)[..sets.len()], degree - 1);
                false
            });
            sum
        }
    }
}

fn without_row(sets: &[Digits], row: &[u8; MOST]) -> [Digits; MOST] {
    std::array::from_fn(|column| match sets.get(column) {
        Some(set) => set & !(1 << row[column]),
        None => 0,
    })
}

/// Visits every way to take one digit from each column, all different, until a visit says stop; in
/// rising order, or from the last one down.
fn each_matching(sets: &[Digits], from_last: bool, visit: &mut impl FnMut(&[u8; MOST]) -> bool) {
    fn extend(
        sets: &[Digits],
        from_last: bool,
        column: usize,
        used: Digits,
        row: &mut [u8; MOST],
        visit: &mut impl FnMut(&[u8; MOST]) -> bool,
    ) -> bool {
        if column == sets.len() {
            return visit(row);
        }
        let mut rest = sets[column] & !used;
        while rest != 0 {
            let digit = if from_last { rest.ilog2() } else { rest.trailing_zeros() };
            row[column] = digit as u8;
            if extend(sets, from_last, column + 1, used | 1 << digit, row, visit) {
                return true;
            }
            rest &= !(1 << digit);
        }
        false
    }
    extend(sets, from_last, 0, 0, &mut [0; MOST], visit);
}

/// Counts the cycles of a graph in which each column and digit has two neighbours. Each cycle is
/// told as its columns with the digit by which they are entered.
fn cycles(sets: &[Digits], mut member: impl FnMut(usize, (usize, u8))) -> u32 {
    let mut owners = [0u16; MOST];
    for (column, &set) in sets.iter().enumerate() {
        let mut rest = set;
        while rest != 0 {
            owners[rest.trailing_zeros() as usize] |= 1 << column;
            rest &= rest - 1;
        }
    }
    let (mut seen, mut count) = (0u16, 0);
    for first in 0..sets.len() {
        if seen >> first & 1 == 1 {
            continue;
        }
        let (mut column, mut digit) = (first, sets[first].trailing_zeros());
        while seen >> column & 1 == 0 {
            seen |= 1 << column;
            member(count as usize, (column, digit as u8));
            let leave = (sets[column] & !(1 << digit)).trailing_zeros();
            column = (owners[leave as usize] & !(1 << column)).trailing_zeros() as usize;
            digit = leave;
        }
        count += 1;
    }
    count
}

/// Fills the rows of a band, every way as likely as any other.
fn fill_band<F: Frame>(
    sets: &[Digits; MOST],
    all_ways: u32,
    rows: &mut [u8],
    rng: &mut ChaCha8Rng,
) {
    let mut sets = *sets;
    for row in 0..F::BOX {
        let left = F::BOX - row;
        let columns = &sets[..F::SIDE];
        let mut chosen = [0u8; MOST];
        match left {
            1 => {
                for (digit, set) in chosen.iter_mut().zip(columns) {
                    *digit = set.trailing_zeros() as u8;
                }
            }
            2 => {
                let turns: [bool; MOST] = std::array::from_fn(|_| rng.random_bool(0.5));
                cycles(columns, |cycle, (column, digit)| {
                    let other = (columns[column] & !(1 << digit)).trailing_zeros() as u8;
                    chosen[column] = if turns[cycle] { digit } else { other };
                });
            }
            _ => {
                // A band has three rows at most, so this is its first.
                let at = rng.random_range(0..all_ways);
                // From the nearer end.
                let from_last = at >= all_ways / 2;
                let mut at = if from_last { all_ways - 1 - at } else { at };
                each_matching(columns, from_last, &mut |row| {
                    let here = ways(&without_row(columns, row)[..F::SIDE], left - 1);
                    if at < here {
                        chosen = *row;
                        return true;
                    }
                    at -= here;
                    false
                });
            }
        }
        rows[row * F::SIDE..][..F::SIDE].copy_from_slice(&chosen[..F::SIDE]);
        sets = without_row(&sets[..F::SIDE], &chosen);
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use tallyhouse_board::{Frame4, Frame9};

    use super::*;

    #[test]
    fn bands_are_as_many_as_published() {
        // B. Felgenhauer & F. Jarvis, Mathematics of Sudoku I, Mathematical Spectrum 39(1), 2006/7:
        // 9! × 56 × 6⁶ = 948,109,639,680 ways to fill three rows (from memory, and recomputed).
        let boards = SolvedBoards::<Frame9>::new();
        let sum = u128::from(boards.starts.last().unwrap().1);
        assert_eq!(boards.partings.len(), 280);
        assert_eq!(sum * 280 * 6u128.pow(3), 948_109_639_680);
        assert!(boards.middles.iter().all(|middles| middles.len() == 56));
        assert_eq!(boards.most_ways, 12 * 12 * 12);
    }

    #[test]
    fn small_boards_are_as_many_as_published() {
        // OEIS A107739: 288 boards of 4×4.
        assert_eq!(SolvedBoards::<Frame4>::new().count(), 288);
    }

    #[test]
    #[ignore = "half a minute: sums over all column sets of the board"]
    fn boards_are_as_many_as_published() {
        // OEIS A107739; Felgenhauer & Jarvis: 6,670,903,752,021,072,936,960 boards. The drawing
        // reaches each of them, and each with the same weight.
        assert_eq!(SolvedBoards::<Frame9>::new().count(), 6_670_903_752_021_072_936_960);
    }

    fn is_solved<F: Frame>(board: &Clues<F>) -> bool {
        (0..F::CELLS).all(|a| {
            board.get(a) != 0
                && (0..a).all(|b| !F::share_a_house(a, b) || board.get(a) != board.get(b))
        })
    }

    #[test]
    fn drawn_boards_are_solved_and_digits_uniform_in_every_cell() {
        let boards = SolvedBoards::<Frame9>::new();
        let mut rng = ChaCha8Rng::seed_from_u64(9);
        let draws = 9000;
        let mut counts = [[0u32; 9]; 81];
        for _ in 0..draws {
            let board = boards.draw(&mut rng);
            assert!(is_solved(&board));
            for cell in 0..81 {
                counts[cell][usize::from(board.get(cell)) - 1] += 1;
            }
        }
        // Chi-squared with 8 degrees of freedom for each cell; beyond 36.5 with probability
        // 1.4e-5, so over 81 cells about once in 900 seeds.
        for (cell, counts) in counts.iter().enumerate() {
            let chi: f64 = counts.iter().map(|&n| (f64::from(n) - 1000.0).powi(2) / 1000.0).sum();
            assert!(chi < 36.5, "cell {cell}: {counts:?}");
        }
    }

    #[test]
    fn all_small_boards_are_equally_likely() {
        let boards = SolvedBoards::<Frame4>::new();
        let mut rng = ChaCha8Rng::seed_from_u64(4);
        let mut counts = std::collections::HashMap::new();
        for _ in 0..288_000 {
            *counts.entry(boards.draw(&mut rng)).or_insert(0u32) += 1;
        }
        assert_eq!(counts.len(), 288);
        assert!(counts.keys().all(is_solved));
        let chi: f64 = counts.values().map(|&n| (f64::from(n) - 1000.0).powi(2) / 1000.0).sum();
        // 287 degrees of freedom: mean 287, standard deviation √574 ≈ 24; four of them above.
        assert!(chi < 383.0, "{chi}");
    }
}
