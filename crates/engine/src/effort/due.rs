//! Looks as an order's walk makes them, for readers of all kinds side by side.

use std::ops::AddAssign;

use tallyhouse_board::{Cell, House, HouseKind, PlaceSet, Puzzle};

use super::reader::crossing_houses;
use super::search::tries_in_vain;
use super::walker::of_find;
use super::{Glances, Learning, LookCounts};
use crate::fast::{Ending, Looks, Made, ToldWalk};
use crate::{InstructionSet, Look, Order, Outcome, brings_single};

pub(super) const READERS: usize = Learning::ALL.len();

/// How often a look was made and found something, and the glances.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LookSums {
    /// How often it was made in a house.
    pub made: u64,
    /// How often it found something there.
    pub finds: u64,
    /// The finds whose eliminations alone bring a single, where that was asked.
    pub then_single: u64,
    /// The glances, in vain or not.
    pub glances: Glances,
}

impl LookSums {
    /// What one look in one house adds.
    #[must_use]
    pub fn one(glances: Glances, found: bool) -> Self {
        Self { made: 1, finds: found.into(), then_single: 0, glances }
    }

    /// Says whether what was found brings a single.
    #[must_use]
    pub fn then_single(self, then_single: bool) -> Self {
        Self { then_single: then_single.into(), ..self }
    }
}

impl AddAssign for LookSums {
    fn add_assign(&mut self, other: Self) {
        self.made += other.made;
        self.finds += other.finds;
        self.then_single += other.then_single;
        self.glances += other.glances;
    }
}

/// Walks puzzles one by one and counts each look in each house, as every kind of reader makes it.
///
/// Who remembers makes the same finds as the others, and so takes the same walk: a look that failed
/// in a house fails there again until the house changes.
///
/// ```
/// use tallyhouse_engine::effort::{DueWalker, Learning};
/// use tallyhouse_engine::Order;
///
/// // A blank board: naked 2 fails in 27 houses of nine open cells.
/// let mut walker = DueWalker::new(&Order::ladder());
/// walker.walk(&[".".repeat(81).parse()?], |_, walked| {
///     let of_pairs = walked.looks.iter().filter(|due| due.look == 2);
///     let made: u64 = of_pairs.map(|due| due.of(Learning::CellByCell).made).sum();
///     assert_eq!(made, 27);
/// });
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
pub struct DueWalker {
    walk: ToldWalk,
    counts: Due,
}

/// One look in the houses of one kind and open count over a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DueLooks {
    /// The index of the look in its order.
    pub look: usize,
    /// The number of open cells of the houses.
    pub open: u8,
    /// The kind of the houses.
    pub kind: HouseKind,
    sums: [LookSums; READERS],
}

/// A look that failed everywhere, over a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DueFailures {
    /// The index of the look in its order.
    pub look: usize,
    /// Only the positions where it was made in houses of so many open cells; `None` for all.
    pub open: Option<u8>,
    sums: [FailureSums; 2],
}

/// The positions where a look failed in all houses where it was made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FailureSums {
    /// How many there are.
    pub positions: u64,
    /// At how many of them a later look of the order finds something.
    pub then_later: u64,
}

impl DueFailures {
    /// Returns the sums of a reader who learns in this way.
    #[must_use]
    pub const fn of(&self, learning: Learning) -> &FailureSums {
        &self.sums[matches!(learning, Learning::Remembered) as usize]
    }
}

/// What became of all looks over a walk, and how it ended.
#[derive(Clone, Copy)]
pub struct DueWalk<'a> {
    /// How the walk ended.
    pub outcome: Outcome,
    /// Gives the board state at the end, in the form of [`Position::states`](crate::Position::states).
    pub states: &'a dyn Fn() -> [u16; Cell::COUNT],
    /// The looks that were made, by their order, open counts and kinds of house.
    pub looks: &'a [DueLooks],
    /// The looks for subsets that failed everywhere at some position, by their order; first over all
    /// open counts.
    pub failures: &'a [DueFailures],
}

impl DueLooks {
    /// Returns the sums of a reader who learns in this way.
    #[must_use]
    pub const fn of(&self, learning: Learning) -> &LookSums {
        &self.sums[learning as usize]
    }
}

impl DueWalker {
    /// Prepares walks with this order through rows, columns and boxes.
    #[must_use]
    pub fn new(order: &Order) -> Self {
        Self::with(order, InstructionSet::best())
    }

    /// The same with a chosen instruction set.
    #[must_use]
    pub fn with(order: &Order, instruction_set: InstructionSet) -> Self {
        let houses: Vec<House> = House::all().collect();
        let walk = ToldWalk::with(order, &houses, instruction_set)
            .unwrap_or_else(|| unreachable!("no house comes twice"));
        Self { walk, counts: Due::new(order.looks().len()) }
    }

    /// Walks the puzzles; `each` is told of each in order, with its index and what became of all looks.
    pub fn walk(&mut self, puzzles: &[Puzzle], mut each: impl FnMut(usize, DueWalk<'_>)) {
        let (mut index, mut looks, mut failures) = (0, Vec::new(), Vec::new());
        self.walk.walk(puzzles, &mut self.counts, |counts, outcome, states| {
            counts.take(&mut looks, &mut failures);
            each(index, DueWalk { outcome, states, looks: &looks, failures: &failures });
            index += 1;
        });
    }
}

/// Sums by open count and kind of house.
type ByHouse = [[[LookSums; READERS]; HouseKind::ALL.len()]; 10];

/// The counts of one walk.
struct Due {
    looks: Vec<OfLook>,
    memory: Box<Memory>,
    /// The looks that have failed everywhere at the present position.
    failed: Vec<Failed>,
}

/// A look that failed everywhere at a position.
struct Failed {
    look: usize,
    /// The open counts of the houses where it was made, a bit each; for who remembers, of those where
    /// it was made anew.
    open: [u16; 2],
}

/// The counts of one look, and what is known of the houses where it failed.
struct OfLook {
    sums: Box<ByHouse>,
    /// By open count; those over all counts are at 0.
    failures: [[FailureSums; 2]; 10],
    /// Outdated where a house has changed, by turn.
    in_vain: [LookCounts; House::COUNT],
}

/// What was last learned of a house.
#[derive(Clone, Copy)]
pub(super) struct HouseMemory {
    cells: [u16; 9],
    places: [u16; 9],
}

/// What was last learned of each house, by turn.
pub(super) type Memory = [HouseMemory; House::COUNT];

/// Nothing is known.
pub(super) const NO_MEMORY: Memory = [HouseMemory { cells: [0; 9], places: [0; 9] }; House::COUNT];

/// Learns what is not known as it is now; returns how much that was.
fn learn(known: &mut [u16; 9], masks: &[u16; 16], up_to: usize) -> u64 {
    let mut learned = 0;
    for (known, &mask) in known.iter_mut().zip(masks).take(up_to) {
        // Candidates and places only go, so what is as it was has not changed in between.
        if mask != 0 && *known != mask {
            *known = mask;
            learned += 1;
        }
    }
    learned
}

impl Due {
    fn new(looks: usize) -> Self {
        let of_look = || OfLook {
            sums: Box::default(),
            failures: Default::default(),
            in_vain: [LookCounts::default(); House::COUNT],
        };
        let looks = std::iter::repeat_with(of_look).take(looks).collect();
        Self { looks, memory: Box::new(NO_MEMORY), failed: Vec::new() }
    }

    /// Ends a position: a later look found something, or none did.
    fn end_position(&mut self, found: bool) {
        for Failed { look, open } in self.failed.drain(..) {
            for (who, open) in open.into_iter().enumerate().filter(|(_, open)| *open != 0) {
                let counts = (1..10).filter(|count| open >> count & 1 == 1);
                for count in std::iter::once(0).chain(counts) {
                    let sums = &mut self.looks[look].failures[count][who];
                    sums.positions += 1;
                    sums.then_later += u64::from(found);
                }
            }
        }
    }

    /// Hands over what was counted and begins anew.
    fn take(&mut self, to: &mut Vec<DueLooks>, failures: &mut Vec<DueFailures>) {
        self.end_position(false);
        to.clear();
        failures.clear();
        for (look, of_look) in self.looks.iter_mut().enumerate() {
            for (open, kinds) in (0..).zip(of_look.sums.iter_mut()) {
                for (kind, sums) in HouseKind::ALL.into_iter().zip(kinds) {
                    if sums[0].made > 0 {
                        to.push(DueLooks { look, open, kind, sums: std::mem::take(sums) });
                    }
                }
            }
            for (count, sums) in (0..).zip(&mut of_look.failures) {
                if sums[0].positions > 0 {
                    let open = (count > 0).then_some(count);
                    failures.push(DueFailures { look, open, sums: std::mem::take(sums) });
                }
            }
        }
        *self.memory = NO_MEMORY;
    }

    /// Adds a look in one house; who remembers makes it if `is_new`. `found` says of a find whether it
    /// brings a single.
    fn add(
        &mut self,
        made: &Made<'_>,
        turn: usize,
        counts: LookCounts,
        found: Option<bool>,
        is_new: bool,
    ) {
        let one = |glances| {
            LookSums::one(glances, found.is_some()).then_single(found.unwrap_or_default())
        };
        let sums = &mut self.looks[made.index].sums[usize::from(made.open(turn))];
        let sums = &mut sums[made.house(turn).kind() as usize];
        for &learning in Learning::ALL {
            if learning != Learning::Remembered {
                sums[learning as usize] += one(counts.glances(learning));
            }
        }
        if is_new {
            let glances = self.memory[turn].glances(made, turn, counts);
            sums[Learning::Remembered as usize] += one(glances);
        }
    }
}

impl HouseMemory {
    /// What a look costs that goes through this, and learns it.
    pub(super) fn glances(&mut self, made: &Made<'_>, turn: usize, counts: LookCounts) -> Glances {
        let LookCounts { open, cells, digits, tries, .. } = counts;
        let (masks, places) = (made.cells(turn), made.places(turn));
        let cells_seen = learn(&mut self.cells, masks, end_of(masks, cells));
        let learned = learn(&mut self.places, places, end_of(places, digits));
        Glances { cells_seen, places_gathered: learned * open, tries }
    }
}

/// Returns where the first so many elements end that have marks.
fn end_of(masks: &[u16; 16], count: u64) -> usize {
    let marked = (0..9).filter(|&element| masks[element] != 0);
    marked.take(count as usize).last().map_or(0, |last| last + 1)
}

/// What a look in vain goes through in a house.
pub(super) fn counts_in_vain(made: &Made<'_>, turn: usize) -> LookCounts {
    let open = u64::from(made.open(turn));
    let tries = |masks, size: u8| if size > 1 { tries_in_vain(masks, size.into()) } else { 0 };
    let (cells, digits, tries) = match made.look {
        Look::Naked(size) => (open, 0, tries(made.cells(turn), size.get())),
        Look::Hidden(size) => (0, open, tries(made.places(turn), size.get())),
        Look::Intersections => (0, open, 0),
    };
    LookCounts { open, crossing: crossing(made, turn), cells, digits, tries: tries.into() }
}

pub(super) fn crossing(made: &Made<'_>, turn: usize) -> u64 {
    let open = (0..9).filter(|&place| made.cells(turn)[place] != 0);
    let open = open.fold(0, |open, place| open | 1 << place);
    crossing_houses(made.house(turn), PlaceSet::from_bits_truncate(open))
}

impl Looks for Due {
    const LISTENS: bool = true;

    fn made(&mut self, made: &Made<'_>) {
        let mut in_vain = made.in_vain;
        let mut open = [0; 2];
        while in_vain != 0 {
            let turn = in_vain.trailing_zeros() as usize;
            in_vain &= in_vain - 1;
            let is_new = made.anew >> turn & 1 == 1;
            open[0] |= 1 << made.open(turn);
            open[1] |= u16::from(is_new) << made.open(turn);
            if is_new {
                self.looks[made.index].in_vain[turn] = counts_in_vain(made, turn);
            }
            let counts = self.looks[made.index].in_vain[turn];
            self.add(made, turn, counts, None, is_new);
        }
        if let Some((turn, ending)) = &made.found {
            let then_single = match ending {
                Ending::Subset(subset) => brings_single(|cell| made.candidates(cell), subset),
                _ => false,
            };
            let counts = counts_of_find(made, *turn, ending);
            self.add(made, *turn, counts, Some(then_single), true);
            self.end_position(true);
        } else if made.look.is_for_subsets() {
            self.failed.push(Failed { look: made.index, open });
        }
    }
}

/// What a look goes through up to its find.
pub(super) fn counts_of_find(made: &Made<'_>, turn: usize, ending: &Ending) -> LookCounts {
    let open = u64::from(made.open(turn));
    let Glances { cells_seen, places_gathered, tries } = of_find(made, turn, ending);
    let digits = places_gathered / open;
    LookCounts { open, crossing: crossing(made, turn), cells: cells_seen, digits, tries }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Six open cells: rows 1 and 2 exchange 1 and 2 in columns 1 and 4, so they stay open; 3 belongs
    /// into column 1 of row 3 and column 7 of row 1.
    const PUZZLE: &str =
        ".45.67.89.68.39457.79458126412375698536891274897624513621783945753942861984516732";

    /// By look and reader: made, finds, cells seen, places gathered, tries.
    fn sums(look: usize, learning: Learning) -> [u64; 5] {
        let order: Order = "naked 1, hidden 1, naked 2".parse().unwrap();
        let mut sums = LookSums::default();
        DueWalker::new(&order).walk(&[PUZZLE.parse().unwrap()], |_, walk| {
            let of_look = walk.looks.iter().filter(|due| due.look == look);
            of_look.for_each(|due| sums += *due.of(learning));
        });
        let LookSums { made, finds, glances, .. } = sums;
        [made, finds, glances.cells_seen, glances.places_gathered, glances.tries]
    }

    #[test]
    fn a_walk_by_hand_for_each_reader() {
        // Row 1 holds 123 in column 1 (box 1 and column 1 lack a 3 too), 12 in column 4, 3 in column
        // 7; row 2 holds 12 and 12; row 3 holds 3 in column 1.
        //
        // Naked singles, as somebody who marks looks:
        //   row 1: 123, 12, 3: found.                                              3 cells
        //   row 1: 12, 12. Row 2: 12, 12. Row 3: 3: found.                     2, 2, 1 cells
        //   rows 1, 2, columns 1, 4, boxes 1, 2: two cells each, in vain.           12 cells
        assert_eq!(sums(0, Learning::CellByCell), [10, 2, 20, 0, 0]);
        // Who reads the house as a whole sees as many here: each find is the last cell.
        assert_eq!(sums(0, Learning::WholeHouse), [10, 2, 20, 0, 0]);
        assert_eq!(sums(0, Learning::CrossingHouses), [10, 2, 20, 0, 0]);
        // Who remembers sees 3 cells of row 1; then there column 1 alone, which lost its 3; row 2, row
        // 3 as before. The second find changes neither row 1 nor row 2, so he looks at neither again,
        // and at two cells each of columns 1 and 4 and boxes 1 and 2.       3 + 1 + 2 + 1 + 8
        assert_eq!(sums(0, Learning::Remembered), [8, 2, 15, 0, 0]);
        // Hidden singles, once and in vain in six houses of two open cells: two digits with two places
        // each. Without marks a digit's places come from the houses that cross the open cells: of a
        // row two columns and two boxes, of a column or box three others.     2·2·4 + 4·2·3
        assert_eq!(sums(1, Learning::CellByCell), [6, 0, 0, 24, 0]);
        assert_eq!(sums(1, Learning::WholeHouse), [6, 0, 12, 0, 0]);
        assert_eq!(sums(1, Learning::CrossingHouses), [6, 0, 0, 40, 0]);
        assert_eq!(sums(1, Learning::Remembered), [6, 0, 0, 24, 0]);
        // A pair leaves no other cell in houses of two.
        assert_eq!(sums(2, Learning::Remembered), [0; 5]);
    }

    #[test]
    fn a_look_that_failed_is_followed_by_a_find_or_not() {
        // Hidden pairs fail in rows 1 and 3 of three open cells; then the naked single is found.
        let order: Order = "hidden 2, naked 1, naked 2".parse().unwrap();
        let mut failures = Vec::new();
        DueWalker::new(&order).walk(&[PUZZLE.parse().unwrap()], |_, walk| {
            failures.extend(walk.failures.iter().map(|failed| {
                let FailureSums { positions, then_later } = *failed.of(Learning::CellByCell);
                (failed.look, failed.open, positions, then_later)
            }));
        });
        // With three open cells: row 1, column 1 and box 1, at the first position; column 1 and box 1
        // still at the second, whose find is the last.
        assert_eq!(failures, [(0, None, 2, 2), (0, Some(3), 2, 2)]);
    }
}
