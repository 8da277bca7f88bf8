use std::fmt;
use std::num::NonZeroU64;
use std::str::FromStr;

/// How much a puzzle counts: a whole number of millionths, above 0 and at most 10⁹.
///
/// Whole numbers keep sums of weights independent of their order, and so of the number of threads.
/// A sum needs 128 bits: 64 hold no more than 18,446 of the greatest weights.
///
/// ```
/// use tallyhouse_collection::Weight;
///
/// let weight: Weight = "2.50".parse()?;
/// assert_eq!((weight.millionths(), weight.to_string()), (2_500_000, "2.5".to_owned()));
/// assert!("1e3".parse::<Weight>().is_err());
/// # Ok::<(), tallyhouse_collection::ParseWeightError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Weight(NonZeroU64);

/// A text that is no weight.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "weight is '{}': expected a decimal above 0 and at most 1000000000, with at most 6 decimals",
    .0.escape_debug()
)]
pub struct ParseWeightError(String);

impl Weight {
    /// How many millionths are 1.
    const SCALE: u64 = 1_000_000;
    const DECIMALS: usize = 6;
    /// The greatest weight, 10⁹.
    pub const MOST: Self = Self(NonZeroU64::new(1_000_000_000 * Self::SCALE).expect("it is not 0"));

    /// The weight 1.
    pub const ONE: Self = Self(NonZeroU64::new(Self::SCALE).expect("it is not 0"));

    /// Makes a weight of millionths, from 1 to 10¹⁵.
    #[must_use]
    pub const fn from_millionths(millionths: u64) -> Option<Self> {
        match NonZeroU64::new(millionths) {
            Some(weight) if millionths <= Self::MOST.millionths() => Some(Self(weight)),
            _ => None,
        }
    }

    /// Returns the millionths.
    #[must_use]
    pub const fn millionths(self) -> u64 {
        self.0.get()
    }
}

impl FromStr for Weight {
    type Err = ParseWeightError;

    /// Reads digits, or digits, a point and up to 6 digits; exactly, nothing is rounded.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let parse = || {
            let (whole, decimals) = match text.split_once('.') {
                Some((whole, decimals)) if !decimals.is_empty() => (whole, decimals),
                Some(_) => return None,
                None => (text, ""),
            };
            if decimals.len() > Self::DECIMALS || !decimals.bytes().all(|b| b.is_ascii_digit()) {
                return None;
            }
            let whole = parse_digits(whole)?.checked_mul(Self::SCALE)?;
            let millionths = parse_digits(&format!("{decimals:0<6}"))?;
            Self::from_millionths(whole.checked_add(millionths)?)
        };
        parse().ok_or_else(|| ParseWeightError(text.to_owned()))
    }
}

/// Reads a whole number of digits only; the standard parser would take a sign.
pub(crate) fn parse_digits(text: &str) -> Option<u64> {
    text.bytes().all(|b| b.is_ascii_digit()).then(|| text.parse().ok())?
}

impl fmt::Display for Weight {
    /// Writes the shortest decimal; with a precision, at least so many decimals.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, rest) = (self.millionths() / Self::SCALE, self.millionths() % Self::SCALE);
        let decimals = format!("{rest:06}");
        let least = f.precision().unwrap_or(0);
        match decimals.trim_end_matches('0') {
            "" if least == 0 => write!(f, "{whole}"),
            decimals => write!(f, "{whole}.{decimals:0<least$}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_exact() {
        for (text, millionths) in [
            ("1", 1_000_000),
            ("0.000001", 1),
            ("2.5", 2_500_000),
            ("0.1", 100_000),
            ("1000000000", 1_000_000_000_000_000),
            ("123456789.654321", 123_456_789_654_321),
        ] {
            let weight: Weight = text.parse().unwrap();
            assert_eq!(weight.millionths(), millionths);
            assert_eq!(weight.to_string(), text);
        }
        assert_eq!("007.50".parse::<Weight>().unwrap().to_string(), "7.5");
        assert_eq!("1.000000".parse(), Ok(Weight::ONE));
        assert_eq!(
            format!("{:.6} {:.1}", Weight::ONE, Weight(NonZeroU64::MIN)),
            "1.000000 0.000001"
        );
    }

    #[test]
    fn everything_else_is_refused() {
        for text in [
            "",
            ".",
            "0",
            "0.0",
            "-1",
            "+1",
            "1.",
            ".5",
            "1e3",
            "1,5",
            "1.0000001",
            "1000000000.1",
            "1.+5",
            "99999999999999999999",
            "nan",
            " 1",
        ] {
            assert_eq!(text.parse::<Weight>(), Err(ParseWeightError(text.to_owned())), "{text}");
        }
        assert_eq!(
            "-1".parse::<Weight>().unwrap_err().to_string(),
            "weight is '-1': expected a decimal above 0 and at most 1000000000, with at most 6 \
             decimals"
        );
    }
}
