//! The together walk does not depend on where things stand or what digits are called.
//!
//! Checked under random members of the board's symmetry group: transposition, bands and stacks
//! permuted, rows within bands and columns within stacks, 2·6⁸ of them, times 9! relabellings
//! (E. Russell & F. Jarvis, "Mathematics of Sudoku II", Mathematical Spectrum 39(2), 2006/7, 54–58).

use std::collections::BTreeMap;

use rand::RngExt;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{HouseKind, Puzzle};
use tallyhouse_engine::{
    AppliedLook, Order, Outcome, QuietPosition, Recorder, WalkOptions, Walked, walk,
};
use tallyhouse_oracles::brute_force::{Candidates, End};
use tallyhouse_oracles::{plain, positions};

/// Where each line goes and what each digit becomes.
#[derive(Clone, Debug)]
struct Symmetry {
    transpose: bool,
    rows: [usize; 9],
    columns: [usize; 9],
    digits: [u8; 10],
}

impl Symmetry {
    fn random(rng: &mut ChaCha8Rng) -> Self {
        let mut digits: [u8; 10] = std::array::from_fn(|digit| digit as u8);
        digits[1..].shuffle(rng);
        Self {
            transpose: rng.random_bool(0.5),
            rows: random_lines(rng),
            columns: random_lines(rng),
            digits,
        }
    }

    fn cell(&self, cell: usize) -> usize {
        let (row, column) = (cell / 9, cell % 9);
        let (row, column) = if self.transpose { (column, row) } else { (row, column) };
        self.rows[row] * 9 + self.columns[column]
    }

    fn values(&self, values: &[u8; 81]) -> [u8; 81] {
        let mut image = [0; 81];
        for cell in 0..81 {
            image[self.cell(cell)] = self.digits[usize::from(values[cell])];
        }
        image
    }

    fn candidates(&self, candidates: &Candidates) -> Candidates {
        let mut image: Candidates = std::array::from_fn(|_| None);
        for (cell, digits) in candidates.iter().enumerate() {
            image[self.cell(cell)] = digits.as_ref().map(|digits| {
                digits.iter().map(|&digit| self.digits[usize::from(digit)]).collect()
            });
        }
        image
    }

    const fn kind(&self, kind: HouseKind) -> HouseKind {
        match (self.transpose, kind) {
            (true, HouseKind::Row) => HouseKind::Column,
            (true, HouseKind::Column) => HouseKind::Row,
            _ => kind,
        }
    }
}

/// Returns the new place of each of nine lines: three bands permuted, lines within each too.
fn random_lines(rng: &mut ChaCha8Rng) -> [usize; 9] {
    let mut bands = [0, 1, 2];
    bands.shuffle(rng);
    let mut lines = [0; 9];
    for band in 0..3 {
        let mut within = [0, 1, 2];
        within.shuffle(rng);
        for line in 0..3 {
            lines[band * 3 + line] = bands[band] * 3 + within[line];
        }
    }
    lines
}

/// Subsets, proper ones, applied ones and eliminations.
type Tally = [usize; 4];

/// What a shape is counted by.
type Shape = (HouseKind, u8, u8, u8, u8);

/// All that is counted at one quiet position.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Counts {
    fixed_cells: u8,
    candidates_left: u16,
    exposure: [u8; 10],
    applied: Option<AppliedLook>,
    /// By house kind, open, naked, live open and live naked.
    shapes: BTreeMap<Shape, Tally>,
}

#[derive(Default)]
struct Counting(Vec<Counts>);

impl Recorder for Counting {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        let mut counts = Counts {
            fixed_cells: position.fixed_cells,
            candidates_left: position.candidates_left,
            exposure: position.exposure.all(),
            applied: Some(position.applied),
            shapes: BTreeMap::new(),
        };
        for s in position.subsets {
            let shape = (s.house.kind(), s.open, s.naked, s.live_open, s.live_naked);
            let tally = counts.shapes.entry(shape).or_default();
            tally[0] += 1;
            tally[1] += usize::from(s.is_proper());
            tally[2] += usize::from(s.applied);
            tally[3] += usize::from(s.eliminations);
        }
        self.0.push(counts);
    }
}

fn counted(puzzle: &Puzzle, options: &WalkOptions) -> (Walked, Vec<Counts>) {
    let mut counting = Counting::default();
    let result = walk(puzzle, options, &mut counting);
    (result, counting.0)
}

/// Sums over a walk by (open, naked): subsets, proper, applied, eliminations.
fn summed(counts: &[Counts]) -> BTreeMap<(u8, u8), Tally> {
    let mut sums: BTreeMap<(u8, u8), Tally> = BTreeMap::new();
    for (&(_, open, naked, ..), tally) in counts.iter().flat_map(|counts| &counts.shapes) {
        let sum = sums.entry((open, naked)).or_default();
        for (sum, more) in sum.iter_mut().zip(tally) {
            *sum += more;
        }
    }
    sums
}

fn assert_invariant(puzzle: &Puzzle, symmetry: &Symmetry, options: &WalkOptions) -> usize {
    let image = plain::puzzle(&symmetry.values(puzzle.values()));
    let (result, counts) = counted(puzzle, options);
    let (image_result, image_counts) = counted(&image, options);
    let context = format!("{puzzle} under {symmetry:?}");

    assert_eq!(result.end, image_result.end, "{context}");
    assert_eq!(summed(&counts), summed(&image_counts), "{context}");
    let moved: Vec<Counts> = counts
        .into_iter()
        .map(|mut counts| {
            let shapes = std::mem::take(&mut counts.shapes).into_iter();
            counts.shapes = shapes
                .map(|((kind, open, naked, live_open, live_naked), tally)| {
                    ((symmetry.kind(kind), open, naked, live_open, live_naked), tally)
                })
                .collect();
            counts
        })
        .collect();
    assert_eq!(moved, image_counts, "position by position, rows and columns exchanged: {context}");

    // Where a contradiction shows first is a matter of order; other ends are the same position.
    if result.end.outcome != Outcome::Contradiction {
        let (fixed, candidates) = plain::state(&result.position.states());
        let (image_fixed, image_candidates) = plain::state(&image_result.position.states());
        assert_eq!(symmetry.values(&fixed), image_fixed, "{context}");
        assert_eq!(symmetry.candidates(&candidates), image_candidates, "{context}");
    }
    moved.iter().map(|counts| counts.shapes.len()).sum()
}

#[test]
fn counts_survive_random_symmetries() {
    let (mut shapes, mut ends) = (0, BTreeMap::<End, usize>::new());
    for seed in 0..700 {
        let mut rng = positions::rng(6_000_000 + seed);
        let puzzle = match seed % 4 {
            0 => positions::altered_puzzle(&mut rng),
            1 => positions::loose_puzzle(&mut rng),
            _ => positions::valid_puzzle(23, &mut rng).0,
        };
        let symmetry = Symmetry::random(&mut rng);
        let ladder = WalkOptions::default();
        shapes += assert_invariant(&puzzle, &symmetry, &ladder);
        let end = walk(&puzzle, &ladder, &mut ()).end.outcome;
        *ends.entry(plain::end(end)).or_default() += 1;
        let order = Order::ladder().with_intersections();
        assert_invariant(&puzzle, &symmetry, &WalkOptions { order, ..ladder });
    }
    println!("{shapes} shapes; ends: {ends:?}");
    assert!(shapes > 1_000, "only {shapes} shapes");
    assert!(ends.len() == 3 && ends.values().all(|&count| count > 20), "{ends:?}");
}

/// Rulebooks with open ranges depend on the walk's course, but the together course itself is
/// still the same on every image of a puzzle.
#[test]
fn counts_under_open_ranges_survive_too() {
    let looks =
        ["naked 1", "hidden 1", "naked 2", "hidden 2 open 5..9", "naked 4 open 8..9", "naked 3"];
    let order = Order::new(looks.iter().map(|look| look.parse().unwrap()).collect()).unwrap();
    let options = WalkOptions { order, ..WalkOptions::default() };
    for seed in 0..300 {
        let mut rng = positions::rng(7_000_000 + seed);
        let puzzle = positions::valid_puzzle(23, &mut rng).0;
        assert_invariant(&puzzle, &Symmetry::random(&mut rng), &options);
    }
}

/// Transposition alone exchanges rows and columns, and leaves boxes boxes.
#[test]
fn transposition_exchanges_rows_and_columns() {
    let lines = std::array::from_fn(|line| line);
    let digits = std::array::from_fn(|digit| digit as u8);
    let transposition = Symmetry { transpose: true, rows: lines, columns: lines, digits };
    let by_kind = |puzzle: &Puzzle| {
        let mut kinds = BTreeMap::<HouseKind, usize>::new();
        for counts in counted(puzzle, &WalkOptions::default()).1 {
            for ((kind, ..), tally) in counts.shapes {
                *kinds.entry(kind).or_default() += tally[0];
            }
        }
        kinds
    };
    let mut uneven = 0;
    for seed in 0..200 {
        let puzzle = positions::valid_puzzle(23, &mut positions::rng(8_000_000 + seed)).0;
        let image = plain::puzzle(&transposition.values(puzzle.values()));
        let (kinds, image_kinds) = (by_kind(&puzzle), by_kind(&image));
        assert_eq!(kinds.get(&HouseKind::Row), image_kinds.get(&HouseKind::Column), "{puzzle}");
        assert_eq!(kinds.get(&HouseKind::Column), image_kinds.get(&HouseKind::Row), "{puzzle}");
        assert_eq!(kinds.get(&HouseKind::Box), image_kinds.get(&HouseKind::Box), "{puzzle}");
        uneven += usize::from(kinds.get(&HouseKind::Row) != kinds.get(&HouseKind::Column));
        assert_invariant(&puzzle, &transposition, &WalkOptions::default());
    }
    assert!(uneven > 50, "only {uneven} puzzles tell rows from columns");
}

/// The number of line permutations that keep bands together is 3!⁴ on each side; with transposition
/// 2·6⁸ = 3,359,232 (Russell & Jarvis 2006).
#[test]
fn random_lines_reach_the_whole_group() {
    let mut rng = positions::rng(9_000_000);
    let seen: std::collections::BTreeSet<[usize; 9]> =
        (0..40_000).map(|_| random_lines(&mut rng)).collect();
    assert_eq!(seen.len(), 6usize.pow(4));
    assert_eq!(2 * seen.len() * seen.len(), 3_359_232);
}
