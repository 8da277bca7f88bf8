//! Which looks the puzzles of each cluster needed.

use std::path::Path;

use polars::prelude::{DataType, Expr, LazyFrame, col, lit, when};

use crate::clusters::{Counted, counted, each_counted};
use crate::tables::{POSITIONS, PUZZLES};
use crate::{CensusError, Dataset};

/// How many puzzles there are of a kind, and what they weigh.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// The puzzles.
    pub puzzles: u64,
    /// Their weight in millionths.
    pub weight: i128,
}

impl Tally {
    /// Adds others.
    pub const fn add(&mut self, more: Self) {
        self.puzzles += more.puzzles;
        self.weight += more.weight;
    }
}

/// Which looks the puzzles of a cluster needed. Looks go by their index in the order of the walk.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct NeededLooks {
    /// All puzzles.
    pub all: Tally,
    /// By the look that was applied at the first quiet position. Two more entries follow the looks:
    /// puzzles without a quiet position, and those in which no look found anything there.
    pub first: Vec<Tally>,
    /// By the last look of the order that the walk needed anywhere. One more entry follows the looks:
    /// puzzles that needed none.
    pub last: Vec<Tally>,
}

/// What is counted: the indices of looks are added.
mod code {
    pub(super) const ALL: u16 = 0;
    pub(super) const FIRST: u16 = 1000;
    pub(super) const LAST: u16 = 2000;
}

/// Visits the clusters of a dataset with tables: puzzles without a family in the order of the
/// collection, then the families.
///
/// Memory is bounded by one part and the number of families.
///
/// # Errors
/// If the dataset is not whole, has no tables, or can't be read.
pub fn each_needed(folder: &Path, visit: &mut dyn FnMut(&NeededLooks)) -> Result<(), CensusError> {
    let dataset = Dataset::open(folder)?;
    let looks = dataset.manifest().walk.order.len();
    let ask = |part| needed(&dataset, part, looks as u16);
    each_counted(&dataset, &ask, &mut |counted| visit(&NeededLooks::of(counted, looks)))
}

fn needed(dataset: &Dataset, part: u64, looks: u16) -> Result<Vec<LazyFrame>, CensusError> {
    let index = |look: &str| col(look).to_physical().cast(DataType::UInt16);
    let once = |code: Expr| counted(code, lit(1u64));
    let (without, nothing) = (code::FIRST + looks, code::FIRST + looks + 1);
    let columns = ["puzzle", "quiet_positions", "hardest_look"];
    let puzzles = dataset.table(&PUZZLES, part, &columns)?;
    let columns = ["puzzle", "position", "look_applied"];
    let positions = dataset.table(&POSITIONS, part, &columns)?;
    // A digit that is given is no look.
    let found = index("look_applied").lt(lit(looks));
    let first = when(found).then(index("look_applied") + lit(code::FIRST)).otherwise(lit(nothing));
    Ok(vec![
        puzzles.lazy().select(once(lit(code::ALL))),
        puzzles.lazy().select(once(index("hardest_look").fill_null(lit(looks)) + lit(code::LAST))),
        puzzles.lazy().filter(col("quiet_positions").eq(lit(0u16))).select(once(lit(without))),
        positions.lazy().filter(col("position").eq(lit(0u16))).select(once(first)),
    ])
}

impl NeededLooks {
    fn of(counted: &[Counted], looks: usize) -> Self {
        let mut needed = Self {
            all: Tally::default(),
            first: vec![Tally::default(); looks + 2],
            last: vec![Tally::default(); looks + 1],
        };
        for &Counted { code, times, weight, .. } in counted {
            let tally = match code {
                code::LAST.. => &mut needed.last[usize::from(code - code::LAST)],
                code::FIRST.. => &mut needed.first[usize::from(code - code::FIRST)],
                _ => &mut needed.all,
            };
            *tally = Tally { puzzles: times, weight };
        }
        needed
    }
}
