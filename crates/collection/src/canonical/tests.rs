//! The canonical form against brute force and against published counts.

use std::collections::HashMap;
use std::sync::LazyLock;

use proptest::prelude::*;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyhouse_board::{Clues, Frame, Frame4, Frame9};
use tallyhouse_engine::unique_solution;
use tallyhouse_oracles::{Relabelling, Symmetry};

use super::search::least_image;
use super::{Canonical, canonical, class_key};
use crate::MinimalByDeletion;

/// The orders of automorphism groups of solved 9×9 boards, from a table of all 5,472,730,538 classes
/// that circulates in the trade, without a publication. Its counts give exactly the number of boards
/// of Felgenhauer & Jarvis, "Mathematics of Sudoku I", Mathematical Spectrum 39(1), 2006/7.
const ORDERS_OF_SOLVED_BOARDS: [u32; 16] =
    [1, 2, 3, 4, 6, 8, 9, 12, 18, 27, 36, 54, 72, 108, 162, 648];

/// Minimal puzzles and their solved boards.
static PUZZLES: LazyLock<Vec<[Clues<Frame9>; 2]>> = LazyLock::new(|| {
    let with_solution =
        |puzzle| [Clues::from(puzzle), Clues::from(&unique_solution(puzzle).unwrap())];
    MinimalByDeletion { seed: 3 }.puzzles(0..20).iter().map(with_solution).collect()
});

fn puzzle(index: usize) -> Clues<Frame9> {
    PUZZLES[index][0]
}

fn solved_board(index: usize) -> Clues<Frame9> {
    PUZZLES[index][1]
}

fn board<F: Frame>(value: impl Fn(usize, usize) -> usize) -> Clues<F> {
    (0..F::CELLS).fold(Clues::BLANK, |board, cell| {
        board.with(cell, value(cell / F::SIDE, cell % F::SIDE) as u8)
    })
}

/// The 9×9 board whose digits, read as pairs in base three, are sums of the four base-three digits of
/// row and column.
fn most_symmetric_board() -> Clues<Frame9> {
    board(|row, column| 3 * ((row % 3 + column / 3) % 3) + (row / 3 + column % 3) % 3 + 1)
}

fn shifted_board() -> Clues<Frame9> {
    board(|row, column| (3 * (row % 3) + row / 3 + column) % 9 + 1)
}

/// Some of the clues.
fn some_clues<F: Frame>(clues: &Clues<F>, count: usize, rng: &mut ChaCha8Rng) -> Clues<F> {
    let mut cells: Vec<usize> = (0..F::CELLS).collect();
    cells.shuffle(rng);
    cells[count..].iter().fold(*clues, |clues, &cell| clues.with(cell, 0))
}

/// Any values in some cells; houses may repeat digits.
fn wild_clues<F: Frame>(count: usize, digits: u8, rng: &mut ChaCha8Rng) -> Clues<F> {
    let full = (0..F::CELLS)
        .fold(Clues::BLANK, |clues, cell| clues.with(cell, rng.random_range(1..=digits)));
    some_clues(&full, count, rng)
}

fn random_image<F: Frame>(clues: &Clues<F>, rng: &mut ChaCha8Rng) -> Clues<F> {
    Relabelling::random(rng).apply(&Symmetry::random(rng).apply(clues))
}

/// The least image by trying all symmetries. Whatever the symmetry, the least relabelling numbers the
/// digits as they appear.
fn canonical_by_trying_all<F: Frame>(clues: &Clues<F>) -> Canonical<F> {
    let mut least = Canonical { form: *clues, automorphisms: 0 };
    for symmetry in Symmetry::all() {
        let image = symmetry.apply(clues);
        let image = Relabelling::by_first_appearance(&image).apply(&image);
        if image < least.form || least.automorphisms == 0 {
            least = Canonical { form: image, automorphisms: 0 };
        }
        least.automorphisms += u32::from(image == least.form);
    }
    least
}

/// Counts the symmetries under which cells that hold equal digits have images that hold equal digits.
fn automorphisms_by_trying_all(clues: &Clues<Frame9>) -> usize {
    let is_automorphism = |symmetry: &Symmetry<Frame9>| {
        let mut images = [None; 10];
        images[0] = Some(0);
        (0..81).all(|cell| {
            let image = clues.get(cell);
            let digit = clues.get(symmetry.origin(cell));
            *images[usize::from(digit)].get_or_insert(image) == image
        })
    };
    Symmetry::all().filter(is_automorphism).count()
}

/// How many orders of the digits there are that leave the digits of the clues alone.
fn idle_relabellings<F: Frame>(clues: &Clues<F>) -> u32 {
    let absent = (1..=F::SIDE as u8).filter(|digit| !clues.values().contains(digit)).count();
    (1..=absent as u32).product()
}

fn check_images<F: Frame>(clues: &Clues<F>, rng: &mut ChaCha8Rng) {
    let key = class_key(clues);
    assert_eq!(class_key(&random_image(clues, rng)), key);
    let canonical_form = canonical(clues);
    assert!(canonical_form.form <= *clues, "{clues}");
    assert_eq!(Symmetry::<F>::COUNT % canonical_form.automorphisms, 0, "{clues}");
    assert_eq!(canonical(&canonical_form.form), canonical_form, "{clues}");
    for _ in 0..4 {
        let image = random_image(clues, rng);
        assert_eq!(canonical(&image), canonical_form, "{clues} {image}");
    }
}

/// The cheap number tells apart all but a few clue sets, even near ones.
#[test]
fn clue_sets_that_differ_hardly_ever_share_their_number() {
    let puzzles = MinimalByDeletion { seed: 11 }.puzzles(0..3000);
    let near = puzzles.iter().flat_map(|puzzle| {
        let fewer = puzzle.givens().map(|(cell, _)| puzzle.without(cell));
        fewer.chain([*puzzle]).map(|puzzle| Clues::<Frame9>::from(&puzzle)).collect::<Vec<_>>()
    });
    let mut forms: HashMap<u64, Clues<Frame9>> = HashMap::new();
    let mut shared = 0;
    for clues in near {
        let form = canonical(&clues).form;
        shared += u32::from(*forms.entry(class_key(&clues)).or_insert(form) != form);
    }
    assert!(forms.len() > 70_000 && shared == 0, "{shared} among {}", forms.len());
}

#[test]
fn images_of_puzzles_and_boards_share_their_form() {
    let rng = &mut ChaCha8Rng::seed_from_u64(1);
    for index in 0..20 {
        check_images(&puzzle(index), rng);
        check_images(&solved_board(index), rng);
        assert!(ORDERS_OF_SOLVED_BOARDS.contains(&canonical(&solved_board(index)).automorphisms));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn images_of_clue_sets_share_their_form(
        index in 0usize..20, count in 0usize..=81, digits in 1u8..=9, seed in any::<u64>(),
    ) {
        let rng = &mut ChaCha8Rng::seed_from_u64(seed);
        let solved = solved_board(index);
        check_images(&some_clues(&solved, count, rng), rng);
        check_images(&some_clues(&solved, count / 4, rng), rng);
        check_images(&some_clues(&most_symmetric_board(), count, rng), rng);
        check_images(&wild_clues::<Frame9>(count, digits, rng), rng);
    }

    #[test]
    fn trying_all_symmetries_of_4x4_clue_sets_agrees(
        count in 0usize..=16, digits in 1u8..=4, seed in any::<u64>(),
    ) {
        let rng = &mut ChaCha8Rng::seed_from_u64(seed);
        let boards = [board_with_cycles(), board_of_pairs()];
        let clue_sets = [
            some_clues(&boards[0], count, rng),
            some_clues(&boards[1], count, rng),
            wild_clues::<Frame4>(count, digits, rng),
        ];
        for clues in &clue_sets {
            let found = canonical(clues);
            prop_assert_eq!(found, canonical_by_trying_all(clues), "{}", clues);
            // The whole group, relabellings of absent digits included: orbit × stabiliser.
            let mut images: Vec<_> = Symmetry::all()
                .map(|symmetry| symmetry.apply(clues))
                .flat_map(|image| Relabelling::all().map(move |other| other.apply(&image)))
                .collect();
            images.sort_unstable();
            prop_assert_eq!(images[0], found.form);
            images.dedup();
            let stabiliser = found.automorphisms * idle_relabellings(clues);
            prop_assert_eq!(images.len() as u32 * stabiliser, 128 * 24, "{}", clues);
        }
        // Equal forms, if and only if one is an image of the other.
        let [one, other, _] = clue_sets;
        let equivalent = Symmetry::all()
            .map(|symmetry| symmetry.apply(&one))
            .any(|image| Relabelling::all().any(|relabelling| relabelling.apply(&image) == other));
        prop_assert_eq!(canonical(&one).form == canonical(&other).form, equivalent);
    }
}

#[test]
#[ignore = "long: run with --include-ignored"]
fn trying_all_symmetries_of_9x9_clue_sets_agrees() {
    let rng = &mut ChaCha8Rng::seed_from_u64(2);
    let mut clue_sets = vec![puzzle(0), puzzle(1), solved_board(2), most_symmetric_board()];
    clue_sets.push(some_clues(&solved_board(3), 17, rng));
    clue_sets.push(some_clues(&solved_board(4), 45, rng));
    clue_sets.push(some_clues(&most_symmetric_board(), 9, rng));
    clue_sets.push(some_clues(&shifted_board(), 70, rng));
    clue_sets.push(wild_clues(30, 9, rng));
    clue_sets.push(wild_clues(60, 2, rng));
    for clues in &clue_sets {
        assert_eq!(canonical(clues), canonical_by_trying_all(clues), "{clues}");
    }
}

/// The orders for a blank board and for one clue follow from counting: all symmetries, and those that
/// fix a cell, of which there are 81.
#[test]
fn clue_sets_without_structure_have_countable_automorphisms() {
    let blank = canonical(&Clues::<Frame9>::BLANK);
    assert_eq!(blank, Canonical { form: Clues::BLANK, automorphisms: 3_359_232 });
    let one = canonical(&Clues::<Frame9>::BLANK.with(40, 7));
    assert_eq!(one, Canonical { form: Clues::BLANK.with(80, 1), automorphisms: 3_359_232 / 81 });
    let equal = canonical(&board::<Frame9>(|_, _| 5));
    assert_eq!(equal, Canonical { form: board(|_, _| 1), automorphisms: 3_359_232 });
}

#[test]
#[ignore = "long: run with --include-ignored"]
fn automorphisms_of_symmetric_boards_agree_with_trying_all() {
    let boards = [
        (most_symmetric_board(), Some(648)),
        (shifted_board(), None),
        (board(|row, column| (3 * row + row / 3 + column) % 9 + 1), None),
        (board(|row, column| (3 * row + 2 * (row / 3) + column) % 9 + 1), None),
        (board(|row, column| (3 * (row % 3 + column / 3) + row / 3 + column) % 9 + 1), None),
        (
            board(|row, column| {
                3 * ((row % 3 + column / 3) % 3) + (row / 3 + 2 * (row % 3) + column) % 3 + 1
            }),
            None,
        ),
        (solved_board(0), Some(1)),
    ];
    for (board, published) in boards {
        let found = canonical(&board).automorphisms;
        assert_eq!(found as usize, automorphisms_by_trying_all(&board), "{board}");
        assert!(ORDERS_OF_SOLVED_BOARDS.contains(&found), "{board} {found}");
        assert!(published.is_none_or(|published| published == found), "{board} {found}");
    }
}

/// Columns that nothing tells apart stay together, and equal lines are tried once: without that a
/// blank board alone would keep all 3,359,232 symmetries.
#[test]
fn few_partial_maps_are_kept() {
    let most_kept = |clues: &Clues<Frame9>| {
        let mut most = 0;
        least_image(clues, |kept| most = most.max(kept));
        most
    };
    // One for each direction of the board.
    assert_eq!(most_kept(&Clues::BLANK), 2);
    assert!(most_kept(&board(|_, _| 1)) <= 6);
    assert!(most_kept(&shifted_board()) <= 648);
    assert!(most_kept(&most_symmetric_board()) <= 648);
    // No line equals another, though any order of them will do: the most of all that were tried.
    assert!(most_kept(&board(|row, _| row + 1)) <= 3888);
    let rng = &mut ChaCha8Rng::seed_from_u64(4);
    for index in 0..20 {
        assert!(most_kept(&puzzle(index)) <= 18);
        assert!(most_kept(&solved_board(index)) <= 648);
    }
    for count in 0..=81 {
        assert!(most_kept(&some_clues(&solved_board(0), count, rng)) <= 648);
        assert!(most_kept(&some_clues(&most_symmetric_board(), count, rng)) <= 648);
        assert!(most_kept(&wild_clues(count, count as u8 % 9 + 1, rng)) <= 3888);
    }
}

fn board_with_cycles() -> Clues<Frame4> {
    board(|row, column| (2 * (row % 2) + row / 2 + column) % 4 + 1)
}

fn board_of_pairs() -> Clues<Frame4> {
    board(|row, column| 2 * ((row % 2) ^ (column / 2)) + ((row / 2) ^ (column % 2)) + 1)
}

/// All solved 4×4 boards.
fn solved_boards() -> Vec<Clues<Frame4>> {
    let mut boards = vec![Clues::<Frame4>::BLANK];
    for cell in 0..16 {
        let fits = |clues: &Clues<Frame4>, digit: u8| {
            (0..cell).all(|other| !Frame4::share_a_house(cell, other) || clues.get(other) != digit)
        };
        boards = boards
            .iter()
            .flat_map(|clues| (1..=4).map(move |digit| (clues, digit)))
            .filter(|&(clues, digit)| fits(clues, digit))
            .map(|(clues, digit)| clues.with(cell, digit))
            .collect();
    }
    boards
}

/// The clue sets of a 4×4 board, as sets of cells, that have exactly one solution and lose that
/// without any of their clues.
fn minimal_cell_sets(board: &Clues<Frame4>, all: &[Clues<Frame4>]) -> Vec<usize> {
    // A set of clues is no puzzle if another board agrees with it.
    let mut ambiguous = vec![false; 1 << 16];
    for other in all.iter().filter(|&other| other != board) {
        let agreeing = (0..16).filter(|&cell| other.get(cell) == board.get(cell));
        ambiguous[agreeing.fold(0, |cells, cell| cells | 1 << cell)] = true;
    }
    for cell in 0..16 {
        for cells in 0..1 << 16 {
            ambiguous[cells & !(1 << cell)] |= ambiguous[cells];
        }
    }
    let is_minimal = |&cells: &usize| {
        let mut fewer = (0..16).map(|cell| cells & !(1 << cell)).filter(|&fewer| fewer != cells);
        !ambiguous[cells] && fewer.all(|fewer| ambiguous[fewer])
    };
    (0..1 << 16).filter(is_minimal).collect()
}

/// 288 boards: OEIS A107739; two classes: L. Taalman, "Taking Sudoku Seriously", Math Horizons 15,
/// 2007, and Arnold, Lucas & Taalman, College Mathematics Journal 41(2), 2010. The sizes of the
/// classes were calculated.
#[test]
fn solved_4x4_boards_fall_into_two_classes() {
    let mut classes = HashMap::new();
    for board in solved_boards() {
        *classes.entry(canonical(&board)).or_insert(0) += 1;
    }
    let mut sizes: Vec<u32> = classes.values().copied().collect();
    sizes.sort_unstable();
    assert_eq!(sizes, [96, 192]);
    for (class, size) in classes {
        assert_eq!(size * class.automorphisms, 128 * 24);
    }
}

/// 36 classes of minimal puzzles: L. Taalman, "Taking Sudoku Seriously", Math Horizons 15, 2007 (cited
/// from memory); the counts of puzzles and classes by clues were calculated.
#[test]
fn minimal_4x4_puzzles_fall_into_the_published_classes() {
    let boards = solved_boards();
    let mut classes = HashMap::new();
    // Relabelling maps boards to boards, so one of 24 will do, and its puzzles are then relabelled.
    for board in boards.iter().filter(|board| board.values().starts_with(&[1, 2, 3, 4])) {
        for cells in minimal_cell_sets(board, &boards) {
            let outside = (0..16).filter(|&cell| cells >> cell & 1 == 0);
            let puzzle = outside.fold(*board, |puzzle, cell| puzzle.with(cell, 0));
            for relabelling in Relabelling::all() {
                *classes.entry(canonical(&relabelling.apply(&puzzle))).or_insert(0) += 1;
            }
        }
    }
    let mut by_clues = [(0, 0); 17];
    for (class, size) in classes {
        let stabiliser = class.automorphisms * idle_relabellings(&class.form);
        assert_eq!(size * stabiliser, 128 * 24, "{}", class.form);
        let (classes, puzzles) = &mut by_clues[class.form.count()];
        *classes += 1;
        *puzzles += size;
    }
    assert_eq!(by_clues[4..7], [(13, 25_728), (22, 58_368), (1, 1_536)]);
    assert_eq!(by_clues.iter().map(|&(classes, _)| classes).sum::<u32>(), 36);
    assert_eq!(by_clues.iter().map(|&(_, puzzles)| puzzles).sum::<u32>(), 85_632);
}
