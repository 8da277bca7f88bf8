//! The kinds of charts by name.

use strum::VariantArray;

/// A kind of chart.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    strum::Display,
    strum::EnumMessage,
    strum::EnumString,
    strum::IntoStaticStr,
    strum::VariantArray,
)]
#[strum(serialize_all = "kebab-case")]
pub enum ChartKind {
    /// Heat map of proper subsets per 1,000 houses.
    Rates,
    /// Heat map of the proper subsets found.
    Counts,
    /// Sizes of the naked side, by open cells.
    Shapes,
    /// The look that puzzles need first, for one or more datasets.
    First,
    /// The last look that puzzles need, for one or more datasets.
    Hardest,
    /// Shares of puzzles that show each shape, for one or more datasets.
    Compare,
    /// How the interval of a share narrows with more puzzles.
    Narrowing,
    /// What the rulebooks of a trial leave.
    Missed,
    /// Effort and reach of the rulebooks of an order search.
    Frontier,
    /// Clue counts beside the published distribution.
    Clues,
    /// Glances of a look and its complement in the same houses.
    Effort,
}

impl ChartKind {
    /// All kinds.
    pub const ALL: &'static [Self] = Self::VARIANTS;

    /// Returns the name in recipes and on the command line.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.into()
    }
}
