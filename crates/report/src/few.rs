//! What rests on few puzzles: one rule for figures, tables and prose.

use tallyhouse_analysis::ShapeShare;

/// Below this number of puzzles a number is marked as resting on few. Common practice, no source.
pub(crate) const FEW: u64 = 30;

/// Tests if a number rests on few puzzles: on fewer than [`FEW`], or on puzzles that tell as little. Where
/// those that were counted are worth fewer than [`FEW`] independent draws, the lower end of the interval is
/// not told, or 0. What was not seen at all is no number to rely on, and has words of its own.
pub(crate) fn is_few(counted: u64, low: Option<f64>) -> bool {
    counted > 0 && (counted < FEW || low.is_none_or(|low| low <= 0.0))
}

/// Marks a number that rests on few puzzles.
pub(crate) fn star(counted: u64, low: Option<f64>) -> &'static str {
    if is_few(counted, low) { "*" } else { "" }
}

/// Says what nought means.
pub(crate) const UNSEEN: &str = "0: looked for, but not seen; that is not never.";

/// Marks the share of houses and the share of puzzles that show a shape.
pub(crate) fn stars(shape: &ShapeShare) -> [&'static str; 2] {
    let of_puzzles = shape.share.as_ref().map(|share| share.interval.low);
    [shape.house_share.low, of_puzzles].map(|low| star(shape.puzzles, low))
}

/// Says what the mark means.
pub(crate) fn star_note() -> String {
    format!("* Fewer than {FEW} puzzles, or puzzles that tell as little.")
}

/// Says what a hollow mark means.
pub(crate) fn hollow_note() -> String {
    format!("Hollow: fewer than {FEW} puzzles, or puzzles that tell as little.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_star_stands_by_what_rests_on_few_and_by_nothing_else() {
        let stars = [
            (0, None),
            (29, Some(0.1)),
            (30, Some(0.1)),
            (38, None),
            (500, Some(0.0)),
            (500, Some(0.001)),
        ]
        .map(|(counted, low)| star(counted, low));
        assert_eq!(stars, ["", "*", "", "*", "*", ""]);
    }
}
