//! Other courses and orders than the together-walk of the ladder: one by one, intersections, given
//! digits, looks with open ranges.

use rand::RngExt;
use rand::seq::SliceRandom;
use tallyhouse_board::{Cell, House, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{
    Course, Find, Look, Order, Outcome, Position, QuietPosition, Recorder, Size, Step, WalkOptions,
    WhenStuck, solutions, walk,
};
use tallyhouse_tests::positions::{rng, sparse_puzzle};

struct Check {
    solutions: Vec<Puzzle>,
    order: Order,
    one_at_a_time: bool,
    steps: usize,
}

impl Recorder for Check {
    fn quiet_position(&mut self, _: &QuietPosition<'_>) {}

    fn step(&mut self, before: &Position, step: &Step) {
        self.steps += 1;
        assert!(!step.finds.is_empty());
        assert!(!self.one_at_a_time || step.finds.len() == 1);
        for find in &step.finds {
            if let (Find::Subset(subset), Some((index, look))) = (find, step.look) {
                assert!(look.finds(subset) && self.order.looks()[index] == look);
            }
            for solution in &self.solutions {
                let holds = |cell: Cell| solution.get(cell).unwrap();
                for (cell, digits) in find.removals() {
                    let gone = before.candidates(cell) & digits;
                    assert!(!gone.contains(holds(cell)), "{find:?} removes {cell} of a solution");
                }
                if let (Some((cell, digit)), Some(_)) = (find.placement(), step.look) {
                    assert_eq!(holds(cell), digit, "{find:?}");
                }
            }
        }
    }
}

fn checked_walk(puzzle: &Puzzle, options: &WalkOptions) -> (tallyhouse_engine::WalkResult, usize) {
    let mut check = Check {
        solutions: solutions(puzzle, 10),
        order: options.order.clone(),
        one_at_a_time: matches!(options.course, Course::OneByOne(_)),
        steps: 0,
    };
    let result = walk(puzzle, options, &mut check);
    (result, check.steps)
}

fn random_order(rng: &mut rand_chacha::ChaCha8Rng) -> Order {
    let mut looks = vec![Look::Intersections];
    for size in 1..=5 {
        let least = rng.random_range(1..=size + 1);
        let most = rng.random_range(size + 1..=9);
        looks.push(Look::Naked(Size::within(size, least, most).unwrap()));
        looks.push(Look::Hidden(Size::within(size, least, most).unwrap()));
    }
    looks.shuffle(rng);
    looks.truncate(rng.random_range(1..=11));
    Order::new(looks).unwrap()
}

#[test]
fn no_look_ever_removes_a_digit_of_a_solution() {
    let generator = MinimalByDeletion { seed: 31 };
    for case in 0..300 {
        let rng = &mut rng(32, case);
        let puzzle = if case % 2 == 0 { generator.puzzle(case) } else { sparse_puzzle(rng) };
        let mut houses: Vec<House> = House::all().collect();
        houses.shuffle(rng);
        let courses = [Course::Together, Course::OneByOne(houses)];
        for course in courses {
            let options =
                WalkOptions { order: random_order(rng), course, when_stuck: WhenStuck::Stop };
            let (result, _) = checked_walk(&puzzle, &options);
            assert!(!matches!(result.outcome, Outcome::Contradiction(_)));
        }
    }
}

#[test]
fn one_by_one_reaches_what_together_reaches() {
    // The full ladder removes, house by house, all that lies in no perfect matching; such removals
    // never hinder each other, so the end is the same in any order of houses.
    let generator = MinimalByDeletion { seed: 33 };
    let (mut steps_together, mut steps_by_hand) = (0, 0);
    for index in 0..300 {
        let puzzle = generator.puzzle(index);
        let mut houses: Vec<House> = House::all().collect();
        houses.shuffle(&mut rng(34, index));
        let together = WalkOptions::default();
        let by_hand = WalkOptions { course: Course::OneByOne(houses), ..WalkOptions::default() };
        let (together, fewer) = checked_walk(&puzzle, &together);
        let (by_hand, more) = checked_walk(&puzzle, &by_hand);
        assert_eq!(together.end, by_hand.end, "{puzzle}");
        steps_together += fewer;
        steps_by_hand += more;
    }
    assert!(steps_together < steps_by_hand);
}

#[test]
fn given_digits_lead_to_the_solution() {
    let generator = MinimalByDeletion { seed: 35 };
    let mut given = 0;
    for index in 0..200 {
        let puzzle = generator.puzzle(index);
        let options = WalkOptions { when_stuck: WhenStuck::GiveDigit, ..WalkOptions::default() };
        let (result, _) = checked_walk(&puzzle, &options);
        assert_eq!(result.outcome, Outcome::Solved);
        given += u32::from(result.given_digits);
        let stopped = walk(&puzzle, &WalkOptions::default(), &mut Nothing);
        assert_eq!(stopped.outcome == Outcome::Solved, result.given_digits == 0);
    }
    assert!(given > 50);
}

#[test]
fn intersections_only_ever_help() {
    let generator = MinimalByDeletion { seed: 36 };
    let mut helped = 0;
    for index in 0..300 {
        let puzzle = generator.puzzle(index);
        let order = Order::ladder().with_intersections();
        let options = WalkOptions { order, ..WalkOptions::default() };
        let (with, _) = checked_walk(&puzzle, &options);
        let (without, _) = checked_walk(&puzzle, &WalkOptions::default());
        for cell in Cell::all() {
            let kept = with.end.candidates(cell);
            assert!(kept.is_subset(without.end.candidates(cell)), "{puzzle}");
        }
        helped += u32::from(with.end != without.end);
    }
    assert!(helped > 20, "{helped}");
}

struct Nothing;

impl Recorder for Nothing {
    fn quiet_position(&mut self, _: &QuietPosition<'_>) {}
}
