//! What one puzzle shows.

use tallyhouse_board::HouseKind;
use tallyhouse_engine::{AppliedLook, Subset};

use super::slot::{At, KINDS, Moment, PLACES};
use crate::PuzzleScan;

/// Moments at which the same positions of a puzzle count, a bit each by their order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Moments(u8);

impl Moments {
    /// One more than the greatest number.
    pub(super) const COUNT: usize = 1 << Moment::ALL.len();

    pub(super) const fn index(self) -> usize {
        self.0 as usize
    }

    /// Returns those with this number.
    pub(super) fn of_index(index: usize) -> impl Iterator<Item = Moment> {
        Moment::ALL.iter().copied().filter(move |moment| index >> *moment as usize & 1 == 1)
    }

    pub(super) fn each(self) -> impl Iterator<Item = Moment> {
        Self::of_index(self.index())
    }
}

/// What houses of a puzzle show of a shape.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Shown {
    /// Houses with at least one proper subset.
    pub(super) houses: u32,
    /// Proper subsets.
    pub(super) subsets: u32,
}

/// Houses of a puzzle and what they show, up to some of its quiet positions.
pub(super) struct Tally {
    /// Houses by kind and open count; the kinds first all together.
    pub(super) by_kind: [[u32; 10]; KINDS],
    shown: [Shown; PLACES],
    /// Where something is shown.
    places: Vec<At>,
}

impl Default for Tally {
    fn default() -> Self {
        let (by_kind, shown) = ([[0; 10]; KINDS], [Shown::default(); PLACES]);
        Self { by_kind, shown, places: Vec::new() }
    }
}

impl Tally {
    /// Adds up a puzzle and gives what it comes to at each moment that has positions; moments that
    /// have the same come together. The positions of a moment are the first so many of a puzzle: only
    /// at the last may nothing be applied.
    pub(super) fn each(&mut self, scan: &PuzzleScan, mut take: impl FnMut(Moments, &Self)) {
        let Some(last) = scan.positions.last() else { return };
        self.clear();
        let every = scan.positions.len();
        let moving = every - usize::from(last.applied == AppliedLook::Nothing);
        let ends = [(Moment::Every, every), (Moment::First, 1), (Moment::Moving, moving)];
        let mut subsets = scan.subsets.as_slice();
        for (number, position) in (1..).zip(&scan.positions) {
            let [all, kinds @ ..] = &mut self.by_kind;
            for (houses, kind) in kinds.iter_mut().zip(HouseKind::ALL) {
                let here = position.exposure.of_kind(kind);
                for ((sum, all), here) in houses.iter_mut().zip(all.iter_mut()).zip(here) {
                    *sum += u32::from(*here);
                    *all += u32::from(*here);
                }
            }
            let here = subsets.iter().take_while(|(at, _)| *at == position.number).count();
            let (here, later) = subsets.split_at(here);
            subsets = later;
            self.add_subsets(here);
            let ending = ends.iter().filter(|(_, end)| *end == number);
            let moments = Moments(ending.fold(0, |bits, (moment, _)| bits | 1 << *moment as u8));
            if moments != Moments::default() {
                take(moments, self);
            }
        }
    }

    fn clear(&mut self) {
        self.by_kind = [[0; 10]; KINDS];
        for at in self.places.drain(..) {
            self.shown[at.index()] = Shown::default();
        }
    }

    /// Adds the subsets of a position, which come house by house.
    fn add_subsets(&mut self, subsets: &[(u16, Subset)]) {
        let (mut house, mut seen) = (None, 0u16);
        for (_, subset) in subsets.iter().filter(|(_, subset)| subset.is_proper()) {
            if house != Some(subset.house) {
                (house, seen) = (Some(subset.house), 0);
            }
            // A house has one open count, so the naked size alone tells its shapes apart.
            let is_first = seen >> subset.naked & 1 == 0;
            seen |= 1 << subset.naked;
            for kind in [0, 1 + subset.house.kind() as usize] {
                let at = At::new(kind, subset.open, subset.naked);
                let shown = &mut self.shown[at.index()];
                if shown.subsets == 0 {
                    self.places.push(at);
                }
                shown.subsets += 1;
                shown.houses += u32::from(is_first);
            }
        }
    }

    /// Iterates over the houses of each kind and open count, where there are any.
    pub(super) fn houses(&self) -> impl Iterator<Item = (At, u32)> {
        let of_kind = |(kind, by_open): (usize, &[u32; 10])| {
            let by_open = (0..).zip(*by_open).skip(2).filter(|(_, houses)| *houses > 0);
            by_open.map(move |(open, houses)| (At::new(kind, open, 0), houses)).collect::<Vec<_>>()
        };
        self.by_kind.iter().enumerate().flat_map(of_kind)
    }

    /// Iterates over what is shown, each with the houses that could show it.
    pub(super) fn shown(&self) -> impl Iterator<Item = (At, Shown, u32)> {
        self.places
            .iter()
            .map(|at| (*at, self.shown[at.index()], self.by_kind[at.kind()][at.open()]))
    }
}
