//! What is reported of an order, on puzzles that had no part in choosing it.

use serde::Serialize;
use tallyhouse_engine::effort::{GlanceWeights, Glances};
use tallyhouse_stats::{
    ClusterSums, Estimate, Interval, Level, PairedCounts, RatioEstimate, Share, StatsError,
};

use super::evaluate::{PuzzleEffort, Totals};

/// Weighted glances are summed as whole millionths, so that sums are exact. With whole weights
/// nothing is rounded; otherwise each puzzle is off by at most half a millionth.
const MILLION: f64 = 1e6;

/// Sums of glances by what was examined, without weights.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct RawGlances {
    /// Open cells looked at.
    pub cells_seen: u64,
    /// Places looked at to gather those of a digit.
    pub places_gathered: u64,
    /// Cells or digits tried as the next of a set.
    pub tries: u64,
}

impl From<Glances> for RawGlances {
    fn from(glances: Glances) -> Self {
        let Glances { cells_seen, places_gathered, tries } = glances;
        Self { cells_seen, places_gathered, tries }
    }
}

/// Effort and reach of one order on one set of puzzles.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Measured {
    /// Raw glances, summed over the puzzles.
    pub raw: RawGlances,
    /// Weighted glances per puzzle, with standard error and number of puzzles.
    pub glances: RatioEstimate,
    /// The mean glances with their 95 % interval; none if all puzzles cost the same.
    pub glances_estimate: Option<Estimate>,
    /// Puzzles on which the order reaches as much as the full ladder, of all puzzles.
    pub reached: Share,
    /// Wilson's 95 % interval of that share.
    pub reached_interval: Interval,
}

impl Measured {
    pub(super) fn of(
        efforts: &[PuzzleEffort],
        weights: &GlanceWeights,
    ) -> Result<Self, StatsError> {
        let totals = Totals::of(efforts);
        let mut sums = ClusterSums::default();
        for effort in efforts {
            sums.add(millionths(effort.glances, weights)?, 1);
        }
        let glances = in_glances(sums.ratio()?);
        let reached = Share::new(totals.reached, totals.puzzles)?;
        Ok(Self {
            raw: totals.glances.into(),
            glances,
            glances_estimate: glances.estimate(Level::P95),
            reached,
            reached_interval: reached.wilson(Level::P95),
        })
    }
}

/// One order against another on the same puzzles, all intervals 95 %.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// Mean difference of weighted glances per puzzle, this order minus the other.
    pub more_glances: RatioEstimate,
    /// The same with its interval; none if the difference is the same for every puzzle.
    pub more_glances_estimate: Option<Estimate>,
    /// Glances of this order per glance of the other (sums over all puzzles); none if that has no
    /// standard error.
    pub relative_glances: Option<Estimate>,
    /// Two-sided p-value of "both cost the same on average", by Student's t.
    pub glances_p: f64,
    /// Puzzles fully reached by both, this order only, the other only, neither.
    pub reached: PairedCounts,
    /// Puzzles fully reached by this order only.
    pub this_only: u64,
    /// Puzzles fully reached by the other order only.
    pub other_only: u64,
    /// Difference of the shares fully reached, by Newcombe's interval for paired data.
    pub more_reached: Estimate,
    /// p-value of "both reach as many puzzles", by McNemar's exact test.
    pub reached_p: f64,
    /// `glances_p` after Holm's correction over all tests of the report.
    pub glances_p_holm: f64,
    /// `reached_p` after Holm's correction over all tests of the report.
    pub reached_p_holm: f64,
}

impl Comparison {
    /// Compares efforts on the same puzzles; p-values are not corrected yet.
    pub(super) fn of(
        here: &[PuzzleEffort],
        there: &[PuzzleEffort],
        weights: &GlanceWeights,
    ) -> Result<Self, StatsError> {
        let (mut difference, mut relative) = (ClusterSums::default(), ClusterSums::default());
        // Both, here only, there only, neither.
        let mut reached = [0; 4];
        for (here, there) in here.iter().zip(there) {
            let (cost, other) =
                (millionths(here.glances, weights)?, millionths(there.glances, weights)?);
            difference.add(cost - other, 1);
            relative.add(cost, other.unsigned_abs());
            reached[usize::from(!here.reached) * 2 + usize::from(!there.reached)] += 1;
        }
        let [both, here_only, there_only, neither] = reached;
        let reached = PairedCounts::new(both, here_only, there_only, neither)?;
        let more_glances = in_glances(difference.ratio()?);
        // A difference without any spread shows no sampling error and supports no test.
        let glances_p = match (more_glances.p_value_below(0.0)?, more_glances.p_value_above(0.0)?) {
            (Some(below), Some(above)) => (2.0 * below.min(above)).min(1.0),
            _ => 1.0,
        };
        let reached_p = reached.p_value_equal();
        Ok(Self {
            more_glances,
            more_glances_estimate: more_glances.estimate(Level::P95),
            relative_glances: relative.ratio()?.estimate(Level::P95),
            glances_p,
            reached,
            this_only: here_only,
            other_only: there_only,
            more_reached: reached.difference(Level::P95),
            reached_p,
            glances_p_holm: glances_p,
            reached_p_holm: reached_p,
        })
    }
}

fn millionths(glances: Glances, weights: &GlanceWeights) -> Result<i64, StatsError> {
    let cost = (glances.cost(weights) * MILLION).round();
    // Half of the range leaves room for differences.
    if cost < i64::MAX as f64 / 2.0 { Ok(cost as i64) } else { Err(StatsError::Overflow) }
}

fn in_glances(estimate: RatioEstimate) -> RatioEstimate {
    RatioEstimate {
        ratio: estimate.ratio / MILLION,
        standard_error: estimate.standard_error / MILLION,
        ..estimate
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn effort(cells_seen: u64, tries: u64, reached: bool) -> PuzzleEffort {
        PuzzleEffort { glances: Glances { cells_seen, places_gathered: 0, tries }, reached }
    }

    #[test]
    fn four_puzzles_by_hand() {
        let weights = GlanceWeights::new(1.0, 1.0, 0.5).unwrap();
        // Costs 10, 20, 30, 40 and 12, 20, 36, 44: differences −2, 0, −6, −4.
        let here =
            [effort(9, 2, true), effort(20, 0, true), effort(30, 0, false), effort(0, 80, true)];
        let there =
            [effort(12, 0, true), effort(0, 40, true), effort(36, 0, true), effort(44, 0, false)];
        let measured = Measured::of(&here, &weights).unwrap();
        assert_eq!(measured.raw, RawGlances { cells_seen: 59, places_gathered: 0, tries: 82 });
        assert_eq!(measured.glances.ratio, 25.0);
        // Sum of squares 225 + 25 + 25 + 225 = 500, divided by 3·4.
        assert!((measured.glances.standard_error - (500.0f64 / 12.0).sqrt()).abs() < 1e-12);
        assert_eq!((measured.reached.hits(), measured.reached.trials()), (3, 4));
        let compared = Comparison::of(&here, &there, &weights).unwrap();
        assert_eq!(compared.more_glances.ratio, -3.0);
        // Squares about −3: 1 + 9 + 9 + 1 = 20.
        assert!((compared.more_glances.standard_error - (20.0f64 / 12.0).sqrt()).abs() < 1e-12);
        assert!((compared.relative_glances.unwrap().value - 100.0 / 112.0).abs() < 1e-12);
        assert_eq!(compared.reached, PairedCounts::new(2, 1, 1, 0).unwrap());
        assert_eq!((compared.more_reached.value, compared.reached_p), (0.0, 1.0));
        // t = −3/√(5/3) = −2.3238 with 3 degrees of freedom: two-sided p = 0.1027. The law of t
        // with 3 degrees in closed form: 1/2 + (atan(u) + u/(1 + u²))/π, u = t/√3 (handbook).
        let u = 3.0 / (5.0f64 / 3.0).sqrt() / 3.0f64.sqrt();
        let tail = 0.5 - (u.atan() + u / (1.0 + u * u)) / std::f64::consts::PI;
        assert!((compared.glances_p - 2.0 * tail).abs() < 1e-9, "{}", compared.glances_p);
    }

    #[test]
    fn an_order_against_itself_differs_in_nothing() {
        let efforts = [effort(1, 2, true), effort(3, 4, false), effort(5, 5, true)];
        let compared = Comparison::of(&efforts, &efforts, &GlanceWeights::default()).unwrap();
        assert_eq!((compared.more_glances.ratio, compared.glances_p), (0.0, 1.0));
        assert_eq!((compared.more_reached.value, compared.reached_p), (0.0, 1.0));
        assert!(compared.more_glances_estimate.is_none());
    }

    #[test]
    fn costs_beyond_all_bounds_are_refused() {
        let heavy = GlanceWeights::new(1e300, 1.0, 1.0).unwrap();
        let efforts = [effort(1, 2, true); 2];
        assert_eq!(Measured::of(&efforts, &heavy), Err(StatsError::Overflow));
    }
}
