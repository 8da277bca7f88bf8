//! How far an estimate may be off.

use crate::Level;
use crate::student::Student;

/// A standard error above 0, from so many clusters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Spread {
    pub(crate) standard_error: f64,
    pub(crate) clusters: u64,
}

impl Spread {
    fn law(self) -> Student {
        Student::new(self.clusters - 1)
    }

    /// How far the interval reaches to either side.
    pub(crate) fn reach(self, level: Level) -> f64 {
        self.reach_of(level.error_rate() / 2.0)
    }

    /// The distance beyond which this much of the probability lies on one side.
    pub(crate) fn reach_of(self, tail: f64) -> f64 {
        self.law().upper_quantile(tail) * self.standard_error
    }

    /// The probability beyond this distance on one side.
    pub(crate) fn upper_tail(self, distance: f64) -> f64 {
        self.law().upper_tail(distance / self.standard_error)
    }
}
