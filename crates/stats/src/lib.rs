//! Intervals and tests for shares, ratios, means and differences. Numbers in, plain structs out.
//!
//! - Sums over independent clusters, weighted or not: [`Clusters`], and [`Families`] where the
//!   members of a cluster come scattered. They answer for a share, a mean, a ratio, a paired
//!   difference and a ratio of ratios.
//! - Hits among independent trials: [`Share`] (Wilson, Clopper–Pearson, exact p-values).
//! - Hits among trials at a cost, rare ones too: [`Rate`]; [`AlikeHits`] where all clusters weigh alike.
//! - Two properties of the same units: [`PairedCounts`], and [`PairedWeights`] over clusters.
//! - Times of people for tasks whose parts are counted: [`PaceTimes`].
//! - Many claims at once: [`decide`] with a [`Threshold`] for each, with several members of a jury
//!   where there is more than one way to count, and [`holm`].
//!
//! Every answer is an [`Estimate`]: a value, an interval at a [`Level`] of confidence, how it was
//! made, and p-values. Sums over integers are exact and merge in any order, so no result depends on
//! a thread count. Input without an answer gives a [`StatsError`], never a silent NaN.
//!
//! ```
//! use tallyhouse_stats::{Clusters, Level, Method};
//!
//! // Puzzles that show something, by weight: three of weight 2, one of them a hit, and a hit of
//! // weight 1.
//! let million = 1_000_000;
//! let mut puzzles = Clusters::default();
//! for [hit, weight] in [[0, 2], [1, 2], [0, 2], [1, 1]] {
//!     puzzles.add([hit * weight * million, weight * million]);
//! }
//! let share = puzzles.share(Level::default())?;
//! assert_eq!((share.value, share.method), (3.0 / 7.0, Method::LinearisedRatio));
//! # Ok::<(), tallyhouse_stats::StatsError>(())
//! ```
#![forbid(unsafe_code)]
#![deny(missing_docs)]

mod alike;
mod clusters;
mod error;
mod estimate;
mod families;
mod few_hits;
mod in_turn;
mod incomplete_beta;
mod interval;
mod jury;
mod least_squares;
mod method;
mod multiple;
mod pace;
mod paired;
mod questions;
mod rate;
mod share;
mod spread;
mod student;
#[cfg(test)]
mod test_support;
mod verdict;

pub use alike::{AlikeHits, AlikeTrials};
pub use clusters::Clusters;
pub use error::StatsError;
pub use estimate::Estimate;
pub use families::Families;
pub use few_hits::FEW_HITS;
pub use in_turn::{AddClusters, InTurn};
pub use interval::{Interval, Level};
pub use jury::{Answer, Evidence, Member, MemberAnswer, Number, Planned, Question, decide};
pub use method::Method;
pub use multiple::holm;
pub use pace::{ENOUGH_PEOPLE, PaceFit, PaceTimes, Timed};
pub use paired::{PairedCounts, PairedWeights};
pub use rate::{Limits, Rate, RateCluster, RatePair};
pub use share::{RARE_BELOW, Share};
pub use verdict::{Decision, POWER, Threshold};
