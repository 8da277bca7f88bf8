//! Singles, one position's subsets, and whole puzzles, on the same generated minimal puzzles.

use std::hint::black_box;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use tallyhouse_board::{House, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::effort::{Glances, effort_walk, paired_efforts};
use tallyhouse_engine::{
    FastWalk, HouseSplits, InstructionSet, Order, Position, QuietPosition, Recorder, WalkEnd,
    WalkOptions, count_solutions, walk,
};

const PUZZLES: u64 = 2000;

#[derive(Default)]
struct Count {
    subsets: usize,
}

impl Recorder for Count {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.subsets += position.subsets.len();
    }

    fn end(&mut self, _: usize, end: &WalkEnd, _: &dyn Fn() -> [u16; 81]) {
        black_box(end);
    }
}

fn fast_walks(puzzles: &[Puzzle], options: &WalkOptions, set: InstructionSet) -> usize {
    let mut count = Count::default();
    if let Some(mut fast) = FastWalk::with(options, set) {
        fast.walk(puzzles, &mut count);
    }
    count.subsets
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
        puzzles.iter().map(|puzzle| walk(puzzle, &singles, &mut ()).position).collect();
    let mut group = criterion.benchmark_group("engine");
    group.throughput(Throughput::Elements(PUZZLES));
    group.bench_function("singles to the quiet position", |bencher| {
        bencher.iter(|| walks(&puzzles, &singles));
    });
    group.bench_function("whole puzzles", |bencher| bencher.iter(|| walks(&puzzles, &ladder)));
    for set in InstructionSet::all() {
        assert_eq!(fast_walks(&puzzles, &ladder, set), walks(&puzzles, &ladder), "{set:?}");
        group.bench_function(format!("fast singles, {set:?}"), |bencher| {
            bencher.iter(|| fast_walks(&puzzles, &singles, set));
        });
        group.bench_function(format!("fast whole puzzles, {set:?}"), |bencher| {
            bencher.iter(|| fast_walks(&puzzles, &ladder, set));
        });
    }
    let houses: Vec<House> = House::all().collect();
    group.bench_function("effort walks", |bencher| {
        bencher.iter(|| {
            let walk = |puzzle| effort_walk(puzzle, &ladder.order, &houses, |_, _, _| {}).total();
            puzzles.iter().map(walk).sum::<Glances>()
        });
    });
    group.bench_function("solutions up to two", |bencher| {
        bencher.iter(|| black_box(count_solutions(&puzzles, 2)));
    });
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
    group.bench_function("paired efforts of one position", |bencher| {
        bencher.iter(|| {
            let pairs = |position| paired_efforts(position).map_or(0, |paired| paired.len());
            quiet.iter().map(pairs).sum::<usize>()
        });
    });
    group.finish();
}

criterion_group!(benches, engine);
criterion_main!(benches);
