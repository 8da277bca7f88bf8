use crate::numbers::rounded;
use crate::places::{End, Place};

/// Writes a share in per cent with the ends of its interval that are known: both, the upper one alone, or
/// none. A share of which no end is known shows one digit.
///
/// ```
/// use tallyhouse_words::share_within;
///
/// assert_eq!(share_within(Some(0.005), Some(0.004), Some(0.006)), "0.5 % (0.4–0.6 %)");
/// assert_eq!(share_within(Some(0.0552), None, Some(0.252)), "6 % (at most 26 %)");
/// assert_eq!(share_within(Some(0.0552), None, None), "6 %");
/// assert_eq!(share_within(Some(0.0), None, Some(0.00012)), "0 % (0–0.012 %)");
/// assert_eq!(share_within(None, None, None), "–");
/// ```
#[must_use]
pub fn share_within(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> String {
    match share_and_ends(value, low, high) {
        [value, None] => value.unwrap_or_else(|| "–".to_owned()),
        [value, Some(ends)] => format!("{} ({ends})", value.unwrap_or_default()),
    }
}

/// Writes the two parts of [`share_within`] apart, those that are known.
#[must_use]
pub fn share_and_ends(
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
) -> [Option<String>; 2] {
    match (value, high) {
        (Some(value), Some(high)) => {
            let share = Measured { value, low: low.unwrap_or_default(), high };
            [Some(share.percent_value()), Some(share.percent_interval())]
        }
        (Some(value), None) => {
            let percent = 100.0 * value;
            let place = Place::of_digits(percent.min(100.0 - percent), 1).at_most_whole();
            [Some(format!("{} %", place.write_share(percent))), None]
        }
        (None, _) => [None, None],
    }
}

/// Writes a share for each thousand, alone, with as many digits as its interval supports; a share of
/// which no end is known has one.
///
/// ```
/// use tallyhouse_words::thousandths;
///
/// assert_eq!(thousandths(Some(0.04449), Some(0.0441), Some(0.0449)), "44.5");
/// assert_eq!(thousandths(Some(0.00012), None, Some(0.0004)), "0.1");
/// assert_eq!(thousandths(None, None, None), "–");
/// ```
#[must_use]
pub fn thousandths(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> String {
    match (value, high) {
        (Some(0.0), _) => "0".to_owned(),
        (Some(value), Some(high)) => {
            Measured { value, low: low.unwrap_or_default(), high }.times(1000.0).number_value()
        }
        (Some(value), None) => rounded(1000.0 * value, 1),
        (None, _) => "–".to_owned(),
    }
}

/// A number with its interval, to be written.
///
/// The value and the limits have the same last place: the one at which the interval is 2 to 20 units
/// wide. A number below it shows one digit that counts. Where one end is not told, the side that is
/// stands for both; where none is, the value shows one digit. A share above nothing whose lower end is
/// nothing has no lower end. A limit without another end is rounded outwards, so that what is printed
/// holds; so is that of what was never seen, or always.
///
/// ```
/// use tallyhouse_words::Measured;
///
/// let ratio = Measured { value: 0.5971, low: 0.5862, high: 0.6083 };
/// assert_eq!(ratio.number(), "0.60 (0.59–0.61)");
/// let glances = Measured { value: 4573.2, low: 4480.1, high: 4666.3 };
/// assert_eq!(glances.number(), "4,570 (4,480–4,670)");
/// let change = Measured { value: -0.31, low: -0.52, high: 0.1 };
/// assert_eq!(change.number(), "−0.3 (−0.5 to 0.1)");
/// let rare = Measured { value: 3e-6, low: 1e-7, high: 1.7e-5 };
/// assert_eq!(rare.percent(), "0.0003 % (0.00001–0.0017 %)");
/// let few = Measured { value: 0.00002, low: 0.0, high: 0.0402 };
/// assert_eq!(few.percent(), "0.002 % (at most 5 %)");
/// let all = Measured { value: 1.0, low: 0.99996, high: 1.0 };
/// assert_eq!(all.percent(), "100 % (99.996–100 %)");
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The number.
    pub value: f64,
    /// The lower limit.
    pub low: f64,
    /// The upper limit.
    pub high: f64,
}

impl Measured {
    /// Writes a share in per cent with its interval: `0.5 % (0.4–0.6 %)`.
    #[must_use]
    pub fn percent(self) -> String {
        format!("{} ({})", self.percent_value(), self.percent_interval())
    }

    /// Writes a share in per cent alone: `0.5 %`.
    #[must_use]
    pub fn percent_value(self) -> String {
        format!("{} %", self.share_place().write_share(100.0 * self.value))
    }

    /// Writes the interval of a share alone: `0.4–0.6 %`. Few hits may set no lower end: `at most 6 %`.
    #[must_use]
    pub fn percent_interval(self) -> String {
        let place = self.share_place();
        let [low, high] = [self.low, self.high].map(|limit| 100.0 * limit);
        match [self.low <= 0.0, self.high >= 1.0] {
            [true, _] if self.value > 0.0 => {
                format!("at most {} %", place.write_share_bound(End::High, high))
            }
            [true, false] => format!("0–{} %", place.write_share_bound(End::High, high)),
            [false, true] => format!("{}–100 %", place.write_share_bound(End::Low, low)),
            _ => format!("{}–{} %", place.write_share(low), place.write_share(high)),
        }
    }

    /// Writes a mean, a ratio or a difference with its interval: `26.53 (26.45–26.61)`.
    #[must_use]
    pub fn number(self) -> String {
        if !self.value.is_finite() || self.value == 0.0 && self.low.is_infinite() {
            return self.number_interval();
        }
        format!("{} ({})", self.number_value(), self.number_interval())
    }

    /// Writes a number alone: `26.53`.
    #[must_use]
    pub fn number_value(self) -> String {
        self.write_number(self.value)
    }

    /// Writes a number alone for prose: with two digits at most, and no more exact than its interval.
    ///
    /// ```
    /// use tallyhouse_words::Measured;
    ///
    /// let sure = Measured { value: 2.983, low: 2.891, high: 3.064 };
    /// let wide = Measured { value: 9.72, low: 8.1, high: 12.3 };
    /// assert_eq!([sure, wide].map(Measured::number_in_prose), ["3.0", "10"]);
    /// ```
    #[must_use]
    pub fn number_in_prose(self) -> String {
        Place::of_digits(self.value, 2).coarser(self.place_of(self.value)).write(self.value)
    }

    /// Writes the interval of a number alone: `26.45–26.61`, or `−0.5 to 0.1` where a dash would be
    /// taken for a minus. An end that is not told is infinite: `at least 1,200`.
    ///
    /// ```
    /// use tallyhouse_words::Measured;
    ///
    /// let dear = Measured { value: f64::INFINITY, low: 1204.3, high: f64::INFINITY };
    /// assert_eq!(dear.number(), "at least 1,200");
    /// let rare = Measured { value: 0.21, high: 0.43, low: f64::NEG_INFINITY };
    /// assert_eq!(rare.number(), "0.2 (at most 0.5)");
    /// ```
    #[must_use]
    pub fn number_interval(self) -> String {
        match [self.low, self.high].map(f64::is_finite) {
            [true, true] => {}
            [true, false] => {
                let low = self.place_of(self.low).write_bound(End::Low, self.low);
                return format!("at least {low}");
            }
            [false, true] => {
                let high = self.place_of(self.high).write_bound(End::High, self.high);
                return format!("at most {high}");
            }
            [false, false] => return "no limits".to_owned(),
        }
        let [low, high] = [self.low, self.high].map(|limit| self.write_number(limit));
        let to = if self.low < 0.0 { " to " } else { "–" };
        format!("{low}{to}{high}")
    }

    /// Returns the same number in a unit of which so many make one: a rate per thousand.
    ///
    /// ```
    /// use tallyhouse_words::Measured;
    ///
    /// let rate = Measured { value: 0.04449, low: 0.0441, high: 0.0449 };
    /// assert_eq!(rate.times(1000.0).number(), "44.5 (44.1–44.9)");
    /// ```
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        let Self { value, low, high } = self;
        Self { value: factor * value, low: factor * low, high: factor * high }
    }

    /// Writes a change or a ratio in per cent with its interval, which may lie below nothing and beyond all.
    ///
    /// ```
    /// use tallyhouse_words::Measured;
    ///
    /// let more = Measured { value: 0.241, low: 0.236, high: 0.247 };
    /// assert_eq!(more.percent_change(), "24.1 % (23.6–24.7 %)");
    /// assert_eq!(more.plus(-0.242).percent_change(), "−0.1 % (−0.6 to 0.5 %)");
    /// ```
    #[must_use]
    pub fn percent_change(self) -> String {
        let percent = self.times(100.0);
        format!("{} % ({} %)", percent.number_value(), percent.number_interval())
    }

    /// Returns the same number with so much added.
    #[must_use]
    pub fn plus(self, more: f64) -> Self {
        let Self { value, low, high } = self;
        Self { value: value + more, low: low + more, high: high + more }
    }

    fn share_place(self) -> Place {
        Place::of_share(100.0 * self.value, 100.0 * (self.high - self.low))
    }

    fn write_number(self, number: f64) -> String {
        self.place_of(number).write(number)
    }

    fn place_of(self, number: f64) -> Place {
        let place = match [self.low, self.high].map(f64::is_finite) {
            [true, true] => Place::of_width(self.high - self.low, self.value),
            [false, false] => Place::of_digits(self.value, 1),
            [is_low, _] => {
                let end = if is_low { self.low } else { self.high };
                let side = (end - self.value).abs();
                if side > 0.0 && side.is_finite() {
                    Place::of_width(2.0 * side, end)
                } else {
                    Place::of_digits(end, 2)
                }
            }
        };
        // Around nought no digit needs to count.
        if self.low.is_finite() && self.low < 0.0 && 0.0 <= self.high {
            place
        } else {
            place.showing(number)
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn measured(value: f64, low: f64, high: f64) -> Measured {
        Measured { value, low, high }
    }

    /// The rule: the width shows one or two digits, and value and limits end at the same place.
    #[test]
    fn the_width_of_an_interval_shows_one_or_two_digits() {
        for (value, half, words) in [
            (0.005, 0.001, "0.5 % (0.4–0.6 %)"),
            (0.0108, 0.0004, "1.08 % (1.04–1.12 %)"),
            (0.4188, 0.0031, "41.9 % (41.6–42.2 %)"),
            (0.5, 0.3, "50 % (20–80 %)"),
            (0.000_012, 0.000_002, "0.0012 % (0.0010–0.0014 %)"),
        ] {
            assert_eq!(measured(value, value - half, value + half).percent(), words);
        }
        for step in 0..400 {
            let width = 10f64.powf(f64::from(step) / 50.0 - 6.0);
            let place = Place::of_width(width, 1e9);
            let units = width / place.unit();
            assert!((1.999_999..20.000_001).contains(&units), "{width}: {units} units");
        }
    }

    /// A small number beside a wide interval: its limits end where the interval says, not where it does.
    #[test]
    fn no_number_is_more_exact_than_its_interval() {
        assert_eq!(measured(5e-10, 1e-10, 0.055_543).percent(), "<0.001 % (<0.001–6 %)");
        assert_eq!(measured(0.000_7, 0.0, 0.0416).percent(), "0.07 % (at most 5 %)");
        assert_eq!(measured(0.2, 0.001, 49.6).number(), "0.2 (0.001–50)");
        let infinite = f64::INFINITY;
        assert_eq!(measured(0.477, -infinite, infinite).number(), "0.5 (no limits)");
        assert_eq!(measured(2.54, 0.31, infinite).number(), "3 (at least 0.3)");
        assert_eq!(share_within(Some(3.0 / 38.0), None, Some(0.21)), "8 % (at most 21 %)");
        assert_eq!(share_within(Some(5e-10), None, Some(0.055)), "<0.001 % (at most 6 %)");
        assert_eq!(thousandths(Some(0.0789), None, Some(0.5)), "80");
    }

    #[test]
    fn shares_near_the_ends_are_neither_nothing_nor_all() {
        assert_eq!(measured(0.0, 0.0, 0.000_3).percent(), "0 % (0–0.03 %)");
        assert_eq!(measured(2e-9, 1e-10, 1e-8).percent(), "0.0000002 % (0.00000001–0.0000010 %)");
        assert_eq!(measured(0.9995, 0.999, 0.999_99).percent(), "99.95 % (99.90–99.999 %)");
        assert_eq!(measured(1e-6, 1e-12, 5e-6).percent(), "0.0001 % (<0.0000001–0.0005 %)");
        assert_eq!(measured(1.0, 0.9963, 1.0).percent(), "100 % (99.6–100 %)");
    }

    #[test]
    fn numbers_have_their_sign_and_their_thousands() {
        assert_eq!(measured(26.528, 26.447, 26.609).number(), "26.53 (26.45–26.61)");
        assert_eq!(measured(-0.000_4, -0.003, 0.002).number(), "0.000 (−0.003 to 0.002)");
        assert_eq!(measured(12_345.0, 11_000.0, 13_700.0).number(), "12,000 (11,000–14,000)");
        assert_eq!(measured(2.0, 2.0, 2.0).number(), "2.00 (2.00–2.00)");
    }

    /// What was printed after these words, and one unit of its last digit that counts.
    fn printed(text: &str, before: &str) -> (f64, f64) {
        let number = text.split_once(before).unwrap().1.trim_end_matches([')', '%', ' ']);
        let unit = match number.split_once('.') {
            Some((_, decimals)) => 10f64.powi(-i32::try_from(decimals.len()).unwrap()),
            None => {
                let digits = number.replace(',', "");
                let noughts = digits.len() - digits.trim_end_matches('0').len();
                10f64.powi(i32::try_from(noughts).unwrap())
            }
        };
        (crate::read_back(number).unwrap(), unit)
    }

    proptest! {
        /// A limit without another end is never tighter in print, and looser by less than one unit of
        /// its last digit.
        #[test]
        fn limits_with_one_end_are_rounded_outwards(
            part in 0.0..1.0f64,
            size in -6..6i32,
            value in 0.0..1.0f64,
        ) {
            let limit = (0.1 + part) * 10f64.powi(size);
            let (infinite, [below, above]) = (f64::INFINITY, [value * limit, (2.0 - value) * limit]);
            let holds = |(printed, unit): (f64, f64), limit: f64, is_upper: bool| {
                // A number beside a round one is taken for it.
                let slack = 1e-8 * limit;
                let looser = if is_upper { printed - limit } else { limit - printed };
                prop_assert!(-slack <= looser && looser <= unit + slack, "{printed} {limit} {unit}");
                Ok(())
            };
            let text = measured(below, -infinite, limit).number_interval();
            holds(printed(&text, "at most "), limit, true)?;
            let text = measured(above, limit, infinite).number_interval();
            holds(printed(&text, "at least "), limit, false)?;
            holds(printed(&crate::over(limit), "over "), limit.max(1e-9), false)?;
            if limit < 1.0 {
                let percent = 100.0 * limit;
                let text = measured(below.max(1e-12), 0.0, limit).percent_interval();
                holds(printed(&text, "at most "), percent, true)?;
                let text = measured(0.0, 0.0, limit).percent_interval();
                holds(printed(&text, "0–"), percent, true)?;
                holds(printed(&crate::under_share(limit), "under "), percent, true)?;
                let text = measured(1.0, 1.0 - limit, 1.0).percent_interval();
                let text = text.trim_end_matches("–100 %");
                holds(printed(&format!(":{text}"), ":"), 100.0 * (1.0 - limit), false)?;
            }
        }
    }
}
