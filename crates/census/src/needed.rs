//! Reading back which looks the puzzles of a dataset needed, by clusters: puzzles that depend on each
//! other, each with its weight.

use std::collections::BTreeMap;
use std::path::Path;

use crate::clusters::millionths;
use crate::{CensusError, Dataset};

/// How many puzzles there are of a kind, and what they weigh.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// The puzzles.
    pub puzzles: u64,
    /// Their weight in millionths.
    pub weight: u64,
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

impl NeededLooks {
    fn new(looks: usize) -> Self {
        Self {
            all: Tally::default(),
            first: vec![Tally::default(); looks + 2],
            last: vec![Tally::default(); looks + 1],
        }
    }

    fn add(&mut self, puzzle: &Puzzle, looks: usize) {
        let one = Tally { puzzles: 1, weight: puzzle.weight };
        self.all.add(one);
        self.first[puzzle.first.unwrap_or(looks)].add(one);
        self.last[puzzle.last.unwrap_or(looks)].add(one);
    }
}

struct Puzzle {
    weight: u64,
    family: Option<u64>,
    /// An index in the order, or the one past both that says that nothing was found.
    first: Option<usize>,
    last: Option<usize>,
}

/// Visits the clusters of a dataset with tables: the families, and each puzzle without a family.
///
/// Memory is bounded by one part and the number of families.
///
/// # Errors
/// If the dataset is not whole, has no tables, or can't be read.
pub fn each_needed(folder: &Path, visit: &mut dyn FnMut(&NeededLooks)) -> Result<(), CensusError> {
    let dataset = Dataset::open(folder)?;
    let looks = dataset.manifest().walk.order.len();
    let mut families: BTreeMap<u64, NeededLooks> = BTreeMap::new();
    for part in dataset.parts() {
        let mut puzzles = puzzles(&dataset, part)?;
        add_first(&dataset, part, &mut puzzles)?;
        for puzzle in puzzles.into_values() {
            match puzzle.family {
                Some(family) => families
                    .entry(family)
                    .or_insert_with(|| NeededLooks::new(looks))
                    .add(&puzzle, looks),
                None => {
                    let mut alone = NeededLooks::new(looks);
                    alone.add(&puzzle, looks);
                    visit(&alone);
                }
            }
        }
    }
    families.values().for_each(visit);
    Ok(())
}

type Puzzles = BTreeMap<u64, Puzzle>;

/// Returns the index of a look in the order of the dataset's walk.
fn index(dataset: &Dataset) -> impl Fn(&str) -> Option<usize> + '_ {
    |word| dataset.manifest().walk.order.iter().position(|look| look == word)
}

fn puzzles(dataset: &Dataset, part: u64) -> Result<Puzzles, CensusError> {
    let columns = ["puzzle", "weight", "family", "hardest_look"];
    let table = dataset.table("puzzles", part, &columns)?;
    let weights = table.f64s("weight")?;
    let families = table.optional_u64s("family")?;
    let last = table.optional_words("hardest_look", index(dataset))?;
    let puzzle = |(row, number): (usize, u64)| {
        let weight = millionths(weights[row]);
        (number, Puzzle { weight, family: families[row], first: None, last: last[row] })
    };
    Ok(table.u64s("puzzle")?.into_iter().enumerate().map(puzzle).collect())
}

fn add_first(dataset: &Dataset, part: u64, puzzles: &mut Puzzles) -> Result<(), CensusError> {
    let table = dataset.table("positions", part, &["puzzle", "position", "look_applied"])?;
    let positions = table.u16s("position")?;
    let applied = table.optional_words("look_applied", index(dataset))?;
    let nothing = dataset.manifest().walk.order.len() + 1;
    for (row, number) in table.u64s("puzzle")?.into_iter().enumerate() {
        if let (0, Some(puzzle)) = (positions[row], puzzles.get_mut(&number)) {
            puzzle.first = Some(applied[row].unwrap_or(nothing));
        }
    }
    Ok(())
}
