//! The charts of censuses, collections and trials, from their data.

mod collection;
mod effort;
mod needed;
mod occurrence;
mod orders;
mod saving;
mod shares;
#[cfg(test)]
mod tests;
mod words;

pub use collection::{clues, narrowing};
pub use effort::{paired, side_ratios};
pub use needed::{Needed, needed_looks};
pub use occurrence::{occurrence_counts, occurrence_rates, shapes_by_open};
pub use orders::{SearchedOrder, SearchedOrders, frontier};
pub use saving::{ChartError, save, save_data, save_picture};
pub use shares::{LeftShapes, comparison, missed};

/// The shapes that a quiet position can show: both sides at least two cells.
pub fn possible_shapes() -> impl Iterator<Item = (u8, u8)> {
    (4..=9u8).flat_map(|open| (2..=open - 2).map(move |naked| (open, naked)))
}
