//! A specimen in plain words.

use tallyhouse_board::DigitSet;
use tallyhouse_figures::{Side, Sides};
use tallyhouse_words::{list, number_word, plural, sentence_start, set_name};

use super::{Specimen, cell_words, digit_words};

impl Specimen {
    /// Describes the split from both sides, first from the one that is looked for.
    #[must_use]
    pub fn description(&self) -> String {
        let other = self.other_side(Sides::Both).unwrap_or_default();
        format!("{} {other}", self.find(Sides::Both))
    }

    /// Writes where one side is: `box 9 (4 and 9 in r7c8 and r9c9)`.
    pub(crate) fn in_short(&self, side: Side) -> String {
        let (cells, digits) = self.side(side);
        format!("{} ({} in {})", self.house(), list(digits), list(cells))
    }

    /// Returns the cells and digits of a side, in words.
    fn side(&self, side: Side) -> (Vec<String>, Vec<String>) {
        let split = self.split();
        let (cells, digits) = match side {
            Side::Naked => (split.naked, split.naked_digits),
            Side::Hidden => (split.hidden, split.hidden_digits),
        };
        (cell_words(cells.iter()), digit_words(digits))
    }

    /// Returns the side that comes first: the one that is looked for, unless it is not shown.
    pub(super) const fn first_side(&self, shown: Sides) -> Side {
        if shown.show(self.lead) { self.lead } else { self.lead.other() }
    }

    /// Says what is found on the side that comes first, and what is removed.
    pub(super) fn find(&self, shown: Sides) -> String {
        let lead = self.first_side(shown);
        let open = self.subset.open;
        let cells = sentence_start(&number_word(open));
        let [of, are] = [["cell of", "is"], ["cells of", "are"]][usize::from(open != 1)];
        let (found, removed) = (self.side_words(lead, true), self.elimination_words());
        let so = match lead {
            Side::Naked => "So".to_owned(),
            Side::Hidden => format!("{}, so", self.filling_words()),
        };
        format!("{cells} {of} {} {are} open, and {found}. {so} {removed}.", self.house())
    }

    /// Says what the other side is, if both are shown.
    pub(super) fn other_side(&self, shown: Sides) -> Option<String> {
        let other = self.first_side(shown).other();
        let words = || format!("Seen from the other side, {}.", self.side_words(other, false));
        shown.show(other).then(words)
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

    /// Writes `r4c2 and r4c7 hold only 3 and 8: a naked pair`, or of the hidden side `1, 6 and 9 have
    /// no place but r4c4, r4c5 and r4c9: a hidden triple`.
    fn side_words(&self, side: Side, first: bool) -> String {
        let (cells, digits) = self.side(side);
        let size = cells.len() as u64;
        let set = self.set(side);
        match side {
            Side::Naked => {
                let hold = plural(size, "holds", "hold");
                format!("{} {hold} only {}: {set}", list(cells), list(digits))
            }
            Side::Hidden => {
                let have = plural(size, "has", "have");
                let there = if first { " there" } else { "" };
                format!("{} {have} no place{there} but {}: {set}", list(digits), list(cells))
            }
        }
    }

    /// Writes `They fill these three cells`.
    fn filling_words(&self) -> String {
        match self.subset.hidden() {
            1 => "It fills this cell".to_owned(),
            size => format!("They fill these {} cells", number_word(size)),
        }
    }

    /// Names a side, as in `a hidden triple`.
    pub(super) fn set(&self, side: Side) -> String {
        match side {
            Side::Naked => format!("a naked {}", set_name(self.subset.naked)),
            Side::Hidden => format!("a hidden {}", set_name(self.subset.hidden())),
        }
    }

    /// Writes `3 and 8 leave r4c5, and 9 leaves r4c6`: digits that leave the same cells go together.
    pub(super) fn elimination_words(&self) -> String {
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
