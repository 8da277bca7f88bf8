//! A number that equivalent clue sets share.

use tallyhouse_board::{Clues, Digit, Frame};

/// How often each line, box and digit learns of the clues on it. Fewer rounds leave more clue sets that
/// differ with the same number.
const ROUNDS: usize = 3;

/// Returns a number that equivalent clue sets have in common, many times cheaper than their canonical
/// form. Others hardly ever have it, but nothing is promised: of those that do, the forms decide.
///
/// Rows, columns, boxes and digits start alike. In each round every clue gets a number from the sum of
/// those of its row and column and from those of its box and digit, and each of these one from the sum
/// over its clues; rows and columns then one from the sum over their band. Sums don't know an order, so no
/// symmetry of the board changes them.
///
/// ```
/// use tallyhouse_board::{Clues, Frame9, Puzzle};
/// use tallyhouse_collection::class_key;
///
/// let key = |line: String| line.parse::<Puzzle>().map(|p| class_key(&Clues::<Frame9>::from(&p)));
/// let first = key(format!("12{}", ".".repeat(79)))?;
/// assert_eq!(key(format!("{}85", ".".repeat(79)))?, first);
/// assert_ne!(key(format!("1...2{}", ".".repeat(76)))?, first);
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
#[must_use]
pub fn class_key<F: Frame>(clues: &Clues<F>) -> u64 {
    let mut found = [Clue::default(); MOST_CLUES];
    let mut count = 0;
    for (cell, &value) in clues.values().iter().enumerate().filter(|(_, value)| **value != 0) {
        let (row, column) = (cell / F::SIDE, cell % F::SIDE);
        let on = [row, column, F::box_of(cell), usize::from(value) - 1];
        found[count] = Clue { on: on.map(|place| place as u8) };
        count += 1;
    }
    let mut numbers = [[1u64; Digit::COUNT]; 4];
    let mut all = 0;
    for _ in 0..ROUNDS {
        let mut sums = [[0u64; Digit::COUNT]; 4];
        all = 0u64;
        for clue in &found[..count] {
            let [row, column, of_box, digit] = clue.of(&numbers);
            let lines = row.wrapping_add(column);
            let number = mix(lines ^ of_box.rotate_left(21) ^ digit.rotate_left(42));
            for (sums, place) in sums.iter_mut().zip(clue.on) {
                let sum = &mut sums[usize::from(place)];
                *sum = sum.wrapping_add(number);
            }
            all = all.wrapping_add(number);
        }
        for (kind, (numbers, sums)) in numbers.iter_mut().zip(&sums).enumerate() {
            // Boxes and digits are not to be taken for lines with the same clues.
            let kind = kind.max(1) as u64;
            for (number, sum) in numbers.iter_mut().zip(sums) {
                *number = mix(sum.wrapping_add(kind));
            }
        }
        for lines in &mut numbers[..2] {
            for band in lines[..F::SIDE].chunks_exact_mut(F::BOX) {
                let sum = band.iter().fold(0u64, |sum, line| sum.wrapping_add(*line));
                band.iter_mut().for_each(|line| *line = mix(line.wrapping_add(mix(sum))));
            }
        }
    }
    mix(all)
}

/// As many clues as the largest frame has cells.
const MOST_CLUES: usize = Digit::COUNT * Digit::COUNT;

/// The row, column, box and digit of a clue, each from 0.
#[derive(Clone, Copy, Default)]
struct Clue {
    on: [u8; 4],
}

impl Clue {
    fn of(self, numbers: &[[u64; Digit::COUNT]; 4]) -> [u64; 4] {
        std::array::from_fn(|kind| numbers[kind][usize::from(self.on[kind])])
    }
}

/// Spreads a number's bits: the finaliser of SplitMix64 (Steele, Lea and Flood 2014; constants from
/// memory).
fn mix(number: u64) -> u64 {
    let number = (number ^ number >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let number = (number ^ number >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    number ^ number >> 31
}
