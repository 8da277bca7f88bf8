//! Intervals and tests for shares, differences, ratios and means. Numbers in, plain structs out.
//!
//! - One share: [`Share`] (Wilson, Clopper–Pearson, exact p-values, trials still needed).
//! - Two shares: [`newcombe_difference`] for separate samples, [`PairedCounts`] for the same units
//!   judged twice.
//! - Rates with clusters: [`ClusterSums`] and [`weighted_ratio`] (linearised), [`cluster_bootstrap`].
//! - Means: [`Moments`], and [`mix`] for weighted strata.
//! - Many claims at once: [`holm`], [`bonferroni`], [`benjamini_hochberg`].
//!
//! Sums over integers are exact and merge in any order, so no result depends on a thread count.
//! Input without an answer gives a [`StatsError`] or `None`, never a silent NaN.
#![forbid(unsafe_code)]

mod bootstrap;
mod difference;
mod error;
mod estimate;
mod incomplete_beta;
mod interval;
mod mcnemar;
mod moments;
mod multiple;
mod paired;
mod ratio;
mod share;
mod student;
#[cfg(test)]
mod test_support;
mod weights;

pub use bootstrap::{Bootstrap, Cluster, Resampling, cluster_bootstrap};
pub use difference::newcombe_difference;
pub use error::StatsError;
pub use estimate::{Estimate, Method};
pub use interval::{Interval, Level};
pub use mcnemar::McNemar;
pub use moments::{Mixture, Moments, Stratum, mix};
pub use multiple::{benjamini_hochberg, bonferroni, holm, rejected};
pub use paired::PairedCounts;
pub use ratio::{ClusterSums, RatioEstimate, weighted_ratio};
pub use share::{RARE_BELOW, Share};
pub use weights::effective_sample_size;
