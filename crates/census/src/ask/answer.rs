//! The answer to a question.

use tallyhouse_stats::{Level, Limits};

use super::columns::Asked;
use super::groups::{Group, Groups, MOST, Values};
use super::{Per, Question};
use crate::rates::{FinishedRates, Moment};
use crate::{CensusError, Dataset};

/// What a question came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// What is counted.
    pub per: Per,
    /// Which quiet positions count.
    pub moment: Moment,
    /// The columns that tell rows apart.
    pub by: Vec<String>,
    /// Whether puzzles count by weight, with families as clusters.
    pub weighted: bool,
    /// Columns of the question that say what is counted.
    pub counted: Vec<String>,
    /// Columns of the question that only say what is a hit.
    pub hits: Vec<String>,
    /// The rows, in the order of the values of their columns.
    pub rows: Vec<AnswerRow>,
}

/// A row of an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct AnswerRow {
    /// The values of the columns that tell rows apart.
    pub values: Vec<String>,
    /// How many of what is counted have at least one subset that was asked for.
    pub hits: u64,
    /// How many were counted.
    pub of: u64,
    /// The share, by weight where puzzles carry weights, and its interval as far as the data tell it.
    pub share: Limits,
}

impl Answer {
    pub(super) fn new(
        question: &Question,
        dataset: &Dataset,
        groups: &Groups,
        rates: &FinishedRates<Group>,
        level: Level,
    ) -> Result<Self, CensusError> {
        let finer: Vec<&Asked> =
            question.by.iter().filter(|column| !question.is_counted_by(column)).collect();
        let (counted, met) = (groups.counted(), groups.hits());
        let mut rows: Vec<(Values, AnswerRow)> = Vec::new();
        let all = finer_groups(question, &finer, met.clone());
        for (number, of) in (0..).zip(&counted) {
            for values in &all {
                let values_by = question.in_order(of, values);
                if !question.is_possible(&values_by) {
                    continue;
                }
                // A group that was never met has no hits: no hit has the number 0.
                let hits = met
                    .iter()
                    .position(|other| other == values)
                    .map_or(u32::MAX, |at| at as u32 + 1);
                let group = Group { counted: number, hits };
                let rate = rates.rate(group);
                let share = match question.per {
                    // As the shares of a census: a puzzle is a hit or none.
                    Per::Puzzle => rate.share_of_clusters(level),
                    Per::House | Per::Position => rate.share(level),
                };
                let share = share.map_err(|error| CensusError::NoAnswer(error.to_string()))?;
                let words = question.by.iter().zip(&values_by);
                let words = words.map(|(column, value)| column.word(*value)).collect();
                let (hits, of) = (rates.hits(group), rates.trials(group));
                if of > 0 {
                    rows.push((values_by, AnswerRow { values: words, hits, of, share }));
                }
                if rows.len() > MOST {
                    return Err(CensusError::TooManyGroups { most: MOST });
                }
            }
        }
        rows.sort_by(|(one, _), (other, _)| one.cmp(other));
        let names = question.by.iter().chain(question.conditions.iter().map(|one| &one.column));
        let named = |is_counted: bool| {
            let mut named: Vec<String> = names
                .clone()
                .filter(|column| question.is_counted_by(column) == is_counted)
                .map(|column| column.name.clone())
                .collect();
            let mut seen = std::collections::HashSet::new();
            named.retain(|name| seen.insert(name.clone()));
            named
        };
        Ok(Self {
            per: question.per,
            moment: question.moment,
            by: question.by.iter().map(|column| column.name.clone()).collect(),
            weighted: dataset.manifest().totals.weighted > 0,
            counted: named(true),
            hits: named(false),
            rows: rows.into_iter().map(|(_, row)| row).collect(),
        })
    }
}

/// Returns the values of the columns of hits: all that can be where they are few, else those met.
fn finer_groups(question: &Question, finer: &[&Asked], met: Vec<Values>) -> Vec<Values> {
    let domain = |column: &&Asked| -> Option<Vec<i64>> {
        let conditions = || question.conditions.iter().filter(|one| one.column == **column);
        let values = column.domain()?.into_iter();
        Some(values.filter(|value| conditions().all(|one| one.holds(*value))).collect())
    };
    let Some(domains) = finer.iter().map(domain).collect::<Option<Vec<Vec<i64>>>>() else {
        return met;
    };
    domains.iter().fold(vec![Vec::new()], |groups: Vec<Values>, domain| {
        let with = |group: &Values| {
            let value = |value: &i64| [group.as_slice(), &[Some(*value)]].concat();
            domain.iter().map(value).collect::<Vec<Values>>()
        };
        groups.iter().flat_map(with).collect()
    })
}

impl Question {
    /// Puts the values of columns in the order of the question.
    fn in_order(&self, counted: &Values, finer: &Values) -> Values {
        let (mut counted, mut finer) = (counted.iter(), finer.iter());
        let value = |column: &Asked| {
            let values = if self.is_counted_by(column) { &mut counted } else { &mut finer };
            values.next().copied().flatten()
        };
        self.by.iter().map(value).collect()
    }

    /// Tests if some shape has these values and what is asked of shapes.
    fn is_possible(&self, values: &Values) -> bool {
        let fits = |name: &str, size: i64| {
            let by = self.by.iter().zip(values).filter(|(column, _)| column.name == name);
            let asked = self.conditions.iter().filter(|one| one.column.name == name);
            by.into_iter().all(|(_, value)| *value == Some(size))
                && asked.into_iter().all(|one| one.holds(size))
        };
        let shapes = (2..=9i64).flat_map(|open| (1..open).map(move |naked| (open, naked)));
        shapes.into_iter().any(|(open, naked)| {
            fits("open", open) && fits("naked", naked) && fits("hidden", open - naked)
        })
    }
}
