//! From sums to verdicts.

use serde::Serialize;
use tallyhouse_stats::{
    Answer, Decision, Estimate, Evidence, Level, Member, Number, Question, StatsError, Threshold,
    decide,
};
use tallyhouse_words::{Measured, count, counted, list};

use super::example::Example;
use super::jury::{Juror, JurorPrice, Jury};
use super::pass::Plan;
use super::sums::{ClaimSums, Sums};
use super::tally::Tally;
use crate::claims::{Certainty, Claim, Examples, Known, Noun, Quantity};
use crate::yields::Frame;
use crate::yields::prices::PriceAnswer;
use crate::{AnalysisError, ClaimFile};

/// The verdict on one claim.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// The name of the claim file.
    pub file: String,
    /// The id of the claim.
    pub claim: String,
    /// The kind of claim.
    pub kind: &'static str,
    /// The claim in words.
    pub statement: String,
    /// What the collection is a sample of: the verdict speaks of nothing else.
    pub population: String,
    /// The verdict.
    pub decision: Decision,
    /// Why a certain claim is true or false, in one sentence.
    pub reason: Option<String>,
    /// The rulebook that it speaks of, if it speaks of one.
    pub rulebook: Option<String>,
    /// What the estimate is, in words.
    pub measure: String,
    /// What sort of number it is.
    pub quantity: Quantity,
    /// Where the claim says it lies.
    pub threshold: Threshold,
    /// The estimate with its interval; none for a certain claim, without data, if no cluster differs,
    /// and where a jury goes by several: see `jury`.
    pub estimate: Option<Estimate>,
    /// What a share was counted from, without weights.
    #[serde(flatten)]
    pub counts: Option<ShareCounts>,
    /// All puzzles that were asked.
    pub puzzles: u64,
    /// How many independent units these are: families, and puzzles without one.
    pub all_units: u64,
    /// The independent unit.
    pub unit: Unit,
    /// How many independent units the estimate rests on; of a jury's numbers the fewest.
    pub units: u64,
    /// True if puzzles count by weight or depend on each other.
    pub weighted: bool,
    /// The two-sided p-value against the threshold; none for a certain claim. Of a jury see
    /// [`tallyhouse_stats::Answer::p_value`].
    pub p_value: Option<f64>,
    /// The same after Holm's correction over the claims of the file that are not certain.
    pub p_adjusted: Option<f64>,
    /// How many claims of the file are not certain.
    pub claims_tested: usize,
    /// How many more puzzles would decide an undecided claim with a power of 80 % if the estimates
    /// hold.
    pub more_puzzles: Option<u64>,
    /// The factor of Holm's correction that this number allows for.
    pub holm_factor: Option<u64>,
    /// The result in words.
    pub words: String,
    /// A warning in words where the estimate rests on few independent units.
    pub caution: Option<String>,
    /// Who pays which prices and what he says, for a claim about prices.
    pub jury: Vec<Juror>,
    /// Up to 20 positions that speak against the claim.
    #[serde(skip)]
    pub examples: Vec<Example>,
}

/// What a share was counted from, without weights.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShareCounts {
    /// Units with the property.
    pub count: u64,
    /// All units.
    pub of: u64,
    /// What they are.
    pub of_what: Noun,
}

/// What was drawn independently of each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Each puzzle.
    Puzzle,
    /// Each family of puzzles, and each puzzle without one.
    Family,
}

impl Unit {
    /// Returns the name in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Puzzle => "puzzle",
            Self::Family => "family",
        }
    }

    /// Writes so many independent units.
    #[must_use]
    pub fn counted(self, units: u64) -> String {
        match self {
            Self::Puzzle => counted(units, "puzzle", "puzzles"),
            // A puzzle without a family is a unit of its own.
            Self::Family => counted(units, "family or single puzzle", "families or single puzzles"),
        }
    }
}

/// Below so many independent units a verdict comes with a warning. Common practice, no source.
const FEW: u64 = 100;

/// Estimates a share; none if the data give no interval.
fn estimate(tally: &Tally, level: Level) -> Result<Option<Estimate>, StatsError> {
    Estimate::if_known(tally.share(level))
}

/// The claims of one file, judged together.
pub(super) struct Trial<'a> {
    pub(super) file: &'a ClaimFile,
    pub(super) plan: &'a Plan<'a>,
    pub(super) sums: &'a Sums,
    /// What claims about prices are judged by.
    pub(super) prices: &'a [PriceAnswer],
    pub(super) population: &'a str,
    pub(super) level: Level,
}

/// What a claim goes by.
struct Case {
    certainty: Option<Certainty>,
    estimate: Option<Estimate>,
    jury: Vec<Juror>,
    units: u64,
}

impl Trial<'_> {
    /// Judges the claims; those that follow from definitions are no part of the family over which Holm
    /// corrects. Each claim comes with what was counted for it, and its jury.
    pub(super) fn verdicts(
        &self,
        sums: &[ClaimSums],
        juries: &[Option<Jury>],
    ) -> Result<Vec<Verdict>, AnalysisError> {
        let (mut questions, mut cases) = (Vec::new(), Vec::new());
        for ((claim, sums), jury) in self.file.claims.iter().zip(sums).zip(juries) {
            let (question, case) = self
                .case(claim, sums, jury.as_ref())
                .map_err(|error| AnalysisError::Stats { claim: claim.id.clone(), error })?;
            questions.push(question);
            cases.push(case);
        }
        let answers = decide(&questions, self.level)
            .map_err(|error| AnalysisError::Stats { claim: self.file.name.clone(), error })?;
        let tested = answers.iter().filter(|answer| answer.p_value.is_some()).count();
        let judged = self.file.claims.iter().zip(sums).zip(cases.into_iter().zip(answers));
        let verdict = |((claim, sums), (case, answer)): ((&Claim, &ClaimSums), (Case, Answer))| {
            Verdict { claims_tested: tested, ..self.verdict(claim, sums, case, answer) }
        };
        Ok(judged.map(verdict).collect())
    }

    fn case(
        &self,
        claim: &Claim,
        sums: &ClaimSums,
        jury: Option<&Jury>,
    ) -> Result<(Question, Case), StatsError> {
        let threshold = claim.test.threshold();
        if let (Some(jury), Some(prices)) = (jury, claim.test.prices()) {
            let (members, jurors) = jury.hear(self.prices, prices, self.level)?;
            let numbers = || jurors.iter().flat_map(|juror| &juror.prices);
            let case = Case {
                certainty: None,
                estimate: numbers()
                    .next()
                    .filter(|_| numbers().count() == 1)
                    .and_then(|n| n.estimate),
                units: numbers().map(|number| number.units).min().unwrap_or_default(),
                jury: jurors,
            };
            return Ok((Question { jury: members }, case));
        }
        let name = claim.test.rulebook();
        let rulebook =
            name.and_then(|name| self.plan.books.iter().find(|book| book.name() == name));
        let certainty = claim.test.certainty(&Known { rulebook: rulebook.copied() });
        let (evidence, estimate) = match &certainty {
            Some(certainty) => (Evidence::Certain(certainty.is_true), None),
            None => {
                let estimate = estimate(&sums.tally, self.level)?;
                (Evidence::Data(estimate), estimate)
            }
        };
        let units = sums.tally.clusters().clusters();
        let jury = vec![Member { numbers: vec![Number { evidence, threshold }] }];
        Ok((Question { jury }, Case { certainty, estimate, jury: Vec::new(), units }))
    }

    fn verdict(&self, claim: &Claim, sums: &ClaimSums, case: Case, answer: Answer) -> Verdict {
        let Case { certainty, estimate, mut jury, units } = case;
        let (test, tally) = (&claim.test, &sums.tally);
        let puzzles = self.sums.all.puzzles;
        let decision = answer.decision;
        for (juror, said) in jury.iter_mut().zip(&answer.members) {
            (juror.decision, juror.p_value) = (said.decision, said.p_value);
        }
        let counts = test.of_what().map(|of_what| {
            let (count, of) = (tally.hits, tally.of);
            ShareCounts { count, of, of_what }
        });
        let has_families = match &counts {
            Some(_) => tally.has_families(),
            None => self.sums.in_families > 0,
        };
        let unit = if has_families { Unit::Family } else { Unit::Puzzle };
        let keeps_examples = match test.examples() {
            Examples::None => false,
            Examples::IfRefuted => decision == Decision::Refuted,
            Examples::Always => true,
        };
        let is_certain = matches!(decision, Decision::Certain(_));
        let reason = match certainty {
            Some(certainty) => Some(certainty.reason),
            None => is_certain.then(|| reasons(&jury)),
        };
        let words = match (&reason, &counts) {
            (Some(reason), _) => reason.clone(),
            (None, Some(counts)) => share_words(estimate.as_ref(), self.level, counts),
            (None, None) => price_words(&jury, self.level),
        };
        let few = !is_certain && 0 < units && units < FEW;
        Verdict {
            file: self.file.name.clone(),
            claim: claim.id.clone(),
            kind: claim.kind,
            statement: claim.statement.clone(),
            population: self.population.to_owned(),
            decision,
            reason,
            rulebook: test.rulebook().map(str::to_owned),
            measure: test.measure(),
            quantity: test.quantity(),
            threshold: test.threshold(),
            estimate,
            weighted: match &counts {
                Some(_) => !tally.is_plain(),
                None => self.sums.in_families > 0 || self.sums.weighted > 0,
            },
            counts,
            puzzles,
            all_units: self.sums.all.units(),
            unit,
            units,
            p_value: answer.p_value,
            p_adjusted: answer.p_adjusted,
            claims_tested: 0,
            more_puzzles: answer.planned.map(|planned| planned.more(puzzles)),
            holm_factor: answer.planned.map(|planned| planned.holm_factor),
            words,
            caution: few.then(|| format!("rests on only {}", unit.counted(units))),
            jury,
            examples: if keeps_examples { sums.examples.clone() } else { Vec::new() },
        }
    }
}

/// Why a jury needs no data, each reason once.
fn reasons(jury: &[Juror]) -> String {
    let mut reasons: Vec<&str> = Vec::new();
    for reason in jury.iter().flat_map(|juror| &juror.prices).filter_map(|p| p.reason.as_deref()) {
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
    reasons.join("; ")
}

fn share_words(estimate: Option<&Estimate>, level: Level, counts: &ShareCounts) -> String {
    let ShareCounts { count: hits, of, of_what } = counts;
    let all = of_what.counted(*of);
    if *of == 0 {
        return format!("{all} in this collection, so the data can't tell");
    }
    let found = if *hits == 0 { "none".to_owned() } else { count(*hits) };
    let found = format!("{found} of {all}");
    match estimate.copied().map(Measured::from) {
        Some(m) => format!("{found}: {} ({level}: {})", m.percent_value(), m.percent_interval()),
        None => format!("{found}; puzzles don't differ, so there is no interval"),
    }
}

/// Tells the least and the greatest number that a jury goes by, and whose they are.
fn price_words(jury: &[Juror], level: Level) -> String {
    let all = jury.iter().flat_map(|juror| juror.prices.iter().map(move |price| (juror, price)));
    let known = all.filter_map(|(juror, price)| Some((juror, price, price.estimate?)));
    let by_value = |a: &(&Juror, &JurorPrice, Estimate), b: &(&Juror, &JurorPrice, Estimate)| {
        a.2.value.total_cmp(&b.2.value)
    };
    let Some((least, most)) = known.clone().min_by(by_value).zip(known.max_by(by_value)) else {
        return "too little was found to tell what it costs".to_owned();
    };
    let whose = |juror: &Juror, price: &JurorPrice| {
        let open = if price.looks.len() == 1 {
            format!("{} open, ", price.open[0])
        } else {
            String::new()
        };
        format!("{open}{}", juror.name())
    };
    let value = |estimate: Estimate| {
        let measured = Measured::from(estimate);
        if estimate.value.is_finite() {
            measured.number_value()
        } else {
            measured.number_interval()
        }
    };
    let (juror, price, estimate) = least;
    if std::ptr::eq(price, most.1) {
        let interval = Measured::from(estimate).number_interval();
        return format!("{} ({level}: {interval}), {}", value(estimate), whose(juror, price));
    }
    format!(
        "from {} ({}) to {} ({})",
        value(estimate),
        whose(juror, price),
        value(most.2),
        whose(most.0, most.1)
    )
}

impl Juror {
    /// Returns who it is: the reader and the frame.
    #[must_use]
    pub fn name(&self) -> String {
        format!("{}, {}", self.reader, self.frame)
    }
}

impl Verdict {
    /// Says who of the jury says what; nothing for a claim without one.
    #[must_use]
    pub fn who_says_what(&self) -> Option<String> {
        let mut said: Vec<Decision> = Vec::new();
        for juror in &self.jury {
            if !said.contains(&juror.decision) {
                said.push(juror.decision);
            }
        }
        let who = |decision: Decision, frame: Frame| -> Vec<&str> {
            let who = self.jury.iter().filter(|j| j.decision == decision && j.frame == frame);
            who.map(|juror| juror.reader.as_str()).collect()
        };
        let mut each: Vec<String> = Vec::new();
        for decision in said {
            // Those who say so in several frames are told once.
            let mut told: Vec<(Vec<&str>, Vec<&str>)> = Vec::new();
            for &frame in Frame::ALL {
                let who = who(decision, frame);
                match told.iter_mut().find(|(others, _)| *others == who) {
                    _ if who.is_empty() => {}
                    Some((_, frames)) => frames.push(frame.in_prose()),
                    None => told.push((who, vec![frame.in_prose()])),
                }
            }
            let clauses = told
                .into_iter()
                .map(|(who, frames)| format!("{decision} for {}, {}", list(who), list(frames)));
            each.extend(clauses);
        }
        (!each.is_empty()).then(|| each.join("; "))
    }
}
