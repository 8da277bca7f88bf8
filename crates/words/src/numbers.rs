//! Numbers without an interval.

use std::ops::RangeInclusive;

use crate::places::{End, Place};

/// Writes a share in per cent with three digits that count, and one near all with those of its
/// distance to it.
///
/// ```
/// use tallyhouse_words::percent;
///
/// assert_eq!(percent(0.4188), "41.9 %");
/// assert_eq!(percent(0.000_012_34), "0.00123 %");
/// assert_eq!(percent(0.999_877), "99.9877 %");
/// ```
#[must_use]
pub fn percent(share: f64) -> String {
    let percent = 100.0 * share;
    format!("{} %", Place::of_share(percent, 0.0).write_share(percent))
}

/// Writes a share that is a choice, not a measurement, with the digits it was given with.
///
/// ```
/// use tallyhouse_words::exact_percent;
///
/// assert_eq!(exact_percent(0.01), "1 %");
/// assert_eq!(exact_percent(0.07), "7 %");
/// assert_eq!(exact_percent(0.0005), "0.05 %");
/// ```
#[must_use]
pub fn exact_percent(share: f64) -> String {
    // Ten decimals hide what a double adds to 7 %.
    let text = format!("{:.10}", 100.0 * share);
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
}

/// Reads a number from 1 to `most`, or a range of them as in `7..9`.
///
/// # Errors
/// With what was found and what was expected.
///
/// ```
/// use tallyhouse_words::read_range;
///
/// assert_eq!(read_range("7..9", 9), Ok(7..=9));
/// assert_eq!(read_range("24", 81), Ok(24..=24));
/// assert!(read_range("0", 9).unwrap_err().starts_with("found '0', expected a number from 1 to 9"));
/// ```
pub fn read_range(text: &str, most: u8) -> Result<RangeInclusive<u8>, String> {
    let (first, last) = text.split_once("..").unwrap_or((text, text));
    let number = |text: &str| text.trim().parse::<u8>().ok().filter(|n| (1..=most).contains(n));
    match (number(first), number(last)) {
        (Some(first), Some(last)) if first <= last => Ok(first..=last),
        _ => Err(format!(
            "found '{}', expected a number from 1 to {most} or a range as in 7..9",
            text.escape_debug()
        )),
    }
}

/// Writes a number with a number of digits that count; those before the point are all written.
///
/// ```
/// use tallyhouse_words::rounded;
///
/// assert_eq!(rounded(0.012_345, 3), "0.0123");
/// assert_eq!(rounded(1234.5, 3), "1,234");
/// ```
#[must_use]
pub fn rounded(value: f64, digits: u8) -> String {
    Place::of_digits(value, i32::from(digits)).at_most_whole().write(value)
}

/// Writes a limit that a number lies above, rounded down to as many digits as [`rounded`] has.
///
/// ```
/// assert_eq!(tallyhouse_words::rounded_down(16.97, 3), "16.9");
/// ```
#[must_use]
pub fn rounded_down(value: f64, digits: u8) -> String {
    Place::of_digits(value, i32::from(digits)).at_most_whole().write_bound(End::Low, value)
}

/// Writes a limit that a number lies below, rounded up to as many digits as [`rounded`] has.
///
/// ```
/// assert_eq!(tallyhouse_words::rounded_up(16.93, 3), "17.0");
/// ```
#[must_use]
pub fn rounded_up(value: f64, digits: u8) -> String {
    Place::of_digits(value, i32::from(digits)).at_most_whole().write_bound(End::High, value)
}

/// Writes a number of which nothing is known but that it lies above a limit: whole, with two digits
/// that count.
///
/// ```
/// use tallyhouse_words::over;
///
/// assert_eq!([9.6, 1293.0, 297_000.0].map(over), ["over 9", "over 1,200", "over 290,000"]);
/// ```
#[must_use]
pub fn over(limit: f64) -> String {
    format!("over {}", Place::of_digits(limit, 2).at_least_whole().write_bound(End::Low, limit))
}

/// Writes a share of which nothing is known but that it lies below a limit, with two digits that count.
///
/// ```
/// use tallyhouse_words::under_share;
///
/// assert_eq!([0.12, 0.001_234].map(under_share), ["under 12 %", "under 0.13 %"]);
/// ```
#[must_use]
pub fn under_share(limit: f64) -> String {
    let percent = 100.0 * limit;
    let place = Place::of_digits(percent, 2).at_most_whole();
    format!("under {} %", place.write_share_bound(End::High, percent))
}

/// Writes a number with a number of decimals, in groups of three digits.
///
/// ```
/// assert_eq!(tallyhouse_words::fixed(-1234.56, 1), "−1,234.6");
/// ```
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    Place::after(decimals).write(value)
}

/// Writes a p-value: three decimals below 0.1, else two; the ends as bounds.
///
/// ```
/// use tallyhouse_words::p_value;
///
/// assert_eq!(p_value(0.04), "p = 0.040");
/// assert_eq!(p_value(1e-9), "p < 0.001");
/// ```
#[must_use]
pub fn p_value(p: f64) -> String {
    match p {
        p if p < 0.001 => "p < 0.001".to_owned(),
        p if p < 0.0995 => format!("p = {p:.3}"),
        p if p <= 0.99 => format!("p = {p:.2}"),
        _ => "p > 0.99".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_have_three_digits_that_count_and_never_look_certain() {
        let shares = [0.0, 0.5, 0.012_34, 0.001_234, 0.000_001_5, 0.999_999_9, 1.0];
        let texts = ["0 %", "50.0 %", "1.23 %", "0.123 %", "0.000150 %", "99.9999900 %", "100 %"];
        assert_eq!(shares.map(percent), texts);
    }

    #[test]
    fn p_values_have_their_ends() {
        let texts = ["p < 0.001", "p = 0.001", "p = 0.050", "p = 0.10", "p = 0.99", "p > 0.99"];
        assert_eq!([0.0, 0.001, 0.05, 0.0999, 0.99, 1.0].map(p_value), texts);
    }

    #[test]
    fn numbers_are_rounded_to_digits_or_decimals() {
        assert_eq!(
            [0.0, 2.0, 26.5769, 123_456.7].map(|n| rounded(n, 3)),
            ["0", "2.00", "26.6", "123,457"]
        );
        assert_eq!([0.0, -0.001, 1e6].map(|n| fixed(n, 1)), ["0.0", "0.0", "1,000,000.0"]);
    }
}
