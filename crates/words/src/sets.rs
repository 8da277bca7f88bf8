//! Small numbers, and sets by their size.

const NUMBERS: [&str; 13] = [
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
];

/// The names that the trade has for sets of 1 to 5.
const SETS: [&str; 5] = ["single", "pair", "triple", "quad", "quintet"];

/// Writes a number up to twelve as a word, a larger one in digits.
///
/// ```
/// use tallyhouse_words::number_word;
///
/// assert_eq!(number_word(0), "no");
/// assert_eq!(number_word(8), "eight");
/// assert_eq!(number_word(81), "81");
/// ```
#[must_use]
pub fn number_word(number: u8) -> String {
    NUMBERS.get(usize::from(number)).map_or_else(|| number.to_string(), |&word| word.to_owned())
}

/// Names a set by its size, as the trade does up to five.
///
/// ```
/// use tallyhouse_words::set_name;
///
/// assert_eq!(set_name(3), "triple");
/// assert_eq!(set_name(6), "set of six");
/// ```
#[must_use]
pub fn set_name(size: u8) -> String {
    let name = usize::from(size).checked_sub(1).and_then(|index| SETS.get(index));
    name.map_or_else(|| format!("set of {}", number_word(size)), |&name| name.to_owned())
}

/// Names sets of a size, many of them.
///
/// ```
/// use tallyhouse_words::set_names;
///
/// assert_eq!([2, 6].map(set_names), ["pairs", "sets of six"]);
/// ```
#[must_use]
pub fn set_names(size: u8) -> String {
    let name = set_name(size);
    match name.split_once(' ') {
        Some((first, rest)) => format!("{first}s {rest}"),
        None => format!("{name}s"),
    }
}

/// Writes the numbers from one to another.
///
/// ```
/// use tallyhouse_words::number_range;
///
/// assert_eq!([(5, 6), (5, 9)].map(|(from, to)| number_range(from, to)), ["five or six", "five to nine"]);
/// ```
#[must_use]
pub fn number_range(from: u8, to: u8) -> String {
    let and = if from.checked_add(1) == Some(to) { "or" } else { "to" };
    format!("{} {and} {}", number_word(from), number_word(to))
}

/// Reads what [`set_name`] writes for sizes of 1 to 12.
///
/// ```
/// use tallyhouse_words::set_size;
///
/// assert_eq!(set_size("quintet"), Some(5));
/// assert_eq!(set_size("set of six"), Some(6));
/// assert_eq!(set_size("heap"), None);
/// ```
#[must_use]
pub fn set_size(name: &str) -> Option<u8> {
    (1..NUMBERS.len() as u8).find(|&size| set_name(size) == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_back() {
        for size in 1..=12 {
            assert_eq!(set_size(&set_name(size)), Some(size));
        }
        let names = ["single", "pair", "triple", "quad", "quintet", "set of six", "set of eight"];
        assert_eq!([1, 2, 3, 4, 5, 6, 8].map(set_name), names);
        assert_eq!(set_size(""), None);
    }
}
