//! Cells, columns, notes and records.

use tallyhouse_document::{Block, Cell, Column, Note, NoteKind};
use tallyhouse_stats::{Estimate, Level, Limits};
use tallyhouse_words::{Measured, count, share_and_ends};

/// The column of an interval.
pub(super) fn interval_column(level: Level) -> Column {
    column(&format!("{level} interval"), "")
}

/// What stands where there is no number.
pub(super) const NONE: &str = "–";

pub(super) fn column(title: &str, help: &str) -> Column {
    Column { title: title.to_owned(), help: help.to_owned(), numeric: true }
}

pub(super) fn words(title: &str, help: &str) -> Column {
    Column { numeric: false, ..column(title, help) }
}

pub(super) fn number(value: u64) -> Cell {
    Cell { text: count(value), sort: Some(value as f64), id: None }
}

pub(super) fn text(text: impl Into<String>) -> Cell {
    Cell { text: text.into(), sort: None, id: None }
}

pub(super) fn sorted(text: impl Into<String>, sort: f64) -> Cell {
    Cell { text: text.into(), sort: Some(sort), id: None }
}

pub(super) fn remark(text: impl Into<String>) -> Block {
    Block::Note(Note { kind: NoteKind::Remark, text: text.into() })
}

pub(super) fn warning(text: impl Into<String>) -> Block {
    Block::Note(Note { kind: NoteKind::Warning, text: text.into() })
}

/// A share of houses and its interval, as far as they are known.
pub(super) fn limit_cells(share: Limits) -> [Cell; 2] {
    let Limits { value, low, high } = share;
    let cell = |words: Option<String>, by: Option<f64>| {
        words.map_or_else(|| text(NONE), |words| sorted(words, by.unwrap_or_default()))
    };
    let [words, ends] = share_and_ends(value, low, high);
    [cell(words, value), cell(ends, low)]
}

pub(super) fn share_cells(estimate: Option<&Estimate>) -> [Cell; 2] {
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
