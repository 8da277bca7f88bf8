//! What a rulebook leaves: `complete` and `flushed-out`.

use std::sync::Arc;

use serde::Deserialize;
use tallyhouse_engine::Subset;
use tallyhouse_stats::Threshold;

use super::{BookName, Bound, Certainty, ClaimKind, Examples, Known, Noun, Quantity};
use crate::claims::Keys;
use crate::judge::{ClaimSums, StuckEnd, WalkedPuzzle};
use crate::{Coverage, FileError, Shapes};

pub(super) fn complete(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    Ok(Arc::new(keys.read::<Complete>()?.0))
}

pub(super) fn flushed_out(keys: Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError> {
    Ok(Arc::new(keys.read::<FlushedOut>()?.0))
}

/// A rulebook's reach falls short of the full ladder's in fewer than this share of puzzles.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Complete {
    rulebook: BookName,
    below: Bound,
}

/// Shapes remain at a rulebook's end position in fewer than this share of puzzles.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct FlushedOut {
    rulebook: BookName,
    shapes: Shapes,
    below: Bound,
}

impl ClaimKind for Complete {
    fn rulebook(&self) -> Option<&str> {
        Some(&self.rulebook.0)
    }

    fn threshold(&self) -> Threshold {
        Threshold::Below(self.below.0)
    }

    fn measure(&self) -> String {
        format!("share of puzzles in which {} reaches less than the full ladder", self.rulebook.0)
    }

    fn of_what(&self) -> Option<Noun> {
        Some(Noun::new("puzzle", "puzzles"))
    }

    fn quantity(&self) -> Quantity {
        Quantity::Share
    }

    fn count(&self, puzzle: &WalkedPuzzle<'_>, sums: &mut ClaimSums) {
        let book = puzzle.under(&self.rulebook.0);
        let end = book.filter(|book| book.falls_short).and_then(|book| book.end);
        leave(puzzle, end, |_| true, sums);
    }

    fn examples(&self) -> Examples {
        Examples::Always
    }

    fn certainty(&self, known: &Known<'_>) -> Option<Certainty> {
        let rulebook = known.rulebook?;
        Coverage::of(rulebook.order()).clears_all().then(|| Certainty {
            is_true: true,
            reason: format!(
                "{} ends only where no single and no subset is left, and there the full ladder ends \
                 too",
                rulebook.name()
            ),
        })
    }
}

impl ClaimKind for FlushedOut {
    fn rulebook(&self) -> Option<&str> {
        Some(&self.rulebook.0)
    }

    fn threshold(&self) -> Threshold {
        Threshold::Below(self.below.0)
    }

    fn measure(&self) -> String {
        format!("share of puzzles in which {} leaves {}", self.rulebook.0, self.shapes)
    }

    fn of_what(&self) -> Option<Noun> {
        Some(Noun::new("puzzle", "puzzles"))
    }

    fn quantity(&self) -> Quantity {
        Quantity::Share
    }

    fn count(&self, puzzle: &WalkedPuzzle<'_>, sums: &mut ClaimSums) {
        let is_meant = |subset: &Subset| self.shapes.includes(subset);
        let end = puzzle.under(&self.rulebook.0).and_then(|book| book.end);
        leave(puzzle, end.filter(|end| end.subsets.iter().any(is_meant)), is_meant, sums);
    }

    fn examples(&self) -> Examples {
        Examples::Always
    }

    fn certainty(&self, known: &Known<'_>) -> Option<Certainty> {
        let rulebook = known.rulebook?;
        let coverage = Coverage::of(rulebook.order());
        let mut shapes = self.shapes.iter();
        shapes.all(|(open, naked)| coverage.clears(open, naked)).then(|| Certainty {
            is_true: true,
            reason: format!(
                "{} looks for each of these sets from one side, and on that side for every smaller \
                 one too, so it can't end while one is left",
                rulebook.name()
            ),
        })
    }
}

/// Counts a puzzle with what a rulebook leaves there; `None` if it leaves nothing.
fn leave(
    puzzle: &WalkedPuzzle<'_>,
    end: Option<&StuckEnd>,
    is_meant: impl Fn(&Subset) -> bool,
    sums: &mut ClaimSums,
) {
    sums.add(puzzle, u64::from(end.is_some()), 1);
    if let Some(end) = end {
        let mut remaining = end.subsets.iter().filter(|subset| is_meant(subset));
        let proper = remaining.clone().find(|subset| subset.is_proper());
        let subset = proper.or_else(|| remaining.next()).copied();
        sums.keep(|| Some(puzzle.example(end.position, end.states, subset)));
    }
}
