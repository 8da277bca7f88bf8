//! Questions to a dataset, answered by clusters: puzzles that depend on each other, each with its
//! weight. A cluster is a family, or a puzzle without one.

use polars::prelude::{
    DataType, Expr, Int64Type, JoinArgs, JoinType, LazyFrame, SortMultipleOptions, UInt16Type,
    UInt64Type, UnionArgs, col, concat, lit,
};

use crate::table_file::TableFile;
use crate::tables::PUZZLES;
use crate::{CensusError, Dataset};

/// What was counted in the puzzles of a cluster.
#[derive(Clone, Copy)]
pub(crate) struct Counted {
    /// The cluster: a family, or a puzzle without one.
    cluster: i64,
    /// What was counted.
    pub(crate) code: u16,
    /// How often.
    pub(crate) times: u64,
    /// By weight, in millionths.
    pub(crate) weight: i128,
}

/// Selects what [`each_counted`] wants to know of a puzzle: what is counted, and how many times.
pub(crate) fn counted(code: Expr, times: Expr) -> [Expr; 3] {
    let times = times.cast(DataType::UInt64).alias("times");
    [col("puzzle"), code.cast(DataType::UInt16).alias("code"), times]
}

/// Adds up by cluster what is counted in puzzles: rows of [`counted`], each `code` at most once for a
/// puzzle. Visits the puzzles without a family of each part, then its families; one that goes on in the
/// next part, there.
pub(crate) fn each_counted(
    dataset: &Dataset,
    ask: &dyn Fn(u64) -> Result<Vec<LazyFrame>, CensusError>,
    visit: &mut dyn FnMut(&[Counted]),
) -> Result<(), CensusError> {
    // The last family of the parts so far, which may go on.
    let mut open: Vec<Counted> = Vec::new();
    for part in dataset.parts() {
        let puzzles = dataset.table(&PUZZLES, part, &["puzzle", "weight", "family"])?;
        let counted = concat(ask(part)?, UnionArgs::default())
            .map_err(|error| puzzles.damaged(error.to_string()))?;
        let key = [col("puzzle")];
        let how = JoinArgs::new(JoinType::Left);
        let joined = puzzles.collect(counted.join(weighed(&puzzles), &key, &key, how))?;
        if joined.has_gaps("whole")? {
            return Err(puzzles.damaged("puzzles are missing that another table has"));
        }
        let in_family = col("family").is_not_null();
        let alone = joined.lazy().filter(in_family.clone().not()).select(of_cluster("puzzle"));
        visit_each(&joined.collect(ordered(alone))?, visit)?;
        let together = joined.lazy().filter(in_family).select(of_cluster("family"));
        let last = puzzles.optional::<Int64Type>("family")?.into_iter().flatten().last();
        let mut next = Vec::new();
        visit_each(&joined.collect(ordered(summed(together)))?, &mut |cluster| {
            let family = cluster[0].cluster;
            if open.first().is_some_and(|open| open.cluster == family) {
                open = join(&open, cluster);
            } else if Some(family) == last {
                next = cluster.to_vec();
            } else {
                visit(cluster);
            }
        })?;
        if !next.is_empty() {
            let ended = std::mem::replace(&mut open, next);
            if !ended.is_empty() {
                visit(&ended);
            }
        }
    }
    if !open.is_empty() {
        visit(&open);
    }
    Ok(())
}

/// Adds what is counted in two parts of a cluster, in the order of codes.
fn join(one: &[Counted], other: &[Counted]) -> Vec<Counted> {
    let mut all = [one, other].concat();
    all.sort_by_key(|counted| counted.code);
    let sum = |same: &[Counted]| Counted {
        times: same.iter().map(|counted| counted.times).sum(),
        weight: same.iter().map(|counted| counted.weight).sum(),
        ..same[0]
    };
    all.chunk_by(|a, b| a.code == b.code).map(sum).collect()
}

/// Returns the family and the weight of each puzzle: its whole and its millionths apart, since sums of
/// millionths alone would not fit 64 bits.
fn weighed(puzzles: &TableFile) -> LazyFrame {
    let weight = || col("weight");
    let whole = || weight().cast(DataType::UInt64);
    let rest = (weight() - whole().cast(DataType::Float64)) * lit(1e6);
    // All are positive, and a cast cuts off.
    let rest = (rest + lit(0.5)).cast(DataType::UInt64);
    let weighed = [col("puzzle"), col("family"), whole().alias("whole"), rest.alias("millionths")];
    puzzles.lazy().select(weighed)
}

/// The columns to be added up.
const SUMS: [&str; 3] = ["times", "whole", "millionths"];

fn of_cluster(key: &str) -> [Expr; 5] {
    let by_weight = |name: &str| (col(name) * col("times")).alias(name);
    let [times, whole, millionths] = SUMS;
    [col(key).alias("cluster"), col("code"), col(times), by_weight(whole), by_weight(millionths)]
}

fn summed(rows: LazyFrame) -> LazyFrame {
    rows.group_by([col("cluster"), col("code")]).agg(SUMS.map(|name| col(name).sum()))
}

fn ordered(rows: LazyFrame) -> LazyFrame {
    rows.sort(["cluster", "code"], SortMultipleOptions::default())
}

fn visit_each(table: &TableFile, visit: &mut dyn FnMut(&[Counted])) -> Result<(), CensusError> {
    let clusters = table.numbers::<Int64Type>("cluster")?;
    let codes = table.numbers::<UInt16Type>("code")?;
    let [times, whole, millionths] = SUMS.map(|name| table.numbers::<UInt64Type>(name));
    let (times, whole, millionths) = (times?, whole?, millionths?);
    let row = |row: usize| Counted {
        cluster: clusters[row],
        code: codes[row],
        times: times[row],
        weight: i128::from(whole[row]) * 1_000_000 + i128::from(millionths[row]),
    };
    let rows: Vec<Counted> = (0..table.height()).map(row).collect();
    rows.chunk_by(|a, b| a.cluster == b.cluster).for_each(visit);
    Ok(())
}
