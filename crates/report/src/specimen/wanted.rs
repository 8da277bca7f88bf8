use std::fmt;
use std::ops::RangeInclusive;

use tallyhouse_board::HouseKind;
use tallyhouse_engine::{Look, Shape, Subset};
use tallyhouse_figures::Side;

tallyhouse_words::choice! {
    /// On which side a subset has to be proper.
    #[derive(Default)]
    pub enum ProperSide {
        /// The naked side holds no smaller tight set.
        Naked,
        /// The hidden side holds no smaller hidden set.
        Hidden,
        /// Neither side holds a smaller set.
        Both,
        /// At least one side holds no smaller set.
        Either,
        /// Either side may hold smaller sets.
        #[default]
        Any,
    }
}

/// Which splits are wanted. The default wants every subset.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Wanted {
    /// The number of open cells in the house.
    pub open: Option<RangeInclusive<u8>>,
    /// The size of the naked side.
    pub naked: Option<RangeInclusive<u8>>,
    /// The size of the hidden side.
    pub hidden: Option<RangeInclusive<u8>>,
    /// The kind of house.
    pub house_kind: Option<HouseKind>,
    /// On which side the subset is proper.
    pub proper: ProperSide,
    /// The open cells outside settled blocks.
    pub live_open: Option<RangeInclusive<u8>>,
    /// The cells of the naked side outside settled blocks.
    pub live_naked: Option<RangeInclusive<u8>>,
    /// The cells of the hidden side outside settled blocks.
    pub live_hidden: Option<RangeInclusive<u8>>,
    /// The least number of eliminations.
    pub least_eliminations: u8,
    /// If no look of the full ladder that comes before the one that finds the split may find
    /// anything in the position.
    pub nothing_easier: bool,
    /// The number of the position among the quiet ones of the puzzle's walk, from 0.
    pub quiet_position: Option<u16>,
    /// A look that finds the split.
    pub look: Option<Look>,
}

/// Nothing in a quiet position can fit what is wanted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "no split can be found: wanted {wanted}; expected 4 to 9 open cells, 2 or more of them on the \
     naked side and 2 or more on the hidden side"
)]
pub struct NoSuchSplit {
    /// What was wanted, in words.
    pub wanted: String,
}

fn allows(range: Option<&RangeInclusive<u8>>, value: u8) -> bool {
    range.is_none_or(|range| range.contains(&value))
}

impl Wanted {
    /// How many specimens may be asked for.
    pub const SPECIMENS: RangeInclusive<u64> = 1..=1000;
    /// How many eliminations may be asked for: no house has more candidates to lose.
    pub const ELIMINATIONS: RangeInclusive<u64> = 1..=72;

    /// Returns the wish for one shape.
    #[must_use]
    pub fn shape(shape: Shape) -> Self {
        let exactly = |value| Some(value..=value);
        Self { open: exactly(shape.open()), naked: exactly(shape.naked()), ..Self::default() }
    }

    /// Returns the side that is asked for, if one of the two is.
    #[must_use]
    pub fn lead(&self) -> Option<Side> {
        match (self.look, &self.naked, &self.hidden, self.proper) {
            (Some(Look::Naked(_)), ..) => Some(Side::Naked),
            (Some(Look::Hidden(_)), ..) => Some(Side::Hidden),
            (_, Some(_), None, _) => Some(Side::Naked),
            (_, None, Some(_), _) => Some(Side::Hidden),
            (.., ProperSide::Naked) => Some(Side::Naked),
            (.., ProperSide::Hidden) => Some(Side::Hidden),
            _ => None,
        }
    }

    /// Tests if a quiet position could have such a split, as far as sizes tell.
    ///
    /// # Errors
    /// If none can.
    pub fn check(&self) -> Result<(), NoSuchSplit> {
        let live_fits = |range: &Option<RangeInclusive<u8>>, most| {
            (0..=most).any(|live| allows(range.as_ref(), live))
        };
        let possible = Shape::all_quiet().any(|shape| {
            self.fits_shape(shape)
                && live_fits(&self.live_open, shape.open())
                && live_fits(&self.live_naked, shape.naked())
                && live_fits(&self.live_hidden, shape.hidden())
        });
        if possible { Ok(()) } else { Err(NoSuchSplit { wanted: self.to_string() }) }
    }

    fn fits_shape(&self, shape: Shape) -> bool {
        allows(self.open.as_ref(), shape.open())
            && allows(self.naked.as_ref(), shape.naked())
            && allows(self.hidden.as_ref(), shape.hidden())
            && self.look.is_none_or(|look| look.covers(shape))
    }

    /// Tests if a subset fits, found at the quiet position of this number with `applied` set by a
    /// walk on the full ladder, all finds together.
    #[must_use]
    pub fn fits(&self, quiet_position: u16, subset: &Subset) -> bool {
        let proper = match self.proper {
            ProperSide::Naked => subset.naked_proper,
            ProperSide::Hidden => subset.hidden_proper,
            ProperSide::Both => subset.naked_proper && subset.hidden_proper,
            ProperSide::Either => subset.is_proper(),
            ProperSide::Any => true,
        };
        // The walk applies what the first successful look finds: nothing before it finds anything.
        let ease = subset.applied || !self.nothing_easier;
        proper
            && ease
            && self.look.is_none_or(|look| look.finds(subset))
            && self.quiet_position.is_none_or(|wanted| wanted == quiet_position)
            && subset.eliminations >= self.least_eliminations
            && self.house_kind.is_none_or(|kind| subset.house.kind() == kind)
            && self.fits_shape(subset.shape())
            && allows(self.live_open.as_ref(), subset.live_open)
            && allows(self.live_naked.as_ref(), subset.live_naked)
            && allows(self.live_hidden.as_ref(), subset.live_hidden())
    }
}

impl fmt::Display for Wanted {
    /// Writes the wishes as a list, `every subset` if there are none.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let range = |name: &str, range: &Option<RangeInclusive<u8>>| {
            let (first, last) = range.as_ref().map(|range| (*range.start(), *range.end()))?;
            Some(if first == last {
                format!("{name} {first}")
            } else {
                format!("{name} {first} to {last}")
            })
        };
        let proper = match self.proper {
            ProperSide::Naked => Some("proper on the naked side"),
            ProperSide::Hidden => Some("proper on the hidden side"),
            ProperSide::Both => Some("proper on both sides"),
            ProperSide::Either => Some("proper on one side at least"),
            ProperSide::Any => None,
        };
        let wishes = [
            self.look.map(|look| format!("found by {look}")),
            range("open", &self.open),
            range("naked", &self.naked),
            range("hidden", &self.hidden),
            self.house_kind.map(|kind| format!("in a {kind}")),
            proper.map(str::to_owned),
            range("live open", &self.live_open),
            range("live naked", &self.live_naked),
            range("live hidden", &self.live_hidden),
            (self.least_eliminations > 1)
                .then(|| format!("{} or more eliminations", self.least_eliminations)),
            self.nothing_easier.then(|| "nothing easier in the position".to_owned()),
            self.quiet_position.map(|number| match number {
                0 => "at the first quiet position".to_owned(),
                _ => format!("at quiet position {}", u32::from(number) + 1),
            }),
        ];
        let wishes: Vec<String> = wishes.into_iter().flatten().collect();
        f.write_str(if wishes.is_empty() { "every subset" } else { "" })?;
        f.write_str(&wishes.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::{DigitSet, House, PlaceSet};

    use super::*;

    const PAIR: Subset = Subset {
        house: House::column(3),
        open: 7,
        naked: 2,
        live_open: 6,
        live_naked: 2,
        cells: PlaceSet::from_bits_truncate(0b11),
        digits: DigitSet::from_bits_truncate(0b11),
        eliminations: 3,
        naked_proper: true,
        hidden_proper: false,
        applied: false,
    };

    #[test]
    fn each_wish_lets_its_own_through() {
        type Change = fn(&mut Wanted, u8);
        let ranges: [(Change, u8); 7] = [
            (|wanted, value| wanted.open = Some(value..=value), 7),
            (|wanted, value| wanted.naked = Some(value..=value), 2),
            (|wanted, value| wanted.hidden = Some(value..=value), 5),
            (|wanted, value| wanted.live_open = Some(value..=value), 6),
            (|wanted, value| wanted.live_naked = Some(value..=value), 2),
            (|wanted, value| wanted.live_hidden = Some(value..=value), 4),
            (|wanted, value| wanted.least_eliminations = value, 3),
        ];
        for (change, value) in ranges {
            let mut wanted = Wanted::default();
            change(&mut wanted, value);
            assert!(wanted.fits(0, &PAIR), "{wanted}");
            change(&mut wanted, value + 1);
            assert!(!wanted.fits(0, &PAIR), "{wanted}");
        }
        let kind = |kind| Wanted { house_kind: Some(kind), ..Wanted::default() };
        assert!(kind(HouseKind::Column).fits(0, &PAIR) && !kind(HouseKind::Box).fits(0, &PAIR));
        let proper = |side| Wanted { proper: side, ..Wanted::default() }.fits(0, &PAIR);
        use ProperSide::{Both, Either, Hidden, Naked};
        assert_eq!([Naked, Hidden, Both, Either].map(proper), [true, false, false, true]);
        let easier = Wanted { nothing_easier: true, ..Wanted::default() };
        assert!(!easier.fits(0, &PAIR) && easier.fits(0, &Subset { applied: true, ..PAIR }));
        let first = Wanted { quiet_position: Some(0), ..Wanted::default() };
        assert!(first.fits(0, &PAIR) && !first.fits(1, &PAIR));
        assert_eq!(first.to_string(), "at the first quiet position");
        let third = Wanted { quiet_position: Some(2), ..Wanted::default() };
        assert!(third.fits(2, &PAIR) && !third.fits(0, &PAIR));
        assert_eq!(third.to_string(), "at quiet position 3");
    }

    #[test]
    fn a_look_finds_its_own_and_its_side_leads() {
        let found_by =
            |look: &str| Wanted { look: Some(look.parse().unwrap()), ..Wanted::default() };
        for (look, lead, fits) in [
            ("naked 2", Side::Naked, true),
            ("naked 2 open 8..9", Side::Naked, false),
            // The hidden side holds something smaller.
            ("hidden 5", Side::Hidden, false),
        ] {
            let wanted = found_by(look);
            assert_eq!(wanted.check(), Ok(()));
            assert_eq!((wanted.lead(), wanted.fits(0, &PAIR)), (Some(lead), fits), "{look}");
            assert_eq!(wanted.to_string(), format!("found by {look}"));
        }
        assert!(found_by("hidden 5").fits(0, &Subset { hidden_proper: true, ..PAIR }));
        for look in ["naked 1", "hidden 6 open 7", "intersections"] {
            assert!(found_by(look).check().is_err(), "{look}");
        }
        let size = |naked, hidden| Wanted { naked, hidden, ..Wanted::default() }.lead();
        assert_eq!(size(Some(2..=2), None), Some(Side::Naked));
        assert_eq!(size(None, Some(2..=2)), Some(Side::Hidden));
        assert_eq!([size(None, None), size(Some(2..=2), Some(3..=3))], [None; 2]);
    }

    #[test]
    fn impossible_wishes_are_told_at_once() {
        assert_eq!(Wanted::default().check(), Ok(()));
        assert_eq!(Wanted::shape(Shape::new(9, 7).unwrap()).check(), Ok(()));
        let single = Wanted { naked: Some(1..=1), ..Wanted::default() };
        let message = single.check().unwrap_err().to_string();
        assert!(message.starts_with("no split can be found: wanted naked 1; expected 4 to 9"));
        let sum = Wanted { hidden: Some(5..=6), ..Wanted::shape(Shape::new(6, 2).unwrap()) };
        assert!(sum.check().is_err());
        let live = Wanted { live_naked: Some(5..=9), naked: Some(2..=4), ..Wanted::default() };
        assert!(live.check().is_err());
    }
}
