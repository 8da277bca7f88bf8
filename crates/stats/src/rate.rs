//! Rates that may be rare: hits among trials at a cost, over clusters.

use std::ops::AddAssign;

use ethnum::I256;
use serde::{Deserialize, Serialize};

use tallyhouse_words::Measured;

use crate::estimate::Law;
use crate::few_hits::{FEW_HITS, FewHits, LeastCost, Limit};
use crate::questions::doubt;
use crate::share::upper_limit;
use crate::spread::Spread;
use crate::{Clusters, Estimate, Interval, Level, Method, StatsError};

/// What one cluster adds to a [`Rate`]; all but the weight are sums over its units, each times its own
/// weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RateCluster {
    /// The weight of the cluster, above 0: that of its only unit, or the mean of its units' weights.
    pub weight: i128,
    /// How many trials were hits.
    pub hits: i128,
    /// How many trials there were.
    pub trials: i128,
    /// What the trials cost; 0 where costs are not asked about.
    pub cost: i128,
}

impl RateCluster {
    /// Returns the weight of a cluster of so many units, of the sum of their weights: their mean, so
    /// that a cluster of one counts as its unit.
    #[must_use]
    pub const fn mean_weight(sum: i128, units: i128) -> i128 {
        let mean = (sum + units / 2) / units;
        if mean > 1 { mean } else { 1 }
    }
}

/// Exact sums over clusters of hits among trials, and of what the trials cost; mergeable in any order.
///
/// Clusters without trials say nothing of a rate and are left out. Where the hits are worth at least
/// [`FEW_HITS`], intervals are those of [`Clusters::share`] and [`Clusters::cost`], with larger standard
/// errors, and shares on the scale of log odds, where clusters differ in weight. Where they are worth
/// less, by (Σy)²/Σy² over the clusters' hits y, the ends of those can't be trusted. Then only
/// one end is given, which is safe: no cluster has had more than m hits (at least 1), so the hits of a
/// cluster are on average at most m times the share of clusters with a hit. U, Clopper and Pearson's
/// upper limit of that share for so many clusters as they are worth by Kish, fewer where they differ in
/// weight, bounds the rate by U·m over the mean trials of a cluster.
///
/// ```
/// use tallyhouse_stats::{Level, Rate, RateCluster};
///
/// // 100 clusters of 27 trials that cost 5 each, no hit.
/// let mut rate = Rate::default();
/// for _ in 0..100 {
///     rate.add(RateCluster { weight: 1, hits: 0, trials: 27, cost: 135 });
/// }
/// let share = rate.share(Level::default())?;
/// assert_eq!((share.value, share.low), (Some(0.0), None));
/// let upper = 1.0 - 0.025f64.powf(1.0 / 100.0);
/// assert!((share.high.unwrap() - upper / 27.0).abs() < 1e-12);
/// let price = rate.cost_per_hit(Level::default())?;
/// assert_eq!((price.value, price.high), (None, None));
/// assert!((price.low.unwrap() - 135.0 / upper).abs() < 1e-9);
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
///
/// Files hold the sums as decimals, so that nothing is lost.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rate {
    /// Hits, trials, cost.
    pub(crate) sums: Clusters<3>,
    /// The weight of a cluster with a hit, or 0; its weight.
    pub(crate) weights: Clusters<2>,
    /// Hits and weight of the cluster with the most hits for its weight.
    #[serde(with = "most")]
    pub(crate) most: Option<[i128; 2]>,
}

/// A rate or cost and the ends of its interval, as far as the data tell them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// The point estimate; none without trials, and for a cost per hit without hits.
    pub value: Option<f64>,
    /// The lower end; none if the data set none.
    pub low: Option<f64>,
    /// The upper end; none if the data set none.
    pub high: Option<f64>,
}

impl Limits {
    /// Returns the number with its interval for the writer of text; none unless the data tell all of it.
    #[must_use]
    pub fn told(self) -> Option<Measured> {
        Some(Measured { value: self.value?, low: self.low?, high: self.high? })
    }

    /// Returns the same in a unit of so many old ones.
    #[must_use]
    pub fn in_units_of(self, unit: f64) -> Self {
        let Self { value, low, high } = self;
        let [value, low, high] = [value, low, high].map(|number| number.map(|n| n / unit));
        Self { value, low, high }
    }
}

impl From<Estimate> for Limits {
    fn from(Estimate { value, interval: Interval { low, high }, .. }: Estimate) -> Self {
        let [value, low, high] =
            [value, low, high].map(|number| Some(number).filter(|number| number.is_finite()));
        Self { value, low, high }
    }
}

impl Rate {
    /// Adds one cluster, unless it has no trials.
    pub fn add(&mut self, RateCluster { weight, hits, trials, cost }: RateCluster) {
        if trials == 0 {
            return;
        }
        self.sums.add([hits, trials, cost]);
        self.weights.add([if hits > 0 { weight } else { 0 }, weight]);
        self.take_most([hits, weight]);
    }

    fn take_most(&mut self, [hits, weight]: [i128; 2]) {
        let is_more = |[most, of]: [i128; 2]| {
            I256::from(hits) * I256::from(of) > I256::from(most) * I256::from(weight)
        };
        if self.most.is_none_or(is_more) {
            self.most = Some([hits, weight]);
        }
    }

    /// Takes rates to which only clusters with hits were added, and returns what adding all clusters
    /// would have given, from the rate of all of them without their hits. No cluster has costs.
    #[must_use]
    pub fn among(&self, all: &Self) -> Self {
        let mut rate = *self;
        rate.sums = self.sums.replacing(1, &all.sums);
        rate.weights = self.weights.replacing(1, &all.weights);
        rate.most = self.most.or(all.most);
        rate
    }

    /// Returns how many clusters with trials there are.
    #[must_use]
    pub const fn clusters(&self) -> u64 {
        self.sums.clusters()
    }

    /// Returns how many hits in clusters of their own would tell as much: (Σy)²/Σy² over the clusters'
    /// hits y; 0 without hits.
    #[must_use]
    pub fn effective_hits(&self) -> f64 {
        self.sums.effective(0)
    }

    /// Tests if the hits are too few for intervals with two ends.
    #[must_use]
    pub fn is_rare(&self) -> bool {
        self.effective_hits() < FEW_HITS
    }

    /// Returns the share of trials that are hits; the lower end is not told where hits are few.
    ///
    /// # Errors
    /// If sums were too large.
    pub fn share(&self, level: Level) -> Result<Limits, StatsError> {
        let shares = self.sums.pick([0, 1]);
        let Some(value) = StatsError::if_known(shares.quotient())? else {
            return Ok(Limits::default());
        };
        let value = Some(value);
        if self.is_rare() {
            let high = (self.most_hits(level)? / self.per_cluster(1)).min(1.0);
            return Ok(Limits { value, low: None, high: Some(high) });
        }
        let share = if self.weights.is_uneven()? {
            shares.share_in_doubt(level)
        } else {
            shares.share(level)
        };
        let estimate = Estimate::if_known(share)?;
        Ok(estimate.map_or(Limits { value, ..Limits::default() }, Limits::from))
    }

    /// How many times as large a standard error is taken: more than once where clusters differ in weight.
    fn doubt(&self) -> Result<f64, StatsError> {
        Ok(if self.weights.is_uneven()? { doubt(self.effective_hits()) } else { 1.0 })
    }

    /// As many clusters as these are worth, less what is in doubt where they differ in weight.
    fn worth(&self) -> Result<f64, StatsError> {
        let worth = self.weights.effective_size()?;
        Ok(if self.weights.is_uneven()? {
            worth / doubt(self.sums.effective(1)).powi(2)
        } else {
            worth
        })
    }

    /// Returns the share of trials that are hits by [`Clusters::share_by_weight`]: where each cluster is
    /// one trial.
    ///
    /// # Errors
    /// If sums were too large.
    pub fn share_of_clusters(&self, level: Level) -> Result<Limits, StatsError> {
        let shares = self.sums.pick([0, 1]);
        let value = StatsError::if_known(shares.quotient())?;
        let estimate = Estimate::if_known(shares.share_by_weight(level))?;
        Ok(estimate.map_or(Limits { value, ..Limits::default() }, Limits::from))
    }

    /// Returns the cost of all trials, failures included, for each hit; the upper end is not told
    /// where hits are few.
    ///
    /// # Errors
    /// If sums were too large.
    pub fn cost_per_hit(&self, level: Level) -> Result<Limits, StatsError> {
        if let Some(estimate) = self.price(level)? {
            return Ok(estimate.into());
        }
        let value = StatsError::if_known(self.sums.pick([2, 0]).quotient())?;
        Ok(Limits { value, ..Limits::default() })
    }

    /// The same as an estimate that can be tested; none without trials, and if the clusters don't
    /// differ.
    ///
    /// # Errors
    /// If sums were too large.
    pub fn price(&self, level: Level) -> Result<Option<Estimate>, StatsError> {
        if self.clusters() == 0 {
            return Ok(None);
        }
        if self.is_rare() {
            let limit = Limit::Cost(self.least_cost()?);
            let few = FewHits { limit, effective: [self.effective_hits(), f64::INFINITY] };
            return Ok(Some(few_hits(self.mean_price()?, few, level)));
        }
        let price = Estimate::if_known(self.sums.pick([2, 0]).cost(level))?;
        price.map(|price| price.less_sure(self.doubt()?)).transpose()
    }

    /// The cost of a hit; infinite without hits.
    fn mean_price(&self) -> Result<f64, StatsError> {
        let price = StatsError::if_known(self.sums.pick([2, 0]).quotient())?;
        Ok(price.unwrap_or(f64::INFINITY))
    }

    /// What few hits tell.
    fn least_cost(&self) -> Result<LeastCost, StatsError> {
        let worth = self.worth()?;
        let share = self.weights.quotient()?;
        let cost = self.per_cluster(2) / self.most();
        Ok(LeastCost { cost, with_hit: worth * share, without: worth * (1.0 - share) })
    }

    /// The limit that the least cost of a hit among few sets, beside the cost of one here; none if the
    /// clusters don't differ.
    fn limit(
        &self,
        limit: fn(LeastCost, f64, Spread) -> Limit,
        few: &Self,
        level: Level,
    ) -> Result<Option<Limit>, StatsError> {
        let spread = self.price(level)?.and_then(|price| price.spread_of_log());
        let (least, price) = (few.least_cost()?, self.mean_price()?);
        Ok(spread.map(|spread| limit(least, price, spread)))
    }

    /// The mean of a quantity over clusters, by weight.
    fn per_cluster(&self, quantity: usize) -> f64 {
        self.sums.sum(quantity) as f64 / self.weights.sum(1) as f64
    }

    /// At most so many hits has a cluster on average.
    fn most_hits(&self, level: Level) -> Result<f64, StatsError> {
        let worth = self.worth()?;
        let share = self.weights.quotient()?;
        let tail = level.error_rate() / 2.0;
        let limit = upper_limit([worth * share, worth * (1.0 - share)], tail);
        Ok(limit * self.most())
    }

    /// The most hits of a cluster, at least 1.
    fn most(&self) -> f64 {
        self.most.map_or(1.0, |[hits, weight]| hits as f64 / weight as f64).max(1.0)
    }
}

/// Two whole numbers as files hold them.
mod most {
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub(super) fn serialize<S: Serializer>(
        most: &Option<[i128; 2]>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        let text = most.map_or_else(String::new, |[hits, weight]| format!("{hits} {weight}"));
        serializer.serialize_str(&text)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<[i128; 2]>, D::Error> {
        let text = String::deserialize(deserializer)?;
        if text.is_empty() {
            return Ok(None);
        }
        let numbers = text
            .split_once(' ')
            .and_then(|(hits, weight)| Some([hits.parse().ok()?, weight.parse().ok()?]));
        numbers.map(Some).ok_or_else(|| D::Error::custom("expected two whole numbers"))
    }
}

impl AddAssign for Rate {
    fn add_assign(&mut self, other: Self) {
        self.sums += other.sums;
        self.weights += other.weights;
        if let Some(most) = other.most {
            self.take_most(most);
        }
    }
}

fn few_hits(value: f64, law: FewHits, level: Level) -> Estimate {
    let tail = level.error_rate() / 2.0;
    let interval = Interval { low: law.low(tail), high: law.high(tail) };
    Estimate { value, interval, level, method: Method::FewHits, law: Law::FewHits(law) }
}

/// Two rates over the same clusters.
///
/// ```
/// use tallyhouse_stats::{Level, RateCluster, RatePair};
///
/// // 50 clusters in which a look costs 5 for a hit, another 10, 11 or 12.
/// let mut pair = RatePair::default();
/// for other in (0..50).map(|i| 10 + i % 3) {
///     let rate = |cost| RateCluster { weight: 1, hits: 1, trials: 1, cost };
///     pair.add([rate(5), rate(other)]);
/// }
/// let ratio = pair.price_ratio(Level::default())?.unwrap();
/// assert!((ratio.value - 250.0 / 549.0).abs() < 1e-12 && ratio.p_value(0.5)? < 1e-9);
/// # Ok::<(), tallyhouse_stats::StatsError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RatePair {
    rates: [Rate; 2],
    /// Cost and hits of the first, cost and hits of the second.
    sums: Clusters<4>,
}

impl RatePair {
    /// Adds one cluster, unless neither has trials there.
    pub fn add(&mut self, clusters: [RateCluster; 2]) {
        let [first, second] = clusters;
        if first.trials != 0 || second.trials != 0 {
            self.sums.add([first.cost, first.hits, second.cost, second.hits]);
        }
        for (rate, cluster) in self.rates.iter_mut().zip(clusters) {
            rate.add(cluster);
        }
    }

    /// Returns both rates.
    #[must_use]
    pub const fn rates(&self) -> &[Rate; 2] {
        &self.rates
    }

    /// Returns how many clusters with trials of either there are.
    #[must_use]
    pub const fn clusters(&self) -> u64 {
        self.sums.clusters()
    }

    /// Returns the cost of a hit of the first by that of the second,
    /// [`Clusters::ratio_of_ratios`]; if one of them has few hits, with one limit from both their
    /// limits ([`Rate::price`]), and with none if both have. None if one has no hit and the other few,
    /// either has no trial, or the clusters don't differ.
    ///
    /// # Errors
    /// If sums were too large.
    pub fn price_ratio(&self, level: Level) -> Result<Option<Estimate>, StatsError> {
        let [first, second] = &self.rates;
        let hits = self.rates.map(|rate| rate.effective_hits());
        if first.clusters() == 0 || second.clusters() == 0 {
            return Ok(None);
        }
        let prices = [first.mean_price()?, second.mean_price()?];
        let law = |limit| FewHits { limit, effective: hits };
        let limit = match [first.is_rare(), second.is_rare()] {
            [false, false] => {
                let ratio = Estimate::if_known(self.sums.ratio_of_ratios(level))?;
                let times = first.doubt()?.max(second.doubt()?);
                return ratio.map(|ratio| ratio.less_sure(times)).transpose();
            }
            [true, true] if hits.contains(&0.0) => return Ok(None),
            [true, true] => Some(Limit::None),
            [true, false] => second.limit(Limit::By, first, level)?,
            [false, true] => first.limit(Limit::Of, second, level)?,
        };
        Ok(limit.map(|limit| few_hits(prices[0] / prices[1], law(limit), level)))
    }
}

impl AddAssign for RatePair {
    fn add_assign(&mut self, other: Self) {
        self.sums += other.sums;
        for (rate, other) in self.rates.iter_mut().zip(other.rates) {
            *rate += other;
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use statrs::distribution::{Beta, ContinuousCDF};

    use super::*;
    use crate::test_support::{assert_close, assert_relative};

    fn rate(clusters: &[[i128; 4]]) -> Rate {
        let mut rate = Rate::default();
        for &[weight, hits, trials, cost] in clusters {
            rate.add(RateCluster { weight, hits, trials, cost });
        }
        rate
    }

    #[test]
    fn many_hits_give_the_intervals_of_clusters() {
        let clusters: Vec<[i128; 4]> =
            (0..200).map(|i| [1, i % 3, 4 + i % 5, 20 + i % 7]).collect();
        let rate = rate(&clusters);
        assert!(!rate.is_rare());
        let [mut shares, mut costs] = [Clusters::<2>::default(); 2];
        for &[_, hits, trials, cost] in &clusters {
            shares.add([hits, trials]);
            costs.add([cost, hits]);
        }
        let level = Level::default();
        assert_eq!(rate.share(level).unwrap(), shares.share(level).unwrap().into());
        assert_eq!(rate.cost_per_hit(level).unwrap(), costs.cost(level).unwrap().into());
    }

    #[test]
    fn few_hits_give_one_end_by_hand() {
        // Ten clusters of 8 trials that cost 24; two of them have hits, 1 and 3.
        let mut clusters = vec![[1, 0, 8, 24]; 8];
        clusters.extend([[1, 1, 8, 24], [1, 3, 8, 24]]);
        let rate = rate(&clusters);
        assert_close(rate.effective_hits(), 16.0 / 10.0, 1e-15);
        // Clopper and Pearson by the beta distribution: 97.5 % of B(3, 8) lie below.
        let upper = Beta::new(3.0, 8.0).unwrap().inverse_cdf(0.975);
        let share = rate.share(Level::default()).unwrap();
        assert_eq!((share.value, share.low), (Some(4.0 / 80.0), None));
        assert_relative(share.high.unwrap(), upper * 3.0 / 8.0, 1e-9);
        let price = rate.cost_per_hit(Level::default()).unwrap();
        assert_eq!((price.value, price.high), (Some(240.0 / 4.0), None));
        assert_relative(price.low.unwrap(), 24.0 / (upper * 3.0), 1e-9);
    }

    fn pair(clusters: &[[[i128; 3]; 2]]) -> RatePair {
        let mut pair = RatePair::default();
        for sides in clusters {
            pair.add(sides.map(|[hits, trials, cost]| RateCluster {
                weight: 1,
                hits,
                trials,
                cost,
            }));
        }
        pair
    }

    #[test]
    fn ratios_of_prices_by_hand() {
        // Two of fifty clusters have a hit of the first look: worth 2, and each costs 3.
        let clusters: Vec<[[i128; 3]; 2]> =
            (0..50).map(|i| [[i128::from(i < 2), 1, 3], [1, 1, 10 + i % 3]]).collect();
        let level = Level::default();
        let few = pair(&clusters).price_ratio(level).unwrap().unwrap();
        let dear = 50.0 * 3.0 / 2.0;
        assert_relative(few.value, dear / (549.0 / 50.0), 1e-12);
        let [first, second] = pair(&clusters).rates().map(|rate| rate.cost_per_hit(level).unwrap());
        assert_relative(few.interval.low, first.low.unwrap() / second.high.unwrap(), 1e-9);
        assert_eq!((few.interval.high, few.method), (f64::INFINITY, Method::FewHits));
        // The p-value is the error rate at which the limit is the bound.
        let p = few.p_value(few.interval.low).unwrap();
        assert_relative(p, level.error_rate(), 1e-6);
        // The other way round, the limit is an upper one.
        let turned: Vec<_> = clusters.iter().map(|&[a, b]| [b, a]).collect();
        let turned = pair(&turned).price_ratio(level).unwrap().unwrap();
        assert_relative(turned.interval.high, 1.0 / few.interval.low, 1e-9);
        assert_relative(turned.p_value(turned.interval.high).unwrap(), p, 1e-6);
    }

    #[test]
    fn few_hits_of_both_looks_set_no_limit() {
        let few: Vec<[[i128; 3]; 2]> =
            (0..50).map(|i| [[i128::from(i < 2), 1, 3], [i128::from(i < 4), 1, 3]]).collect();
        let ratio = pair(&few).price_ratio(Level::default()).unwrap().unwrap();
        assert_eq!((ratio.value, ratio.p_value(1.0).unwrap()), (2.0, 1.0));
        assert_eq!(Limits::from(ratio), Limits { value: Some(2.0), low: None, high: None });
        let none: Vec<[[i128; 3]; 2]> =
            (0..50).map(|i| [[0, 1, 3], [i128::from(i < 4), 1, 3]]).collect();
        assert_eq!(pair(&none).price_ratio(Level::default()).unwrap(), None);
        assert_eq!(pair(&[]).price_ratio(Level::default()).unwrap(), None);
    }

    #[test]
    fn heavy_clusters_count_as_the_few_that_they_are_worth() {
        // One of weight 3, 30 of weight 1: worth 33² / (9 + 30) clusters, and so are their trials; the
        // heavy one has 2 hits in 6 trials. An error from so many may be 1.4 by the root too small.
        let mut clusters = vec![[1, 0, 6, 0]; 30];
        clusters.push([3, 6, 18, 0]);
        let kish = 33.0 * 33.0 / 39.0f64;
        let worth = kish * (1.0 - 1.4 / kish.sqrt()).powi(2);
        let with_hit = worth * 3.0 / 33.0;
        let upper = Beta::new(with_hit + 1.0, worth - with_hit).unwrap().inverse_cdf(0.975);
        let share = rate(&clusters).share(Level::default()).unwrap();
        assert_relative(share.high.unwrap(), upper * 2.0 / 6.0, 1e-9);
    }

    /// Weights 1 and 3 by turns: 400 clusters are worth (800)² / 2000 = 320 that all are hits.
    #[test]
    fn where_all_trials_are_hits_the_clusters_tell_how_sure_that_is() {
        let clusters: Vec<[i128; 4]> =
            (0..400).map(|i| [1, 4, 4, 0].map(|n| n * (1 + 2 * (i % 2)))).collect();
        let share = rate(&clusters).share(Level::default()).unwrap();
        assert_eq!((share.value, share.high), (Some(1.0), Some(1.0)));
        assert_relative(share.low.unwrap(), 0.025f64.powf(1.0 / 320.0), 1e-12);
    }

    /// Weights 1 and 3 by turns: 200 clusters with a hit are worth (400)² / 1000 = 160.
    #[test]
    fn clusters_of_different_weight_are_less_sure() {
        let clusters: Vec<[i128; 4]> = (0..400)
            .map(|i| [1, i128::from(i < 200), 4, 7].map(|n| n * (1 + 2 * (i % 2))))
            .collect();
        let rate = rate(&clusters);
        assert_close(rate.effective_hits(), 160.0, 1e-12);
        let level = Level::default();
        let doubt = 1.0 / (1.0 - 1.4 / 160.0f64.sqrt());
        let plain = rate.sums.pick([2, 0]).cost(level).unwrap();
        let price = rate.price(level).unwrap().unwrap();
        let error = |estimate: &Estimate| estimate.standard_error().unwrap();
        assert_relative(error(&price), error(&plain) * doubt, 1e-12);
        // All trials cost the same, so the price is the inverse of the share; one in eight is a hit, and the
        // odds vary more than the share does.
        let share = rate.sums.pick([0, 1]).share_in_doubt(level).unwrap();
        assert_relative(error(&share), error(&price) / (1.0 - 0.125), 1e-12);
        assert_eq!(rate.share(level).unwrap(), share.into());
    }

    #[test]
    fn nothing_says_nothing_and_a_rate_is_never_above_1() {
        let level = Level::default();
        let none = rate(&[[1, 0, 0, 0]]);
        assert_eq!(none.clusters(), 0);
        assert_eq!(none.share(level).unwrap(), Limits::default());
        assert_eq!(none.cost_per_hit(level).unwrap(), Limits::default());
        let full = rate(&[[1, 2, 2, 4]]);
        assert_eq!(full.share(level).unwrap().high, Some(1.0));
        assert_eq!(full.cost_per_hit(level).unwrap().value, Some(2.0));
    }

    proptest! {
        #[test]
        fn clusters_without_hits_can_be_added_apart(
            clusters in prop::collection::vec(prop::array::uniform3(0i128..9), 0..20),
        ) {
            let cluster = |&[w, h, t]: &[i128; 3]| [w + 1, h, h + t, 0];
            let all: Vec<[i128; 4]> = clusters.iter().map(cluster).collect();
            let with_hits: Vec<_> = all.iter().copied().filter(|cluster| cluster[1] > 0).collect();
            let trials: Vec<_> = all.iter().map(|&[w, _, t, _]| [w, 0, t, 0]).collect();
            let apart = rate(&with_hits).among(&rate(&trials));
            let together = rate(&all);
            prop_assert_eq!(apart.sums, together.sums);
            prop_assert_eq!(apart.weights, together.weights);
            let level = Level::default();
            prop_assert_eq!(apart.share(level).unwrap(), together.share(level).unwrap());
            let text = serde_json::to_string(&apart).unwrap();
            prop_assert_eq!(serde_json::from_str::<Rate>(&text).unwrap(), apart);
        }

        #[test]
        fn merging_is_adding(
            clusters in prop::collection::vec(prop::array::uniform4(0i128..50), 0..20),
            cut in 0usize..20,
        ) {
            let clusters: Vec<[i128; 4]> =
                clusters.into_iter().map(|[w, h, t, c]| [w + 1, h, h + t, c]).collect();
            let (first, second) = clusters.split_at(cut.min(clusters.len()));
            let mut merged = rate(second);
            merged += rate(first);
            let all = rate(&clusters);
            let level = Level::default();
            prop_assert_eq!(merged.share(level).unwrap(), all.share(level).unwrap());
            prop_assert_eq!(merged.cost_per_hit(level).unwrap(), all.cost_per_hit(level).unwrap());
        }
    }

    /// How often a one-sided end covers, where hits are rare and come in bursts.
    #[test]
    fn few_hits_cover_at_least_as_often_as_promised() {
        use rand::{RngExt, SeedableRng};
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let (chance, burst, trials) = (0.004, 3, 9);
        let truth = chance * f64::from(burst) / f64::from(trials);
        let (mut covered, mut rare, runs) = (0, 0, 2000);
        for _ in 0..runs {
            let mut rate = Rate::default();
            for _ in 0..1000 {
                let hits = if random.random_bool(chance) { i128::from(burst) } else { 0 };
                rate.add(RateCluster { weight: 1, hits, trials: trials.into(), cost: 0 });
            }
            rare += u32::from(rate.is_rare());
            let high = rate.share(Level::default()).unwrap().high.unwrap();
            covered += u32::from(high >= truth);
        }
        assert_eq!(rare, runs);
        // 97.5 % promised; four standard deviations of the count are 28.
        assert!(covered >= 1950 - 28, "{covered} of {runs}");
    }

    /// How often the one limit of a ratio covers, where the hits of the first are rare.
    #[test]
    fn limits_of_ratios_cover_at_least_as_often_as_promised() {
        use rand::{RngExt, SeedableRng};
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(2);
        let (chance, often, cost) = (0.01, 0.3, 12);
        let truth = often / chance;
        let (mut covered, runs) = (0, 2000);
        for _ in 0..runs {
            let mut pair = RatePair::default();
            for _ in 0..1000 {
                let rate = |chance, random: &mut rand_chacha::ChaCha8Rng| RateCluster {
                    weight: 1,
                    hits: i128::from(random.random_bool(chance)),
                    trials: 1,
                    cost,
                };
                pair.add([rate(chance, &mut random), rate(often, &mut random)]);
            }
            let ratio = pair.price_ratio(Level::default()).unwrap().unwrap();
            covered += u32::from(ratio.interval.low <= truth);
        }
        // 95 % promised by both limits together; four standard deviations of the count are 39.
        assert!(covered >= 1900 - 39, "{covered} of {runs}");
    }
}
