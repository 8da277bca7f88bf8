//! Juries: who pays which prices, and what that says of a claim.

use serde::Serialize;
use tallyhouse_engine::effort::{due_with, look_limits};
use tallyhouse_engine::{Look, Order};
use tallyhouse_stats::{
    Decision, Estimate, Evidence, Level, Limits, Member, Number, StatsError, Threshold,
};
use tallyhouse_words::{rounded_down, rounded_up};

use crate::claims::{Certainty, PriceClaim};
use crate::yields::Frame;
use crate::yields::prices::{PlainCounts, PriceAnswer, PriceQuestion, is_ever_due};
use crate::{Coverage, ReaderFile};

/// One member of a jury: who looks and when, and what he says by himself.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Juror {
    /// When the looks are made.
    pub frame: Frame,
    /// Who reads.
    pub reader: String,
    /// What he says, without correction for other claims or members.
    pub decision: Decision,
    /// His two-sided p-value on the side on which his numbers lie; none if he is certain.
    pub p_value: Option<f64>,
    /// The prices he pays.
    pub prices: Vec<JurorPrice>,
}

/// A number that a member of a jury goes by.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JurorPrice {
    /// The least and the greatest open count of the houses.
    pub open: [u8; 2],
    /// Why it is certain on which side of the threshold it lies, in one sentence.
    pub reason: Option<String>,
    /// The number with its interval: a price, or the ratio of two.
    pub estimate: Option<Estimate>,
    /// What the looks went through: one look, or two that are compared.
    pub looks: Vec<LookPrice>,
    /// The independent units that it rests on.
    pub units: u64,
}

/// What a look went through and what a find cost.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookPrice {
    /// The look, with the kinds of houses if they are not all.
    pub look: String,
    /// How often it was made.
    pub made: u64,
    /// How often it found something.
    pub finds: u64,
    /// The glances, weighted as the reader says.
    pub glances: f64,
    /// Finds by times made, by the weight of puzzles.
    #[serde(rename = "yield")]
    pub found: Limits,
    /// Glances by finds, by the weight of puzzles.
    pub price: Limits,
}

/// What a jury is asked, in the order of its members.
pub(super) struct Jury {
    members: Vec<Asked>,
    /// The number of its first question among all.
    first: usize,
}

/// What one member is asked.
struct Asked {
    frame: Frame,
    reader: ReaderFile,
    /// Each number, by its question; and why it needs no data.
    questions: Vec<(PriceQuestion, Option<Certainty>)>,
}

impl Jury {
    /// Asks these readers whom the frames allow; `first` is the number of the next question. Where a
    /// rulebook makes none of the looks, it is not asked what they cost when due.
    pub(super) fn new(
        claim: &PriceClaim,
        readers: &[&ReaderFile],
        order: &Order,
        first: usize,
    ) -> Self {
        let mut members = Vec::new();
        for &frame in &claim.frames {
            for &reader in readers.iter().filter(|reader| frame.allows(reader)) {
                let question = |opens| PriceQuestion {
                    frame,
                    reader: reader.model,
                    looks: claim.looks.clone(),
                    opens,
                    order: order.clone(),
                };
                let questions = claim.opens(frame).into_iter().map(question);
                let asked = questions.filter(|q| frame != Frame::Due || is_ever_due(q));
                let questions: Vec<_> = asked
                    .map(|question| {
                        let certainty = certainty(&question, claim.threshold, &reader.name);
                        (question, certainty)
                    })
                    .collect();
                if !questions.is_empty() {
                    members.push(Asked { frame, reader: reader.clone(), questions });
                }
            }
        }
        Self { members, first }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.members.is_empty()
    }

    /// Returns all that is asked.
    pub(super) fn questions(&self) -> impl Iterator<Item = &PriceQuestion> {
        self.members.iter().flat_map(|asked| asked.questions.iter().map(|(question, _)| question))
    }

    /// Returns what the members go by, and how that is told; they have not decided yet.
    pub(super) fn hear(
        &self,
        answers: &[PriceAnswer],
        claim: &PriceClaim,
        level: Level,
    ) -> Result<(Vec<Member>, Vec<Juror>), StatsError> {
        let mut answers = answers[self.first..].iter();
        let (mut members, mut jurors) = (Vec::new(), Vec::new());
        for asked in &self.members {
            let (mut numbers, mut prices) = (Vec::new(), Vec::new());
            for ((question, certainty), answer) in asked.questions.iter().zip(answers.by_ref()) {
                let estimate = match (certainty, claim.looks.len()) {
                    (Some(_), _) => None,
                    (None, 1) => answer.pair.rates()[0].price(level)?.map(|e| e.in_units_of(1e6)),
                    (None, _) => answer.pair.price_ratio(level)?,
                };
                let evidence = match certainty {
                    Some(certainty) => Evidence::Certain(certainty.is_true),
                    None => Evidence::Data(estimate),
                };
                numbers.push(Number { evidence, threshold: claim.threshold });
                let looks = claim.looks.iter().enumerate().map(|(side, priced)| {
                    let rate = &answer.pair.rates()[side];
                    let limits = rate.cost_per_hit(level)?;
                    let counts = answer.plain[side];
                    Ok(LookPrice {
                        look: PriceClaim::name(priced),
                        made: counts.made,
                        finds: counts.finds,
                        glances: glances(&asked.reader, counts),
                        found: rate.share(level)?,
                        price: limits.in_units_of(1e6),
                    })
                });
                prices.push(JurorPrice {
                    open: [*question.opens.start(), *question.opens.end()],
                    reason: certainty.as_ref().map(|certainty| certainty.reason.clone()),
                    estimate,
                    looks: looks.collect::<Result<_, StatsError>>()?,
                    units: answer.pair.clusters(),
                });
            }
            members.push(Member { numbers });
            jurors.push(Juror {
                frame: asked.frame,
                reader: asked.reader.name.clone(),
                decision: Decision::Undecided,
                p_value: None,
                prices,
            });
        }
        Ok((members, jurors))
    }
}

fn glances(reader: &ReaderFile, counts: PlainCounts) -> f64 {
    let [cell, place, try_] = reader.model.weights.millionths();
    let kinds = [counts.cells_seen, counts.places_gathered, counts.tries].map(i128::from);
    (kinds[0] * cell + kinds[1] * place + kinds[2] * try_) as f64 / 1e6
}

/// Returns the answer to one question if it follows from what a look can cost at all, and from which
/// look finds something wherever another one does.
fn certainty(question: &PriceQuestion, threshold: Threshold, reader: &str) -> Option<Certainty> {
    let open = *question.opens.start();
    if open != *question.opens.end() {
        return None;
    }
    let costs = |look: Look| {
        look_limits(look, open, question.reader.learning)
            .map(|glances| glances.cost(&question.reader.weights))
    };
    let look = question.looks[0].look;
    let [least, most] = costs(look);
    let house = format!("in a house of {open} open cells");
    let [at_least, at_most] =
        [rounded_down, rounded_up].map(|round| move |glances| round(glances, 3));
    let Some(other) = question.looks.get(1) else {
        if finds_nothing(question, open) {
            let is_true = threshold.holds(f64::INFINITY);
            let reason = format!(
                "{house}, {look} finds nothing where it is due, because the looks before it have left \
                 nothing of its shape"
            );
            return Some(Certainty { is_true, reason });
        }
        let is_true = threshold.holds_between(least, f64::INFINITY)?;
        let least = at_least(least);
        let reason = format!(
            "{house}, {look} costs at least {least} glances ({reader}), whether it finds something \
             or not"
        );
        return Some(Certainty { is_true, reason });
    };
    if question.looks[0].kinds != other.kinds {
        return None;
    }
    let than = other.look;
    let [than_least, than_most] = costs(than);
    let finds_wherever = |first, second| finds_wherever(question, first, second, open);
    let upper = if finds_wherever(look, than) { most / than_least } else { f64::INFINITY };
    let lower = if finds_wherever(than, look) { least / than_most } else { 0.0 };
    let upper = if upper.is_nan() { f64::INFINITY } else { upper };
    let is_true = threshold.holds_between(lower, upper)?;
    let is_by_upper = threshold.holds_between(0.0, upper) == Some(is_true);
    let reason = if is_by_upper {
        format!(
            "{house}, {look} costs at most {} glances and {than} at least {} ({reader}), and {look} \
             finds something wherever {than} does",
            at_most(most),
            at_least(than_least)
        )
    } else {
        format!(
            "{house}, {look} costs at least {} glances and {than} at most {} ({reader}), and {than} \
             finds something wherever {look} does",
            at_least(least),
            at_most(than_most)
        )
    };
    Some(Certainty { is_true, reason })
}

/// Tests if a look finds something in each house where another one does. Where no single is left, a
/// side of two cells holds no smaller one, so a look for it passes over nothing that the look for the
/// other side finds.
fn finds_wherever(question: &PriceQuestion, first: Look, second: Look, open: u8) -> bool {
    let [Some(size), Some(other)] = [first, second].map(Look::size) else { return false };
    let are_sides = matches!(first, Look::Naked(_)) != matches!(second, Look::Naked(_));
    let is_complement = are_sides && size.get() == 2 && size.get() + other.get() == open;
    is_complement && is_made_without_singles(question, open)
}

/// Tests if a look is made where the looks before it have left it nothing to find.
fn finds_nothing(question: &PriceQuestion, open: u8) -> bool {
    let look = question.looks[0].look;
    question.frame == Frame::Due && Coverage::forestalls(&question.order, look, open)
}

/// Tests if no single is left whenever the looks of a question are made.
fn is_made_without_singles(question: &PriceQuestion, open: u8) -> bool {
    if question.frame != Frame::Due {
        return true;
    }
    let looks: Vec<Look> = question.looks.iter().map(|priced| priced.look).collect();
    let Some(due) = due_with(&question.order, &looks, open) else { return false };
    let before = &question.order.looks()[..due];
    [Look::naked(1), Look::hidden(1)].iter().flatten().all(|single| before.contains(single))
}
