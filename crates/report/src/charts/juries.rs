//! What juries go by: for each claim about prices, the reader with the least number and the one with the
//! greatest.

use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::Verdict;
use tallyhouse_figures::{
    Axis, Heading, IntervalChart, IntervalMark, IntervalRow, ReferenceLine, Unit,
};
use tallyhouse_stats::{Level, Threshold};
use tallyhouse_words::{Measured, Outcome, count, counted, list, sentence_start};

use super::folder::{check, read_json};
use super::words::{self, find_by, finds_by};
use crate::ReportError;

/// The claims of one population that a jury decides.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Juries {
    claims: Vec<Claim>,
}

/// What is read of a verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Claim {
    decision: Outcome,
    population: String,
    puzzles: u64,
    all_units: u64,
    threshold: Threshold,
    jury: Vec<Member>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Member {
    frame: String,
    reader: String,
    prices: Vec<Price>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Price {
    open: [u8; 2],
    estimate: Option<Told>,
    looks: Vec<LookName>,
    units: u64,
}

impl Price {
    /// Names the look, or the first by the other.
    fn name(&self) -> String {
        let looks: Vec<&str> = self.looks.iter().map(|look| &*look.look).collect();
        let names = match looks.as_slice() {
            &[look, other] => finds_by([look, other]).join(" by "),
            looks => looks.iter().map(|look| find_by(look).0).collect::<Vec<_>>().join(", "),
        };
        sentence_start(&names)
    }
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct LookName {
    look: String,
}

/// A number as far as the data tell it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Told {
    level: Level,
    value: Option<f64>,
    interval: Limits,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Limits {
    low: Option<f64>,
    high: Option<f64>,
}

/// A number of a member with both ends.
struct Number<'a> {
    told: Measured,
    member: &'a Member,
    price: &'a Price,
}

impl Claim {
    /// Returns how many looks the claim is about; none if no jury was asked.
    fn looks(&self) -> usize {
        let looks = self.jury.iter().flat_map(|member| &member.prices).map(|p| p.looks.len());
        looks.max().unwrap_or_default()
    }

    fn numbers(&self) -> impl Iterator<Item = Number<'_>> {
        self.jury.iter().flat_map(|member| {
            member.prices.iter().filter_map(move |price| {
                let Told { value, interval, .. } = price.estimate.as_ref()?;
                let told = Measured { value: (*value)?, low: interval.low?, high: interval.high? };
                (told.low > 0.0).then_some(Number { told, member, price })
            })
        })
    }

    /// Tests if it is shown for all members of the jury that a find costs more.
    fn cost_more_than(&self, bound: f64) -> bool {
        use Outcome::{CertainlyFalse, CertainlyTrue, Refuted, Supported};
        match self.threshold {
            Threshold::Above(limit) if limit == bound => {
                matches!(self.decision, Supported | CertainlyTrue)
            }
            Threshold::Below(limit) if limit == bound => {
                matches!(self.decision, Refuted | CertainlyFalse)
            }
            _ => false,
        }
    }

    /// The least and the greatest number, as rows.
    fn rows(&self) -> Vec<IntervalRow> {
        let value = |number: &Number<'_>| number.told.value;
        let least = self.numbers().min_by(|a, b| value(a).total_cmp(&value(b)));
        let most = self.numbers().max_by(|a, b| value(a).total_cmp(&value(b)));
        [least, most].into_iter().flatten().map(|number| self.row(&number)).collect()
    }

    fn row(&self, Number { told, member, price }: &Number<'_>) -> IntervalRow {
        let [low, high] = price.open;
        let open = if low == high { low.to_string() } else { format!("{low}–{high}") };
        let when = if member.frame == "due" { "where due" } else { "every house" };
        let mark = IntervalMark {
            value: told.value,
            low: told.low,
            high: told.high,
            count: price.units,
            of: self.puzzles,
            label: told.number(),
            is_few: false,
        };
        IntervalRow {
            label: format!("{}, {open} open: {}, {when}", price.name(), member.reader),
            estimates: vec![Some(mark)],
        }
    }
}

impl Juries {
    /// Returns the population of the claims; nothing without one.
    pub(crate) fn population(&self) -> &str {
        self.claims.first().map_or("", |claim| &claim.population)
    }

    /// Takes the claims of a trial.
    ///
    /// # Errors
    /// If a verdict can't be written down.
    pub fn of_verdicts(verdicts: &[Verdict]) -> Result<Self, ReportError> {
        Ok(Self { claims: serde_json::from_value(serde_json::to_value(verdicts)?)? })
    }

    /// Reads the claims of a trial from its folder.
    ///
    /// # Errors
    /// If the folder holds no whole trial.
    pub fn of_trial(folder: &Path) -> Result<Self, ReportError> {
        check(folder)?;
        Ok(Self { claims: read_json(folder, "verdicts.json")? })
    }

    fn about(&self, looks: usize) -> Vec<&Claim> {
        self.claims.iter().filter(|claim| claim.looks() == looks).collect()
    }
}

/// Draws claims about two looks: what a find by one costs for what a find by the other costs; none without
/// such a claim.
#[must_use]
pub fn ratios(juries: &Juries) -> Option<IntervalChart> {
    let (claims, untold): (Vec<&Claim>, Vec<&Claim>) =
        juries.about(2).into_iter().partition(|claim| claim.numbers().next().is_some());
    let depends = claims.iter().filter(|claim| claim.decision == Outcome::Depends).count();
    let asked = counted(claims.len() as u64, "claim", "claims");
    let title = match depends {
        0 => "Which of two looks costs less?".to_owned(),
        _ => format!("In {depends} of {asked} the verdict depends on the reader"),
    };
    let mut chart = chart(&claims, title, "Price of the first look by that of the other")?;
    let mut bands = claims.iter().filter_map(|claim| match claim.threshold {
        Threshold::Within([low, high]) => Some(format!("About as much: {low} to {high} times.")),
        Threshold::Below(_) | Threshold::Above(_) => None,
    });
    chart.heading.notes.extend(bands.next());
    chart.heading.notes.push("Of the numbers with two limits.".to_owned());
    if !untold.is_empty() {
        let untold = counted(untold.len() as u64, "claim", "claims");
        chart.heading.notes.push(format!("Not drawn: {untold} of too few finds."));
    }
    Some(IntervalChart {
        axis: Axis::log("price of the first look by that of the other", Unit::Number),
        threshold: Some(ReferenceLine { value: 1.0, label: "as much".to_owned() }),
        ways: Some(["first costs less", "other costs less"].map(str::to_owned)),
        ..chart
    })
}

/// Draws claims about one look: what a find costs beside the limit; none without such a claim.
#[must_use]
pub fn limits(juries: &Juries) -> Option<IntervalChart> {
    let claims = juries.about(1);
    let mut bounds: Vec<f64> = claims
        .iter()
        .filter_map(|claim| match claim.threshold {
            Threshold::Below(bound) | Threshold::Above(bound) => Some(bound),
            Threshold::Within(_) => None,
        })
        .collect();
    bounds.dedup();
    let (title, threshold) = match bounds.as_slice() {
        &[bound] => {
            let limit = format!("{} glances", count(bound as u64));
            let line = ReferenceLine { value: bound, label: limit.clone() };
            let more = claims.iter().filter(|claim| claim.cost_more_than(bound)).count();
            let title = match more {
                0 => format!("Does a find cost more than {limit}?"),
                _ => format!(
                    "In {more} of {} a find costs more than {limit}, whoever reads",
                    counted(claims.len() as u64, "claim", "claims")
                ),
            };
            (title, Some(line))
        }
        _ => ("What does a find cost?".to_owned(), None),
    };
    let chart = chart(&claims, title, "Glances for each find")?;
    Some(IntervalChart {
        axis: Axis::log("glances for each find", Unit::Number),
        threshold,
        ..chart
    })
}

fn chart(claims: &[&Claim], title: String, measure: &str) -> Option<IntervalChart> {
    let rows: Vec<IntervalRow> = claims.iter().flat_map(|claim| claim.rows()).collect();
    let first = claims.first().filter(|_| !rows.is_empty())?;
    let prices = claims.iter().flat_map(|claim| &claim.jury).flat_map(|member| &member.prices);
    let level = prices.filter_map(|price| price.estimate.as_ref()).map(|told| told.level).next()?;
    let told = rows.iter().filter_map(|row| {
        let mark = row.estimates.first()?.as_ref()?;
        Some(format!("{} {}", row.label, mark.label))
    });
    let alt = format!("{title} {measure}: {}.", list(told));
    let subtitle = format!(
        "{measure}, with {level} intervals: for each claim the least and the greatest that the jury has. \
         {}, {}.",
        sentence_start(&first.population),
        words::puzzles_in(first.puzzles, first.all_units)
    );
    Some(IntervalChart {
        heading: Heading { title, subtitle, notes: Vec::new(), alt },
        axis: Axis::log(measure, Unit::Number),
        series: vec!["reader".to_owned()],
        sides: false,
        looks_from: 0,
        rows,
        threshold: None,
        ways: None,
        worth: Vec::new(),
        beside: vec!["Beside the mark: the number with its interval.".to_owned()],
    })
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// Three readers of one claim; of one the data tell one end alone.
    #[test]
    fn the_readers_at_the_ends_are_drawn_with_intervals_of_their_level() {
        let member = |reader: &str, value: f64, high: Option<f64>| {
            let estimate = json!({
                "value": value, "interval": { "low": value / 2.0, "high": high },
                "level": Level::percent(90.0).unwrap(), "method": "linearised-log-ratio",
            });
            let looks = [json!({ "look": "naked 2 open 6" }), json!({ "look": "hidden 4 open 6" })];
            let price =
                json!({ "open": [6, 6], "estimate": estimate, "looks": looks, "units": 50 });
            json!({ "frame": "due", "reader": reader, "prices": [price] })
        };
        let juries = json!({ "claims": [{
            "decision": "depends", "population": "puzzles by hand", "puzzles": 100,
            "all_units": 100, "threshold": { "below": 1.0 },
            "jury": [
                member("marking", 0.5, Some(0.75)),
                member("sharing", 3.0, Some(4.0)),
                member("unmarked", 9.0, None),
            ],
        }] });
        let juries: Juries = serde_json::from_value(juries).unwrap();
        let chart = ratios(&juries).unwrap();
        assert_eq!(chart.heading.title, "In 1 of 1 claim the verdict depends on the reader");
        assert!(chart.heading.subtitle.contains("with 90 % intervals"), "{:?}", chart.heading);
        let labels: Vec<&str> = chart.rows.iter().map(|row| &*row.label).collect();
        let of = |reader: &str| format!("Naked pair by hidden quad, 6 open: {reader}, where due");
        assert_eq!(labels, ["marking", "sharing"].map(of));
        assert_eq!(limits(&juries), None);
    }
}
