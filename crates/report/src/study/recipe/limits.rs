//! Numbers of a recipe: each has the limits that the option of the same meaning has on the command line.

use std::ops::RangeInclusive;

use serde::de::Error;
use serde::{Deserialize, Deserializer};
use tallyhouse_analysis::order_search::OrderSettings;
use tallyhouse_collection::{Recipe, Sampling};
use tallyhouse_words::count as written;

use crate::specimen::Wanted;
use crate::study::FirstPuzzles;
use crate::worksheet::WorksheetSettings;

macro_rules! limited {
    ($($key:ident: $number:ty, $limits:expr;)*) => {$(
        pub(super) fn $key<'de, D: Deserializer<'de>>(from: D) -> Result<$number, D::Error> {
            within(stringify!($key), &$limits, from)
        }
    )*};
}

limited! {
    population: u32, Sampling::POPULATIONS;
    training_count: u64, OrderSettings::TRAINING;
    held_out_count: u64, OrderSettings::HELD_OUT;
    runs: u64, OrderSettings::RUNS;
    evaluations: u64, OrderSettings::TRIED;
    frontier: u64, OrderSettings::REPORTED;
    puzzles: u64, FirstPuzzles::MOST;
    most: u64, Wanted::SPECIMENS;
    eliminations: u64, Wanted::ELIMINATIONS;
}

/// Of puzzles that are made.
pub(super) fn count<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u64>, D::Error> {
    within("count", &Recipe::UNITS, from).map(Some)
}

/// Of the items of a worksheet.
pub(super) fn items<'de, D: Deserializer<'de>>(from: D) -> Result<u64, D::Error> {
    within("count", &WorksheetSettings::ITEMS, from)
}

fn within<'de, N, D>(key: &str, limits: &RangeInclusive<N>, from: D) -> Result<N, D::Error>
where
    N: Copy + PartialOrd + TryFrom<i64> + Into<u64>,
    D: Deserializer<'de>,
{
    let found = i64::deserialize(from)?;
    let fitting = N::try_from(found).ok().filter(|number| limits.contains(number));
    fitting.ok_or_else(|| {
        let sign = if found < 0 { "-" } else { "" };
        let found = written(found.unsigned_abs());
        let [low, high] = [*limits.start(), *limits.end()].map(|limit| written(limit.into()));
        D::Error::custom(format!("{key} is {sign}{found}: expected {low} to {high}"))
    })
}
