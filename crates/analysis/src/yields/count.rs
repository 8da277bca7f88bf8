//! What looks went through in one puzzle.

use std::ops::AddAssign;

use tallyhouse_board::HouseKind;
use tallyhouse_engine::Look;
use tallyhouse_engine::effort::{Glances, Learning, LookSums};

use super::Frame;

/// Sizes from 2 to 7, in houses of 4 to 9 open cells.
const SIZES: usize = 6;
const OPEN: usize = 6;
const KINDS: usize = HouseKind::ALL.len();

/// How many kinds of looks in kinds of houses there are.
pub(super) const PLACES: usize = 2 * SIZES * OPEN * KINDS;

/// How many lines a look has by open count: all together, and one for each.
const LOOK_LINES: usize = 1 + OPEN;

/// How many lines all looks have by open count.
pub(super) const LINES: usize = 2 * SIZES * LOOK_LINES;

/// Returns the line of a look in houses of an open count, or of all together.
pub(super) fn line_of(look: Look, open: Option<u8>) -> Option<usize> {
    let place = Place { look, open: open.unwrap_or(9), kind: HouseKind::Row };
    let line = place.index()? / (OPEN * KINDS) * LOOK_LINES;
    Some(line + open.map_or(0, |open| usize::from(open - 3)))
}

/// A look for subsets in a kind of house with so many open cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) look: Look,
    pub(super) open: u8,
    pub(super) kind: HouseKind,
}

impl Place {
    /// The index; the kinds of one look and open count stand together. `None` for looks that no house
    /// of quiet positions needs: the other side would be a single, or nothing.
    pub(super) fn index(self) -> Option<usize> {
        let size = self.look.size()?.get();
        if size < 2 || size + 2 > self.open || self.open > 9 {
            return None;
        }
        let side = usize::from(matches!(self.look, Look::Hidden(_)));
        let (size, open) = (usize::from(size - 2), usize::from(self.open - 4));
        Some(((side * SIZES + size) * OPEN + open) * KINDS + self.kind as usize)
    }

    /// The line of the look with this index, in houses of all open counts together, as [`line_of`] has it.
    pub(super) fn line_of_all(index: usize) -> usize {
        index % PLACES / (OPEN * KINDS) * LOOK_LINES
    }

    /// The line of the look with this index in houses of its open count.
    pub(super) fn line(index: usize) -> usize {
        Self::line_of_all(index) + 1 + index % (OPEN * KINDS) / KINDS
    }

    /// All places that have an index, by look, open count and kind.
    pub(super) fn all() -> impl Iterator<Item = Self> {
        let looks = (2..=7).map(Look::naked).chain((2..=7).map(Look::hidden)).flatten();
        let places = looks.flat_map(|look| (4..=9).map(move |open| (look, open)));
        places
            .flat_map(|(look, open)| HouseKind::ALL.map(|kind| Self { look, open, kind }))
            .filter(|place| place.index().is_some())
    }
}

/// A way to count: when a look is made, and how its house is learned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Way {
    pub(super) frame: Frame,
    pub(super) learning: Learning,
}

/// How often a look was made and found something, and the glances, each by the weight of puzzles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Counts {
    pub(super) made: i128,
    pub(super) finds: i128,
    pub(super) then_single: i128,
    pub(super) cells_seen: i128,
    pub(super) places_gathered: i128,
    pub(super) tries: i128,
}

impl Counts {
    pub(super) fn times(self, weight: i128) -> Self {
        Self {
            made: self.made * weight,
            finds: self.finds * weight,
            then_single: self.then_single * weight,
            cells_seen: self.cells_seen * weight,
            places_gathered: self.places_gathered * weight,
            tries: self.tries * weight,
        }
    }
}

impl From<LookSums> for Counts {
    fn from(LookSums { made, finds, then_single, glances }: LookSums) -> Self {
        let Glances { cells_seen, places_gathered, tries } = glances;
        Self {
            made: made.into(),
            finds: finds.into(),
            then_single: then_single.into(),
            cells_seen: cells_seen.into(),
            places_gathered: places_gathered.into(),
            tries: tries.into(),
        }
    }
}

impl AddAssign for Counts {
    fn add_assign(&mut self, other: Self) {
        self.made += other.made;
        self.finds += other.finds;
        self.then_single += other.then_single;
        self.cells_seen += other.cells_seen;
        self.places_gathered += other.places_gathered;
        self.tries += other.tries;
    }
}

/// Counts by way and place, as far as they are not zero.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    /// Rising indices: way, then place.
    pub(super) lines: Vec<(usize, Counts)>,
}

impl Sheet {
    pub(super) fn times(mut self, weight: i128) -> Self {
        self.lines.iter_mut().for_each(|(_, counts)| *counts = counts.times(weight));
        self
    }
}

impl AddAssign<&Self> for Sheet {
    fn add_assign(&mut self, other: &Self) {
        let mut mine = std::mem::take(&mut self.lines).into_iter().peekable();
        let mut theirs = other.lines.iter().copied().peekable();
        loop {
            let line = match (mine.peek(), theirs.peek()) {
                (Some((a, _)), Some((b, _))) if a == b => {
                    let (index, mut counts) = mine.next().unwrap_or_default();
                    counts += theirs.next().unwrap_or_default().1;
                    Some((index, counts))
                }
                (Some((a, _)), Some((b, _))) if a > b => theirs.next(),
                (Some(_), _) => mine.next(),
                (None, _) => theirs.next(),
            };
            let Some(line) = line else { return };
            self.lines.push(line);
        }
    }
}

/// Room to count the looks of one puzzle after the other.
pub(super) struct Counter<'a> {
    ways: &'a [Way],
    counts: Vec<Counts>,
    touched: Vec<usize>,
}

impl<'a> Counter<'a> {
    /// Makes room for each way and place, and for more lines behind them.
    pub(super) fn new(ways: &'a [Way], more: usize) -> Self {
        let counts = vec![Counts::default(); ways.len() * PLACES + more];
        Self { ways, counts, touched: Vec::new() }
    }

    /// Notes what looks at a place went through, in each way that they are part of.
    pub(super) fn add(&mut self, place: usize, sums: impl Fn(Way) -> Option<LookSums>) {
        for (number, way) in self.ways.iter().enumerate() {
            if let Some(sums) = sums(*way) {
                self.add_line(number * PLACES + place, sums);
            }
        }
    }

    /// Notes what looks of one line went through.
    pub(super) fn add_line(&mut self, index: usize, sums: LookSums) {
        if self.counts[index].made == 0 {
            self.touched.push(index);
        }
        self.counts[index] += sums.into();
    }

    /// Returns what was noted since the last time.
    pub(super) fn take(&mut self) -> Sheet {
        self.touched.sort_unstable();
        let counts = &mut self.counts;
        let line = |index: usize| (index, std::mem::take(&mut counts[index]));
        Sheet { lines: self.touched.drain(..).map(line).collect() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_have_indices_of_their_own() {
        let indices: Vec<usize> = Place::all().filter_map(Place::index).collect();
        assert!(indices.is_sorted_by(|a, b| a < b) && indices.iter().all(|&i| i < PLACES));
        // Sizes 2 to n − 2 for 4 to 9 open cells, on two sides, in three kinds of house.
        assert_eq!(indices.len(), (1..=6).sum::<usize>() * 2 * 3);
    }

    #[test]
    fn sheets_add_up_line_by_line() {
        let line = |index, made| (index, Counts { made, ..Counts::default() });
        let mut sheet = Sheet { lines: vec![line(1, 1), line(4, 2), line(6, 3)] };
        sheet += &Sheet { lines: vec![line(0, 5), line(4, 6), line(9, 7)] };
        let expected = [line(0, 5), line(1, 1), line(4, 8), line(6, 3), line(9, 7)];
        assert_eq!(sheet.lines, expected);
    }
}
