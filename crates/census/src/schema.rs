//! What a table is made of: each column is described once, for writing, reading and the dictionary.

use std::sync::Arc;

use polars::prelude::{
    Categorical8Type, CategoricalChunked, DataFrame, DataType, FrozenCategories, IntoSeries,
    NamedFrom, PolarsResult, Series, StringChunked, UInt8Chunked,
};

/// The version of the tables, the CSV headers and the manifest.
pub const SCHEMA_VERSION: u32 = 3;

/// A table whose rows are made of `R`.
pub(crate) struct Table<R: 'static> {
    /// The folder of its files.
    pub(crate) name: &'static str,
    /// What a row stands for.
    pub(crate) row: &'static str,
    /// The columns in order.
    pub(crate) columns: &'static [Column<R>],
}

/// A column of a table whose rows are made of `R`.
pub(crate) struct Column<R> {
    pub(crate) name: &'static str,
    unit: &'static str,
    meaning: &'static str,
    /// When a row has no value; always one if not given.
    empty: Option<&'static str>,
    /// Whether the column is there only if board states are kept.
    of_states: bool,
    values: Values<R>,
}

/// A table of a dataset, described for people.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct TableDescription {
    /// The folder of its files.
    pub name: &'static str,
    /// What a row stands for.
    pub row: &'static str,
    /// The columns in order.
    pub columns: Vec<ColumnDescription>,
}

/// A column of a table, described for people.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct ColumnDescription {
    /// The name.
    pub name: &'static str,
    /// How it is stored, as in `uint8`.
    pub kind: String,
    /// The unit; nothing if it has none.
    pub unit: &'static str,
    /// What it holds.
    pub meaning: &'static str,
    /// When a row has no value; always one if not given.
    pub empty: Option<&'static str>,
    /// Whether the column is there only if board states are kept.
    pub of_states: bool,
}

/// Makes a column of rows; the names of the looks are for columns of words.
type Values<R> = fn(&[R], &[String]) -> PolarsResult<Series>;

/// Describes a column.
pub(crate) const fn column<R>(
    name: &'static str,
    unit: &'static str,
    meaning: &'static str,
    values: Values<R>,
) -> Column<R> {
    Column { name, unit, meaning, empty: None, of_states: false, values }
}

impl<R> Column<R> {
    /// Says when a row has no value.
    pub(crate) const fn empty(mut self, when: &'static str) -> Self {
        self.empty = Some(when);
        self
    }

    /// Makes it a column that is there only if board states are kept.
    pub(crate) const fn of_states(mut self) -> Self {
        self.of_states = true;
        self
    }

    /// Tests if each row has a value.
    pub(crate) const fn is_full(&self) -> bool {
        self.empty.is_none()
    }

    /// Returns how the column is stored.
    pub(crate) fn kind(&self, looks: &[String]) -> PolarsResult<DataType> {
        Ok((self.values)(&[], looks)?.dtype().clone())
    }
}

impl<R> Table<R> {
    /// Makes the table of rows.
    pub(crate) fn frame(
        &self,
        rows: &[R],
        looks: &[String],
        keep_states: bool,
    ) -> PolarsResult<DataFrame> {
        let series = |column: &Column<R>| {
            let values = (column.values)(rows, looks)?;
            Ok(values.with_name(column.name.into()).into())
        };
        DataFrame::new(
            rows.len(),
            self.written(keep_states).map(series).collect::<PolarsResult<_>>()?,
        )
    }

    /// Returns the names of the columns that a file has.
    pub(crate) fn column_names(&self, keep_states: bool) -> impl Iterator<Item = &'static str> {
        self.written(keep_states).map(|column| column.name)
    }

    fn written(&self, keep_states: bool) -> impl Iterator<Item = &'static Column<R>> {
        self.columns.iter().filter(move |column| keep_states || !column.of_states)
    }

    pub(crate) fn column(&self, name: &str) -> Option<&Column<R>> {
        self.columns.iter().find(|column| column.name == name)
    }

    /// Describes the table for people.
    pub(crate) fn description(&self) -> TableDescription {
        let describe = |column: &Column<R>| {
            let &Column { name, unit, meaning, empty, of_states, .. } = column;
            let kind = column.kind(&[]).map_or_else(|error| error.to_string(), |k| kind_name(&k));
            ColumnDescription { name, kind, unit, meaning, empty, of_states }
        };
        let columns = self.columns.iter().map(describe).collect();
        TableDescription { name: self.name, row: self.row, columns }
    }
}

/// Names how a column is stored.
pub(crate) fn kind_name(kind: &DataType) -> String {
    match kind {
        DataType::Int64 => "int64".to_owned(),
        DataType::UInt8 => "uint8".to_owned(),
        DataType::UInt16 => "uint16".to_owned(),
        DataType::Float64 => "float64".to_owned(),
        DataType::Boolean => "boolean".to_owned(),
        DataType::String => "text".to_owned(),
        DataType::Enum(..) => "words".to_owned(),
        DataType::List(of) => format!("list of {}", kind_name(of)),
        other => other.to_string(),
    }
}

/// Takes a value of each row.
pub(crate) fn values<R, T, D: ?Sized>(rows: &[R], of: impl Fn(&R) -> T) -> PolarsResult<Series>
where
    Series: NamedFrom<Vec<T>, D>,
{
    let values: Vec<T> = rows.iter().map(of).collect();
    Ok(Series::new("".into(), values))
}

/// Takes a text of each row that has one.
pub(crate) fn texts<'a, R, T: AsRef<str>>(
    rows: &'a [R],
    of: impl Fn(&'a R) -> Option<T>,
) -> PolarsResult<Series> {
    Ok(rows.iter().map(of).collect::<StringChunked>().into_series())
}

/// Takes a word of each row from a short list, given by its place there.
pub(crate) fn words<R, W: AsRef<str>>(
    rows: &[R],
    list: &[W],
    of: impl Fn(&R) -> Option<u8>,
) -> PolarsResult<Series> {
    let codes: UInt8Chunked = rows.iter().map(of).collect();
    let list: Arc<FrozenCategories> = FrozenCategories::new(list.iter().map(AsRef::as_ref))?;
    let kind = DataType::from_frozen_categories(list);
    let words = CategoricalChunked::<Categorical8Type>::from_cats_and_dtype(codes, kind);
    Ok(words.into_series())
}
