use std::fmt;
use std::str::FromStr;

use crate::{Cell, Digit, House};

/// Givens on a board, no digit twice in a house. Nothing is promised about solutions.
///
/// ```
/// use tallyhouse_board::Puzzle;
///
/// let puzzle: Puzzle = format!("12{}", ".".repeat(79)).parse()?;
/// assert_eq!(puzzle.clues(), 2);
/// let error = format!("11{}", ".".repeat(79)).parse::<Puzzle>().unwrap_err();
/// assert_eq!(error.to_string(), "1 stands twice in row 1: r1c1 and r1c2");
/// # Ok::<(), tallyhouse_board::ParsePuzzleError>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Puzzle {
    /// 0 for a blank cell.
    digits: [u8; Cell::COUNT],
}

/// A digit that a house shows twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Repeat {
    /// The digit.
    pub digit: Digit,
    /// The house that shows it twice; the first such house in the order rows, columns, boxes.
    pub house: House,
    /// The first cell with the digit.
    pub first: Cell,
    /// The second cell with the digit.
    pub second: Cell,
}

/// Why a text is not a puzzle.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ParsePuzzleError {
    /// The text does not have 81 characters.
    #[error("{found} character{} instead of 81", if *.found == 1 { "" } else { "s" })]
    Length {
        /// How many characters were found.
        found: usize,
    },
    /// A character is neither a digit nor a blank.
    #[error("character {column} is '{}': expected 1-9, or . or 0 for a blank", found.escape_debug())]
    Character {
        /// The place of the first such character, counted from 1.
        column: usize,
        /// What stands there.
        found: char,
    },
    /// A house shows a digit twice.
    #[error("{} stands twice in {}: {} and {}", .0.digit, .0.house, .0.first, .0.second)]
    Repeated(Repeat),
}

impl Puzzle {
    /// Builds a puzzle from the digit of each cell.
    ///
    /// # Errors
    /// The first repeat found, if a house shows a digit twice.
    pub fn new(digits: [Option<Digit>; Cell::COUNT]) -> Result<Self, Repeat> {
        let puzzle = Self { digits: digits.map(|digit| digit.map_or(0, Digit::value)) };
        match puzzle.repeat() {
            None => Ok(puzzle),
            Some(repeat) => Err(repeat),
        }
    }

    /// Tests quickly what almost always holds; [`Puzzle::repeat`] names the repeat.
    fn has_repeat(&self) -> bool {
        // How often a house shows each digit, in four bits each; the lowest four count blanks.
        const SEVERAL: u64 = 0xee_eeee_eee0;
        let mut columns = [0u64; 9];
        let mut several = 0;
        for band in self.digits.chunks_exact(27) {
            let mut boxes = [0u64; 3];
            for row in band.chunks_exact(9) {
                let mut of_row = 0;
                for (stack, digits) in row.chunks_exact(3).enumerate() {
                    let mut third = 0;
                    for (place, &digit) in digits.iter().enumerate() {
                        let one = 1u64 << (4 * (digit & 15));
                        third += one;
                        columns[stack * 3 + place] += one;
                    }
                    boxes[stack] += third;
                    of_row += third;
                }
                several |= of_row;
            }
            several |= boxes[0] | boxes[1] | boxes[2];
        }
        several = columns.iter().fold(several, |several, column| several | column);
        several & SEVERAL != 0
    }

    fn repeat(&self) -> Option<Repeat> {
        if !self.has_repeat() {
            return None;
        }
        for house in House::all() {
            let mut first: [Option<Cell>; 10] = [None; 10];
            for &cell in house.cells() {
                let Some(digit) = self.get(cell) else { continue };
                match first[usize::from(digit.value())] {
                    Some(first) => return Some(Repeat { digit, house, first, second: cell }),
                    None => first[usize::from(digit.value())] = Some(cell),
                }
            }
        }
        None
    }

    /// Returns the given of a cell.
    #[must_use]
    #[inline]
    pub fn get(&self, cell: Cell) -> Option<Digit> {
        Digit::new(self.digits[cell.index()])
    }

    /// Iterates over the givens in cell order.
    pub fn givens(&self) -> impl Iterator<Item = (Cell, Digit)> + '_ {
        Cell::all().filter_map(|cell| Some((cell, self.get(cell)?)))
    }

    /// Returns the number of givens.
    #[must_use]
    pub fn clues(&self) -> usize {
        usize::from(self.digits.iter().map(|&digit| u8::from(digit != 0)).sum::<u8>())
    }

    /// Returns the puzzle with this cell blank.
    #[must_use]
    pub const fn without(mut self, cell: Cell) -> Self {
        self.digits[cell.index()] = 0;
        self
    }

    /// Returns the values cell by cell, 0 for a blank.
    #[must_use]
    #[inline]
    pub const fn values(&self) -> &[u8; Cell::COUNT] {
        &self.digits
    }
}

impl FromStr for Puzzle {
    type Err = ParsePuzzleError;

    /// Reads exactly 81 characters, `1-9`, and `.` or `0` for a blank.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let characters: &[u8; Cell::COUNT] =
            text.as_bytes().try_into().map_err(|_| not_a_line(text))?;
        let digits =
            characters.map(|found| if found == b'.' { 0 } else { found.wrapping_sub(b'0') });
        if digits.iter().fold(0, |most, &digit| digit.max(most)) > 9 {
            return Err(not_a_line(text));
        }
        let puzzle = Self { digits };
        match puzzle.repeat() {
            None => Ok(puzzle),
            Some(repeat) => Err(ParsePuzzleError::Repeated(repeat)),
        }
    }
}

/// Says why a text is not 81 digits and blanks.
fn not_a_line(text: &str) -> ParsePuzzleError {
    let is_symbol = |found: char| found == '.' || found.is_ascii_digit();
    let other = text.chars().zip(1..).find(|&(found, _)| !is_symbol(found));
    match (text.chars().count(), other) {
        (Cell::COUNT, Some((found, column))) => ParsePuzzleError::Character { column, found },
        (found, _) => ParsePuzzleError::Length { found },
    }
}

impl fmt::Display for Puzzle {
    /// Writes 81 characters, `.` for a blank.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let line = self.digits.map(|digit| if digit == 0 { b'.' } else { b'0' + digit });
        f.pad(std::str::from_utf8(&line).map_err(|_| fmt::Error)?)
    }
}

impl fmt::Debug for Puzzle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Puzzle({self})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BLANK: &str =
        ".................................................................................";

    #[test]
    fn lines_round_trip_with_either_blank() {
        let line = format!("12{}", &BLANK[2..]);
        let puzzle: Puzzle = line.parse().unwrap();
        assert_eq!(puzzle.to_string(), line);
        assert_eq!(line.replace('.', "0").parse(), Ok(puzzle));
        assert_eq!(puzzle.clues(), 2);
        assert_eq!(puzzle.givens().last(), Some((Cell::at(0, 1), Digit::new(2).unwrap())));
        assert_eq!(puzzle.without(Cell::at(0, 0)).clues(), 1);
    }

    #[test]
    fn each_defect_has_its_message() {
        let message = |text: &str| text.parse::<Puzzle>().unwrap_err().to_string();
        assert_eq!(message(&BLANK[1..]), "80 characters instead of 81");
        assert_eq!(message(&format!("{BLANK}.")), "82 characters instead of 81");
        assert_eq!(message("."), "1 character instead of 81");
        let with = |at: usize, found: &str| format!("{}{found}{}", &BLANK[..at], &BLANK[at + 1..]);
        assert_eq!(
            message(&with(4, "x")),
            "character 5 is 'x': expected 1-9, or . or 0 for a blank"
        );
        assert!(message(&with(80, "é")).starts_with("character 81 is 'é'"));
        assert_eq!(
            message(&format!("7.......7{}", &BLANK[9..])),
            "7 stands twice in row 1: r1c1 and r1c9"
        );
        assert_eq!(
            message(&format!("7........7{}", &BLANK[10..])),
            "7 stands twice in column 1: r1c1 and r2c1"
        );
        assert_eq!(
            message(&format!("7.........7{}", &BLANK[11..])),
            "7 stands twice in box 1: r1c1 and r2c2"
        );
    }
}
