//! Looks as an order's walk makes them, for readers of all kinds side by side.

use std::ops::AddAssign;

use tallyhouse_board::{House, HouseKind, PlaceSet, Puzzle};

use super::reader::crossing_houses;
use super::search::tries_in_vain;
use super::walker::of_find;
use super::{Glances, Learning, LookCounts};
use crate::fast::{Ending, Looks, Made, ToldWalk};
use crate::{InstructionSet, Look, Order, brings_single};

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

/// What became of all looks over a walk.
#[derive(Clone, Copy, Debug)]
pub struct DueWalk<'a> {
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
        self.walk.walk(puzzles, &mut self.counts, |counts, _, _| {
            counts.take(&mut looks, &mut failures);
            each(index, DueWalk { looks: &looks, failures: &failures });
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
