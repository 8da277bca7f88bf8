//! The fast engine, the simple engine and the brute-force reference on the same puzzles in one
//! process: time per puzzle and the ratios. Each must find the same number of subsets.
//!
//! Run with `cargo bench -p tallyhouse-oracles`.

use std::hint::black_box;
use std::time::{Duration, Instant};

use tallyhouse_board::Puzzle;
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{
    FastWalk, InstructionSet, QuietPosition, Recorder, WalkEnd, WalkOptions, count_solutions, walk,
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
