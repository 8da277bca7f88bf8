//! The census: a parallel scanner that walks every puzzle of a collection and records each subset
//! it meets.
//!
//! A scan reads rows in parts of fixed size. Each part is scanned on its own, its tables are written
//! aside and renamed, and its counts are kept as integers, so memory stays bounded and the bytes do
//! not depend on the number of threads. [`run`] does all of it; [`plan`], [`do_parts`] and [`finish`] do
//! it in many runs; [`Scanner`] and [`Sink`] are the
//! pieces for those who want records without files.
#![forbid(unsafe_code)]

mod ask;
mod boards;
mod collect;
mod counts;
mod csv_file;
mod dataset;
mod error;
mod finish;
mod folder;
mod layout;
mod ledger;
mod manifest;
mod needed;
mod part;
mod plan;
mod rates;
mod run;
mod scan;
mod schema;
mod settings;
mod sums;
mod table_file;
mod tables;

pub use ask::{Answer, AnswerRow, Per, Question, QuestionError};
pub use boards::Boards;
pub use collect::{CollectSettings, Collected, Repeats, collect};
pub use counts::{Counts, ShapeCounts};
pub use dataset::{Dataset, RecordedPosition, is_dataset};
pub use error::CensusError;
pub use finish::{MakeShares, Summary};
pub use folder::{CollectionManifest, CollectionTotals, collection_manifest, source_of};
pub use manifest::{CollectionNotes, FileList, Manifest, Totals, UnknownWalk, WalkNotes, manifest};
pub use needed::{NeededLooks, Tally, each_needed};
pub use rates::{HouseKinds, HouseRate, Moment, PartRates};
pub use run::{PartsDone, Planned, do_parts, finish, plan, resume, run, run_with};
pub use scan::{PositionRecord, PuzzleScan, Scanner, Sink};
pub use schema::{ColumnDescription, SCHEMA_VERSION, TableDescription};
pub use settings::{Made, PART_SIZE, Settings, Tables};
pub use sums::{ClusterSums, ShapeSums};
pub use tables::schema;
