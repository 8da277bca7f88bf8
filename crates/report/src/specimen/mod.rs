//! Specimens: positions chosen to show a split.
//!
//! [`find`] walks puzzles on the full ladder, all finds together, and keeps the clearest positions
//! that fit what is [`Wanted`]; [`gallery`] keeps the clearest of each shape. What is clear is
//! a formula, see [`ScoreParts::score`]. The same puzzles give the same specimens, whatever the
//! number of threads.

mod board;
mod captions;
mod course;
mod description;
mod drawing;
mod examined;
mod explanation;
mod export;
mod figures;
mod gallery;
mod kept;
mod origin;
mod recorded;
mod score;
mod search;
mod selection;
#[cfg(test)]
pub(crate) mod tests;
mod wanted;
mod writing;

use std::collections::BTreeSet;

use tallyhouse_board::{Cell, Digit, DigitSet, House, PlaceSet, Puzzle};
use tallyhouse_engine::{HouseSplits, Order, Position, Shape, Single, Subset};
use tallyhouse_figures::Side;

pub use captions::Captions;
pub(crate) use course::givens;
pub use course::walk_views;
pub use drawing::split_of;
pub use examined::Examined;
pub use explanation::{
    CellRecord, CellStep, DigitRecord, DigitStep, Explanation, ExplanationRecord, subsets_of_house,
};
pub use export::{Record, csv, json};
pub use figures::{Caption, Content, Drawing, Title, View};
pub(crate) use gallery::clarity_words;
pub use gallery::{Gallery, gallery};
pub(crate) use kept::Kept;
pub use origin::Origin;
pub use score::{ScoreParts, WEIGHTS, Weights};
pub(crate) use search::each_block;
pub use search::{Found, Hearing, Puzzles, find, find_by_making};
pub use wanted::{NoSuchSplit, ProperSide, Wanted};
pub use writing::save_all;

use score::{NextSingle, first_new_single, new_singles, singles};

use crate::ReportError;

/// A position with the split that it shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Specimen {
    /// Where the puzzle comes from.
    pub origin: Origin,
    /// The puzzle.
    pub puzzle: Puzzle,
    /// The number of the position among the quiet positions of the puzzle's walk, from 0.
    pub quiet_position: u16,
    /// The position, before the eliminations.
    pub position: Position,
    /// The split; `applied` says if nothing easier is in the position.
    pub subset: Subset,
    /// The side that is looked for: the smaller one, unless another is wanted.
    pub lead: Side,
    /// What makes the specimen clear.
    pub parts: ScoreParts,
    /// The first single that the eliminations bring about, cells before digits.
    next: Option<NextSingle>,
}

impl Specimen {
    /// Takes a split of a position that was found or set up some other way.
    ///
    /// # Errors
    /// If the position does not go with the puzzle or is contradictory, or if the cells are no tight
    /// set with eliminations.
    pub fn of_split(
        origin: Origin,
        puzzle: Puzzle,
        quiet_position: u16,
        position: Position,
        house: House,
        naked: PlaceSet,
    ) -> Result<Self, ReportError> {
        if let Some((cell, digit)) =
            puzzle.givens().find(|&(cell, digit)| position.fixed(cell) != Some(digit))
        {
            return Err(ReportError::OtherPuzzle { cell, digit });
        }
        let mut subsets = Vec::new();
        for house in House::all() {
            subsets.extend(HouseSplits::of_house(&position, house)?.subsets(house));
        }
        mark_easiest(&mut subsets);
        let mut subset = *subsets
            .iter()
            .find(|subset| subset.house == house && subset.cells == naked)
            .ok_or_else(|| {
                let cells = cell_words(naked.iter().map(|place| house.cells()[place]));
                ReportError::NoSubset { house, cells }
            })?;
        subset.applied &= singles(&position).is_empty();
        let mut parts = ScoreParts::before_placement(&position, subsets.len(), &subset);
        let next = first_new_single(&position, &subset);
        parts.leads_to_placement = next.is_some();
        let lead = smaller_side(&subset);
        Ok(Self { origin, puzzle, quiet_position, position, subset, lead, parts, next })
    }

    /// Puts a side first, if one is named.
    #[must_use]
    pub fn led_by(self, lead: Option<Side>) -> Self {
        Self { lead: lead.unwrap_or(self.lead), ..self }
    }

    /// Returns the house.
    #[must_use]
    pub const fn house(&self) -> House {
        self.subset.house
    }

    /// Returns the shape of the split.
    #[must_use]
    pub const fn shape(&self) -> Shape {
        self.subset.shape()
    }

    /// Returns how clear the specimen is; more is clearer.
    #[must_use]
    pub const fn score(&self) -> i32 {
        self.parts.score()
    }

    /// Returns the single that the eliminations bring about at once, with whether it is a naked
    /// one; the first, if there are several.
    #[must_use]
    pub const fn next_single(&self) -> Option<(Single, bool)> {
        match self.next {
            Some(NextSingle { single, naked }) => Some((single, naked)),
            None => None,
        }
    }

    /// Returns the digits that can be placed at once after the eliminations, by their cells in reading
    /// order: all, or those that the cells of one house show.
    #[must_use]
    pub fn placed_next(&self, shown_by: Option<House>) -> Vec<(Cell, Digit)> {
        let is_shown = |next: &NextSingle| {
            let NextSingle { single, naked } = *next;
            let is_own = |house: House| house == single.house;
            let holds = |house: House| naked && house.cell_set().contains(single.cell);
            shown_by.is_none_or(|house| is_own(house) || holds(house))
        };
        let next = new_singles(&self.position, &self.subset).filter(is_shown);
        let placed: BTreeSet<_> = next.map(|next| (next.single.cell, next.single.digit)).collect();
        placed.into_iter().collect()
    }

    /// Tests if both show the same split of the same position.
    fn is_same_split(&self, other: &Self) -> bool {
        let key = |s: &Self| (s.puzzle, s.quiet_position, s.house(), s.subset.cells);
        key(self) == key(other)
    }
}

/// Returns the smaller side of a split, of equal ones the naked.
fn smaller_side(subset: &Subset) -> Side {
    if subset.naked <= subset.hidden() { Side::Naked } else { Side::Hidden }
}

/// Sets `applied` of the subsets that the first successful look of the full ladder finds: nothing
/// easier is in a position without singles. The subsets are all those of the position.
fn mark_easiest(subsets: &mut [Subset]) {
    let ladder = Order::ladder();
    let first_look = |subset: &Subset| ladder.looks().iter().position(|look| look.finds(subset));
    let first = subsets.iter().filter_map(first_look).min();
    for subset in subsets {
        subset.applied = first.is_some() && first_look(subset) == first;
    }
}

/// Writes digits as a list.
pub(crate) fn digit_words(digits: DigitSet) -> Vec<String> {
    digits.iter().map(Digit::char).map(String::from).collect()
}

/// Writes cells as a list.
pub(crate) fn cell_words(cells: impl IntoIterator<Item = Cell>) -> Vec<String> {
    cells.into_iter().map(|cell| cell.to_string()).collect()
}
