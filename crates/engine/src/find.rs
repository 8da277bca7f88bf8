use tallyhouse_board::{Cell, Digit, DigitSet};

use crate::{Contradiction, Intersection, Look, Position, Single, Subset};

/// One thing that a look found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Find {
    /// A naked single, to be placed.
    NakedSingle(Single),
    /// A hidden single, to be placed.
    HiddenSingle(Single),
    /// A subset, whose eliminations are to be removed.
    Subset(Subset),
    /// A box–line intersection.
    Intersection(Intersection),
    /// A digit of the solution, given because the walk was stuck.
    Given {
        /// The cell.
        cell: Cell,
        /// The digit.
        digit: Digit,
    },
}

/// One step of a walk: what was found at a position and is applied to it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// The look that found it and its index in the order; `None` if a digit was given.
    pub look: Option<(usize, Look)>,
    /// The finds; all are applied from the same position.
    pub finds: Vec<Find>,
}

impl Find {
    /// Returns the candidates that the find removes or, for a placement, none: its removals follow
    /// from the placed digit.
    pub fn removals(&self) -> Vec<(Cell, DigitSet)> {
        match self {
            Self::Subset(subset) => subset
                .cells
                .complement()
                .iter()
                .map(|place| (subset.house.cells()[place], subset.digits))
                .collect(),
            Self::Intersection(find) => {
                let digit = DigitSet::single(find.digit);
                find.eliminations.iter().map(|cell| (cell, digit)).collect()
            }
            Self::NakedSingle(_) | Self::HiddenSingle(_) | Self::Given { .. } => Vec::new(),
        }
    }

    /// Returns the digit that the find places.
    #[must_use]
    pub const fn placement(&self) -> Option<(Cell, Digit)> {
        match *self {
            Self::NakedSingle(Single { cell, digit, .. })
            | Self::HiddenSingle(Single { cell, digit, .. })
            | Self::Given { cell, digit } => Some((cell, digit)),
            Self::Subset(_) | Self::Intersection(_) => None,
        }
    }
}

impl Step {
    /// Applies all finds.
    ///
    /// # Errors
    /// If two of them can't both be.
    pub fn apply(&self, position: &mut Position) -> Result<(), Contradiction> {
        for find in &self.finds {
            if let Some((cell, digit)) = find.placement() {
                position.place(cell, digit)?;
            }
            for (cell, digits) in find.removals() {
                position.remove(cell, digits);
            }
        }
        Ok(())
    }
}
