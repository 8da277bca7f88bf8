//! A worksheet as tables.

use tallyhouse_analysis::to_csv;

use super::{ItemRecord, Worksheet};
use crate::ReportError;

/// The names of the columns of `times.csv`.
pub(super) const TIMES: &str = "person,item,look,seconds,found";

impl Worksheet {
    pub(super) fn items_csv(&self) -> Result<Vec<u8>, ReportError> {
        Ok(to_csv(ItemRecord::HEADER, self.records())?)
    }

    /// Returns the form for times: a row for each item, to be filled in.
    pub(super) fn times_csv(&self) -> Result<Vec<u8>, ReportError> {
        Ok(to_csv(TIMES, self.form_rows())?)
    }

    /// Returns the rows of the form, with what is known already.
    pub(super) fn form_rows(&self) -> Vec<[String; 5]> {
        let row = |record: ItemRecord| {
            [String::new(), record.item.to_string(), record.look, String::new(), String::new()]
        };
        self.records().map(row).collect()
    }
}
