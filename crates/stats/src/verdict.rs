//! Numbers from data held against thresholds, several at once.
//!
//! A claim says on which side of a [`Threshold`] a number lies, and data give an [`Estimate`] of it.
//! [`decide`] answers all claims of a family together, with Holm's correction, and says how much more
//! data an open one would need.
//!
//! ```
//! use tallyhouse_stats::{Decision, Level, Question, Share, Threshold, decide};
//!
//! let level = Level::default();
//! let below = |hits, trials| -> Result<Question, tallyhouse_stats::StatsError> {
//!     let estimate = Some(Share::new(hits, trials)?.estimate(level));
//!     Ok(Question { estimate, threshold: Threshold::Below(0.01) })
//! };
//! let answers = decide(&[below(20, 10_000)?, below(90, 10_000)?], level)?;
//! assert_eq!(answers[0].decision, Decision::Supported);
//! // 0.9 % is below 1 %, but ten thousand trials can't show it; about seven times as many could.
//! assert_eq!(answers[1].decision, Decision::Undecided);
//! assert_eq!(answers[1].planned.unwrap().times.round(), 8.0);
//! # Ok::<(), tallyhouse_stats::StatsError>(())
//! ```

use std::fmt;

use serde::{Serialize, Serializer};
use statrs::distribution::{ContinuousCDF, Normal};

use crate::estimate::Law;
use crate::{Estimate, Level, StatsError, holm};

/// The probability with which as much data as [`Planned`] says decides a claim.
pub const POWER: f64 = 0.8;

/// What is known of a claim.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Decision {
    /// The data put the number on the claimed side of the threshold.
    Supported,
    /// The data put the number on the other side.
    Refuted,
    /// The data leave it open.
    Undecided,
    /// It follows from definitions that the claim is true, or that it is false; no data are needed.
    Certain(bool),
}

impl Decision {
    /// Returns the name in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Supported => "supported",
            Self::Refuted => "refuted",
            Self::Undecided => "undecided",
            Self::Certain(true) => "certainly-true",
            Self::Certain(false) => "certainly-false",
        }
    }
}

impl fmt::Display for Decision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.name().replace('-', " "))
    }
}

impl Serialize for Decision {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

/// Where a claim says that a number lies.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Threshold {
    /// Below this.
    Below(f64),
    /// Above this.
    Above(f64),
    /// Between these.
    Within([f64; 2]),
}

impl Threshold {
    /// Returns the numbers at which the answer changes.
    #[must_use]
    pub fn bounds(&self) -> &[f64] {
        match self {
            Self::Below(bound) | Self::Above(bound) => std::slice::from_ref(bound),
            Self::Within(band) => band,
        }
    }

    /// Tests if a number lies where the claim says.
    #[must_use]
    pub fn holds(self, value: f64) -> bool {
        match self {
            Self::Below(bound) => value < bound,
            Self::Above(bound) => bound < value,
            Self::Within([low, high]) => low < value && value < high,
        }
    }

    /// Answers a claim about a number that is known to lie between two others, these included;
    /// `None` if it may lie on either side.
    #[must_use]
    pub fn holds_between(self, least: f64, most: f64) -> Option<bool> {
        let never = match self {
            Self::Below(bound) => bound <= least,
            Self::Above(bound) => most <= bound,
            Self::Within([low, high]) => most <= low || high <= least,
        };
        match self.holds(least) && self.holds(most) {
            true => Some(true),
            false => never.then_some(false),
        }
    }
}

impl fmt::Display for Threshold {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&match self {
            Self::Below(bound) => format!("below {bound}"),
            Self::Above(bound) => format!("above {bound}"),
            Self::Within([low, high]) => format!("from {low} to {high}"),
        })
    }
}

/// Returns the two-sided p-value: twice the smaller tail beyond the threshold. Inside a band both
/// ends must be cleared at once, so the larger of their tails counts.
fn p_value(estimate: &Estimate, threshold: Threshold) -> Result<f64, StatsError> {
    match threshold {
        Threshold::Below(bound) | Threshold::Above(bound) => estimate.p_value(bound),
        Threshold::Within([low, high]) => {
            let tail = if threshold.holds(estimate.value) {
                estimate.p_value_above(low)?.max(estimate.p_value_below(high)?)
            } else {
                estimate.p_value_below(low)?.min(estimate.p_value_above(high)?)
            };
            Ok((2.0 * tail).min(1.0))
        }
    }
}

/// Returns how many times as much data decide at this two-sided error rate with [`POWER`], if the
/// value holds. Inside a band half of the risk of failing goes to either end.
fn times_needed(estimate: &Estimate, threshold: Threshold, error_rate: f64) -> Option<f64> {
    let value = estimate.value;
    let risk = 1.0 - POWER;
    let needed = |bound: f64, risk: f64| times_to_clear(estimate, bound, error_rate, risk);
    let times = match threshold {
        Threshold::Below(bound) | Threshold::Above(bound) => needed(bound, risk),
        Threshold::Within([low, high]) if threshold.holds(value) => {
            needed(low, risk / 2.0).max(needed(high, risk / 2.0))
        }
        Threshold::Within([low, _]) if value <= low => needed(low, risk),
        Threshold::Within([_, high]) => needed(high, risk),
    };
    times.is_finite().then_some(times)
}

/// Infinite if the value is the bound, NaN if the spread is not known.
fn times_to_clear(estimate: &Estimate, bound: f64, error_rate: f64, risk: f64) -> f64 {
    let [sure, powerful] = [error_rate / 2.0, risk].map(upper_z);
    let distance = (estimate.value - bound).abs();
    let by_spread = |error: f64, distance: f64| ((sure + powerful) * error / distance).powi(2);
    match estimate.law {
        // Without a hit, or without a miss, the exact test has a closed form.
        Law::Binomial(share) if share.hits() == 0 => {
            (error_rate / 2.0).ln() / (-bound).ln_1p() / share.trials() as f64
        }
        Law::Binomial(share) if share.hits() == share.trials() => {
            (error_rate / 2.0).ln() / bound.ln() / share.trials() as f64
        }
        // The test goes by the spread at the bound, what happens by that at the value.
        Law::Binomial(share) => {
            let spread = |share: f64| (share * (1.0 - share)).sqrt();
            let reach = sure * spread(bound) + powerful * spread(share.value());
            (reach / distance).powi(2) / share.trials() as f64
        }
        Law::Student(spread) => by_spread(spread.standard_error, distance),
        Law::LogStudent(spread) => {
            by_spread(spread.standard_error, (estimate.value / bound).ln().abs())
        }
        Law::Unknown => f64::NAN,
    }
}

/// The standard normal quantile with this probability above it.
fn upper_z(tail: f64) -> f64 {
    -Normal::standard().inverse_cdf(tail)
}

/// A number and where it is said to lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// The number; none if the data give none.
    pub estimate: Option<Estimate>,
    /// Where it is said to lie.
    pub threshold: Threshold,
}

/// What the data say to one question of a family.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answer {
    /// Supported, refuted or undecided.
    pub decision: Decision,
    /// The two-sided p-value against the threshold.
    pub p_value: f64,
    /// The same after Holm's correction over the family.
    pub p_adjusted: f64,
    /// What would decide an undecided question; none only if nothing would.
    pub planned: Option<Planned>,
}

/// How much data would decide a question with probability [`POWER`], if the value found holds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Planned {
    /// How many times as much data as there are.
    pub times: f64,
    /// By how much Holm's correction multiplies the p-value then: the questions of the family that
    /// are not decided yet, this one included.
    pub holm_factor: u64,
}

impl Planned {
    /// Returns how many more units are needed where there are so many; at least one.
    #[must_use]
    pub fn more(&self, units: u64) -> u64 {
        // Saturates where a number leaves the range.
        (((self.times - 1.0) * units as f64).ceil() as u64).max(1)
    }
}

/// Answers the questions of a family together.
///
/// A number is decided to lie on one side if its interval lies there and its p-value after Holm's
/// correction is below the error rate of this level, which should be that of the intervals.
///
/// # Errors
/// If a bound is no share where the number is one, or not finite; and if an estimate has no test.
pub fn decide(questions: &[Question], level: Level) -> Result<Vec<Answer>, StatsError> {
    let p_values = questions.iter().map(|question| match &question.estimate {
        Some(estimate) => p_value(estimate, question.threshold),
        None => Ok(1.0),
    });
    let p_values = p_values.collect::<Result<Vec<f64>, _>>()?;
    let adjusted = holm(&p_values)?;
    let answers = questions.iter().zip(p_values.into_iter().zip(adjusted));
    let mut answers: Vec<Answer> = answers
        .map(|(question, (p_value, p_adjusted))| {
            let is_rejected = p_adjusted < level.error_rate();
            let decision = if is_rejected { question.side() } else { Decision::Undecided };
            Answer { decision, p_value, p_adjusted, planned: None }
        })
        .collect();
    let is_open = |answer: &Answer| answer.decision == Decision::Undecided;
    let holm_factor = answers.iter().filter(|answer| is_open(answer)).count() as u64;
    let open = answers.iter_mut().zip(questions).filter(|(answer, _)| is_open(answer));
    for (answer, Question { estimate, threshold }) in open {
        let error_rate = level.error_rate() / holm_factor as f64;
        let times = estimate.and_then(|e| times_needed(&e, *threshold, error_rate));
        answer.planned = times.map(|times| Planned { times, holm_factor });
    }
    Ok(answers)
}

impl Question {
    /// Goes by the interval alone.
    fn side(&self) -> Decision {
        let interval = self.estimate.map(|estimate| estimate.interval);
        match interval.and_then(|i| self.threshold.holds_between(i.low, i.high)) {
            Some(true) => Decision::Supported,
            Some(false) => Decision::Refuted,
            None => Decision::Undecided,
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::estimate::Spread;
    use crate::test_support::assert_close;
    use crate::{Interval, Method, Share};

    fn share(hits: u64, trials: u64) -> Option<Estimate> {
        Some(Share::new(hits, trials).unwrap().estimate(Level::default()))
    }

    fn ratio(value: f64, standard_error: f64) -> Option<Estimate> {
        let spread = Spread { standard_error, clusters: 10_001 };
        let reach = spread.reach(Level::default());
        Some(Estimate {
            value,
            interval: Interval { low: value - reach, high: value + reach },
            level: Level::default(),
            method: Method::LinearisedRatio,
            law: Law::Student(spread),
        })
    }

    fn ask(estimate: Option<Estimate>, threshold: Threshold) -> Question {
        Question { estimate, threshold }
    }

    fn alone(estimate: Option<Estimate>, threshold: Threshold) -> Answer {
        decide(&[ask(estimate, threshold)], Level::default()).unwrap()[0]
    }

    #[test]
    fn a_share_is_judged_by_size() {
        let below = Threshold::Below(0.01);
        let decision = |hits, trials| alone(share(hits, trials), below).decision;
        assert_eq!(decision(20, 10_000), Decision::Supported);
        assert_eq!(decision(300, 10_000), Decision::Refuted);
        assert_eq!(decision(105, 10_000), Decision::Undecided);
        let above = alone(share(300, 10_000), Threshold::Above(0.01));
        assert_eq!(above.decision, Decision::Supported);
        assert_eq!(above.planned, None);
        let above = alone(share(20, 10_000), Threshold::Above(0.01));
        assert_eq!(above.decision, Decision::Refuted);
        // The rule of three: none of 100 leaves up to 3 %, none of 1000 up to 0.3 %.
        assert_eq!(decision(0, 100), Decision::Undecided);
        let many = alone(share(0, 1000), below);
        assert_eq!(many.decision, Decision::Supported);
        assert_close(many.p_value, 2.0 * 0.99f64.powi(1000), 1e-12);
    }

    #[test]
    fn a_band_needs_both_ends() {
        let band = Threshold::Within([0.8, 1.25]);
        assert_eq!(alone(ratio(1.0, 0.01), band).decision, Decision::Supported);
        assert_eq!(alone(ratio(0.5, 0.01), band).decision, Decision::Refuted);
        assert_eq!(alone(ratio(1.5, 0.01), band).decision, Decision::Refuted);
        let near = alone(ratio(0.81, 0.01), band);
        assert_eq!(near.decision, Decision::Undecided);
        // One standard error inside: 2 · 0.1587.
        assert_close(near.p_value, 0.3173, 0.0005);
        let nothing = alone(None, band);
        assert_eq!((nothing.decision, nothing.p_value), (Decision::Undecided, 1.0));
        assert_eq!(nothing.planned, None);
    }

    #[test]
    fn certain_answers_come_from_what_is_possible() {
        let cases = [
            (Threshold::Below(1.0), [Some(true), None, Some(false)]),
            (Threshold::Above(1.0), [Some(false), None, Some(true)]),
            (Threshold::Within([0.9, 1.3]), [None, Some(true), Some(false)]),
        ];
        for (threshold, expected) in cases {
            let found =
                [(0.2, 0.99), (0.95, 1.25), (1.4, 2.0)].map(|(a, b)| threshold.holds_between(a, b));
            assert_eq!(found[0], if threshold.bounds().len() == 2 { None } else { expected[0] });
            assert_eq!(found[1..], expected[1..], "{threshold}");
        }
        // The bound itself is on neither side of "below" and "above".
        assert_eq!(Threshold::Below(1.0).holds_between(1.0, 1.0), Some(false));
        assert_eq!(Threshold::Above(1.0).holds_between(0.5, 1.0), Some(false));
        assert_eq!(Threshold::Within([1.0, 2.0]).holds_between(0.5, 1.0), Some(false));
        assert_eq!(Threshold::Within([1.0, 2.0]).holds_between(2.0, 3.0), Some(false));
    }

    /// (1.96 + 0.8416)² = 7.849: the textbook's factor for 5 % and 80 %.
    #[test]
    fn eighty_per_cent_power_needs_about_eight_variances() {
        let one = alone(ratio(0.9, 0.1), Threshold::Below(1.0)).planned.unwrap();
        assert_eq!(one.holm_factor, 1);
        assert_close(one.times, 7.849, 0.001);
        assert_eq!(one.more(1000), 6849);
        // Nearer one end of a band, the other end far: half of the risk, 1.96 + 1.2816.
        let band = alone(ratio(0.81, 0.01), Threshold::Within([0.8, 1.25])).planned.unwrap();
        assert_close(band.times, 3.2415f64.powi(2), 0.001);
        let outside = alone(ratio(0.79, 0.01), Threshold::Within([0.8, 1.25])).planned.unwrap();
        assert_close(outside.times, 7.849, 0.001);
        let beyond = alone(ratio(1.26, 0.01), Threshold::Within([0.8, 1.25])).planned.unwrap();
        assert_close(beyond.times, 7.849, 0.001);
    }

    /// n = ((z·√(p₀q₀) + z'·√(p₁q₁)) / (p₁ − p₀))², as in any textbook: for 5 % against 10 %,
    /// ((1.96·0.3 + 0.8416·0.2179) / 0.05)² = 238.
    #[test]
    fn shares_need_as_many_trials_as_the_textbook_says() {
        let planned = alone(share(2, 40), Threshold::Below(0.1)).planned.unwrap();
        assert_close(planned.times * 40.0, 238.0, 1.0);
        // No hit: (1 − 0.01)^n falls below 2.5 % at n = 368; no miss is the same from above.
        assert_eq!(alone(share(0, 100), Threshold::Below(0.01)).planned.unwrap().more(100), 268);
        let all = alone(share(100, 100), Threshold::Above(0.99)).planned.unwrap();
        assert_eq!(all.more(100), 268);
    }

    /// 8 of 1,000 against 1 %: alone and among five. Four of the five are open, and each needs the
    /// data that Holm's correction then asks for.
    #[test]
    fn more_claims_need_more_data() {
        let below = Threshold::Below(0.01);
        let open = ask(share(8, 1000), below);
        let clear = ask(share(0, 100_000), below);
        let alone = decide(&[open], Level::default()).unwrap()[0].planned.unwrap();
        let five = decide(&[open, open, clear, open, open], Level::default()).unwrap();
        assert_eq!(five[2].decision, Decision::Supported);
        let planned = five[0].planned.unwrap();
        assert_eq!((alone.holm_factor, planned.holm_factor), (1, 4));
        assert!(planned.times > 1.3 * alone.times, "{planned:?} {alone:?}");
    }

    /// Clear of the threshold alone, but not after Holm's correction: there is a number all the same.
    #[test]
    fn a_claim_that_only_the_correction_leaves_open_has_a_number() {
        let below = Threshold::Below(0.01);
        let weak = ask(share(75, 10_000), below);
        assert_eq!(decide(&[weak], Level::default()).unwrap()[0].decision, Decision::Supported);
        let open = ask(share(100, 10_100), below);
        let many = decide(&[&[weak][..], &[open; 19]].concat(), Level::default()).unwrap();
        assert_eq!(many[0].decision, Decision::Undecided);
        assert!(weak.estimate.unwrap().interval.high < 0.01);
        let more = many[0].planned.unwrap().more(10_000);
        assert!((10_000..20_000).contains(&more), "{more}");
    }

    /// On the scale of logarithms: 2.8016·0.1 / |ln 0.9| = 2.659, squared.
    #[test]
    fn ratios_of_ratios_are_planned_on_their_scale() {
        let log = |law| Some(Estimate { law, ..ratio(0.9, 0.1).unwrap() });
        let spread = Spread { standard_error: 0.1, clusters: 10_001 };
        let planned = alone(log(Law::LogStudent(spread)), Threshold::Below(1.0)).planned.unwrap();
        assert_close(planned.times, 7.0705, 0.001);
        let untested = decide(&[ask(log(Law::Unknown), Threshold::Below(1.0))], Level::default());
        assert_eq!(untested, Err(StatsError::NoTest(Method::LinearisedRatio)));
    }

    #[test]
    fn more_than_nothing_is_always_needed() {
        let more = |times, units| Planned { times, holm_factor: 1 }.more(units);
        assert_eq!([more(2.5, 10), more(1.01, 10), more(1.0, 10), more(0.5, 10)], [15, 1, 1, 1]);
        assert_eq!(more(f64::MAX, u64::MAX), u64::MAX);
    }

    /// Both sides of a band have a test of their own: an end is as hard to clear as a single bound.
    #[test]
    fn a_band_is_left_by_its_nearer_end() {
        let band = Threshold::Within([0.8, 1.25]);
        for (value, bound) in [(0.78, 0.8), (1.27, 1.25)] {
            let at_bound = ratio(value, 0.015).unwrap().p_value(bound).unwrap();
            assert_eq!(alone(ratio(value, 0.015), band).p_value, at_bound);
        }
        // Inside, the end that is harder to clear counts.
        let [low, high] =
            [0.8, 1.25].map(|bound| ratio(1.2, 0.03).unwrap().p_value(bound).unwrap());
        assert!(low < high);
        assert_eq!(alone(ratio(1.2, 0.03), band).p_value, high);
    }

    #[test]
    fn only_a_value_on_its_bound_has_no_number() {
        let planned = |estimate, threshold| alone(estimate, threshold).planned;
        assert_eq!(planned(share(100, 10_000), Threshold::Below(0.01)), None);
        assert_eq!(planned(ratio(1.0, 0.1), Threshold::Below(1.0)), None);
        assert!(decide(&[ask(share(1, 2), Threshold::Below(1.5))], Level::default()).is_err());
    }

    #[test]
    fn decisions_have_a_name_for_files_and_words_for_people() {
        assert_eq!(Decision::Certain(true).name(), "certainly-true");
        assert_eq!(Decision::Certain(false).to_string(), "certainly false");
        assert_eq!(format!("{:<10}|", Decision::Refuted), "refuted   |");
        let [below, above, within] =
            [Threshold::Below(0.5), Threshold::Above(0.1), Threshold::Within([0.8, 1.25])];
        assert_eq!(
            [below, above, within].map(|threshold| threshold.to_string()),
            ["below 0.5", "above 0.1", "from 0.8 to 1.25"]
        );
    }

    proptest! {
        /// With the data that a plan asks for and the same value, the test that Holm's correction
        /// will make passes with a margin for chance, and half of that data are too few.
        #[test]
        fn plans_are_neither_idle_nor_lavish(
            hits in 11u64..400, trials in 1000u64..20_000, bound in 0.002f64..0.6,
        ) {
            let threshold = Threshold::Below(bound);
            let answer = alone(share(hits, trials), threshold);
            if let Some(planned) = answer.planned {
                prop_assume!(planned.times < 1e6);
                prop_assert!(planned.times > 1.0, "{planned:?}");
                let scaled = |times: f64| {
                    let grown = |n: u64| (n as f64 * times).round() as u64;
                    alone(share(grown(hits), grown(trials)), threshold)
                };
                prop_assert!(scaled(planned.times).decision != Decision::Undecided);
                prop_assert!(scaled(planned.times / 2.2).decision == Decision::Undecided);
            }
        }

        /// A decided claim is on the side on which its value and its whole interval lie.
        #[test]
        fn decisions_agree_with_intervals(
            value in 0.1f64..3.0, error in 0.001f64..0.5, low in 0.2f64..1.0, width in 0.0f64..1.0,
        ) {
            let band = Threshold::Within([low, low + width]);
            let (answer, estimate) = (alone(ratio(value, error), band), ratio(value, error));
            let interval = estimate.unwrap().interval;
            match answer.decision {
                Decision::Supported => prop_assert!(low < interval.low && interval.high < low + width),
                Decision::Refuted => prop_assert!(interval.high < low || low + width < interval.low),
                _ => prop_assert!(answer.planned.is_some() && answer.planned.unwrap().times > 1.0),
            }
        }
    }
}
