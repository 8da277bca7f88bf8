//! The fast walk gives the records of the simple one, with every instruction set of this processor.

use std::cell::Cell;

use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Digit, House, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::effort::{EffortEnd, EffortWalker, WalkEffort, effort_walk};
use tallyhouse_engine::{
    AppliedLook, Course, Exposure, FastWalk, InstructionSet, Order, Outcome, QuietPosition,
    Recorder, Subset, WalkEnd, WalkOptions, Walker, WhenStuck, count_solutions, unique_solution,
    walk,
};
use tallyhouse_oracles::positions;

#[derive(Clone, Debug, PartialEq)]
struct Quiet {
    number: u16,
    given_digits: u8,
    fixed_cells: u8,
    candidates_left: u16,
    exposure: Exposure,
    subsets: Vec<Subset>,
    applied: AppliedLook,
    states: [u16; 81],
}

#[derive(Clone, Debug, Default, PartialEq)]
struct Seen {
    quiet: Vec<Quiet>,
    /// The end, and the board state unless it is a contradiction.
    end: Option<(WalkEnd, Option<[u16; 81]>)>,
}

/// What is seen of each puzzle.
struct Batch(Vec<Seen>);

impl Batch {
    fn of(puzzles: &[Puzzle]) -> Self {
        Self(vec![Seen::default(); puzzles.len()])
    }
}

impl Recorder for Batch {
    fn quiet_position(&mut self, p: &QuietPosition<'_>) {
        self.0[p.puzzle].quiet.push(Quiet {
            number: p.number,
            given_digits: p.given_digits,
            fixed_cells: p.fixed_cells,
            candidates_left: p.candidates_left,
            exposure: p.exposure,
            subsets: p.subsets.to_vec(),
            applied: p.applied,
            states: (p.states)(),
        });
    }

    fn end(&mut self, puzzle: usize, end: &WalkEnd, states: &dyn Fn() -> [u16; 81]) {
        let earlier = self.0[puzzle].end.replace(comparable(*end, states));
        assert_eq!(earlier, None, "each walk ends once");
    }
}

/// Where a contradiction is noticed, and with which look for singles, is each engine's own affair.
fn comparable(end: WalkEnd, states: &dyn Fn() -> [u16; 81]) -> (WalkEnd, Option<[u16; 81]>) {
    match end.outcome {
        Outcome::Contradiction => (WalkEnd { hardest: end.hardest.max(Some(1)), ..end }, None),
        Outcome::Solved | Outcome::Stuck => (end, Some(states())),
    }
}

fn simple(puzzle: &Puzzle, options: &WalkOptions) -> Seen {
    let mut seen = Batch::of(&[*puzzle]);
    let walked = walk(puzzle, options, &mut seen);
    let seen = seen.0.remove(0);
    assert_eq!(seen.end, Some(comparable(walked.end, &|| walked.position.states())));
    seen
}

fn compare(puzzles: &[Puzzle], options: &WalkOptions) {
    let expected: Vec<Seen> = puzzles.iter().map(|puzzle| simple(puzzle, options)).collect();
    for set in InstructionSet::all() {
        let mut fast = FastWalk::with(options, set).expect("the fast walk takes these options");
        // The second time with used buffers.
        for _ in 0..2 {
            let mut batch = Batch::of(puzzles);
            fast.walk(puzzles, &mut batch);
            assert_same(puzzles, &batch.0, &expected, &format!("{set:?}, {options:?}"));
        }
    }
    let mut batch = Batch::of(puzzles);
    let mut walker = Walker::new(options.clone());
    walker.walk(puzzles, &mut batch);
    assert_same(puzzles, &batch.0, &expected, "the best");
    // Where a walk got stuck there are all solutions left.
    let backwards: Vec<usize> = (0..puzzles.len()).rev().collect();
    let mut counted = walker.count_solutions(puzzles, &backwards);
    counted.reverse();
    assert_eq!(counted, count_solutions(puzzles, 2));
}

fn assert_same(puzzles: &[Puzzle], found: &[Seen], expected: &[Seen], engine: &str) {
    for ((puzzle, found), expected) in puzzles.iter().zip(found).zip(expected) {
        assert_eq!(found, expected, "{puzzle} with {engine}");
    }
}

fn order(text: &str) -> WalkOptions {
    WalkOptions { order: text.parse().unwrap(), ..WalkOptions::default() }
}

#[test]
fn minimal_puzzles_have_the_same_records() {
    let puzzles = MinimalByDeletion { seed: 51 }.puzzles(0..3000);
    compare(&puzzles, &WalkOptions::default());
    compare(&puzzles[..500], &order("naked 1, hidden 1"));
    compare(
        &puzzles[..500],
        &order("naked 1, hidden 1, hidden 2 open 5..9, naked 5 open 8..9, naked 2"),
    );
}

#[test]
fn easy_full_and_single_puzzles_have_the_same_records() {
    // Clues put back make naked singles enough, down to a board without open cells.
    let minimal = MinimalByDeletion { seed: 52 }.puzzles(0..60);
    let mut puzzles = Vec::new();
    for puzzle in minimal {
        let solution = unique_solution(&puzzle).unwrap();
        for kept in [81, 80, 70, 60, 50, 40, 34] {
            let mut digits = puzzle.values().map(Digit::new);
            for cell in 0..kept {
                let cell = cell * 50 % 81;
                digits[cell] = Digit::new(solution.values()[cell]);
            }
            puzzles.push(Puzzle::new(digits).unwrap());
        }
    }
    compare(&puzzles, &WalkOptions::default());
    for puzzle in &puzzles[..20] {
        compare(&[*puzzle], &WalkOptions::default());
    }
    compare(&[], &WalkOptions::default());
}

#[test]
fn puzzles_with_several_solutions_or_none_have_the_same_records() {
    let mut rng = positions::rng(53);
    let loose: Vec<Puzzle> = (0..1500).map(|_| positions::loose_puzzle(&mut rng)).collect();
    let altered: Vec<Puzzle> = (0..3000).map(|_| positions::altered_puzzle(&mut rng)).collect();
    for options in [WalkOptions::default(), helped(Order::ladder().with_intersections())] {
        compare(&loose, &options);
        compare(&altered, &options);
    }
}

fn helped(order: Order) -> WalkOptions {
    WalkOptions { order, when_stuck: WhenStuck::GiveDigit, ..WalkOptions::default() }
}

#[test]
fn walks_with_intersections_and_given_digits_have_the_same_records() {
    let puzzles = MinimalByDeletion { seed: 55 }.puzzles(0..1500);
    let with_intersections = Order::ladder().with_intersections();
    compare(&puzzles, &WalkOptions { order: with_intersections.clone(), ..WalkOptions::default() });
    compare(&puzzles, &helped(Order::ladder()));
    compare(&puzzles, &helped(with_intersections));
    // Often stuck, with singles alone after a digit is given.
    compare(&puzzles, &helped("naked 1, hidden 1".parse().unwrap()));
    for text in [
        "naked 1, hidden 1, intersections",
        "naked 1, hidden 1, intersections, hidden 3 open 6..8, naked 2",
        "naked 1, hidden 1, naked 4, hidden 2 open 4..7, intersections, hidden 2 open 8",
    ] {
        compare(&puzzles[..500], &order(text));
        compare(&puzzles[..500], &helped(text.parse().unwrap()));
    }
}

#[test]
fn walks_one_by_one_have_the_same_records() {
    let mut rng = positions::rng(56);
    let puzzles = MinimalByDeletion { seed: 56 }.puzzles(0..400);
    let loose: Vec<Puzzle> = (0..200).map(|_| positions::loose_puzzle(&mut rng)).collect();
    let altered: Vec<Puzzle> = (0..400).map(|_| positions::altered_puzzle(&mut rng)).collect();
    for (number, text) in ORDERS.into_iter().enumerate() {
        let course = courses(&mut rng).swap_remove(number % 3);
        for when_stuck in [WhenStuck::Stop, WhenStuck::GiveDigit] {
            let course = Course::OneByOne(course.clone());
            let options = WalkOptions { order: text.parse().unwrap(), course, when_stuck };
            compare(&puzzles, &options);
            compare(&loose, &options);
            compare(&altered, &options);
        }
    }
}

/// Orders of all kinds: singles first, late, in some houses or not at all; ranges; intersections.
const ORDERS: [&str; 10] = [
    "naked 1, hidden 1, naked 2, hidden 2, naked 3, hidden 3, naked 4, hidden 4",
    "naked 1, hidden 1, naked 2, hidden 2, intersections, naked 3, hidden 3, naked 4, hidden 4",
    "hidden 1, naked 1, hidden 2 open 5..9, naked 5 open 8..9, naked 2, intersections",
    "intersections, hidden 4, naked 3, naked 1, hidden 2, hidden 1, naked 6",
    "naked 2, naked 1 open 1..5, hidden 1 open 3..9, naked 1 open 6..9, hidden 3 open 4..8",
    "naked 1",
    "hidden 1 open 1..6, naked 8, hidden 8, hidden 7, hidden 6, naked 7",
    "naked 4 open 5..9, hidden 2",
    "intersections",
    "naked 1, hidden 1",
];

/// The usual course, the same shuffled, and some of its houses.
fn courses(rng: &mut ChaCha8Rng) -> Vec<Vec<House>> {
    let usual: Vec<House> = House::all().collect();
    let mut shuffled = usual.clone();
    shuffled.shuffle(rng);
    let some = shuffled[..12].to_vec();
    vec![usual, shuffled, some]
}

#[test]
fn other_kinds_of_walk_are_left_to_the_simple_one() {
    let refused = |options: &WalkOptions| FastWalk::new(options).is_none();
    assert!(refused(&order("hidden 1, naked 1, naked 2")));
    assert!(refused(&order("naked 1")));
    assert!(refused(&order("naked 1, hidden 1 open 1..5, naked 2")));
    let twice = Course::OneByOne(House::all().chain([House::row(3)]).collect());
    let twice = WalkOptions { course: twice, ..WalkOptions::default() };
    assert!(refused(&twice));
    let puzzles = MinimalByDeletion { seed: 54 }.puzzles(0..50);
    for options in [twice, order("hidden 1, naked 2")] {
        let expected: Vec<Seen> = puzzles.iter().map(|puzzle| simple(puzzle, &options)).collect();
        let mut batch = Batch::of(&puzzles);
        Walker::new(options).walk(&puzzles, &mut batch);
        assert_same(&puzzles, &batch.0, &expected, "the simple engine");
    }
}

#[test]
fn glances_are_those_of_the_simple_engine() {
    let mut rng = positions::rng(57);
    let mut puzzles = MinimalByDeletion { seed: 57 }.puzzles(0..400);
    puzzles.extend((0..200).map(|_| positions::loose_puzzle(&mut rng)));
    puzzles.extend((0..200).map(|_| positions::altered_puzzle(&mut rng)));
    for (number, text) in ORDERS.into_iter().enumerate() {
        compare_efforts(&puzzles, &text.parse().unwrap(), &courses(&mut rng)[number % 3]);
    }
}

fn compare_efforts(puzzles: &[Puzzle], order: &Order, houses: &[House]) {
    let simple = |puzzle| effort_walk(puzzle, order, houses, |_, _, _| {});
    let expected: Vec<WalkEffort> = puzzles.iter().map(simple).collect();
    for set in InstructionSet::all() {
        let mut walker = EffortWalker::with(order, houses, set).expect("no house comes twice");
        let walked = Cell::new(0);
        let each = |index: usize, effort: &EffortEnd<'_>| {
            let (puzzle, expected) = (&puzzles[index], &expected[index]);
            assert_eq!(index, walked.replace(walked.get() + 1) % puzzles.len());
            assert_eq!(effort.outcome, expected.outcome, "{puzzle} with {order}");
            assert_eq!(effort.looks, expected.looks, "{puzzle} with {order}");
            assert_eq!((effort.states)(), expected.end.states(), "{puzzle} with {order}");
        };
        walker.walk(puzzles, each);
        // The same with a halt, walked with the first looks alone and gone on from with all.
        let looks = order.looks();
        for first in [1, 2, looks.len()].into_iter().filter(|&first| first <= looks.len()) {
            let begun = Order::new(looks[..first].to_vec()).expect("some looks");
            let mut begun = EffortWalker::with(&begun, houses, set).expect("no house comes twice");
            walker.walk_on(&begun.walk_halfway(puzzles, first), each);
            let halfway = walker.walk_halfway(puzzles, first);
            walker.walk_on(&halfway, each);
        }
    }
}

/// Takes some minutes.
#[test]
#[ignore = "long"]
fn twenty_thousand_puzzles_have_the_same_records_and_glances() {
    let mut rng = positions::rng(58);
    for block in 0..20 {
        let puzzles = MinimalByDeletion { seed: 58 }.puzzles(block * 1000..(block + 1) * 1000);
        let loose: Vec<Puzzle> = (0..100).map(|_| positions::loose_puzzle(&mut rng)).collect();
        let altered: Vec<Puzzle> = (0..100).map(|_| positions::altered_puzzle(&mut rng)).collect();
        let all = [puzzles, loose, altered].concat();
        let course = courses(&mut rng).swap_remove(block as usize % 3);
        for text in ORDERS {
            compare_efforts(&all, &text.parse().unwrap(), &course);
            for when_stuck in [WhenStuck::Stop, WhenStuck::GiveDigit] {
                let course = Course::OneByOne(course.clone());
                compare(&all, &WalkOptions { order: text.parse().unwrap(), course, when_stuck });
            }
        }
        for text in ORDERS.into_iter().filter(|text| text.starts_with("naked 1, hidden 1")) {
            compare(&all, &order(text));
            compare(&all, &helped(text.parse().unwrap()));
        }
    }
}
