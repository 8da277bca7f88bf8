use tallyhouse_board::{Cell, House, Puzzle};

use super::Glances;
use super::house::HouseMarks;
use crate::{Contradiction, Find, Look, Order, Outcome, Position, Step};

/// What one look of an order cost over a walk.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LookEffort {
    /// How often the look was made and found something.
    pub found: u64,
    /// How often it was made in all houses in vain.
    pub failed: u64,
    /// What was examined, in vain or not.
    pub glances: Glances,
}

impl LookEffort {
    /// Returns how often the walk turned to the look.
    #[must_use]
    pub const fn made(&self) -> u64 {
        self.found + self.failed
    }
}

/// The effort of a walk and where it led.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WalkEffort {
    /// How the walk ended.
    pub outcome: Outcome,
    /// The cost of each look of the order, by its index.
    pub looks: Vec<LookEffort>,
    /// The position at the end.
    pub end: Position,
}

impl WalkEffort {
    /// Returns what was examined in all looks.
    #[must_use]
    pub fn total(&self) -> Glances {
        self.looks.iter().map(|look| look.glances).sum()
    }

    /// Returns the number of looks made, failed ones included.
    #[must_use]
    pub fn looks_made(&self) -> u64 {
        self.looks.iter().map(LookEffort::made).sum()
    }
}

/// Walks a puzzle one by one and counts every look.
///
/// The looks are made in order, each in the houses as listed; the first find is applied at once and
/// the order starts again from the top, until the puzzle is solved or all looks fail in a row. The
/// steps are those of [`walk`](crate::walk) with [`Course::OneByOne`](crate::Course::OneByOne).
/// `on_step` is called with the position before each step, the step, and the glances of the looks
/// that led to it.
///
/// The puzzle should have a solution; one without may end in [`Outcome::Contradiction`], with the
/// looks made until then.
pub fn effort_walk(
    puzzle: &Puzzle,
    order: &Order,
    houses: &[House],
    mut on_step: impl FnMut(&Position, &Step, Glances),
) -> WalkEffort {
    let mut walker = Walker::new(puzzle, order, houses);
    let outcome = loop {
        match walker.next_find() {
            Ok(Some((index, find, glances))) => {
                let look = Some((index, order.looks()[index]));
                let step = Step { look, finds: vec![find] };
                on_step(&walker.position, &step, glances);
                if let Err(contradiction) = walker.apply(&step) {
                    break Outcome::Contradiction(contradiction);
                }
            }
            Ok(None) if walker.position.is_solved() => break Outcome::Solved,
            Ok(None) => break Outcome::Stuck,
            Err(contradiction) => break Outcome::Contradiction(contradiction),
        }
    };
    WalkEffort { outcome, looks: walker.efforts, end: walker.position }
}

struct Walker<'a> {
    looks: &'a [Look],
    houses: &'a [House],
    position: Position,
    /// By house index.
    marks: Vec<HouseMarks>,
    /// The glances of each look, by house index, where it failed and the house has not changed since.
    failed: Vec<[Option<Glances>; House::COUNT]>,
    efforts: Vec<LookEffort>,
}

impl<'a> Walker<'a> {
    fn new(puzzle: &Puzzle, order: &'a Order, houses: &'a [House]) -> Self {
        let position = Position::new(puzzle);
        let looks = order.looks();
        Self {
            looks,
            houses,
            marks: House::all().map(|house| HouseMarks::new(&position, house)).collect(),
            position,
            failed: vec![[None; House::COUNT]; looks.len()],
            efforts: vec![LookEffort::default(); looks.len()],
        }
    }

    /// Makes looks until one finds something; returns its index, the find, and all their glances.
    fn next_find(&mut self) -> Result<Option<(usize, Find, Glances)>, Contradiction> {
        self.position.check()?;
        if self.position.is_solved() {
            return Ok(None);
        }
        let mut glances = Glances::default();
        for (index, &look) in self.looks.iter().enumerate() {
            if !look.is_single() {
                self.check_crowding()?;
            }
            let (made, find) = self.make(index, look);
            glances += made;
            let effort = &mut self.efforts[index];
            effort.glances += made;
            match find {
                Some(mut find) => {
                    effort.found += 1;
                    if let Find::Subset(subset) = &mut find {
                        subset.applied = true;
                    }
                    return Ok(Some((index, find, glances)));
                }
                None => effort.failed += 1,
            }
        }
        self.check_crowding()?;
        Ok(None)
    }

    /// Makes one look in the houses, up to the first find.
    fn make(&mut self, index: usize, look: Look) -> (Glances, Option<Find>) {
        let mut glances = Glances::default();
        for house in self.houses.iter().map(|house| house.index()) {
            if let Some(known) = self.failed[index][house] {
                glances += known;
                continue;
            }
            let effort = self.marks[house].effort(look, &self.position);
            glances += effort.glances;
            if effort.found.is_some() {
                return (glances, effort.found);
            }
            // Holds for intersections too: where no digit is newly confined, the other houses, which
            // only lose candidates, offer nothing new to remove.
            self.failed[index][house] = Some(effort.glances);
        }
        (glances, None)
    }

    fn check_crowding(&self) -> Result<(), Contradiction> {
        self.marks.iter().try_for_each(|marks| marks.splits().map(drop))
    }

    fn apply(&mut self, step: &Step) -> Result<(), Contradiction> {
        let before = self.position.clone();
        step.apply(&mut self.position)?;
        let changed = Cell::all()
            .filter(|&cell| before.candidates(cell) != self.position.candidates(cell))
            .flat_map(Cell::houses)
            .fold(0u32, |set, house| set | 1 << house.index());
        for house in House::all().filter(|house| changed >> house.index() & 1 == 1) {
            self.marks[house.index()] = HouseMarks::new(&self.position, house);
            for failed in &mut self.failed {
                failed[house.index()] = None;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;
    use tallyhouse_collection::MinimalByDeletion;

    use super::*;
    use crate::effort::look_effort;
    use crate::effort::reference::{Change, NaiveWalk, effort, looks, naive_walk};
    use crate::{Course, QuietPosition, Recorder, WalkOptions, WhenStuck, walk};

    #[derive(Default)]
    struct Steps(Vec<Step>);

    impl Recorder for Steps {
        fn quiet_position(&mut self, _: &QuietPosition<'_>) {}

        fn step(&mut self, _: &Position, step: &Step) {
            self.0.push(step.clone());
        }
    }

    fn rows_columns_boxes() -> Vec<House> {
        House::all().collect()
    }

    /// Orders that get somewhere: the singles, then any looks, all shuffled.
    fn orders() -> impl Strategy<Value = Order> {
        vec(looks(), 0..8)
            .prop_map(|any| {
                let mut looks = vec![Look::naked(1).unwrap(), Look::hidden(1).unwrap()];
                for look in any {
                    if !looks.contains(&look) {
                        looks.push(look);
                    }
                }
                looks
            })
            .prop_shuffle()
            .prop_map(|looks| Order::new(looks).unwrap())
    }

    fn house_orders() -> impl Strategy<Value = Vec<House>> {
        Just(rows_columns_boxes()).prop_shuffle()
    }

    fn check(ours: &WalkEffort, naive: &NaiveWalk) -> Result<(), TestCaseError> {
        let looks: Vec<_> =
            ours.looks.iter().map(|look| (look.found, look.failed, look.glances)).collect();
        prop_assert_eq!(&looks, &naive.looks);
        prop_assert_eq!(&ours.end, &naive.end);
        Ok(())
    }

    /// Makes the looks without remembering any cost.
    fn without_memory(position: &Position, house: House, look: Look) -> (Glances, Option<Change>) {
        let effort = look_effort(position, house, look);
        (effort.glances, effort.found.map(|find| Change::of_find(position, &find)))
    }

    #[test]
    fn one_blank_cell_takes_one_glance() {
        // One open cell, r1c1: row 1 comes first and the naked single is seen at once.
        let solved: String = (0..81)
            .map(|cell| char::from(b'1' + ((cell / 9 % 3 * 3 + cell / 27 + cell % 9) % 9) as u8))
            .collect();
        let puzzle: Puzzle = format!(".{}", &solved[1..]).parse().unwrap();
        let effort = effort_walk(&puzzle, &Order::ladder(), &rows_columns_boxes(), |_, _, _| {});
        assert_eq!(effort.outcome, Outcome::Solved);
        assert_eq!(effort.total(), Glances { cells_seen: 1, ..Glances::default() });
        assert_eq!(effort.looks_made(), 1);
        // Looked for from the last house on, it is seen after the empty looks at full houses.
        let backwards: Vec<House> = House::all().rev().collect();
        let effort = effort_walk(&puzzle, &Order::ladder(), &backwards, |_, _, _| {});
        assert_eq!(effort.total(), Glances { cells_seen: 1, ..Glances::default() });
    }

    #[test]
    fn a_blank_board_is_searched_in_vain_once() {
        // 27 houses of nine open cells: naked looks see 9 cells, hidden ones gather 81 places, and
        // no cell or digit is eligible.
        let puzzle: Puzzle = ".".repeat(81).parse().unwrap();
        let effort = effort_walk(&puzzle, &Order::ladder(), &rows_columns_boxes(), |_, _, _| {});
        assert_eq!(effort.outcome, Outcome::Stuck);
        assert_eq!(
            effort.total(),
            Glances { cells_seen: 4 * 27 * 9, places_gathered: 4 * 27 * 81, tries: 0 }
        );
        assert!(effort.looks.iter().all(|look| (look.found, look.failed) == (0, 1)));
    }

    #[test]
    fn puzzles_without_solution_end_in_a_contradiction() {
        // r1c9 sees all nine digits.
        let line = format!("12345678.{}", "........9".repeat(8).replacen('9', ".", 7));
        let puzzle: Puzzle = line.parse().unwrap();
        let effort = effort_walk(&puzzle, &Order::ladder(), &rows_columns_boxes(), |_, _, _| {});
        assert!(matches!(effort.outcome, Outcome::Contradiction(_)));
        assert_eq!(effort.looks_made(), 0);
    }

    #[test]
    fn on_the_ladder_sets_that_are_not_proper_never_come_up() {
        for index in 0..12 {
            let puzzle = MinimalByDeletion { seed: 3 }.puzzle(index);
            let (order, houses) = (Order::ladder(), rows_columns_boxes());
            let ours = effort_walk(&puzzle, &order, &houses, |_, _, _| {});
            let naive = naive_walk(&puzzle, order.looks(), &houses, |position, house, look| {
                effort(position, house, look, false)
            });
            check(&ours, &naive).unwrap();
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn steps_are_those_of_the_one_by_one_course(
            index in any::<u64>(), order in orders(), houses in house_orders(),
        ) {
            let puzzle = MinimalByDeletion { seed: 1 }.puzzle(index);
            let mut steps = Vec::new();
            let mut glances = Glances::default();
            let ours = effort_walk(&puzzle, &order, &houses, |_, step, made| {
                steps.push(step.clone());
                glances += made;
            });
            let options = WalkOptions {
                order: order.clone(),
                course: Course::OneByOne(houses.clone()),
                when_stuck: WhenStuck::Stop,
            };
            let mut expected = Steps::default();
            let result = walk(&puzzle, &options, &mut expected);
            prop_assert_eq!(steps, expected.0);
            prop_assert_eq!(ours.outcome, result.outcome);
            prop_assert_eq!(&ours.end, &result.end);
            if ours.outcome == Outcome::Solved {
                prop_assert_eq!(glances, ours.total());
            }
        }

        #[test]
        fn remembered_costs_equal_the_naive_walk(
            index in any::<u64>(), order in orders(), houses in house_orders(),
        ) {
            let puzzle = MinimalByDeletion { seed: 2 }.puzzle(index);
            let ours = effort_walk(&puzzle, &order, &houses, |_, _, _| {});
            check(&ours, &naive_walk(&puzzle, order.looks(), &houses, without_memory))?;
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(8))]

        #[test]
        fn the_walk_agrees_with_the_slow_reference(
            index in any::<u64>(), order in orders(), houses in house_orders(),
        ) {
            let puzzle = MinimalByDeletion { seed: 4 }.puzzle(index);
            let ours = effort_walk(&puzzle, &order, &houses, |_, _, _| {});
            let slow = naive_walk(&puzzle, order.looks(), &houses, |position, house, look| {
                effort(position, house, look, true)
            });
            check(&ours, &slow)?;
        }
    }
}
