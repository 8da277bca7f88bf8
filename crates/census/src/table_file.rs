//! One Parquet file of a table, written and read back.

use std::io::{self, Cursor};
use std::panic::{self, AssertUnwindSafe};
use std::path::{Path, PathBuf};

use polars::prelude::{
    Column, DataFrame, IntoLazy, LazyFrame, PolarsError, PolarsNumericType, PolarsResult, UInt8Type,
};
use polars_io::SerReader;
use polars_io::prelude::{ParallelStrategy, ParquetCompression, ParquetReader, ParquetWriter};
use tallyhouse_storage::{Written, write_file};

use crate::CensusError;
use crate::schema::{Table, kind_name};

/// Writes a table as a Parquet file.
pub(crate) fn write_table(
    path: &Path,
    frame: PolarsResult<DataFrame>,
) -> Result<Written, CensusError> {
    let mut frame = frame.map_err(io::Error::other).map_err(CensusError::write(path))?;
    let written = write_file(path, |writer| {
        // Not in parallel: the parts already are, and a pool inside a pool can lock up.
        ParquetWriter::new(writer)
            .with_compression(ParquetCompression::Zstd(None))
            .set_parallel(false)
            .finish(&mut frame)
            .map(drop)
            .map_err(io_error)
    })?;
    Ok(written)
}

/// Keeps the system's own error, so that a full disk reads as one.
fn io_error(error: PolarsError) -> io::Error {
    match error {
        PolarsError::IO { error, .. } => io::Error::new(error.kind(), error.to_string()),
        other => io::Error::other(other),
    }
}

/// A file of a table, with the columns asked for. They are stored as the schema says, are equally
/// long and have a value wherever the schema promises one.
pub(crate) struct TableFile {
    path: PathBuf,
    frame: DataFrame,
}

impl TableFile {
    /// Reads columns of a table's file that was read whole and found to be as it was written; the names
    /// of the looks are for columns of words.
    pub(crate) fn of_bytes<R>(
        path: PathBuf,
        bytes: Vec<u8>,
        table: &Table<R>,
        columns: &[&str],
        looks: &[String],
    ) -> Result<Self, CensusError> {
        let names: Vec<String> = columns.iter().map(ToString::to_string).collect();
        let read = || {
            ParquetReader::new(Cursor::new(bytes))
                .with_columns(Some(names))
                // Not in parallel: several parts may be read at once already.
                .read_parallel(ParallelStrategy::None)
                .finish()
        };
        // The library may panic at what no writer writes.
        let read = match panic::catch_unwind(AssertUnwindSafe(read)) {
            Ok(read) => read.map_err(|error| io_error(error).to_string()),
            Err(_) => Err("it is no Parquet file".to_owned()),
        };
        let frame = read.and_then(|frame| match fault(&frame, table, columns, looks) {
            Ok(None) => Ok(frame),
            Ok(Some(fault)) => Err(fault),
            Err(error) => Err(error.to_string()),
        });
        match frame {
            Ok(frame) => Ok(Self { path, frame }),
            Err(reason) => Err(CensusError::Damaged { path, reason }),
        }
    }

    /// Returns some of the rows.
    pub(crate) fn rows(&self, first: usize, count: usize) -> Self {
        Self { path: self.path.clone(), frame: self.frame.slice(first as i64, count) }
    }

    /// Puts other numbers into a column.
    pub(crate) fn with_numbers(
        mut self,
        name: &str,
        numbers: Vec<i64>,
    ) -> Result<Self, CensusError> {
        let numbers = Column::new(name.into(), numbers);
        match self.frame.with_column(numbers) {
            Ok(_) => Ok(self),
            Err(error) => Err(self.damaged(error.to_string())),
        }
    }

    /// Returns the table itself.
    pub(crate) fn into_frame(self) -> DataFrame {
        self.frame
    }

    /// Returns the number of rows.
    pub(crate) fn height(&self) -> usize {
        self.frame.height()
    }

    /// Returns the table for a query.
    pub(crate) fn lazy(&self) -> LazyFrame {
        self.frame.clone().lazy()
    }

    pub(crate) fn damaged(&self, reason: impl Into<String>) -> CensusError {
        CensusError::Damaged { path: self.path.clone(), reason: reason.into() }
    }

    /// Runs a query to its end.
    pub(crate) fn collect(&self, query: LazyFrame) -> Result<Self, CensusError> {
        let frame = query.collect().map_err(|error| self.damaged(error.to_string()))?;
        Ok(Self { path: self.path.clone(), frame })
    }

    /// Tests if there is such a column.
    pub(crate) fn has_column(&self, name: &str) -> bool {
        self.frame.column(name).is_ok()
    }

    /// Returns the table itself.
    pub(crate) const fn frame(&self) -> &DataFrame {
        &self.frame
    }

    fn column(&self, name: &str) -> Result<&Column, CensusError> {
        self.frame.column(name).map_err(|error| self.wrong(name, &error))
    }

    fn wrong(&self, name: &str, error: &PolarsError) -> CensusError {
        self.damaged(format!("the column '{name}': {error}"))
    }

    /// Returns the numbers of a column; `None` where there is none.
    pub(crate) fn optional<T: PolarsNumericType>(
        &self,
        name: &str,
    ) -> Result<Vec<Option<T::Native>>, CensusError> {
        let column = self.column(name)?.as_materialized_series();
        let values = column.unpack::<T>().map_err(|error| self.wrong(name, &error))?;
        Ok(values.iter().collect())
    }

    /// Returns the numbers of a column that has one in every row.
    pub(crate) fn numbers<T: PolarsNumericType>(
        &self,
        name: &str,
    ) -> Result<Vec<T::Native>, CensusError> {
        let column = self.column(name)?.as_materialized_series();
        let values = column.unpack::<T>().map_err(|error| self.wrong(name, &error))?;
        Ok(values.into_no_null_iter().collect())
    }

    /// Returns the words of a column by their places in its list.
    pub(crate) fn codes(&self, name: &str) -> Result<Vec<u8>, CensusError> {
        let codes = self.column(name)?.as_materialized_series().to_physical_repr().into_owned();
        let codes = codes.unpack::<UInt8Type>().map_err(|error| self.wrong(name, &error))?;
        Ok(codes.into_no_null_iter().collect())
    }

    pub(crate) fn truths(&self, name: &str) -> Result<Vec<bool>, CensusError> {
        let values = self.column(name)?.bool().map_err(|error| self.wrong(name, &error))?;
        Ok(values.iter().flatten().collect())
    }

    /// Tests if a column has no value in some row.
    pub(crate) fn has_gaps(&self, name: &str) -> Result<bool, CensusError> {
        Ok(self.column(name)?.null_count() > 0)
    }

    /// Returns the text in a row, if there is one.
    pub(crate) fn text(&self, name: &str, row: usize) -> Result<Option<&str>, CensusError> {
        let texts = self.column(name)?.str().map_err(|error| self.wrong(name, &error))?;
        Ok(texts.get(row))
    }

    /// Returns the list of numbers in a row.
    pub(crate) fn list_of_u16s(&self, name: &str, row: usize) -> Result<Vec<u16>, CensusError> {
        let wrong = |error: PolarsError| self.wrong(name, &error);
        let lists = self.column(name)?.list().map_err(wrong)?;
        let list = lists.get_as_series(row).unwrap_or_default();
        let values = list.u16().map_err(wrong)?;
        Ok(values.iter().flatten().collect())
    }
}

/// Says in what a file differs from the schema.
fn fault<R>(
    frame: &DataFrame,
    table: &Table<R>,
    columns: &[&str],
    looks: &[String],
) -> PolarsResult<Option<String>> {
    for name in columns {
        let column = frame.column(name)?;
        let Some(wanted) = table.column(name) else {
            return Ok(Some(format!("the schema has no column '{name}'")));
        };
        let (kind, rows) = (wanted.kind(looks)?, column.len());
        if *column.dtype() != kind {
            let (found, expected) = (kind_name(column.dtype()), kind_name(&kind));
            return Ok(Some(if found == expected {
                format!("the column '{name}' has other words than the walk of manifest.json")
            } else {
                format!("the column '{name}' holds {found}, expected {expected}")
            }));
        }
        if rows != frame.height() {
            let height = frame.height();
            return Ok(Some(format!("the column '{name}' has {rows} rows, others {height}")));
        }
        if wanted.is_full() && column.null_count() > 0 {
            return Ok(Some(format!("the column '{name}' has rows without a value")));
        }
    }
    Ok(None)
}
