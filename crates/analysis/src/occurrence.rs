//! The share of puzzles that show each shape, with intervals and, where there are weights, weighted.

use std::path::Path;

use serde::Serialize;
use tallyhouse_census::{CensusError, ClusterWeights, Counts, each_cluster};
use tallyhouse_stats::{Clusters, Estimate, Level, Share};

/// The share of puzzles with at least one proper subset of a shape.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ShapeShare {
    /// The open count.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// How many puzzles have one, whatever they weigh.
    pub puzzles: u64,
    /// The share with its interval; `None` where the clusters of a weighted collection are too few or
    /// too much alike.
    pub share: Option<Estimate>,
}

/// Returns the share of puzzles that show each shape with 2 ≤ open ≤ 9.
///
/// Without weights and families the puzzle is the unit (Wilson, Clopper–Pearson for rare shapes).
/// With them the share is a ratio of weights, and families are the clusters; that reads the tables of
/// the dataset.
///
/// # Errors
/// If the dataset can't be read, or is weighted and has no tables.
pub fn shape_shares(
    folder: &Path,
    counts: &Counts,
    level: Level,
) -> Result<Vec<ShapeShare>, CensusError> {
    let shape = |(open, naked, found): (u8, u8, tallyhouse_census::ShapeCounts)| ShapeShare {
        open,
        naked,
        puzzles: found.puzzles,
        share: Share::new(found.puzzles, counts.totals.puzzles)
            .ok()
            .map(|share| share.estimate(level)),
    };
    let mut shares: Vec<ShapeShare> = counts.shapes().map(shape).collect();
    if counts.totals.weighted > 0 {
        let mut sums = [[Clusters::default(); 10]; 10];
        each_cluster(folder, &mut |cluster: &ClusterWeights| {
            for (sums, weights) in sums.iter_mut().flatten().zip(cluster.shapes.iter().flatten()) {
                sums.add([weights.puzzles, cluster.all]);
            }
        })?;
        for share in &mut shares {
            let sums = &sums[usize::from(share.open)][usize::from(share.naked)];
            share.share = sums.share(level).ok();
        }
    }
    Ok(shares)
}

/// Writes shares as CSV: `open,naked,hidden,puzzles,share,low,high,method`; empty fields where there
/// is no estimate.
///
/// # Errors
/// If the data can't be written.
pub fn shares_csv(shares: &[ShapeShare]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let header = ["open", "naked", "hidden", "puzzles", "share", "low", "high", "method"];
    writer.write_record(header)?;
    for row in shares {
        let shape = [row.open, row.naked, row.open - row.naked].map(|size| size.to_string());
        let fields = shape.into_iter().chain([row.puzzles.to_string()]);
        writer.write_record(fields.chain(estimate_fields(row.share.as_ref())))?;
    }
    writer.into_inner().map_err(|error| error.into_error().into())
}

/// Returns the fields `share,low,high,method` of a CSV; empty ones without an estimate.
pub(crate) fn estimate_fields(estimate: Option<&Estimate>) -> [String; 4] {
    let field = |value: &dyn Fn(&Estimate) -> String| estimate.map(value).unwrap_or_default();
    [
        field(&|share| share.value.to_string()),
        field(&|share| share.interval.low.to_string()),
        field(&|share| share.interval.high.to_string()),
        field(&|share| share.method.to_string()),
    ]
}
