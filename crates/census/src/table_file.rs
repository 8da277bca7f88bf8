//! One Parquet file of a table, written and read back.

use std::cell::Cell;
use std::io::{self, Cursor};
use std::panic::{self, AssertUnwindSafe};
use std::path::{Path, PathBuf};
use std::sync::Once;

use polars::prelude::{
    Column, DataFrame, DataType, Float64Type, IdxCa, Int64Chunked, PolarsError, PolarsNumericType,
    PolarsResult, UInt8Type,
};
use polars_io::SerReader;
use polars_io::prelude::{ParallelStrategy, ParquetCompression, ParquetReader, ParquetWriter};
use tallyhouse_collection::Weight;
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
        let read = || match read() {
            Ok(frame) => match fault(&frame, table, columns, looks) {
                Ok(None) => Ok(frame),
                Ok(Some(fault)) => Err(fault),
                Err(error) => Err(error.to_string()),
            },
            Err(error) => Err(io_error(error).to_string()),
        };
        match unless_it_panics(read).unwrap_or_else(Err) {
            Ok(frame) => Ok(Self { path, frame }),
            Err(reason) => Err(CensusError::Damaged { path, reason }),
        }
    }

    /// Puts the rows of another table of the kind below these.
    pub(crate) fn append(&mut self, next: Self) -> Result<(), CensusError> {
        match self.frame.vstack_mut_owned(next.frame) {
            Ok(_) => Ok(()),
            Err(error) => Err(self.damaged(error.to_string())),
        }
    }

    /// Returns these rows in this order.
    pub(crate) fn in_order(&self, rows: Vec<u32>) -> Result<Self, CensusError> {
        let rows = IdxCa::from_vec("".into(), rows);
        let frame = self.frame.take(&rows).map_err(|error| self.damaged(error.to_string()))?;
        Ok(Self { path: self.path.clone(), frame })
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

    pub(crate) fn damaged(&self, reason: impl Into<String>) -> CensusError {
        CensusError::Damaged { path: self.path.clone(), reason: reason.into() }
    }

    fn column(&self, name: &str) -> Result<&Column, CensusError> {
        self.frame.column(name).map_err(|error| self.wrong(name, &error))
    }

    fn wrong(&self, name: &str, error: &PolarsError) -> CensusError {
        self.damaged(format!("the column '{name}': {error}"))
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

    /// Returns the values of a column as whole numbers: a word by its place in the list, true as 1.
    pub(crate) fn integers(&self, name: &str) -> Result<Int64Chunked, CensusError> {
        let column = self.column(name)?.as_materialized_series().to_physical_repr();
        let integers = column.cast(&DataType::Int64).map_err(|error| self.wrong(name, &error))?;
        let integers = integers.i64().map_err(|error| self.wrong(name, &error))?;
        Ok(integers.rechunk().into_owned())
    }

    /// Returns the weights of puzzles.
    pub(crate) fn weights(&self) -> Result<Vec<Weight>, CensusError> {
        let weight = |weight: f64| {
            // A double keeps a weight to the millionth.
            let millionths = (weight * 1e6).round() as u64;
            let wrong = || self.damaged(format!("the column 'weight' holds {weight}"));
            Weight::from_millionths(millionths).ok_or_else(wrong)
        };
        self.numbers::<Float64Type>("weight")?.into_iter().map(weight).collect()
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

/// Reads by the library, which may panic at what no writer writes. That is an error as others are: the panic
/// is told with it and not by itself.
fn unless_it_panics<T>(read: impl FnOnce() -> T) -> Result<T, String> {
    thread_local!(static IS_READING: Cell<bool> = const { Cell::new(false) });
    static SILENT: Once = Once::new();
    SILENT.call_once(|| {
        let tell = panic::take_hook();
        panic::set_hook(Box::new(move |panic| {
            if !IS_READING.get() {
                tell(panic);
            }
        }));
    });
    IS_READING.set(true);
    let read = panic::catch_unwind(AssertUnwindSafe(read));
    IS_READING.set(false);
    read.map_err(|panic| {
        let text = panic.downcast_ref::<&str>().map(ToString::to_string);
        let text = text.or_else(|| panic.downcast_ref::<String>().cloned());
        format!("it is no Parquet file ({})", text.unwrap_or_default())
    })
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
