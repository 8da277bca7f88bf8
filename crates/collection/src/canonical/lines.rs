use std::marker::PhantomData;
use std::ops::Range;

use tallyhouse_board::{Clues, Digit, Frame};

/// The lines of the board in one of its two directions.
pub(super) struct Lines<F> {
    lines: [Line; Digit::COUNT],
    /// The lines of its band that are equal to each line.
    equal_lines: [u16; Digit::COUNT],
    /// The bands that hold the same lines as each band.
    equal_bands: [u16; Digit::COUNT],
    frame: PhantomData<F>,
}

#[derive(Clone, Copy, Default)]
pub(super) struct Line {
    pub(super) digits: [u8; Digit::COUNT],
    /// The digits in one number.
    packed: u64,
    /// If a digit occurs twice.
    pub(super) repeats: bool,
}

impl Line {
    fn new(digits: [u8; Digit::COUNT]) -> Self {
        let (mut seen, mut repeats, mut packed) = (0u16, false, 0);
        for digit in digits {
            // Bit 0 stands for a blank, which may repeat.
            repeats |= seen & 1 << digit > 1;
            seen |= 1 << digit;
            packed = packed << 4 | u64::from(digit);
        }
        Self { digits, packed, repeats }
    }

    /// Returns how many digits each stack has, the fewest first, in one number.
    pub(super) fn digits_of_stacks<F: Frame>(&self) -> u32 {
        let mut counts = [0; Digit::COUNT];
        for (stack, count) in counts.iter_mut().enumerate().take(F::BOX) {
            let digits = &self.digits[stack * F::BOX..][..F::BOX];
            *count = digits.iter().map(|&digit| u32::from(digit != 0)).sum();
        }
        counts[..F::BOX].sort_unstable();
        counts[..F::BOX].iter().fold(0, |number, count| number << 4 | count)
    }
}

impl<F: Frame> Lines<F> {
    pub(super) fn new(clues: &Clues<F>, transposed: bool) -> Self {
        let values = clues.values();
        let mut lines = [Line::default(); Digit::COUNT];
        for (index, line) in lines.iter_mut().enumerate().take(F::SIDE) {
            let mut digits = [0; Digit::COUNT];
            for (place, digit) in digits.iter_mut().enumerate().take(F::SIDE) {
                let (row, column) = if transposed { (place, index) } else { (index, place) };
                *digit = values[row * F::SIDE + column];
            }
            *line = Line::new(digits);
        }
        let bands = || (0..F::BOX).map(|band| band * F::BOX..(band + 1) * F::BOX);
        let mut equal_lines = [0; Digit::COUNT];
        let mut sorted = lines.map(|line| line.packed);
        for band in bands() {
            for line in band.clone() {
                equal_lines[line] =
                    set(band.clone(), |other| lines[other].packed == lines[line].packed);
            }
            sorted[band].sort_unstable();
        }
        let mut equal_bands = [0; Digit::COUNT];
        for (equal, one) in equal_bands.iter_mut().zip(bands()) {
            let same = |other: Range<usize>| sorted[other] == sorted[one.clone()];
            *equal = set(0..F::BOX, |other| bands().nth(other).is_some_and(same));
        }
        Self { lines, equal_lines, equal_bands, frame: PhantomData }
    }

    /// Returns what bounds the first row of the image from below, none if a line repeats a digit.
    ///
    /// All digits of a first row are new. If they differ, the row is the lower the fewer of them stand
    /// in its first stack, then in its second.
    pub(super) fn first_row(&self) -> Option<u32> {
        let lines = &self.lines[..F::SIDE];
        let is_told = lines.iter().all(|line| !line.repeats);
        lines.iter().map(Line::digits_of_stacks::<F>).min().filter(|_| is_told)
    }

    /// Visits the lines that can come next: their index, and for how many equal choices they stand.
    #[inline]
    pub(super) fn next(&self, used: u16, mut visit: impl FnMut(usize, &Line, u32)) {
        let whole = (1 << F::BOX) - 1;
        let rest = |band: usize| !used >> (band * F::BOX) & whole;
        let begun = (0..F::BOX).find(|&band| rest(band) != 0 && rest(band) != whole);
        let open_bands = set(0..F::BOX, |band| rest(band) != 0);
        for band in 0..F::BOX {
            let bands = match begun {
                Some(begun) => 1 << begun,
                None => self.equal_bands[band] & open_bands,
            };
            if !is_first(band, bands) {
                continue;
            }
            for line in band * F::BOX..(band + 1) * F::BOX {
                let lines = self.equal_lines[line] & !used;
                if is_first(line, lines) {
                    visit(line, &self.lines[line], bands.count_ones() * lines.count_ones());
                }
            }
        }
    }
}

/// The numbers of a range that pass a test.
fn set(range: Range<usize>, test: impl Fn(usize) -> bool) -> u16 {
    range.fold(0, |set, member| if test(member) { set | 1 << member } else { set })
}

fn is_first(member: usize, set: u16) -> bool {
    set.trailing_zeros() as usize == member
}
