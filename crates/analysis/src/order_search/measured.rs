//! What is reported of an order, on puzzles that had no part in choosing it.

use serde::Serialize;
use tallyhouse_engine::Order;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_stats::{Clusters, Estimate, Interval, Level, PairedCounts, Share, StatsError};
use tallyhouse_words as words;

use super::evaluate::{PuzzleEffort, Totals};
use crate::{Coverage, RawGlances};

/// One puzzle, where weighted glances are counted in millionths.
pub(super) const PUZZLE: i128 = 1_000_000;

/// A mean per puzzle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PuzzleMean {
    /// The mean.
    #[serde(rename = "ratio")]
    pub value: f64,
    /// Its standard error; 0 if all puzzles are alike.
    pub standard_error: f64,
    /// The number of puzzles.
    #[serde(rename = "clusters")]
    pub puzzles: u64,
}

impl PuzzleMean {
    /// Returns the mean cost by clusters of (cost, size), with its interval if they differ.
    pub(crate) fn of_costs(
        costs: &Clusters<2>,
        level: Level,
    ) -> Result<(Self, Option<Estimate>), StatsError> {
        Self::of(costs.quotient()?, costs.clusters(), costs.mean_by_weight(level))
    }

    fn of(
        value: f64,
        puzzles: u64,
        estimate: Result<Estimate, StatsError>,
    ) -> Result<(Self, Option<Estimate>), StatsError> {
        let estimate = Estimate::if_known(estimate)?;
        let standard_error = estimate.as_ref().and_then(Estimate::standard_error).unwrap_or(0.0);
        Ok((Self { value, standard_error, puzzles }, estimate))
    }

    /// Writes the mean with its interval, or with three digits without.
    pub(crate) fn words(&self, estimate: Option<Estimate>) -> String {
        estimate.map_or_else(
            || words::rounded(self.value, 3),
            |estimate| words::Measured::from(estimate).number(),
        )
    }
}

/// Effort and reach of one order on one set of puzzles.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Measured {
    /// Raw glances, summed over the puzzles.
    pub raw: RawGlances,
    /// Weighted glances per puzzle.
    pub glances: PuzzleMean,
    /// The mean glances with their interval; none if all puzzles cost the same.
    pub glances_estimate: Option<Estimate>,
    /// Puzzles on which the order reaches as much as the full ladder, of all puzzles.
    pub reached: Share,
    /// Wilson's interval of that share; none if the order can't reach less by the definitions: see
    /// [`Coverage::clears_all`].
    pub reached_interval: Option<Interval>,
}

/// What an order cost and reached on puzzles that come block by block.
#[derive(Default)]
pub(super) struct MeasuredSums {
    totals: Totals,
    costs: Clusters<2>,
}

impl MeasuredSums {
    /// Adds puzzles.
    pub(super) fn add(&mut self, efforts: &[PuzzleEffort], weights: &GlanceWeights) {
        for effort in efforts {
            self.totals.add(effort);
            self.costs.add([effort.glances.millionths(weights), PUZZLE]);
        }
    }

    pub(super) fn finish(&self, order: &Order, level: Level) -> Result<Measured, StatsError> {
        let Self { totals, costs } = self;
        let (glances, glances_estimate) = PuzzleMean::of_costs(costs, level)?;
        let reached = Share::new(totals.reached, totals.puzzles)?;
        Ok(Measured {
            raw: totals.glances.into(),
            glances,
            glances_estimate,
            reached,
            reached_interval: (!Coverage::of(order).clears_all()).then(|| reached.wilson(level)),
        })
    }
}

impl Measured {
    /// Writes the mean glances with their interval.
    #[must_use]
    pub fn glances_words(&self) -> String {
        self.glances.words(self.glances_estimate)
    }

    /// Writes the share that is fully reached with its interval, or that it follows from definitions.
    #[must_use]
    pub fn reached_words(&self) -> String {
        self.reached_interval.map_or_else(
            || "by the definitions".to_owned(),
            |Interval { low, high }| {
                words::Measured { value: self.reached.value(), low, high }.percent()
            },
        )
    }
}

/// What one order costs more than another on the same puzzles.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CostDifference {
    /// Mean difference of weighted glances per puzzle, this order minus the other.
    pub more_glances: PuzzleMean,
    /// The same with its interval; none if the difference is the same for every puzzle.
    pub more_glances_estimate: Option<Estimate>,
    /// Glances of this order per glance of the other (sums over all puzzles); none if that has no
    /// standard error.
    pub relative_glances: Option<Estimate>,
    /// Two-sided p-value of "both cost the same on average", by Student's t.
    pub p: f64,
    /// `p` after Holm's correction over all tests of the report.
    pub p_holm: f64,
}

impl CostDifference {
    /// Compares by clusters of (cost, cost of the other, size); the p-value is not corrected yet.
    pub(crate) fn of_costs(costs: &Clusters<3>, level: Level) -> Result<Self, StatsError> {
        let difference = costs.pick([0, 2]).quotient()? - costs.pick([1, 2]).quotient()?;
        let (more_glances, more_glances_estimate) =
            PuzzleMean::of(difference, costs.clusters(), costs.difference(level))?;
        // A difference without any spread shows no sampling error and supports no test.
        let p = more_glances_estimate.map_or(Ok(1.0), |estimate| estimate.p_value(0.0))?;
        let relative_glances = Estimate::if_known(costs.pick([0, 1]).ratio(level))?;
        Ok(Self { more_glances, more_glances_estimate, relative_glances, p, p_holm: p })
    }

    /// Tests if it is shown to cost less: the interval of the difference lies below 0.
    #[must_use]
    pub fn saves(&self) -> bool {
        self.more_glances_estimate.is_some_and(|estimate| estimate.interval.high < 0.0)
    }

    /// Writes how many glances more it costs, with the interval.
    #[must_use]
    pub fn words(&self) -> String {
        self.more_glances.words(self.more_glances_estimate)
    }

    /// Writes by which part of the other's glances it costs less or more, with the interval.
    #[must_use]
    pub fn less_or_more(&self) -> String {
        match &self.relative_glances {
            Some(ratio) if ratio.value > 1.0 => format!("{} more", more(ratio).percent_change()),
            _ => format!("{} less", self.saved()),
        }
    }

    /// Writes which part of the other's glances it saves, with the interval: below 0 if it costs more.
    #[must_use]
    pub fn saved(&self) -> String {
        self.relative_glances.map_or_else(
            || "–".to_owned(),
            |Estimate { value, interval: Interval { low, high }, .. }| {
                let saved = |share: f64| 1.0 - share;
                words::Measured { value: saved(value), low: saved(high), high: saved(low) }
                    .percent_change()
            },
        )
    }
}

/// One order against another on the same puzzles.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// What this order costs more.
    pub cost: CostDifference,
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
    /// `reached_p` after Holm's correction over all tests of the report.
    pub reached_p_holm: f64,
}

/// What two orders cost and reached on the same puzzles, which come block by block.
#[derive(Default)]
pub(super) struct ComparisonSums {
    /// Both, here only, there only, neither.
    reached: [u64; 4],
    costs: Clusters<3>,
}

impl ComparisonSums {
    /// Adds puzzles.
    pub(super) fn add(
        &mut self,
        here: &[PuzzleEffort],
        there: &[PuzzleEffort],
        weights: &GlanceWeights,
    ) {
        for (here, there) in here.iter().zip(there) {
            self.reached[usize::from(!here.reached) * 2 + usize::from(!there.reached)] += 1;
            let [here, there] = [here, there].map(|effort| effort.glances.millionths(weights));
            self.costs.add([here, there, PUZZLE]);
        }
    }

    /// Compares them; p-values are not corrected yet.
    pub(super) fn finish(&self, level: Level) -> Result<Comparison, StatsError> {
        let [both, here_only, there_only, neither] = self.reached;
        let reached = PairedCounts::new(both, here_only, there_only, neither)?;
        let reached_p = reached.p_value_equal();
        Ok(Comparison {
            cost: CostDifference::of_costs(&self.costs, level)?,
            reached,
            this_only: here_only,
            other_only: there_only,
            more_reached: reached.difference(level),
            reached_p,
            reached_p_holm: reached_p,
        })
    }
}

/// By how much a ratio exceeds 1.
pub(super) fn more(ratio: &Estimate) -> words::Measured {
    words::Measured::from(*ratio).plus(-1.0)
}

/// All puzzles at once.
#[cfg(test)]
mod of_puzzles {
    use super::*;

    impl Measured {
        pub(in super::super) fn of(
            order: &Order,
            efforts: &[PuzzleEffort],
            weights: &GlanceWeights,
            level: Level,
        ) -> Result<Self, StatsError> {
            let mut sums = MeasuredSums::default();
            sums.add(efforts, weights);
            sums.finish(order, level)
        }
    }

    impl Comparison {
        pub(in super::super) fn of(
            here: &[PuzzleEffort],
            there: &[PuzzleEffort],
            weights: &GlanceWeights,
            level: Level,
        ) -> Result<Self, StatsError> {
            let mut sums = ComparisonSums::default();
            sums.add(here, there, weights);
            sums.finish(level)
        }
    }

    impl CostDifference {
        /// Costs are in millionths.
        pub(in super::super) fn of(
            here: &[i128],
            there: &[i128],
            level: Level,
        ) -> Result<Self, StatsError> {
            let mut costs = Clusters::default();
            here.iter().zip(there).for_each(|(here, there)| costs.add([*here, *there, PUZZLE]));
            Self::of_costs(&costs, level)
        }
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_engine::effort::Glances;

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
        let singles: Order = "naked 1, hidden 1".parse().unwrap();
        let measured = Measured::of(&singles, &here, &weights, Level::default()).unwrap();
        assert_eq!(measured.raw, RawGlances { cells_seen: 59, places_gathered: 0, tries: 82 });
        assert_eq!(measured.glances.value, 25.0);
        // Sum of squares 225 + 25 + 25 + 225 = 500, divided by 3·4.
        assert!((measured.glances.standard_error - (500.0f64 / 12.0).sqrt()).abs() < 1e-12);
        assert_eq!((measured.reached.hits(), measured.reached.trials()), (3, 4));
        let compared = Comparison::of(&here, &there, &weights, Level::default()).unwrap();
        assert_eq!(compared.cost.more_glances.value, -3.0);
        // Squares about −3: 1 + 9 + 9 + 1 = 20.
        assert!(
            (compared.cost.more_glances.standard_error - (20.0f64 / 12.0).sqrt()).abs() < 1e-12
        );
        assert!((compared.cost.relative_glances.unwrap().value - 100.0 / 112.0).abs() < 1e-12);
        assert_eq!(compared.reached, PairedCounts::new(2, 1, 1, 0).unwrap());
        assert_eq!((compared.more_reached.value, compared.reached_p), (0.0, 1.0));
        // t = −3/√(5/3) = −2.3238 with 3 degrees of freedom: two-sided p = 0.1027. The law of t
        // with 3 degrees in closed form: 1/2 + (atan(u) + u/(1 + u²))/π, u = t/√3 (handbook).
        let u = 3.0 / (5.0f64 / 3.0).sqrt() / 3.0f64.sqrt();
        let tail = 0.5 - (u.atan() + u / (1.0 + u * u)) / std::f64::consts::PI;
        assert!((compared.cost.p - 2.0 * tail).abs() < 1e-9, "{}", compared.cost.p);
    }

    /// Base 10 and 12 in turn, here 25 and 28: the ratio 53/22 has residuals ±10/11, so over 40 puzzles
    /// the standard error √(40·(10/11)²·40/39)/440 = 0.01323; t with 39 degrees of freedom is 2.0227.
    #[test]
    fn a_cost_can_more_than_double() {
        let costs = |pair: [i128; 2]| pair.map(|cost| cost * PUZZLE).repeat(20);
        let (here, there) = (costs([25, 28]), costs([10, 12]));
        let difference = CostDifference::of(&here, &there, Level::default()).unwrap();
        assert_eq!(difference.less_or_more(), "141 % (138–144 %) more");
        assert!(!difference.saves());
        let back = CostDifference::of(&there, &here, Level::default()).unwrap();
        assert!(back.less_or_more().starts_with("58.5 % (") && back.saves());
    }

    /// The ladder is what reach is measured by.
    #[test]
    fn what_the_ladder_reaches_is_no_matter_of_data() {
        let efforts = [effort(1, 2, true), effort(3, 4, true)];
        let interval = |order: &Order| {
            let measured =
                Measured::of(order, &efforts, &GlanceWeights::default(), Level::default());
            measured.unwrap().reached_interval
        };
        assert_eq!(interval(&Order::ladder()), None);
        assert!(interval(&"naked 1, hidden 1, naked 2".parse().unwrap()).is_some());
    }

    #[test]
    fn an_order_against_itself_differs_in_nothing() {
        let efforts = [effort(1, 2, true), effort(3, 4, false), effort(5, 5, true)];
        let compared =
            Comparison::of(&efforts, &efforts, &GlanceWeights::default(), Level::default())
                .unwrap();
        assert_eq!((compared.cost.more_glances.value, compared.cost.p), (0.0, 1.0));
        assert_eq!((compared.more_reached.value, compared.reached_p), (0.0, 1.0));
        assert!(compared.cost.more_glances_estimate.is_none());
    }
}
