//! What can be asked of sums over clusters.
//!
//! All standard errors are linearised ("delta"): with R = Σy / Σx and residuals eᵢ = yᵢ − R·xᵢ,
//! SE(R) = √(Σeᵢ² · n/(n − 1)) / Σx over n clusters. It takes the clusters as drawn independently
//! from a population much larger than the sample, and any weights as fixed. The ratio is biased by
//! about 1/n of its value's relative variance, which many clusters make negligible. With few
//! clusters or rare events it is skewed, and the interval misses more on one side than on the other.
//!
//! W. G. Cochran, *Sampling Techniques*, 3rd ed., 1977, ch. 6; S. L. Lohr, *Sampling: Design and
//! Analysis*, on cluster sampling. The tests hold it against the results that both books print.

use ethnum::{I256, U256};

use crate::clusters::{float, square};
use crate::estimate::Law;
use crate::few_hits::FEW_HITS;
use crate::share::{Trials, log_odds};
use crate::spread::Spread;
use crate::{Clusters, Estimate, Interval, Level, Method, Share, StatsError};

/// No ends.
const ANYWHERE: Interval = Interval { low: f64::NEG_INFINITY, high: f64::INFINITY };

/// How many times as large a standard error is taken where clusters differ in weight, from how many
/// clusters' worth of hits it rests on. It is itself uncertain, by something like 1/√n of n clusters, and
/// comes out too small just where heavy clusters are missing: so it is taken to be 1.4 times that too
/// small, and at most ten times too small. The test of coverage with families of splitting tells that
/// this is enough.
pub(crate) fn doubt(worth: f64) -> f64 {
    1.0 / (1.0 - 1.4 / worth.sqrt()).max(0.1)
}

impl Estimate {
    /// The same cost or ratio with a standard error so many times as large.
    pub(crate) fn less_sure(self, times: f64) -> Result<Self, StatsError> {
        let Law::LogStudent(spread) = self.law else { return Ok(self) };
        let Spread { standard_error, clusters } = spread;
        let standard_error = standard_error * times;
        Linearised { value: self.value, standard_error, clusters }.on_log_scale(self.level)
    }
}

/// A ratio of sums, and how far off it may be.
struct Linearised {
    value: f64,
    /// 0 if the first quantity is the same multiple of the second in every cluster.
    standard_error: f64,
    clusters: u64,
}

impl Linearised {
    fn of(sums: &Clusters<2>) -> Result<Self, StatsError> {
        let clusters = enough(sums.clusters())?;
        let (y, x) = (sums.sum(0) as f64, size(sums)?);
        let value = y / x;
        let product = |i, j| float(sums.product(i, j));
        let yy = product(0, 0);
        let xy = value * product(0, 1);
        let xx = value * value * product(1, 1);
        let squares = beyond_rounding(yy - 2.0 * xy + xx, yy + 2.0 * xy.abs() + xx);
        let standard_error = (squares * correction(clusters)).sqrt() / x;
        Ok(Self { value, standard_error, clusters })
    }

    fn spread(&self) -> Result<Spread, StatsError> {
        let &Self { standard_error, clusters, .. } = self;
        if standard_error > 0.0 {
            Ok(Spread { standard_error, clusters })
        } else {
            Err(StatsError::NoSpread)
        }
    }

    /// Value ± t·SE with Student's t for n − 1 degrees of freedom, no further than these ends.
    fn estimate(&self, level: Level, ends: Interval) -> Result<Estimate, StatsError> {
        let spread = self.spread()?;
        let reach = spread.reach(level);
        let interval = Interval {
            low: (self.value - reach).max(ends.low),
            high: (self.value + reach).min(ends.high),
        };
        Ok(Estimate {
            value: self.value,
            interval,
            level,
            method: Method::LinearisedRatio,
            law: Law::Student(spread),
        })
    }

    /// The share whose odds are those of the value, times exp(± t·SE), where the standard error is that of
    /// the logarithm of the odds.
    fn on_odds_scale(&self, level: Level) -> Result<Estimate, StatsError> {
        let (value, spread) = (self.value, self.spread()?);
        let reach = spread.reach(level);
        let odds = log_odds(value);
        let [low, high] = [odds - reach, odds + reach].map(|odds| 1.0 / (1.0 + (-odds).exp()));
        let (method, law) = (Method::LinearisedLogOdds, Law::OddsStudent(spread));
        Ok(Estimate { value, interval: Interval { low, high }, level, method, law })
    }

    /// Value · exp(± t·SE), where the standard error is that of the logarithm.
    fn on_log_scale(&self, level: Level) -> Result<Estimate, StatsError> {
        let (value, spread) = (self.value, self.spread()?);
        let reach = spread.reach(level);
        let interval = Interval { low: value * (-reach).exp(), high: value * reach.exp() };
        let method = Method::LinearisedLogRatio;
        Ok(Estimate { value, interval, level, method, law: Law::LogStudent(spread) })
    }
}

fn enough(clusters: u64) -> Result<u64, StatsError> {
    if clusters < 2 { Err(StatsError::TooFewClusters(clusters)) } else { Ok(clusters) }
}

fn size(sums: &Clusters<2>) -> Result<f64, StatsError> {
    if sums.sum(1) > 0 { Ok(sums.sum(1) as f64) } else { Err(StatsError::NoSize) }
}

fn correction(clusters: u64) -> f64 {
    let count = clusters as f64;
    count / (count - 1.0)
}

/// What rounding alone can leave of a sum of squares counts as zero; `parts` is the sum of the sizes
/// of its terms.
fn beyond_rounding(squares: f64, parts: f64) -> f64 {
    if squares > 8.0 * f64::EPSILON * parts { squares } else { 0.0 }
}

impl Clusters<2> {
    /// Returns Σ first / Σ second, without any interval.
    ///
    /// # Errors
    /// If the second sum is not above 0, or sums were too large.
    pub fn quotient(&self) -> Result<f64, StatsError> {
        let sums = self.reduced()?;
        Ok(sums.sum(0) as f64 / size(&sums)?)
    }

    /// Returns Kish's effective number of clusters, (Σx)² / Σx² over their second quantity x: as
    /// many clusters of equal size would estimate a mean as precisely, if the sizes say nothing
    /// about the values.
    ///
    /// # Errors
    /// If the second sum is not above 0, or sums were too large.
    pub fn effective_size(&self) -> Result<f64, StatsError> {
        let sums = self.reduced()?;
        let size = size(&sums)?;
        Ok(size * size / float(sums.product(1, 1)))
    }

    /// Returns the share Σ hits / Σ size, from 0 to 1, for clusters of (hits, size) with
    /// 0 ≤ hits ≤ size.
    ///
    /// - Clusters of one size of which each is a hit or none: [`Share::estimate`], Wilson's interval,
    ///   and Clopper–Pearson's for rare hits or misses.
    /// - No hits at all, or hits only: Clopper–Pearson's interval for so many trials as the clusters
    ///   are worth by [`Clusters::effective_size`], fractions of a trial left out. Clusters that
    ///   don't differ can't show by themselves how far off the share may be.
    /// - Otherwise the linearised ratio; its interval ends at 0 and 1.
    ///
    /// # Errors
    /// Without a cluster of positive size; if hits sum to less than 0 or to more than the sizes; if
    /// sums were too large; and for clusters that differ in size and have all the same share other
    /// than 0 or 1.
    pub fn share(&self, level: Level) -> Result<Estimate, StatsError> {
        let sums = self.reduced()?;
        let (hits, trials) = (sums.sum(0), sums.sum(1));
        if trials == 0 {
            return Err(StatsError::NoTrials);
        }
        if !(0..=trials).contains(&hits) {
            return Err(StatsError::HitsExceedTrials { hits, trials });
        }
        if let Some(share) = sums.plain_share() {
            return Ok(share.estimate(level));
        }
        if hits == 0 || hits == trials {
            let worth = sums.whole_effective_size();
            return Ok(Share::new(if hits == 0 { 0 } else { worth }, worth)?.estimate(level));
        }
        Linearised::of(&sums)?.estimate(level, Interval { low: 0.0, high: 1.0 })
    }

    /// Returns the share as [`Clusters::share`] does, for clusters whose size is what they weigh: units
    /// by weight, each of which is a hit or none, or families of such units.
    ///
    /// Unless all are alike:
    ///
    /// - With at least 30 effective hits and misses, (Σy)²/Σy² over what hits y of the clusters weigh:
    ///   the linearised ratio on the scale of log odds, with a larger standard error.
    /// - With fewer: Clopper and Pearson's interval for as many trials as the clusters are worth by
    ///   [`Clusters::effective_size`], less what is in doubt. Below 30 effective hits the lower end is 0,
    ///   below 30 misses the upper one is 1: the data don't tell it.
    ///
    /// # Errors
    /// As [`Clusters::share`].
    pub fn share_by_weight(&self, level: Level) -> Result<Estimate, StatsError> {
        let many = self.share_in_doubt(level)?;
        let sums = self.reduced()?;
        let [hits, misses] = sums.effective_of_both();
        if many.method != Method::LinearisedLogOdds || hits.min(misses) >= FEW_HITS {
            return Ok(many);
        }
        let value = sums.quotient()?;
        let worth = sums.effective_size()?;
        let trials = worth / doubt(worth).powi(2);
        let trials = Trials { hits: trials * value, misses: trials * (1.0 - value) };
        let mut interval = trials.exact_interval(level.error_rate() / 2.0);
        if hits < FEW_HITS {
            interval.low = 0.0;
        }
        if misses < FEW_HITS {
            interval.high = 1.0;
        }
        let (method, law) = (Method::ClopperPearsonWorth, Law::Binomial(trials));
        Ok(Estimate { value, interval, level, method, law })
    }

    /// Returns the share as [`Clusters::share`] does, but the linearised ratio, for clusters that differ in
    /// weight, on the scale of log odds and with the standard error larger by what is in doubt.
    ///
    /// # Errors
    /// As [`Clusters::share`].
    pub(crate) fn share_in_doubt(&self, level: Level) -> Result<Estimate, StatsError> {
        let plain = self.share(level)?;
        if plain.method != Method::LinearisedRatio {
            return Ok(plain);
        }
        let sums = self.reduced()?;
        let Linearised { value, standard_error, clusters } = Linearised::of(&sums)?;
        let [hits, misses] = sums.effective_of_both();
        let standard_error = standard_error * doubt(hits.min(misses)) / (value * (1.0 - value));
        Linearised { value, standard_error, clusters }.on_odds_scale(level)
    }

    /// As many clusters of one size would tell as much of hits, and of misses.
    fn effective_of_both(&self) -> [f64; 2] {
        let [yy, xy, xx] = [(0, 0), (0, 1), (1, 1)].map(|(i, j)| self.product(i, j));
        let misses = (self.sum(1) - self.sum(0)) as f64;
        [self.effective(0), misses * misses / float((xx - xy) - (xy - yy))]
    }

    /// Tests if clusters differ in the second quantity: in what they weigh.
    ///
    /// # Errors
    /// As [`Clusters::effective_size`].
    pub(crate) fn is_uneven(&self) -> Result<bool, StatsError> {
        Ok(self.effective_size()? < 0.99 * self.clusters() as f64)
    }

    /// The clusters as trials, if all have one size and each is a hit or none.
    pub(crate) fn plain_share(&self) -> Option<Share> {
        let clusters = I256::from(self.clusters());
        let [hits, trials] = [0, 1].map(|quantity| I256::from(self.sum(quantity)));
        // With the mean size s, the squares (x − s)² and the products y·(s − y) are never negative:
        // their sums are 0 only if each of them is.
        let of_size = |squares, sum| clusters.checked_mul(squares) == Some(trials * sum);
        let plain = of_size(self.product(1, 1), trials) && of_size(self.product(0, 0), hits);
        let hits = hits.checked_mul(clusters)?.checked_div(trials)?;
        plain.then(|| Share::new(u64::try_from(hits).ok()?, self.clusters()).ok())?
    }

    /// Kish's number of clusters, rounded down: (Σx)² ≥ Σx², so it is at least 1.
    fn whole_effective_size(&self) -> u64 {
        let squares = U256::try_from(self.product(1, 1)).unwrap_or(U256::ONE);
        u64::try_from(square(self.sum(1)) / squares).unwrap_or(u64::MAX)
    }

    /// Returns the ratio Σ first / Σ second of quantities that are never negative: a rate per place,
    /// a cost per unit, the cost of one way for that of another. Its interval ends at 0.
    ///
    /// # Errors
    /// With fewer than two clusters; if the second sum is not above 0 or the first is below it; if
    /// sums were too large; and for clusters that don't differ ([`StatsError::NoSpread`]): an
    /// interval of width 0 would claim certainty.
    pub fn ratio(&self, level: Level) -> Result<Estimate, StatsError> {
        let sums = self.reduced()?;
        let linearised = Linearised::of(&sums)?;
        if sums.sum(0) < 0 {
            return Err(StatsError::Sum(sums.sum(0)));
        }
        linearised.estimate(level, Interval { low: 0.0, high: f64::INFINITY })
    }

    /// Returns the ratio Σ first / Σ second where it is the second that varies, as what each of few
    /// hits costs: with its interval on the logarithmic scale, the same as that of the inverse ratio.
    ///
    /// # Errors
    /// As [`Clusters::ratio`], and if the first sum is 0.
    pub fn cost(&self, level: Level) -> Result<Estimate, StatsError> {
        let sums = self.reduced()?;
        let Linearised { value, standard_error, clusters } = Linearised::of(&sums)?;
        if sums.sum(0) <= 0 {
            return Err(StatsError::Sum(sums.sum(0)));
        }
        let standard_error = standard_error / value;
        Linearised { value, standard_error, clusters }.on_log_scale(level)
    }

    /// Returns the mean Σ first / Σ second of values of either sign; its interval is unbounded.
    ///
    /// # Errors
    /// With fewer than two clusters; if the second sum is not above 0; if sums were too large; and
    /// for clusters that don't differ ([`StatsError::NoSpread`]).
    pub fn mean(&self, level: Level) -> Result<Estimate, StatsError> {
        Linearised::of(&self.reduced()?)?.estimate(level, ANYWHERE)
    }

    /// Returns the mean as [`Clusters::mean`] does, for clusters whose size is what they weigh. Where they
    /// differ the standard error is larger, by what is in doubt with k²/2n of n clusters that are worth k:
    /// the more they differ, the fewer hold most of what lies far from the mean.
    ///
    /// # Errors
    /// As [`Clusters::mean`].
    pub fn mean_by_weight(&self, level: Level) -> Result<Estimate, StatsError> {
        let sums = self.reduced()?;
        let mut mean = Linearised::of(&sums)?;
        if sums.is_uneven()? {
            let worth = sums.effective_size()?;
            mean.standard_error *= doubt(worth * worth / (2.0 * sums.clusters() as f64));
        }
        mean.estimate(level, ANYWHERE)
    }
}

impl Clusters<3> {
    /// Returns the mean difference (Σ first − Σ second) / Σ third of paired values: what the same
    /// units cost in two ways, and how many units there are, or what they weigh.
    ///
    /// # Errors
    /// As [`Clusters::mean_by_weight`].
    pub fn difference(&self, level: Level) -> Result<Estimate, StatsError> {
        self.differences()?.mean_by_weight(level)
    }
}

impl Clusters<4> {
    /// Returns the ratio of two ratios over the same clusters,
    /// (Σ first / Σ second) / (Σ third / Σ fourth), with its interval on the logarithmic scale.
    ///
    /// ln R ± t·SE, where SE² = n/(n − 1) · Σ(aᵢ/A − bᵢ/B − cᵢ/C + dᵢ/D)², the linearised standard
    /// error of the logarithm; the quantities may be correlated in any way.
    ///
    /// # Errors
    /// With fewer than two clusters; if a sum is not above 0, or sums were too large; and for
    /// clusters that don't differ ([`StatsError::NoSpread`]).
    pub fn ratio_of_ratios(&self, level: Level) -> Result<Estimate, StatsError> {
        const SIGNS: [f64; 4] = [1.0, -1.0, -1.0, 1.0];
        let sums = self.reduced()?;
        let clusters = enough(sums.clusters())?;
        let totals = [0, 1, 2, 3].map(|i| sums.sum(i));
        if let Some(&sum) = totals.iter().find(|sum| **sum <= 0) {
            return Err(StatsError::Sum(sum));
        }
        let totals = totals.map(|sum| sum as f64);
        let (mut squares, mut parts) = (0.0, 0.0);
        for i in 0..4 {
            for j in 0..4 {
                let part = float(sums.product(i, j)) / totals[i] / totals[j];
                squares += SIGNS[i] * SIGNS[j] * part;
                parts += part.abs();
            }
        }
        let squares = beyond_rounding(squares, parts);
        let value = totals[0] / totals[1] / (totals[2] / totals[3]);
        let standard_error = (squares * correction(clusters)).sqrt();
        Linearised { value, standard_error, clusters }.on_log_scale(level)
    }
}

#[cfg(test)]
mod tests;
