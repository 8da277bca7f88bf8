//! The columns that a question can name.

use polars::prelude::{DataType, Int64Chunked};
use tallyhouse_words::list;

use super::error::QuestionError;
use crate::CensusError;
use crate::rates::Moment;
use crate::schema::Table;
use crate::table_file::TableFile;
use crate::tables::{POSITIONS, PUZZLES, SUBSETS};

/// What a column speaks of, from coarse to fine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Scope {
    Puzzle,
    Position,
    House,
    Subset,
}

/// What values a column has.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Kind {
    Whole,
    Decimal,
    Truth,
    Words(Vec<String>),
}

/// A column that a question names.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Asked {
    pub(super) name: String,
    pub(super) scope: Scope,
    pub(super) kind: Kind,
    /// Whether rows may be without a value.
    pub(super) has_gaps: bool,
}

/// Columns that are no columns of a table: whether a subset is proper on either side, and which
/// positions count.
pub(super) const PROPER: &str = "proper";
pub(super) const MOMENT: &str = "moment";

/// All columns that a question can name.
pub(super) struct Columns(Vec<Asked>);

impl Columns {
    /// Takes the columns of the schema, with the looks of a walk.
    pub(super) fn of(looks: &[String]) -> Self {
        let mut all = Vec::new();
        // Of columns that several tables have, the first is meant.
        take(&mut all, &PUZZLES, looks, |name| match name {
            "line" | "given_digits" => None,
            _ => Some(Scope::Puzzle),
        });
        take(&mut all, &POSITIONS, looks, |name| (name != "state").then_some(Scope::Position));
        take(&mut all, &SUBSETS, looks, |name| match name {
            "open" | "house_kind" => Some(Scope::House),
            _ => Some(Scope::Subset),
        });
        let own =
            |name: &str, scope, kind| Asked { name: name.to_owned(), scope, kind, has_gaps: false };
        let moments = Moment::ALL.iter().map(|moment| moment.name().to_owned()).collect();
        all.push(own(PROPER, Scope::Subset, Kind::Truth));
        all.push(own(MOMENT, Scope::Position, Kind::Words(moments)));
        Self(all)
    }

    pub(super) fn find(&self, name: &str) -> Result<&Asked, QuestionError> {
        self.0.iter().find(|column| column.name == name).ok_or_else(|| QuestionError::NoColumn {
            found: name.to_owned(),
            expected: list(self.0.iter().map(|column| &column.name)),
        })
    }

    /// Finds a column whose values tell groups apart.
    pub(super) fn to_group(&self, name: &str) -> Result<Asked, QuestionError> {
        let column = self.find(name)?;
        if column.name == MOMENT {
            return Err(QuestionError::ByMoment);
        }
        if column.kind == Kind::Decimal {
            return Err(QuestionError::ByDecimal(name.to_owned()));
        }
        Ok(column.clone())
    }
}

fn take<R>(
    all: &mut Vec<Asked>,
    table: &Table<R>,
    looks: &[String],
    scope: impl Fn(&str) -> Option<Scope>,
) {
    for column in table.columns {
        let Some(scope) = scope(column.name) else { continue };
        let kind = match column.kind(looks) {
            Ok(DataType::Boolean) => Kind::Truth,
            Ok(DataType::Float64) => Kind::Decimal,
            Ok(DataType::Enum(words, _)) => {
                Kind::Words(words.categories().values_iter().map(str::to_owned).collect())
            }
            _ => Kind::Whole,
        };
        let name = column.name.to_owned();
        if all.iter().all(|other| other.name != name) {
            all.push(Asked { name, scope, kind, has_gaps: !column.is_full() });
        }
    }
}

impl Asked {
    /// Returns the columns of its table that it is made of.
    pub(super) fn made_of(&self) -> Vec<&str> {
        if self.name == PROPER { vec!["naked_proper", "hidden_proper"] } else { vec![&self.name] }
    }

    /// Returns the values as whole numbers: a word by its place in the list, true as 1.
    pub(super) fn integers(&self, table: &TableFile) -> Result<Int64Chunked, CensusError> {
        if self.name != PROPER {
            return table.integers(&self.name);
        }
        let (naked, hidden) = (table.truths("naked_proper")?, table.truths("hidden_proper")?);
        let sides = naked.into_iter().zip(hidden);
        Ok(sides.map(|(naked, hidden)| Some(i64::from(naked || hidden))).collect())
    }

    /// Writes a value.
    pub(super) fn word(&self, value: Option<i64>) -> String {
        let Some(value) = value else { return "none".to_owned() };
        match &self.kind {
            Kind::Truth => (value == 1).to_string(),
            Kind::Words(words) => {
                let word = usize::try_from(value).ok().and_then(|at| words.get(at));
                word.cloned().unwrap_or_default()
            }
            Kind::Whole | Kind::Decimal => value.to_string(),
        }
    }

    /// Returns all values that the column can have, if they are few.
    pub(super) fn domain(&self) -> Option<Vec<i64>> {
        let values = match (self.name.as_str(), &self.kind) {
            ("open", _) => 2..=9,
            ("naked" | "hidden", _) => 1..=8,
            ("house_kind", _) => 0..=2,
            (_, Kind::Truth) => 0..=1,
            _ => return None,
        };
        Some(values.collect())
    }
}
