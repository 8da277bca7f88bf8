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
/// puzzle. Visits puzzles without a family in the order of the collection, then the families.
pub(crate) fn each_counted(
    dataset: &Dataset,
    ask: &dyn Fn(u64) -> Result<Vec<LazyFrame>, CensusError>,
    visit: &mut dyn FnMut(&[Counted]),
) -> Result<(), CensusError> {
    let mut families = FamilySums::default();
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
        families.add(joined.collect(summed(together))?)?;
    }
    families.sum()?;
    families
        .sums
        .iter()
        .try_for_each(|sums| visit_each(&sums.collect(ordered(sums.lazy()))?, visit))
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

/// Sums by family, added up now and then.
#[derive(Default)]
struct FamilySums {
    sums: Option<TableFile>,
    /// What was not added to the sums yet.
    more: Vec<TableFile>,
}

impl FamilySums {
    fn add(&mut self, more: TableFile) -> Result<(), CensusError> {
        self.more.push(more);
        let waiting: usize = self.more.iter().map(TableFile::height).sum();
        // Seldom enough to cost little, often enough to need little memory.
        let often = self.sums.as_ref().map_or(0, TableFile::height).max(1 << 18);
        if waiting > often { self.sum() } else { Ok(()) }
    }

    fn sum(&mut self) -> Result<(), CensusError> {
        let Some(first) = self.more.first() else { return Ok(()) };
        let frames: Vec<LazyFrame> =
            self.sums.iter().chain(&self.more).map(TableFile::lazy).collect();
        let rows = concat(frames, UnionArgs::default())
            .map_err(|error| first.damaged(error.to_string()))?;
        self.sums = Some(first.collect(summed(rows))?);
        self.more.clear();
        Ok(())
    }
}
