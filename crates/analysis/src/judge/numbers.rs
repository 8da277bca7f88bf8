//! Numbers as readers like them.

/// Writes a count in groups of three digits.
#[must_use]
pub fn count(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// Writes a number and what it counts, which is given in the plural, as in `houses with naked 2`.
pub fn counted(number: u64, plural: &str) -> String {
    let singular = match plural.split_once(' ') {
        _ if number != 1 => plural.to_owned(),
        Some(("quiet", _)) => plural.replacen("positions", "position", 1),
        _ if plural.starts_with("families") => plural.replacen("families", "family", 1),
        Some((noun, more)) => format!("{} {more}", noun.trim_end_matches('s')),
        None => plural.trim_end_matches('s').to_owned(),
    };
    format!("{} {singular}", count(number))
}

/// Returns the decimals, 3 to 6, that tell the ends of an interval apart.
pub fn decimals(low: f64, high: f64) -> usize {
    let width = high - low;
    if width > 0.0 { (-width.log10()).ceil().clamp(3.0, 6.0) as usize } else { 3 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_written_for_readers() {
        assert_eq!([0, 999, 1000, 1_234_567].map(count), ["0", "999", "1,000", "1,234,567"]);
        let ends = [(0.2, 0.4), (0.1556, 0.1565), (0.3, 0.3), (0.0, 1e-9)];
        assert_eq!(ends.map(|(low, high)| decimals(low, high)), [3, 4, 3, 6]);
        let pairs = "houses with naked 2";
        assert_eq!(
            [0, 1, 2].map(|n| counted(n, pairs)),
            [0, 1, 2].map(|n| {
                if n == 1 { "1 house with naked 2".to_owned() } else { format!("{n} {pairs}") }
            })
        );
        let one = ["puzzles", "quiet positions", "families", "houses at quiet positions"];
        let written = ["1 puzzle", "1 quiet position", "1 family", "1 house at quiet positions"];
        assert_eq!(one.map(|plural| counted(1, plural)), written);
    }
}
