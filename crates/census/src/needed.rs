//! Reading back which looks the puzzles of a dataset needed, by clusters: puzzles that depend on each
//! other, each with its weight.

use std::collections::BTreeMap;
use std::path::Path;

use polars::prelude::{Column, PolarsError};

use crate::clusters::{read, whole_with_tables};
use crate::part::file_stem;
use crate::tables::io_error;
use crate::{CensusError, Manifest};

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
    let manifest = whole_with_tables(folder)?;
    let looks = manifest.walk.order.len();
    let mut families: BTreeMap<u64, NeededLooks> = BTreeMap::new();
    for part in 0..manifest.parts {
        let name = format!("{}.parquet", file_stem(part));
        let path = |table: &str| folder.join(table).join(&name);
        let damaged = |table: &'static str| {
            let path = path(table);
            move |error: PolarsError| CensusError::Damaged {
                path,
                reason: io_error(error).to_string(),
            }
        };
        let mut puzzles = puzzles(&path("puzzles"), &manifest).map_err(damaged("puzzles"))?;
        add_first(&path("positions"), &manifest, &mut puzzles).map_err(damaged("positions"))?;
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

fn puzzles(path: &Path, manifest: &Manifest) -> Result<BTreeMap<u64, Puzzle>, PolarsError> {
    let frame = read(path, &["puzzle", "weight", "family", "hardest_look"])?;
    let (numbers, weights) = (frame.column("puzzle")?.u64()?, frame.column("weight")?.f64()?);
    let families = frame.column("family")?.u64()?;
    let last = indices(frame.column("hardest_look")?, manifest)?;
    let row = |row: usize| {
        let weight = (weights.get(row)? * 1e6).round() as u64;
        let puzzle = Puzzle { weight, family: families.get(row), first: None, last: last[row] };
        Some((numbers.get(row)?, puzzle))
    };
    Ok((0..frame.height()).filter_map(row).collect())
}

fn add_first(
    path: &Path,
    manifest: &Manifest,
    puzzles: &mut BTreeMap<u64, Puzzle>,
) -> Result<(), PolarsError> {
    let frame = read(path, &["puzzle", "position", "look_applied"])?;
    let (numbers, positions) = (frame.column("puzzle")?.u64()?, frame.column("position")?.u16()?);
    let applied = indices(frame.column("look_applied")?, manifest)?;
    let nothing = manifest.walk.order.len() + 1;
    for (row, look) in applied.into_iter().enumerate() {
        let puzzle = numbers.get(row).and_then(|number| puzzles.get_mut(&number));
        if let (Some(0), Some(puzzle)) = (positions.get(row), puzzle) {
            puzzle.first = Some(look.unwrap_or(nothing));
        }
    }
    Ok(())
}

/// Returns the index in the order of each look of a column; `None` for what is no look of it.
fn indices(column: &Column, manifest: &Manifest) -> Result<Vec<Option<usize>>, PolarsError> {
    let index =
        |word: Option<&str>| manifest.walk.order.iter().position(|look| Some(&**look) == word);
    Ok(column.cat8()?.iter_str().map(index).collect())
}
