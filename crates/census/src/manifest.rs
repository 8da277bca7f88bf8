//! The manifest: what a dataset is and how it came to be.

use serde::{Deserialize, Serialize};
use tallyhouse_engine::{Course, WalkOptions, WhenStuck};

use crate::Totals;

/// The version of the tables, the CSV headers and the manifest.
pub const SCHEMA_VERSION: u32 = 2;

/// The file `manifest.json`, written last: a dataset with a manifest is whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// [`SCHEMA_VERSION`] of the writer.
    pub schema_version: u32,
    /// The program and its version.
    pub tool: String,
    /// Where the puzzles came from.
    pub collection: CollectionNotes,
    /// The walk.
    pub walk: WalkNotes,
    /// `all` or `none`.
    pub tables: String,
    /// True if the table of positions holds board states.
    pub keep_states: bool,
    /// How many rows each part covers.
    pub part_size: u64,
    /// How many parts there are.
    pub parts: u64,
    /// The seed of a generated collection, if known.
    pub seed: Option<u64>,
    /// The slice of the collection that was scanned, as in `2/4`; null for all of it.
    pub shard: Option<String>,
    /// What was scanned.
    pub totals: Totals,
    /// Puzzles by the last look that was needed, in the order of looks; the last entry, named
    /// `none`, for puzzles that needed no look.
    pub hardest_look: Vec<(String, u64)>,
    /// Rejected rows by reason.
    pub rejected: Vec<(String, u64)>,
    /// How long the scan took; the only entry that differs between equal runs.
    pub wall_seconds: f64,
}

/// Where the puzzles came from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CollectionNotes {
    /// The sources as named on the command line.
    pub sources: Vec<String>,
    /// BLAKE3 over the text of all rows, each followed by a line feed.
    pub blake3: String,
    /// The comment lines at the head of the collection.
    pub notes: Vec<String>,
}

/// The walk in words that can be read back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WalkNotes {
    /// The looks, first look first.
    pub order: Vec<String>,
    /// `together` or `one by one`.
    pub course: String,
    /// The order of houses of a one-by-one walk; empty otherwise.
    pub houses: Vec<String>,
    /// `stop` or `give digit`.
    pub when_stuck: String,
}

impl From<&WalkOptions> for WalkNotes {
    fn from(options: &WalkOptions) -> Self {
        let (course, houses) = match &options.course {
            Course::Together => ("together", Vec::new()),
            Course::OneByOne(houses) => {
                ("one by one", houses.iter().map(ToString::to_string).collect())
            }
        };
        Self {
            order: options.order.looks().iter().map(ToString::to_string).collect(),
            course: course.to_owned(),
            houses,
            when_stuck: match options.when_stuck {
                WhenStuck::Stop => "stop",
                WhenStuck::GiveDigit => "give digit",
            }
            .to_owned(),
        }
    }
}
