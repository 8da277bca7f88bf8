//! The symmetries of the board: transposition, bands, stacks, rows, columns, and relabelling.

use rand::RngExt;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;

/// One symmetry.
#[derive(Clone, Debug)]
pub struct Symmetry {
    /// Whether rows and columns change places first.
    pub transposed: bool,
    /// The row that each new row comes from.
    pub rows: [usize; 9],
    /// The column that each new column comes from.
    pub columns: [usize; 9],
    /// The new digit of each digit; index 0 stays 0.
    pub digits: [u8; 10],
}

fn lines(rng: &mut ChaCha8Rng) -> [usize; 9] {
    let mut bands = [0, 1, 2];
    bands.shuffle(rng);
    let mut lines = [0; 9];
    for (place, band) in bands.into_iter().enumerate() {
        let mut within = [0, 1, 2];
        within.shuffle(rng);
        for (offset, line) in within.into_iter().enumerate() {
            lines[place * 3 + offset] = band * 3 + line;
        }
    }
    lines
}

impl Symmetry {
    /// Draws a symmetry.
    pub fn random(rng: &mut ChaCha8Rng) -> Self {
        let mut digits = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9];
        digits[1..].shuffle(rng);
        Self { transposed: rng.random_bool(0.5), rows: lines(rng), columns: lines(rng), digits }
    }

    /// Returns the image of 81 digits.
    pub fn apply(&self, board: &[u8; 81]) -> [u8; 81] {
        let mut image = [0; 81];
        for row in 0..9 {
            for column in 0..9 {
                let (r, c) = (self.rows[row], self.columns[column]);
                let from = if self.transposed { c * 9 + r } else { r * 9 + c };
                image[row * 9 + column] = self.digits[usize::from(board[from])];
            }
        }
        image
    }
}
