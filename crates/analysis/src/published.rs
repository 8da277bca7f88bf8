//! Published distributions of the number of clues of minimal puzzles.

/// A published distribution of the number of clues.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PublishedClues {
    /// What it is the distribution of.
    pub name: &'static str,
    /// Where it was published.
    pub source: &'static str,
    /// The mean.
    pub mean: f64,
    /// The standard deviation.
    pub standard_deviation: f64,
    /// Clue counts with their shares in percent.
    pub percent: &'static [(u8, f64)],
}

const BERTHIER: &str = "D. Berthier, Unbiased Statistics of a Constraint Satisfaction Problem – a \
                        Controlled-Bias Generator, CISSE 2009, and its author's recap of 2013";

/// All minimal puzzles, estimated with controlled bias.
pub const MINIMAL_PUZZLES: PublishedClues = PublishedClues {
    name: "all minimal puzzles",
    source: BERTHIER,
    mean: 26.577,
    standard_deviation: 1.116,
    percent: &[
        (20, 1.32e-7),
        (21, 0.000_034),
        (22, 0.003_48),
        (23, 0.148),
        (24, 2.28),
        (25, 13.42),
        (26, 31.91),
        (27, 32.71),
        (28, 15.48),
        (29, 3.598),
        (30, 0.41),
        (31, 0.0241),
        (32, 0.001_02),
    ],
};

#[cfg(test)]
mod tests {
    use super::*;

    /// The shares are published beside their mean and their deviation, and agree with them.
    #[test]
    fn the_distribution_has_its_mean_and_its_deviation() {
        let rows = MINIMAL_PUZZLES.percent;
        let total: f64 = rows.iter().map(|row| row.1).sum();
        assert!((total - 100.0).abs() < 0.02, "{total}");
        let mean_of = |of: &dyn Fn(f64) -> f64| {
            rows.iter().map(|&(clues, percent)| of(clues.into()) * percent).sum::<f64>() / total
        };
        let mean = mean_of(&|clues| clues);
        assert!((mean - MINIMAL_PUZZLES.mean).abs() < 0.002, "{mean}");
        let deviation = mean_of(&|clues| (clues - mean).powi(2)).sqrt();
        assert!((deviation - MINIMAL_PUZZLES.standard_deviation).abs() < 0.002, "{deviation}");
    }
}
