//! What is told on standard error, and colours on a terminal: none in pipes, with `NO_COLOR` or on a
//! terminal that has none.

use std::io::{self, Write};
use std::path::Path;

use anstyle::{Ansi256Color, Style};
use serde::Serialize;
use tallyhouse_collection::RejectCounts;
use tallyhouse_stats::Decision;
use tallyhouse_words::{count, counted, shown};

const ERROR: Style = colour(160);
const WARNING: Style = colour(172);

const fn colour(number: u8) -> Style {
    Ansi256Color(number).on_default().bold()
}

/// Tells why the command failed.
pub(crate) fn error(error: &anyhow::Error) {
    let text = format!("{error:#}");
    tell(&format!("{ERROR}error:{ERROR:#} {}", shown(&text)));
}

/// Tells something that a person should know of the results.
pub(crate) fn warn(text: &str) {
    tell(&format!("{WARNING}warning:{WARNING:#} {}", shown(text)));
}

/// Rows that were rejected.
pub(crate) struct Rejected<'a> {
    /// How many.
    pub(crate) rows: u64,
    /// Of how many.
    pub(crate) of: u64,
    /// How many by reason, where that is known.
    pub(crate) reasons: Option<&'a RejectCounts>,
    /// The first, in words.
    pub(crate) first: Option<&'a str>,
    /// The file that lists them all.
    pub(crate) list: &'a Path,
}

/// Tells that rows were rejected.
pub(crate) fn warn_rejected(rejected: &Rejected<'_>) {
    let reasons = rejected.reasons.map(RejectCounts::iter).into_iter().flatten();
    let reasons: Vec<String> = reasons
        .filter(|(_, rows)| *rows > 0)
        .map(|(reason, rows)| format!("{} {reason}", count(rows)))
        .collect();
    let reasons =
        if reasons.is_empty() { String::new() } else { format!(" ({})", reasons.join(", ")) };
    warn(&format!(
        "{} of {} rejected{reasons}; first: {}; all are listed in {}",
        count(rejected.rows),
        counted(rejected.of, "row", "rows"),
        rejected.first.unwrap_or("unknown"),
        rejected.list.display()
    ));
}

/// Tells something that helps to read the results.
pub(crate) fn note(text: &str) {
    tell(&format!("note: {}", shown(text)));
}

/// Tells something on standard error; if even that fails, there is nobody left to tell.
fn tell(text: &str) {
    let _ = writeln!(anstream::stderr(), "{text}");
}

/// Prints a result as JSON.
pub(crate) fn print_json(result: &impl Serialize) -> anyhow::Result<()> {
    let json = serde_json::to_string_pretty(result)?;
    Ok(writeln!(io::stdout().lock(), "{json}")?)
}

/// Colours the verdicts at the beginning of lines; to be written to a stream of `anstream`.
pub(crate) fn with_verdicts(text: &str) -> String {
    let decisions = [
        (Decision::Supported, colour(33)),
        (Decision::Refuted, colour(172)),
        (Decision::Undecided, Style::new().bold()),
        (Decision::Depends, Style::new().bold()),
        (Decision::Certain(true), colour(33)),
        (Decision::Certain(false), colour(172)),
    ]
    .map(|(decision, style)| (decision.to_string().to_uppercase(), style));
    let coloured = |line: &str| {
        let decision = decisions.iter().find(|(words, _)| line.starts_with(words));
        decision.map_or_else(
            || line.to_owned(),
            |(words, style)| format!("{style}{words}{style:#}{}", &line[words.len()..]),
        )
    };
    text.split_inclusive('\n').map(coloured).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_verdicts_at_the_beginning_of_a_line_are_coloured() {
        let text = "VERDICTS: SUPPORTED\nREFUTED    a\n  UNDECIDED\n";
        let coloured = with_verdicts(text);
        assert_eq!(coloured.matches('\u{1b}').count(), 2 + 1, "{coloured:?}");
        assert!(coloured.contains("REFUTED\u{1b}[0m    a\n"), "{coloured:?}");
        assert!(coloured.starts_with("VERDICTS: SUPPORTED\n"));
    }
}
