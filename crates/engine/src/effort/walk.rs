use tallyhouse_board::{House, Puzzle};

use super::Glances;
use crate::marks::Marks;
use crate::walk::OneByOne;
use crate::{Contradiction, Order, Outcome, Position, Step};

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
    on_step: impl FnMut(&Position, &Step, Glances),
) -> WalkEffort {
    let looks = vec![LookEffort::default(); order.looks().len()];
    let mut walked = WalkEffort { outcome: Outcome::Stuck, looks, end: Position::new(puzzle) };
    let steps = take_steps(&mut walked, order, houses, on_step);
    walked.outcome = Outcome::of(&steps, &walked.end);
    walked
}

fn take_steps(
    so_far: &mut WalkEffort,
    order: &Order,
    houses: &[House],
    mut on_step: impl FnMut(&Position, &Step, Glances),
) -> Result<(), Contradiction> {
    let WalkEffort { looks, end: position, .. } = so_far;
    let mut marks = Marks::new(position);
    let mut course = OneByOne::<Glances>::new(order.looks(), houses);
    loop {
        position.check()?;
        if position.is_solved() {
            return Ok(());
        }
        let mut since_last = Glances::default();
        let found = course.find(position, &marks, |index, glances, found| {
            let look = &mut looks[index];
            look.found += u64::from(found);
            look.failed += u64::from(!found);
            look.glances += glances;
            since_last += glances;
        })?;
        let Some((index, find)) = found else { return Ok(()) };
        let step = Step { look: Some((index, order.looks()[index])), finds: vec![find] };
        on_step(position, &step, since_last);
        let before = position.clone();
        step.apply(position)?;
        course.forget(&marks.update(&before, position));
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
    use crate::{Course, Look, Recorder, WalkOptions, WhenStuck, walk};

    #[derive(Default)]
    struct Steps(Vec<Step>);

    impl Recorder for Steps {
        fn step(&mut self, _: &Position, step: &Step) {
            self.0.push(step.clone());
        }
    }

    fn found_and_failed(effort: &WalkEffort) -> (u64, u64) {
        let sum = |of: fn(&LookEffort) -> u64| effort.looks.iter().map(of).sum();
        (sum(|look| look.found), sum(|look| look.failed))
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
        assert_eq!(found_and_failed(&effort), (1, 0));
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
        assert_eq!(effort.outcome, Outcome::Contradiction);
        assert_eq!(found_and_failed(&effort), (0, 0));
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
            let walked = walk(&puzzle, &options, &mut expected);
            prop_assert_eq!(steps, expected.0);
            prop_assert_eq!(ours.outcome, walked.end.outcome);
            prop_assert_eq!(&ours.end, &walked.position);
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
