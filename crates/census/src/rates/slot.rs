//! What is told apart: moments, kinds of house and shapes.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};
use tallyhouse_board::HouseKind;

use super::sums::Key;

/// The kinds of house that are told apart: all together, and each.
pub(super) const KINDS: usize = HouseKind::ALL.len() + 1;

tallyhouse_words::choice! {
    /// Which quiet positions count.
    #[derive(Serialize, Deserialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Moment {
        /// All of them.
        Every,
        /// The first of each puzzle.
        First,
        /// Those where something was applied: a find, or a given digit.
        Moving,
    }
}

impl Moment {
    /// Says in words which positions they are.
    #[must_use]
    pub const fn in_words(self) -> &'static str {
        match self {
            Self::Every => "all quiet positions",
            Self::First => "the first quiet position of each puzzle",
            Self::Moving => "the quiet positions where the walk goes on",
        }
    }
}

/// Houses of one kind, or of all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct HouseKinds(pub Option<HouseKind>);

/// What houses of all kinds go by.
const ALL: &str = "all";

impl HouseKinds {
    /// All kinds together, then each.
    pub const EACH: [Self; KINDS] = [
        Self(None),
        Self(Some(HouseKind::Row)),
        Self(Some(HouseKind::Column)),
        Self(Some(HouseKind::Box)),
    ];

    /// Returns `all`, or the name of the kind.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.0.map_or(ALL, HouseKind::name)
    }
}

impl fmt::Display for HouseKinds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl Serialize for HouseKinds {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

impl<'de> Deserialize<'de> for HouseKinds {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        if name == ALL {
            return Ok(Self(None));
        }
        let kind = HouseKind::from_str(&name);
        kind.map(|kind| Self(Some(kind))).map_err(|_| D::Error::custom("expected a kind of house"))
    }
}

/// A moment, a kind of house and a shape as one number; a naked size of 0 stands for the houses
/// themselves, whatever they show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub(super) struct Slot(u16);

impl Slot {
    pub(super) const fn new(moment: Moment, at: At) -> Self {
        Self(moment as u16 * PLACES as u16 + at.0)
    }

    /// Returns all with 2 ≤ open ≤ 9 and 1 ≤ naked < open.
    pub(super) fn shapes() -> impl Iterator<Item = Self> {
        let shapes = || (2..=9u8).flat_map(|open| (1..open).map(move |naked| (open, naked)));
        let of_kind = move |moment, kind| {
            shapes().map(move |(open, naked)| Self::new(moment, At::new(kind, open, naked)))
        };
        Moment::ALL
            .iter()
            .flat_map(move |moment| (0..KINDS).flat_map(move |kind| of_kind(*moment, kind)))
    }

    pub(super) fn moment(self) -> Moment {
        Moment::ALL[usize::from(self.0) / PLACES]
    }

    pub(super) fn house_kind(self) -> HouseKinds {
        HouseKinds::EACH[usize::from(self.0) % PLACES / 100]
    }

    pub(super) const fn open(self) -> u8 {
        (self.0 % 100 / 10) as u8
    }

    pub(super) const fn naked(self) -> u8 {
        (self.0 % 10) as u8
    }
}

impl Key for Slot {
    fn trials(self) -> Self {
        Self(self.0 - u16::from(self.naked()))
    }
}

/// A kind of house and a shape as one number, as in a [`Slot`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct At(u16);

/// One more than the number of each [`At`].
pub(super) const PLACES: usize = KINDS * 100;

impl At {
    /// The kind is a place in [`HouseKinds::EACH`].
    #[inline]
    pub(super) const fn new(kind: usize, open: u8, naked: u8) -> Self {
        Self(kind as u16 * 100 + open as u16 * 10 + naked as u16)
    }

    pub(super) const fn of_index(index: u16) -> Self {
        Self(index)
    }

    #[inline]
    pub(super) const fn index(self) -> usize {
        self.0 as usize
    }

    #[inline]
    pub(super) const fn kind(self) -> usize {
        self.index() / 100
    }

    #[inline]
    pub(super) const fn open(self) -> usize {
        self.index() % 100 / 10
    }
}
