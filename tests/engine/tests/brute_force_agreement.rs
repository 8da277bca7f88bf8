//! The engine's subsets and together walks against the brute-force reference, field by field.
//!
//! The law checked is the glossary's own: tight set, subset, proper, settled block, quiet position,
//! exposure and the together walk mean what the definitions say.

use std::collections::BTreeMap;

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use rand::RngExt;
use tallyhouse_board::{House, HouseKind, Puzzle};
use tallyhouse_engine::{
    AppliedLook, HouseSplits, Position, QuietPosition, Recorder, WalkOptions, walk,
};
use tallyhouse_oracles::brute_force::{self, Found, Quiet};
use tallyhouse_oracles::{plain, positions};

/// Returns every subset of a position by the engine, `None` if a house cannot be filled.
fn engine_subsets(position: &Position) -> Option<Vec<Found>> {
    let mut all = Vec::new();
    for house in House::all() {
        let splits = HouseSplits::of_house(position, house).ok()?;
        all.extend(splits.subsets(house).map(|subset| plain::found(&subset)));
    }
    Some(all)
}

fn by_cells(found: Vec<Found>) -> BTreeMap<(usize, Vec<usize>), Found> {
    let count = found.len();
    let key = |found: &Found| (found.house, found.tight.cells.iter().copied().collect());
    let map: BTreeMap<_, _> = found.into_iter().map(|found| (key(&found), found)).collect();
    assert_eq!(map.len(), count, "no subset is told twice");
    map
}

fn assert_same_subsets(position: &Position) -> usize {
    let expected = brute_force::subsets(&plain::candidates(position));
    let found = engine_subsets(position);
    let count = found.as_ref().map_or(0, Vec::len);
    assert_eq!(found.map(by_cells), expected.map(by_cells), "{position:?}");
    count
}

#[derive(Default)]
struct Collected {
    quiet: Vec<Quiet>,
}

impl Recorder for Collected {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        assert_eq!(usize::from(position.number), self.quiet.len());
        assert_eq!(position.given_digits, 0);
        let (fixed, candidates) = plain::state(&(position.states)());
        let fixed_cells = fixed.iter().filter(|&&digit| digit != 0).count();
        assert_eq!(usize::from(position.fixed_cells), fixed_cells);
        let left: usize = candidates.iter().flatten().map(|digits| digits.len()).sum();
        assert_eq!(usize::from(position.candidates_left), left);
        self.quiet.push(Quiet {
            fixed,
            candidates,
            exposure: HouseKind::ALL.map(|kind| position.exposure.of_kind(kind).map(usize::from)),
            subsets: position.subsets.iter().map(plain::found).collect(),
            look: match position.applied {
                AppliedLook::Look(index) => Some(index),
                AppliedLook::Given => panic!("nothing is given in this walk"),
                AppliedLook::Nothing => None,
            },
        });
    }
}

/// Compares a whole walk; returns the number of quiet positions and of subsets in them.
fn assert_same_walk(puzzle: &Puzzle) -> (usize, usize) {
    let expected = brute_force::walk(puzzle.values());
    let mut collected = Collected::default();
    let result = walk(puzzle, &WalkOptions::default(), &mut collected).end;
    assert_eq!(plain::end(result.outcome), expected.end, "{puzzle}");
    assert_eq!(result.hardest, expected.hardest, "{puzzle}");
    assert_eq!(usize::from(result.quiet_positions), expected.quiet.len(), "{puzzle}");
    assert_eq!(collected.quiet.len(), expected.quiet.len(), "{puzzle}");
    let mut subsets = 0;
    for (found, expected) in collected.quiet.into_iter().zip(expected.quiet) {
        subsets += found.subsets.len();
        let (found_subsets, expected_subsets) =
            (by_cells(found.subsets), by_cells(expected.subsets));
        assert_eq!(found_subsets, expected_subsets, "{puzzle}");
        assert_eq!(found.fixed, expected.fixed, "{puzzle}");
        assert_eq!(found.candidates, expected.candidates, "{puzzle}");
        assert_eq!((found.exposure, found.look), (expected.exposure, expected.look), "{puzzle}");
    }
    (result.quiet_positions.into(), subsets)
}

#[test]
fn ladder_and_reference_name_the_same_looks() {
    let order = tallyhouse_engine::Order::ladder();
    let looks: Vec<String> = order.looks().iter().map(ToString::to_string).collect();
    assert_eq!(looks, brute_force::LADDER);
}

/// Random positions and walks, at least 10,000 positions between them.
#[test]
fn seeded_positions_and_walks_agree() {
    let (mut positions_seen, mut subsets_seen, mut quiet_seen) = (0usize, 0usize, 0usize);
    for seed in 0..8_000 {
        subsets_seen += assert_same_subsets(&positions::position(&mut positions::rng(seed)));
        positions_seen += 1;
    }
    for seed in 0..1_500 {
        let mut rng = positions::rng(1_000_000 + seed);
        let puzzle = match seed % 4 {
            0 => positions::valid_puzzle(24, &mut rng).0,
            1 => positions::altered_puzzle(&mut rng),
            _ => positions::loose_puzzle(&mut rng),
        };
        let (quiet, subsets) = assert_same_walk(&puzzle);
        quiet_seen += quiet;
        subsets_seen += subsets;
    }
    println!("{positions_seen} random, {quiet_seen} quiet positions, {subsets_seen} subsets");
    assert!(positions_seen + quiet_seen >= 10_000, "{positions_seen} + {quiet_seen}");
    assert!(subsets_seen > 100_000, "only {subsets_seen} subsets were compared");
}

#[test]
fn crowded_houses_agree() {
    // Any candidate may go here, the solution's too, so that many houses cannot be filled.
    let mut refused = 0;
    for seed in 0..1_500 {
        let mut rng = positions::rng(2_000_000 + seed);
        let mut position = positions::position(&mut rng);
        for cell in position.open_cells().iter().collect::<Vec<_>>() {
            let gone = tallyhouse_board::DigitSet::from_bits_truncate(rng.random_range(0..512));
            if rng.random_bool(0.3) {
                position.remove(cell, gone);
            }
        }
        for house in House::all() {
            let expected =
                brute_force::subsets_of_house(&plain::candidates(&position), house.index());
            let splits = HouseSplits::of_house(&position, house).ok();
            let found: Option<Vec<Found>> = splits
                .map(|splits| splits.subsets(house).map(|subset| plain::found(&subset)).collect());
            refused += usize::from(found.is_none());
            assert_eq!(found.map(by_cells), expected.map(by_cells), "{house} of {position:?}");
        }
    }
    assert!(refused > 1_000, "only {refused} houses could not be filled");
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 1_500,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(20_120_101),
        ..ProptestConfig::default()
    })]

    /// A failure is cut down to few open cells with few candidates.
    #[test]
    fn shrinkable_positions_agree(
        board in (0..200u64).no_shrink(),
        open in prop::collection::vec(prop::bool::weighted(0.55), 81),
        extra in prop::collection::vec((0..512u16, 0..512u16), 81),
    ) {
        let board = positions::solved_board(&mut positions::rng(board));
        let fixed: Vec<bool> = open.iter().map(|open| !open).collect();
        let extra: Vec<u16> = extra.iter().map(|(a, b)| a & b).collect();
        assert_same_subsets(&positions::position_of(&board, &fixed, &extra));
    }

    /// A failure is cut down to few clues.
    #[test]
    fn shrinkable_walks_agree(
        board in (0..200u64).no_shrink(),
        clue in prop::collection::vec(prop::bool::weighted(0.36), 81),
    ) {
        let board = positions::solved_board(&mut positions::rng(board));
        let values = std::array::from_fn(|cell| if clue[cell] { board[cell] } else { 0 });
        assert_same_walk(&plain::puzzle(&values));
    }
}
