use std::fmt;

use serde::Serialize;

use crate::Interval;

/// How an interval was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Wilson's score interval of a share.
    Wilson,
    /// The exact binomial interval of a share.
    ClopperPearson,
    /// Difference of two shares from separate samples.
    NewcombeUnpaired,
    /// Difference of two shares from one sample judged twice.
    NewcombePaired,
    /// Ratio of sums over clusters with linearised variance and Student's t.
    LinearisedRatio,
    /// Percentiles of a bootstrap over clusters.
    BootstrapPercentile,
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Wilson => "Wilson",
            Self::ClopperPearson => "Clopper–Pearson",
            Self::NewcombeUnpaired => "Newcombe, separate samples",
            Self::NewcombePaired => "Newcombe, paired",
            Self::LinearisedRatio => "ratio over clusters, linearised, Student's t",
            Self::BootstrapPercentile => "cluster bootstrap, percentiles",
        })
    }
}

/// A value, an interval around it and how the interval was made.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// The point estimate.
    pub value: f64,
    /// The interval.
    pub interval: Interval,
    /// How the interval was made.
    pub method: Method,
}
