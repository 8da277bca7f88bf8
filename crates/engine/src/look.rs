use std::fmt;
use std::str::FromStr;

use tallyhouse_words::set_size;

use crate::{Shape, Subset};

/// One act of searching.
///
/// ```
/// use tallyhouse_engine::Look;
///
/// let look: Look = "naked quintet open 8".parse()?;
/// assert_eq!(look.to_string(), "naked 5 open 8");
/// assert_eq!("hidden 2 open 7..9".parse::<Look>()?.to_string(), "hidden 2 open 7..9");
/// assert_eq!(Look::hidden(3)?.to_string(), "hidden 3");
/// # Ok::<(), tallyhouse_engine::LookError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
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
    open: OpenCounts,
}

/// Some of the open counts from 1 to 9; all of them for every house.
///
/// Written `8` for a single count, `7..9` for several, and `4..7 and 9` where some are left out.
///
/// ```
/// use tallyhouse_engine::OpenCounts;
///
/// let counts = OpenCounts::new(4, 9)?.without(8).expect("there are others");
/// assert_eq!(counts.to_string(), "4..7 and 9");
/// assert_eq!("4..7 and 9".parse(), Ok(counts));
/// # Ok::<(), tallyhouse_engine::LookError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct OpenCounts(u16);

/// A size or range that no house can have, or a text that is no look.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
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
    /// The text names no range of open counts.
    #[error(
        "'{}' is no open count: expected one from 1 to 9, a range as in '7..9', or '4..7 and 9'",
        .0.escape_debug()
    )]
    Range(String),
    /// The text names no look.
    #[error(
        "'{}' is not a look: expected 'naked K' or 'hidden K', with 'open N' or 'open N..M' after \
         it if houses of some open counts are meant, or 'intersections'",
        .0.escape_debug()
    )]
    Text(String),
    /// Intersections were to be sought in some houses only.
    #[error("intersections are looked for in every house: expected no open count")]
    Intersections,
}

impl OpenCounts {
    /// Every open count.
    pub const ALL: Self = Self(0b11_1111_1110);

    /// Makes a range of its first and last open count.
    ///
    /// # Errors
    /// [`LookError::Open`] if it is empty or leaves 1 to 9.
    pub const fn new(least: u8, most: u8) -> Result<Self, LookError> {
        if least < 1 || most > 9 || least > most {
            return Err(LookError::Open(least, most));
        }
        Ok(Self((2 << most) - (1 << least)))
    }

    /// Returns the counts but for one; `None` if there is no other.
    #[must_use]
    pub fn without(self, open: u8) -> Option<Self> {
        let rest = (1..=9).filter(|&count| count != open && self.contains(count));
        let rest = rest.fold(0, |rest, count| rest | 1 << count);
        (rest != 0).then_some(Self(rest))
    }

    /// Returns the counts, in order.
    pub fn counts(self) -> impl Iterator<Item = u8> + Clone {
        (1..=9).filter(move |&open| self.contains(open))
    }

    /// Returns the least count.
    #[must_use]
    pub const fn least(self) -> u8 {
        self.0.trailing_zeros() as u8
    }

    /// Returns the greatest count.
    #[must_use]
    pub const fn most(self) -> u8 {
        self.0.ilog2() as u8
    }

    /// Tests if no count between the least and the greatest is left out.
    #[must_use]
    pub fn is_range(self) -> bool {
        Self::new(self.least(), self.most()) == Ok(self)
    }

    /// Tests if an open count is among them.
    #[must_use]
    #[inline]
    pub const fn contains(self, open: u8) -> bool {
        open <= 9 && self.0 >> open & 1 == 1
    }
}

impl fmt::Display for OpenCounts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let counts: Vec<u8> = self.counts().collect();
        let runs = counts.chunk_by(|a, b| a + 1 == *b).map(|run| match run {
            [first, .., last] => format!("{first}..{last}"),
            run => run.iter().map(u8::to_string).collect(),
        });
        f.pad(&runs.collect::<Vec<_>>().join(AND))
    }
}

/// What stands between ranges.
const AND: &str = " and ";

impl FromStr for OpenCounts {
    type Err = LookError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let number = |word| number(word).ok_or_else(|| LookError::Range(text.to_owned()));
        let mut all = 0;
        for range in text.split(AND) {
            let (least, most) = range.split_once("..").unwrap_or((range, range));
            all |= Self::new(number(least)?, number(most)?)?.0;
        }
        Ok(Self(all))
    }
}

/// Reads a number of nothing but digits.
fn number(word: &str) -> Option<u8> {
    word.bytes().all(|byte| byte.is_ascii_digit()).then(|| word.parse().ok())?
}

impl Size {
    /// Returns a size that is looked for in every house.
    ///
    /// # Errors
    /// [`LookError::Size`] outside 1 to 8.
    pub const fn new(size: u8) -> Result<Self, LookError> {
        Self::within(size, OpenCounts::ALL)
    }

    /// Returns a size that is looked for only in houses with one of these open counts.
    ///
    /// # Errors
    /// If the size is outside 1 to 8, or fits into no such house.
    pub const fn within(size: u8, open: OpenCounts) -> Result<Self, LookError> {
        if size < 1 || size > 8 {
            return Err(LookError::Size(size));
        }
        // A single may be the last open cell of its house; a larger set needs a cell beside it.
        let most_open = open.most();
        if size > most_open || (size > 1 && size == most_open) {
            return Err(LookError::TooLarge { size, most_open });
        }
        Ok(Self { size, open })
    }

    /// A size from 1 to 8 that is looked for in every house.
    pub(crate) const fn everywhere(size: u8) -> Self {
        Self { size, open: OpenCounts::ALL }
    }

    /// Returns the number of cells or digits looked for.
    #[must_use]
    #[inline]
    pub const fn get(self) -> u8 {
        self.size
    }

    /// Returns the open counts in which the look is made.
    #[must_use]
    pub const fn open(self) -> OpenCounts {
        self.open
    }

    /// Tests if the look is made in houses of this open count.
    #[must_use]
    #[inline]
    pub const fn covers(self, open: u8) -> bool {
        self.open.contains(open)
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

    /// Returns the same look, made in houses of these open counts.
    ///
    /// # Errors
    /// If the size fits into no house of the range, or the look is for intersections.
    pub fn within(self, open: OpenCounts) -> Result<Self, LookError> {
        match self {
            Self::Naked(size) => Size::within(size.size, open).map(Self::Naked),
            Self::Hidden(size) => Size::within(size.size, open).map(Self::Hidden),
            Self::Intersections => Err(LookError::Intersections),
        }
    }

    /// Returns the same look, not made where it would find this shape; `None` if it is made nowhere then.
    #[must_use]
    pub fn without(self, shape: Shape) -> Option<Self> {
        if !self.covers(shape) {
            return Some(self);
        }
        let open = self.size()?.open().without(shape.open())?;
        self.within(open).ok()
    }

    /// Returns the size and its open counts; intersections have none.
    #[must_use]
    #[inline]
    pub const fn size(self) -> Option<Size> {
        match self {
            Self::Naked(size) | Self::Hidden(size) => Some(size),
            Self::Intersections => None,
        }
    }

    /// Returns the same look, made in every house.
    #[must_use]
    pub const fn everywhere(self) -> Self {
        match self {
            Self::Naked(size) => Self::Naked(Size::everywhere(size.size)),
            Self::Hidden(size) => Self::Hidden(Size::everywhere(size.size)),
            Self::Intersections => Self::Intersections,
        }
    }

    /// Tests if this is a look for singles.
    #[must_use]
    pub const fn is_single(self) -> bool {
        matches!(self, Self::Naked(Size { size: 1, .. }) | Self::Hidden(Size { size: 1, .. }))
    }

    /// Tests if this is a look for subsets: neither for singles nor for intersections.
    #[inline]
    pub(crate) fn is_for_subsets(self) -> bool {
        self.size().is_some_and(|size| size.size > 1)
    }

    /// Tests if subsets of this shape are sought, from the look's own side.
    #[must_use]
    #[inline]
    pub const fn covers(self, shape: Shape) -> bool {
        match self {
            Self::Naked(size) => shape.naked() == size.size && size.covers(shape.open()),
            Self::Hidden(size) => shape.hidden() == size.size && size.covers(shape.open()),
            Self::Intersections => false,
        }
    }

    /// Tests if a person making this look finds the subset.
    #[must_use]
    #[inline]
    pub const fn finds(self, subset: &Subset) -> bool {
        let is_proper = match self {
            Self::Naked(_) => subset.naked_proper,
            Self::Hidden(_) => subset.hidden_proper,
            Self::Intersections => false,
        };
        is_proper && self.covers(subset.shape())
    }
}

impl fmt::Display for Look {
    /// Writes `naked 2`, or `naked 5 open 8` or `hidden 2 open 7..9` where the range is limited.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (side, Size { size, open }) = match self {
            Self::Naked(size) => ("naked", size),
            Self::Hidden(size) => ("hidden", size),
            Self::Intersections => return f.pad("intersections"),
        };
        if *open == OpenCounts::ALL {
            f.pad(&format!("{side} {size}"))
        } else {
            f.pad(&format!("{side} {size} open {open}"))
        }
    }
}

impl FromStr for Look {
    type Err = LookError;

    /// Reads what [`Look`] prints, and the trade's names of sizes in place of numbers.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let unreadable = || LookError::Text(text.to_owned());
        let words: Vec<&str> = text.split_whitespace().collect();
        let (look, range) = match words.iter().position(|word| *word == "open") {
            Some(open) if open + 1 < words.len() => {
                (&words[..open], Some(words[open + 1..].join(" ").parse()?))
            }
            _ => (&words[..], None),
        };
        let (&side, size) = look.split_first().ok_or_else(unreadable)?;
        let size = || -> Result<Size, LookError> {
            let name = size.join(" ");
            let size = number(&name).or_else(|| set_size(&name)).ok_or_else(unreadable)?;
            Size::new(size)
        };
        let look = match side {
            "naked" => Self::Naked(size()?),
            "hidden" => Self::Hidden(size()?),
            "intersections" if look.len() == 1 => Self::Intersections,
            _ => return Err(unreadable()),
        };
        range.map_or(Ok(look), |range| look.within(range))
    }
}

/// An ordered list of looks: at least one, and none of them twice.
///
/// ```
/// use tallyhouse_engine::Order;
///
/// let order: Order = "naked 1, hidden 1, naked pair, hidden 3 open 6..9".parse()?;
/// assert_eq!(order.to_string(), "naked 1, hidden 1, naked 2, hidden 3 open 6..9");
/// assert_eq!(
///     "naked 1, naked 2, naked 2".parse::<Order>().unwrap_err().to_string(),
///     "look 3 is 'naked 2', as look 2 is already: expected each look once"
/// );
/// # Ok::<(), tallyhouse_engine::OrderError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order(Vec<Look>);

/// Looks that make no order. Looks are counted from 1.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum OrderError {
    /// There is no look.
    #[error("an order of looks needs at least one look")]
    Empty,
    /// A look stands twice.
    #[error("look {again} is '{look}', as look {first} is already: expected each look once")]
    Repeated {
        /// The look.
        look: Look,
        /// Where it stands first.
        first: usize,
        /// Where it stands again.
        again: usize,
    },
    /// There are more looks than anybody can make sense of.
    #[error("{0} looks: expected at most {most}", most = Order::MOST)]
    TooMany(usize),
    /// A text of the list is not a look.
    #[error("look {number}: {error}")]
    Look {
        /// Where it stands.
        number: usize,
        /// What is wrong with it.
        error: LookError,
    },
}

impl Order {
    /// The most looks that an order may have.
    pub const MOST: usize = 200;

    /// Makes an order from its looks, first look first.
    ///
    /// # Errors
    /// If there is none, one stands twice, or there are more than [`Order::MOST`].
    pub fn new(looks: Vec<Look>) -> Result<Self, OrderError> {
        if looks.is_empty() {
            return Err(OrderError::Empty);
        }
        if looks.len() > Self::MOST {
            return Err(OrderError::TooMany(looks.len()));
        }
        for (again, look) in looks.iter().enumerate() {
            if let Some(first) = looks[..again].iter().position(|earlier| earlier == look) {
                let (first, again) = (first + 1, again + 1);
                return Err(OrderError::Repeated { look: *look, first, again });
            }
        }
        Ok(Self(looks))
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

    /// Adds box–line intersections after the last look for pairs (at the end if there is none),
    /// unless they are looked for already.
    #[must_use]
    pub fn with_intersections(mut self) -> Self {
        if !self.0.contains(&Look::Intersections) {
            let is_pair = |look: &Look| look.size().is_some_and(|size| size.get() == 2);
            let after = self.0.iter().rposition(is_pair).map_or(self.0.len(), |index| index + 1);
            self.0.insert(after, Look::Intersections);
        }
        self
    }

    /// Leaves a shape out: no look is made where it would find it. `None` if no look is left.
    ///
    /// ```
    /// use tallyhouse_engine::Order;
    ///
    /// let order: Order = "naked 1, naked 4, hidden 4".parse()?;
    /// let rest = order.without("8 open: naked 4 | hidden 4".parse().expect("a shape"));
    /// let looks = "naked 1, naked 4 open 1..7 and 9, hidden 4 open 1..7 and 9";
    /// assert_eq!(rest.expect("singles are left").to_string(), looks);
    /// # Ok::<(), tallyhouse_engine::OrderError>(())
    /// ```
    #[must_use]
    pub fn without(&self, shape: Shape) -> Option<Self> {
        let looks: Vec<Look> = self.0.iter().filter_map(|look| look.without(shape)).collect();
        (!looks.is_empty()).then_some(Self(looks))
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

impl FromStr for Order {
    type Err = OrderError;

    /// Reads looks separated by commas; a comma at the end is no fault.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let texts = text.split(',').map(str::trim).filter(|look| !look.is_empty());
        let look = |(index, text): (usize, &str)| {
            text.parse().map_err(|error| OrderError::Look { number: index + 1, error })
        };
        Self::new(texts.enumerate().map(look).collect::<Result<_, _>>()?)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use tallyhouse_board::{DigitSet, House, PlaceSet};

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
        assert_eq!(order.clone().with_intersections(), order);
    }

    #[test]
    fn looks_round_trip() {
        for text in [
            "naked 1",
            "hidden 4",
            "naked 5 open 8",
            "naked 5 open 8..9",
            "hidden 1 open 1..8",
            "hidden 3 open 4 and 6..7 and 9",
            "intersections",
        ] {
            assert_eq!(text.parse::<Look>().unwrap().to_string(), text);
        }
        for size in 1..=8 {
            for (least, most) in
                (1..=9).flat_map(|least| (least..=9).map(move |most| (least, most)))
            {
                let Ok(size) = Size::within(size, OpenCounts::new(least, most).unwrap()) else {
                    continue;
                };
                for look in [Look::Naked(size), Look::Hidden(size)] {
                    assert_eq!(look.to_string().parse(), Ok(look));
                }
            }
        }
    }

    #[test]
    fn other_ways_to_write_a_look_are_read() {
        for (text, written) in [
            ("naked quintet open 8", "naked 5 open 8"),
            ("hidden  triple", "hidden 3"),
            (" naked single ", "naked 1"),
            ("hidden set of six open 9", "hidden 6 open 9"),
            ("naked 2 open 7..7", "naked 2 open 7"),
            ("naked 2 open 1..9", "naked 2"),
            ("naked 2 open 8 and  4..6 and 7", "naked 2 open 4..8"),
        ] {
            assert_eq!(text.parse::<Look>().unwrap().to_string(), written);
        }
    }

    #[test]
    fn what_is_no_look_is_refused() {
        for (text, part) in [
            ("naked 9", "size from 1 to 8"),
            ("naked 0", "size from 1 to 8"),
            ("naked set of nine", "size from 1 to 8"),
            ("naked 6 open 4..5", "does not fit"),
            ("naked 5 open 4..5", "does not fit"),
            ("hidden 2 open 7..4", "open counts"),
            ("hidden 2 open 0", "open counts"),
            ("hidden 2 open 10", "open counts"),
            ("hidden 2 open x", "'x' is no open count"),
            ("hidden 2 open ..", "'..' is no open count"),
            ("hidden 2 open 7..8..9", "is no open count"),
            ("hidden 2 open 300", "is no open count"),
            ("hidden 2 open 7 8", "'7 8' is no open count"),
            ("hidden 2 open 7 and", "'7 and' is no open count"),
            ("intersections open 7", "every house"),
            ("intersections 2", "is not a look"),
            ("bare 2", "is not a look"),
            ("naked", "is not a look"),
            ("naked two", "is not a look"),
            ("naked 999", "is not a look"),
            ("naked +2", "is not a look"),
            ("naked 2 open", "is not a look"),
            ("naked 2 of 7", "is not a look"),
            ("", "is not a look"),
            ("open 7", "is not a look"),
            ("naked \u{1b}[2J", "\\u{1b}[2J"),
        ] {
            let message = text.parse::<Look>().unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
    }

    #[test]
    fn a_look_covers_the_shapes_of_its_own_side_in_its_range() {
        let [naked, hidden] = ["naked 3 open 5..7", "hidden 3 open 5..7"].map(|text| {
            let look: Look = text.parse().unwrap();
            let covered = Shape::all().filter(|&shape| look.covers(shape));
            covered.map(|shape| (shape.open(), shape.naked())).collect::<Vec<_>>()
        });
        assert_eq!(naked, [(5, 3), (6, 3), (7, 3)]);
        assert_eq!(hidden, [(5, 2), (6, 3), (7, 4)]);
        assert!(!Shape::all().any(|shape| Look::Intersections.covers(shape)));
    }

    #[test]
    fn a_shape_is_left_out_on_both_sides() {
        for shape in Shape::all() {
            let rest = Order::ladder().without(shape).unwrap();
            let covered = |other| rest.looks().iter().any(|look| look.covers(other));
            assert!(Shape::all().all(|other| covered(other) == (other != shape)));
        }
        let only: Order = "hidden 3 open 8".parse().unwrap();
        assert_eq!(only.without(Shape::new(8, 5).unwrap()), None);
        assert_eq!(only.without(Shape::new(8, 3).unwrap()), Some(only));
        let triples: Order = "naked 3 open 3..4, intersections".parse().unwrap();
        let rest = triples.without(Shape::new(4, 3).unwrap()).unwrap();
        assert_eq!(rest.to_string(), "intersections");
    }

    #[test]
    fn a_look_finds_what_is_proper_on_its_side() {
        let subset = |naked_proper, hidden_proper| Subset {
            house: House::row(0),
            open: 6,
            naked: 2,
            live_open: 6,
            live_naked: 2,
            cells: PlaceSet::from_bits_truncate(0b11),
            digits: DigitSet::from_bits_truncate(0b11),
            eliminations: 1,
            naked_proper,
            hidden_proper,
            applied: false,
        };
        for (look, finds) in [
            ("naked 2", [true, false]),
            ("naked 2 open 6", [true, false]),
            ("naked 2 open 7..9", [false, false]),
            ("hidden 4", [false, true]),
            ("hidden 4 open 5", [false, false]),
            ("hidden 2", [false, false]),
            ("intersections", [false, false]),
        ] {
            let look: Look = look.parse().unwrap();
            let found = [(true, false), (false, true)].map(|(n, h)| look.finds(&subset(n, h)));
            assert_eq!(found, finds, "{look}");
        }
    }

    #[test]
    fn a_look_is_made_elsewhere_too() {
        let look: Look = "hidden 3 open 8".parse().unwrap();
        let open = |least, most| OpenCounts::new(least, most).unwrap();
        assert_eq!(look.everywhere(), Look::hidden(3).unwrap());
        assert_eq!(look.within(open(4, 9)).unwrap().to_string(), "hidden 3 open 4..9");
        let naked = Look::naked(2).unwrap();
        assert_eq!(naked.everywhere(), naked);
        assert_eq!(naked.within(open(5, 5)).unwrap().to_string(), "naked 2 open 5");
        let error = LookError::TooLarge { size: 2, most_open: 2 };
        assert_eq!(naked.within(open(1, 2)), Err(error));
        assert_eq!(Look::Intersections.everywhere(), Look::Intersections);
        assert_eq!(Look::Intersections.within(OpenCounts::ALL), Err(LookError::Intersections));
        let counts: Vec<u8> = open(7, 9).counts().collect();
        assert_eq!(counts, [7, 8, 9]);
        let holed = open(4, 9).without(6).unwrap();
        assert_eq!(holed.counts().collect::<Vec<_>>(), [4, 5, 7, 8, 9]);
        assert_eq!((holed.least(), holed.most(), holed.is_range()), (4, 9, false));
        assert!(holed.without(4).unwrap().without(5).unwrap().is_range());
        assert_eq!(open(7, 7).without(7), None);
        assert!(!open(7, 8).contains(6) && !open(7, 8).contains(9));
        // A single may be the last open cell of its house.
        assert!("naked 1 open 1".parse::<Look>().is_ok());
        let singles = ["naked 1", "hidden 1 open 2", "naked 2", "intersections"];
        let kinds = singles.map(|text| {
            let look: Look = text.parse().unwrap();
            (look.is_single(), look.is_for_subsets())
        });
        assert_eq!(kinds, [(true, false), (true, false), (false, true), (false, false)]);
    }

    #[test]
    fn an_order_holds_each_look_once() {
        let read = |text: &str| text.parse::<Order>();
        assert_eq!(Order::new(vec![]), Err(OrderError::Empty));
        assert_eq!(read(" , "), Err(OrderError::Empty));
        for (text, message) in [
            ("naked 1, naked 2, naked 2", "look 3 is 'naked 2', as look 2 is already"),
            (
                "hidden 3 open 7, naked 1, hidden triple open 7..7",
                "look 3 is 'hidden 3 open 7', as",
            ),
            ("naked 1, intersections, naked 2, intersections", "look 4 is 'intersections', as"),
            ("naked 1,, bare 2", "look 2: 'bare 2' is not a look"),
        ] {
            let found = read(text).unwrap_err().to_string();
            assert!(found.starts_with(message), "{found}");
        }
        // The same size in other houses is another look.
        let twice = "naked 2 open 4, naked 2 open 4..5, naked 2, hidden 2";
        assert_eq!(read(twice).unwrap().to_string(), twice);
    }

    #[test]
    fn an_order_has_an_end() {
        let ranges = || (1..=9).flat_map(|least| (least..=9).map(move |most| (least, most)));
        let every = (1..=8).flat_map(|size| {
            let sizes = ranges()
                .filter_map(move |(a, b)| Size::within(size, OpenCounts::new(a, b).ok()?).ok());
            sizes.flat_map(|size| [Look::Naked(size), Look::Hidden(size)])
        });
        let most: Vec<Look> = every.take(Order::MOST + 1).collect();
        assert_eq!(Order::new(most.clone()), Err(OrderError::TooMany(Order::MOST + 1)));
        assert!(Order::new(most[1..].to_vec()).is_ok());
    }

    proptest! {
        #[test]
        fn no_text_panics(text in any::<String>(), words in "[0-9a-z., ]{0,40}") {
            for text in [text, words] {
                if let Ok(look) = text.parse::<Look>() {
                    prop_assert_eq!(look.to_string().parse::<Look>(), Ok(look));
                }
                if let Ok(order) = text.parse::<Order>() {
                    prop_assert_eq!(order.to_string().parse::<Order>(), Ok(order));
                }
            }
        }
    }
}
