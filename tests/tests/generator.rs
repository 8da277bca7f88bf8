//! The generator of minimal puzzles.

use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_collection::{MinimalByDeletion, is_minimal, validity};
use tallyhouse_engine::solutions;

#[test]
fn every_puzzle_is_valid_and_needs_each_of_its_clues() {
    let generator = MinimalByDeletion { seed: 41 };
    (0..300u64).into_par_iter().for_each(|index| {
        let puzzle = generator.puzzle(index);
        assert_eq!(validity(&puzzle), Ok(()), "{puzzle}");
        // Not by the question the generator itself asks, but by counting.
        for (cell, _) in puzzle.givens() {
            assert_eq!(solutions(&puzzle.without(cell), 2).len(), 2, "{puzzle} without {cell}");
        }
        assert!(is_minimal(&puzzle));
    });
}

#[test]
#[ignore = "long: run with --include-ignored"]
fn clue_counts_agree_with_the_published_mean_for_random_deletion() {
    // D. Berthier, "Unbiased Statistics of a Constraint Satisfaction Problem – a Controlled-Bias
    // Generator", CISSE 2009, doi 10.1007/978-90-481-9112-3_16 and its author's supplement: top-down
    // generation of 1,000,000 puzzles, mean 24.38, standard deviation 1.12.
    const COUNT: u64 = 40_000;
    let generator = MinimalByDeletion { seed: 42 };
    let (sum, squares) = (0..COUNT)
        .into_par_iter()
        .map(|index| {
            let puzzle = generator.puzzle(index);
            assert_eq!(validity(&puzzle), Ok(()), "{puzzle}");
            assert!(is_minimal(&puzzle), "{puzzle}");
            let clues = puzzle.clues() as u64;
            (clues, clues * clues)
        })
        .reduce(|| (0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
    let n = COUNT as f64;
    let mean = sum as f64 / n;
    let deviation = ((squares as f64 - n * mean * mean) / (n - 1.0)).sqrt();
    // Three standard errors, and half a unit of the last published digit.
    let error_of_mean = 3.0 * 1.12 / n.sqrt() + 0.005;
    assert!((mean - 24.38).abs() < error_of_mean, "mean {mean}");
    // The standard error of a standard deviation is about sd/√(2n).
    let error_of_deviation = 3.0 * 1.12 / (2.0 * n).sqrt() + 0.005;
    assert!((deviation - 1.12).abs() < error_of_deviation, "standard deviation {deviation}");
    println!("mean {mean:.4}, standard deviation {deviation:.4} of {COUNT}");
}
