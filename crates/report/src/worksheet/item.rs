//! One exercise with its key.

use serde::Serialize;
use tallyhouse_analysis::{ReaderFile, number_field};
use tallyhouse_board::{Cell, Digit, DigitSet, House};
use tallyhouse_engine::effort::make_looks;
use tallyhouse_engine::{Look, Position, Subset};
use tallyhouse_figures::Side;
use tallyhouse_words::{count, fixed, list};

use super::ItemKind;
use super::draw::Exercise;
use crate::ReportError;
use crate::specimen::{Specimen, cell_words};

/// What makes an item hard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Score {
    /// The glances of a reader who makes the look up to the find: in the house alone, or on a board in
    /// rows, columns and boxes, each from 1 to 9.
    pub glances: f64,
    /// The open cells of the house.
    pub open: u8,
    /// Other subsets in sight: those of the position on a board, none in a house that stands alone.
    pub others: u16,
}

impl Score {
    /// Returns the sum of all three: more is harder.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.glances + f64::from(self.open) + f64::from(self.others)
    }

    /// Writes the sum: a whole number where glances are.
    #[must_use]
    pub fn words(&self) -> String {
        let total = self.total();
        if total.fract() == 0.0 { count(total as u64) } else { fixed(total, 1) }
    }
}

/// One exercise.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// The number on the sheet, from 1.
    pub number: u32,
    /// What is shown.
    pub kind: ItemKind,
    /// Where the look finds something, with what it finds.
    pub specimen: Specimen,
    /// The look that is asked for.
    pub look: Look,
    /// How hard it is.
    pub score: Score,
    /// What else the look finds there, in words.
    pub as_right: Vec<String>,
    /// The digits that can be placed next, by their cells: of a house that stands alone, those that it
    /// shows.
    pub next: Vec<(Cell, Digit)>,
}

/// An item as a row of `items.csv`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ItemRecord {
    /// The number on the sheet, from 1.
    pub item: u32,
    /// `board` or `house`.
    pub kind: &'static str,
    /// The givens, 81 characters.
    pub puzzle: String,
    /// The quiet position, from 1, at which the look is asked for.
    pub position: u32,
    /// The house, as in `column 4`.
    pub house: String,
    /// The look, as in `naked 2`.
    pub look: String,
    /// The open cells of the house.
    pub open: u8,
    /// The score, with all its digits.
    pub score: String,
    /// The cells of the naked side, separated by spaces.
    pub naked: String,
    /// The cells of the hidden side, separated by spaces.
    pub hidden: String,
    /// What goes, as in `r1c7-3 r1c8-3`.
    pub eliminations: String,
    /// The digits placed next, as in `r1c7=5`.
    pub next: String,
}

impl ItemRecord {
    /// The names of the columns.
    pub const HEADER: &str =
        "item,kind,puzzle,position,house,look,open,score,naked,hidden,eliminations,next";
}

impl Item {
    /// Makes an item, as yet without its number.
    pub(super) fn of(
        exercise: Exercise,
        kind: ItemKind,
        reader: &ReaderFile,
    ) -> Result<Self, ReportError> {
        let Exercise { origin, puzzle, quiet_position, states, subset, look, found: all, others } =
            exercise;
        let position = Position::from_states(&states)?;
        let house = subset.house;
        let (glances, found) = glances(&position, kind, house, look, reader);
        let specimen_in = |house, cells| {
            let (origin, position) = (origin.clone(), position.clone());
            Specimen::of_split(origin, puzzle, quiet_position, position, house, cells)
        };
        let specimen = |cells| specimen_in(house, cells);
        // Of several in the house, the look ends at one.
        let specimen = match found.map(|found| specimen(found.cells)).transpose()? {
            Some(found) if found.subset.applied => found,
            _ => specimen(subset.cells)?,
        };
        let side = if matches!(look, Look::Hidden(_)) { Side::Hidden } else { Side::Naked };
        let specimen = specimen.led_by(Some(side));
        let is_other =
            |other: &&Subset| (other.house, other.cells) != (house, specimen.subset.cells);
        let as_right = all
            .iter()
            .filter(is_other)
            .map(|other| Ok(specimen_in(other.house, other.cells)?.in_short(side)));
        let as_right = as_right.collect::<Result<Vec<_>, ReportError>>()?;
        let next = specimen.placed_next((kind == ItemKind::House).then_some(house));
        let score = Score { glances, open: subset.open, others };
        Ok(Self { number: 0, kind, specimen, look, score, as_right, next })
    }

    /// Returns the row of `items.csv`.
    #[must_use]
    pub fn record(&self) -> ItemRecord {
        let split = self.specimen.split();
        let removed = split.eliminations.iter();
        let removed = removed.flat_map(|&(cell, digits)| each(cell, digits, '-'));
        let next = self.next.iter().map(|(cell, digit)| format!("{cell}={digit}"));
        ItemRecord {
            item: self.number,
            kind: self.kind.name(),
            puzzle: self.specimen.puzzle.to_string(),
            position: u32::from(self.specimen.quiet_position) + 1,
            house: self.specimen.house().to_string(),
            look: self.look.everywhere().to_string(),
            open: self.score.open,
            score: number_field(Some(self.score.total())),
            naked: cell_words(split.naked.iter()).join(" "),
            hidden: cell_words(split.hidden.iter()).join(" "),
            eliminations: removed.collect::<Vec<_>>().join(" "),
            next: next.collect::<Vec<_>>().join(" "),
        }
    }

    /// Says where it stands: `quiet position 2, column 4`.
    pub(super) fn place(&self) -> String {
        let number = u32::from(self.specimen.quiet_position) + 1;
        format!("quiet position {number}, {}", self.specimen.house())
    }

    /// Says what is found from both sides, what goes, and what is placed next.
    pub(super) fn key(&self) -> String {
        let next = self.next.iter().map(|(cell, digit)| format!("{digit} in {cell}"));
        let next = match (self.next.len(), self.kind) {
            (0, ItemKind::Board) => "No digit can be placed at once.".to_owned(),
            (0, ItemKind::House) => "The house shows no digit to place at once.".to_owned(),
            _ => format!("Next: {}.", list(next)),
        };
        let as_right = match self.as_right.as_slice() {
            [] => String::new(),
            others => format!(" As right: {}.", list(others)),
        };
        format!("{}{as_right} {next}", self.specimen.description())
    }
}

fn each(cell: Cell, digits: DigitSet, sign: char) -> impl Iterator<Item = String> {
    digits.iter().map(move |digit| format!("{cell}{sign}{digit}"))
}

/// Counts the glances of a reader who makes a look up to its find in a house, and returns what it ends at.
fn glances(
    position: &Position,
    kind: ItemKind,
    house: House,
    look: Look,
    reader: &ReaderFile,
) -> (f64, Option<Subset>) {
    let first = if kind == ItemKind::Board { 0 } else { house.index() };
    let houses = House::all().take(house.index() + 1).skip(first);
    let (mut glances, mut found) = (0.0, None);
    for house in houses {
        make_looks(position, house, [look], |_, counts, subset| {
            glances += counts.glances(reader.model.learning).cost(&reader.model.weights);
            found = subset;
        });
    }
    (glances, found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::specimen::tests::pair_and_triple;

    fn item(kind: ItemKind, look: &str, reader: &str) -> Item {
        let Specimen { origin, puzzle, quiet_position, position, subset, .. } = pair_and_triple();
        let (states, look) = (Box::new(position.states()), look.parse().unwrap());
        let exercise = Exercise {
            origin,
            puzzle,
            quiet_position,
            states,
            subset,
            look,
            found: Vec::new(),
            others: 3,
        };
        Item::of(exercise, kind, &ReaderFile::load(reader).unwrap()).unwrap()
    }

    #[test]
    fn the_score_is_the_documented_sum() {
        let open = pair_and_triple().subset.open;
        let house = item(ItemKind::House, "hidden 3", "marking");
        let Score { glances, others, .. } = house.score;
        // Every digit is looked for in every open cell, then sets are tried.
        assert!(glances > f64::from(open * open), "{glances}");
        assert_eq!(house.score.total(), glances + f64::from(open) + f64::from(others));
        // Who reads the house once sees its cells, and tries the same sets.
        let shared = item(ItemKind::House, "hidden 3", "sharing").score.glances;
        assert_eq!(glances - shared, f64::from(open * open - open));
    }

    #[test]
    fn a_house_that_stands_alone_shows_no_more_than_its_own_digits() {
        let [board, house] = [ItemKind::Board, ItemKind::House].map(|kind| {
            let item = item(kind, "naked 2", "marking");
            (item.next, item.specimen.house())
        });
        assert!(house.0.iter().all(|next| board.0.contains(next)));
        assert!(house.0.iter().all(|(cell, _)| house.1.cells().contains(cell)));
    }
}
