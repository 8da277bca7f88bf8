//! The generator of minimal puzzles.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_collection::{
    MinimalByDeletion, Recipe, Sampling, are_minimal, solved_board, validity,
};
use tallyhouse_oracles::solutions::solutions;

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
        assert_eq!(are_minimal(&[puzzle]), [true]);
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
            assert_eq!(are_minimal(&[puzzle]), [true], "{puzzle}");
            let clues = puzzle.clues() as u64;
            (clues, clues * clues)
        })
        .reduce(|| (0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
    let n = COUNT as f64;
    let mean = sum as f64 / n;
    let deviation = ((squares as f64 - n * mean * mean) / (n - 1.0)).sqrt();
    // Three standard errors, half a unit of the last published digit, and 0.025 for the solved
    // boards: ours are uniform, and how the published ones were drawn is not known to us. Boards from
    // a random search, which are not uniform, gave 24.376 here, uniform ones give 24.403.
    let error_of_mean = 3.0 * 1.12 / n.sqrt() + 0.005 + 0.025;
    assert!((mean - 24.38).abs() < error_of_mean, "mean {mean}");
    // The standard error of a standard deviation is about sd/√(2n).
    let error_of_deviation = 3.0 * 1.12 / (2.0 * n).sqrt() + 0.005;
    assert!((deviation - 1.12).abs() < error_of_deviation, "standard deviation {deviation}");
    println!("mean {mean:.4}, standard deviation {deviation:.4} of {COUNT}");
    let [stated, error] = stated_mean(Sampling::Deletion);
    assert!((mean - stated).abs() < 3.0 * 1.12 / n.sqrt() + error, "mean {mean}, stated {stated}");
}

/// The mean number of clues that files of a method say was measured here, and its error.
fn stated_mean(method: Sampling) -> [f64; 2] {
    let (_, mean) = method.bias().split_once("mean ").unwrap();
    let (mean, rest) = mean.split_once(" ± ").unwrap();
    [mean, rest.split(' ').next().unwrap()].map(|number| number.parse().unwrap())
}

/// Counts pairs of rows and columns whose four meeting cells hold two digits crosswise, so that the
/// board has another solution if all four are blank.
fn crossings(board: &[u8]) -> f64 {
    let mut count = 0;
    for (a, b) in pairs() {
        for (c, d) in pairs() {
            let value = |row: usize, column: usize| board[row * 9 + column];
            let crosswise = value(a, c) == value(b, d) && value(a, d) == value(b, c);
            count += u32::from(crosswise && (a / 3 == b / 3) != (c / 3 == d / 3));
        }
    }
    f64::from(count)
}

fn pairs() -> impl Iterator<Item = (usize, usize)> {
    (0..9).flat_map(|a| (a + 1..9).map(move |b| (a, b)))
}

/// Fills a board by drawing a candidate of the most constrained cell. Returns it with the inverse of
/// its probability; nothing at a dead end.
fn random_filling(rng: &mut ChaCha8Rng) -> Option<([u8; 81], f64)> {
    let (mut board, mut used, mut weight) = ([0u8; 81], [0u16; 27], 1.0);
    let houses = |cell: usize| [cell / 9, 9 + cell % 9, 18 + cell / 27 * 3 + cell % 9 / 3];
    for _ in 0..81 {
        let free =
            |cell: usize| houses(cell).iter().fold(0x1ff, |free, &house| free & !used[house]);
        let open = (0..81).filter(|&cell| board[cell] == 0);
        let cell = open.min_by_key(|&cell: &usize| free(cell).count_ones())?;
        let mut candidates: u16 = free(cell);
        let count = candidates.count_ones();
        if count == 0 {
            return None;
        }
        weight *= f64::from(count);
        for _ in 0..rng.random_range(0..count) {
            candidates &= candidates - 1;
        }
        board[cell] = candidates.trailing_zeros() as u8 + 1;
        for house in houses(cell) {
            used[house] |= 1 << candidates.trailing_zeros();
        }
    }
    Some((board, weight))
}

/// Mean and standard deviation of the number of clues.
fn clue_moments(puzzles: impl Iterator<Item = usize>) -> (f64, f64, f64) {
    let clues: Vec<f64> = puzzles.map(|clues| clues as f64).collect();
    let n = clues.len() as f64;
    let mean = clues.iter().sum::<f64>() / n;
    let variance = clues.iter().map(|clues| (clues - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (n, mean, variance.sqrt())
}

#[test]
#[ignore = "long: run with --include-ignored"]
fn clue_counts_agree_with_the_published_mean_for_random_addition() {
    // D. Berthier, CISSE 2009 as above: bottom-up generation of 1,000,000 puzzles, mean 23.87,
    // standard deviation 1.08; a second generator gave 23.89 and 1.08.
    let recipe = Recipe::plain(Sampling::Addition, 43);
    let batches: Vec<usize> = (0..100u64)
        .into_par_iter()
        .flat_map_iter(|batch| recipe.make(400 * batch..400 * (batch + 1)))
        .flat_map_iter(|made| made.unwrap())
        .map(|made| made.puzzle.clues())
        .collect();
    let (n, mean, deviation) = clue_moments(batches.into_iter());
    // Three standard errors, and the spread between the two published generators.
    assert!((mean - 23.87).abs() < 3.0 * 1.08 / n.sqrt() + 0.02, "mean {mean}");
    let error_of_deviation = 3.0 * 1.08 / (2.0 * n).sqrt() + 0.005;
    assert!((deviation - 1.08).abs() < error_of_deviation, "standard deviation {deviation}");
    let [stated, error] = stated_mean(Sampling::Addition);
    assert!((mean - stated).abs() < 3.0 * 1.08 / n.sqrt() + error, "mean {mean}, stated {stated}");
}

#[test]
#[ignore = "long: run with --include-ignored"]
fn splitting_agrees_with_the_published_law_of_all_minimal_puzzles() {
    // D. Berthier, CISSE 2009: all minimal puzzles, mean 26.577 and standard deviation 1.116 of the
    // number of clues (from memory, and recomputed from the published distribution), which is, in per
    // cent, 0.149, 2.28, 13.42, 31.94, 32.74, 15.48 and 3.56 for 23 to 29 clues; about 4.655 × 10¹⁵
    // minimal puzzles per board (from memory).
    const FAMILIES: u64 = 20_000;
    let recipe = Recipe::plain(Sampling::Splitting { population: Sampling::POPULATION }, 44);
    // Weight by clues of each family.
    let families: Vec<[f64; 82]> = (0..FAMILIES / 16)
        .into_par_iter()
        .flat_map_iter(|batch| recipe.make(16 * batch..16 * (batch + 1)))
        .map(|family| {
            let mut sums = [0.0; 82];
            let made = family.unwrap().into_iter();
            made.for_each(|made| sums[made.puzzle.clues()] += made.weight.unwrap());
            sums
        })
        .collect();
    let n = FAMILIES as f64;
    let sum = |value: &dyn Fn(usize) -> f64, weights: &[f64; 82]| -> f64 {
        weights.iter().enumerate().map(|(clues, weight)| value(clues) * weight).sum()
    };
    let weights: Vec<f64> = families.iter().map(|family| sum(&|_| 1.0, family)).collect();
    let weight: f64 = weights.iter().sum();
    let squares: f64 = weights.iter().map(|family| family.powi(2)).sum();
    let of_all = |value: &dyn Fn(usize) -> f64| {
        let mean = families.iter().map(|family| sum(value, family)).sum::<f64>() / weight;
        let residual = |family| sum(&|clues| value(clues) - mean, family).powi(2);
        (mean, families.iter().map(residual).sum::<f64>().sqrt() / weight)
    };
    let (mean, error) = of_all(&|clues| clues as f64);
    let (variance, _) = of_all(&|clues| (clues as f64 - mean).powi(2));
    println!(
        "{n} families: {:.0} effective draws, {:.0} for the mean of {mean:.4} ± {error:.4} clues",
        weight.powi(2) / squares,
        variance / error.powi(2)
    );
    assert!((mean - 26.577).abs() < 4.0 * error, "{mean} ± {error}");
    // The check can fail: that of puzzles with controlled bias, 25.67, would be far outside.
    assert!(error < 0.03, "{error}");
    for clues in 20..33 {
        let (share, error) = of_all(&|of| f64::from(u8::from(of == clues)));
        println!("{clues} clues: {:.6} ± {:.6} %", 100.0 * share, 100.0 * error);
        let published = [0.149, 2.28, 13.42, 31.94, 32.74, 15.48, 3.56];
        if let Some(published) = clues.checked_sub(23).and_then(|place| published.get(place)) {
            assert!(
                (100.0 * share - published).abs() < 400.0 * error,
                "{clues}: {share} ± {error}"
            );
        }
    }
    let error = ((squares - weight.powi(2) / n) / (n - 1.0) / n).sqrt();
    println!("{:.0} ± {error:.0} million million minimal puzzles per board", weight / n);
    assert!((weight / n - 4655.0).abs() < 4.0 * error, "{} ± {error}", weight / n);
}

#[test]
#[ignore = "long: run with --include-ignored"]
fn solved_boards_agree_with_weighted_fillings_that_share_no_code() {
    // Importance sampling: fillings weighted by the inverse of their probability estimate means over
    // all boards, and the mean weight estimates their number, 6,670,903,752,021,072,936,960
    // (Felgenhauer & Jarvis, Mathematical Spectrum 39(1), 2006/7; OEIS A107739).
    let mut rng = ChaCha8Rng::seed_from_u64(77);
    const FILLINGS: u32 = 300_000;
    let filled: Vec<(f64, f64)> = (0..FILLINGS)
        .filter_map(|_| random_filling(&mut rng))
        .map(|(board, weight)| (crossings(&board), weight))
        .collect();
    let total: f64 = filled.iter().map(|f| f.1).sum();
    let mean = filled.iter().map(|f| f.0 * f.1).sum::<f64>() / total;
    let squares: f64 = filled.iter().map(|f| ((f.0 - mean) * f.1).powi(2)).sum();
    let error = squares.sqrt() / total;
    let number = total / f64::from(FILLINGS);
    assert!((number / 6.670_903_752e21 - 1.0).abs() < 0.02, "{number:e}");

    const BOARDS: u32 = 20_000;
    let drawn: Vec<f64> =
        (0..BOARDS).map(|index| crossings(solved_board(77, u64::from(index)).values())).collect();
    let n = f64::from(BOARDS);
    let ours = drawn.iter().sum::<f64>() / n;
    let our_error = (drawn.iter().map(|x| (x - ours).powi(2)).sum::<f64>() / n / n).sqrt();
    let deviation = (ours - mean) / error.hypot(our_error);
    assert!(deviation.abs() < 4.0, "{ours} ± {our_error} against {mean} ± {error}");
    // The test can tell: fillings without their weights are far off.
    let unweighted = filled.iter().map(|f| f.0).sum::<f64>() / filled.len() as f64;
    assert!((unweighted - mean).abs() > 10.0 * error.hypot(our_error), "{unweighted}");
}
