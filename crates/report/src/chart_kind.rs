//! The kinds of charts by name.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// A kind of chart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ChartKind {
    /// Proper subsets per 1,000 houses.
    Rates,
    /// Proper subsets found.
    Counts,
    /// Sizes of the naked side.
    Shapes,
    /// The look needed first.
    First,
    /// The look needed last.
    Hardest,
    /// Collections side by side.
    Compare,
    /// The interval of a share, by the number of puzzles.
    Narrowing,
    /// What rulebooks leave.
    Missed,
    /// Rulebooks found by search.
    Frontier,
    /// Clue counts.
    Clues,
    /// A look beside its complement.
    Effort,
}

/// A name that is no chart's.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no chart is called '{0}'")]
pub struct NoSuchChart(String);

impl ChartKind {
    /// All kinds.
    pub const ALL: [Self; 11] = [
        Self::Rates,
        Self::Counts,
        Self::Shapes,
        Self::First,
        Self::Hardest,
        Self::Compare,
        Self::Narrowing,
        Self::Missed,
        Self::Frontier,
        Self::Clues,
        Self::Effort,
    ];

    /// Returns the name in recipes and on the command line.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rates => "rates",
            Self::Counts => "counts",
            Self::Shapes => "shapes",
            Self::First => "first",
            Self::Hardest => "hardest",
            Self::Compare => "compare",
            Self::Narrowing => "narrowing",
            Self::Missed => "missed",
            Self::Frontier => "frontier",
            Self::Clues => "clues",
            Self::Effort => "effort",
        }
    }

    /// Says what the chart shows.
    #[must_use]
    pub const fn about(self) -> &'static str {
        match self {
            Self::Rates => "Heat map of proper subsets per 1,000 houses",
            Self::Counts => "Heat map of proper subsets found",
            Self::Shapes => "Sizes of the naked side by open cells",
            Self::First => "The look that puzzles need first, for one or more datasets",
            Self::Hardest => "The last look that puzzles need, for one or more datasets",
            Self::Compare => "Shares of puzzles that show each shape, for one or more datasets",
            Self::Narrowing => "How the interval of a share narrows with more puzzles",
            Self::Missed => "What the rulebooks of a trial leave",
            Self::Frontier => "Effort and reach of the rulebooks of an order search",
            Self::Clues => "Clue counts beside the published distribution",
            Self::Effort => "Glances of a look and its complement in the same houses",
        }
    }
}

impl fmt::Display for ChartKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for ChartKind {
    type Err = NoSuchChart;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let kind = Self::ALL.into_iter().find(|kind| kind.name() == text);
        kind.ok_or_else(|| NoSuchChart(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_back_here_and_in_recipes() {
        for kind in ChartKind::ALL {
            assert_eq!(kind.name().parse(), Ok(kind));
            let quoted = format!("\"{kind}\"");
            assert_eq!(serde_json::from_str::<ChartKind>(&quoted).unwrap(), kind);
        }
        assert!("pies".parse::<ChartKind>().is_err());
    }
}
