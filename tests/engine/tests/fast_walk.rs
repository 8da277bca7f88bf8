//! The fast walk gives the records of the simple one, with every instruction set of this processor.

use tallyhouse_board::{Digit, House, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{
    AppliedLook, Course, FastWalk, InstructionSet, Order, Outcome, QuietPosition, Recorder, Subset,
    WalkEnd, WalkOptions, Walker, WhenStuck, unique_solution, walk,
};
use tallyhouse_oracles::positions;

#[derive(Clone, Debug, PartialEq)]
struct Quiet {
    number: u16,
    fixed_cells: u8,
    candidates_left: u16,
    exposure: [u8; 10],
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
            fixed_cells: p.fixed_cells,
            candidates_left: p.candidates_left,
            exposure: p.exposure,
            subsets: p.subsets.to_vec(),
            applied: p.applied,
            states: (p.states)(),
        });
    }

    fn end(&mut self, puzzle: usize, end: &WalkEnd, states: &dyn Fn() -> [u16; 81]) {
        let is_comparable = end.outcome != Outcome::Contradiction;
        let states = is_comparable.then(states);
        let earlier = self.0[puzzle].end.replace((*end, states));
        assert_eq!(earlier, None, "each walk ends once");
    }
}

fn simple(puzzle: &Puzzle, options: &WalkOptions) -> Seen {
    let mut seen = Batch::of(&[*puzzle]);
    let walked = walk(puzzle, options, &mut seen);
    let seen = seen.0.remove(0);
    let states = (walked.end.outcome != Outcome::Contradiction).then(|| walked.position.states());
    assert_eq!(seen.end, Some((walked.end, states)));
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
            assert_same(puzzles, &batch.0, &expected, &format!("{set:?}"));
        }
    }
    let mut batch = Batch::of(puzzles);
    Walker::new(options.clone()).walk(puzzles, &mut batch);
    assert_same(puzzles, &batch.0, &expected, "the best");
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
fn puzzles_with_several_solutions_have_the_same_records() {
    let mut rng = positions::rng(53);
    let puzzles: Vec<Puzzle> = (0..1500).map(|_| positions::loose_puzzle(&mut rng)).collect();
    compare(&puzzles, &WalkOptions::default());
}

#[test]
fn other_kinds_of_walk_are_left_to_the_simple_one() {
    let refused = |options: &WalkOptions| FastWalk::new(options).is_none();
    assert!(refused(&order("hidden 1, naked 1, naked 2")));
    assert!(refused(&order("naked 1")));
    assert!(refused(&order("naked 1, hidden 1 open 1..5, naked 2")));
    let with_intersections = Order::ladder().with_intersections();
    assert!(refused(&WalkOptions { order: with_intersections, ..WalkOptions::default() }));
    let given = WalkOptions { when_stuck: WhenStuck::GiveDigit, ..WalkOptions::default() };
    assert!(refused(&given));
    let one_by_one =
        WalkOptions { course: Course::OneByOne(House::all().collect()), ..WalkOptions::default() };
    assert!(refused(&one_by_one));
    let puzzles = MinimalByDeletion { seed: 54 }.puzzles(0..50);
    for options in [given, one_by_one, order("hidden 1, naked 2")] {
        let expected: Vec<Seen> = puzzles.iter().map(|puzzle| simple(puzzle, &options)).collect();
        let mut batch = Batch::of(&puzzles);
        Walker::new(options).walk(&puzzles, &mut batch);
        assert_same(&puzzles, &batch.0, &expected, "the simple engine");
    }
}
