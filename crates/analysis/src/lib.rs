//! What collections and censuses say, and rules of thumb on trial.
//!
//! A [`Rulebook`] is an ordered list of looks that somebody advises; a [`ClaimFile`] states what is
//! said of looks, houses and rulebooks. [`Coverage`] tells what a rulebook looks for, without any
//! data; [`judge`] puts rulebooks and claims on trial with a collection of puzzles. [`describe`] says
//! what a collection is like, [`Occurrence`] how often each shape shows.
#![forbid(unsafe_code)]

mod card;
mod claims;
pub mod compare;
mod counted;
mod coverage;
mod csv_file;
mod describe;
mod error;
mod glances;
mod judge;
mod needed;
mod occurrence;
pub mod order_search;
mod population;
mod published;
mod reach;
mod reader;
mod rulebook;
mod shapes;
mod sides;
mod text_file;
pub mod timings;
pub mod yields;

pub use card::{Card, CardShape, NOT_WORTH_IT, ShapeSizes};
pub use claims::{Claim, ClaimFile, Noun, Quantity};
pub use coverage::{Coverage, ShapeCoverage};
pub use csv_file::{estimate_fields, number_field, to_csv, value_fields};
pub use describe::{ClueRow, Description, HardestRow, describe};
pub use error::AnalysisError;
pub use glances::RawGlances;
pub use judge::{
    BookReport, Example, JudgeReport, JudgeSettings, Juror, JurorPrice, LeftOutShape, LookPrice,
    MissedShape, ShareCounts, Totals, TrialWalk, Unit, Verdict, judge,
};
pub use needed::{
    LookShare, LookShares, NOTHING_FOUND, SINGLES_ALONE, STUCK, look_shares, look_shares_csv,
};
pub use occurrence::{Occurrence, ShapeShare, shares_csv};
pub use population::population;
pub use published::{MINIMAL_PUZZLES, PublishedClues};
pub use reader::ReaderFile;
pub use rulebook::{AdvisedLook, Rulebook};
pub use shapes::Shapes;
pub use sides::{Cheaper, PairedCosts, SideComparison, compare_sides, paired_costs};
pub use text_file::{FileError, TextFile};
