//! A specimen in plain words.

use tallyhouse_board::DigitSet;

use super::{Specimen, cell_words, digit_words};

const NUMBERS: [&str; 10] =
    ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"];

fn number(value: u8) -> &'static str {
    NUMBERS[usize::from(value.min(9))]
}

/// Names a set by its size.
pub(super) fn set_name(size: u8) -> String {
    match size {
        1 => "single".to_owned(),
        2 => "pair".to_owned(),
        3 => "triple".to_owned(),
        4 => "quad".to_owned(),
        5 => "quintet".to_owned(),
        _ => format!("set of {}", number(size)),
    }
}

/// Writes `a`, `a and b`, `a, b and c`.
pub(super) fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Writes `Five` for `five`.
pub(crate) fn sentence_start(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

const fn verb<'a>(count: usize, one: &'a str, many: &'a str) -> &'a str {
    if count == 1 { one } else { many }
}

impl Specimen {
    /// Describes the split from both sides.
    #[must_use]
    pub fn description(&self) -> String {
        let open = self.subset.open;
        format!(
            "In {} {} {} open. {}, so {}; seen from the other side, {}.",
            self.house(),
            counted(open),
            verb(usize::from(open), "is", "are"),
            self.naked_words(),
            self.elimination_words(),
            self.hidden_words()
        )
    }

    /// Says which single the eliminations bring about at once, if they do.
    #[must_use]
    pub fn follow_up(&self) -> Option<String> {
        let (single, naked) = self.next_single()?;
        let (cell, digit) = (single.cell, single.digit);
        Some(if naked {
            format!("After that, {cell} has only {digit} left.")
        } else {
            format!("After that, {digit} has only one place left in {}: {cell}.", single.house)
        })
    }

    /// Writes `r4c2 and r4c7 hold only 3 and 8 (naked pair)`.
    fn naked_words(&self) -> String {
        let cells = cell_words(self.naked_cells().iter());
        format!(
            "{} {} only {} (naked {})",
            list(&cells),
            verb(cells.len(), "holds", "hold"),
            list(&digit_words(self.naked_digits())),
            set_name(self.subset.naked)
        )
    }

    /// Writes `1, 6 and 9 have no place but r4c4, r4c5 and r4c9 (hidden triple)`.
    fn hidden_words(&self) -> String {
        let digits = digit_words(self.hidden_digits());
        format!(
            "{} {} no place but {} (hidden {})",
            list(&digits),
            verb(digits.len(), "has", "have"),
            list(&cell_words(self.hidden_cells().iter())),
            set_name(self.subset.hidden())
        )
    }

    /// Writes `3 and 8 leave r4c5, and 9 leaves r4c6`: digits that leave the same cells go together.
    fn elimination_words(&self) -> String {
        let eliminations = self.eliminations();
        let mut groups: Vec<(DigitSet, Vec<String>)> = Vec::new();
        for digit in self.naked_digits().iter() {
            let from = eliminations.iter().filter(|(_, digits)| digits.contains(digit));
            let cells = cell_words(from.map(|(cell, _)| *cell));
            match groups.iter_mut().find(|(_, other)| *other == cells) {
                Some((digits, _)) => *digits = digits.with(digit),
                None if cells.is_empty() => {}
                None => groups.push((DigitSet::single(digit), cells)),
            }
        }
        let clauses: Vec<String> = groups
            .iter()
            .map(|(digits, cells)| {
                let verb = verb(digits.len(), "leaves", "leave");
                format!("{} {verb} {}", list(&digit_words(*digits)), list(cells))
            })
            .collect();
        match &clauses[..] {
            [first @ .., last] if !first.is_empty() => {
                format!("{}, and {last}", first.join(", "))
            }
            _ => clauses.concat(),
        }
    }
}

fn counted(cells: u8) -> String {
    format!("{} {}", number(cells), if cells == 1 { "cell" } else { "cells" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_and_lists_have_their_words() {
        let names: Vec<String> = (1..=8).map(set_name).collect();
        assert_eq!(
            names,
            [
                "single",
                "pair",
                "triple",
                "quad",
                "quintet",
                "set of six",
                "set of seven",
                "set of eight"
            ]
        );
        let words = |count: usize| list(&["a", "b", "c"].map(str::to_owned)[..count]);
        assert_eq!([0, 1, 2, 3].map(words), ["", "a", "a and b", "a, b and c"]);
        assert_eq!(sentence_start("five open cells"), "Five open cells");
        assert_eq!(counted(9), "nine cells");
    }
}
