//! The CSV files of a dataset.

use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;
use tallyhouse_storage::write_file;

use crate::CensusError;
use crate::dataset::Listed;

/// Writes rows below a header; a row has no names.
pub(crate) fn write_csv(
    path: &Path,
    header: &[&str],
    rows: impl Iterator<Item = impl Serialize>,
) -> Result<(), CensusError> {
    write_file(path, |writer| {
        let mut csv = csv::Writer::from_writer(writer);
        csv.write_record(header)?;
        for row in rows {
            csv.serialize(row)?;
        }
        csv.flush()
    })?;
    Ok(())
}

/// Reads the rows of a file that is as it was written, and has this header.
pub(crate) fn read_csv<T: DeserializeOwned>(
    listed: &Listed,
    name: &str,
    header: &[&str],
) -> Result<Vec<T>, CensusError> {
    let damaged =
        |reason: String| CensusError::Damaged { path: listed.folder().join(name), reason };
    let bytes = listed.read(name)?;
    let read = || -> csv::Result<(bool, Vec<T>)> {
        let mut csv = csv::Reader::from_reader(bytes.as_slice());
        let as_expected = csv.headers()?.iter().eq(header.iter().copied());
        Ok((as_expected, csv.into_deserialize().collect::<csv::Result<_>>()?))
    };
    match read() {
        Ok((true, rows)) => Ok(rows),
        Ok((false, _)) => Err(damaged(format!("expected the header {}", header.join(",")))),
        Err(error) => Err(damaged(error.to_string())),
    }
}
