//! Keeping the clearest specimens, whatever the order in which they come.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use tallyhouse_board::{House, PlaceSet};
use tallyhouse_engine::Subset;

use super::{Shape, Specimen};

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

    /// Returns the specimens by rank; by shape, then rank.
    pub(super) fn into_specimens(self) -> Vec<Specimen> {
        self.held.into_values().flatten().map(|(_, specimen)| specimen).collect()
    }
}
