use crate::Method;

/// Input that has no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StatsError {
    /// What was given for a level of confidence is no percentage from 50 to below 100.
    #[error("a level of confidence is a percentage from 50 to below 100, found {0}")]
    Level(String),
    /// There is nothing to take a share of.
    #[error("a share needs at least one trial, found none")]
    NoTrials,
    /// More hits than trials.
    #[error("found {hits} hits in {trials} trials, expected at most as many hits as trials")]
    HitsExceedTrials {
        /// The hits.
        hits: i128,
        /// The trials.
        trials: i128,
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
    /// The clusters are all alike, so that nothing shows how far off their ratio may be.
    #[error("the clusters don't differ, so there is no interval")]
    NoSpread,
    /// A sum that a ratio can't have.
    #[error("expected sums above 0, found {0}")]
    Sum(i128),
    /// The estimate comes with an interval but without a test.
    #[error("an estimate by this method ({0}) has no p-value")]
    NoTest(Method),
    /// The sizes of all clusters sum to zero.
    #[error("the sizes of the clusters sum to 0, so there is no ratio")]
    NoSize,
    /// The sums are too large to stay exact.
    #[error("the sums of squares leave the range in which they are exact")]
    Overflow,
    /// A time that none can take, or counts that are none.
    #[error("a time lies above 0 and its counts are not negative, found a time of {0}")]
    Time(f64),
    /// A p-value is outside 0 to 1.
    #[error("a p-value lies from 0 to 1, found {0}")]
    PValue(f64),
}

impl StatsError {
    /// Tests if more data of the same kind would give an answer.
    #[must_use]
    pub const fn is_lack_of_data(&self) -> bool {
        matches!(self, Self::NoTrials | Self::TooFewClusters(_) | Self::NoSpread | Self::NoSize)
    }

    /// Takes an answer that needs more data of the same kind as none.
    pub(crate) fn if_known<T>(answer: Result<T, Self>) -> Result<Option<T>, Self> {
        match answer {
            Err(error) if error.is_lack_of_data() => Ok(None),
            answer => answer.map(Some),
        }
    }
}
