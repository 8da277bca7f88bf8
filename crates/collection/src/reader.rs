use crate::Format;
use crate::lines::Lines;
use crate::row::Row;
use crate::table::{LineError, TableRows};
use crate::text_rows::TextRows;

/// Makes rows of the lines of a source.
pub(crate) enum Reader {
    Text(TextRows),
    Table(TableRows),
    Nothing,
}

impl Reader {
    pub(crate) fn new(lines: &mut Lines, format: &Format) -> Result<Self, LineError> {
        Ok(match format {
            Format::Auto => {
                let table = TableRows::detect(lines)?;
                table.map_or_else(|| Self::Text(TextRows::new(true)), Self::Table)
            }
            Format::Lines => Self::Text(TextRows::new(false)),
            Format::Grids => Self::Text(TextRows::new(true)),
            Format::Table { column } => {
                TableRows::new(lines, column.as_ref())?.map_or(Self::Nothing, Self::Table)
            }
        })
    }

    pub(crate) fn next(&mut self, lines: &mut Lines) -> Option<Row> {
        match self {
            Self::Text(reader) => reader.next(lines),
            Self::Table(reader) => reader.next(lines),
            Self::Nothing => None,
        }
    }
}
