//! Whether independent runs found orders that cost the same.

use serde::Serialize;
use tallyhouse_stats::{Clusters, Estimate, Interval, Level, Share, StatsError, Threshold};

/// Runs agree where the cost of one for that of another lies in here with its interval.
const ALIKE: Threshold = Threshold::Within([1.0 - AGREEMENT_MARGIN, 1.0 + AGREEMENT_MARGIN]);
/// By how much of their cost the orders of two runs may differ.
pub const AGREEMENT_MARGIN: f64 = 0.01;

/// What the runs found at one reach of the frontier.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReachAgreement {
    /// The training puzzles that are fully reached there; none for the orders that look for all that the
    /// start looks for.
    pub reached: Option<Share>,
    /// For each run the mean glances on the held-out puzzles of its best order that reaches as much.
    pub glances: Vec<f64>,
    /// Of all pairs of runs the one that may differ most: the cost of the costlier order for that of the
    /// other, paired on the held-out puzzles; none if all runs cost the same.
    pub difference: Option<Estimate>,
    /// If each pair of runs costs the same but for [`AGREEMENT_MARGIN`], intervals included.
    pub agrees: bool,
}

/// Whether the runs of a search came to the same.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Agreement {
    /// By rising reach.
    pub reaches: Vec<ReachAgreement>,
    /// If there are at least [`Agreement::LEAST_RUNS`], each of them has walked more than its starts, and
    /// they agree at each reach.
    pub converged: bool,
}

impl Agreement {
    /// Fewer runs can't show that a search has converged.
    pub const LEAST_RUNS: u64 = 3;

    /// Runs that walked no more than where they began have searched nothing.
    pub(super) fn of(reaches: Vec<ReachAgreement>, runs: u64, searched: bool) -> Self {
        let enough = searched && runs >= Self::LEAST_RUNS;
        let converged = enough && reaches.iter().all(|reach| reach.agrees);
        Self { reaches, converged }
    }

    /// Returns the reaches at which the runs don't agree.
    pub fn apart(&self) -> impl Iterator<Item = &ReachAgreement> {
        self.reaches.iter().filter(|reach| !reach.agrees)
    }

    /// Returns the difference between two runs that reaches farthest from none, its interval included.
    #[must_use]
    pub fn widest(&self) -> Option<Estimate> {
        let all = self.reaches.iter().filter_map(|reach| reach.difference);
        all.max_by(|a, b| farthest(a).total_cmp(&farthest(b)))
    }
}

/// What the best orders of several runs cost on the same puzzles, which come block by block.
pub(super) struct RunCosts {
    puzzles: u64,
    /// Of each run, in millionths.
    sums: Vec<i128>,
    pairs: Vec<Pair>,
}

/// What the orders of two runs cost.
struct Pair {
    runs: [usize; 2],
    costs: Clusters<2>,
    /// Whether they cost the same for each puzzle.
    alike: bool,
}

impl RunCosts {
    pub(super) fn new(runs: usize) -> Self {
        let pairs = (0..runs).flat_map(|one| (one + 1..runs).map(move |other| [one, other]));
        let pair = |runs| Pair { runs, costs: Clusters::default(), alike: true };
        Self { puzzles: 0, sums: vec![0; runs], pairs: pairs.map(pair).collect() }
    }

    /// Adds puzzles: what each cost in each run, in millionths.
    pub(super) fn add(&mut self, runs: &[&[i128]]) {
        self.puzzles += runs.first().map_or(0, |costs| costs.len() as u64);
        for (sum, costs) in self.sums.iter_mut().zip(runs) {
            *sum += costs.iter().sum::<i128>();
        }
        for pair in &mut self.pairs {
            let [one, other] = pair.runs.map(|run| runs[run]);
            one.iter().zip(other).for_each(|(one, other)| pair.costs.add([*one, *other]));
            pair.alike &= one == other;
        }
    }

    /// Compares the runs.
    ///
    /// Each pair must agree, so no correction for several tests is due: the chance that all agree by
    /// accident is no greater than that of one of them.
    pub(super) fn finish(
        self,
        reached: Option<Share>,
        level: Level,
    ) -> Result<ReachAgreement, StatsError> {
        let mean = |sum: &i128| *sum as f64 / self.puzzles as f64 / 1e6;
        let mut differences = Vec::new();
        let mut agrees = true;
        for Pair { runs: [one, other], costs, alike } in &self.pairs {
            let more_for_less = if self.sums[*one] < self.sums[*other] { [1, 0] } else { [0, 1] };
            let difference = Estimate::if_known(costs.pick(more_for_less).ratio(level))?;
            agrees &= difference.map_or(*alike, |difference| {
                let Interval { low, high } = difference.interval;
                ALIKE.holds_between(low, high) == Some(true)
            });
            differences.extend(difference);
        }
        let difference = differences.into_iter().max_by(|a, b| farthest(a).total_cmp(&farthest(b)));
        let glances = self.sums.iter().map(mean).collect();
        Ok(ReachAgreement { reached, glances, difference, agrees })
    }
}

fn farthest(ratio: &Estimate) -> f64 {
    (ratio.interval.high - 1.0).max(1.0 - ratio.interval.low)
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;

    /// Costs about 5,000 glances, and the same for another run that takes this share of them, but for
    /// a spread of so many per cent for each puzzle.
    fn planted(share: f64, spread: f64) -> [Vec<i128>; 2] {
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        let costs: Vec<i128> = (0..4000).map(|_| rng.random_range(2_000..8_000)).collect();
        let other = |&cost: &i128| {
            let noise = 1.0 + spread / 100.0 * rng.random_range(-1.0..1.0);
            (cost as f64 * 1e6 * share * noise) as i128
        };
        [costs.iter().map(|cost| cost * 1_000_000).collect(), costs.iter().map(other).collect()]
    }

    fn agreement(runs: &[&[i128]]) -> ReachAgreement {
        // In two blocks.
        let (mut costs, half) = (RunCosts::new(runs.len()), runs[0].len() / 2);
        let halves = [0..half, half..runs[0].len()];
        for half in halves {
            let runs: Vec<&[i128]> = runs.iter().map(|costs| &costs[half.clone()]).collect();
            costs.add(&runs);
        }
        costs.finish(None, Level::default()).unwrap()
    }

    #[test]
    fn runs_agree_within_one_per_cent_interval_included() {
        let [one, other] = planted(1.004, 10.0);
        let close = agreement(&[&one, &other, &one]);
        assert!(close.agrees, "{close:?}");
        assert!((close.difference.unwrap().value - 1.004).abs() < 0.003);
        assert!((close.glances[1] / close.glances[0] - 1.004).abs() < 0.003);
        // Two per cent apart, in the third run alone.
        let [one, far] = planted(0.98, 10.0);
        let apart = agreement(&[&one, &one, &far]);
        assert!(!apart.agrees);
        assert!((apart.difference.unwrap().value - 1.0 / 0.98).abs() < 0.003);
        // Close on average, but the interval is wider than the margin.
        let [one, loose] = planted(1.0, 95.0);
        let loose = agreement(&[&one, &loose]);
        assert!(!loose.agrees && loose.difference.unwrap().interval.width() > 0.02);
    }

    #[test]
    fn a_search_has_converged_if_all_reaches_agree_in_three_runs() {
        let [one, other] = planted(1.0, 5.0);
        let far: Vec<i128> = one.iter().map(|cost| cost * 2).collect();
        let (alike, near, apart) = (
            agreement(&[&one[..]; 3]),
            agreement(&[&one, &other, &one]),
            agreement(&[&one, &far, &one]),
        );
        assert!(alike.agrees && alike.difference.is_none());
        // Twice the cost for each puzzle: there is no spread, and yet they are not alike.
        assert!(!apart.agrees);
        let of = |reaches: &[&ReachAgreement], runs| {
            Agreement::of(reaches.iter().map(|&reach| reach.clone()).collect(), runs, true)
        };
        assert!(!Agreement::of(vec![alike.clone()], 3, false).converged);
        assert!(of(&[&alike, &near], 3).converged);
        assert!(!of(&[&alike, &near], 2).converged);
        let not = of(&[&alike, &apart, &near], 3);
        assert!(!not.converged);
        assert_eq!((not.apart().count(), not.widest()), (1, near.difference));
    }
}
