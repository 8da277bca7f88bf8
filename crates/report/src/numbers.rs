//! Numbers as readers like them.

pub use tallyhouse_analysis::{counted, decimals, grouped};
use tallyhouse_stats::Estimate;

/// Below this number of puzzles a rate is marked as resting on few.
pub const FEW: u64 = 30;

/// Writes a rate with one decimal, a small one with two significant digits, and a measured zero bare,
/// so that it is not taken for a rounded value.
#[must_use]
pub fn readable(count: u64, rate: f64) -> String {
    if count == 0 {
        return "0".to_owned();
    }
    let digits = (1 - rate.log10().floor() as i32).max(1) as usize;
    format!("{rate:.digits$}")
}

/// Writes a share in percent; nothing if there is no whole.
#[must_use]
pub fn percent(part: u64, whole: u64) -> String {
    if whole == 0 {
        return "-".to_owned();
    }
    readable(part, 100.0 * part as f64 / whole as f64) + " %"
}

/// Writes a rate per thousand; nothing if there is no whole.
#[must_use]
pub fn per_thousand(count: u64, of: u64) -> String {
    if of == 0 {
        return "-".to_owned();
    }
    readable(count, 1000.0 * count as f64 / of as f64)
}

/// Writes a count so that it fits into a small space.
#[must_use]
pub fn compact(count: u64) -> String {
    if count < 1_000_000 { grouped(count) } else { format!("{:.2}M", count as f64 / 1e6) }
}

/// Writes a share of 0 to 1 in percent with digits enough not to look certain.
#[must_use]
pub fn share(value: f64) -> String {
    let value = 100.0 * value.clamp(0.0, 1.0);
    let from_end = value.min(100.0 - value);
    let digits = match from_end {
        d if d == 0.0 || d >= 1.0 => 2,
        d if d >= 0.01 => 3,
        _ => 6,
    };
    format!("{value:.digits$} %")
}

/// Writes the interval of a share.
#[must_use]
pub fn share_interval(estimate: &Estimate) -> String {
    format!("{} to {}", share(estimate.interval.low), share(estimate.interval.high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_well() {
        assert_eq!([0, 999, 1000, 1_234_567].map(grouped), ["0", "999", "1,000", "1,234,567"]);
        assert_eq!(percent(1, 3), "33.3 %");
        assert_eq!(percent(1, 30_000), "0.0033 %");
        assert_eq!((percent(0, 5), percent(0, 0)), ("0 %".to_owned(), "-".to_owned()));
        assert_eq!(per_thousand(1, 25_000), "0.040");
        assert_eq!(per_thousand(25, 100), "250.0");
        assert_eq!(share(0.999_999_9), "99.999990 %");
        assert_eq!((share(0.5), share(0.0)), ("50.00 %".to_owned(), "0.00 %".to_owned()));
        assert_eq!(compact(12_345_678), "12.35M");
    }
}
