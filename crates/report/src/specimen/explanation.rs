//! A split step by step: its naked side cell by cell, its hidden side digit by digit.

use serde::Serialize;
use tallyhouse_board::{Cell, CellSet, Digit, DigitSet, House, Puzzle};
use tallyhouse_engine::WalkOptions;
use tallyhouse_figures::{Side, Sides, Square, Stair, Staircase};
use tallyhouse_words::{list, number_word, plural, sentence_start, set_name};

use super::course::stop;
use super::{Specimen, View, cell_words, digit_words};
use crate::ReportError;

/// One cell more of the naked side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CellStep {
    /// The cell.
    pub cell: Cell,
    /// Its candidates.
    pub candidates: DigitSet,
    /// The candidates of all cells so far.
    pub digits: DigitSet,
}

/// One digit more of the hidden side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DigitStep {
    /// The digit.
    pub digit: Digit,
    /// Its places in the house.
    pub places: CellSet,
    /// The places of all digits so far.
    pub cells: CellSet,
}

/// A split step by step, from both sides.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explanation {
    /// The house.
    pub house: House,
    /// Its open cells with their candidates.
    pub open: Vec<(Cell, DigitSet)>,
    /// The naked side, cell by cell.
    pub naked: Vec<CellStep>,
    /// The hidden side, digit by digit.
    pub hidden: Vec<DigitStep>,
    /// The side that is looked for.
    lead: Side,
    /// What goes, in a clause.
    removed: String,
}

/// Returns the subsets of a house at a quiet position of a puzzle's walk, from 0; those of the smallest
/// sides first.
///
/// # Errors
/// If the walk has no such position, or the house no subset there.
pub fn subsets_of_house(
    puzzle: &Puzzle,
    options: &WalkOptions,
    number: u16,
    house: House,
) -> Result<Vec<Specimen>, ReportError> {
    let (position, mut subsets) = stop(puzzle, options, number)?;
    if !subsets.iter().any(|subset| subset.house == house) {
        let houses = subsets.iter().map(|subset| subset.house);
        let mut houses: Vec<String> = houses.map(|house| house.to_string()).collect();
        houses.dedup();
        return Err(ReportError::NothingToExplain { house, number: number + 1, houses });
    }
    subsets.retain(|subset| subset.house == house);
    subsets.sort_by_key(|subset| subset.naked.min(subset.hidden()));
    let specimen = |cells| {
        let (origin, position) = (super::Origin::default(), position.clone());
        Specimen::of_split(origin, *puzzle, number, position, house, cells)
    };
    subsets.iter().map(|subset| specimen(subset.cells)).collect()
}

impl Explanation {
    /// Goes through both sides of a split.
    fn of(specimen: &Specimen) -> Self {
        let (split, open) = (specimen.split(), specimen.open_cells());
        let mut digits = DigitSet::EMPTY;
        let naked = open.iter().filter(|(cell, _)| split.naked.contains(*cell));
        let naked = naked.map(|&(cell, candidates)| {
            digits = digits | candidates;
            CellStep { cell, candidates, digits }
        });
        let naked = naked.collect();
        let mut cells = CellSet::EMPTY;
        let hidden = split.hidden_digits.iter().map(|digit| {
            let holds = open.iter().filter(|(_, candidates)| candidates.contains(digit));
            let places = holds.map(|(cell, _)| *cell).collect();
            cells = cells | places;
            DigitStep { digit, places, cells }
        });
        let hidden = hidden.collect();
        let removed = specimen.elimination_words();
        Self { house: split.house, open, naked, hidden, lead: specimen.lead, removed }
    }

    /// Returns the digits of the naked side.
    #[must_use]
    pub fn naked_digits(&self) -> DigitSet {
        self.naked.last().map_or(DigitSet::EMPTY, |step| step.digits)
    }

    /// Returns the cells of the hidden side.
    #[must_use]
    pub fn hidden_cells(&self) -> CellSet {
        self.hidden.last().map_or(CellSet::EMPTY, |step| step.cells)
    }

    /// Returns what goes by the naked side: its digits from all other open cells.
    #[must_use]
    pub fn removed_by_naked(&self) -> Vec<(Cell, DigitSet)> {
        let is_naked = |cell| self.naked.iter().any(|step| step.cell == cell);
        let others = self.open.iter().filter(|(cell, _)| !is_naked(*cell));
        removed(others.map(|&(cell, candidates)| (cell, candidates & self.naked_digits())))
    }

    /// Returns what goes by the hidden side: all other digits from its cells.
    #[must_use]
    pub fn removed_by_hidden(&self) -> Vec<(Cell, DigitSet)> {
        let digits: DigitSet = self.hidden.iter().map(|step| step.digit).collect();
        let cells = self.open.iter().filter(|(cell, _)| self.hidden_cells().contains(*cell));
        removed(cells.map(|&(cell, candidates)| (cell, candidates - digits)))
    }

    /// Writes the sides that are shown as text, the one that is looked for first.
    #[must_use]
    pub fn text(&self, shown: Sides) -> String {
        let sides = [self.lead, self.lead.other()].into_iter().filter(|side| shown.show(*side));
        let parts = sides.map(|side| match side {
            Side::Naked => self.naked_text(),
            Side::Hidden => self.hidden_text(),
        });
        let mut parts: Vec<String> = parts.collect();
        let same = if parts.len() > 1 { "From either side the same goes: " } else { "So " };
        parts.push(format!("{same}{}.\n", self.removed));
        parts.join("\n")
    }

    fn naked_text(&self) -> String {
        let rows = self.naked.iter().zip(1..).map(|(step, cells)| {
            format!(
                "  {}  {:<9}  {}\n",
                step.cell,
                step.candidates.to_string(),
                naked_words(step, cells)
            )
        });
        let rows: String = rows.collect();
        format!("{}, cell by cell:\n{rows}{}\n", self.set(Side::Naked), self.naked_end())
    }

    fn hidden_text(&self) -> String {
        let names: Vec<String> = cell_words(self.open.iter().map(|(cell, _)| *cell));
        let rows = self.hidden.iter().zip(1..).map(|(step, digits)| {
            let places = self.open.iter().map(|(cell, _)| match step.places.contains(*cell) {
                true => format!("{:>5}", step.digit.to_string()),
                false => format!("{:>5}", "."),
            });
            format!(
                "  {}{}  {}\n",
                step.digit,
                places.collect::<String>(),
                hidden_words(step, digits)
            )
        });
        let rows: String = rows.collect();
        let head: String = names.iter().map(|name| format!("{name:>5}")).collect();
        format!(
            "{}, digit by digit:\n   {head}\n{rows}{}\n",
            self.set(Side::Hidden),
            self.hidden_end()
        )
    }

    fn set(&self, side: Side) -> String {
        let size = match side {
            Side::Naked => self.naked.len(),
            Side::Hidden => self.hidden.len(),
        };
        format!("The {} {} of {}", side.name(), set_name(size as u8), self.house)
    }

    /// What the last cell tells.
    fn naked_end(&self) -> String {
        let size = self.naked.len() as u8;
        let (cells, digits) = (amount(size, "cell", "cells"), amount(size, "digit", "digits"));
        let each = list(digit_words(self.naked_digits()));
        format!(
            "{} and {digits}: {each} {} these cells, so no other cell of {} can have {}.",
            sentence_start(&cells),
            plural(size.into(), "fills", "fill"),
            self.house,
            plural(size.into(), "it", "them"),
        )
    }

    /// What the last digit tells.
    fn hidden_end(&self) -> String {
        let size = self.hidden.len() as u8;
        let (digits, cells) = (amount(size, "digit", "digits"), amount(size, "cell", "cells"));
        let there = list(cell_words(self.hidden_cells().iter()));
        format!(
            "{} and {cells}: {} {there}, so no other digit has room there.",
            sentence_start(&digits),
            plural(size.into(), "it fills", "they fill"),
        )
    }

    /// Draws the sides that are shown, the one that is looked for first.
    fn stairs(&self, shown: Sides) -> impl Iterator<Item = Staircase> + '_ {
        let sides =
            [self.lead, self.lead.other()].into_iter().filter(move |side| shown.show(*side));
        sides.map(|side| {
            let (rows, text, how, end) = match side {
                Side::Naked => {
                    (self.naked_rows(), self.naked_text(), "cell by cell", self.naked_end())
                }
                Side::Hidden => {
                    (self.hidden_rows(), self.hidden_text(), "digit by digit", self.hidden_end())
                }
            };
            Staircase {
                columns: cell_words(self.open.iter().map(|(cell, _)| *cell)),
                rows,
                side,
                title: format!("{}, {how}", self.set(side)),
                titled: true,
                caption: format!("{end} {}.", sentence_start(&self.removed)),
                alt: format!("{text} {}.", self.removed).replace('\n', " "),
                key: true,
            }
        })
    }

    fn naked_rows(&self) -> Vec<Stair> {
        let removed = self.removed_by_naked();
        let row = |(index, step): (usize, &CellStep)| {
            let so_far = &self.naked[..=index];
            let is_last = index + 1 == self.naked.len();
            let square = |&(cell, digits): &(Cell, DigitSet)| Square {
                digits,
                removed: if is_last { at(&removed, cell) } else { DigitSet::EMPTY },
                marked: so_far.iter().any(|step| step.cell == cell),
            };
            let squares = self.open.iter().map(square).collect();
            let words = naked_words(step, index as u8 + 1);
            Stair { squares, words: format!("{}: {words}", step.cell) }
        };
        self.naked.iter().enumerate().map(row).collect()
    }

    fn hidden_rows(&self) -> Vec<Stair> {
        let row = |(index, step): (usize, &DigitStep)| {
            let square = |&(cell, _): &(Cell, DigitSet)| {
                let here = step.places.contains(cell);
                let digits = if here { DigitSet::single(step.digit) } else { DigitSet::EMPTY };
                Square { digits, removed: DigitSet::EMPTY, marked: step.cells.contains(cell) }
            };
            let squares = self.open.iter().map(square).collect();
            let words = hidden_words(step, index as u8 + 1);
            Stair { squares, words: format!("{}: {words}", step.digit) }
        };
        self.hidden.iter().enumerate().map(row).chain([self.what_goes()]).collect()
    }

    /// The house with all its candidates, for what goes can't be seen digit by digit.
    fn what_goes(&self) -> Stair {
        let removed = self.removed_by_hidden();
        let square = |&(cell, digits): &(Cell, DigitSet)| Square {
            digits,
            removed: at(&removed, cell),
            marked: self.hidden_cells().contains(cell),
        };
        let squares = self.open.iter().map(square).collect();
        Stair { squares, words: "What else stands in these cells goes.".to_owned() }
    }

    /// Returns what programs read.
    #[must_use]
    pub fn record(&self) -> ExplanationRecord {
        let digits = |digits: DigitSet| digits.iter().map(Digit::value).collect();
        let cells = |cells: CellSet| cell_words(cells.iter());
        let elimination = |&(cell, removed): &(Cell, DigitSet)| CellRecord {
            cell: cell.to_string(),
            digits: digits(removed),
            so_far: None,
        };
        let naked = |step: &CellStep| CellRecord {
            cell: step.cell.to_string(),
            digits: digits(step.candidates),
            so_far: Some(digits(step.digits)),
        };
        let hidden = |step: &DigitStep| DigitRecord {
            digit: step.digit.value(),
            cells: cells(step.places),
            so_far: cells(step.cells),
        };
        ExplanationRecord {
            house: self.house.to_string(),
            open: cell_words(self.open.iter().map(|(cell, _)| *cell)),
            naked: self.naked.iter().map(naked).collect(),
            hidden: self.hidden.iter().map(hidden).collect(),
            removed: self.removed_by_naked().iter().map(elimination).collect(),
        }
    }
}

/// An explanation as programs read it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ExplanationRecord {
    /// The house, as in `column 4`.
    pub house: String,
    /// Its open cells.
    pub open: Vec<String>,
    /// The cells of the naked side with their candidates, and the digits of all cells so far.
    pub naked: Vec<CellRecord>,
    /// The digits of the hidden side with their places, and the cells of all digits so far.
    pub hidden: Vec<DigitRecord>,
    /// What goes, from either side.
    pub removed: Vec<CellRecord>,
}

/// Digits of a cell.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CellRecord {
    /// The cell.
    pub cell: String,
    /// The digits.
    pub digits: Vec<u8>,
    /// The digits of all cells up to this one, where cells are gone through.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub so_far: Option<Vec<u8>>,
}

/// Cells of a digit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DigitRecord {
    /// The digit.
    pub digit: u8,
    /// Its cells.
    pub cells: Vec<String>,
    /// The cells of all digits up to this one.
    pub so_far: Vec<String>,
}

impl Specimen {
    /// Goes through the split step by step.
    #[must_use]
    pub fn explanation(&self) -> Explanation {
        Explanation::of(self)
    }

    /// Returns the sides that are shown step by step, as `NAME-naked` and `NAME-hidden`.
    #[must_use]
    pub fn step_views(&self, name: &str, shown: Sides) -> Vec<View> {
        let stairs: Vec<Staircase> = self.explanation().stairs(shown).collect();
        stairs.into_iter().map(|stairs| View::stairs(name, stairs)).collect()
    }
}

fn removed(cells: impl Iterator<Item = (Cell, DigitSet)>) -> Vec<(Cell, DigitSet)> {
    cells.filter(|(_, digits)| !digits.is_empty()).collect()
}

fn at(removed: &[(Cell, DigitSet)], cell: Cell) -> DigitSet {
    removed.iter().find(|(at, _)| *at == cell).map_or(DigitSet::EMPTY, |(_, digits)| *digits)
}

fn amount(number: u8, one: &str, many: &str) -> String {
    format!("{} {}", number_word(number), plural(number.into(), one, many))
}

/// What is known after a cell.
fn naked_words(step: &CellStep, cells: u8) -> String {
    let digits = amount(step.digits.len() as u8, "digit", "digits");
    let which = list(digit_words(step.digits));
    format!("{}, {digits}: {which}.", amount(cells, "cell", "cells"))
}

/// What is known after a digit.
fn hidden_words(step: &DigitStep, digits: u8) -> String {
    let cells = amount(step.cells.len() as u8, "cell", "cells");
    format!("{}, {cells}.", amount(digits, "digit", "digits"))
}

#[cfg(test)]
mod tests {
    use tallyhouse_collection::MinimalByDeletion;
    use tallyhouse_engine::{Position, QuietPosition, Recorder, walk};

    use super::*;
    use crate::specimen::tests::pair_and_triple;

    #[derive(Default)]
    struct All(Vec<Specimen>, Option<Puzzle>, usize);

    impl Recorder for All {
        fn quiet_position(&mut self, quiet: &QuietPosition<'_>) {
            self.2 += 1;
            let position = Position::from_states(&(quiet.states)()).unwrap();
            for subset in quiet.subsets {
                let specimen = Specimen::of_split(
                    super::super::Origin::default(),
                    self.1.unwrap(),
                    quiet.number,
                    position.clone(),
                    subset.house,
                    subset.cells,
                );
                self.0.push(specimen.unwrap());
            }
        }
    }

    /// From either side the steps end in what the engine removes.
    #[test]
    fn both_sides_end_in_the_eliminations_of_the_engine() {
        let mut all = All::default();
        for puzzle in (MinimalByDeletion { seed: 8 }).puzzles(0..4000) {
            all.1 = Some(puzzle);
            walk(&puzzle, &WalkOptions::default(), &mut all);
        }
        assert!(all.2 >= 2000 && all.0.len() > 5000, "{} positions, {}", all.2, all.0.len());
        for specimen in &all.0 {
            let (split, steps) = (specimen.split(), specimen.explanation());
            assert_eq!(steps.removed_by_naked(), split.eliminations);
            assert_eq!(steps.removed_by_hidden(), split.eliminations);
            assert_eq!(
                (steps.naked_digits(), steps.hidden_cells()),
                (split.naked_digits, split.hidden)
            );
            assert_eq!(steps.naked.len(), usize::from(specimen.subset.naked));
            assert_eq!(steps.hidden.len(), usize::from(specimen.subset.hidden()));
        }
    }

    #[test]
    fn a_pair_and_a_triple_are_explained_as_by_hand() {
        insta::assert_snapshot!(pair_and_triple().explanation().text(Sides::Both));
    }
}
