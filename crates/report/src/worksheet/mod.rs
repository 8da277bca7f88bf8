//! Worksheets: puzzles or single houses to practise a look on, with a key.
//!
//! A board can be solved to its end by the looks of the wish, and gets stuck without what is practised, at
//! every open count and from both sides. A house is shown as it stands at a quiet position, and holds one
//! subset and no other. Quiet positions are those of the default walk. The items are drawn at random from
//! all that fit, and set from easy to hard by [`Score`]. The same puzzles and seed give the same items,
//! whatever the number of threads.

mod draw;
mod item;
mod pages;
mod search;
mod tables;
mod text;
mod wish;

use std::ops::RangeInclusive;

use tallyhouse_analysis::ReaderFile;
use tallyhouse_collection::Source;
use tallyhouse_figures::{Lettering, Paper};

pub use item::{Item, ItemRecord, Score};
pub use wish::{NoSuchWish, Practice, Wish};

use crate::ReportError;
use crate::specimen::{Examined, Hearing};

tallyhouse_words::choice! {
    /// What an item shows.
    #[derive(Default)]
    pub enum ItemKind {
        /// A puzzle from its start.
        #[default]
        Board,
        /// One house with its pencil marks.
        House,
    }
}

/// What a worksheet is made of.
#[derive(Clone, Debug)]
pub struct WorksheetSettings {
    /// What is practised, and by which looks the puzzles are solved.
    pub wish: Wish,
    /// What items show.
    pub kind: ItemKind,
    /// How many items there are.
    pub count: usize,
    /// The seed by which they are drawn.
    pub seed: u64,
    /// Whose glances the score counts.
    pub reader: ReaderFile,
    /// The puzzles.
    pub sources: Vec<Source>,
}

impl WorksheetSettings {
    /// How many items there may be.
    pub const ITEMS: RangeInclusive<u64> = 1..=1000;
}

/// A worksheet.
#[derive(Clone, Debug)]
pub struct Worksheet {
    /// The items, from easy to hard.
    pub items: Vec<Item>,
    /// How many puzzles fit, equivalent ones counted each.
    pub fitting: u64,
    /// What was examined.
    pub examined: Examined,
    settings: WorksheetSettings,
}

/// Finds the items of a worksheet.
///
/// # Errors
/// If a source can't be read, no row is a valid puzzle, or too few puzzles fit.
pub fn worksheet(
    settings: WorksheetSettings,
    hearing: &Hearing<'_>,
) -> Result<Worksheet, ReportError> {
    let (draw, examined) = search::draw(&settings, hearing)?;
    let (fitting, exercises) = (draw.fitting, draw.into_exercises());
    if exercises.len() < settings.count {
        return Err(ReportError::TooFewItems {
            found: exercises.len(),
            wanted: settings.count,
            puzzles: examined.puzzles,
        });
    }
    let item = |exercise| Item::of(exercise, settings.kind, &settings.reader);
    let mut items: Vec<Item> = exercises.map(item).collect::<Result<_, _>>()?;
    // Of equal scores the first puzzle.
    items.sort_by(|one, other| {
        let by_score = one.score.total().total_cmp(&other.score.total());
        by_score.then(one.specimen.origin.number.cmp(&other.specimen.origin.number))
    });
    (1..).zip(&mut items).for_each(|(number, item)| item.number = number);
    Ok(Worksheet { items, fitting, examined, settings })
}

impl Worksheet {
    /// Returns the names and contents of its files: `worksheet.pdf`, `worksheet.md`, `items.csv` and
    /// `times.csv`.
    ///
    /// # Errors
    /// If a picture can't be drawn or a table can't be written.
    pub fn files(&self, paper: Paper) -> Result<[(&'static str, Vec<u8>); 4], ReportError> {
        Ok([
            ("worksheet.pdf", self.booklet(paper)?.pdf(Lettering::Text)?),
            ("worksheet.md", self.markdown().into_bytes()),
            ("items.csv", self.items_csv()?),
            ("times.csv", self.times_csv()?),
        ])
    }

    /// Returns the rows of `items.csv`.
    pub fn records(&self) -> impl Iterator<Item = ItemRecord> {
        self.items.iter().map(Item::record)
    }
}
