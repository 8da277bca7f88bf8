//! Puzzle lines inside running text.

use minijinja::HtmlEscape;

/// Cells of a board, and so characters of a puzzle line.
const CELLS: usize = 81;
/// Cells of a row: a line that is too long for the page is broken between rows.
const ROW: usize = 9;

/// Tells if a word is a puzzle line, whatever punctuation follows it.
fn is_puzzle_line(word: &str) -> bool {
    word.len() == CELLS && word.bytes().all(|byte| byte == b'.' || byte.is_ascii_digit())
}

/// Splits a text into pieces; every second piece, from the second on, is a puzzle line.
pub(crate) fn split(text: &str) -> Vec<&str> {
    let mut pieces = Vec::new();
    let mut rest = text;
    let mut at = 0;
    for word in text.split(char::is_whitespace) {
        let line = word.trim_end_matches([',', ';', ':']);
        if is_puzzle_line(line) {
            let start = at - (text.len() - rest.len());
            pieces.extend([&rest[..start], line]);
            rest = &rest[start + line.len()..];
        }
        // The character that ended the word may take several bytes.
        at += word.len();
        at += text[at..].chars().next().map_or(0, char::len_utf8);
    }
    pieces.push(rest);
    pieces
}

/// Returns a text as HTML, its puzzle lines as code that may be broken between rows.
pub(crate) fn marked_up(text: &str) -> String {
    let mut html = String::new();
    for (index, piece) in split(text).into_iter().enumerate() {
        if index % 2 == 0 {
            html.push_str(&HtmlEscape(piece).to_string());
        } else {
            let rows: Vec<_> = (0..CELLS).step_by(ROW).map(|at| &piece[at..at + ROW]).collect();
            html.push_str(&format!("<code class=\"puzzle\">{}</code>", rows.join("<wbr>")));
        }
    }
    html
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: &str =
        "5...........6.....3...8.......1.......7..4......9....2.......6......1....7..4....";

    #[test]
    fn puzzle_lines_are_found_among_words() {
        assert_eq!(split(LINE), ["", LINE, ""]);
        let text = format!("puzzle\u{a0}88\u{2003}{LINE}, box 3; {LINE}");
        assert_eq!(split(&text), ["puzzle\u{a0}88\u{2003}", LINE, ", box 3; ", LINE, ""]);
        assert_eq!(split(&LINE[1..]), [&LINE[1..]]);
        assert_eq!(split("ä  <b>"), ["ä  <b>"]);
        assert_eq!(split(""), [""]);
    }

    #[test]
    fn all_else_is_escaped() {
        let html = marked_up(&format!("<b> {LINE}, \"x\""));
        assert!(html.starts_with("&lt;b&gt; <code class=\"puzzle\">5........<wbr>..."), "{html}");
        assert!(html.ends_with("</code>, &quot;x&quot;"), "{html}");
        assert_eq!(html.matches("<wbr>").count(), 8);
    }
}
