//! Cells, columns, notes and records.

use tallyhouse_document::{Block, Cell, Column, Note, NoteKind};
use tallyhouse_stats::{Estimate, Level, Limits};
use tallyhouse_words::{Measured, count, share_and_ends};

/// The column of an interval.
pub(crate) fn interval_column(level: Level) -> Column {
    column(&format!("{level} interval"), "")
}

/// What stands where there is no number.
pub(crate) const NONE: &str = "–";

pub(crate) fn column(title: &str, help: &str) -> Column {
    Column { title: title.to_owned(), help: help.to_owned(), numeric: true }
}

pub(crate) fn words(title: &str, help: &str) -> Column {
    Column { numeric: false, ..column(title, help) }
}

pub(crate) fn number(value: u64) -> Cell {
    Cell { text: count(value), sort: Some(value as f64), id: None }
}

pub(crate) fn text(text: impl Into<String>) -> Cell {
    Cell { text: text.into(), sort: None, id: None }
}

pub(crate) fn sorted(text: impl Into<String>, sort: f64) -> Cell {
    Cell { text: text.into(), sort: Some(sort), id: None }
}

pub(crate) fn remark(text: impl Into<String>) -> Block {
    Block::Note(Note { kind: NoteKind::Remark, text: text.into() })
}

pub(crate) fn warning(text: impl Into<String>) -> Block {
    Block::Note(Note { kind: NoteKind::Warning, text: text.into() })
}

/// A share of houses and its interval, as far as they are known.
pub(crate) fn limit_cells(share: Limits) -> [Cell; 2] {
    let Limits { value, low, high } = share;
    let cell = |words: Option<String>, by: Option<f64>| {
        words.map_or_else(|| text(NONE), |words| sorted(words, by.unwrap_or_default()))
    };
    let [words, ends] = share_and_ends(value, low, high);
    [cell(words, value), cell(ends, low)]
}

pub(crate) fn share_cells(estimate: Option<&Estimate>) -> [Cell; 2] {
    estimate.map_or_else(
        || [text(NONE), text(NONE)],
        |estimate| {
            let share = Measured::from(*estimate);
            [
                sorted(share.percent_value(), share.value),
                sorted(share.percent_interval(), share.low),
            ]
        },
    )
}
