//! How many digits a number is worth.

/// A power of ten: the place of the last digit that is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Place(i32);

/// An end of an interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// The lower one, rounded down.
    Low,
    /// The upper one, rounded up.
    High,
}

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

    /// Returns the multiple of the last place's unit that bounds a number from below or from above. What a
    /// double stores a little beside a multiple counts as the multiple itself.
    pub(crate) fn bound(self, end: End, value: f64) -> f64 {
        let units = value / self.unit();
        let nearest = units.round();
        let is_stored_beside = (units - nearest).abs() <= 1e-9 * nearest.abs().max(1.0);
        let whole = match end {
            _ if is_stored_beside => nearest,
            End::Low => units.floor(),
            End::High => units.ceil(),
        };
        whole * self.unit()
    }

    /// Writes a limit that has no other end: never tighter than it is.
    pub(crate) fn write_bound(self, end: End, value: f64) -> String {
        self.write(self.bound(end, value))
    }

    /// Writes such a limit of a share in per cent, without the sign.
    pub(crate) fn write_share_bound(self, end: End, percent: f64) -> String {
        if percent <= 0.0 || percent >= 100.0 {
            return self.write_share(percent);
        }
        let finest = Self((self.0 - 3).max(FINEST));
        let place = Self(self.showing(percent.min(100.0 - percent)).0.max(finest.0));
        match place.bound(end, percent) {
            0.0 => "0".to_owned(),
            bound if bound >= 100.0 => "100".to_owned(),
            bound => place.write(bound),
        }
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

    /// Returns the same place, but that of whole numbers if it lies behind the point.
    pub(crate) fn at_least_whole(self) -> Self {
        Self(self.0.max(0))
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
