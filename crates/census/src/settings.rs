//! What a scan reads, does and writes.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::{BLOCK_ROWS, Numbering, Recipe, Source};
use tallyhouse_engine::WalkOptions;
use tallyhouse_stats::Level;

use crate::CensusError;

/// How many rows a part covers if nothing else is said.
pub const PART_SIZE: u64 = 50 * BLOCK_ROWS;

/// How many families that are made a part covers if nothing else is said.
const PART_FAMILIES: u64 = 100;

/// A collection that is made while it is scanned.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Made {
    /// How.
    pub recipe: Recipe,
    /// How many puzzles; with splitting, families.
    pub count: u64,
}

/// What a scan reads, does and writes.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where the puzzles come from.
    pub sources: Vec<Source>,
    /// How they are made, if they are.
    pub made: Option<Made>,
    /// The dataset folder.
    pub out: PathBuf,
    /// The walk.
    pub walk: WalkOptions,
    /// Which tables are written.
    pub tables: Tables,
    /// Whether board states are kept with the positions.
    pub keep_states: bool,
    /// How many rows each part covers: whole thousands of them. Of families that are made, how many
    /// families: any number.
    pub part_size: u64,
    /// The seed of a generated collection, for the manifest.
    pub seed: Option<u64>,
    /// The confidence level of `shares.csv` and `rates.csv`.
    pub level: Level,
    /// Whether an unfinished run in the folder is continued, and a damaged dataset mended.
    pub resume: bool,
    /// Whether a dataset that is there gives way.
    pub replace: bool,
    /// How many rows the sources have to have; any number if not given.
    pub expect_rows: Option<u64>,
}

impl Settings {
    /// Scans sources as it is usually done.
    #[must_use]
    pub fn new(sources: Vec<Source>, out: PathBuf) -> Self {
        Self {
            sources,
            made: None,
            out,
            walk: WalkOptions::default(),
            tables: Tables::All,
            keep_states: false,
            part_size: PART_SIZE,
            seed: None,
            level: Level::default(),
            resume: false,
            replace: false,
            expect_rows: None,
        }
    }

    /// Scans what is made meanwhile.
    #[must_use]
    pub fn making(made: Made, out: PathBuf) -> Self {
        let (sources, seed) = (vec![made.recipe.source(made.count)], Some(made.recipe.seed()));
        let part_size = match made.recipe.numbering() {
            Numbering::Rows => PART_SIZE,
            Numbering::Families => PART_FAMILIES,
        };
        Self { made: Some(made), seed, part_size, ..Self::new(sources, out) }
    }

    /// Fails if parts of that size cut blocks of the collection's digest.
    ///
    /// # Errors
    /// [`CensusError::PartSize`].
    pub(crate) fn check(&self) -> Result<(), CensusError> {
        let numbering = self.sources.first().map(Source::numbering).unwrap_or_default();
        let found = self.part_size;
        if found > 0 && found.is_multiple_of(numbering.block_units()) {
            Ok(())
        } else {
            Err(CensusError::PartSize { found })
        }
    }
}

tallyhouse_words::choice! {
    /// Which Parquet tables a scan writes; the CSV files and the manifest are always written.
    #[derive(Default, Deserialize, Serialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Tables {
        /// Puzzles, positions and subsets.
        #[default]
        All,
        /// No tables, only the CSV files and the manifest.
        None,
    }
}
