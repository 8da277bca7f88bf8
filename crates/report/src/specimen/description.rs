//! A specimen in plain words.

use tallyhouse_board::DigitSet;
use tallyhouse_words::{list, number_word, plural, set_name};

use super::{Specimen, cell_words, digit_words};

impl Specimen {
    /// Describes the split from both sides.
    #[must_use]
    pub fn description(&self) -> String {
        let open = self.subset.open;
        format!(
            "In {} {} {} open. {}, so {}; seen from the other side, {}.",
            self.house(),
            number_word(open),
            plural(open.into(), "cell is", "cells are"),
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
        let cells = cell_words(self.split().naked.iter());
        format!(
            "{} {} only {} (naked {})",
            list(&cells),
            plural(cells.len() as u64, "holds", "hold"),
            list(digit_words(self.split().naked_digits)),
            set_name(self.subset.naked)
        )
    }

    /// Writes `1, 6 and 9 have no place but r4c4, r4c5 and r4c9 (hidden triple)`.
    fn hidden_words(&self) -> String {
        let digits = digit_words(self.split().hidden_digits);
        format!(
            "{} {} no place but {} (hidden {})",
            list(&digits),
            plural(digits.len() as u64, "has", "have"),
            list(cell_words(self.split().hidden.iter())),
            set_name(self.subset.hidden())
        )
    }

    /// Writes `3 and 8 leave r4c5, and 9 leaves r4c6`: digits that leave the same cells go together.
    fn elimination_words(&self) -> String {
        let eliminations = self.split().eliminations;
        let mut groups: Vec<(DigitSet, Vec<String>)> = Vec::new();
        for digit in self.split().naked_digits.iter() {
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
                let verb = plural(digits.len() as u64, "leaves", "leave");
                format!("{} {verb} {}", list(digit_words(*digits)), list(cells))
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
