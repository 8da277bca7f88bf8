//! The engine against the brute-force reference, field by field.

use std::collections::BTreeSet;

use proptest::prelude::*;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_board::{House, Puzzle};
use tallyhouse_collection::MinimalByDeletion;
use tallyhouse_engine::{
    HouseSplits, Outcome, Position, QuietPosition, Recorder, Subset, WalkOptions, walk,
};
use tallyhouse_tests::brute_force::{PlainSubset, subsets_of_house, tight_sets, together_walk};
use tallyhouse_tests::positions::{plain, position, rng, sparse_puzzle};

fn as_plain(subset: &Subset) -> PlainSubset {
    assert_eq!(subset.hidden(), subset.open - subset.naked);
    assert_eq!(subset.live_hidden(), subset.live_open - subset.live_naked);
    assert_eq!(usize::from(subset.naked), subset.cells.len());
    PlainSubset {
        house: subset.house.index(),
        open: subset.open.into(),
        cells: subset.cells.iter().map(|place| subset.house.cells()[place].index()).collect(),
        digits: subset.digits.iter().map(|digit| digit.value()).collect(),
        eliminations: subset.eliminations.into(),
        naked_proper: subset.naked_proper,
        hidden_proper: subset.hidden_proper,
        live_open: subset.live_open.into(),
        live_naked: subset.live_naked.into(),
    }
}

fn compare_position(position: &Position) {
    let board = plain(position);
    for house in House::all() {
        let splits = HouseSplits::of_house(position, house).unwrap();
        let tight: BTreeSet<BTreeSet<usize>> = splits
            .tight_sets
            .iter()
            .map(|set| set.cells.iter().map(|place| house.cells()[place].index()).collect())
            .collect();
        let expected: BTreeSet<_> = tight_sets(&board, house.index()).into_iter().collect();
        assert_eq!(tight, expected, "{house} of {position:?}");
        let mut found: Vec<_> = splits.subsets(house).map(|subset| as_plain(&subset)).collect();
        let mut expected = subsets_of_house(&board, house.index());
        found.sort();
        expected.sort();
        assert_eq!(found, expected, "{house} of {position:?}");
    }
}

#[test]
fn ten_thousand_random_positions_agree() {
    let productive: usize = (0..10_000u64)
        .into_par_iter()
        .map(|case| {
            let position = position(&mut rng(1, case));
            compare_position(&position);
            House::all()
                .map(|house| {
                    HouseSplits::of_house(&position, house).unwrap().subsets(house).count()
                })
                .sum::<usize>()
        })
        .sum();
    // The cases are worth something only if they hold subsets.
    assert!(productive > 50_000, "{productive}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_position_agrees(seed in any::<u64>()) {
        compare_position(&position(&mut rng(seed, 0)));
    }
}

#[derive(Default)]
struct Quiet {
    subsets: Vec<(PlainSubset, bool)>,
    exposure: [usize; 10],
    candidates_left: usize,
    fixed_cells: usize,
}

#[derive(Default)]
struct Gather(Vec<Quiet>);

impl Recorder for Gather {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        assert_eq!(usize::from(position.number), self.0.len());
        self.0.push(Quiet {
            subsets: position.subsets.iter().map(|s| (as_plain(s), s.applied)).collect(),
            exposure: position.exposure.map(usize::from),
            candidates_left: position.candidates_left.into(),
            fixed_cells: position.fixed_cells.into(),
        });
    }
}

fn compare_walk(puzzle: &Puzzle) -> usize {
    let mut gathered = Gather::default();
    let result = walk(puzzle, &WalkOptions::default(), &mut gathered);
    let expected = together_walk(puzzle.values());
    let Some((expected, solved)) = expected else {
        assert!(matches!(result.outcome, Outcome::Contradiction(_)), "{puzzle}");
        return 0;
    };
    assert_eq!(result.outcome, if solved { Outcome::Solved } else { Outcome::Stuck }, "{puzzle}");
    assert_eq!(usize::from(result.quiet_positions), expected.len(), "{puzzle}");
    for (found, expected) in gathered.0.iter_mut().zip(expected) {
        found.subsets.sort();
        let mut subsets = expected.subsets;
        subsets.sort();
        assert_eq!(found.subsets, subsets, "{puzzle}");
        assert_eq!(found.exposure, expected.exposure, "{puzzle}");
        assert_eq!(found.candidates_left, expected.candidates_left, "{puzzle}");
        assert_eq!(found.fixed_cells, expected.fixed_cells, "{puzzle}");
    }
    result.quiet_positions.into()
}

#[test]
fn walks_agree_step_by_step() {
    let minimal = MinimalByDeletion { seed: 11 };
    let of_minimal: usize = (0..400).map(|index| compare_walk(&minimal.puzzle(index))).sum();
    let of_sparse: usize =
        (0..400).map(|case| compare_walk(&sparse_puzzle(&mut rng(2, case)))).sum();
    assert!(of_minimal > 300 && of_sparse > 300, "{of_minimal} {of_sparse}");
}
