//! Looks as people write them in files.

use tallyhouse_engine::{Look, LookError};

/// Reads a look; `open N` stands for `open N..N`.
pub(crate) fn read(text: &str) -> Result<Look, LookError> {
    match text.split_once("open") {
        Some((look, open)) if !open.contains("..") => {
            let open = open.trim();
            format!("{look} open {open}..{open}").parse().map_err(|error| match error {
                LookError::Text(_) => LookError::Text(text.to_owned()),
                error => error,
            })
        }
        _ => text.parse(),
    }
}

/// Returns the text of a look without its range, and the range if it is limited.
pub(crate) fn parts(look: Look) -> (String, Option<String>) {
    let text = look.to_string();
    match text.split_once(" open ") {
        None => (text, None),
        Some((look, range)) => {
            let short = range.split_once("..").filter(|(least, most)| least == most);
            (look.to_owned(), Some(short.map_or(range, |(open, _)| open).to_owned()))
        }
    }
}

/// Writes a look as people do, with `open N` for a single count.
pub fn write(look: Look) -> String {
    match parts(look) {
        (look, None) => look,
        (look, Some(open)) => format!("{look} open {open}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_open_count_may_stand_alone() {
        for text in ["naked 2", "hidden 3 open 8", "naked 5 open 8..9", "intersections"] {
            assert_eq!(write(read(text).unwrap()), text);
        }
        assert_eq!(read("naked 2 open 7..7"), read("naked 2 open 7"));
        let message = read("naked 2 open x").unwrap_err().to_string();
        assert!(message.starts_with("'naked 2 open x' is not a look"), "{message}");
    }
}
