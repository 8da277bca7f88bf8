//! The words that charts share: denominators, where puzzles come from, and what rests on few.

use tallyhouse_census::Totals;
use tallyhouse_words::{count, counted, plural, sentence_start, set_name};

use crate::few::FEW;

/// Writes a number of puzzles.
pub(super) fn puzzles(number: u64) -> String {
    counted(number, "puzzle", "puzzles")
}

/// Writes a number of puzzles, and of their families where these are fewer.
pub(crate) fn puzzles_in(number: u64, units: u64) -> String {
    let families = match units {
        units if units < number => format!(" in {}", counted(units, "family", "families")),
        _ => String::new(),
    };
    puzzles(number) + &families
}

/// Writes how many quiet positions were looked at, and the puzzles that they come from.
pub(super) fn scanned(totals: &Totals, units: u64) -> String {
    let positions = plural(totals.quiet_positions, "position", "positions");
    format!(
        "{} {positions} without singles, from {}",
        count(totals.quiet_positions),
        puzzles_in(totals.puzzles, units)
    )
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

/// Names what a look finds, and apart from it what is said of its houses.
pub(crate) fn find_by(look: &str) -> (String, &str) {
    let Some((side, rest)) = look.split_once(' ') else { return (look.to_owned(), "") };
    let (size, houses) = rest.split_once(' ').unwrap_or((rest, ""));
    let name = size.parse().map_or_else(|_| size.to_owned(), set_name);
    (format!("{side} {name}"), houses)
}

/// Names what two looks find, with what is said of their houses where that differs.
pub(crate) fn finds_by(looks: [&str; 2]) -> [String; 2] {
    let parts = looks.map(find_by);
    let is_same = parts[0].1 == parts[1].1;
    parts.map(|(name, houses)| match houses {
        "" => name,
        _ if is_same => name,
        houses => format!("{name} {houses}"),
    })
}
