//! What there is on the full ladder's walk: `rare` and `implies`.

use std::sync::Arc;

use serde::Deserialize;
use tallyhouse_engine::Subset;
use tallyhouse_stats::Threshold;

use super::{Bound, Certainty, ClaimKind, Examples, Known, Noun, Quantity};
use crate::claims::Keys;
use crate::judge::{ClaimSums, WalkedPuzzle};
use crate::{FileError, Shapes};

pub(super) fn rare(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    Ok(Arc::new(keys.read::<Rare>()?.0))
}

pub(super) fn implies(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    Ok(Arc::new(keys.read::<Implies>()?.0))
}

/// The unit in which something occurs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Per {
    /// A puzzle, at any quiet position of the full ladder's walk.
    Puzzle,
    /// A quiet position of that walk.
    Position,
    /// A house at such a position, of an open count that can hold the shape.
    House,
}

impl Per {
    const fn name(self) -> &'static str {
        match self {
            Self::Puzzle => "puzzles",
            Self::Position => "positions",
            Self::House => "houses",
        }
    }

    fn units(self) -> Noun {
        match self {
            Self::Puzzle => Noun::new("puzzle", "puzzles"),
            Self::Position => Noun::new("quiet position", "quiet positions"),
            Self::House => Noun::new("house", "houses").with("at quiet positions"),
        }
    }

    const fn quantity(self) -> Quantity {
        match self {
            Self::Puzzle => Quantity::Share,
            Self::Position | Self::House => Quantity::Rate,
        }
    }

    /// Returns the first subset of each unit; subsets come by position and house.
    fn first_of_each<'a>(
        self,
        subsets: impl Iterator<Item = &'a (u16, Subset)>,
    ) -> Vec<(u16, &'a Subset)> {
        let mut first: Vec<(u16, &Subset)> = Vec::new();
        for (number, subset) in subsets {
            if !first.last().is_some_and(|&last| self.is_same(last, (*number, subset))) {
                first.push((*number, subset));
            }
        }
        first
    }

    fn is_same(self, a: (u16, &Subset), b: (u16, &Subset)) -> bool {
        match self {
            Self::Puzzle => true,
            Self::Position => a.0 == b.0,
            Self::House => a.0 == b.0 && a.1.house == b.1.house,
        }
    }
}

/// Shapes occur, at quiet positions of the full ladder's walk, in fewer than this share of units.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Rare {
    shapes: Shapes,
    per: Per,
    below: Bound,
}

/// Of the units with one shape, more than this share have the other.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Implies {
    #[serde(rename = "shapes")]
    when: Shapes,
    then: Shapes,
    per: Per,
    above: Bound,
}

impl ClaimKind for Rare {
    fn threshold(&self) -> Threshold {
        Threshold::Below(self.below.0)
    }

    fn measure(&self) -> String {
        format!("share of {} with {}", self.per.name(), self.shapes)
    }

    fn of_what(&self) -> Option<Noun> {
        Some(self.per.units())
    }

    fn quantity(&self) -> Quantity {
        self.per.quantity()
    }

    fn count(&self, puzzle: &WalkedPuzzle<'_>, sums: &mut ClaimSums) {
        let positions = &puzzle.scan.positions;
        let units: u64 = match self.per {
            Per::Puzzle => 1,
            Per::Position => positions.len() as u64,
            Per::House => {
                let exposure = positions.iter().flat_map(|position| {
                    let by_open = position.exposure.all().into_iter().enumerate();
                    by_open.filter(|(open, _)| self.shapes.fits(*open))
                });
                exposure.map(|(_, houses)| u64::from(houses)).sum()
            }
        };
        let with = self.per.first_of_each(puzzle.meant(&self.shapes));
        sums.add(puzzle, with.len() as u64, units);
        for (position, subset) in with {
            sums.keep(|| puzzle.example_at(position, subset));
        }
    }

    fn examples(&self) -> Examples {
        Examples::IfRefuted
    }

    fn certainty(&self, _: &Known<'_>) -> Option<Certainty> {
        let is_single = |(open, naked): (u8, u8)| naked == 1 || open - naked == 1;
        self.shapes.iter().all(is_single).then(|| Certainty {
            is_true: true,
            reason: "a set with a single cell on one side is a single, and a quiet position holds \
                     none"
                .to_owned(),
        })
    }
}

impl ClaimKind for Implies {
    fn threshold(&self) -> Threshold {
        Threshold::Above(self.above.0)
    }

    fn measure(&self) -> String {
        format!("share of {} with {}, of those with {}", self.per.name(), self.then, self.when)
    }

    fn of_what(&self) -> Option<Noun> {
        Some(self.per.units().with(&format!("with {}", self.when)))
    }

    fn quantity(&self) -> Quantity {
        self.per.quantity()
    }

    fn count(&self, puzzle: &WalkedPuzzle<'_>, sums: &mut ClaimSums) {
        let with = self.per.first_of_each(puzzle.meant(&self.when));
        let lacks = |unit: &&(u16, &Subset)| {
            !puzzle.meant(&self.then).any(|(at, found)| self.per.is_same(**unit, (*at, found)))
        };
        let without: Vec<_> = with.iter().filter(lacks).collect();
        sums.add(puzzle, (with.len() - without.len()) as u64, with.len() as u64);
        for &&(position, subset) in &without {
            sums.keep(|| puzzle.example_at(position, subset));
        }
    }

    fn examples(&self) -> Examples {
        Examples::IfRefuted
    }

    fn certainty(&self, _: &Known<'_>) -> Option<Certainty> {
        let is_there_too = |(open, naked)| self.then.contains(open, naked);
        self.when.iter().all(is_there_too).then(|| Certainty {
            is_true: true,
            reason: "each shape of the condition is one of those that follow".to_owned(),
        })
    }
}
