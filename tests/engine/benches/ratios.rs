//! The fast engine, the simple engine and the brute-force reference on the same puzzles in one
//! process: time per puzzle and the ratios. Each must find the same number of subsets.
//!
//! Run with `cargo bench -p tallyhouse-oracles`.

use std::hint::black_box;
use std::time::{Duration, Instant};

use tallyhouse_board::{House, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::effort::{EffortWalker, Glances, effort_walk};
use tallyhouse_engine::{
    CourseKind, FastWalk, InstructionSet, Order, QuietPosition, Recorder, WalkEnd, WalkOptions,
    WhenStuck, count_solutions, walk,
};
use tallyhouse_oracles::brute_force;

#[derive(Default)]
struct Count {
    subsets: usize,
    without_quiet: Vec<usize>,
}

impl Recorder for Count {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.subsets += position.subsets.len();
    }

    fn end(&mut self, puzzle: usize, end: &WalkEnd, _: &dyn Fn() -> [u16; 81]) {
        if end.quiet_positions == 0 {
            self.without_quiet.push(puzzle);
        }
    }
}

/// Runs until a second has passed and returns the median time of one run.
fn median(mut run: impl FnMut()) -> Duration {
    let mut times = Vec::new();
    let start = Instant::now();
    while times.is_empty() || start.elapsed() < Duration::from_secs(1) {
        let begin = Instant::now();
        run();
        times.push(begin.elapsed());
    }
    times.sort();
    times[times.len() / 2]
}

/// Keeps the compiler from leaving out what is measured.
fn consume<T>(value: T) {
    black_box(value);
}

fn per_puzzle(time: Duration, puzzles: usize) -> f64 {
    time.as_secs_f64() * 1e6 / puzzles as f64
}

fn main() {
    let options = WalkOptions::default();
    let puzzles = MinimalByDeletion { seed: 1 }.puzzles(0..20_000);
    let few = &puzzles[..200];
    let fast = |puzzles: &[Puzzle], set: InstructionSet| {
        let mut count = Count::default();
        FastWalk::with(&options, set).expect("the ladder is fast").walk(puzzles, &mut count);
        count
    };
    let simple = |puzzles: &[Puzzle]| {
        let mut count = Count::default();
        for puzzle in puzzles {
            black_box(walk(puzzle, &options, &mut count));
        }
        count.subsets
    };
    let brute = |puzzles: &[Puzzle]| -> usize {
        let walks = puzzles.iter().map(|puzzle| brute_force::walk(puzzle.values()));
        walks.map(|walk| walk.quiet.iter().map(|quiet| quiet.subsets.len()).sum::<usize>()).sum()
    };
    let subsets = fast(few, InstructionSet::best()).subsets;
    assert_eq!((simple(few), brute(few)), (subsets, subsets));

    let of_brute = per_puzzle(median(|| consume(brute(few))), few.len());
    let of_simple = per_puzzle(median(|| consume(simple(few))), few.len());
    println!("{:<34} {:>12} {:>14} {:>14}", "", "µs a puzzle", "÷ simple", "÷ brute force");
    let row = |name: &str, time: f64| {
        println!("{name:<34} {time:>12.3} {:>14.1} {:>14.1}", of_simple / time, of_brute / time);
    };
    row("brute force", of_brute);
    row("simple engine", of_simple);
    for set in InstructionSet::all() {
        let time = median(|| consume(fast(&puzzles, set).subsets));
        row(&format!("fast engine, {set:?}"), per_puzzle(time, puzzles.len()));
    }
    let easy: Vec<Puzzle> = fast(&puzzles, InstructionSet::best())
        .without_quiet
        .iter()
        .map(|&index| puzzles[index])
        .collect();
    let time = median(|| consume(fast(&easy, InstructionSet::best()).subsets));
    row("fast engine, solved by singles", per_puzzle(time, easy.len()));

    other_walks(&puzzles, few);
    efforts(&puzzles, few);

    let time = median(|| consume(count_solutions(&puzzles, 2)));
    println!(
        "\nsolutions up to two, side by side: {:.3} µs a puzzle",
        per_puzzle(time, puzzles.len())
    );
    let mut alone: Vec<f64> =
        puzzles[..2000].iter().map(|puzzle| per_puzzle(median_of_five(puzzle), 1)).collect();
    alone.sort_by(f64::total_cmp);
    println!("solutions up to two, one alone: median {:.3} µs", alone[alone.len() / 2]);
}

/// Every other kind of walk, with the simple engine and with each instruction set.
fn other_walks(puzzles: &[Puzzle], few: &[Puzzle]) {
    let ladder = WalkOptions::default;
    let with_intersections = Order::ladder().with_intersections();
    let ranges = "naked 1, hidden 1, hidden 2 open 5..9, naked 2 open 2..6, hidden 3 open 6..9, \
                  naked 3 open 4..7, naked 4 open 8..9, hidden 4 open 8..9";
    let walks = [
        ("intersections", WalkOptions { order: with_intersections, ..ladder() }),
        ("given digits", WalkOptions { when_stuck: WhenStuck::GiveDigit, ..ladder() }),
        ("open ranges", WalkOptions { order: ranges.parse().expect("an order"), ..ladder() }),
        ("one by one", WalkOptions { course: CourseKind::OneByOne.into(), ..ladder() }),
    ];
    for (name, options) in &walks {
        let simple = |puzzles: &[Puzzle]| {
            let mut count = Count::default();
            for puzzle in puzzles {
                black_box(walk(puzzle, options, &mut count));
            }
            count.subsets
        };
        let fast = |puzzles: &[Puzzle], set: InstructionSet| {
            let mut count = Count::default();
            FastWalk::with(options, set).expect("a fast walk").walk(puzzles, &mut count);
            count.subsets
        };
        assert_eq!(simple(few), fast(few, InstructionSet::best()), "{name}");
        let of_simple = per_puzzle(median(|| consume(simple(few))), few.len());
        beside_simple(name, of_simple, puzzles.len(), &|set| consume(fast(puzzles, set)));
    }
}

/// The walk one by one with its glances counted.
fn efforts(puzzles: &[Puzzle], few: &[Puzzle]) {
    let (order, houses): (Order, Vec<House>) = (Order::ladder(), House::all().collect());
    let simple = || -> Glances {
        few.iter().map(|puzzle| effort_walk(puzzle, &order, &houses, |_, _, _| {}).total()).sum()
    };
    let fast = |puzzles: &[Puzzle], set: InstructionSet| {
        let mut walker = EffortWalker::with(&order, &houses, set).expect("no house comes twice");
        let mut sum = Glances::default();
        walker.walk(puzzles, |_, effort| sum += effort.total());
        sum
    };
    assert_eq!(simple(), fast(few, InstructionSet::best()));
    let of_simple = per_puzzle(median(|| consume(simple())), few.len());
    beside_simple("effort", of_simple, puzzles.len(), &|set| consume(fast(puzzles, set)));
}

fn beside_simple(name: &str, of_simple: f64, puzzles: usize, run: &dyn Fn(InstructionSet)) {
    println!("{:<34} {of_simple:>12.3} {:>14.1}", format!("{name}, simple engine"), 1.0);
    for set in InstructionSet::all() {
        let time = per_puzzle(median(|| run(set)), puzzles);
        println!("{:<34} {time:>12.3} {:>14.1}", format!("{name}, {set:?}"), of_simple / time);
    }
}

fn median_of_five(puzzle: &Puzzle) -> Duration {
    let mut times: Vec<Duration> = (0..5)
        .map(|_| {
            let begin = Instant::now();
            black_box(count_solutions(std::slice::from_ref(puzzle), 2));
            begin.elapsed()
        })
        .collect();
    times.sort();
    times[2]
}
