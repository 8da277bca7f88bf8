//! Ratios of sums over clusters.

use std::ops::AddAssign;

use serde::Serialize;

use crate::estimate::{Law, Spread};
use crate::student::Student;
use crate::weights::check_weights;
use crate::{Estimate, Interval, Level, Method, StatsError};

/// Exact sums over clusters (yᵢ, xᵢ), mergeable in any order.
///
/// A cluster is the independent unit: y is what was counted in it, x its size. The same sums serve
/// - a rate: y events among x places,
/// - a comparison on the same units: y the cost of one way, x that of another,
/// - a mean per cluster: x = 1; a mean difference: y the difference, x = 1 or the size.
///
/// Clusters without places (0, 0) belong in, if the sample may hold such clusters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ClusterSums {
    clusters: u64,
    y: i128,
    x: u128,
    /// The sums of squares stop at their greatest value, which the estimate then refuses.
    yy: u128,
    xx: u128,
    xy: i128,
}

impl ClusterSums {
    /// Adds one cluster.
    pub fn add(&mut self, y: i64, x: u64) {
        *self += Self {
            clusters: 1,
            y: y.into(),
            x: x.into(),
            yy: u128::from(y.unsigned_abs()).pow(2),
            xx: u128::from(x).pow(2),
            xy: i128::from(y) * i128::from(x),
        };
    }

    /// Returns how many clusters were added.
    #[must_use]
    pub const fn clusters(&self) -> u64 {
        self.clusters
    }

    /// Returns Σy.
    #[must_use]
    pub const fn y(&self) -> i128 {
        self.y
    }

    /// Returns Σx.
    #[must_use]
    pub const fn x(&self) -> u128 {
        self.x
    }

    /// Returns the ratio R = Σy / Σx for clusters drawn from a population much larger than the
    /// sample.
    ///
    /// SE(R) = √(Σ(yᵢ − R·xᵢ)² · n/(n − 1)) / Σx, the linearised ("delta") standard error. It
    /// assumes independent clusters; nothing inside them need be independent. The ratio is biased by
    /// about 1/n of its value's relative variance, which many clusters make negligible.
    ///
    /// W. G. Cochran, *Sampling Techniques*, 3rd ed., 1977, ch. 6; S. L. Lohr, *Sampling: Design and
    /// Analysis*, on cluster sampling (both from memory).
    ///
    /// # Errors
    /// With fewer than two clusters, Σx = 0, or sums of squares above 2^127.
    pub fn ratio(&self) -> Result<RatioEstimate, StatsError> {
        linearised(&[(1.0, *self)])
    }

    /// Returns the ratio for clusters drawn without replacement from this many: the squared standard
    /// error is smaller by the factor 1 − n/N.
    ///
    /// # Errors
    /// As [`ClusterSums::ratio`]; and if the population is smaller than the sample.
    pub fn ratio_in_population(&self, population: u64) -> Result<RatioEstimate, StatsError> {
        let clusters = self.clusters;
        if population < clusters {
            return Err(StatsError::Population { clusters, population });
        }
        let mut estimate = self.ratio()?;
        estimate.standard_error *= ((population - clusters) as f64 / population as f64).sqrt();
        Ok(estimate)
    }
}

impl AddAssign for ClusterSums {
    fn add_assign(&mut self, other: Self) {
        self.clusters += other.clusters;
        self.y += other.y;
        self.x += other.x;
        self.yy = self.yy.saturating_add(other.yy);
        self.xx = self.xx.saturating_add(other.xx);
        self.xy = self.xy.saturating_add(other.xy);
    }
}

/// Returns the ratio R = Σwy / Σwx of weighted clusters, given as one pair of weight and sums per
/// weight.
///
/// SE(R) = √(Σwᵢ²(yᵢ − R·xᵢ)² · n/(n − 1)) / Σwx: the weights count as fixed, the clusters as drawn
/// independently. One weight for all gives [`ClusterSums::ratio`].
///
/// S. L. Lohr, *Sampling: Design and Analysis*, on linearisation in weighted samples (from memory).
///
/// # Errors
/// If a weight is negative or not finite or none is positive; and as [`ClusterSums::ratio`].
pub fn weighted_ratio(classes: &[(f64, ClusterSums)]) -> Result<RatioEstimate, StatsError> {
    let largest = check_weights(classes.iter().map(|&(weight, _)| weight))?;
    // Only the weights' proportions matter; squares of extreme ones would overflow.
    let scaled: Vec<_> = classes.iter().map(|&(weight, sums)| (weight / largest, sums)).collect();
    linearised(&scaled)
}

fn linearised(classes: &[(f64, ClusterSums)]) -> Result<RatioEstimate, StatsError> {
    let clusters = classes.iter().filter(|(w, _)| *w > 0.0).map(|(_, s)| s.clusters).sum::<u64>();
    if clusters < 2 {
        return Err(StatsError::TooFewClusters(clusters));
    }
    // By Cauchy and Schwarz Σxy has stayed exact too, if no sum of squares is larger.
    let exact = |squares: u128| squares <= i128::MAX.unsigned_abs();
    if !classes.iter().all(|(_, sums)| exact(sums.yy) && exact(sums.xx)) {
        return Err(StatsError::Overflow);
    }
    let total = |part: &dyn Fn(f64, &ClusterSums) -> f64| {
        classes.iter().map(|(weight, sums)| part(*weight, sums)).sum::<f64>()
    };
    let size = total(&|w, s| w * s.x as f64);
    if size == 0.0 {
        return Err(StatsError::NoSize);
    }
    let ratio = total(&|w, s| w * s.y as f64) / size;
    let yy = total(&|w, s| w * w * s.yy as f64);
    let xx = ratio * ratio * total(&|w, s| w * w * s.xx as f64);
    let xy = ratio * total(&|w, s| w * w * s.xy as f64);
    let squares = yy - 2.0 * xy + xx;
    // What rounding alone can leave of yᵢ = R·xᵢ counts as zero.
    let rounding = 8.0 * f64::EPSILON * (yy + 2.0 * xy.abs() + xx);
    let squares = if squares > rounding { squares } else { 0.0 };
    let count = clusters as f64;
    let standard_error = (squares * (count / (count - 1.0))).sqrt() / size;
    Ok(RatioEstimate { ratio, standard_error, clusters })
}

/// A ratio of sums over clusters and its standard error.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RatioEstimate {
    /// Σy / Σx.
    pub ratio: f64,
    /// The linearised standard error; 0 if y is the same multiple of x in every cluster.
    pub standard_error: f64,
    /// The number n of clusters.
    pub clusters: u64,
}

impl RatioEstimate {
    /// Returns R ± t·SE with Student's t for n − 1 degrees of freedom, or none if the standard error
    /// is 0.
    ///
    /// Clusters that don't differ (no event in any of them, for one) can't show how far off the
    /// ratio may be: an interval of width 0 would claim certainty. A [`Share`](crate::Share) of the
    /// clusters still has an answer. With few clusters or rare events the ratio is skewed, and the
    /// interval misses more on one side than on the other; limits may leave the range that the ratio
    /// can have.
    #[must_use]
    pub fn estimate(&self, level: Level) -> Option<Estimate> {
        let reach = self.student()?.upper_quantile(level.error_rate() / 2.0) * self.standard_error;
        let interval = Interval { low: self.ratio - reach, high: self.ratio + reach };
        let Self { standard_error, clusters, .. } = *self;
        let law = Law::Student(Spread { standard_error, clusters });
        Some(Estimate { value: self.ratio, interval, level, method: Method::LinearisedRatio, law })
    }

    /// Returns the one-sided p-value against "the ratio is at least the bound", by Student's t with
    /// n − 1 degrees of freedom; none if the standard error is 0. Small values support "the ratio is
    /// below the bound".
    ///
    /// # Errors
    /// [`StatsError::Bound`] if the bound is not finite.
    pub fn p_value_below(&self, bound: f64) -> Result<Option<f64>, StatsError> {
        self.tail((checked_bound(bound)? - self.ratio) / self.standard_error)
    }

    /// Returns the one-sided p-value against "the ratio is at most the bound"; see
    /// [`RatioEstimate::p_value_below`].
    ///
    /// # Errors
    /// [`StatsError::Bound`] if the bound is not finite.
    pub fn p_value_above(&self, bound: f64) -> Result<Option<f64>, StatsError> {
        self.tail((self.ratio - checked_bound(bound)?) / self.standard_error)
    }

    fn tail(&self, t: f64) -> Result<Option<f64>, StatsError> {
        Ok(self.student().map(|law| law.upper_tail(t)))
    }

    fn student(&self) -> Option<Student> {
        (self.standard_error > 0.0).then(|| Student::new(self.clusters - 1))
    }
}

fn checked_bound(bound: f64) -> Result<f64, StatsError> {
    if bound.is_finite() { Ok(bound) } else { Err(StatsError::Bound(bound)) }
}
