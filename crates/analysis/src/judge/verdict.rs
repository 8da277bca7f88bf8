//! From sums to verdicts.

use serde::Serialize;
use tallyhouse_engine::Look;
use tallyhouse_engine::effort::{GlanceWeights, Glances};
use tallyhouse_stats::{
    Answer, Decision, Estimate, Level, Question, StatsError, Threshold, decide,
};

use tallyhouse_words::{Measured, count, counted};

use super::example::Example;
use super::pass::Plan;
use super::sums::{ClaimSums, Sums};
use super::tally::Tally;
use crate::claims::{Certainty, Claim, Examples, Known, LookPair, Noun, Quantity};
use crate::{AnalysisError, ClaimFile, RawGlances};

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
    /// The verdict.
    pub decision: Decision,
    /// Why a certain claim is true or false, in one sentence.
    pub reason: Option<String>,
    /// What the estimate is, in words.
    pub measure: String,
    /// What sort of number it is.
    pub quantity: Quantity,
    /// Where the claim says it lies.
    pub threshold: Threshold,
    /// The estimate with its interval; none for a certain claim, without data, or if no cluster
    /// differs.
    pub estimate: Option<Estimate>,
    /// The numerator: units with the property, without weights; in comparisons of effort the houses.
    pub count: u64,
    /// The denominator, without weights; in comparisons of effort the houses.
    pub of: u64,
    /// What the denominator counts.
    pub of_what: Noun,
    /// All puzzles that were asked.
    pub puzzles: u64,
    /// The independent unit.
    pub unit: Unit,
    /// How many independent units the estimate rests on.
    pub units: u64,
    /// True if puzzles count by weight or depend on each other.
    pub weighted: bool,
    /// The two-sided p-value against the threshold; none for a certain claim.
    pub p_value: Option<f64>,
    /// The same after Holm's correction over the claims of the file that are not certain.
    pub p_adjusted: Option<f64>,
    /// How many claims of the file are not certain.
    pub claims_tested: usize,
    /// How many more puzzles would decide an undecided claim with a power of 80 % if the estimate
    /// holds.
    pub more_puzzles: Option<u64>,
    /// The factor of Holm's correction that this number allows for.
    pub holm_factor: Option<u64>,
    /// The result in words.
    pub words: String,
    /// A warning in words where the estimate rests on few independent units.
    pub caution: Option<String>,
    /// What a comparison of effort rests on.
    pub effort: Option<EffortReport>,
    /// Up to 20 positions that speak against the claim.
    #[serde(skip)]
    pub examples: Vec<Example>,
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

/// Glances of both looks of a claim.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EffortReport {
    /// The houses in which both looks were made.
    pub houses: u64,
    /// The puzzles with such a house.
    pub puzzles: u64,
    /// The first look.
    pub look: LookGlances,
    /// The look it is compared with.
    pub than: LookGlances,
    /// Where other weights of glances would move the estimate across a threshold.
    pub flips: Vec<FlipPoints>,
}

/// Glances of one look in all houses of a claim.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookGlances {
    /// The look.
    pub look: String,
    /// As they were counted.
    #[serde(flatten)]
    pub counted: RawGlances,
    /// Cells seen, places gathered and tries per house, puzzles counting by their weight.
    pub per_house: [f64; 3],
}

/// The weights of one kind of glance at which the estimate would equal a threshold; the other two
/// kinds weigh what they weigh in the trial.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FlipPoints {
    /// The threshold.
    pub threshold: f64,
    /// The weight of a place gathered; none if no positive weight does.
    pub place: Option<f64>,
    /// The weight of a try; none if no positive weight does.
    #[serde(rename = "try")]
    pub try_: Option<f64>,
}

/// Below so many independent units a verdict comes with a warning. Common practice, no source.
const FEW: u64 = 100;

/// Estimates the number to judge; none if the data give no interval.
fn estimate(
    quantity: Quantity,
    tally: &Tally,
    level: Level,
) -> Result<Option<Estimate>, StatsError> {
    let clusters = tally.clusters();
    let found = match quantity {
        Quantity::Share | Quantity::Rate => clusters.share(level),
        Quantity::Ratio => clusters.ratio(level),
    };
    Estimate::if_known(found)
}

/// The claims of one file, judged together.
pub(super) struct Trial<'a> {
    pub(super) file: &'a ClaimFile,
    pub(super) plan: &'a Plan<'a>,
    pub(super) sums: &'a Sums,
    pub(super) level: Level,
}

impl Trial<'_> {
    /// Judges the claims. Those that follow from definitions are answered by them and don't belong
    /// to the family over which Holm corrects.
    pub(super) fn verdicts(&self, sums: &[ClaimSums]) -> Result<Vec<Verdict>, AnalysisError> {
        let claims = || self.file.claims.iter().zip(sums);
        let certainties: Vec<Option<Certainty>> =
            self.file.claims.iter().map(|claim| self.certainty(claim)).collect();
        let mut questions = Vec::new();
        for ((claim, sums), _) in claims().zip(&certainties).filter(|(_, known)| known.is_none()) {
            let estimate = estimate(claim.test.quantity(), &sums.tally, self.level)
                .map_err(|error| AnalysisError::Stats { claim: claim.id.clone(), error })?;
            questions.push(Question { estimate, threshold: claim.test.threshold() });
        }
        let answers = decide(&questions, self.level)
            .map_err(|error| AnalysisError::Stats { claim: self.file.name.clone(), error })?;
        let tested = answers.len();
        let mut answers = questions.iter().map(|question| question.estimate).zip(answers);
        let verdict = |((claim, sums), certainty): ((&Claim, &ClaimSums), Option<Certainty>)| {
            let answer = if certainty.is_none() { answers.next() } else { None };
            Verdict { claims_tested: tested, ..self.verdict(claim, sums, certainty, answer) }
        };
        Ok(claims().zip(certainties).map(verdict).collect())
    }

    fn certainty(&self, claim: &Claim) -> Option<Certainty> {
        let name = claim.test.rulebook();
        let rulebook =
            name.and_then(|name| self.plan.books.iter().find(|book| book.name() == name));
        claim.test.certainty(&Known { rulebook: rulebook.copied(), weights: self.plan.weights })
    }

    fn verdict(
        &self,
        claim: &Claim,
        sums: &ClaimSums,
        certainty: Option<Certainty>,
        answer: Option<(Option<Estimate>, Answer)>,
    ) -> Verdict {
        let (estimate, answer) = answer.unzip();
        let estimate = estimate.flatten();
        let (test, tally) = (&claim.test, &sums.tally);
        let threshold = test.threshold();
        let looks = test.looks();
        let puzzles =
            if looks.is_some() { self.sums.effort_puzzles } else { self.sums.all.puzzles };
        let (hits, of) =
            if looks.is_some() { (sums.houses, sums.houses) } else { (tally.hits, tally.of) };
        let of_what = test.of_what();
        let unit = if tally.has_families() { Unit::Family } else { Unit::Puzzle };
        let units = tally.clusters().clusters();
        let planned = answer.and_then(|answer| answer.planned);
        let decision = match (&certainty, &answer) {
            (Some(certainty), _) => Decision::Certain(certainty.is_true),
            (None, Some(answer)) => answer.decision,
            (None, None) => Decision::Undecided,
        };
        let keeps_examples = match test.examples() {
            Examples::None => false,
            Examples::IfRefuted => decision == Decision::Refuted,
            Examples::Always => true,
        };
        let few = certainty.is_none() && 0 < units && units < FEW;
        let words = match &certainty {
            Some(certainty) => certainty.reason.clone(),
            None => words(test.quantity(), estimate.as_ref(), self.level, [hits, of], &of_what),
        };
        Verdict {
            file: self.file.name.clone(),
            claim: claim.id.clone(),
            kind: claim.kind,
            statement: claim.statement.clone(),
            decision,
            reason: certainty.map(|certainty| certainty.reason),
            measure: test.measure(),
            quantity: test.quantity(),
            threshold,
            estimate,
            count: hits,
            of,
            of_what,
            puzzles,
            unit,
            units,
            weighted: !tally.is_plain(),
            p_value: answer.map(|answer| answer.p_value),
            p_adjusted: answer.map(|answer| answer.p_adjusted),
            claims_tested: 0,
            more_puzzles: planned.map(|planned| planned.more(puzzles)),
            holm_factor: planned.map(|planned| planned.holm_factor),
            words,
            caution: few.then(|| format!("rests on only {}", unit.counted(units))),
            effort: looks.map(|looks| effort(looks, sums, self.plan.weights, threshold)),
            examples: if keeps_examples { sums.examples.clone() } else { Vec::new() },
        }
    }
}

fn words(
    quantity: Quantity,
    estimate: Option<&Estimate>,
    level: Level,
    [hits, of]: [u64; 2],
    of_what: &Noun,
) -> String {
    let all = of_what.counted(of);
    if of == 0 {
        return format!("{all} in this collection, so the data can't tell");
    }
    match (quantity, estimate.copied().map(Measured::from)) {
        (Quantity::Ratio, Some(m)) => {
            format!("{} ({level}: {}) in {all}", m.number_value(), m.number_interval())
        }
        (Quantity::Ratio, None) => format!("{all}, too few to see how much they differ"),
        (Quantity::Share | Quantity::Rate, measured) => {
            let found = if hits == 0 { "none".to_owned() } else { count(hits) };
            let found = format!("{found} of {all}");
            match measured {
                Some(m) => {
                    format!("{found}: {} ({level}: {})", m.percent_value(), m.percent_interval())
                }
                None => format!("{found}; puzzles don't differ, so there is no interval"),
            }
        }
    }
}

fn effort(
    looks: &LookPair,
    sums: &ClaimSums,
    weights: &GlanceWeights,
    threshold: Threshold,
) -> EffortReport {
    let glances = |look: Look, counted: Glances, weighted: [i128; 3]| LookGlances {
        look: look.to_string(),
        counted: counted.into(),
        per_house: weighted.map(|sum| match sums.weighted_houses {
            0 => 0.0,
            houses => sum as f64 / houses as f64,
        }),
    };
    let bounds = threshold.bounds().iter();
    EffortReport {
        houses: sums.houses,
        puzzles: sums.puzzles,
        look: glances(looks.look, sums.glances[0], sums.weighted[0]),
        than: glances(looks.than, sums.glances[1], sums.weighted[1]),
        flips: bounds.map(|&bound| flip_points(&sums.weighted, weights, bound)).collect(),
    }
}

/// Solves Σ cost of one look = bound · Σ cost of the other for one weight, the others being what
/// they are.
fn flip_points(glances: &[[i128; 3]; 2], weights: &GlanceWeights, bound: f64) -> FlipPoints {
    let [cells, places, tries] =
        [0, 1, 2].map(|kind| glances[0][kind] as f64 - bound * glances[1][kind] as f64);
    let solve = |constant: f64, slope: f64| {
        let weight = -constant / slope;
        (weight.is_finite() && weight > 0.0).then_some(weight)
    };
    let cells = cells * weights.cell();
    FlipPoints {
        threshold: bound,
        place: solve(cells + tries * weights.try_(), places),
        try_: solve(cells + places * weights.place(), tries),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_flip_a_verdict_where_the_costs_are_equal() {
        // 10 + 4t = 20p + t: at t = 1 from p = 0.65 on, at p = 1 from t = 10/3 on.
        let glances = [[10, 0, 4], [0, 20, 1]];
        let flips = flip_points(&glances, &GlanceWeights::default(), 1.0);
        assert!((flips.place.unwrap() - 0.65).abs() < 1e-12);
        assert!((flips.try_.unwrap() - 10.0 / 3.0).abs() < 1e-12);
        // More tries for less: no weight of a try makes the first look the cheaper one.
        let cheap = flip_points(&[[10, 0, 4], [0, 0, 1]], &GlanceWeights::default(), 1.0);
        assert_eq!(cheap.try_, None);
        // 30 + 8 = 20p + 2: the other weights stay what they are.
        let weights = GlanceWeights::new(3.0, 0.5, 2.0).unwrap();
        let flips = flip_points(&glances, &weights, 1.0);
        assert!((flips.place.unwrap() - 1.8).abs() < 1e-12);
        // 30 + 4t = 10 + t: no weight of a try makes up for that.
        assert_eq!(flips.try_, None);
    }
}
