//! What a scan reads, does and writes.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::Source;
use tallyhouse_engine::WalkOptions;

/// How many rows a part covers if nothing else is said.
pub const PART_SIZE: u64 = 50_000;

/// What a scan reads, does and writes.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where the puzzles come from.
    pub sources: Vec<Source>,
    /// The dataset folder.
    pub out: PathBuf,
    /// The walk.
    pub walk: WalkOptions,
    /// Which tables are written.
    pub tables: Tables,
    /// Whether board states are kept with the positions.
    pub keep_states: bool,
    /// How many rows each part covers.
    pub part_size: u64,
    /// The seed of a generated collection, for the manifest.
    pub seed: Option<u64>,
    /// The slice of the collection that is scanned; everything if not given.
    pub shard: Option<Shard>,
    /// Whether an unfinished run in the folder is continued.
    pub resume: bool,
    /// How many rows the sources have to have; any number if not given.
    pub expect_rows: Option<u64>,
}

/// One of several slices of a collection: every n-th part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shard {
    index: u64,
    of: u64,
}

/// A text that names no slice.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a slice: expected I/N with 1 <= I <= N, as in 2/4")]
pub struct ParseShardError(String);

impl Shard {
    pub(crate) const fn covers(self, part: u64) -> bool {
        part % self.of == self.index - 1
    }

    /// Returns the number of the slice, from 1, and how many there are.
    #[must_use]
    pub const fn index_of(self) -> (u64, u64) {
        (self.index, self.of)
    }
}

impl std::str::FromStr for Shard {
    type Err = ParseShardError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        text.split_once('/')
            .and_then(|(index, of)| Some(Self { index: index.parse().ok()?, of: of.parse().ok()? }))
            .filter(|shard| 1 <= shard.index && shard.index <= shard.of)
            .ok_or_else(|| ParseShardError(text.to_owned()))
    }
}

impl std::fmt::Display for Shard {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.index, self.of)
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
