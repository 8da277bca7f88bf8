//! The words that charts share: denominators, where puzzles come from, and what rests on few.

use tallyhouse_words::{count, counted, sentence_start};

use crate::FEW;

/// Writes a number of puzzles.
pub(super) fn puzzles(number: u64) -> String {
    counted(number, "puzzle", "puzzles")
}

/// Writes a number of quiet positions.
pub(super) fn positions(number: u64) -> String {
    counted(number, "quiet position", "quiet positions")
}

/// Writes how many were found of how many.
pub(super) fn none_or_count(number: u64, of: u64) -> String {
    if number == 0 { format!("none of {}", count(of)) } else { count(number) + star(number) }
}

/// Says how puzzles were drawn, if their collection knows.
pub(super) fn origin(notes: &[String]) -> Vec<String> {
    // The other lines say how to draw them again, not what they can show.
    const LIMITS: [&str; 3] = ["wanted", "clues", "symmetry of givens"];
    let line = |note: &String| {
        let (name, words) = note.split_once(": ")?;
        match name {
            "method" => Some(format!("Origin: {words}.")),
            // What follows is how it was measured.
            "bias" => {
                let bias = words.split_once(": ").map_or(words, |(bias, _)| bias);
                Some(format!("Bias: {bias}."))
            }
            _ if LIMITS.contains(&name) => Some(format!("{}.", sentence_start(note))),
            _ => None,
        }
    };
    notes.iter().filter_map(line).collect()
}

/// Warns of a whole that is small.
pub(super) fn few_puzzles(all: u64, what: &str) -> Option<String> {
    (all < FEW).then(|| {
        format!("Only {}, fewer than {FEW}: add more before relying on {what}.", puzzles(all))
    })
}

/// Marks a number that rests on few puzzles.
pub(super) fn star(counted: u64) -> &'static str {
    if (1..FEW).contains(&counted) { "*" } else { "" }
}
