//! One Parquet file of a table, read back column by column.

use std::fs::File;
use std::path::PathBuf;

use polars::prelude::{
    Column, DataFrame, DataType, ParallelStrategy, ParquetReader, PolarsError, SerReader,
};

use crate::CensusError;
use crate::tables::io_error;

/// A file of a table, with the columns asked for.
pub(crate) struct TableFile {
    path: PathBuf,
    frame: DataFrame,
}

impl TableFile {
    pub(crate) fn open(path: PathBuf, columns: &[&str]) -> Result<Self, CensusError> {
        let columns = columns.iter().map(ToString::to_string).collect();
        let read = || -> Result<DataFrame, PolarsError> {
            // Not in parallel: several parts may be read at once already.
            ParquetReader::new(File::open(&path)?)
                .with_columns(Some(columns))
                .read_parallel(ParallelStrategy::None)
                .finish()
        };
        match read() {
            Ok(frame) => Ok(Self { path, frame }),
            Err(error) => Err(CensusError::Damaged { path, reason: io_error(error).to_string() }),
        }
    }

    pub(crate) fn damaged(&self, reason: impl Into<String>) -> CensusError {
        CensusError::Damaged { path: self.path.clone(), reason: reason.into() }
    }

    /// Returns a column that has a value in every row.
    fn column(&self, name: &str) -> Result<&Column, CensusError> {
        let column = self.frame.column(name).map_err(|error| self.wrong(name, &error))?;
        if column.null_count() > 0 {
            return Err(self.damaged(format!("the column '{name}' has rows without a value")));
        }
        Ok(column)
    }

    fn wrong(&self, name: &str, error: &PolarsError) -> CensusError {
        self.damaged(format!("the column '{name}': {error}"))
    }

    pub(crate) fn u64s(&self, name: &str) -> Result<Vec<u64>, CensusError> {
        let values = self.column(name)?.u64().map_err(|error| self.wrong(name, &error))?;
        Ok(values.into_no_null_iter().collect())
    }

    pub(crate) fn u16s(&self, name: &str) -> Result<Vec<u16>, CensusError> {
        let values = self.column(name)?.u16().map_err(|error| self.wrong(name, &error))?;
        Ok(values.into_no_null_iter().collect())
    }

    pub(crate) fn u8s(&self, name: &str) -> Result<Vec<u8>, CensusError> {
        let values = self.column(name)?.u8().map_err(|error| self.wrong(name, &error))?;
        Ok(values.into_no_null_iter().collect())
    }

    pub(crate) fn f64s(&self, name: &str) -> Result<Vec<f64>, CensusError> {
        let values = self.column(name)?.f64().map_err(|error| self.wrong(name, &error))?;
        Ok(values.into_no_null_iter().collect())
    }

    /// Returns the values of a column that may be empty in some rows.
    pub(crate) fn optional_u64s(&self, name: &str) -> Result<Vec<Option<u64>>, CensusError> {
        let values = self.frame.column(name).and_then(Column::u64);
        Ok(values.map_err(|error| self.wrong(name, &error))?.iter().collect())
    }

    pub(crate) fn truths(&self, name: &str) -> Result<Vec<bool>, CensusError> {
        let values = self.column(name)?.bool().map_err(|error| self.wrong(name, &error))?;
        Ok(values.iter().flatten().collect())
    }

    /// Returns what `read` makes of words, of which there may be none in some rows.
    pub(crate) fn optional_words<T>(
        &self,
        name: &str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<Vec<Option<T>>, CensusError> {
        let words = self.frame.column(name).and_then(|words| words.cast(&DataType::String));
        let words = words.map_err(|error| self.wrong(name, &error))?;
        let words = words.str().map_err(|error| self.wrong(name, &error))?;
        Ok(words.iter().map(|word| word.and_then(&read)).collect())
    }

    /// Returns words as what `read` makes of them.
    pub(crate) fn words<T>(
        &self,
        name: &str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<Vec<T>, CensusError> {
        let words = self.column(name)?.cast(&DataType::String);
        let words = words.map_err(|error| self.wrong(name, &error))?;
        let words = words.str().map_err(|error| self.wrong(name, &error))?;
        let read = |(row, word): (usize, Option<&str>)| {
            word.and_then(&read).ok_or_else(|| {
                let word = word.unwrap_or_default();
                self.damaged(format!("row {} of the column '{name}' has '{word}'", row + 1))
            })
        };
        words.iter().enumerate().map(read).collect()
    }

    /// Returns the list of numbers in a row.
    pub(crate) fn list_of_u16s(&self, name: &str, row: usize) -> Result<Vec<u16>, CensusError> {
        let wrong = |error: PolarsError| self.wrong(name, &error);
        let lists = self.frame.column(name).and_then(Column::list).map_err(wrong)?;
        let list = lists.get_as_series(row).unwrap_or_default();
        let values = list.u16().map_err(wrong)?;
        Ok(values.iter().flatten().collect())
    }
}
