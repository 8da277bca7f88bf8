use std::iter::Sum;
use std::ops::{Add, AddAssign};

/// Glances by what was examined, without weights.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Glances {
    /// Open cells looked at for the number of their candidates.
    pub cells_seen: u64,
    /// Places looked at to gather those of a digit.
    pub places_gathered: u64,
    /// Cells or digits tried as the next of a set.
    pub tries: u64,
}

impl Glances {
    /// Returns the weighted sum in millionths of a glance of weight 1: whole numbers, which add up
    /// exactly.
    #[must_use]
    pub fn millionths(&self, weights: &GlanceWeights) -> i128 {
        let counts = [self.cells_seen, self.places_gathered, self.tries].map(i128::from);
        counts.into_iter().zip(weights.millionths()).map(|(count, weight)| count * weight).sum()
    }

    /// Returns the weighted sum, in units of a glance of weight 1.
    #[must_use]
    pub fn cost(&self, weights: &GlanceWeights) -> f64 {
        self.cells_seen as f64 * weights.cell
            + self.places_gathered as f64 * weights.place
            + self.tries as f64 * weights.try_
    }
}

impl Add for Glances {
    type Output = Self;

    fn add(mut self, other: Self) -> Self {
        self += other;
        self
    }
}

impl AddAssign for Glances {
    fn add_assign(&mut self, other: Self) {
        self.cells_seen += other.cells_seen;
        self.places_gathered += other.places_gathered;
        self.tries += other.tries;
    }
}

impl Sum for Glances {
    fn sum<I: Iterator<Item = Self>>(glances: I) -> Self {
        glances.fold(Self::default(), Self::add)
    }
}

/// What a glance of each kind weighs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GlanceWeights {
    cell: f64,
    place: f64,
    try_: f64,
}

/// A weight that is out of range.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("the weight of a {kind} must lie from 0.000001 to 1000000, found {found}")]
pub struct WeightError {
    /// `cell seen`, `place gathered` or `try`.
    pub kind: &'static str,
    /// What was found.
    pub found: f64,
}

impl GlanceWeights {
    /// Makes weights for a cell seen, a place gathered and a try.
    ///
    /// # Errors
    /// If one of them does not lie from a millionth to a million; the first such is named.
    pub fn new(cell: f64, place: f64, try_: f64) -> Result<Self, WeightError> {
        for (kind, found) in [("cell seen", cell), ("place gathered", place), ("try", try_)] {
            if !(1e-6..=1e6).contains(&found) {
                return Err(WeightError { kind, found });
            }
        }
        Ok(Self { cell, place, try_ })
    }

    /// Returns the weights of a cell seen, a place gathered and a try in millionths: whole numbers, by
    /// which sums of glances stay exact.
    #[must_use]
    pub fn millionths(&self) -> [i128; 3] {
        [self.cell, self.place, self.try_].map(|weight| (weight * 1e6).round() as i128)
    }

    /// Returns the weight of a cell seen.
    #[must_use]
    pub const fn cell(&self) -> f64 {
        self.cell
    }

    /// Returns the weight of a place gathered.
    #[must_use]
    pub const fn place(&self) -> f64 {
        self.place
    }

    /// Returns the weight of a try.
    #[must_use]
    pub const fn try_(&self) -> f64 {
        self.try_
    }
}

impl Default for GlanceWeights {
    /// Every glance weighs 1.
    fn default() -> Self {
        Self { cell: 1.0, place: 1.0, try_: 1.0 }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn glances() -> impl Strategy<Value = Glances> {
        (0..1u64 << 40, 0..1u64 << 40, 0..1u64 << 40).prop_map(
            |(cells_seen, places_gathered, tries)| Glances { cells_seen, places_gathered, tries },
        )
    }

    #[test]
    fn weights_apply_to_their_own_kind() {
        let glances = Glances { cells_seen: 5, places_gathered: 25, tries: 9 };
        assert_eq!(glances.cost(&GlanceWeights::default()), 39.0);
        let weights = GlanceWeights::new(1.0, 0.5, 2.0).unwrap();
        assert_eq!((glances.cost(&weights), glances.millionths(&weights)), (35.5, 35_500_000));
    }

    #[test]
    fn weights_out_of_range_are_refused() {
        for bad in [0.0, -1.0, 1e-7, 2e6, f64::NAN, f64::INFINITY] {
            assert_eq!(GlanceWeights::new(bad, 1.0, 1.0).unwrap_err().kind, "cell seen");
            assert_eq!(GlanceWeights::new(1.0, bad, 1.0).unwrap_err().kind, "place gathered");
            assert_eq!(GlanceWeights::new(1.0, 1.0, bad).unwrap_err().kind, "try");
        }
        assert_eq!(
            GlanceWeights::new(1.0, -0.5, 1.0).unwrap_err().to_string(),
            "the weight of a place gathered must lie from 0.000001 to 1000000, found -0.5"
        );
    }

    proptest! {
        #[test]
        fn cost_is_linear(a in glances(), b in glances(), weights in prop::array::uniform3(1u32..64)) {
            // Sums of whole numbers below 2⁵³ are exact in f64.
            let [cell, place, try_] = weights.map(f64::from);
            let weights = GlanceWeights::new(cell, place, try_).unwrap();
            let doubled = GlanceWeights::new(2.0 * cell, 2.0 * place, 2.0 * try_).unwrap();
            prop_assert_eq!((a + b).cost(&weights), a.cost(&weights) + b.cost(&weights));
            prop_assert_eq!(a.cost(&doubled), 2.0 * a.cost(&weights));
            prop_assert_eq!([a, b, a].into_iter().sum::<Glances>(), a + b + a);
        }
    }
}
