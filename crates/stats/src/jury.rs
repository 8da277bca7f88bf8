//! Claims held against data, several at once.
//!
//! A claim says on which side of a [`Threshold`] a number lies. Where there are several ways to count,
//! each is a [`Member`] of its jury: the claim is supported or refuted if all members say so, and
//! *depends* if some say one and some the other. [`decide`] answers all claims of a family together,
//! with Holm's correction, and says how much more data an open one would need.
//!
//! ```
//! use tallyhouse_stats::{Decision, Level, Question, Share, StatsError, Threshold, decide};
//!
//! let level = Level::default();
//! let below = |hits, trials| -> Result<Question, StatsError> {
//!     let estimate = Some(Share::new(hits, trials)?.estimate(level));
//!     Ok(Question::of(estimate, Threshold::Below(0.01)))
//! };
//! let answers = decide(&[below(20, 10_000)?, below(90, 10_000)?], level)?;
//! assert_eq!(answers[0].decision, Decision::Supported);
//! // 0.9 % is below 1 %, but ten thousand trials can't show it; about seven times as many could.
//! assert_eq!(answers[1].decision, Decision::Undecided);
//! assert_eq!(answers[1].planned.unwrap().times.round(), 8.0);
//! # Ok::<(), StatsError>(())
//! ```

use serde::Serialize;

use crate::verdict::{p_value, times_needed};
use crate::{Decision, Estimate, Level, POWER, StatsError, Threshold, holm};

/// What is known of a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Evidence {
    /// It follows from definitions that it lies where it is said to lie, or that it does not.
    Certain(bool),
    /// Data; none if they give no estimate.
    Data(Option<Estimate>),
}

/// A number and where it is said to lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Number {
    /// What is known of it.
    pub evidence: Evidence,
    /// Where it is said to lie.
    pub threshold: Threshold,
}

/// One way to count: each of its numbers is said to lie somewhere, and all must.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// The numbers, at least one.
    pub numbers: Vec<Number>,
}

/// A claim, with all ways to count that its answer needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The members, at least one.
    pub jury: Vec<Member>,
}

impl Question {
    /// Asks of one number.
    #[must_use]
    pub fn of(estimate: Option<Estimate>, threshold: Threshold) -> Self {
        let number = Number { evidence: Evidence::Data(estimate), threshold };
        Self { jury: vec![Member { numbers: vec![number] }] }
    }
}

/// What is said to one question of a family.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// The decision.
    pub decision: Decision,
    /// The two-sided p-value: of a jury the largest of its members' in the direction in which they
    /// agree; where they don't, that of "one of each" by Holm within the jury. None if no member
    /// needs data.
    pub p_value: Option<f64>,
    /// The same after Holm's correction over the family; none if no member needs data.
    pub p_adjusted: Option<f64>,
    /// What would decide an undecided question; none only if nothing would.
    pub planned: Option<Planned>,
    /// What each member says, by itself.
    pub members: Vec<MemberAnswer>,
}

/// What one member of a jury says, without any correction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MemberAnswer {
    /// Supported, refuted, undecided or certain.
    pub decision: Decision,
    /// The two-sided p-value on the side on which its numbers lie; none if it is certain.
    pub p_value: Option<f64>,
}

/// How much data would decide a question with probability [`POWER`], if the values found hold.
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

/// Answers the questions of a family together. Those of which no member needs data are answered by
/// definitions, and are not part of it.
///
/// A number is decided to lie on one side if its interval lies there and its p-value after Holm's
/// correction is below the error rate of this level, which should be that of the intervals. A jury
/// depends if at least one member lies on either side, still so by Holm within the jury.
///
/// # Errors
/// If a bound is no share where the number is one, or not finite; and if an estimate has no test.
pub fn decide(questions: &[Question], level: Level) -> Result<Vec<Answer>, StatsError> {
    let heard = questions.iter().map(Heard::of).collect::<Result<Vec<_>, _>>()?;
    let p_values: Vec<f64> = heard.iter().filter_map(Heard::p_value).collect();
    let mut adjusted = holm(&p_values)?.into_iter();
    let error_rate = level.error_rate();
    let answer = |heard: &Heard| {
        let p_value = heard.p_value();
        let p_adjusted = p_value.and_then(|_| adjusted.next());
        Answer {
            decision: heard.decision(p_adjusted, error_rate),
            p_value,
            p_adjusted,
            planned: None,
            members: heard.members.iter().map(|member| member.answer(error_rate)).collect(),
        }
    };
    let mut answers: Vec<Answer> = heard.iter().map(answer).collect();
    let is_open = |answer: &Answer| answer.decision == Decision::Undecided;
    let holm_factor = answers.iter().filter(|answer| is_open(answer)).count() as u64;
    let open = answers.iter_mut().zip(questions.iter().zip(&heard)).filter(|(a, _)| is_open(a));
    for (answer, (question, heard)) in open {
        let times = question.times_needed(heard, error_rate / holm_factor as f64);
        answer.planned = times.map(|times| Planned { times, holm_factor });
    }
    Ok(answers)
}

/// What numbers say: those of one claim, one member, or one number alone.
#[derive(Clone, Copy)]
struct Said {
    /// The p-values in favour of "holds" and of "does not".
    p_values: [f64; 2],
    /// The side on which the intervals lie, if they are clear of the thresholds.
    clear: Option<bool>,
    /// The side on which the values lie.
    leans: Option<bool>,
    is_certain: bool,
}

impl Said {
    fn by(number: &Number) -> Result<Self, StatsError> {
        match number.evidence {
            Evidence::Certain(holds) => {
                let p_values = if holds { [0.0, 1.0] } else { [1.0, 0.0] };
                let side = Some(holds);
                Ok(Self { p_values, clear: side, leans: side, is_certain: true })
            }
            Evidence::Data(None) => {
                Ok(Self { p_values: [1.0; 2], clear: None, leans: None, is_certain: false })
            }
            Evidence::Data(Some(estimate)) => {
                let Number { threshold, .. } = *number;
                let p = p_value(&estimate, threshold)?;
                let holds = threshold.holds(estimate.value);
                let interval = estimate.interval;
                Ok(Self {
                    p_values: if holds { [p, 1.0] } else { [1.0, p] },
                    clear: threshold.holds_between(interval.low, interval.high),
                    leans: Some(holds),
                    is_certain: false,
                })
            }
        }
    }

    /// All numbers of a member must hold; if one of them does not, the member says no, and each of
    /// those that need data could say so by chance.
    fn together(numbers: &[Self]) -> Self {
        let chances = numbers.iter().filter(|said| !said.is_certain).count().max(1) as f64;
        let largest = numbers.iter().map(|said| said.p_values[0]).fold(0.0, f64::max);
        let least = numbers.iter().map(|said| said.p_values[1]).fold(1.0, f64::min);
        let all_or_one = |side: fn(&Self) -> Option<bool>| {
            if numbers.iter().any(|said| side(said) == Some(false)) {
                Some(false)
            } else {
                numbers.iter().all(|said| side(said) == Some(true)).then_some(true)
            }
        };
        let is_false = |said: &Self| said.is_certain && said.leans == Some(false);
        Self {
            p_values: [largest, (chances * least).min(1.0)],
            clear: all_or_one(|said| said.clear),
            leans: all_or_one(|said| said.leans),
            is_certain: numbers.iter().all(|said| said.is_certain) || numbers.iter().any(is_false),
        }
    }

    /// The p-value on the side on which it lies.
    fn p_value(&self) -> f64 {
        self.p_values[0].min(self.p_values[1])
    }

    fn answer(&self, error_rate: f64) -> MemberAnswer {
        let p_value = (!self.is_certain).then(|| self.p_value());
        let decision = match (self.clear, p_value) {
            (Some(holds), None) => Decision::Certain(holds),
            (Some(true), Some(_)) if self.p_values[0] < error_rate => Decision::Supported,
            (Some(false), Some(_)) if self.p_values[1] < error_rate => Decision::Refuted,
            _ => Decision::Undecided,
        };
        MemberAnswer { decision, p_value }
    }
}

/// What the members of a jury said.
struct Heard {
    members: Vec<Said>,
    /// The p-values of "all say yes", "all say no" and "one of each".
    p_values: [f64; 3],
}

impl Heard {
    fn of(question: &Question) -> Result<Self, StatsError> {
        let of_member = |member: &Member| {
            let numbers = member.numbers.iter().map(Said::by).collect::<Result<Vec<_>, _>>()?;
            Ok(Said::together(&numbers))
        };
        let members =
            question.jury.iter().map(of_member).collect::<Result<Vec<_>, StatsError>>()?;
        let all = |side: usize| members.iter().map(|said| said.p_values[side]).fold(0.0, f64::max);
        let tested: Vec<f64> =
            members.iter().filter(|said| !said.is_certain).map(Said::p_value).collect();
        let mut adjusted = holm(&tested)?.into_iter();
        let mut one_of = [1.0f64; 2];
        for said in &members {
            let p = if said.is_certain { 0.0 } else { adjusted.next().unwrap_or(1.0) };
            let side = usize::from(said.p_values[1] < said.p_values[0]);
            one_of[side] = one_of[side].min(p);
        }
        let p_values = [all(0), all(1), one_of[0].max(one_of[1])];
        Ok(Self { members, p_values })
    }

    fn is_certain(&self) -> bool {
        self.members.iter().all(|said| said.is_certain)
    }

    fn p_value(&self) -> Option<f64> {
        (!self.is_certain()).then(|| self.p_values.into_iter().fold(1.0, f64::min))
    }

    fn decision(&self, p_adjusted: Option<f64>, error_rate: f64) -> Decision {
        let says = |holds: bool| move |said: &Said| said.clear == Some(holds);
        let [yes, no] = [true, false].map(says);
        let (all_yes, all_no) = (self.members.iter().all(yes), self.members.iter().all(no));
        let one_of_each = self.members.iter().any(yes) && self.members.iter().any(no);
        match p_adjusted {
            None if all_yes => Decision::Certain(true),
            None if all_no => Decision::Certain(false),
            None if one_of_each => Decision::Depends,
            Some(p) if p < error_rate => {
                // Only one of the three is below 1: see `p_values`.
                let p = self.p_value().unwrap_or(1.0);
                match self.p_values.map(|other| other <= p) {
                    [true, ..] if all_yes => Decision::Supported,
                    [_, true, _] if all_no => Decision::Refuted,
                    [.., true] if one_of_each => Decision::Depends,
                    _ => Decision::Undecided,
                }
            }
            _ => Decision::Undecided,
        }
    }
}

impl Question {
    /// Returns how many times as much data decide it at this error rate. Members that must all be
    /// heard share the risk that one of them fails.
    fn times_needed(&self, heard: &Heard, error_rate: f64) -> Option<f64> {
        let risk = 1.0 - POWER;
        let members = || self.jury.iter().zip(&heard.members);
        let data = members().filter(|(_, said)| !said.is_certain);
        let tested = data.clone().count() as f64;
        let lean = |holds| heard.members.iter().filter(|said| said.leans == Some(holds)).count();
        let times = match [lean(true), lean(false)] {
            [yes, no] if yes == self.jury.len() || no == self.jury.len() => {
                let each = data.map(|(member, _)| member.times(yes > 0, error_rate, risk / tested));
                largest(each)?
            }
            [yes, no] if yes > 0 && no > 0 => {
                let [yes, no] = [true, false].map(|holds| {
                    let of_side = members().filter(|(_, said)| said.leans == Some(holds));
                    let times = of_side.filter_map(|(member, said)| match said.is_certain {
                        true => Some(0.0),
                        false => member.times(holds, error_rate / tested, risk / 2.0),
                    });
                    times.fold(f64::INFINITY, f64::min)
                });
                yes.max(no)
            }
            _ => return None,
        };
        times.is_finite().then_some(times)
    }
}

impl Member {
    /// Returns how many times as much data show that all its numbers hold, or that one does not.
    fn times(&self, holds: bool, error_rate: f64, risk: f64) -> Option<f64> {
        let is_data = |number: &&Number| matches!(number.evidence, Evidence::Data(_));
        let numbers = self.numbers.iter().filter(is_data);
        let count = numbers.clone().count() as f64;
        let times = |number: &Number, error_rate: f64, risk: f64| match number.evidence {
            Evidence::Data(Some(estimate)) => {
                times_needed(&estimate, number.threshold, error_rate, risk)
            }
            _ => None,
        };
        if holds {
            return largest(numbers.map(|number| times(number, error_rate, risk / count)));
        }
        let fails = |number: &&Number| match number.evidence {
            Evidence::Data(Some(estimate)) => !number.threshold.holds(estimate.value),
            _ => false,
        };
        let failing = numbers.filter(fails);
        failing.filter_map(|number| times(number, error_rate / count, risk)).reduce(f64::min)
    }
}

/// The largest number; `None` if one is none, or there is none.
fn largest(numbers: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    numbers.collect::<Option<Vec<f64>>>()?.into_iter().reduce(f64::max)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::estimate::Law;
    use crate::spread::Spread;
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
        Question::of(estimate, threshold)
    }

    fn alone(estimate: Option<Estimate>, threshold: Threshold) -> Answer {
        decide(&[ask(estimate, threshold)], Level::default()).unwrap().remove(0)
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
        assert_close(many.p_value.unwrap(), 2.0 * 0.99f64.powi(1000), 1e-12);
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
        assert_close(near.p_value.unwrap(), 0.3173, 0.0005);
        let nothing = alone(None, band);
        assert_eq!((nothing.decision, nothing.p_value), (Decision::Undecided, Some(1.0)));
        assert_eq!(nothing.planned, None);
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
        let open = || ask(share(8, 1000), below);
        let clear = ask(share(0, 100_000), below);
        let alone = decide(&[open()], Level::default()).unwrap()[0].planned.unwrap();
        let five = decide(&[open(), open(), clear, open(), open()], Level::default()).unwrap();
        assert_eq!(five[2].decision, Decision::Supported);
        let planned = five[0].planned.unwrap();
        assert_eq!((alone.holm_factor, planned.holm_factor), (1, 4));
        assert!(planned.times > 1.3 * alone.times, "{planned:?} {alone:?}");
    }

    /// Clear of the threshold alone, but not after Holm's correction: there is a number all the same.
    #[test]
    fn a_claim_that_only_the_correction_leaves_open_has_a_number() {
        let below = Threshold::Below(0.01);
        let weak = share(75, 10_000);
        assert_eq!(alone(weak, below).decision, Decision::Supported);
        let mut family = vec![ask(share(100, 10_100), below); 20];
        family[0] = ask(weak, below);
        let many = decide(&family, Level::default()).unwrap();
        assert_eq!(many[0].decision, Decision::Undecided);
        assert!(weak.unwrap().interval.high < 0.01);
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
            assert_eq!(alone(ratio(value, 0.015), band).p_value, Some(at_bound));
        }
        // Inside, the end that is harder to clear counts.
        let [low, high] =
            [0.8, 1.25].map(|bound| ratio(1.2, 0.03).unwrap().p_value(bound).unwrap());
        assert!(low < high);
        assert_eq!(alone(ratio(1.2, 0.03), band).p_value, Some(high));
    }

    #[test]
    fn only_a_value_on_its_bound_has_no_number() {
        let planned = |estimate, threshold| alone(estimate, threshold).planned;
        assert_eq!(planned(share(100, 10_000), Threshold::Below(0.01)), None);
        assert_eq!(planned(ratio(1.0, 0.1), Threshold::Below(1.0)), None);
        assert!(decide(&[ask(share(1, 2), Threshold::Below(1.5))], Level::default()).is_err());
    }

    const YES: Evidence = Evidence::Certain(true);
    const NO: Evidence = Evidence::Certain(false);

    fn data(value: f64, standard_error: f64) -> Evidence {
        Evidence::Data(ratio(value, standard_error))
    }

    /// A claim that numbers are below 1, one for each member.
    fn jury<const N: usize>(members: [Evidence; N]) -> Question {
        let number = |evidence| Number { evidence, threshold: Threshold::Below(1.0) };
        let member = |evidence| Member { numbers: vec![number(evidence)] };
        Question { jury: members.map(member).into() }
    }

    fn verdict<const N: usize>(members: [Evidence; N]) -> Answer {
        decide(&[jury(members)], Level::default()).unwrap().remove(0)
    }

    /// The tail of the normal law, twice.
    fn two_sided(z: f64) -> f64 {
        let spread = Spread { standard_error: 1.0, clusters: 10_001 };
        2.0 * Estimate { law: Law::Student(spread), ..ratio(0.0, 1.0).unwrap() }
            .p_value_below(z)
            .unwrap()
    }

    /// Distances are 10, 10, 3 and 2 standard errors: the jury's p is that of the weakest member.
    #[test]
    fn a_jury_that_agrees_says_so_with_its_largest_p_by_hand() {
        let all = verdict([data(0.9, 0.01), data(0.8, 0.02), data(0.97, 0.01), data(0.9, 0.05)]);
        assert_eq!(all.decision, Decision::Supported);
        assert_close(all.p_value.unwrap(), two_sided(2.0), 1e-9);
        let against = verdict([data(1.1, 0.01), data(1.03, 0.01), NO]);
        assert_eq!(against.decision, Decision::Refuted);
        assert_close(against.p_value.unwrap(), two_sided(3.0), 1e-9);
        let members = against.members.iter().map(|member| member.decision);
        let expected = [Decision::Refuted, Decision::Refuted, Decision::Certain(false)];
        assert_eq!(members.collect::<Vec<_>>(), expected);
        assert_eq!(against.members[2].p_value, None);
    }

    /// 0.9 is 2.222 standard errors below: p = 0.0263, enough among two, not among three, where Holm
    /// takes it twice.
    #[test]
    fn one_of_each_must_hold_by_holm_within_the_jury_by_hand() {
        let two = verdict([data(0.9, 0.045), data(1.3, 0.02)]);
        assert_eq!(two.decision, Decision::Depends);
        assert_close(two.p_value.unwrap(), two_sided(0.1 / 0.045), 1e-9);
        let three = verdict([data(0.9, 0.045), data(1.3, 0.02), data(0.95, 0.05)]);
        assert_eq!(three.decision, Decision::Undecided);
        assert_close(three.p_value.unwrap(), 2.0 * two_sided(0.1 / 0.045), 1e-9);
        // For power 0.9 of the weaker side at 5 % by three: (2.394 + 1.2816)² · 0.45².
        assert_close(three.planned.unwrap().times, (3.6755f64 * 0.45).powi(2), 0.01);
        // What is certain needs no share of the error.
        assert_eq!(verdict([data(0.9, 0.045), NO]).decision, Decision::Depends);
        assert_eq!(verdict([data(0.9, 0.045), NO, YES]).decision, Decision::Depends);
    }

    #[test]
    fn a_jury_is_as_open_as_its_most_open_member() {
        let open = verdict([data(0.9, 0.01), data(0.95, 0.05), YES]);
        assert_eq!(open.decision, Decision::Undecided);
        assert_close(open.p_value.unwrap(), two_sided(1.0), 1e-9);
        // Two members share the risk of 20 %: (1.96 + 1.2816)².
        assert_close(open.planned.unwrap().times, 3.2415f64.powi(2), 0.01);
        let without = verdict([data(0.9, 0.01), Evidence::Data(None)]);
        assert_eq!((without.decision, without.p_value), (Decision::Undecided, Some(1.0)));
        assert_eq!(without.planned, None);
    }

    #[test]
    fn what_is_certain_has_no_p_and_is_no_part_of_the_family() {
        let open = jury([data(0.98, 0.01)]);
        let family = [jury([YES, YES]), open.clone(), jury([NO]), jury([YES, NO]), jury([YES, NO])];
        let answers = decide(&family, Level::default()).unwrap();
        let decisions: Vec<Decision> = answers.iter().map(|answer| answer.decision).collect();
        use Decision::{Certain, Depends, Supported};
        assert_eq!(decisions, [Certain(true), Supported, Certain(false), Depends, Depends]);
        assert!([0, 2, 3, 4].map(|i| answers[i].p_adjusted) == [None; 4]);
        // Alone it has the same p-value: nothing is corrected for.
        assert_eq!(answers[1].p_value, answers[1].p_adjusted);
        let p = decide(&[open], Level::default()).unwrap()[0].p_value;
        assert_eq!(answers[1].p_value, p);
    }

    /// Three prices that must all be below 1: one that is not is enough, by Bonferroni.
    #[test]
    fn a_member_with_several_numbers_needs_all_of_them_by_hand() {
        let member = |numbers: [Evidence; 3]| {
            let number = |evidence| Number { evidence, threshold: Threshold::Below(1.0) };
            let jury = vec![Member { numbers: numbers.map(number).into() }];
            decide(&[Question { jury }], Level::default()).unwrap().remove(0)
        };
        let all = member([data(0.9, 0.01), data(0.9, 0.045), YES]);
        assert_eq!(all.decision, Decision::Supported);
        assert_close(all.p_value.unwrap(), two_sided(0.1 / 0.045), 1e-9);
        let one = member([data(0.9, 0.01), data(1.03, 0.01), data(0.9, 0.01)]);
        assert_eq!(one.decision, Decision::Refuted);
        assert_close(one.p_value.unwrap(), 3.0 * two_sided(3.0), 1e-9);
        assert_eq!(
            member([data(0.9, 0.01), NO, data(0.9, 0.01)]).decision,
            Decision::Certain(false)
        );
        let open = member([data(0.9, 0.01), data(0.99, 0.01), data(0.9, 0.01)]);
        assert_eq!(open.decision, Decision::Undecided);
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
