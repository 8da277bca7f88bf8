//! Reading a dataset back by clusters: puzzles that depend on each other, each with its weight.

use std::collections::BTreeMap;
use std::fs::File;
use std::io;
use std::path::Path;

use polars::prelude::{DataFrame, ParquetReader, PolarsError, SerReader};

use crate::ledger::read_json;
use crate::part::file_stem;
use crate::tables::io_error;
use crate::{CensusError, Manifest};

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
    let manifest = whole_with_tables(folder)?;
    let mut families: BTreeMap<u64, ClusterWeights> = BTreeMap::new();
    for part in 0..manifest.parts {
        let name = format!("{}.parquet", file_stem(part));
        let path = |table: &str| folder.join(table).join(&name);
        let failed = |error: PolarsError| CensusError::Damaged {
            path: path("puzzles"),
            reason: io_error(error).to_string(),
        };
        let mut puzzles = puzzles(&path("puzzles")).map_err(failed)?;
        add_shapes(&path("subsets"), &mut puzzles).map_err(failed)?;
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

/// Returns the manifest of a dataset whose tables can be read.
pub(crate) fn whole_with_tables(folder: &Path) -> Result<Manifest, CensusError> {
    let path = folder.join("manifest.json");
    let damaged = |reason: &str| CensusError::Damaged {
        path: folder.join("manifest.json"),
        reason: reason.to_owned(),
    };
    let manifest: Manifest = read_json(&path)?
        .ok_or_else(|| damaged("it is missing: the folder is no finished dataset"))?;
    if manifest.tables != "all" {
        return Err(damaged("the dataset has no tables"));
    }
    Ok(manifest)
}

type Puzzles = BTreeMap<u64, (Option<u64>, ClusterWeights)>;

/// Reads some columns of a part.
pub(crate) fn read(path: &Path, columns: &[&str]) -> Result<DataFrame, PolarsError> {
    let file = File::open(path).map_err(|error: io::Error| PolarsError::from(error))?;
    let columns = columns.iter().map(ToString::to_string).collect();
    ParquetReader::new(file).with_columns(Some(columns)).finish()
}

fn puzzles(path: &Path) -> Result<Puzzles, PolarsError> {
    let frame = read(path, &["puzzle", "weight", "family"])?;
    let (numbers, weights) = (frame.column("puzzle")?.u64()?, frame.column("weight")?.f64()?);
    let families = frame.column("family")?.u64()?;
    let row = |row: usize| {
        let all = (weights.get(row)? * 1e6).round() as u64;
        let weights = ClusterWeights { all, ..ClusterWeights::default() };
        Some((numbers.get(row)?, (families.get(row), weights)))
    };
    Ok((0..frame.height()).filter_map(row).collect())
}

fn add_shapes(path: &Path, puzzles: &mut Puzzles) -> Result<(), PolarsError> {
    let columns = ["puzzle", "open", "naked", "naked_proper", "hidden_proper"];
    let frame = read(path, &columns)?;
    let numbers = frame.column("puzzle")?.u64()?;
    let (open, naked) = (frame.column("open")?.u8()?, frame.column("naked")?.u8()?);
    let sides = [frame.column("naked_proper")?.bool()?, frame.column("hidden_proper")?.bool()?];
    for row in 0..frame.height() {
        let proper = sides.iter().any(|side| side.get(row) == Some(true));
        let (Some(number), Some(open), Some(naked)) =
            (numbers.get(row), open.get(row), naked.get(row))
        else {
            continue;
        };
        if let (true, Some((_, weights))) = (proper, puzzles.get_mut(&number)) {
            weights.shapes[usize::from(open.min(9))][usize::from(naked.min(9))] = weights.all;
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
