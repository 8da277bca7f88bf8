//! What each shape matters for: the full ladder's walk with one shape left out.

use std::array::from_fn;
use std::ops::AddAssign;

use serde::Serialize;
use tallyhouse_board::{Cell, PlaceSet, Puzzle};
use tallyhouse_census::PuzzleScan;
use tallyhouse_engine::{
    Order, Outcome, QuietPosition, Recorder, Shape, Subset, WalkEnd, WalkOptions, Walker,
};
use tallyhouse_stats::{Estimate, Level, StatsError};

use crate::counted::Counted;
use crate::reach::{FIXED, falls_short, ladder_states};

/// How many shapes a quiet position can have.
const SHAPES: usize = 21;

/// What the full ladder's walk would be without one shape.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LeftOutShape {
    /// The open count of the house.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// The size of the hidden side.
    pub hidden: u8,
    /// Puzzles in which the full ladder's walk applies it.
    pub applied: u64,
    /// The share of these, weighted where puzzles are.
    pub applied_share: Option<Estimate>,
    /// Puzzles in which the walk reaches less if no look may find the shape.
    pub short: u64,
    /// The share of these, weighted where puzzles are.
    pub short_share: Option<Estimate>,
    /// Puzzles in which a split that the full ladder's walk applies under the shape is applied under
    /// another one instead, after cells of its house were placed.
    pub elsewhere: u64,
    /// Different splits recorded under the shape, at the last position where they are. Proper ones only.
    pub splits: u64,
    /// Those of them that are never applied, because others did their work.
    pub superseded: u64,
}

/// Sums by shape, in the order of [`Shape::all_quiet`].
#[derive(Clone, Debug)]
pub(super) struct LeftOut([OfShape; SHAPES]);

#[derive(Clone, Debug, Default)]
struct OfShape {
    applied: Counted,
    short: Counted,
    elsewhere: u64,
    splits: u64,
    superseded: u64,
}

impl Default for LeftOut {
    fn default() -> Self {
        Self(from_fn(|_| OfShape::default()))
    }
}

impl AddAssign<&Self> for LeftOut {
    fn add_assign(&mut self, other: &Self) {
        for (sum, more) in self.0.iter_mut().zip(&other.0) {
            sum.applied += &more.applied;
            sum.short += &more.short;
            sum.elsewhere += more.elsewhere;
            sum.splits += more.splits;
            sum.superseded += more.superseded;
        }
    }
}

impl LeftOut {
    /// Walks the puzzles of a block again without each shape that their walk under the full ladder
    /// applies; without another shape it would be the same walk.
    pub(super) fn of(scans: &[&PuzzleScan]) -> Self {
        let mut sums = Self::default();
        for (shape, sums) in Shape::all_quiet().zip(&mut sums.0) {
            let left: Vec<Left<'_>> =
                scans.iter().filter_map(|scan| Left::of(scan, shape)).collect();
            let Some(order) = Order::ladder().without(shape) else { continue };
            let puzzles: Vec<Puzzle> = left.iter().map(|left| left.scan.entry.puzzle).collect();
            let mut without = Without(left);
            Walker::new(WalkOptions { order, ..WalkOptions::default() })
                .walk(&puzzles, &mut without);
            for Left { scan, falls_short, is_elsewhere, .. } in without.0 {
                let (family, weight) = (scan.entry.family, scan.entry.millionths());
                sums.applied.add(family, weight);
                if falls_short {
                    sums.short.add(family, weight);
                }
                sums.elsewhere += u64::from(is_elsewhere);
            }
        }
        for scan in scans {
            sums.count_splits(&scan.subsets);
        }
        sums
    }

    /// Counts the splits of a walk, each where it is recorded last.
    fn count_splits(&mut self, subsets: &[(u16, Subset)]) {
        let subsets: Vec<&(u16, Subset)> =
            subsets.iter().filter(|(_, subset)| subset.is_proper()).collect();
        for (index, (_, last)) in subsets.iter().enumerate() {
            let is_it =
                |(_, other): &(u16, Subset)| (other.house, other.cells) == (last.house, last.cells);
            let comes_again = subsets[index + 1..].iter().any(|other| is_it(other));
            let of_shape = Shape::all_quiet().position(|shape| shape == last.shape());
            let Some(of_shape) = of_shape.filter(|_| !comes_again) else {
                continue;
            };
            let is_applied = subsets[..=index].iter().any(|s| is_it(s) && s.1.applied);
            self.0[of_shape].splits += 1;
            self.0[of_shape].superseded += u64::from(!is_applied);
        }
    }

    /// Tells what was found of each shape.
    pub(super) fn report(
        &self,
        all: &Counted,
        level: Level,
    ) -> Result<Vec<LeftOutShape>, StatsError> {
        let share = |of: &Counted| Estimate::if_known(of.share(all, level));
        let shape = |(shape, of): (Shape, &OfShape)| {
            Ok(LeftOutShape {
                open: shape.open(),
                naked: shape.naked(),
                hidden: shape.hidden(),
                applied: of.applied.puzzles,
                applied_share: share(&of.applied)?,
                short: of.short.puzzles,
                short_share: share(&of.short)?,
                elsewhere: of.elsewhere,
                splits: of.splits,
                superseded: of.superseded,
            })
        };
        Shape::all_quiet().zip(&self.0).map(shape).collect()
    }
}

/// A puzzle whose walk under the full ladder applies the shape.
struct Left<'a> {
    scan: &'a PuzzleScan,
    shape: Shape,
    /// What is applied there under the shape, each with the open places of its house.
    applied: Vec<(Subset, PlaceSet)>,
    falls_short: bool,
    is_elsewhere: bool,
}

impl<'a> Left<'a> {
    fn of(scan: &'a PuzzleScan, shape: Shape) -> Option<Self> {
        let is_meant = |subset: &Subset| subset.applied && subset.shape() == shape;
        let meant = scan.subsets.iter().filter(|(_, subset)| is_meant(subset));
        let with_open = |(number, subset): &(u16, Subset)| {
            let states = scan.positions[usize::from(*number)].states.as_deref()?;
            Some((*subset, open_places(subset, states)))
        };
        let applied: Vec<_> = meant.filter_map(with_open).collect();
        let left = Self { scan, shape, applied, falls_short: false, is_elsewhere: false };
        (!left.applied.is_empty()).then_some(left)
    }

    /// Tests if something applied later is one of the splits left out, without the cells that were
    /// placed since.
    fn is_one(&self, later: &Subset, open: PlaceSet) -> bool {
        let is_it = |(subset, before): &(Subset, PlaceSet)| {
            let still_open = subset.cells & open;
            subset.house == later.house && later.cells == still_open && (open - *before).is_empty()
        };
        later.shape() != self.shape && self.applied.iter().any(is_it)
    }
}

/// The open places of a subset's house on a board.
fn open_places(subset: &Subset, states: &[u16; Cell::COUNT]) -> PlaceSet {
    let cells = subset.house.cells();
    (0..9).filter(|&place| states[cells[place].index()] & FIXED == 0).collect()
}

/// The walks without the shape.
struct Without<'a>(Vec<Left<'a>>);

impl Recorder for Without<'_> {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        let left = &mut self.0[position.puzzle];
        let houses: Vec<_> = left.applied.iter().map(|(subset, _)| subset.house).collect();
        let mut applied =
            position.subsets.iter().filter(|s| s.applied && houses.contains(&s.house)).peekable();
        if !left.is_elsewhere && applied.peek().is_some() {
            let states = (position.states)();
            left.is_elsewhere =
                applied.any(|later| left.is_one(later, open_places(later, &states)));
        }
    }

    fn end(&mut self, puzzle: usize, end: &WalkEnd, states: &dyn Fn() -> [u16; Cell::COUNT]) {
        let left = &mut self.0[puzzle];
        left.falls_short =
            end.outcome != Outcome::Solved && falls_short(&states(), ladder_states(left.scan));
    }
}
