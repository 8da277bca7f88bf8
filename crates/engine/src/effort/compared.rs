//! Looks compared where one of them is due.

use tallyhouse_board::{DigitSet, House, Puzzle};

use super::due::{
    HouseMemory, Memory, NO_MEMORY, READERS, counts_in_vain, counts_of_find, crossing,
};
use super::{Learning, LookCounts, LookSums};
use crate::fast::{Looks, Made, ToldWalk};
use crate::marks::HouseMarks;
use crate::{InstructionSet, Look, Order};

/// Walks puzzles one by one and makes looks of groups together: whenever the walk makes the one of a
/// group that stands first in its order, all of the group are made in that house from that position
/// and counted, if all are made in houses of its open count. The walk itself goes on as its order
/// says.
///
/// Who remembers makes each look of a group with what the walk has taught him so far, and learns only
/// from what the walk makes.
///
/// ```
/// use tallyhouse_engine::Order;
/// use tallyhouse_engine::effort::{ComparedWalker, Learning};
///
/// // A blank board: hidden 3 is due in 27 houses of nine open cells, and naked 6 is made beside it.
/// let group = vec!["naked 6".parse()?, "hidden 3".parse()?];
/// let mut walker = ComparedWalker::new(&Order::ladder(), vec![group]);
/// walker.walk(&[".".repeat(81).parse().unwrap()], |_, looks| {
///     let glances = |look: usize| looks[look].of(Learning::CellByCell).glances;
///     assert_eq!((glances(0).cells_seen, glances(1).places_gathered), (27 * 9, 27 * 81));
/// });
/// # Ok::<(), tallyhouse_engine::LookError>(())
/// ```
pub struct ComparedWalker {
    walk: ToldWalk,
    counts: Compared,
}

/// One look of a group in the houses of one open count over a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ComparedLooks {
    /// The index of the group.
    pub group: usize,
    /// The index of the look in its group.
    pub look: usize,
    /// The number of open cells of the houses.
    pub open: u8,
    sums: [LookSums; READERS],
}

impl ComparedLooks {
    /// Returns the sums of a reader who learns in this way.
    #[must_use]
    pub const fn of(&self, learning: Learning) -> &LookSums {
        &self.sums[learning as usize]
    }
}

impl ComparedWalker {
    /// Prepares walks with this order through rows, columns and boxes. Groups hold looks of sizes from
    /// 2.
    #[must_use]
    pub fn new(order: &Order, groups: Vec<Vec<Look>>) -> Self {
        let houses: Vec<House> = House::all().collect();
        let walk = ToldWalk::with(order, &houses, InstructionSet::best())
            .unwrap_or_else(|| unreachable!("no house comes twice"));
        Self { walk, counts: Compared::new(order, groups) }
    }

    /// Walks the puzzles; `each` is told of each in order, with its index and the looks that were made,
    /// by group, look and open count.
    pub fn walk(&mut self, puzzles: &[Puzzle], mut each: impl FnMut(usize, &[ComparedLooks])) {
        let (mut index, mut looks) = (0, Vec::new());
        self.walk.walk(puzzles, &mut self.counts, |counts, _, _| {
            counts.take(&mut looks);
            each(index, &looks);
            index += 1;
        });
    }
}

/// Returns the look of an order that makes a group of looks due in houses of this open count: the
/// first of them that the order holds. `None` if it holds none, or not all are made there.
#[must_use]
pub fn due_with(order: &Order, group: &[Look], open: u8) -> Option<usize> {
    let is_made =
        |look: &Look| look.size().is_some_and(|size| size.covers(open) && size.get() < open);
    let is_of_group =
        |look: &Look| group.iter().any(|other| other.everywhere() == look.everywhere());
    let is_due = |look: &Look| is_made(look) && is_of_group(look);
    group.iter().all(is_made).then(|| order.looks().iter().position(is_due))?
}

/// The counts of one walk.
struct Compared {
    groups: Vec<Group>,
    /// The groups that are due with each look of the order, by open count.
    due: Vec<[Vec<usize>; 10]>,
    memory: Box<Memory>,
}

struct Group {
    looks: Vec<Look>,
    /// By look and open count.
    sums: Vec<[[LookSums; READERS]; 10]>,
    /// What each look went through in each house when they were last made there, and whether it found
    /// something; by turn.
    last: Vec<[(LookCounts, bool); House::COUNT]>,
}

impl Compared {
    fn new(order: &Order, groups: Vec<Vec<Look>>) -> Self {
        let mut due = vec![<[Vec<usize>; 10]>::default(); order.looks().len()];
        for (number, group) in groups.iter().enumerate() {
            for open in 1..=9u8 {
                if let Some(look) = due_with(order, group, open) {
                    due[look][usize::from(open)].push(number);
                }
            }
        }
        let group = |looks: Vec<Look>| Group {
            sums: vec![Default::default(); looks.len()],
            last: vec![Default::default(); looks.len()],
            looks,
        };
        let groups = groups.into_iter().map(group).collect();
        Self { groups, due, memory: Box::new(NO_MEMORY) }
    }

    /// Hands over what was counted and begins anew.
    fn take(&mut self, to: &mut Vec<ComparedLooks>) {
        to.clear();
        for (group, of_group) in self.groups.iter_mut().enumerate() {
            for (look, opens) in of_group.sums.iter_mut().enumerate() {
                for (open, sums) in (0..).zip(opens).filter(|(_, sums)| sums[0].made > 0) {
                    to.push(ComparedLooks { group, look, open, sums: std::mem::take(sums) });
                }
            }
        }
        *self.memory = NO_MEMORY;
    }

    /// Makes the groups that are due with a look in one house. Houses change their `last` only when
    /// they are looked at anew.
    fn make(&mut self, made: &Made<'_>, turn: usize, is_new: bool) {
        for &group in &self.due[made.index][usize::from(made.open(turn))] {
            let group = &mut self.groups[group];
            if is_new {
                group.look(made, turn);
            }
            group.add(made, turn, is_new.then(|| self.memory[turn]));
        }
    }
}

impl Group {
    /// Makes all looks in a house.
    fn look(&mut self, made: &Made<'_>, turn: usize) {
        let cells = made.cells(turn);
        let candidates = std::array::from_fn(|place| DigitSet::from_bits_truncate(cells[place]));
        let marks = HouseMarks::of_candidates(made.house(turn), candidates);
        let crossing = crossing(made, turn);
        for (&look, last) in self.looks.iter().zip(&mut self.last) {
            let (counts, found) = LookCounts::of_subset_look(&marks, look);
            last[turn] = (LookCounts { crossing, ..counts }, found.is_some());
        }
    }

    /// Counts what all looks went through when they were last made in a house; with the memory of who
    /// remembers if he makes them.
    fn add(&mut self, made: &Made<'_>, turn: usize, memory: Option<HouseMemory>) {
        let open = usize::from(made.open(turn));
        for (sums, last) in self.sums.iter_mut().zip(&self.last) {
            let (counts, found) = last[turn];
            for &learning in Learning::ALL.iter().filter(|&&way| way != Learning::Remembered) {
                sums[open][learning as usize] += LookSums::one(counts.glances(learning), found);
            }
            if let Some(mut memory) = memory {
                let glances = memory.glances(made, turn, counts);
                sums[open][Learning::Remembered as usize] += LookSums::one(glances, found);
            }
        }
    }
}

impl Looks for Compared {
    const LISTENS: bool = true;

    fn made(&mut self, made: &Made<'_>) {
        let mut in_vain = made.in_vain;
        while in_vain != 0 {
            let turn = in_vain.trailing_zeros() as usize;
            in_vain &= in_vain - 1;
            let is_new = made.anew >> turn & 1 == 1;
            self.make(made, turn, is_new);
            if is_new {
                self.memory[turn].glances(made, turn, counts_in_vain(made, turn));
            }
        }
        if let Some((turn, ending)) = &made.found {
            self.make(made, *turn, true);
            self.memory[*turn].glances(made, *turn, counts_of_find(made, *turn, ending));
        }
    }
}
