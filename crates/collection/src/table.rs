//! Rows of tables with a header.

use crate::grid::{join_lines, read_grid};
use crate::layout::Layout;
use crate::lines::{LONGEST_LINE, Line, Lines};
use crate::row::Row;
use crate::{Column, RowError, TableError};

const DELIMITERS: [u8; 3] = *b",;\t";

/// A record goes on over at most this many lines; a quote that is open longer is no quote.
const MOST_LINES: usize = 40;

/// Names in a header are no longer.
const LONGEST_NAME: usize = 60;

/// One record of a table, and the lines it was read from, with the first blank one before it.
struct Record {
    line: u64,
    fields: Vec<String>,
    lines: Vec<Line>,
    too_long: bool,
}

/// What begins as a comment is a row if it has at least two fields, and one of puzzles.
fn is_comment(line: &str, delimiter: u8, puzzle: usize) -> bool {
    line.split(char::from(delimiter)).nth(puzzle.max(1)).is_none()
}

impl Record {
    /// Reads a header.
    fn header(lines: &mut Lines, delimiter: u8) -> Option<Self> {
        Self::next(lines, delimiter, usize::MAX)
    }

    /// Reads a record whose puzzle has that many fields before it.
    fn next(lines: &mut Lines, delimiter: u8, puzzle: usize) -> Option<Self> {
        let mut read = Vec::new();
        let first = loop {
            let line = lines.next_unless(|line| is_comment(line, delimiter, puzzle))?;
            if !line.trimmed().is_empty() {
                break line.clone();
            }
            // One blank line says as much as many, and there may be millions.
            if read.is_empty() {
                read.push(line.clone());
            }
        };
        read.push(first.clone());
        let (line, too_long) = (first.number, first.cut);
        let fields = if !first.text.contains('"') || too_long {
            split_unquoted(&first.text, delimiter)
        } else {
            quoted(first.text, delimiter, lines, &mut read)
        };
        Some(Self { line, fields, lines: read, too_long })
    }

    fn trimmed(&self, index: usize) -> &str {
        self.fields.get(index).map_or("", |field| field.trim())
    }

    fn text(&self) -> String {
        join_lines(self.lines.iter().map(Line::trimmed).filter(|line| !line.is_empty()))
    }
}

fn split_unquoted(text: &str, delimiter: u8) -> Vec<String> {
    text.split(char::from(delimiter)).map(str::to_owned).collect()
}

/// Reads a record that has quotes; lines that belong to it are read on.
fn quoted(first: String, delimiter: u8, lines: &mut Lines, read: &mut Vec<Line>) -> Vec<String> {
    let before = read.len();
    let mut text = first.clone();
    let mut may_be_closed = true;
    let mut number = 0;
    loop {
        if may_be_closed && let Some(fields) = split_closed(&text, delimiter) {
            return fields;
        }
        read.extend(lines.next_or_comment().cloned());
        let next = read.get(before..).and_then(<[Line]>::last).filter(|line| {
            line.number > number
                && !line.cut
                && text.len() + line.text.len() <= LONGEST_LINE
                && read.len() - before < MOST_LINES
        });
        let Some(line) = next else {
            // Nothing closes the quote.
            lines.give_back(read.drain(before..));
            return split_unquoted(&first, delimiter);
        };
        number = line.number;
        text.push('\n');
        text.push_str(&line.text);
        may_be_closed = line.text.contains('"');
    }
}

/// Splits a record all of whose quotes are closed.
fn split_closed(text: &str, delimiter: u8) -> Option<Vec<String>> {
    // A line put after the record is a record of its own, unless a quote is open.
    let text = format!("{text}\n.");
    let mut records = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter)
        .buffer_capacity(text.len())
        .from_reader(text.as_bytes())
        .into_records();
    let record = records.next()?.ok()?;
    records.next()?.ok()?;
    Some(record.iter().map(str::to_owned).collect())
}

/// Which columns hold what.
#[derive(Debug)]
struct Columns {
    puzzle: usize,
    label: Option<usize>,
    weight: Option<usize>,
    family: Option<usize>,
}

impl Columns {
    fn new(header: &Record, puzzle: usize) -> Self {
        let find = |name: &str| find(header, name).filter(|&column| column != puzzle);
        Self {
            puzzle,
            label: find("label").or_else(|| find("name")),
            weight: find("weight"),
            family: find("family"),
        }
    }
}

fn find(header: &Record, name: &str) -> Option<usize> {
    header.fields.iter().position(|field| field.trim().eq_ignore_ascii_case(name))
}

fn names(header: &Record, columns: impl Iterator<Item = usize>) -> String {
    let name = |column| format!("{} '{}'", column + 1, header.trimmed(column).escape_debug());
    columns.map(name).collect::<Vec<_>>().join(", ")
}

fn is_puzzle(field: &str) -> bool {
    let is_line = |text: &str| {
        text.len() == 81 && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.')
    };
    is_line(field) || field.contains('\n') && read_grid(field).is_ok()
}

fn begins_table(header: &Record, first: &Record) -> bool {
    !header.too_long
        && header.fields.len() == first.fields.len()
        && is_header(header)
        // One word above a grid is its title.
        && (header.fields.len() > 1 || is_puzzle(first.trimmed(0)))
}

fn is_header(record: &Record) -> bool {
    let is_name = |field: &str| {
        field.len() <= LONGEST_NAME
            && field.chars().next().is_none_or(|first| first.is_alphabetic() || first == '_')
    };
    let fields: Vec<&str> = record.fields.iter().map(|field| field.trim()).collect();
    match fields.as_slice() {
        [only] => only.eq_ignore_ascii_case("puzzle"),
        _ => fields.iter().all(|field| is_name(field)) && fields.iter().any(|f| !f.is_empty()),
    }
}

/// Finds the column of puzzles from the first record; `None` if no column shows one.
fn puzzle_column(header: &Record, first: &Record) -> Result<Option<usize>, TableError> {
    let named = find(header, "puzzle");
    let found: Vec<usize> =
        (0..first.fields.len()).filter(|&column| is_puzzle(first.trimmed(column))).collect();
    let with_blanks: Vec<usize> = found
        .iter()
        .copied()
        .filter(|&column| first.trimmed(column).contains(['.', '0', '_', '-']))
        .collect();
    match (named, found.as_slice(), with_blanks.as_slice()) {
        (Some(column), ..) | (None, &[column], _) | (None, _, &[column]) => Ok(Some(column)),
        (None, [], _) => Ok(None),
        (None, several, _) => {
            Err(TableError::SeveralColumns { found: names(header, several.iter().copied()) })
        }
    }
}

pub(crate) struct TableRows {
    delimiter: u8,
    columns: Columns,
}

/// What is wrong, and in which line.
pub(crate) type LineError = (u64, TableError);

impl TableRows {
    /// Finds out if the source begins like a table; if it doesn't, nothing is taken from it.
    pub(crate) fn detect(lines: &mut Lines) -> Result<Option<Self>, LineError> {
        for delimiter in DELIMITERS {
            let Some(header) = Record::header(lines, delimiter) else { break };
            let first = Record::next(lines, delimiter, header.fields.len().saturating_sub(1));
            let column = match &first {
                Some(first) if begins_table(&header, first) => {
                    puzzle_column(&header, first).map_err(|error| (header.line, error))?
                }
                None if header.fields.len() > 1 && is_header(&header) => find(&header, "puzzle"),
                _ => None,
            };
            lines.give_back(first.into_iter().flat_map(|first| first.lines));
            if let Some(puzzle) = column {
                return Ok(Some(Self { delimiter, columns: Columns::new(&header, puzzle) }));
            }
            lines.give_back(header.lines.into_iter());
        }
        Ok(None)
    }

    /// Reads the header of a table and finds the column asked for; `None` if there are no rows.
    pub(crate) fn new(
        lines: &mut Lines,
        column: Option<&Column>,
    ) -> Result<Option<Self>, LineError> {
        let mut delimiter = DELIMITERS[0];
        let mut most_fields = 0;
        for candidate in DELIMITERS {
            let Some(header) = Record::header(lines, candidate) else { return Ok(None) };
            if header.fields.len() > most_fields {
                (most_fields, delimiter) = (header.fields.len(), candidate);
            }
            lines.give_back(header.lines.into_iter());
        }
        let Some(header) = Record::header(lines, delimiter) else { return Ok(None) };
        let all = || names(&header, 0..header.fields.len());
        let puzzle = match column {
            Some(column) => {
                let index = match column {
                    Column::Name(name) => find(&header, name),
                    Column::Number(number) => number.checked_sub(1),
                };
                let error = || TableError::NoColumn { column: column.clone(), found: all() };
                index
                    .filter(|&index| index < header.fields.len())
                    .ok_or_else(|| (header.line, error()))?
            }
            None if header.fields.len() == 1 => 0,
            None => {
                let first = Record::next(lines, delimiter, header.fields.len().saturating_sub(1));
                let Some(first) = first else { return Ok(None) };
                let column =
                    puzzle_column(&header, &first).map_err(|error| (header.line, error))?;
                let puzzle =
                    column.ok_or_else(|| (first.line, TableError::NoPuzzles { found: all() }))?;
                lines.give_back(first.lines.into_iter());
                puzzle
            }
        };
        Ok(Some(Self { delimiter, columns: Columns::new(&header, puzzle) }))
    }

    pub(crate) fn next(&self, lines: &mut Lines) -> Option<Row> {
        let record = Record::next(lines, self.delimiter, self.columns.puzzle)?;
        if record.too_long {
            return Some(Row::too_long(record.line, record.text()));
        }
        let Columns { puzzle, label, weight, family } = self.columns;
        let field = record.trimmed(puzzle);
        let mut row = if record.fields.len() <= puzzle {
            let found = record.fields.len();
            let mut row = Row::bare(record.line, record.text(), Layout::Field);
            row.set_defect(RowError::MissingField { found, column: puzzle + 1 });
            row
        } else if field.contains('\n') {
            match read_grid(field) {
                Ok(text) => Row::bare(record.line, text, Layout::Field),
                Err(error) => {
                    let text = join_lines(field.lines().map(str::trim));
                    let mut row = Row::bare(record.line, text, Layout::Field);
                    row.set_defect(error);
                    row
                }
            }
        } else {
            Row::bare(record.line, field.to_owned(), Layout::Field)
        };
        let value = |column: Option<usize>| {
            column.map(|column| record.trimmed(column)).filter(|value| !value.is_empty())
        };
        let label = value(label).map(|label| join_lines(label.lines().map(str::trim)));
        row.set_bare_label(&label.unwrap_or_default());
        value(weight).into_iter().for_each(|weight| row.set_weight(weight));
        value(family).into_iter().for_each(|family| row.set_family(family));
        Some(row)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blank_lines_are_not_kept() {
        let text = format!("a,b\n{}1,2\n", "\n".repeat(10_000));
        let mut lines = Lines::new(Box::new(std::io::Cursor::new(text.into_bytes())));
        let header = Record::header(&mut lines, b',').unwrap();
        let first = Record::next(&mut lines, b',', 1).unwrap();
        assert_eq!((header.lines.len(), first.lines.len(), first.line), (1, 2, 10_002));
    }
}
