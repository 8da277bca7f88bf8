//! What charts and reports read of a census.

use std::cell::OnceCell;
use std::path::{Path, PathBuf};

use tallyhouse_analysis::{LookShares, Occurrence, look_shares};
use tallyhouse_census::{CensusError, Counts, Manifest, manifest};
use tallyhouse_stats::Level;

/// What the cells of a map lead to: places of the page that shows it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum CellLinks {
    /// Nothing: it stands alone.
    #[default]
    Nothing,
    /// The specimen of each shape.
    Specimens,
    /// The row of each shape in this table.
    Rows(String),
}

/// A census with its name. What takes reading its tables is read when it is first asked for.
pub struct Census {
    /// The name for readers.
    pub title: String,
    /// The folder of the dataset.
    pub folder: PathBuf,
    /// What was counted.
    pub counts: Counts,
    /// What the scan says of itself.
    pub manifest: Manifest,
    /// The level of all intervals.
    pub level: Level,
    /// What the cells of maps lead to on the page that shows them.
    pub cells_lead_to: CellLinks,
    occurrence: OnceCell<Occurrence>,
    needed: OnceCell<LookShares>,
}

impl Census {
    /// Opens the dataset in a folder; intervals will have this level.
    ///
    /// # Errors
    /// If there is none, or it is damaged.
    pub fn open(folder: &Path, title: &str, level: Level) -> Result<Self, CensusError> {
        Ok(Self {
            title: title.to_owned(),
            folder: folder.to_owned(),
            counts: Counts::of_dataset(folder)?,
            manifest: manifest(folder)?,
            level,
            cells_lead_to: CellLinks::default(),
            occurrence: OnceCell::new(),
            needed: OnceCell::new(),
        })
    }

    /// Returns how often each shape occurs.
    ///
    /// # Errors
    /// If the dataset can't be read.
    pub fn occurrence(&self) -> Result<&Occurrence, CensusError> {
        read_once(&self.occurrence, || Occurrence::of(&self.folder, &self.counts, self.level))
    }

    /// Returns the looks that puzzles need first and last.
    ///
    /// # Errors
    /// If the dataset can't be read.
    pub fn needed(&self) -> Result<&LookShares, CensusError> {
        let Self { folder, manifest, counts, level, .. } = self;
        read_once(&self.needed, || look_shares(folder, manifest, counts, *level))
    }
}

/// Returns what a cell holds, or reads it the first time.
fn read_once<T>(
    cell: &OnceCell<T>,
    read: impl FnOnce() -> Result<T, CensusError>,
) -> Result<&T, CensusError> {
    match cell.get() {
        Some(value) => Ok(value),
        None => read().map(|value| cell.get_or_init(|| value)),
    }
}
