use std::fmt;

use serde::{Deserialize, Serialize};

/// How an interval was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Method {
    /// Wilson's score interval of a share.
    Wilson,
    /// The exact binomial interval of a share.
    ClopperPearson,
    /// The same for a share by weight, with as many trials as the clusters are worth: see
    /// [`crate::Clusters::share_by_weight`].
    ClopperPearsonWorth,
    /// Difference of two shares from one sample judged twice.
    NewcombePaired,
    /// Ratio of sums over clusters with linearised variance and Student's t.
    LinearisedRatio,
    /// Cost of a hit, or ratio of two: the same on the logarithmic scale.
    LinearisedLogRatio,
    /// Share by weight: the same on the scale of log odds.
    LinearisedLogOdds,
    /// A limit on one side, from clusters with a hit, where hits are few: see [`crate::Rate`].
    FewHits,
    /// People drawn anew, with percentiles moved outwards for few of them: see
    /// [`crate::PaceTimes::estimates`].
    ResampledPeople,
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Wilson => "Wilson",
            Self::ClopperPearson => "Clopper–Pearson",
            Self::ClopperPearsonWorth => {
                "Clopper–Pearson, for as many trials as clusters are worth"
            }
            Self::NewcombePaired => "Newcombe, paired",
            Self::LinearisedRatio => "ratio over clusters, linearised, Student's t",
            Self::LinearisedLogRatio => {
                "ratio over clusters, linearised on the log scale, Student's t"
            }
            Self::LinearisedLogOdds => {
                "ratio over clusters, linearised on the scale of log odds, Student's t"
            }
            Self::FewHits => "few hits, a limit on one side",
            Self::ResampledPeople => "people drawn anew, expanded percentiles",
        })
    }
}
