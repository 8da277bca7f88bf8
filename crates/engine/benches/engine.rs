//! Singles, one position's subsets, and whole puzzles, on the same generated minimal puzzles.

use std::hint::black_box;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use tallyhouse_board::{House, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{HouseSplits, Order, Position, QuietPosition, Recorder, WalkOptions, walk};

const PUZZLES: u64 = 500;

#[derive(Default)]
struct Count {
    subsets: usize,
}

impl Recorder for Count {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.subsets += position.subsets.len();
    }
}

fn walks(puzzles: &[Puzzle], options: &WalkOptions) -> usize {
    let mut count = Count::default();
    for puzzle in puzzles {
        black_box(walk(puzzle, options, &mut count));
    }
    count.subsets
}

fn engine(criterion: &mut Criterion) {
    let generator = MinimalByDeletion { seed: 1 };
    let puzzles: Vec<Puzzle> = (0..PUZZLES).map(|index| generator.puzzle(index)).collect();
    let ladder = WalkOptions::default();
    let singles = Order::new(Order::ladder().looks()[..2].to_vec());
    let singles = WalkOptions { order: singles.unwrap(), ..WalkOptions::default() };
    let quiet: Vec<Position> =
        puzzles.iter().map(|puzzle| walk(puzzle, &singles, &mut Count::default()).end).collect();
    // A fast wrong engine fails: the number of subsets is checked once.
    assert_eq!(walks(&puzzles, &ladder), 1186, "subsets in {PUZZLES} puzzles of seed 1");

    let mut group = criterion.benchmark_group("engine");
    group.throughput(Throughput::Elements(PUZZLES));
    group.bench_function("singles to the quiet position", |bencher| {
        bencher.iter(|| walks(&puzzles, &singles));
    });
    group.bench_function("whole puzzles", |bencher| bencher.iter(|| walks(&puzzles, &ladder)));
    group.bench_function("subsets of one position", |bencher| {
        bencher.iter_batched(
            || &quiet,
            |quiet| {
                let in_house = |position: &Position, house: House| {
                    HouseSplits::of_house(position, house).map_or(0, |s| s.tight_sets.len())
                };
                quiet
                    .iter()
                    .map(|position| House::all().map(|h| in_house(position, h)).sum::<usize>())
                    .sum::<usize>()
            },
            BatchSize::SmallInput,
        );
    });
    group.finish();
}

criterion_group!(benches, engine);
criterion_main!(benches);
