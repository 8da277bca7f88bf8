//! Keeping the clearest specimens, whatever the order in which they come.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use tallyhouse_board::{House, PlaceSet, Puzzle};
use tallyhouse_engine::{Position, Shape, Subset};
use tallyhouse_figures::Side;

use super::score::first_new_single;
use super::{Origin, ScoreParts, Specimen, smaller_side};

/// The order of specimens: score, then puzzle, position, house and cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Rank {
    score: Reverse<i32>,
    number: u64,
    quiet_position: u16,
    house: House,
    cells: PlaceSet,
}

impl Rank {
    pub(super) fn new(score: i32, number: u64, quiet_position: u16, subset: &Subset) -> Self {
        let Subset { house, cells, .. } = *subset;
        Self { score: Reverse(score), number, quiet_position, house, cells }
    }

    fn of(specimen: &Specimen) -> Self {
        let Specimen { origin, quiet_position, subset, .. } = specimen;
        Self::new(specimen.score(), origin.number, *quiet_position, subset)
    }
}

/// A split that may become a specimen.
pub(super) struct Candidate<'a> {
    /// The position of the puzzle in the collection.
    pub(super) number: u64,
    pub(super) puzzle: Puzzle,
    pub(super) quiet_position: u16,
    pub(super) position: &'a Position,
    /// How many subsets the position has.
    pub(super) subsets: usize,
    /// The split; `applied` says if nothing easier is in the position.
    pub(super) subset: &'a Subset,
}

/// The first specimens in the order of their ranks, overall or of each shape. A split of a puzzle
/// that comes up again is held once.
#[derive(Clone, Debug)]
pub(super) struct Selection {
    most: usize,
    by_shape: bool,
    held: BTreeMap<Option<Shape>, Vec<(Rank, Specimen)>>,
}

impl Selection {
    pub(super) const fn of_all(most: usize) -> Self {
        Self { most, by_shape: false, held: BTreeMap::new() }
    }

    pub(super) const fn one_of_each_shape() -> Self {
        Self { most: 1, by_shape: true, held: BTreeMap::new() }
    }

    fn group(&self, shape: Shape) -> Option<Shape> {
        self.by_shape.then_some(shape)
    }

    /// Tests if a specimen of this rank would be held.
    pub(super) fn has_room_for(&self, rank: &Rank, shape: Shape) -> bool {
        let held = self.held.get(&self.group(shape)).map_or(&[][..], Vec::as_slice);
        held.len() < self.most || held.last().is_some_and(|(last, _)| rank < last)
    }

    /// Makes a specimen of a split if it would be held.
    pub(super) fn offer(&mut self, candidate: &Candidate<'_>, origin: impl FnOnce() -> Origin) {
        let &Candidate { number, puzzle, quiet_position, position, subsets, subset } = candidate;
        let shape = subset.shape();
        let parts = ScoreParts::before_placement(position, subsets, subset);
        let rank = |parts: &ScoreParts| Rank::new(parts.score(), number, quiet_position, subset);
        // What follows from the eliminations takes longer to find out.
        let at_best = ScoreParts { leads_to_placement: true, ..parts };
        if !self.has_room_for(&rank(&at_best), shape) {
            return;
        }
        let next = first_new_single(position, subset);
        let parts = ScoreParts { leads_to_placement: next.is_some(), ..parts };
        if self.has_room_for(&rank(&parts), shape) {
            let (position, subset) = (position.clone(), *subset);
            let origin = origin();
            let lead = smaller_side(&subset);
            self.add(Specimen {
                origin,
                puzzle,
                quiet_position,
                position,
                subset,
                lead,
                parts,
                next,
            });
        }
    }

    pub(super) fn add(&mut self, specimen: Specimen) {
        let rank = Rank::of(&specimen);
        if !self.has_room_for(&rank, specimen.shape()) {
            return;
        }
        let held = self.held.entry(self.group(specimen.shape())).or_default();
        if let Some(at) = held.iter().position(|(_, other)| other.is_same_split(&specimen)) {
            if held[at].0 <= rank {
                return;
            }
            held.remove(at);
        }
        let at = held.partition_point(|(other, _)| *other < rank);
        held.insert(at, (rank, specimen));
        held.truncate(self.most);
    }

    pub(super) fn merge(&mut self, other: Self) {
        for (_, specimen) in other.held.into_values().flatten() {
            self.add(specimen);
        }
    }

    /// Tests if as many as asked for are held.
    pub(super) fn is_full(&self) -> bool {
        self.held.values().map(Vec::len).sum::<usize>() >= self.most
    }

    /// Returns the specimens by rank; by shape, then rank. This side of each comes first, if one is
    /// named.
    pub(super) fn into_specimens(self, lead: Option<Side>) -> Vec<Specimen> {
        let held = self.held.into_values().flatten();
        held.map(|(_, specimen)| specimen.led_by(lead)).collect()
    }
}
