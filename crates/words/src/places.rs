//! How many digits a number is worth.

/// A power of ten: the place of the last digit that is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Place(i32);

/// More decimals than a double has.
const FINEST: i32 = -15;

impl Place {
    /// Returns the place at which an interval of this width is 2 to 20 units wide; that of three
    /// digits that count if it has no width.
    pub(crate) fn of_width(width: f64, value: f64) -> Self {
        if width > 0.0 && width.is_finite() {
            Self(leading(width / 2.0).max(FINEST))
        } else {
            Self::of_digits(value, 3)
        }
    }

    /// Returns the same place, or the one at which this number shows a digit that counts.
    pub(crate) fn showing(self, value: f64) -> Self {
        if value == 0.0 || !value.is_finite() { self } else { Self(self.0.min(leading(value))) }
    }

    /// Returns the place for a share in per cent.
    pub(crate) fn of_share(percent: f64, width: f64) -> Self {
        Self::of_width(width, percent.min(100.0 - percent)).at_most_whole()
    }

    /// Returns the place of the last digit, if this many count.
    pub(crate) fn of_digits(value: f64, digits: i32) -> Self {
        if value == 0.0 || !value.is_finite() {
            Self(0)
        } else {
            Self((leading(value) + 1 - digits).max(FINEST))
        }
    }

    /// Returns the place of the last of these decimals.
    pub(crate) fn after(decimals: usize) -> Self {
        Self(i32::try_from(decimals).map_or(FINEST, |decimals| -decimals).max(FINEST))
    }

    /// Writes a number in groups of three digits, with a true minus.
    pub(crate) fn write(self, value: f64) -> String {
        let size = value.abs();
        let text = if self.0 > 0 {
            format!("{:.0}", (size / self.unit()).round() * self.unit())
        } else {
            format!("{size:.*}", self.0.unsigned_abs() as usize)
        };
        let is_zero = !text.bytes().any(|digit| digit.is_ascii_digit() && digit != b'0');
        let sign = if value < 0.0 && !is_zero { "−" } else { "" };
        let (whole, decimals) = text.split_at(text.find('.').unwrap_or(text.len()));
        format!("{sign}{}{decimals}", group(whole))
    }

    /// Writes a share in per cent, without the sign. What is near nothing or all gets up to three digits
    /// more to show how far away it is, and is then written as a bound.
    pub(crate) fn write_share(self, percent: f64) -> String {
        if percent <= 0.0 {
            return "0".to_owned();
        }
        if percent >= 100.0 {
            return "100".to_owned();
        }
        let finest = Self((self.0 - 3).max(FINEST));
        let place = self.showing(percent.min(100.0 - percent));
        match (place.0 < finest.0, percent < 50.0) {
            (false, _) => place.write(percent),
            (true, true) => format!("<{}", finest.write(finest.unit())),
            (true, false) => format!(">{}", finest.write(100.0 - finest.unit())),
        }
    }

    /// Returns the coarser of both places.
    pub(crate) fn coarser(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }

    /// Returns one unit of the last place.
    pub(crate) fn unit(self) -> f64 {
        10f64.powi(self.0)
    }

    /// Returns the same place, but that of whole numbers if it lies before the point.
    pub(crate) fn at_most_whole(self) -> Self {
        Self(self.0.min(0))
    }
}

/// Returns the power of ten of the first digit that counts. What a double stores a little too low
/// counts as the power itself.
fn leading(value: f64) -> i32 {
    (value.abs().log10() + 1e-9).floor() as i32
}

/// Puts commas between groups of three digits.
pub(crate) fn group(digits: &str) -> String {
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}
