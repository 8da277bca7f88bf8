//! Reading a dataset back by clusters: puzzles that depend on each other, each with its weight.

use std::collections::BTreeMap;
use std::path::Path;

use crate::{CensusError, Dataset};

/// What the puzzles of a cluster weigh, in millionths.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ClusterWeights {
    /// The weight of all puzzles.
    pub all: u64,
    /// By open count and naked size: the weight of puzzles with at least one proper subset of the
    /// shape at a quiet position.
    pub shapes: [[u64; 10]; 10],
}

/// Visits the clusters of a dataset with tables: the families, and each puzzle without a family.
///
/// Memory is bounded by one part and the number of families.
///
/// # Errors
/// If the dataset is not whole, has no tables, or can't be read.
pub fn each_cluster(
    folder: &Path,
    visit: &mut dyn FnMut(&ClusterWeights),
) -> Result<(), CensusError> {
    let dataset = Dataset::open(folder)?;
    let mut families: BTreeMap<u64, ClusterWeights> = BTreeMap::new();
    for part in dataset.parts() {
        let mut puzzles = puzzles(&dataset, part)?;
        add_shapes(&dataset, part, &mut puzzles)?;
        for (family, weights) in puzzles.into_values() {
            match family {
                None => visit(&weights),
                Some(family) => add(families.entry(family).or_default(), &weights),
            }
        }
    }
    families.values().for_each(visit);
    Ok(())
}

type Puzzles = BTreeMap<u64, (Option<u64>, ClusterWeights)>;

/// Returns a weight as the table has it in millionths.
pub(crate) fn millionths(weight: f64) -> u64 {
    (weight * 1e6).round() as u64
}

fn puzzles(dataset: &Dataset, part: u64) -> Result<Puzzles, CensusError> {
    let table = dataset.table("puzzles", part, &["puzzle", "weight", "family"])?;
    let rows = table.u64s("puzzle")?.into_iter().zip(table.f64s("weight")?);
    let rows = rows.zip(table.optional_u64s("family")?);
    let puzzle = |((number, weight), family)| {
        let weights = ClusterWeights { all: millionths(weight), ..ClusterWeights::default() };
        (number, (family, weights))
    };
    Ok(rows.map(puzzle).collect())
}

fn add_shapes(dataset: &Dataset, part: u64, puzzles: &mut Puzzles) -> Result<(), CensusError> {
    let columns = ["puzzle", "open", "naked", "naked_proper", "hidden_proper"];
    let table = dataset.table("subsets", part, &columns)?;
    let (open, naked) = (table.u8s("open")?, table.u8s("naked")?);
    let sides = [table.truths("naked_proper")?, table.truths("hidden_proper")?];
    for (row, number) in table.u64s("puzzle")?.into_iter().enumerate() {
        let proper = sides.iter().any(|side| side[row]);
        if let (true, Some((_, weights))) = (proper, puzzles.get_mut(&number)) {
            let (open, naked) = (usize::from(open[row].min(9)), usize::from(naked[row].min(9)));
            weights.shapes[open][naked] = weights.all;
        }
    }
    Ok(())
}

fn add(sum: &mut ClusterWeights, more: &ClusterWeights) {
    sum.all += more.all;
    for (sum, more) in sum.shapes.iter_mut().flatten().zip(more.shapes.iter().flatten()) {
        *sum += more;
    }
}
