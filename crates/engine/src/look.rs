use std::fmt;
use std::ops::RangeInclusive;
use std::str::FromStr;

use crate::Subset;

/// One act of searching.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Look {
    /// Naked singles (size 1) or naked-proper subsets of this size.
    Naked(Size),
    /// Hidden singles (size 1) or hidden-proper subsets of this size.
    Hidden(Size),
    /// Box–line intersections.
    Intersections,
}

/// A subset size and the open counts of the houses in which it is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Size {
    size: u8,
    least_open: u8,
    most_open: u8,
}

/// A size or range that no house can have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LookError {
    /// The size is not 1 to 8.
    #[error("a look needs a size from 1 to 8, found {0}")]
    Size(u8),
    /// The range of open counts is empty or leaves 1 to 9.
    #[error("open counts run from 1 to 9 and may not be empty, found {0} to {1}")]
    Open(u8, u8),
    /// The size does not fit into any house of the range.
    #[error("size {size} does not fit into houses of at most {most_open} open cells")]
    TooLarge {
        /// The size asked for.
        size: u8,
        /// The upper end of the range.
        most_open: u8,
    },
    /// The text names no look.
    #[error("'{0}' is not a look: expected 'naked K', 'hidden K' or 'intersections'")]
    Text(String),
}

impl Size {
    /// Returns a size that is looked for in every house.
    ///
    /// # Errors
    /// [`LookError::Size`] outside 1 to 8.
    pub const fn new(size: u8) -> Result<Self, LookError> {
        Self::within(size, 1, 9)
    }

    /// Returns a size that is looked for only in houses with an open count in this range.
    ///
    /// # Errors
    /// If the size is outside 1 to 8, the range is empty, or the size fits into none of it.
    pub const fn within(size: u8, least_open: u8, most_open: u8) -> Result<Self, LookError> {
        if size < 1 || size > 8 {
            return Err(LookError::Size(size));
        }
        if least_open < 1 || most_open > 9 || least_open > most_open {
            return Err(LookError::Open(least_open, most_open));
        }
        // A single may be the last open cell of its house; a larger set needs a cell beside it.
        if size > most_open || (size > 1 && size == most_open) {
            return Err(LookError::TooLarge { size, most_open });
        }
        Ok(Self { size, least_open, most_open })
    }

    /// A size from 1 to 8 that is looked for in every house.
    pub(crate) const fn everywhere(size: u8) -> Self {
        Self { size, least_open: 1, most_open: 9 }
    }

    /// Returns the number of cells or digits looked for.
    #[must_use]
    pub const fn get(self) -> u8 {
        self.size
    }

    /// Returns the open counts in which the look is made.
    #[must_use]
    pub const fn open(self) -> RangeInclusive<u8> {
        self.least_open..=self.most_open
    }

    /// Tests if the look is made in houses of this open count.
    #[must_use]
    #[inline]
    pub const fn covers(self, open: u8) -> bool {
        self.least_open <= open && open <= self.most_open
    }
}

impl Look {
    /// Naked look of a size in every house; see [`Size::new`] for errors.
    pub fn naked(size: u8) -> Result<Self, LookError> {
        Size::new(size).map(Self::Naked)
    }

    /// Hidden look of a size in every house; see [`Size::new`] for errors.
    pub fn hidden(size: u8) -> Result<Self, LookError> {
        Size::new(size).map(Self::Hidden)
    }

    /// Tests if this is a look for singles.
    #[must_use]
    pub const fn is_single(self) -> bool {
        matches!(self, Self::Naked(Size { size: 1, .. }) | Self::Hidden(Size { size: 1, .. }))
    }

    /// Tests if a person making this look finds the subset.
    #[must_use]
    #[inline]
    pub const fn finds(self, subset: &Subset) -> bool {
        match self {
            Self::Naked(size) => {
                subset.naked_proper && subset.naked == size.size && size.covers(subset.open)
            }
            Self::Hidden(size) => {
                subset.hidden_proper && subset.hidden() == size.size && size.covers(subset.open)
            }
            Self::Intersections => false,
        }
    }
}

impl fmt::Display for Look {
    /// Writes `naked 2`, or `hidden 3 open 8..9` where the range is limited.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (side, size) = match self {
            Self::Naked(size) => ("naked", size),
            Self::Hidden(size) => ("hidden", size),
            Self::Intersections => return f.pad("intersections"),
        };
        if (size.least_open, size.most_open) == (1, 9) {
            f.pad(&format!("{side} {}", size.size))
        } else {
            f.pad(&format!("{side} {} open {}..{}", size.size, size.least_open, size.most_open))
        }
    }
}

impl FromStr for Look {
    type Err = LookError;

    /// Reads what [`Look`] prints.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let unreadable = || LookError::Text(text.to_owned());
        let number = |word: &str| word.parse::<u8>().map_err(|_| unreadable());
        let words: Vec<&str> = text.split_whitespace().collect();
        let (side, size, range) = match words[..] {
            ["intersections"] => return Ok(Self::Intersections),
            [side, size] => (side, number(size)?, (1, 9)),
            [side, size, "open", range] => {
                let (least, most) = range.split_once("..").ok_or_else(unreadable)?;
                (side, number(size)?, (number(least)?, number(most)?))
            }
            _ => return Err(unreadable()),
        };
        let size = Size::within(size, range.0, range.1)?;
        match side {
            "naked" => Ok(Self::Naked(size)),
            "hidden" => Ok(Self::Hidden(size)),
            _ => Err(unreadable()),
        }
    }
}

/// An ordered list of looks, at least one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order(Vec<Look>);

/// A list of looks without any look.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("an order of looks needs at least one look")]
pub struct EmptyOrder;

impl Order {
    /// Makes an order from its looks, first look first.
    ///
    /// # Errors
    /// [`EmptyOrder`] if there is none.
    pub fn new(looks: Vec<Look>) -> Result<Self, EmptyOrder> {
        if looks.is_empty() { Err(EmptyOrder) } else { Ok(Self(looks)) }
    }

    /// The default ladder: naked before hidden, sizes 1 to 4.
    ///
    /// Every split has a side of at most four cells, so it finds every subset there is.
    #[must_use]
    pub fn ladder() -> Self {
        let rung =
            |size| [Look::Naked(Size::everywhere(size)), Look::Hidden(Size::everywhere(size))];
        Self((1..=4).flat_map(rung).collect())
    }

    /// Adds box–line intersections after the last look for pairs (at the end if there is none).
    #[must_use]
    pub fn with_intersections(mut self) -> Self {
        let is_pair = |look: &Look| matches!(look, Look::Naked(s) | Look::Hidden(s) if s.size == 2);
        let after = self.0.iter().rposition(is_pair).map_or(self.0.len(), |index| index + 1);
        self.0.insert(after, Look::Intersections);
        self
    }

    /// Returns the looks, first look first.
    #[must_use]
    pub fn looks(&self) -> &[Look] {
        &self.0
    }
}

impl fmt::Display for Order {
    /// Writes the looks, separated by commas.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let looks: Vec<String> = self.0.iter().map(Look::to_string).collect();
        f.pad(&looks.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ladder_reads_as_defined() {
        let order = Order::ladder();
        assert_eq!(
            order.to_string(),
            "naked 1, hidden 1, naked 2, hidden 2, naked 3, hidden 3, naked 4, hidden 4"
        );
        let order = order.with_intersections();
        assert_eq!(order.looks()[4], Look::Intersections);
        assert_eq!(order.looks().len(), 9);
    }

    #[test]
    fn looks_round_trip_and_bad_ones_are_refused() {
        for text in ["naked 1", "hidden 4", "naked 5 open 8..9", "intersections"] {
            assert_eq!(text.parse::<Look>().unwrap().to_string(), text);
        }
        for (text, part) in [
            ("naked 9", "size from 1 to 8"),
            ("naked 0", "size from 1 to 8"),
            ("naked 6 open 4..5", "does not fit"),
            ("naked 5 open 4..5", "does not fit"),
            ("hidden 2 open 7..4", "open counts"),
            ("bare 2", "is not a look"),
            ("naked", "is not a look"),
            ("naked two", "is not a look"),
        ] {
            let message = text.parse::<Look>().unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
        assert_eq!(Order::new(vec![]), Err(EmptyOrder));
    }
}
