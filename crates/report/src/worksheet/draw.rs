//! Drawing exercises at random, whatever the order in which they come.

use std::collections::BTreeMap;

use tallyhouse_board::{Cell, Clues, Frame9, Puzzle};
use tallyhouse_collection::canonical;
use tallyhouse_engine::{Look, Subset};
use tallyhouse_storage::Digest;

use crate::specimen::Origin;

/// A place in a puzzle's walk where the wanted look finds something.
#[derive(Clone, Debug)]
pub(super) struct Exercise {
    pub(super) origin: Origin,
    pub(super) puzzle: Puzzle,
    /// The number of the quiet position, from 0, and its board.
    pub(super) quiet_position: u16,
    pub(super) states: Box<[u16; Cell::COUNT]>,
    pub(super) subset: Subset,
    pub(super) look: Look,
    /// All that the look finds in sight, whatever the open cells.
    pub(super) found: Vec<Subset>,
    /// Other subsets in sight.
    pub(super) others: u16,
}

/// Some of all exercises, drawn at random. Each class of equivalent puzzles has its lot, which depends on
/// the seed and the class alone; those with the least lots are held. So equivalent puzzles come once, the
/// first of them, and the order in which they come does not matter.
#[derive(Clone, Debug)]
pub(super) struct Draw {
    seed: u64,
    most: usize,
    /// How many were offered.
    pub(super) fitting: u64,
    held: BTreeMap<[u8; 32], Exercise>,
}

impl Draw {
    pub(super) const fn new(seed: u64, most: usize) -> Self {
        Self { seed, most, fitting: 0, held: BTreeMap::new() }
    }

    pub(super) fn offer(&mut self, exercise: Exercise) {
        self.fitting += 1;
        let form = canonical(&Clues::<Frame9>::from(&exercise.puzzle)).form;
        self.hold(lot(self.seed, form.values()), exercise);
    }

    pub(super) fn merge(&mut self, other: Self) {
        self.fitting += other.fitting;
        other.held.into_iter().for_each(|(lot, exercise)| self.hold(lot, exercise));
    }

    fn hold(&mut self, lot: [u8; 32], exercise: Exercise) {
        let is_first = |held: &Exercise| held.origin.number <= exercise.origin.number;
        if self.held.get(&lot).is_some_and(is_first) {
            return;
        }
        self.held.insert(lot, exercise);
        if self.held.len() > self.most {
            self.held.pop_last();
        }
    }

    /// Returns what is held, in the order of lots.
    pub(super) fn into_exercises(self) -> impl ExactSizeIterator<Item = Exercise> {
        self.held.into_values()
    }
}

/// Returns a lot: what has the least one is drawn first.
pub(super) fn lot(seed: u64, of: &[u8]) -> [u8; 32] {
    *Digest::of(&[&seed.to_le_bytes(), of].concat()).as_bytes()
}
