//! Which looks the puzzles of each cluster needed.

use std::path::Path;

use polars::prelude::{Int64Type, UInt16Type};
use tallyhouse_collection::Weight;

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

/// Visits the clusters of a dataset with tables, families and puzzles without one, in the order of the
/// collection, in which families stand together.
///
/// Memory is bounded by one part.
///
/// # Errors
/// If the dataset is not whole, has no tables, or can't be read.
pub fn each_needed(folder: &Path, visit: &mut dyn FnMut(&NeededLooks)) -> Result<(), CensusError> {
    let dataset = Dataset::open(folder)?;
    let looks = dataset.manifest().walk.order.len();
    let mut cluster = NeededLooks::new(looks);
    let mut family = None;
    for part in dataset.parts() {
        for puzzle in puzzles(&dataset, part, looks)? {
            if cluster.all.puzzles > 0 && (family.is_none() || puzzle.family != family) {
                visit(&cluster);
                cluster = NeededLooks::new(looks);
            }
            family = puzzle.family;
            cluster.add(&puzzle);
        }
    }
    if cluster.all.puzzles > 0 {
        visit(&cluster);
    }
    Ok(())
}

/// What a puzzle needed, by places in [`NeededLooks`].
struct Needed {
    family: Option<i64>,
    weight: Weight,
    first: usize,
    last: usize,
}

fn puzzles(dataset: &Dataset, part: u64, looks: usize) -> Result<Vec<Needed>, CensusError> {
    let columns = ["puzzle", "quiet_positions", "hardest_look", "weight", "family"];
    let table = dataset.table(&PUZZLES, part, &columns)?;
    let columns = ["puzzle", "position", "look_applied"];
    let positions = dataset.table(&POSITIONS, part, &columns)?;
    let at = positions.numbers::<UInt16Type>("position")?;
    let applied = positions.integers("look_applied")?;
    let of = positions.numbers::<Int64Type>("puzzle")?;
    let mut first_ones = at
        .into_iter()
        .zip(of.into_iter().zip(applied.iter()))
        .filter(|(at, _)| *at == 0)
        .map(|(_, of)| of)
        .peekable();
    let quiet = table.numbers::<UInt16Type>("quiet_positions")?;
    let (hardest, families) = (table.integers("hardest_look")?, table.integers("family")?);
    let weights = table.weights()?;
    let mut all = Vec::with_capacity(weights.len());
    for (row, puzzle) in table.numbers::<Int64Type>("puzzle")?.into_iter().enumerate() {
        let first = match (quiet[row], first_ones.next_if(|(of, _)| *of == puzzle)) {
            (0, None) => looks,
            // A digit that is given is no look.
            (1.., Some((_, look))) => {
                look.map(|look| look as usize).filter(|look| *look < looks).unwrap_or(looks + 1)
            }
            _ => {
                return Err(positions.damaged(format!("it has other positions of puzzle {puzzle}")));
            }
        };
        let last = hardest.get(row).map_or(looks, |look| look as usize);
        all.push(Needed { family: families.get(row), weight: weights[row], first, last });
    }
    match first_ones.next() {
        None => Ok(all),
        Some((puzzle, _)) => Err(positions.damaged(format!("puzzle {puzzle} is out of order"))),
    }
}

impl NeededLooks {
    fn new(looks: usize) -> Self {
        Self {
            all: Tally::default(),
            first: vec![Tally::default(); looks + 2],
            last: vec![Tally::default(); looks + 1],
        }
    }

    fn add(&mut self, puzzle: &Needed) {
        let tally = Tally { puzzles: 1, weight: puzzle.weight.millionths().into() };
        for sums in [&mut self.all, &mut self.first[puzzle.first], &mut self.last[puzzle.last]] {
            sums.add(tally);
        }
    }
}
