//! The census: a parallel scanner that walks every puzzle of a collection and records each subset
//! it meets.
//!
//! A scan reads rows in parts of fixed size. Each part is scanned on its own, its tables are written
//! aside and renamed, and its counts are kept as integers, so memory stays bounded and the bytes do
//! not depend on the number of threads. [`run`] does all of it; [`Scanner`] and [`Sink`] are the
//! pieces for those who want records without files.
#![forbid(unsafe_code)]

mod aside;
mod boards;
mod clusters;
mod collect;
mod counts;
mod dataset;
mod error;
mod folder;
mod layout;
mod ledger;
mod manifest;
mod merge;
mod needed;
mod part;
mod run;
mod scan;
mod schema;
mod settings;
mod table_file;
mod tables;
mod weights;

pub use boards::Boards;
pub use collect::{CollectSettings, Collected, Repeats, collect};
pub use counts::{Counts, ShapeCounts};
pub use dataset::{Dataset, RecordedPosition, is_dataset};
pub use error::CensusError;
pub use folder::{CollectionManifest, CollectionTotals, collection_manifest, source_of};
pub use manifest::{
    CollectionNotes, Manifest, SCHEMA_VERSION, Totals, UnknownWalk, WalkNotes, manifest,
};
pub use merge::merge;
pub use needed::{NeededLooks, Tally, each_needed};
pub use run::{Summary, run, run_then};
pub use scan::{PositionRecord, PuzzleScan, Scanner, Sink};
pub use schema::{ColumnDescription, TableDescription};
pub use settings::{PART_SIZE, ParseShardError, Settings, Shard, Tables};
pub use tables::schema;
pub use weights::{ClusterWeights, ShapeWeights, each_cluster};
