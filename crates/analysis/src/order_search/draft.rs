//! Orders as the search changes them.

use std::cmp::Reverse;
use std::fmt;

use tallyhouse_engine::{Look, OpenCounts, Order, Size};

use super::OrderError;

/// Which side of a split is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Side {
    Naked,
    Hidden,
}

impl Side {
    pub(super) const BOTH: [Self; 2] = [Self::Naked, Self::Hidden];

    pub(super) const fn other(self) -> Self {
        match self {
            Self::Naked => Self::Hidden,
            Self::Hidden => Self::Naked,
        }
    }
}

/// A side and a size: what is looked for, wherever.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Kind {
    pub(super) side: Side,
    pub(super) size: u8,
}

impl Kind {
    /// Every subset that can be looked for, sizes 2 to 8.
    pub(super) fn subsets() -> impl Iterator<Item = Self> {
        (2..=8).flat_map(|size| Side::BOTH.map(|side| Self { side, size }))
    }

    /// The least open count of a house in which it can be found.
    pub(super) const fn least_open(self) -> u8 {
        if self.size == 1 { 1 } else { self.size + 1 }
    }

    /// The whole look, in every house that can hold it.
    pub(super) const fn everywhere(self) -> Rung {
        Rung { kind: self, low: self.least_open(), high: 9 }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let side = match self.side {
            Side::Naked => "naked",
            Side::Hidden => "hidden",
        };
        write!(f, "{side} {}", self.size)
    }
}

/// One look: what is looked for in houses of `low..=high` open cells, all of which can hold it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Rung {
    pub(super) kind: Kind,
    pub(super) low: u8,
    pub(super) high: u8,
}

impl Rung {
    pub(super) fn overlaps(self, other: Self) -> bool {
        self.kind == other.kind && self.low <= other.high && other.low <= self.high
    }

    pub(super) fn is_everywhere(self) -> bool {
        self == self.kind.everywhere()
    }

    /// The same, one open count at a time; singles stay whole.
    fn pieces(self) -> impl Iterator<Item = Self> {
        let end = if self.kind.size == 1 { self.low } else { self.high };
        (self.low..=end).map(move |open| {
            let high = if self.kind.size == 1 { self.high } else { open };
            Self { low: open, high, ..self }
        })
    }

    /// The shape that a piece finds as a bit, none for singles: see [`Draft::shapes`].
    fn shape(self) -> u128 {
        let Kind { side, size } = self.kind;
        let naked = match side {
            Side::Naked => size,
            Side::Hidden => self.low - size.min(self.low),
        };
        if size == 1 { 0 } else { 1 << (10 * self.low + naked) }
    }

    pub(super) fn look(self) -> Look {
        let Kind { side, size } = self.kind;
        let low = if self.is_everywhere() { 1 } else { self.low };
        let size = OpenCounts::new(low, self.high)
            .and_then(|open| Size::within(size, open))
            .unwrap_or_else(|error| unreachable!("{self:?}: {error}"));
        match side {
            Side::Naked => Look::Naked(size),
            Side::Hidden => Look::Hidden(size),
        }
    }
}

/// A list of looks in which both singles stand once, in every house, and no open count is looked at
/// twice for the same kind.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct Draft(Vec<Rung>);

impl Draft {
    /// Reads an order.
    ///
    /// # Errors
    /// [`OrderError::Unsearchable`] if it is not a list as above.
    pub(super) fn of(order: &Order) -> Result<Self, OrderError> {
        let refuse = |reason| OrderError::Unsearchable { order: order.to_string(), reason };
        let rung = |look: &Look| {
            let (side, size) = match look {
                Look::Naked(size) => (Side::Naked, size),
                Look::Hidden(size) => (Side::Hidden, size),
                _ => return Err(refuse("it looks for intersections")),
            };
            let kind = Kind { side, size: size.get() };
            let open = size.open();
            if !open.is_range() {
                return Err(refuse("it leaves out open counts between others"));
            }
            let (low, high) = (open.least(), open.most());
            Ok(Rung { kind, low: kind.least_open().max(low), high })
        };
        let rungs = order.looks().iter().map(rung).collect::<Result<Vec<_>, _>>()?;
        let singles = Side::BOTH.map(|side| Kind { side, size: 1 }.everywhere());
        if !singles.iter().all(|single| rungs.contains(single)) {
            return Err(refuse("it does not look for both naked and hidden singles everywhere"));
        }
        Self::checked(rungs).ok_or_else(|| refuse("it makes a look twice in the same houses"))
    }

    /// Takes rungs as they are, unless they are not a list as above.
    pub(super) fn checked(rungs: Vec<Rung>) -> Option<Self> {
        let singles = rungs.iter().filter(|rung| rung.kind.size == 1);
        let fits = singles.clone().count() == 2
            && singles.clone().all(|single| single.is_everywhere())
            && rungs.iter().all(|rung| {
                (1..=8).contains(&rung.kind.size)
                    && rung.kind.least_open() <= rung.low
                    && rung.low <= rung.high
                    && rung.high <= 9
            })
            && rungs
                .iter()
                .enumerate()
                .all(|(index, rung)| rungs[index + 1..].iter().all(|other| !rung.overlaps(*other)));
        fits.then_some(Self(rungs))
    }

    pub(super) fn rungs(&self) -> &[Rung] {
        &self.0
    }

    pub(super) fn order(&self) -> Order {
        let looks = self.0.iter().map(|rung| rung.look()).collect();
        Order::new(looks).unwrap_or_else(|error| unreachable!("{error}"))
    }

    /// Leaves out what can find nothing: a set whose other side is a single that was looked for before. In a
    /// house of three open cells, for one, a hidden pair leaves a naked single.
    pub(super) fn without_idle(&self) -> Self {
        let mut singles = Vec::new();
        let rungs = self.0.iter().filter_map(|&rung| {
            let Kind { side, size } = rung.kind;
            if size == 1 {
                singles.push(side);
                return Some(rung);
            }
            let is_idle = rung.low == size + 1 && singles.contains(&side.other());
            let low = rung.low + u8::from(is_idle);
            (low <= rung.high).then_some(Rung { low, ..rung })
        });
        Self(rungs.collect())
    }

    /// Orders with one look less, without the largest sets first.
    pub(super) fn shorter(&self) -> Vec<Self> {
        let mut subsets: Vec<Rung> =
            self.0.iter().copied().filter(|rung| rung.kind.size > 1).collect();
        subsets.sort_by_key(|rung| Reverse(rung.kind.size));
        let without = |left_out: Rung| {
            Self(self.0.iter().copied().filter(|rung| *rung != left_out).collect())
        };
        subsets.into_iter().map(without).collect()
    }

    /// The shapes that are looked for from either side, bit 10·n + k for n open cells and k cells on the
    /// naked side.
    fn shapes(&self) -> u128 {
        self.0.iter().flat_map(|rung| rung.pieces()).fold(0, |set, piece| set | piece.shape())
    }

    /// Tests if every shape looked for here is looked for there, from whichever side; each order looks for
    /// those with a single on one side.
    pub(super) fn is_within(&self, other: &Self) -> bool {
        let with_a_single =
            (2..=9).fold(0u128, |set, open| set | 1 << (10 * open + 1) | 1 << (11 * open - 1));
        self.shapes() & !other.shapes() & !with_a_single == 0
    }

    /// Makes looks in the order of this one and for the shapes of the other: what the other does not look
    /// for is left out, and what this one does not look for comes last, in the order of the other.
    pub(super) fn graft(&self, other: &Self) -> Self {
        let (own, wanted) = (self.shapes(), other.shapes());
        let pieces =
            |draft: &Self| draft.0.iter().flat_map(|rung| rung.pieces()).collect::<Vec<_>>();
        let kept = pieces(self).into_iter().filter(|piece| piece.shape() & !wanted == 0);
        let added = pieces(other).into_iter().filter(|piece| piece.shape() & !own != 0);
        Self::joined(kept.chain(added))
    }

    /// Makes an order of pieces, each kind and open count once; neighbours of one kind whose ranges meet
    /// become one range.
    pub(super) fn joined(pieces: impl IntoIterator<Item = Rung>) -> Self {
        let mut rungs: Vec<Rung> = Vec::new();
        for piece in pieces {
            match rungs.last_mut().filter(|last| last.kind == piece.kind) {
                Some(last) if last.high + 1 == piece.low => last.high = piece.high,
                Some(last) if piece.high + 1 == last.low => last.low = piece.low,
                _ => rungs.push(piece),
            }
        }
        Self::checked(rungs).unwrap_or_else(|| unreachable!("each look and open count comes once"))
    }

    /// Orders drafts that do the same: fewer looks, then fewer limited ones.
    pub(super) fn complexity(&self) -> (usize, usize) {
        (self.0.len(), self.0.iter().filter(|rung| !rung.is_everywhere()).count())
    }
}

#[cfg(test)]
pub(super) fn draft(text: &str) -> Draft {
    Draft::of(&text.parse().unwrap()).unwrap()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_round_trip() {
        for text in [
            Order::ladder().to_string().as_str(),
            "hidden 1, naked 3 open 7..9, naked 1, naked 3 open 4..6, hidden 8, naked 8",
        ] {
            assert_eq!(draft(text).order().to_string(), text);
        }
        // A range that leaves nothing out is no range.
        let whole = draft("naked 1, hidden 1, naked 4 open 3..9");
        assert_eq!(whole, draft("naked 1, hidden 1, naked 4"));
        assert_eq!(whole.order().to_string(), "naked 1, hidden 1, naked 4");
    }

    /// After a single on the other side, and only then.
    #[test]
    fn looks_that_can_find_nothing_are_left_out() {
        let kept = |text: &str| draft(text).without_idle().order().to_string();
        assert_eq!(
            kept("naked 1, hidden 2 open 3, hidden 3, naked 2, hidden 1, naked 3, naked 4 open 5"),
            "naked 1, hidden 3 open 5..9, naked 2, hidden 1, naked 3 open 5..9"
        );
        assert_eq!(kept("hidden 2, naked 1, hidden 1"), "hidden 2, naked 1, hidden 1");
        // What is left out is not missed.
        let whole = draft("naked 1, hidden 1, naked 2, hidden 3");
        assert!(whole.is_within(&whole.without_idle()));
    }

    #[test]
    fn shorter_orders_lack_one_look() {
        let orders = draft("naked 1, naked 2, hidden 1, hidden 3 open 9").shorter();
        let orders: Vec<String> = orders.iter().map(|draft| draft.order().to_string()).collect();
        assert_eq!(orders, ["naked 1, naked 2, hidden 1", "naked 1, hidden 1, hidden 3 open 9"]);
    }

    #[test]
    fn what_can_not_be_searched_is_refused() {
        for (text, reason) in [
            ("naked 1, hidden 1, intersections", "intersections"),
            ("naked 1, naked 2", "singles"),
            ("naked 1, hidden 1 open 3..9", "singles"),
            ("naked 1, hidden 1, naked 3, naked 3 open 5..6", "twice"),
        ] {
            let error = Draft::of(&text.parse().unwrap()).unwrap_err().to_string();
            assert!(error.contains(reason) && error.contains(text), "{error}");
        }
    }
}
