//! Ratios of sums over clusters.

use std::ops::AddAssign;

use serde::Serialize;

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
        Some(Estimate { value: self.ratio, interval, method: Method::LinearisedRatio })
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::test_support::{assert_close, assert_relative};
    use crate::{Moments, Share};

    fn sums(clusters: &[(i64, u64)]) -> ClusterSums {
        let mut sums = ClusterSums::default();
        clusters.iter().for_each(|&(y, x)| sums.add(y, x));
        sums
    }

    /// Scores of algebra classes, 12 of 187: S. L. Lohr, *Sampling: Design and Analysis*, cluster
    /// sampling with unequal sizes (62.57 and 1.49 from memory; data set `algebra`).
    #[test]
    fn lohr_algebra_classes() {
        let size = [20, 26, 24, 34, 26, 28, 19, 32, 17, 21, 26, 26];
        let score = [1230, 1670, 1402, 1972, 1508, 1816, 1048, 2308, 989, 1398, 1621, 1746];
        let classes: Vec<_> = score.into_iter().zip(size).collect();
        let sums = sums(&classes);
        assert_eq!((sums.y(), sums.x(), sums.clusters()), (18_708, 299, 12));
        let finite = sums.ratio_in_population(187).unwrap();
        assert_close(finite.ratio, 62.57, 0.005);
        assert_close(finite.standard_error, 1.49, 0.005);
        assert_close(finite.ratio, 62.568_561_872_9, 5e-11);
        assert_close(finite.standard_error, 1.491_577_857, 5e-10);
        assert_close(sums.ratio().unwrap().standard_error, 1.541_869_815, 5e-10);
    }

    /// Grade points of dorm suites, 5 of 100: S. L. Lohr, *Sampling: Design and Analysis* (data set
    /// `gpa`; 2.826 and 0.164 from memory). In hundredths, suites of four.
    #[test]
    fn lohr_dorm_suites() {
        let sums = sums(&[1216, 1136, 896, 1296, 1108].map(|points| (points, 4)));
        let finite = sums.ratio_in_population(100).unwrap();
        assert_close(finite.ratio, 282.6, 1e-12);
        assert_close(finite.standard_error, 16.366, 0.0005);
    }

    /// School districts, 15 of 757: printed output of the tests of the R package `survey`
    /// (`svymean(~api00, dclus1)`).
    #[test]
    fn survey_package_api_mean() {
        let schools = [13, 34, 4, 13, 16, 2, 1, 4, 12, 21, 9, 11, 37, 2, 4];
        let api00 = [
            9372, 22_508, 2077, 8593, 11_369, 1116, 551, 1888, 9111, 13_761, 6386, 7359, 20_394,
            905, 2493,
        ];
        let districts: Vec<_> = api00.into_iter().zip(schools).collect();
        let finite = sums(&districts).ratio_in_population(757).unwrap();
        assert_close(finite.ratio, 644.17, 0.005);
        assert_close(finite.standard_error, 23.542, 0.0005);
        assert_close(finite.standard_error, 23.542_240_693_8, 5e-10);
        assert_close(sums(&districts).ratio().unwrap().standard_error, 23.779_010_7, 5e-7);
    }

    /// The same districts: vignette of the R package `survey`, `svyratio(~api.stu, ~enroll, dclus1)`
    /// (from memory).
    #[test]
    fn survey_package_api_ratio() {
        let enroll = [
            6777, 15_038, 1668, 6958, 9025, 683, 274, 1436, 7375, 14_968, 2180, 6081, 25_814, 680,
            1641,
        ];
        let tested = [
            6047, 12_618, 1461, 5935, 7573, 610, 199, 1184, 6431, 12_292, 1877, 4895, 22_452, 532,
            1373,
        ];
        let districts: Vec<_> = tested.into_iter().zip(enroll).collect();
        let finite = sums(&districts).ratio_in_population(757).unwrap();
        assert_close(finite.ratio, 0.849_708_741_7, 5e-11);
        assert_close(finite.standard_error, 0.008_386_297_2, 5e-11);
        let infinite = sums(&districts).ratio().unwrap();
        assert_close(infinite.standard_error, 0.008_470_640_2, 5e-11);
    }

    /// 49 of 196 large US cities, 1920 and 1930: W. G. Cochran, *Sampling Techniques*, 3rd ed., 1977,
    /// §6.2 (1.239 and 28 397 from memory; data set `bigcity`).
    #[test]
    fn cochran_large_cities() {
        let cities = ClusterSums {
            clusters: 49,
            y: 6262,
            x: 5054,
            yy: 1_527_882,
            xx: 1_044_504,
            xy: 1_251_630,
        };
        let finite = cities.ratio_in_population(196).unwrap();
        assert_close(finite.ratio, 1.239_018_599_1, 5e-11);
        assert_close(finite.standard_error, 0.029_879_1, 5e-8);
        assert_close(finite.ratio * 22_919.0, 28_397.07, 0.005);
    }

    /// Ten cities: A. C. Davison & D. V. Hinkley, *Bootstrap Methods and Their Application*, 1997,
    /// ex. 1.2 and ch. 2 (data set `city`). Their nonparametric delta variance has divisor n where
    /// the standard error here has n − 1.
    #[test]
    fn davison_hinkley_cities() {
        let u = [138, 93, 61, 179, 48, 37, 29, 23, 30, 2];
        let x = [143, 104, 69, 260, 75, 63, 50, 48, 111, 50];
        let cities: Vec<_> = x.into_iter().zip(u).collect();
        let found = sums(&cities).ratio().unwrap();
        assert_eq!(found.ratio, 1.520_312_5);
        assert_close(found.standard_error.powi(2) * 0.9, 0.032_487_733_7, 5e-11);
    }

    /// Clusters of size 1 are plain values.
    #[test]
    fn clusters_of_one_give_the_textbook_standard_error() {
        let values = [94, 197, 16, 38, 99, 141, 23];
        let mut moments = Moments::default();
        moments.extend(values);
        let found = sums(&values.map(|value| (value, 1))).ratio().unwrap();
        assert_relative(found.ratio, moments.mean().unwrap(), 1e-14);
        assert_relative(found.standard_error, moments.standard_error().unwrap(), 1e-13);
    }

    /// t with 11 degrees of freedom: 2.201 at 95 %, as in any table.
    #[test]
    fn interval_and_p_values_belong_together() {
        let found = RatioEstimate { ratio: 2.0, standard_error: 0.5, clusters: 12 };
        let interval = found.estimate(Level::P95).unwrap().interval;
        assert_close(interval.high, 2.0 + 0.5 * 2.201, 0.0005);
        assert_close(found.p_value_below(interval.high).unwrap().unwrap(), 0.025, 1e-9);
        assert_close(found.p_value_above(interval.low).unwrap().unwrap(), 0.025, 1e-9);
        assert_close(found.p_value_above(2.0).unwrap().unwrap(), 0.5, 1e-12);
        let [below, above] = [found.p_value_below(1.7), found.p_value_above(1.7)];
        assert_close(below.unwrap().unwrap() + above.unwrap().unwrap(), 1.0, 1e-12);
        assert!(found.p_value_below(f64::NAN).is_err());
    }

    #[test]
    fn clusters_that_do_not_differ_have_no_interval() {
        for clusters in [[(0, 3), (0, 5), (0, 900)], [(3, 7), (6, 14), (900, 2100)]] {
            let found = sums(&clusters).ratio().unwrap();
            assert_eq!(found.standard_error, 0.0);
            assert_eq!(found.estimate(Level::P95), None);
            assert_eq!(found.p_value_below(0.5), Ok(None));
        }
    }

    #[test]
    fn input_without_a_ratio_is_refused() {
        assert_eq!(sums(&[]).ratio(), Err(StatsError::TooFewClusters(0)));
        assert_eq!(sums(&[(1, 2)]).ratio(), Err(StatsError::TooFewClusters(1)));
        assert_eq!(sums(&[(1, 0), (2, 0)]).ratio(), Err(StatsError::NoSize));
        let extreme = sums(&[(i64::MIN, 1), (i64::MAX, 1), (i64::MIN, 1)]);
        assert_eq!(extreme.ratio(), Err(StatsError::Overflow));
        let two = sums(&[(1, 2), (2, 3)]);
        assert_eq!(
            two.ratio_in_population(1),
            Err(StatsError::Population { clusters: 2, population: 1 })
        );
        assert_eq!(weighted_ratio(&[]), Err(StatsError::NoWeight));
        assert_eq!(weighted_ratio(&[(-1.0, two)]), Err(StatsError::Weight(-1.0)));
        assert!(weighted_ratio(&[(f64::NAN, two)]).is_err());
    }

    /// A sample of everything has no sampling error.
    #[test]
    fn a_full_count_has_no_standard_error() {
        let all = sums(&[(1, 2), (2, 3), (5, 6)]).ratio_in_population(3).unwrap();
        assert_eq!(all.standard_error, 0.0);
    }

    /// A rate with clusters of one place is a share: the standard error is Wald's up to n − 1.
    #[test]
    fn clusters_of_one_place_are_a_share() {
        let clusters: Vec<_> = (0..200).map(|i| (i64::from(i < 30), 1)).collect();
        let found = sums(&clusters).ratio().unwrap();
        let share = Share::new(30, 200).unwrap().value();
        assert_relative(found.ratio, share, 1e-14);
        assert_relative(found.standard_error, (share * (1.0 - share) / 199.0).sqrt(), 1e-12);
    }

    fn clusters() -> impl Strategy<Value = Vec<(i64, u64)>> {
        prop::collection::vec((-1000i64..1000, 1u64..1000), 2..30)
    }

    proptest! {
        #[test]
        fn merging_is_adding(all in clusters(), cut in 0usize..30) {
            let (left, right) = all.split_at(cut.min(all.len()));
            let mut merged = sums(right);
            merged += sums(left);
            prop_assert_eq!(merged, sums(&all));
        }

        /// Against the definition: residuals one by one.
        #[test]
        fn standard_error_is_that_of_the_residuals(all in clusters()) {
            let found = sums(&all).ratio().unwrap();
            let n = all.len() as f64;
            let size: f64 = all.iter().map(|&(_, x)| x as f64).sum();
            let squares: f64 =
                all.iter().map(|&(y, x)| (y as f64 - found.ratio * x as f64).powi(2)).sum();
            let expected = (squares * n / (n - 1.0)).sqrt() / size;
            prop_assert!((found.standard_error - expected).abs() <= 1e-6 * expected.max(1e-3));
        }

        #[test]
        fn one_weight_for_all_changes_nothing(all in clusters(), weight in 1e-200f64..1e200) {
            let plain = sums(&all).ratio().unwrap();
            prop_assert_eq!(weighted_ratio(&[(weight, sums(&all))]).unwrap(), plain);
        }

        /// Weights are multiples of y and x: one class per cluster against scaled clusters.
        #[test]
        fn whole_weights_scale_their_clusters(all in clusters(), weights in prop::collection::vec(1u32..9, 30)) {
            let classes: Vec<_> = all
                .iter()
                .zip(&weights)
                .map(|(&cluster, &weight)| (f64::from(weight), sums(&[cluster])))
                .collect();
            let scaled: Vec<_> = all
                .iter()
                .zip(&weights)
                .map(|(&(y, x), &weight)| (y * i64::from(weight), x * u64::from(weight)))
                .collect();
            let found = weighted_ratio(&classes).unwrap();
            let expected = sums(&scaled).ratio().unwrap();
            prop_assert!((found.ratio - expected.ratio).abs() < 1e-9);
            prop_assert!((found.standard_error - expected.standard_error).abs() < 1e-7);
        }
    }
}
