//! Conditions as people type them: `column op value`, joined by `and`.

use polars::prelude::Float64Type;
use tallyhouse_words::list_or;

use super::columns::{Asked, Columns, Kind, MOMENT};
use super::error::QuestionError;
use crate::CensusError;
use crate::rates::Moment;
use crate::table_file::TableFile;

/// How a value is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Comparison {
    Is,
    IsNot,
    Below,
    AtMost,
    Above,
    AtLeast,
}

/// Longer signs first, so that none is taken for another.
const SIGNS: [(&str, Comparison); 6] = [
    ("!=", Comparison::IsNot),
    ("<=", Comparison::AtMost),
    (">=", Comparison::AtLeast),
    ("=", Comparison::Is),
    ("<", Comparison::Below),
    (">", Comparison::Above),
];

/// A condition on the values of a column.
#[derive(Clone, Debug)]
pub(super) struct Condition {
    pub(super) column: Asked,
    how: Comparison,
    /// None asks for rows without a value.
    value: Option<f64>,
}

/// Reads conditions; none if nothing is asked.
pub(super) fn parse(text: &str, columns: &Columns) -> Result<Vec<Condition>, QuestionError> {
    let words: Vec<&str> = text.split_whitespace().collect();
    if words.is_empty() {
        return Ok(Vec::new());
    }
    let conditions = words.split(|word| word.eq_ignore_ascii_case("and"));
    conditions.map(|words| Condition::parse(&words.join(" "), columns)).collect()
}

/// Returns the moment that conditions ask for.
pub(super) fn moment(conditions: &[Condition]) -> Result<Moment, QuestionError> {
    match conditions {
        [] => Ok(Moment::Every),
        [Condition { how: Comparison::Is, value: Some(value), .. }] => {
            Ok(Moment::ALL[*value as usize])
        }
        _ => Err(QuestionError::OneMoment),
    }
}

impl Condition {
    fn parse(text: &str, columns: &Columns) -> Result<Self, QuestionError> {
        let wrong = || QuestionError::NoCondition { found: text.to_owned() };
        let at = text.find(['=', '!', '<', '>']).ok_or_else(wrong)?;
        let (name, rest) = text.split_at(at);
        let found = SIGNS.iter().find_map(|(sign, how)| Some((*how, rest.strip_prefix(sign)?)));
        let (how, value) = found.ok_or_else(wrong)?;
        let value = value.trim().trim_matches(['"', '\'']);
        if name.trim().is_empty() || value.is_empty() {
            return Err(wrong());
        }
        let column = columns.find(name.trim())?.clone();
        let of_words = matches!(column.kind, Kind::Words(_) | Kind::Truth);
        let is_equal = matches!(how, Comparison::Is | Comparison::IsNot);
        let is_none = column.has_gaps && value == "none";
        if !is_equal && (of_words || is_none) {
            return Err(QuestionError::NoOrder(column.name));
        }
        let value = if is_none { None } else { Some(read(&column, value)?) };
        Ok(Self { column, how, value })
    }

    pub(super) fn is_of_moment(&self) -> bool {
        self.column.name == MOMENT
    }

    /// Drops the rows of the column's table that it doesn't hold for from those that count.
    pub(super) fn narrow(&self, table: &TableFile, counts: &mut [bool]) -> Result<(), CensusError> {
        let mut narrow = |found: &mut dyn Iterator<Item = Option<f64>>| {
            counts
                .iter_mut()
                .zip(found)
                .for_each(|(counts, found)| *counts &= self.holds_for(found));
        };
        // Weights alone are no whole numbers.
        if self.column.kind == Kind::Decimal {
            let found = table.numbers::<Float64Type>(&self.column.name)?;
            narrow(&mut found.into_iter().map(Some));
        } else {
            let found = self.column.integers(table)?;
            narrow(&mut found.iter().map(|found| found.map(|found| found as f64)));
        }
        Ok(())
    }

    /// Tests a value.
    pub(super) fn holds(&self, found: i64) -> bool {
        self.holds_for(Some(found as f64))
    }

    /// Tests the value of a row, if it has one.
    fn holds_for(&self, found: Option<f64>) -> bool {
        let (Some(value), Some(found)) = (self.value, found) else {
            return match self.how {
                Comparison::Is => self.value == found,
                Comparison::IsNot => self.value != found,
                _ => false,
            };
        };
        match self.how {
            Comparison::Is => found == value,
            Comparison::IsNot => found != value,
            Comparison::Below => found < value,
            Comparison::AtMost => found <= value,
            Comparison::Above => found > value,
            Comparison::AtLeast => found >= value,
        }
    }
}

/// Reads a value of a column as a number.
fn read(column: &Asked, value: &str) -> Result<f64, QuestionError> {
    let wrong = |expected: String| QuestionError::NoValue {
        column: column.name.clone(),
        found: value.to_owned(),
        expected: if column.has_gaps { format!("{expected} or none") } else { expected },
    };
    match &column.kind {
        Kind::Truth => match value {
            "true" => Ok(1.0),
            "false" => Ok(0.0),
            _ => Err(wrong("true or false".to_owned())),
        },
        Kind::Words(words) => {
            let place = words.iter().position(|word| word == value);
            place.map(|at| at as f64).ok_or_else(|| wrong(list_or(words)))
        }
        Kind::Decimal => {
            let number = value.parse::<f64>().ok().filter(|number| number.is_finite());
            number.ok_or_else(|| wrong("a number".to_owned()))
        }
        // Beyond 2⁵³ not all whole numbers are told apart; no column has such.
        Kind::Whole => {
            let number = value.parse::<u64>().ok().filter(|number| *number < 1 << 53);
            number.map(|number| number as f64).ok_or_else(|| wrong("a whole number".to_owned()))
        }
    }
}
