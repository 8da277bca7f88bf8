use std::fmt;

use tallyhouse_engine::Subset;

use super::description::{counted_cells, set_name};

/// How a house is split: its open cells and the size of the naked side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shape {
    /// The number of open cells.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
}

impl Shape {
    /// Returns the shape of a subset.
    #[must_use]
    pub const fn of(subset: &Subset) -> Self {
        Self { open: subset.open, naked: subset.naked }
    }

    /// Returns the size of the hidden side.
    #[must_use]
    pub const fn hidden(self) -> u8 {
        self.open - self.naked
    }

    /// Iterates over the shapes that a quiet position can have, by open cells, then naked side. A
    /// side of one cell would be a single, so each side has two or more.
    pub fn all_quiet() -> impl Iterator<Item = Self> {
        (4..=9).flat_map(|open| (2..=open - 2).map(move |naked| Self { open, naked }))
    }

    /// Writes the names of both sides, as in `naked pair, hidden triple`.
    #[must_use]
    pub fn sides(self) -> String {
        format!("naked {}, hidden {}", set_name(self.naked), set_name(self.hidden()))
    }
}

impl fmt::Display for Shape {
    /// Writes `five open cells: naked pair, hidden triple`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{}: {}", counted_cells(self.open), self.sides()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quiet_shapes_leave_two_cells_on_either_side() {
        let all: Vec<_> = Shape::all_quiet().collect();
        assert_eq!(all.len(), 1 + 2 + 3 + 4 + 5 + 6);
        assert!(all.iter().all(|shape| shape.naked >= 2 && shape.hidden() >= 2));
        assert!(all.is_sorted());
        assert_eq!(all[1].to_string(), "five open cells: naked pair, hidden triple");
        assert_eq!(Shape { open: 9, naked: 7 }.sides(), "naked set of seven, hidden pair");
    }
}
