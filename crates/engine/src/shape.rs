use std::fmt;
use std::str::FromStr;

use tallyhouse_words::{number_word, set_name};

/// How a house is split: its number of open cells and the size of the naked side.
///
/// A shape is what there is, a [`Look`](crate::Look) what somebody does; their notations differ.
///
/// ```
/// use tallyhouse_engine::Shape;
///
/// let shape: Shape = "8 open: naked 5 | hidden 3".parse()?;
/// assert_eq!((shape.open(), shape.naked(), shape.hidden()), (8, 5, 3));
/// assert_eq!(
///     shape.trade_words(),
///     "a hidden triple with eight open cells (the other five are a naked quintet)"
/// );
/// # Ok::<(), tallyhouse_engine::ShapeError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shape {
    open: u8,
    naked: u8,
}

/// A shape that no house can have, or a text that is none.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ShapeError {
    /// A house can't have so many open cells, or so few of them can't be split.
    #[error("2 to 9 open cells can be split, found {0}")]
    Open(u8),
    /// The naked side leaves no cell to the hidden side, or has none.
    #[error("the naked side of {open} open cells has 1 to {} of them, found {naked}", open - 1)]
    Naked {
        /// The number of open cells.
        open: u8,
        /// The size asked for.
        naked: u8,
    },
    /// The text is no shape.
    #[error("'{}' is no shape: expected one as in '8 open: naked 5 | hidden 3'", .0.escape_debug())]
    Text(String),
}

impl Shape {
    /// Makes a shape of a number of open cells and the size of the naked side.
    ///
    /// # Errors
    /// If there are not 2 to 9 open cells, or a side is empty.
    pub const fn new(open: u8, naked: u8) -> Result<Self, ShapeError> {
        if open < 2 || open > 9 {
            return Err(ShapeError::Open(open));
        }
        if naked < 1 || naked >= open {
            return Err(ShapeError::Naked { open, naked });
        }
        Ok(Self { open, naked })
    }

    /// A shape whose numbers are known to be those of a split.
    pub(crate) const fn of_split(open: u8, naked: u8) -> Self {
        Self { open, naked }
    }

    /// Iterates over all 36 shapes, by open cells, then naked side.
    pub fn all() -> impl Iterator<Item = Self> + Clone {
        (2..=9).flat_map(|open| (1..open).map(move |naked| Self { open, naked }))
    }

    /// Iterates over the shapes that a quiet position can have: a side of one cell would be a
    /// single, so each side has two or more.
    pub fn all_quiet() -> impl Iterator<Item = Self> + Clone {
        Self::all().filter(|shape| shape.naked.min(shape.hidden()) > 1)
    }

    /// Returns the number of open cells.
    #[must_use]
    pub const fn open(self) -> u8 {
        self.open
    }

    /// Returns the size of the naked side.
    #[must_use]
    pub const fn naked(self) -> u8 {
        self.naked
    }

    /// Returns the size of the hidden side.
    #[must_use]
    pub const fn hidden(self) -> u8 {
        self.open - self.naked
    }

    /// Writes the shape in the words of the trade, the smaller side first.
    #[must_use]
    pub fn trade_words(self) -> String {
        let (naked, hidden) = (("naked", self.naked), ("hidden", self.hidden()));
        let (smaller, other) = if naked.1 <= hidden.1 { (naked, hidden) } else { (hidden, naked) };
        format!(
            "a {} {} with {} open cells (the other {} {} a {} {})",
            smaller.0,
            set_name(smaller.1),
            number_word(self.open),
            number_word(other.1),
            if other.1 == 1 { "is" } else { "are" },
            other.0,
            set_name(other.1),
        )
    }
}

impl fmt::Display for Shape {
    /// Writes `8 open: naked 5 | hidden 3`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} open: naked {} | hidden {}", self.open, self.naked, self.hidden()))
    }
}

impl FromStr for Shape {
    type Err = ShapeError;

    /// Reads what [`Shape`] prints.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let unreadable = || ShapeError::Text(text.to_owned());
        let number = |word: &str| word.parse::<u8>().map_err(|_| unreadable());
        let words: Vec<&str> = text.split_whitespace().collect();
        let [open, "open:", "naked", naked, "|", "hidden", hidden] = words[..] else {
            return Err(unreadable());
        };
        let (shape, hidden) = (Self::new(number(open)?, number(naked)?)?, number(hidden)?);
        if shape.hidden() == hidden { Ok(shape) } else { Err(unreadable()) }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn there_are_36_shapes_and_21_of_quiet_positions() {
        let all: Vec<Shape> = Shape::all().collect();
        assert_eq!(all.len(), (1..=8).sum::<usize>());
        assert!(all.is_sorted());
        let quiet: Vec<Shape> = Shape::all_quiet().collect();
        assert_eq!(quiet.len(), (1..=6).sum::<usize>());
        assert!(quiet.iter().all(|shape| shape.naked() >= 2 && shape.hidden() >= 2));
    }

    #[test]
    fn shapes_are_written_as_defined() {
        let shape = |open, naked| Shape::new(open, naked).unwrap();
        assert_eq!(shape(8, 5).to_string(), "8 open: naked 5 | hidden 3");
        for (open, naked, words) in [
            (5, 2, "a naked pair with five open cells (the other three are a hidden triple)"),
            (8, 4, "a naked quad with eight open cells (the other four are a hidden quad)"),
            (9, 7, "a hidden pair with nine open cells (the other seven are a naked set of seven)"),
            (2, 1, "a naked single with two open cells (the other one is a hidden single)"),
        ] {
            assert_eq!(shape(open, naked).trade_words(), words);
        }
    }

    #[test]
    fn shapes_round_trip_and_bad_ones_are_refused() {
        for shape in Shape::all() {
            assert_eq!(shape.to_string().parse(), Ok(shape));
        }
        for (text, part) in [
            ("1 open: naked 1 | hidden 0", "2 to 9 open cells"),
            ("10 open: naked 5 | hidden 5", "2 to 9 open cells"),
            ("4 open: naked 4 | hidden 0", "1 to 3 of them, found 4"),
            ("4 open: naked 0 | hidden 4", "1 to 3 of them, found 0"),
            ("8 open: naked 5 | hidden 4", "is no shape"),
            ("naked 5 open 8", "is no shape"),
            ("", "is no shape"),
        ] {
            let message = text.parse::<Shape>().unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in any::<String>(), words in "[0-9a-z:|. ]{0,40}") {
            for text in [text, words] {
                if let Ok(shape) = text.parse::<Shape>() {
                    prop_assert_eq!(shape.to_string().parse::<Shape>(), Ok(shape));
                }
            }
        }
    }
}
