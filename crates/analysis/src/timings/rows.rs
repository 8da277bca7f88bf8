//! Rows of small tables that people fill in: by the names of their columns, each with its line.

use std::fs;

use crate::FileError;

/// A line below the names of the columns.
pub(super) struct Row<const N: usize> {
    /// The line, from 1.
    pub(super) line: usize,
    /// The line as it stands.
    pub(super) text: String,
    /// The field of the first column that was asked for, whatever is wrong with the line.
    pub(super) first: String,
    /// The fields that were asked for, or what is wrong with the line.
    pub(super) fields: Result<[String; N], String>,
}

/// Makes an error for a line of a file.
pub(super) fn wrong(file: &str, line: usize, what: impl Into<String>) -> FileError {
    FileError::Content { file: file.to_owned(), line, what: what.into() }
}

/// Reads a table with commas, semicolons or tabs, as spreadsheets write them. Blank lines and those that
/// begin with `#` don't count.
///
/// # Errors
/// If the file can't be read or lacks a column; `advice` says what to do then.
pub(super) fn read<const N: usize>(
    file: &str,
    columns: [&str; N],
    advice: &str,
) -> Result<Vec<Row<N>>, FileError> {
    let bytes =
        fs::read(file).map_err(|error| FileError::Unreadable { file: file.to_owned(), error })?;
    parse(file, &String::from_utf8_lossy(&bytes), columns, advice)
}

/// Reads the text of such a table.
pub(super) fn parse<const N: usize>(
    file: &str,
    text: &str,
    columns: [&str; N],
    advice: &str,
) -> Result<Vec<Row<N>>, FileError> {
    let lines = text.trim_start_matches('\u{feff}').lines().zip(1..);
    let mut lines = lines.filter(|(line, _)| !line.trim().is_empty() && !line.starts_with('#'));
    let expected = columns.join(", ");
    let Some((names, at)) = lines.next() else {
        let what = format!("found nothing, expected a line with the columns {expected}; {advice}");
        return Err(wrong(file, 1, what));
    };
    let commas_last = [b'\t', b';', b','];
    let delimiter = commas_last.into_iter().max_by_key(|&mark| fields(names, mark).len());
    let delimiter = delimiter.unwrap_or(b',');
    let names = fields(names, delimiter);
    let place = |name: &&str| names.iter().position(|found| found.eq_ignore_ascii_case(name));
    let missing: Vec<&str> = columns.into_iter().filter(|name| place(name).is_none()).collect();
    if !missing.is_empty() {
        let (found, missing) = (names.join(", "), tallyhouse_words::list(missing));
        let what = format!("found the columns {found}, expected {missing} too; {advice}");
        return Err(wrong(file, at, what));
    }
    let places = columns.map(|name| place(&name).unwrap_or_default());
    let row = |(text, line): (&str, usize)| {
        let all = fields(text, delimiter);
        let first = places.first().and_then(|&place| all.get(place)).cloned().unwrap_or_default();
        let fields = if all.len() == names.len() {
            Ok(places.map(|place| all[place].clone()))
        } else {
            Err(format!("found {} fields, expected {}", all.len(), names.len()))
        };
        Row { line, text: text.to_owned(), first, fields }
    };
    Ok(lines.map(row).collect())
}

/// Takes a line apart.
fn fields(line: &str, delimiter: u8) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .delimiter(delimiter)
        .trim(csv::Trim::All)
        .from_reader(line.as_bytes());
    let record = reader.records().next().and_then(Result::ok).unwrap_or_default();
    record.iter().map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Result<Vec<Row<2>>, FileError> {
        parse("t.csv", text, ["person", "seconds"], "fill it in")
    }

    #[test]
    fn columns_go_by_their_names_and_lines_by_their_numbers() {
        for text in [
            "person,seconds,note\n1,2.5,x\n\n# y\n2,3,\n",
            "\u{feff}note;Seconds;person\r\n;2,5;1\r\n\r\n#\r\n;3;2\r\n",
            "seconds\tnote\tperson\n2.5\t\t1\n\n#\n3\tz\t2",
        ] {
            let rows = parsed(text).unwrap();
            let lines: Vec<usize> = rows.iter().map(|row| row.line).collect();
            assert_eq!(lines, [2, 5], "{text}");
            assert_eq!(rows[1].fields.as_ref().unwrap(), &["2", "3"]);
        }
        let rows = parsed("person,seconds\n1,2,3\n").unwrap();
        assert_eq!(rows[0].fields.as_ref().unwrap_err(), "found 3 fields, expected 2");
        assert_eq!(rows[0].text, "1,2,3");
    }

    #[test]
    fn missing_columns_are_named() {
        let error = |text: &str| parsed(text).err().unwrap().to_string();
        assert_eq!(
            error("# simulated\nperson,time\n1,2\n"),
            "t.csv, line 2: found the columns person, time, expected seconds too; fill it in"
        );
        assert_eq!(
            error("\n"),
            "t.csv, line 1: found nothing, expected a line with the columns person, seconds; fill \
             it in"
        );
    }
}
