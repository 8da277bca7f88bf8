use crate::{Estimate, Interval, Level, Method, Share};

/// Returns the difference of two shares from separate samples, first minus second, with Newcombe's
/// square-and-add interval.
///
/// With Wilson limits l, u of each share the limits are d − √((p₁ − l₁)² + (u₂ − p₂)²) and
/// d + √((u₁ − p₁)² + (p₂ − l₂)²). Assumes that the samples are independent of each other: the same
/// units judged twice belong into [`PairedCounts`](crate::PairedCounts).
///
/// R. G. Newcombe, Statist. Med. 17, 1998, 873–890, method 10.
#[must_use]
pub fn newcombe_difference(first: Share, second: Share, level: Level) -> Estimate {
    square_and_add(first, second, level, 0.0, Method::NewcombeUnpaired)
}

/// Newcombe's limits with the correlation `phi` between the two shares.
pub(crate) fn square_and_add(
    first: Share,
    second: Share,
    level: Level,
    phi: f64,
    method: Method,
) -> Estimate {
    let [(below_first, above_first), (below_second, above_second)] = [first, second].map(|share| {
        let Interval { low, high } = share.wilson(level);
        (share.value() - low, high - share.value())
    });
    // Rounding may take the sum of squares below zero when phi is 1.
    let reach = |a: f64, b: f64| (a * a - 2.0 * phi * a * b + b * b).max(0.0).sqrt();
    let value = first.value() - second.value();
    let interval = Interval {
        low: (value - reach(below_first, above_second)).max(-1.0),
        high: (value + reach(above_first, below_second)).min(1.0),
    };
    Estimate { value, interval, method }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::test_support::assert_close;

    fn difference(first: (u64, u64), second: (u64, u64)) -> Estimate {
        let [first, second] = [first, second].map(|(hits, n)| Share::new(hits, n).unwrap());
        newcombe_difference(first, second, Level::P95)
    }

    /// R. G. Newcombe, Statist. Med. 17, 1998, 873–890, Table II, method 10.
    #[test]
    fn newcombe_1998_table_ii() {
        let rows = [
            ((56, 70), (48, 80), 0.0524, 0.3339),
            ((9, 10), (3, 10), 0.1705, 0.8090),
            ((6, 7), (2, 7), 0.0582, 0.8062),
            ((5, 56), (0, 29), -0.0381, 0.1926),
            ((0, 10), (0, 20), -0.1611, 0.2775),
            ((0, 10), (0, 10), -0.2775, 0.2775),
            ((10, 10), (0, 20), 0.6791, 1.0),
            ((10, 10), (0, 10), 0.6075, 1.0),
        ];
        for (first, second, low, high) in rows {
            let found = difference(first, second).interval;
            assert_close(found.low, low, 0.000_05);
            assert_close(found.high, high, 0.000_05);
        }
        let found = difference((56, 70), (48, 80)).interval;
        assert_close(found.low, 0.052_431_47, 5e-9);
        assert_close(found.high, 0.333_872_65, 5e-9);
    }

    /// 84/101 − 89/105: a worked example in a published paper for SAS users (author and title not
    /// at hand).
    #[test]
    fn published_sas_example() {
        let found = difference((84, 101), (89, 105)).interval;
        assert_close(found.low, -0.1177, 0.000_05);
        assert_close(found.high, 0.0851, 0.000_05);
    }

    proptest! {
        #[test]
        fn exchanging_the_samples_exchanges_the_limits(
            (m, a) in (1u64..2000).prop_flat_map(|n| (Just(n), 0..=n)),
            (n, b) in (1u64..2000).prop_flat_map(|n| (Just(n), 0..=n)),
        ) {
            let (forth, back) = (difference((a, m), (b, n)), difference((b, n), (a, m)));
            prop_assert!((forth.interval.low + back.interval.high).abs() < 1e-14);
            prop_assert!(forth.interval.contains(forth.value));
            prop_assert!(-1.0 <= forth.interval.low && forth.interval.high <= 1.0);
        }
    }
}
