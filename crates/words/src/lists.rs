//! Lists and sentences.

use std::fmt::Display;

/// Joins words as people list them.
///
/// ```
/// use tallyhouse_words::list;
///
/// assert_eq!(list(["r4c2"]), "r4c2");
/// assert_eq!(list([3, 8]), "3 and 8");
/// assert_eq!(list(["a", "b", "c"]), "a, b and c");
/// ```
#[must_use]
pub fn list<T: Display>(items: impl IntoIterator<Item = T>) -> String {
    joined(&texts(items), "and")
}

/// Joins words of which one holds.
///
/// ```
/// assert_eq!(tallyhouse_words::list_or(["a", "b", "c"]), "a, b or c");
/// ```
#[must_use]
pub fn list_or<T: Display>(items: impl IntoIterator<Item = T>) -> String {
    joined(&texts(items), "or")
}

/// Joins words; a list longer than `most` ends in how many more there are.
///
/// ```
/// use tallyhouse_words::list_some;
///
/// assert_eq!(list_some(["a", "b", "c"], 3), "a, b and c");
/// assert_eq!(list_some(["a", "b", "c", "d", "e"], 3), "a, b and 3 more");
/// ```
#[must_use]
pub fn list_some<T: Display>(items: impl IntoIterator<Item = T>, most: usize) -> String {
    let mut texts = texts(items);
    if texts.len() > most.max(1) {
        let more = texts.len() + 1 - most.max(1);
        texts.truncate(most.max(1) - 1);
        texts.push(format!("{more} more"));
    }
    joined(&texts, "and")
}

fn texts<T: Display>(items: impl IntoIterator<Item = T>) -> Vec<String> {
    items.into_iter().map(|item| item.to_string()).collect()
}

fn joined(items: &[String], last: &str) -> String {
    match items {
        [first @ .., end] if !first.is_empty() => format!("{} {last} {end}", first.join(", ")),
        _ => items.concat(),
    }
}

/// Begins a sentence: the first letter becomes a capital.
///
/// ```
/// assert_eq!(tallyhouse_words::sentence_start("five open cells"), "Five open cells");
/// ```
#[must_use]
pub fn sentence_start(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Goes on with a title within a sentence: its first letter becomes a small one.
///
/// ```
/// assert_eq!(tallyhouse_words::mid_sentence("Puzzles in print"), "puzzles in print");
/// ```
#[must_use]
pub fn mid_sentence(title: &str) -> String {
    let mut letters = title.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_of_every_length_read_well() {
        let names = ["a", "b", "c", "d"];
        let texts = ["", "a", "a and b", "a, b and c", "a, b, c and d"];
        for (length, text) in texts.into_iter().enumerate() {
            assert_eq!(list(&names[..length]), text);
        }
        assert_eq!(
            [1, 2, 3, 4].map(|most| list_some(names, most)),
            ["4 more", "a and 3 more", "a, b and 2 more", "a, b, c and d"]
        );
        assert_eq!(sentence_start(""), "");
    }
}
