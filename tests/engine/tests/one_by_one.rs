//! The one-by-one course and the soundness of looks.
//!
//! Singles and subsets only ever take away what no solution has, and what one find takes away never
//! spoils another. So the full ladder without open ranges ends at one position whatever the course
//! (a least fixpoint of monotone steps; elementary), and no look in any order may remove a candidate
//! that is part of some solution (Hall sets: P. Hall, J. London Math. Soc. 10, 1935, 26–30;
//! box–line intersections: common practice, no source).

use std::collections::BTreeSet;

use rand::RngExt;
use rand::seq::{IndexedRandom, SliceRandom};
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Cell, Digit, House, Puzzle};
use tallyhouse_engine::{
    AppliedLook, Contradiction, Course, Find, HouseSplits, Look, OpenCounts, Order, Outcome,
    Position, QuietPosition, Recorder, Size, Step, WalkOptions, WhenStuck, next_step, walk,
};
use tallyhouse_oracles::positions::Values;
use tallyhouse_oracles::solutions::solutions;
use tallyhouse_oracles::{plain, positions};

/// Keeps all steps and the flags of the quiet positions.
#[derive(Default)]
struct Steps {
    steps: Vec<(Position, Step)>,
    /// For each quiet position: what is applied and how many subsets are flagged for it.
    quiet: Vec<(AppliedLook, usize)>,
    given_before: Vec<u8>,
}

impl Recorder for Steps {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        let flagged = position.subsets.iter().filter(|subset| subset.applied).count();
        self.quiet.push((position.applied, flagged));
        self.given_before.push(position.given_digits);
    }

    fn step(&mut self, before: &Position, step: &Step) {
        self.steps.push((before.clone(), step.clone()));
    }
}

fn random_houses(rng: &mut ChaCha8Rng) -> Vec<House> {
    let mut houses: Vec<House> = House::all().collect();
    houses.shuffle(rng);
    houses
}

fn options(order: Order, course: Course) -> WalkOptions {
    WalkOptions { order, course, when_stuck: WhenStuck::Stop }
}

/// Returns some looks in random order, some with open ranges, intersections among them.
fn random_order(rng: &mut ChaCha8Rng) -> Order {
    let mut looks = vec![Look::Intersections];
    for _ in 0..rng.random_range(3..14) {
        let most = rng.random_range(2..=9);
        let narrow = OpenCounts::new(rng.random_range(1..=most), most).unwrap();
        let range = if rng.random_bool(0.5) { narrow } else { OpenCounts::ALL };
        let Ok(size) = Size::within(rng.random_range(1..=8), range) else { continue };
        let look = if rng.random_bool(0.5) { Look::Naked(size) } else { Look::Hidden(size) };
        if !looks.contains(&look) {
            looks.push(look);
        }
    }
    looks.shuffle(rng);
    Order::new(looks).unwrap()
}

fn random_puzzle(seed: u64, rng: &mut ChaCha8Rng) -> Puzzle {
    match seed % 4 {
        0 => positions::altered_puzzle(rng),
        1 => positions::loose_puzzle(rng),
        _ => positions::valid_puzzle(23, rng).0,
    }
}

/// Tests if a look finds anything in a house, from what the parts of the engine say.
fn finds_in(position: &Position, look: Look, house: House) -> bool {
    match look {
        Look::Naked(size) if size.get() == 1 => {
            tallyhouse_engine::naked_singles(position, house, size).next().is_some()
        }
        Look::Hidden(size) if size.get() == 1 => {
            tallyhouse_engine::hidden_singles(position, house, size).next().is_some()
        }
        Look::Intersections => tallyhouse_engine::intersections(position, house).next().is_some(),
        _ => HouseSplits::of_house(position, house)
            .unwrap()
            .subsets(house)
            .any(|subset| look.finds(&subset)),
    }
}

#[test]
fn both_courses_reach_the_same_end() {
    let mut ends = [0; 3];
    for seed in 0..600 {
        let mut rng = positions::rng(20_000_000 + seed);
        let puzzle = random_puzzle(seed, &mut rng);
        for order in [Order::ladder(), Order::ladder().with_intersections()] {
            let together = walk(&puzzle, &options(order.clone(), Course::Together), &mut ());
            let course = Course::OneByOne(random_houses(&mut rng));
            let single = walk(&puzzle, &options(order, course), &mut ());
            let (end, single_end) =
                (plain::end(together.end.outcome), plain::end(single.end.outcome));
            assert_eq!(end, single_end, "{puzzle}");
            ends[end as usize] += 1;
            if together.end.outcome != Outcome::Contradiction {
                assert_eq!(together.position, single.position, "{puzzle}");
            }
        }
    }
    println!("solved, stuck, contradiction: {ends:?}");
    assert!(ends.iter().all(|&count| count > 50), "{ends:?}");
}

#[test]
fn each_step_is_the_first_find_of_its_look() {
    let (mut subsets, mut steps_seen) = (0, 0);
    for seed in 0..250 {
        let mut rng = positions::rng(21_000_000 + seed);
        let puzzle = random_puzzle(seed, &mut rng);
        let houses = random_houses(&mut rng);
        let order = match seed % 3 {
            0 => Order::ladder(),
            1 => Order::ladder().with_intersections(),
            _ => random_order(&mut rng),
        };
        let options = options(order.clone(), Course::OneByOne(houses.clone()));
        let mut recorded = Steps::default();
        walk(&puzzle, &options, &mut recorded);
        for (before, step) in &recorded.steps {
            steps_seen += 1;
            let (index, look) = step.look.unwrap();
            assert_eq!(order.looks()[index], look);
            let [find] = &step.finds[..] else { panic!("one find a step: {step:?}") };
            assert_eq!(next_step(before, &options).unwrap().as_ref(), Some(step), "{puzzle}");
            // No earlier look finds anything anywhere.
            for &earlier in &order.looks()[..index] {
                assert!(!houses.iter().any(|&house| finds_in(before, earlier, house)), "{puzzle}");
            }
            let house = match find {
                Find::NakedSingle(single) | Find::HiddenSingle(single) => single.house,
                Find::Intersection(found) => found.confined,
                Find::Subset(subset) => {
                    subsets += 1;
                    assert!(look.finds(subset), "{look} does not find {subset:?}");
                    assert!(subset.applied);
                    let splits = HouseSplits::of_house(before, subset.house).unwrap();
                    let mut same = splits.subsets(subset.house);
                    assert!(same.any(|s| s.cells == subset.cells && s.digits == subset.digits));
                    let gone: usize = find
                        .removals()
                        .into_iter()
                        .map(|(cell, digits)| (before.candidates(cell) & digits).len())
                        .sum();
                    assert_eq!(gone, usize::from(subset.eliminations), "{subset:?}");
                    // Naked sides come in the order of their cells, hidden sides of their digits.
                    let missing = before.missing(subset.house);
                    let key = |s: &tallyhouse_engine::Subset| -> Vec<usize> {
                        match look {
                            Look::Naked(_) => s.cells.iter().collect(),
                            _ => (missing - s.digits).iter().map(|digit| digit.index()).collect(),
                        }
                    };
                    let found = splits.subsets(subset.house).filter(|s| look.finds(s));
                    assert_eq!(found.map(|s| key(&s)).min(), Some(key(subset)));
                    subset.house
                }
                Find::Given { .. } => panic!("nothing is given in this walk"),
            };
            // Nor does this look in an earlier house.
            let first = houses.iter().find(|&&house| finds_in(before, look, house));
            assert_eq!(first, Some(&house), "{look} in {puzzle}");
        }
        for &(applied, flagged) in &recorded.quiet {
            let is_subset_look = match applied {
                AppliedLook::Look(index) => order.looks()[index] != Look::Intersections,
                AppliedLook::Given | AppliedLook::Nothing => false,
            };
            assert_eq!(flagged, usize::from(is_subset_look), "{puzzle}");
        }
    }
    println!("{steps_seen} steps, {subsets} subsets");
    assert!(subsets > 300 && steps_seen > 5_000);
}

/// Where a house offers several finds, naked sides come in the order of their cells and hidden sides
/// in that of their digits.
#[test]
fn the_first_of_several_finds_is_taken() {
    let mut several = 0;
    for seed in 0..1_500 {
        let position = positions::position(&mut positions::rng(27_000_000 + seed));
        for look in (2..=4).flat_map(|size| [Look::naked(size), Look::hidden(size)]) {
            let look = look.unwrap();
            for house in House::all() {
                let order = Order::new(vec![look]).unwrap();
                let options = options(order, Course::OneByOne(vec![house]));
                let splits = HouseSplits::of_house(&position, house).unwrap();
                let missing = position.missing(house);
                let mut keys: Vec<(Vec<usize>, _)> = splits
                    .subsets(house)
                    .filter(|subset| look.finds(subset))
                    .map(|subset| match look {
                        Look::Naked(_) => (subset.cells.iter().collect(), subset.cells),
                        _ => {
                            let hidden = missing - subset.digits;
                            (hidden.iter().map(|digit| digit.index()).collect(), subset.cells)
                        }
                    })
                    .collect();
                keys.sort();
                several += usize::from(keys.len() > 1);
                let step = next_step(&position, &options).unwrap();
                let taken = step.map(|step| match step.finds[..] {
                    [Find::Subset(subset)] => subset.cells,
                    _ => panic!("one subset at a time: {step:?}"),
                });
                assert_eq!(taken, keys.first().map(|(_, cells)| *cells), "{look} in {house}");
            }
        }
    }
    assert!(several >= 15, "only {several} choices");
}

#[test]
fn each_step_together_is_every_find_of_its_look() {
    for seed in 0..150 {
        let mut rng = positions::rng(22_000_000 + seed);
        let puzzle = random_puzzle(seed, &mut rng);
        let order = if seed % 2 == 0 { Order::ladder() } else { random_order(&mut rng) };
        let mut recorded = Steps::default();
        walk(&puzzle, &options(order.clone(), Course::Together), &mut recorded);
        for (before, step) in &recorded.steps {
            let (index, look) = step.look.unwrap();
            for &earlier in &order.looks()[..index] {
                assert!(!House::all().any(|house| finds_in(before, earlier, house)), "{puzzle}");
            }
            // After the step, what could be seen before is gone: each find took effect.
            let mut after = before.clone();
            if step.apply(&mut after).is_err() || look.is_single() || look == Look::Intersections {
                continue;
            }
            let found: usize = House::all()
                .map(|house| {
                    let splits = HouseSplits::of_house(before, house).unwrap();
                    splits.subsets(house).filter(|subset| look.finds(subset)).count()
                })
                .sum();
            assert_eq!(step.finds.len(), found, "{puzzle}");
            for find in &step.finds {
                for (cell, digits) in find.removals() {
                    assert!((after.candidates(cell) & digits).is_empty());
                }
            }
        }
    }
}

#[test]
fn given_digits_lead_to_the_only_solution() {
    let (mut given, mut several) = (0, 0);
    for seed in 0..400 {
        let mut rng = positions::rng(23_000_000 + seed);
        let puzzle = if seed % 4 == 0 {
            positions::loose_puzzle(&mut rng)
        } else {
            positions::valid_puzzle(22, &mut rng).0
        };
        let known = solutions(&puzzle, 2);
        for course in [Course::Together, Course::OneByOne(random_houses(&mut rng))] {
            let plainly = options(Order::ladder(), course);
            let stuck = walk(&puzzle, &plainly, &mut ());
            let helped = WalkOptions { when_stuck: WhenStuck::GiveDigit, ..plainly };
            let mut recorded = Steps::default();
            let result = walk(&puzzle, &helped, &mut recorded);
            let [only] = &known[..] else {
                // Without a proof that there is one solution, no digit is anybody's to give.
                assert_eq!(result, stuck, "{puzzle}");
                several += 1;
                continue;
            };
            assert_eq!(result.end.outcome, Outcome::Solved, "{puzzle}");
            let given_digits = result.end.given_digits;
            assert_eq!(given_digits > 0, stuck.end.outcome == Outcome::Stuck, "{puzzle}");
            let end: Values = Cell::all()
                .map(|c| result.position.fixed(c).unwrap().value())
                .collect::<Vec<_>>()
                .try_into()
                .unwrap();
            assert_eq!(&end, only.values(), "{puzzle}");
            let mut so_far = 0;
            for (before, step) in &recorded.steps {
                let is_given = step.look.is_none();
                assert_eq!(is_given, next_step(before, &plainly_of(&helped)).unwrap().is_none());
                if !is_given {
                    continue;
                }
                so_far += 1;
                let [Find::Given { cell, digit }] = step.finds[..] else {
                    panic!("one digit is given at a time: {step:?}")
                };
                assert_eq!(end[cell.index()], digit.value());
                let count = |cell: Cell| before.candidates(cell).len();
                let fewest = before.open_cells().iter().map(count).min().unwrap();
                let first = before.open_cells().iter().find(|&cell| count(cell) == fewest);
                assert_eq!(first, Some(cell), "{puzzle}");
            }
            assert_eq!(so_far, given_digits);
            assert!(recorded.given_before.is_sorted());
            let given_here =
                recorded.quiet.iter().filter(|(a, _)| *a == AppliedLook::Given).count();
            assert_eq!(given_here, usize::from(given_digits));
            given += given_here;
        }
    }
    println!("{given} digits given; {several} puzzles with several solutions");
    assert!(given > 300 && several > 30);
}

fn plainly_of(options: &WalkOptions) -> WalkOptions {
    WalkOptions { when_stuck: WhenStuck::Stop, ..options.clone() }
}

/// A puzzle without a solution has no digit to give; the walk still ends.
#[test]
fn nothing_is_given_without_a_solution() {
    let (mut stuck, mut broken) = (0, 0);
    for seed in 0..400 {
        let mut rng = positions::rng(24_000_000 + seed);
        let (puzzle, board) = positions::valid_puzzle(22, &mut rng);
        let end = walk(&puzzle, &WalkOptions::default(), &mut ()).position;
        // A wrong candidate that the ladder cannot refute is made a given.
        let wrong = |cell: Cell| {
            let own = Digit::new(board[cell.index()]).unwrap();
            end.candidates(cell).without(own).iter().map(move |digit| (cell, digit))
        };
        let wrong: Vec<_> = end.open_cells().iter().flat_map(wrong).collect();
        let Some(&(cell, digit)) = wrong.choose(&mut rng) else { continue };
        let mut values = *puzzle.values();
        values[cell.index()] = digit.value();
        let puzzle = plain::puzzle(&values);
        assert!(solutions(&puzzle, 1).is_empty(), "{puzzle}");
        broken += 1;
        let options = WalkOptions { when_stuck: WhenStuck::GiveDigit, ..WalkOptions::default() };
        let result = walk(&puzzle, &options, &mut ()).end;
        assert_eq!(result.given_digits, 0, "{puzzle}");
        assert_ne!(result.outcome, Outcome::Solved, "{puzzle}");
        stuck += usize::from(result.outcome == Outcome::Stuck);
    }
    println!("{broken} broken puzzles, {stuck} of them stuck");
    assert!(broken > 100 && stuck > 10, "{broken}, {stuck}");
}

/// Walks with random orders of looks and checks every step against all solutions.
fn assert_sound(
    puzzle: &Puzzle,
    all: &[Puzzle],
    rng: &mut ChaCha8Rng,
) -> Result<usize, Contradiction> {
    let mut steps = 0;
    for _ in 0..4 {
        let course = if rng.random_bool(0.5) {
            Course::Together
        } else {
            Course::OneByOne(random_houses(rng))
        };
        let options = options(random_order(rng), course);
        let mut recorded = Steps::default();
        let result = walk(puzzle, &options, &mut recorded);
        assert_ne!(result.end.outcome, Outcome::Contradiction, "{puzzle}: {result:?}");
        for (before, step) in &recorded.steps {
            for find in &step.finds {
                if let Some((cell, digit)) = find.placement() {
                    let holds = |solution: &Puzzle| solution.get(cell) == Some(digit);
                    assert!(all.iter().all(holds), "{puzzle}: {find:?} at {before:?}");
                }
                for (cell, digits) in find.removals() {
                    let gone = before.candidates(cell) & digits;
                    let lost =
                        all.iter().any(|solution| gone.contains(solution.get(cell).unwrap()));
                    assert!(!lost, "{puzzle}: {find:?} at {before:?}");
                }
            }
            steps += 1;
            // A step that finds something changes something.
            let mut after = before.clone();
            step.apply(&mut after)?;
            assert_ne!(&after, before, "{puzzle}: {step:?}");
        }
        for cell in Cell::all() {
            for digit in all.iter().filter_map(|solution| solution.get(cell)) {
                let fits = result.position.fixed(cell) == Some(digit)
                    || result.position.candidates(cell).contains(digit);
                assert!(fits, "{puzzle}: {cell} lost {digit}");
            }
        }
    }
    Ok(steps)
}

#[test]
fn no_look_removes_a_digit_of_the_solution() {
    let mut steps = 0;
    for seed in 0..400 {
        let mut rng = positions::rng(25_000_000 + seed);
        let (puzzle, board) = positions::valid_puzzle(23, &mut rng);
        steps += assert_sound(&puzzle, &[plain::puzzle(&board)], &mut rng).unwrap();
    }
    println!("{steps} steps");
    assert!(steps > 5_000);
}

#[test]
fn no_look_removes_a_digit_of_any_solution() {
    const MOST: u32 = 400;
    let (mut steps, mut puzzles) = (0, 0);
    for seed in 0..1_000 {
        let mut rng = positions::rng(26_000_000 + seed);
        let puzzle = positions::loose_puzzle(&mut rng);
        let all = solutions(&puzzle, MOST);
        if all.len() < 2 || all.len() == MOST as usize {
            continue;
        }
        let distinct: BTreeSet<_> = all.iter().collect();
        assert_eq!(distinct.len(), all.len(), "{puzzle}");
        puzzles += 1;
        steps += assert_sound(&puzzle, &all, &mut rng).unwrap();
    }
    println!("{puzzles} puzzles, {steps} steps");
    assert!(puzzles > 100 && steps > 1_000);
}
