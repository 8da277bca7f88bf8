//! Text that others wrote, made safe for what shows it.

use std::borrow::Cow;

/// What stands for a character that is not shown.
const UNSHOWN: char = '\u{fffd}';

/// Puts `�` for each control character but the tab and the line feed: in a terminal such characters
/// are orders.
///
/// ```
/// use tallyhouse_words::shown;
///
/// assert_eq!(shown("\u{1b}[31mred"), "�[31mred");
/// assert_eq!(shown("a\tb"), "a\tb");
/// ```
#[must_use]
pub fn shown(text: &str) -> Cow<'_, str> {
    let is_order = |c: char| c.is_control() && !matches!(c, '\t' | '\n');
    if text.contains(is_order) {
        Cow::Owned(text.replace(is_order, UNSHOWN.encode_utf8(&mut [0; 4])))
    } else {
        Cow::Borrowed(text)
    }
}

/// Writes text as a field of a CSV file that a spreadsheet takes for text. What would begin a formula
/// gets an apostrophe before it, and so does what already has some there: [`from_field`] takes one off.
///
/// ```
/// use tallyhouse_words::{as_field, from_field};
///
/// assert_eq!(as_field("=1+1"), "'=1+1");
/// assert_eq!(as_field("'=1+1"), "''=1+1");
/// assert_eq!(as_field("plain"), "plain");
/// assert_eq!(from_field(&as_field("@x")), "@x");
/// ```
#[must_use]
pub fn as_field(text: &str) -> Cow<'_, str> {
    if is_formula(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// Writes what may be a number or text as [`as_field`] writes text; numbers stay.
///
/// ```
/// use tallyhouse_words::as_field_or_number;
///
/// assert_eq!(as_field_or_number("-0.5"), "-0.5");
/// assert_eq!(as_field_or_number("-5+2"), "'-5+2");
/// ```
#[must_use]
pub fn as_field_or_number(text: &str) -> Cow<'_, str> {
    if text.parse::<f64>().is_ok() { Cow::Borrowed(text) } else { as_field(text) }
}

/// Reads a field that [`as_field`] wrote.
#[must_use]
pub fn from_field(field: &str) -> &str {
    field.strip_prefix('\'').filter(|text| is_formula(text)).unwrap_or(field)
}

/// Tests if text begins a formula, apostrophes before it left out.
fn is_formula(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(['=', '@', '+', '-', '\t', '\r'])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_control_character_but_tab_and_line_feed_is_replaced() {
        for c in ('\0'..='\u{ff}').filter(|c| c.is_control()) {
            let text = format!("a{c}b");
            let expected =
                if matches!(c, '\t' | '\n') { text.clone() } else { "a\u{fffd}b".to_owned() };
            assert_eq!(shown(&text), expected, "{c:?}");
        }
        assert_eq!(shown("ä → 数\u{a0}"), "ä → 数\u{a0}");
    }

    #[test]
    fn fields_are_read_as_they_were_written() {
        for text in ["=1", "@a", "+1", "-1", "\ta", "\ra", "'=1", "''=1", "'a", "'", "", "a=b"] {
            let field = as_field(text);
            assert!(!field.starts_with(['=', '@', '+', '-', '\t', '\r']), "{field}");
            assert_eq!(from_field(&field), text);
        }
    }
}
