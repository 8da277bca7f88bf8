//! Counts, and shares of counts.

use crate::places::{Place, group};

/// Writes a count in groups of three digits.
///
/// ```
/// assert_eq!(tallyhouse_words::count(1_234_567), "1,234,567");
/// ```
#[must_use]
pub fn count(number: u64) -> String {
    group(&number.to_string())
}

/// Writes a rough count: two digits that count, and noughts.
///
/// ```
/// use tallyhouse_words::about;
///
/// assert_eq!(about(40_725), "41,000");
/// assert_eq!(about(7), "7");
/// ```
#[must_use]
pub fn about(number: u64) -> String {
    if number < 100 {
        count(number)
    } else {
        Place::of_digits(number as f64, 2).write(number as f64)
    }
}

/// Returns the word for one or for many.
///
/// ```
/// assert_eq!(tallyhouse_words::plural(2, "is", "are"), "are");
/// ```
#[must_use]
pub const fn plural<'a>(number: u64, one: &'a str, many: &'a str) -> &'a str {
    if number == 1 { one } else { many }
}

/// Writes a count with its noun.
///
/// ```
/// use tallyhouse_words::counted;
///
/// assert_eq!(counted(1, "family", "families"), "1 family");
/// assert_eq!(counted(1_000, "quiet position", "quiet positions"), "1,000 quiet positions");
/// ```
#[must_use]
pub fn counted(number: u64, one: &str, many: &str) -> String {
    format!("{} {}", count(number), plural(number, one, many))
}

/// Writes a count so that it fits into a small space.
///
/// ```
/// assert_eq!(tallyhouse_words::compact(12_345_678), "12.35M");
/// ```
#[must_use]
pub fn compact(number: u64) -> String {
    if number < 1_000_000 { count(number) } else { format!("{:.2}M", number as f64 / 1e6) }
}

/// Reads a number that was written for people, with the mark that may follow it.
///
/// ```
/// use tallyhouse_words::read_back;
///
/// let texts = ["0.30*", "1,234", "12.35M", "−4", "–", "none"];
/// let numbers = [Some(0.3), Some(1234.0), Some(12_350_000.0), Some(-4.0), None, None];
/// assert_eq!(texts.map(read_back), numbers);
/// ```
#[must_use]
pub fn read_back(text: &str) -> Option<f64> {
    let digits = text.trim_end_matches('*').replace(',', "").replace('−', "-");
    match digits.strip_suffix('M') {
        Some(millions) => format!("{millions}e6").parse().ok(),
        None => digits.parse().ok(),
    }
}

/// Writes a part of a whole in per cent, to the place that as many independent draws would support;
/// a dash if there is no whole.
///
/// ```
/// use tallyhouse_words::share_of;
///
/// assert_eq!(share_of(1, 3), "33 %");
/// assert_eq!(share_of(333_333, 1_000_000), "33.33 %");
/// assert_eq!(share_of(99_999, 100_000), "99.999 %");
/// assert_eq!(share_of(0, 5), "0 %");
/// assert_eq!(share_of(0, 0), "–");
/// ```
#[must_use]
pub fn share_of(part: u64, whole: u64) -> String {
    if whole == 0 {
        return "–".to_owned();
    }
    let share = part as f64 / whole as f64;
    let width = 400.0 * (share * (1.0 - share) / whole as f64).max(0.0).sqrt();
    // Multiplied first: halves stay halves, so that two parts of a whole are rounded alike.
    let percent = 100.0 * part as f64 / whole as f64;
    format!("{} %", Place::of_share(percent, width).write_share(percent))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_grouped() {
        assert_eq!([0, 999, 1000, 1_234_567].map(count), ["0", "999", "1,000", "1,234,567"]);
        assert_eq!(count(u64::MAX), "18,446,744,073,709,551,615");
        assert_eq!(
            [0, 1, 2].map(|n| counted(n, "puzzle", "puzzles")),
            ["0 puzzles", "1 puzzle", "2 puzzles"]
        );
        assert_eq!([999_999, 1_000_000].map(compact), ["999,999", "1.00M"]);
    }

    #[test]
    fn more_draws_bring_more_digits() {
        let third = [3, 300, 30_000, 3_000_000].map(|n| share_of(n / 3, n));
        assert_eq!(third, ["33 %", "33 %", "33.3 %", "33.33 %"]);
    }

    #[test]
    fn a_share_is_never_rounded_to_nothing_or_to_all() {
        assert_eq!(share_of(1, 30_000), "0.003 %");
        assert_eq!(share_of(29_999, 30_000), "99.997 %");
        assert_eq!((share_of(0, 7), share_of(7, 7)), ("0 %".into(), "100 %".into()));
    }
}
