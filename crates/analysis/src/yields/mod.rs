//! What looks yield: how often a look finds something, and what a find costs.
//!
//! A look's *yield* is its finds divided by the times it was made, its *price* the glances spent on it,
//! in vain or not, divided by its finds. Both depend on who reads (a [`ReaderFile`]) and on when the
//! look is made (a [`Frame`]). Puzzles are the independent units; where they have families, families
//! are. All sums are whole numbers, so no result depends on the number of threads.

mod count;
mod head;
mod pass;
pub(crate) mod prices;
mod progress;
mod sums;
mod table;

use serde::Serialize;
use tallyhouse_census::CensusError;
use tallyhouse_collection::{Progress, Rejects, Rows, Source};
use tallyhouse_engine::{Look, Order};
use tallyhouse_stats::{Level, Limits};

use crate::{AnalysisError, ReaderFile};
use count::Place;
pub use head::YieldHead;
pub use progress::{ProgressRow, progress_csv};
pub use table::yields_csv;

tallyhouse_words::choice! {
    /// When a look is made.
    #[derive(Serialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Frame {
        /// In each house at each quiet position of the full ladder's walk, all finds together; the ends of
        /// walks that get stuck included.
        Every,
        /// As the one-by-one walk of an order makes it: through rows, columns and boxes, and after each find
        /// from the top again; at positions that are not quiet too, if singles stand later.
        Due,
        /// In the houses with at least one proper subset of the look's shape, at the same positions. It
        /// tells which side is found sooner where there is something to find, and nothing else.
        Present,
        /// As every, at those positions alone where the walk goes on.
        Moving,
    }
}

impl Frame {
    /// Says where looks are made.
    #[must_use]
    pub const fn in_prose(self) -> &'static str {
        match self {
            Self::Every => "in every house",
            Self::Due => "where the look is due",
            Self::Present => "where there is something to find",
            Self::Moving => "in every house where the walk goes on",
        }
    }

    /// Tests if the frame can tell what this reader does. Who remembers needs an order of looks.
    #[must_use]
    pub const fn allows(self, reader: &ReaderFile) -> bool {
        matches!(self, Self::Due) || !reader.model.remembers()
    }
}

/// What is counted.
#[derive(Clone, Debug)]
pub struct YieldSettings {
    /// The readers, each with a name of its own.
    pub readers: Vec<ReaderFile>,
    /// The looks that are asked about, and the order of the walk that makes looks when they are due; if
    /// it is none, every look, and the full ladder.
    pub looks: Option<Order>,
    /// The level of all intervals.
    pub level: Level,
}

impl YieldSettings {
    /// Tests if a look is asked about in houses of its open count.
    fn asks(&self, place: Place) -> bool {
        self.looks.as_ref().is_none_or(|order| {
            let is_it = |look: &&Look| look.everywhere() == place.look;
            let sizes = order.looks().iter().filter(is_it).filter_map(|look| look.size());
            sizes.into_iter().any(|size| size.covers(place.open))
        })
    }

    /// Returns the order of the walk that makes looks when they are due.
    #[must_use]
    pub fn order(&self) -> Order {
        self.looks.clone().unwrap_or_else(Order::ladder)
    }
}

/// What one look yields in houses of one open count, for one reader in one frame.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Yield {
    /// The name of the reader.
    pub reader: String,
    /// When the look is made.
    pub frame: Frame,
    /// The look, made in houses of any open count.
    #[serde(serialize_with = "as_text")]
    pub look: Look,
    /// The number of open cells of the houses.
    pub open: u8,
    /// `all`, `row`, `column` or `box`.
    pub house_kind: &'static str,
    /// How often the look was made.
    pub made: u64,
    /// How often it found something.
    pub finds: u64,
    /// Cells seen, without weight.
    pub cells_seen: u64,
    /// Places gathered, without weight.
    pub places_gathered: u64,
    /// Tries, without weight.
    pub tries: u64,
    /// The glances, weighted as the reader says.
    pub glances: f64,
    /// Finds by times made, by the weight of puzzles.
    #[serde(skip)]
    pub share: Limits,
    /// Glances by finds, by the weight of puzzles.
    #[serde(skip)]
    pub price: Limits,
}

fn as_text<S: serde::Serializer>(look: &Look, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(look)
}

/// What was counted.
#[derive(Clone, Debug)]
pub struct YieldReport {
    /// By reader, frame, look, open count and kind of house; looks that found nothing included.
    pub yields: Vec<Yield>,
    /// By reader, frame, look and open count.
    pub progress: Vec<ProgressRow>,
    /// The digest of all rows.
    pub blake3: String,
    /// The comment lines at the head of the collection.
    pub notes: Vec<String>,
    /// Rows read: puzzles and rejected rows.
    pub rows: u64,
    /// Valid puzzles.
    pub puzzles: u64,
    /// Clusters: families, and puzzles without one.
    pub clusters: u64,
    /// Quiet positions.
    pub positions: u64,
}

impl YieldReport {
    /// The files that hold rows of yields.
    pub const TABLES: [&str; 2] = ["yields.csv", "yields-moving.csv"];

    /// Returns what follows the finds and failures of each look that is due, over all open counts: the rows
    /// of the first reader, since all take the same walk.
    pub fn when_to_stop(&self) -> impl Iterator<Item = &ProgressRow> {
        let first = self.progress.first().map(|row| &row.reader);
        let is_in = move |row: &&ProgressRow| {
            row.frame == Frame::Due && row.open.is_none() && Some(&row.reader) == first
        };
        self.progress.iter().filter(is_in).filter(|row| row.finds + row.failed > 0)
    }

    /// Returns the tables as files: names and contents.
    ///
    /// # Errors
    /// If the data can't be written.
    pub fn files(&self) -> Result<[(&'static str, Vec<u8>); 3], csv::Error> {
        let rows = |moving: bool| {
            yields_csv(self.yields.iter().filter(move |row| (row.frame == Frame::Moving) == moving))
        };
        let [yields, moving] = Self::TABLES;
        let progress = ("progress.csv", progress_csv(&self.progress)?);
        Ok([(yields, rows(false)?), (moving, rows(true)?), progress])
    }
}

/// Makes looks at the quiet positions of all valid puzzles and counts what they yield. Rejected rows
/// go to `rejects`.
///
/// # Errors
/// If a source can't be read, no row is a valid puzzle, two readers have one name, a family returns
/// after others, or sums leave the range in which they are exact.
pub fn yields(
    settings: &YieldSettings,
    sources: Vec<Source>,
    rejects: &mut Rejects,
    progress: &dyn Progress,
) -> Result<YieldReport, AnalysisError> {
    let names = settings.readers.iter().map(|reader| ("reader", reader.name.as_str()));
    AnalysisError::unless_distinct(names)?;
    let mut rows = Rows::open(sources)?.with_families_together();
    let counted = pass::pass(settings, &mut rows, rejects, progress)?;
    if counted.puzzles == 0
        && let Some(list) = rejects.finish()?
    {
        let first = rejects.first().unwrap_or_default().to_owned();
        return Err(CensusError::AllRejected { rows: rows.rows(), first, rejects: list }.into());
    }
    table::report(settings, &counted, &rows)
}
