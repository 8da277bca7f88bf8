//! What a folder of yields says of itself.

use std::path::Path;

use serde::{Deserialize, Serialize};
use tallyhouse_stats::Level;
use tallyhouse_storage::{Files, StorageError, write_sealed};

use super::{YieldReport, YieldSettings};

/// The manifest of a folder of yields, but for the list of its files.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct YieldHead {
    kind: String,
    schema_version: u32,
    tool: String,
    /// The names of the sources.
    pub sources: Vec<String>,
    /// The digest of all rows.
    pub blake3: String,
    /// The comment lines at the head of the collection.
    pub notes: Vec<String>,
    /// The looks of the walk that makes them when they are due.
    pub looks: String,
    /// The readers, in their order.
    pub readers: Vec<String>,
    /// The level of all intervals.
    pub level: Level,
    /// Rows read: puzzles and rejected rows.
    pub rows: u64,
    /// Valid puzzles.
    pub puzzles: u64,
    /// Clusters: families, and puzzles without one.
    pub clusters: u64,
    /// Quiet positions.
    pub positions: u64,
}

#[derive(Serialize)]
struct Manifest<'a> {
    #[serde(flatten)]
    head: &'a YieldHead,
    files: Files,
}

impl YieldHead {
    /// Says what was counted, and how.
    #[must_use]
    pub fn of(settings: &YieldSettings, sources: Vec<String>, report: &YieldReport) -> Self {
        let &YieldReport { rows, puzzles, clusters, positions, .. } = report;
        Self {
            kind: "yields".to_owned(),
            schema_version: 1,
            tool: concat!("tallyhouse ", env!("CARGO_PKG_VERSION")).to_owned(),
            sources,
            blake3: report.blake3.clone(),
            notes: report.notes.clone(),
            looks: settings.order().to_string(),
            readers: settings.readers.iter().map(|reader| reader.name.clone()).collect(),
            level: settings.level,
            rows,
            puzzles,
            clusters,
            positions,
        }
    }

    /// Writes it with the list of all other files of the folder, sealed.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn write(&self, path: &Path, files: Files) -> Result<(), StorageError> {
        write_sealed(path, &Manifest { head: self, files }).map(drop)
    }
}
