//! Tables as plain text, for a terminal.

use crate::Table;

/// Writes a table with its caption above it; columns of numbers are set flush right. Without the file and
/// what the columns mean.
#[must_use]
pub fn to_text(table: &Table) -> String {
    let head = table.columns.iter().map(|column| column.title.as_str());
    let rows = table.rows.iter().map(|row| row.iter().map(|cell| cell.text.as_str()).collect());
    let lines: Vec<Vec<&str>> = [head.collect()].into_iter().chain(rows).collect();
    let width = |column: usize| {
        let cells = lines.iter().filter_map(|line| line.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or_default()
    };
    let mut text = format!("{}\n\n", table.caption);
    for line in &lines {
        let mut written = String::new();
        for (index, (cell, column)) in line.iter().zip(&table.columns).enumerate() {
            let width = width(index);
            written += &match column.numeric {
                true => format!("  {cell:>width$}"),
                false => format!("  {cell:<width$}"),
            };
        }
        text += written.trim_end();
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Cell, Column};

    #[test]
    fn columns_stand_below_each_other() {
        let column =
            |title: &str, numeric| Column { title: title.into(), numeric, ..Column::default() };
        let cell = |text: &str| Cell { text: text.into(), ..Cell::default() };
        let table = Table {
            caption: "Looks, of 9 puzzles".into(),
            columns: vec![column("look", false), column("finds", true)],
            rows: vec![vec![cell("naked 2"), cell("–")], vec![cell("hidden 2"), cell("1,200")]],
            ..Table::default()
        };
        let expected =
            "Looks, of 9 puzzles\n\n  look      finds\n  naked 2       –\n  hidden 2  1,200\n";
        assert_eq!(to_text(&table), expected);
    }
}
