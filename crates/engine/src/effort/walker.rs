//! The fast counting of glances over many walks.

use tallyhouse_board::{Cell, House, Puzzle};

use super::search::{search, tries_in_vain};
use super::{Glances, LookEffort};
use crate::fast::{Ending, Halfway, Looks, Made, ToldWalk};
use crate::{InstructionSet, Look, Order, Outcome};

/// Counts what many walks cost, fast; [`effort_walk`](super::effort_walk) is the simple engine for one.
///
/// ```
/// use tallyhouse_engine::Order;
/// use tallyhouse_engine::effort::EffortWalker;
///
/// let mut tries = 0;
/// EffortWalker::new(&Order::ladder()).walk(&[".".repeat(81).parse()?; 3], |_, effort| {
///     tries += effort.total().tries;
/// });
/// assert_eq!(tries, 0);
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
pub struct EffortWalker {
    walk: ToldWalk,
    marking: Marking,
}

/// Walks as far as the first looks of an order lead, with what they cost. Orders that begin alike
/// share that part of their walks: see [`EffortWalker::walk_halfway`].
pub struct EffortHalfway {
    halfway: Halfway,
    looks: Box<[LookEffort]>,
}

/// What a walk cost and how it ended, as [`WalkEffort`](super::WalkEffort).
#[non_exhaustive]
pub struct EffortEnd<'a> {
    /// How the walk ended.
    pub outcome: Outcome,
    /// The cost of each look of the order, by its index.
    pub looks: &'a [LookEffort],
    /// Gives the board state at the end, in the form of [`Position::states`](crate::Position::states).
    pub states: &'a dyn Fn() -> [u16; Cell::COUNT],
}

impl EffortEnd<'_> {
    /// Returns what was examined in all looks.
    #[must_use]
    pub fn total(&self) -> Glances {
        self.looks.iter().map(|look| look.glances).sum()
    }
}

impl EffortWalker {
    /// Prepares walks with this order through rows, columns and boxes.
    #[must_use]
    pub fn new(order: &Order) -> Self {
        let houses: Vec<House> = House::all().collect();
        Self::with(order, &houses, InstructionSet::best())
            .unwrap_or_else(|| unreachable!("no house comes twice"))
    }

    /// The same through houses as listed, with a chosen instruction set; `None` if a house comes twice.
    #[must_use]
    pub fn with(order: &Order, houses: &[House], instruction_set: InstructionSet) -> Option<Self> {
        let walk = ToldWalk::with(order, houses, instruction_set)?;
        Some(Self { walk, marking: Marking::new(order.looks().len()) })
    }

    /// Walks the puzzles; `each` is told of each in order, with its index.
    pub fn walk(&mut self, puzzles: &[Puzzle], mut each: impl FnMut(usize, &EffortEnd<'_>)) {
        let mut index = 0;
        self.walk.walk(puzzles, &mut self.marking, |marking, outcome, states| {
            each(index, &EffortEnd { outcome, looks: &marking.looks, states });
            marking.looks.fill(LookEffort::default());
            index += 1;
        });
    }

    /// Walks the puzzles with the first looks of the order alone, as long as they find something.
    pub fn walk_halfway(&mut self, puzzles: &[Puzzle], first: usize) -> Vec<EffortHalfway> {
        let mut arrived = Vec::with_capacity(puzzles.len());
        self.walk.walk_halfway(puzzles, first, &mut self.marking, |marking, halfway| {
            arrived.push(EffortHalfway { halfway, looks: marking.looks[..first].into() });
            marking.looks.fill(LookEffort::default());
        });
        arrived
    }

    /// Goes on to the end from where any order with the same first looks, and the same course, has
    /// come; `each` is told of each as by [`EffortWalker::walk`].
    pub fn walk_on(
        &mut self,
        halfway: &[EffortHalfway],
        mut each: impl FnMut(usize, &EffortEnd<'_>),
    ) {
        for (index, EffortHalfway { halfway, looks }) in halfway.iter().enumerate() {
            let first = looks.len();
            self.marking.looks[..first].copy_from_slice(looks);
            self.walk.walk_on(halfway, first, &mut self.marking, |marking, outcome, states| {
                each(index, &EffortEnd { outcome, looks: &marking.looks, states });
                marking.looks.fill(LookEffort::default());
            });
        }
    }
}

/// Counts as the reader does who sees pencil marks and remembers nothing.
struct Marking {
    looks: Vec<LookEffort>,
    /// The tries of each look where it failed, by turns; outdated where a house has changed.
    tries: Vec<[u16; 32]>,
}

impl Marking {
    fn new(looks: usize) -> Self {
        Self { looks: vec![LookEffort::default(); looks], tries: vec![[0; 32]; looks] }
    }

    /// Adds up the tries of looks in vain, after counting those of houses that have changed.
    #[inline(always)]
    fn tries_in_vain(&mut self, made: &Made<'_>, size: u8, is_naked: bool) -> u64 {
        let known = &mut self.tries[made.index];
        let mut anew = made.anew;
        while anew != 0 {
            let turn = anew.trailing_zeros() as usize;
            anew &= anew - 1;
            let masks = if is_naked { made.cells(turn) } else { made.places(turn) };
            known[turn] = tries_in_vain(masks, u32::from(size)) as u16;
        }
        let mut sum = 0;
        for (turn, tries) in known.iter().enumerate() {
            sum += u32::from(*tries) & (made.in_vain >> turn & 1).wrapping_neg();
        }
        u64::from(sum)
    }
}

impl Looks for Marking {
    const LISTENS: bool = true;

    #[inline(always)]
    fn made(&mut self, made: &Made<'_>) {
        let mut glances = Glances::default();
        match made.look {
            Look::Naked(size) => {
                glances.cells_seen = open_cells(made, |open| open);
                if size.get() > 1 && made.in_vain != 0 {
                    glances.tries = self.tries_in_vain(made, size.get(), true);
                }
            }
            Look::Hidden(size) => {
                glances.places_gathered = open_cells(made, |open| open * open);
                if size.get() > 1 && made.in_vain != 0 {
                    glances.tries = self.tries_in_vain(made, size.get(), false);
                }
            }
            Look::Intersections => {
                glances.places_gathered = open_cells(made, |open| open * open);
            }
        }
        let effort = &mut self.looks[made.index];
        match &made.found {
            Some((turn, ending)) => {
                effort.found += 1;
                glances += of_find(made, *turn, ending);
            }
            None => effort.failed += 1,
        }
        effort.glances += glances;
    }
}

/// Sums over the houses where a look was made in vain what follows from their open counts.
#[inline(always)]
fn open_cells(made: &Made<'_>, glances: fn(u64) -> u64) -> u64 {
    let mut sum = 0;
    for open in 1..=9 {
        let houses = (made.with_open(open) & made.in_vain).count_ones();
        sum += u64::from(houses) * glances(open as u64);
    }
    sum
}

/// Returns the glances of a look in the house where it found something.
pub(super) fn of_find(made: &Made<'_>, turn: usize, ending: &Ending) -> Glances {
    let (cells, open) = (made.cells(turn), u64::from(made.open(turn)));
    let missing = cells.iter().fold(0, |union, mask| union | mask);
    let search_until = |masks: &[u16; 16], size: u8, end: u16| {
        let masks = std::array::from_fn(|element| masks[element]);
        search(&masks, size.into(), |set| set == end)
    };
    match (made.look, ending) {
        (Look::Naked(_), Ending::Placement { cell, .. }) => {
            let place = made.house(turn).cells().iter().position(|c| c.index() == *cell);
            let seen = cells[..=place.unwrap_or(0)].iter().filter(|mask| **mask != 0).count();
            Glances { cells_seen: seen as u64, ..Glances::default() }
        }
        (Look::Hidden(_), Ending::Placement { digit, .. }) => {
            let gathered = (missing & ((2 << digit) - 1)).count_ones();
            Glances { places_gathered: u64::from(gathered) * open, ..Glances::default() }
        }
        (Look::Naked(size), Ending::Subset(subset)) => Glances {
            cells_seen: open,
            tries: search_until(cells, size.get(), subset.cells.bits()),
            ..Glances::default()
        },
        (Look::Hidden(size), Ending::Subset(subset)) => {
            let end = missing & !subset.digits.bits();
            Glances {
                places_gathered: open * open,
                tries: search_until(made.places(turn), size.get(), end),
                ..Glances::default()
            }
        }
        _ => Glances { places_gathered: open * open, ..Glances::default() },
    }
}
