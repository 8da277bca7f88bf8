//! Least squares with coefficients that may not be negative, for a few columns.

/// A column counts as a sum of others if this share of its squares, or less, is its own.
const ITS_OWN: f64 = 1e-9;

/// The normal equations of a sum of columns: what products of columns, and of columns and values, sum to.
#[derive(Clone, Debug)]
pub(crate) struct NormalEquations<const N: usize> {
    gram: [[f64; N]; N],
    right: [f64; N],
}

impl<const N: usize> Default for NormalEquations<N> {
    fn default() -> Self {
        Self { gram: [[0.0; N]; N], right: [0.0; N] }
    }
}

impl<const N: usize> NormalEquations<N> {
    /// Adds a row with its value.
    pub(crate) fn add(&mut self, row: &[f64; N], value: f64, weight: f64) {
        for (i, sums) in self.gram.iter_mut().enumerate() {
            self.right[i] += weight * row[i] * value;
            for (sum, other) in sums.iter_mut().zip(row) {
                *sum += weight * row[i] * other;
            }
        }
    }

    /// Returns the coefficients, none of them negative, that leave the least sum of squares; one
    /// such answer where there are several.
    ///
    /// Every set of columns is solved by itself: the best of those without a negative coefficient is the
    /// answer. (C. L. Lawson & R. J. Hanson, *Solving Least Squares Problems*, 1974, ch. 23, search for
    /// that set one column at a time, which pays with many columns.)
    pub(crate) fn not_negative(&self) -> [f64; N] {
        let mut best = (0.0, [0.0; N]);
        for columns in 1..1 << N {
            let Some(found) = self.solve(columns) else { continue };
            if found.iter().any(|&coefficient| coefficient < 0.0) {
                continue;
            }
            // What the squares are less than those of the values alone.
            let explained: f64 = found.iter().zip(&self.right).map(|(c, r)| c * r).sum();
            if explained > best.0 * (1.0 + 1e-12) {
                best = (explained, found);
            }
        }
        best.1
    }

    /// Returns for each column if its coefficient can be told: if it is no sum of multiples of others.
    pub(crate) fn are_told(&self) -> [bool; N] {
        let all = (1 << N) - 1;
        let rank = self.rank(all);
        std::array::from_fn(|column| self.rank(all & !(1 << column)) < rank)
    }

    /// The most columns among these of which none is a sum of multiples of others.
    fn rank(&self, among: usize) -> u32 {
        let sets = (0..1usize << N).filter(|set| set & !among == 0 && self.factor(*set).is_some());
        sets.map(usize::count_ones).max().unwrap_or_default()
    }

    /// Solves for some columns, a bit each; the others get 0. `None` if one is a sum of others.
    fn solve(&self, columns: usize) -> Option<[f64; N]> {
        let (factor, scale) = self.factor(columns)?;
        let mut solved = [0.0; N];
        for i in (0..N).filter(|i| columns >> i & 1 == 1) {
            let before: f64 = (0..i).map(|k| factor[i][k] * solved[k]).sum();
            solved[i] = (self.right[i] / scale[i] - before) / factor[i][i];
        }
        for i in (0..N).rev() {
            let after: f64 = (i + 1..N).map(|k| factor[k][i] * solved[k]).sum();
            solved[i] = (solved[i] - after) / factor[i][i];
        }
        Some(std::array::from_fn(|i| solved[i] / scale[i]))
    }

    /// Cholesky's factor for some columns, each of them divided by its length, and these lengths; the
    /// other columns are replaced by ones that have nothing to do with any.
    fn factor(&self, columns: usize) -> Option<([[f64; N]; N], [f64; N])> {
        let is_in = |column: usize| columns >> column & 1 == 1;
        let scale: [f64; N] =
            std::array::from_fn(|i| if is_in(i) { self.gram[i][i].sqrt() } else { 1.0 });
        if scale.contains(&0.0) {
            return None;
        }
        let mut factor = [[0.0; N]; N];
        for i in 0..N {
            for j in 0..=i {
                let product = match (is_in(i) && is_in(j), i == j) {
                    (true, _) => self.gram[i][j] / (scale[i] * scale[j]),
                    (false, same) => f64::from(u8::from(same)),
                };
                let before: f64 = (0..j).map(|k| factor[i][k] * factor[j][k]).sum();
                let rest = product - before;
                if i > j {
                    factor[i][j] = rest / factor[j][j];
                } else if rest > ITS_OWN {
                    factor[i][i] = rest.sqrt();
                } else {
                    return None;
                }
            }
        }
        Some((factor, scale))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::test_support::assert_close;

    fn normal<const N: usize>(rows: &[([f64; N], f64)]) -> NormalEquations<N> {
        let mut normal = NormalEquations::default();
        rows.iter().for_each(|(row, value)| normal.add(row, *value, 1.0));
        normal
    }

    /// By hand: the line through (0, 1), (1, 3), (2, 4) is 7/6 + 3/2·x; its mirror image falls, so the
    /// slope ends at 0 and the height at the mean.
    #[test]
    fn lines_by_hand() {
        let rising = normal(&[([1.0, 0.0], 1.0), ([1.0, 1.0], 3.0), ([1.0, 2.0], 4.0)]);
        let [height, slope] = rising.not_negative();
        assert_close(height, 7.0 / 6.0, 1e-12);
        assert_close(slope, 1.5, 1e-12);
        let falling = normal(&[([1.0, 0.0], 4.0), ([1.0, 1.0], 3.0), ([1.0, 2.0], 1.0)]);
        let [height, slope] = falling.not_negative();
        assert_close(height, 8.0 / 3.0, 1e-12);
        assert_eq!(slope, 0.0);
    }

    #[test]
    fn what_can_not_be_told_is_known() {
        // The third column is always 0, the second twice the first, the fourth on its own.
        let rows = [[1.0, 2.0, 0.0, 5.0], [1.0, 2.0, 0.0, 7.0], [1.0, 2.0, 0.0, 6.0]];
        let sums = normal(&rows.map(|row| (row, row[3])));
        assert_eq!(sums.are_told(), [false, false, false, true]);
        let found = sums.not_negative();
        assert_close(found[3], 1.0, 1e-9);
        // The first three columns, and the sum of the first two.
        let rows = [[1.0, 0.0, 2.0, 1.0], [1.0, 3.0, 1.0, 4.0], [2.0, 1.0, 0.0, 3.0]];
        let rows = [rows[0], rows[1], rows[2], [3.0, 1.0, 1.0, 4.0]];
        let sums = normal(&rows.map(|row| (row, 1.0)));
        assert_eq!(sums.are_told(), [false, false, true, false]);
        assert_eq!(NormalEquations::<4>::default().not_negative(), [0.0; 4]);
    }

    fn rows() -> impl Strategy<Value = Vec<([f64; 4], f64)>> {
        let number = || (0u8..9).prop_map(f64::from);
        let row = prop::array::uniform4(number());
        prop::collection::vec((row, number()), 1..12)
    }

    proptest! {
        /// What makes an answer the best of all that are not negative (Karush, Kuhn and Tucker): the sum
        /// of squares falls in no direction that is open.
        #[test]
        fn no_step_makes_it_better(rows in rows()) {
            let sums = normal(&rows);
            let found = sums.not_negative();
            for column in 0..4 {
                let falls: f64 = rows
                    .iter()
                    .map(|(row, value)| {
                        let fitted: f64 = row.iter().zip(&found).map(|(x, c)| x * c).sum();
                        row[column] * (value - fitted)
                    })
                    .sum();
                prop_assert!(falls < 1e-6, "{falls} at {column} of {found:?}");
                prop_assert!(found[column] == 0.0 || falls > -1e-6, "{falls} of {found:?}");
            }
        }
    }
}
