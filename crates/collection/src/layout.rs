//! How a row stands in its source, and where its puzzle ends.

/// How a row stood in its source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Layout {
    /// As one line: puzzle and label.
    Line,
    /// As a grid of 9 lines.
    Grid,
    /// As a field of a table.
    Field,
}

pub(crate) fn is_token_end(c: char) -> bool {
    c.is_whitespace() || c == ','
}

/// Returns the text up to the first white space or comma.
pub(crate) fn first_token(text: &str) -> &str {
    // Most lines are a bare puzzle, for which looking at bytes is enough.
    let plain = |byte: u8| byte > b' ' && byte != b',' && byte.is_ascii();
    if text.bytes().fold(true, |all, byte| all & plain(byte)) {
        return text;
    }
    text.split(is_token_end).next().unwrap_or_default()
}
