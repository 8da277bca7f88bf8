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

/// Minimal puzzles by random addition (bottom-up); the distribution is from memory, and its mean and
/// deviation agree with the published ones.
pub const MINIMAL_BY_ADDITION: PublishedClues = PublishedClues {
    name: "by random addition",
    source: BERTHIER,
    mean: 23.87,
    standard_deviation: 1.08,
    percent: &[
        (20, 0.028),
        (21, 0.856),
        (22, 8.24),
        (23, 27.67),
        (24, 36.38),
        (25, 20.59),
        (26, 5.45),
        (27, 0.72),
        (28, 0.054),
        (29, 0.0024),
    ],
};

/// Minimal puzzles by random deletion (top-down); the distribution itself is not known to us.
pub const MINIMAL_BY_DELETION: PublishedClues = PublishedClues {
    name: "by random deletion",
    source: BERTHIER,
    mean: 24.38,
    standard_deviation: 1.12,
    percent: &[],
};
