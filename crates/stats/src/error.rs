/// Input that has no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StatsError {
    /// The level of confidence is not strictly between 0 and 1.
    #[error("a level of confidence lies between 0 and 1, found {0}")]
    Level(f64),
    /// There is nothing to take a share of.
    #[error("a share needs at least one trial, found none")]
    NoTrials,
    /// More hits than trials.
    #[error("found {hits} hits in {trials} trials, expected at most as many hits as trials")]
    HitsExceedTrials {
        /// The hits.
        hits: u64,
        /// The trials.
        trials: u64,
    },
    /// The counts of a paired table sum to more than 64 bits hold.
    #[error("the counts of the paired table sum to more than 2^64")]
    TableTooLarge,
    /// A threshold for a share is outside 0 to 1.
    #[error("a threshold for a share lies from 0 to 1, found {0}")]
    Threshold(f64),
    /// A bound for a ratio is not finite.
    #[error("a bound for a ratio is a finite number, found {0}")]
    Bound(f64),
    /// Too few clusters to see how much they differ.
    #[error("expected at least 2 clusters, found {0}")]
    TooFewClusters(u64),
    /// Too few values for this statistic.
    #[error("expected at least {expected} values, found {found}")]
    TooFewValues {
        /// The least number.
        expected: u64,
        /// The number found.
        found: u64,
    },
    /// The sizes of all clusters sum to zero.
    #[error("the sizes of the clusters sum to 0, so there is no ratio")]
    NoSize,
    /// More clusters than the population has.
    #[error("found {clusters} clusters from a population of {population}")]
    Population {
        /// The clusters sampled.
        clusters: u64,
        /// The clusters there are.
        population: u64,
    },
    /// The sums are too large to stay exact.
    #[error("the sums of squares leave the range in which they are exact")]
    Overflow,
    /// A weight is negative or not finite.
    #[error("a weight is a finite number and not negative, found {0}")]
    Weight(f64),
    /// No weight is positive.
    #[error("expected at least one positive weight, found none")]
    NoWeight,
    /// The mean of a stratum is not finite, or its variance is negative or not finite.
    #[error(
        "a stratum has a finite mean and a variance of at least 0, found {mean} and {variance}"
    )]
    Stratum {
        /// The mean found.
        mean: f64,
        /// The variance found.
        variance: f64,
    },
    /// A p-value is outside 0 to 1.
    #[error("a p-value lies from 0 to 1, found {0}")]
    PValue(f64),
    /// The numbers of a cluster are not finite.
    #[error("cluster {index} (counted from 0) has a number that isn't finite")]
    Cluster {
        /// Where it is in the slice.
        index: usize,
    },
    /// No resamples were asked for.
    #[error("expected at least 2 resamples, found {0}")]
    TooFewResamples(u32),
    /// The statistic has no finite value.
    #[error("the statistic isn't finite for the sums {y} and {x}")]
    Statistic {
        /// The first sum.
        y: f64,
        /// The second sum.
        x: f64,
    },
}
