//! The charts of censuses, collections and trials, from their data.

mod card;
mod census;
mod collection;
mod effort;
mod folder;
mod juries;
mod needed;
mod occurrence;
mod orders;
mod rulebooks;
mod shares;
#[cfg(test)]
mod tests;
mod verdicts;
mod words;
mod yields;

use tallyhouse_engine::Shape;

pub use card::{CARD_FILE, answer_card, card_findings, card_markdown, card_of_folder};
pub use census::{CellLinks, Census};
pub use collection::{clues, narrowing};
pub(crate) use effort::settled;
pub use effort::{Walked, paired, side_ratios};
pub use juries::{Juries, limits, ratios};
pub use needed::{Needed, needed_looks};
pub use occurrence::{
    linked, occurrence_counts, occurrence_rates, row_name, shapes_by_open, specimen_name,
};
pub use orders::{SearchedOrders, frontier};
pub use rulebooks::{COMPARISON_FILE, HeadToHead, rulebooks};
pub(crate) use shares::opens_in_words;
pub use shares::{JudgedShare, LeftShape, LeftShapes, comparison, missed};
pub use verdicts::{VerdictsOf, verdict_table};
pub(crate) use words::{find_by, finds_by, puzzles_in};
pub use yields::{YieldTable, prices, yields};
pub(crate) use yields::{cheapest, price_words, share_words};

/// The shapes that a quiet position can show: both sides at least two cells.
pub fn possible_shapes() -> impl Iterator<Item = (u8, u8)> + Clone {
    Shape::all_quiet().map(|shape| (shape.open(), shape.naked()))
}
