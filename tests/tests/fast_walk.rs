//! The fast walk gives the records of the simple one, on every path that this processor can take.

use tallyhouse_board::{Digit, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{
    AppliedLook, BatchEnd, BatchRecorder, FastWalk, Order, Path, QuietPosition, Recorder, Subset,
    WalkOptions, count_solutions, solutions, walk,
};
use tallyhouse_tests::positions;

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
    end: Option<BatchEnd>,
}

impl Seen {
    fn add(&mut self, p: &QuietPosition<'_>) {
        self.quiet.push(Quiet {
            number: p.number,
            fixed_cells: p.fixed_cells,
            candidates_left: p.candidates_left,
            exposure: p.exposure,
            subsets: p.subsets.to_vec(),
            applied: p.applied,
            states: (p.states)(),
        });
    }
}

impl Recorder for Seen {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.add(position);
    }
}

struct Batch(Vec<Seen>);

impl BatchRecorder for Batch {
    fn quiet_position(&mut self, index: usize, position: &QuietPosition<'_>) {
        self.0[index].add(position);
    }

    fn end(&mut self, index: usize, end: &BatchEnd) {
        assert_eq!(self.0[index].end, None, "each walk ends once");
        self.0[index].end = Some(*end);
    }
}

fn simple(puzzle: &Puzzle, options: &WalkOptions) -> Seen {
    let mut seen = Seen::default();
    let result = walk(puzzle, options, &mut seen);
    seen.end = Some(BatchEnd {
        outcome: result.outcome.into(),
        quiet_positions: result.quiet_positions,
        hardest: result.hardest,
    });
    seen
}

fn compare(puzzles: &[Puzzle], options: &WalkOptions) {
    let expected: Vec<Seen> = puzzles.iter().map(|puzzle| simple(puzzle, options)).collect();
    for path in Path::all() {
        let mut fast = FastWalk::on_path(options, path).expect("the fast walk takes these options");
        // The second time with used buffers.
        for _ in 0..2 {
            let mut batch = Batch(vec![Seen::default(); puzzles.len()]);
            fast.walk(puzzles, &mut batch);
            for ((puzzle, found), expected) in puzzles.iter().zip(&batch.0).zip(&expected) {
                assert_eq!(found, expected, "{puzzle} on {path:?}");
            }
        }
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
        let solution = solutions(&puzzle, 1)[0];
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
}

#[test]
fn the_fast_search_counts_like_the_simple_one() {
    let mut rng = positions::rng(54);
    let mut puzzles: Vec<Puzzle> = (0..400).map(|_| positions::loose_puzzle(&mut rng)).collect();
    puzzles.extend(MinimalByDeletion { seed: 55 }.puzzles(0..100));
    // One clue changed: often no solution is left.
    let broken: Vec<Puzzle> = puzzles
        .iter()
        .filter_map(|puzzle| {
            let mut digits = puzzle.values().map(Digit::new);
            let cell = digits.iter().position(Option::is_some)?;
            digits[cell] = Digit::new(digits[cell]?.value() % 9 + 1);
            Puzzle::new(digits).ok()
        })
        .collect();
    puzzles.extend(broken);
    puzzles.push(Puzzle::new([None; 81]).unwrap());
    for limit in [1, 2, 5] {
        let expected: Vec<u32> =
            puzzles.iter().map(|puzzle| solutions(puzzle, limit).len() as u32).collect();
        let found = count_solutions(&puzzles, limit as u32);
        assert!(found.iter().all(|answer| answer.complete));
        assert_eq!(found.iter().map(|answer| answer.solutions).collect::<Vec<_>>(), expected);
        let seen: std::collections::BTreeSet<u32> = expected.into_iter().collect();
        assert!(seen.len() >= limit.min(3), "{seen:?}");
    }
}
