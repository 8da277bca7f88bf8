use serde::Serialize;
use tallyhouse_stats::{Estimate, Interval, Limits};
use tallyhouse_words::as_field_or_number;

/// Writes records as CSV below a header, whose names have commas between them. The fields of what
/// stands inside a record stand in its place. No text begins a formula: see [`as_field_or_number`].
///
/// # Errors
/// If a record has another number of fields than the header.
pub fn to_csv<R: Serialize>(
    header: &str,
    records: impl IntoIterator<Item = R>,
) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    writer.write_record(header.split(','))?;
    records.into_iter().try_for_each(|record| writer.serialize(record))?;
    let bytes = writer.into_inner().map_err(csv::IntoInnerError::into_error)?;
    without_formulas(&bytes)
}

fn without_formulas(csv: &[u8]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::with_capacity(csv.len()));
    for record in csv::ReaderBuilder::new().has_headers(false).from_reader(csv).records() {
        let record = record?;
        writer.write_record(record.iter().map(|field| as_field_or_number(field).into_owned()))?;
    }
    writer.into_inner().map_err(|error| error.into_error().into())
}

/// Returns a number as a field of a CSV, with all its digits; empty if there is none.
#[must_use]
pub fn number_field(number: Option<f64>) -> String {
    number.map_or_else(String::new, |number| number.to_string())
}

/// Returns the fields `share,low,high,method` of a CSV; empty ones without an estimate.
#[must_use]
pub fn estimate_fields(estimate: Option<&Estimate>) -> [String; 4] {
    let [value, low, high] = value_fields(estimate);
    [value, low, high, estimate.map_or_else(String::new, |estimate| estimate.method.to_string())]
}

/// Returns the fields `value,low,high` of a CSV; empty ones for what the data don't tell.
#[must_use]
pub fn value_fields(estimate: Option<&Estimate>) -> [String; 3] {
    limit_fields(estimate.copied().map_or_else(Limits::default, Limits::from))
}

/// The fields `value,low,high` of a CSV; empty ones for what the data don't tell.
pub(crate) fn limit_fields(limits: Limits) -> [String; 3] {
    [limits.value, limits.low, limits.high].map(number_field)
}

/// The ends of an interval as fields of a CSV; empty ones without an interval.
pub(crate) fn interval_fields(interval: Option<Interval>) -> [String; 2] {
    let ends = interval.map(|Interval { low, high }| [low, high].map(|end| end.to_string()));
    ends.unwrap_or_default()
}
