//! Small hand-written examples of each format, good and bad, with their exact messages.

use tallyhouse_collection::{Block, Column, Entry, Format, Reject, Rows, Source};

const LINE: &str =
    "53..7....6..195....98....6.8...6...34..8.3..17...2...6.6....28....419..5....8..79";
const OTHER: &str =
    "..9748...7.........2.1.9.....7...24..64.1.59..98...3.....8.3.2.........6...2759..";

struct Reading {
    rows: Block,
    error: Option<String>,
}

fn read_as(text: impl AsRef<[u8]>, format: Format) -> Reading {
    let source = Source::memory("in.txt", text.as_ref()).with_format(format);
    let mut stream = Rows::open(vec![source]).unwrap();
    let mut rows = Vec::new();
    loop {
        match stream.block(3) {
            Ok(some) if some.is_empty() => return Reading { rows, error: None },
            Ok(some) => rows.extend(some),
            Err(error) => return Reading { rows, error: Some(error.to_string()) },
        }
    }
}

fn read(text: impl AsRef<[u8]>) -> Block {
    let Reading { rows, error } = read_as(text, Format::Auto);
    assert_eq!(error, None);
    rows
}

/// Shows each row as its line, its puzzle or what is wrong, and its label.
fn shown(rows: &Block) -> Vec<String> {
    let show = |row: &Result<Entry, Reject>| {
        let (line, puzzle, label) = match row {
            Ok(entry) => (entry.line, entry.puzzle.to_string(), &entry.label),
            Err(reject) => (reject.line, reject.reason.to_string(), &reject.label),
        };
        let puzzle = puzzle.replace(LINE, "LINE").replace(OTHER, "OTHER");
        let label = label.as_ref().map_or(String::new(), |label| format!(" [{label}]"));
        format!("{line}: {puzzle}{label}")
    };
    rows.iter().map(show).collect()
}

fn entry(rows: &Block, index: usize) -> &Entry {
    rows[index].as_ref().unwrap()
}

fn reject(rows: &Block, index: usize) -> &Reject {
    rows[index].as_ref().unwrap_err()
}

fn rows_of_nine(puzzle: &str) -> Vec<&str> {
    (0..9).map(|row| &puzzle[row * 9..][..9]).collect()
}

fn bare_grid(puzzle: &str) -> String {
    rows_of_nine(puzzle).join("\n") + "\n"
}

/// A grid with `between` after each third cell and `rule` after each third row.
fn framed(puzzle: &str, cell_gap: &str, between: &str, rule: &str) -> String {
    let mut text = String::new();
    for (index, row) in rows_of_nine(puzzle).into_iter().enumerate() {
        let cells: Vec<String> = row.chars().map(String::from).collect();
        let boxes: Vec<String> = cells.chunks(3).map(|cells| cells.join(cell_gap)).collect();
        text += &(boxes.join(between) + "\n");
        if index == 2 || index == 5 {
            text += rule;
        }
    }
    text
}

#[test]
fn one_puzzle_per_line_with_label_weight_and_family() {
    let rows = read(format!(
        "# ours\n{LINE} weight=2.5 first, easy family=7\n\n  {OTHER},second\n{LINE},weight=0.000001\n"
    ));
    assert_eq!(shown(&rows), ["2: LINE [first, easy]", "4: OTHER [second]", "5: LINE"]);
    assert_eq!(entry(&rows, 0).weight.unwrap().to_string(), "2.5");
    assert_eq!(entry(&rows, 0).family, Some(7));
    assert_eq!(entry(&rows, 0).text(), format!("{LINE} weight=2.5 first, easy family=7"));
    assert_eq!(entry(&rows, 0).to_string(), format!("{LINE} first, easy weight=2.5 family=7"));
    assert_eq!(entry(&rows, 2).weight.unwrap().millionths(), 1);
}

#[test]
fn bad_weights_and_families_are_named() {
    let rows = read(format!(
        "{LINE} weight=-1 x\n{LINE} family=1.5\n{LINE} weight=1 weight=2\n{}. weight=no\n",
        LINE
    ));
    assert_eq!(
        shown(&rows),
        [
            "1: weight is '-1': expected a decimal above 0 and at most 1000000000, with at most 6 \
             decimals",
            "2: family is '1.5': expected a whole number from 0 to 9223372036854775807",
            "3: weight is given twice: expected it once",
            "4: 82 characters instead of 81",
        ]
    );
}

#[test]
fn the_line_is_named_whatever_the_line_ends() {
    for end in ["\n", "\r\n", "\r"] {
        let rows = read([LINE, "", "# no row", OTHER, "12"].join(end));
        assert_eq!(
            shown(&rows),
            ["1: LINE", "4: OTHER", "5: 2 characters instead of 81"],
            "{end:?}"
        );
    }
}

#[test]
fn line_ends_may_fall_on_the_end_of_a_buffer() {
    const ROWS: u64 = 2000;
    for end in ["\n", "\r\n", "\r"] {
        for shift in 0..LINE.len() + 2 {
            let text = format!("#{}{end}", "é".repeat(shift))
                + &[LINE, end].concat().repeat(ROWS as usize);
            let units = [0xfeff].into_iter().chain(text.encode_utf16());
            let utf16: Vec<u8> = units.flat_map(u16::to_le_bytes).collect();
            for bytes in [text.into_bytes(), utf16] {
                let mut stream = Rows::open(vec![Source::memory("in", bytes)]).unwrap();
                let rows = stream.block(ROWS as usize + 1).unwrap();
                assert!(
                    rows.iter().flatten().map(|entry| entry.line).eq(2..ROWS + 2),
                    "{end:?} {shift}"
                );
                assert!(rows.iter().flatten().all(|entry| entry.text() == LINE), "{end:?} {shift}");
            }
        }
    }
}

#[test]
fn grids_with_and_without_frames() {
    let spaced = framed(LINE, " ", " | ", "------+-------+------\n");
    let doubled = framed(LINE, " ", " ‖ ", "").replace('‖', "║");
    let commas = framed(LINE, ",", ",", "").replace('.', "0");
    let spreadsheet = framed(LINE, ";", ";", "").replace('.', "_");
    let dashes = framed(LINE, " ", " ", "").replace('.', "-");
    let tight = framed(LINE, "", "|", "===+===+===\n");
    let equal = framed(LINE, "", " ", "\n");
    let boxed = format!(
        "┌───────┬───────┬───────┐\n{}└───────┴───────┴───────┘\n",
        spaced
            .lines()
            .map(|line| match line.contains('+') {
                true => "├───────┼───────┼───────┤\n".to_owned(),
                false => format!("│ {} │\n", line.replace('|', "│")),
            })
            .collect::<String>()
    );
    let every_row = rows_of_nine(LINE)
        .iter()
        .map(|row| {
            let cells: String = row.chars().map(|c| format!("|{c}")).collect();
            format!("+-+-+-+-+-+-+-+-+-+\n{cells}|\n")
        })
        .collect::<String>()
        + "+-+-+-+-+-+-+-+-+-+\n";
    for grid in [
        bare_grid(LINE),
        spaced,
        doubled,
        commas,
        spreadsheet,
        dashes,
        tight,
        equal,
        boxed,
        every_row,
    ] {
        let twice = format!("Grid 1 weight=3\n{grid}\nGrid 2\n\n{grid}{grid}");
        let rows = read(&twice);
        let shown: Vec<String> =
            shown(&rows).iter().map(|row| row.split_once(": ").unwrap().1.to_owned()).collect();
        assert_eq!(shown, ["LINE [Grid 1]", "LINE [Grid 2]", "LINE"], "{twice}");
        assert!(rows.iter().flatten().all(|entry| entry.text().len() == 81));
        assert_eq!(entry(&rows, 0).weight.unwrap().to_string(), "3");
        // A rule above the first row is no part of the grid.
        assert_eq!(
            entry(&rows, 0).line,
            if grid.starts_with(['+', '┌']) { 3 } else { 2 },
            "{twice}"
        );
    }
}

#[test]
fn titles_without_letters() {
    let text = format!("1\n{}2.\n{}=== 3 ===\n{0}", bare_grid(LINE), bare_grid(OTHER));
    assert_eq!(shown(&read(text)), ["2: LINE [1]", "12: OTHER [2.]", "22: LINE [=== 3 ===]"]);
}

#[test]
fn lines_and_grids_mixed() {
    let text = format!("{LINE} one\n{}{LINE}\nwords\n\nA title\n{0}nothing\n", bare_grid(OTHER));
    assert_eq!(
        shown(&read(text)),
        [
            "1: LINE [one]",
            "2: OTHER",
            "11: LINE",
            "12: 5 characters instead of 81",
            "15: OTHER [A title]",
            "24: 7 characters instead of 81",
        ]
    );
}

#[test]
fn spoilt_grids_are_rejected_whole_and_the_next_one_is_read() {
    let good = bare_grid(LINE);
    let spoilt = |from: &str, to: &str| format!("Spoilt\n{}\n{good}", good.replacen(from, to, 1));
    let short = shown(&read(spoilt("6..195...\n", "")));
    assert_eq!(short, ["2: a grid of 8 rows: expected 9 [Spoilt]", "11: LINE"]);
    let narrow = shown(&read(spoilt("6..195...", "6..195..")));
    assert_eq!(narrow, ["2: row 2 of the grid has 8 cells: expected 9 [Spoilt]", "12: LINE"]);
    let strange = read(spoilt("6..195...", "6..x95..."));
    assert_eq!(
        shown(&strange),
        [
            "2: row 2 of the grid has 'x': expected 1-9, or one of . 0 _ - for a blank [Spoilt]",
            "12: LINE"
        ]
    );
    assert_eq!(reject(&strange, 0).text, good.trim().replace('\n', "⏎").replace("6..1", "6..x"));
    let first = shown(&read(format!("{}\n{good}", good.replacen("53..7", "53..", 1))));
    assert_eq!(first, ["1: row 1 of the grid has 8 cells: expected 9", "11: LINE"]);
    let repeated = shown(&read(good.replacen("53..7....", "53..7...5", 1)));
    assert_eq!(repeated, ["1: 5 stands twice in row 1: r1c1 and r1c9"]);
    // Without a blank line a rule shows that a row is missing, but not where the next grid begins:
    // nine rows that follow each other are one.
    let framed = framed(LINE, "", "|", "---+---+---\n");
    let cut = framed.replacen("6..|195|...\n", "", 1);
    let rules = shown(&read(format!("{cut}{framed}")));
    let mixed = format!("4: {}{}", &LINE[27..], &LINE[..27]);
    let short = ["1: a grid of 2 rows: expected 9", "15: a grid of 6 rows: expected 9"];
    assert_eq!(rules, [short[0], &mixed, short[1]]);
    // A title does.
    let titles = shown(&read(format!("{}Next\n{good}", good.replacen("6..195...\n", "", 1))));
    assert_eq!(titles, ["1: a grid of 8 rows: expected 9", "10: LINE [Next]"]);
}

#[test]
fn three_rows_and_a_blank_line_are_a_band_only_if_two_more_bands_follow() {
    let text = format!("{}\n{}", &bare_grid(LINE)[..30], bare_grid(OTHER));
    assert_eq!(shown(&read(text)), ["1: a grid of 3 rows: expected 9", "5: OTHER"]);
}

#[test]
fn dashes_are_blanks_only_where_they_cannot_be_rules() {
    let puzzle = format!("{}{}", &LINE[..72], ".........");
    let grid = bare_grid(&puzzle).replace('.', "-");
    assert_eq!(shown(&read(&grid)), [format!("1: {puzzle}")]);
    let ruled = bare_grid(LINE).replace('.', "-");
    let above_and_below = format!("---------\n{ruled}---------\n\n");
    assert_eq!(shown(&read(&above_and_below)), ["1: LINE"]);
    assert_eq!(
        shown(&read(format!("---------\n{grid}\n{LINE}"))),
        [
            "1: lines of dashes that may be rules or blank rows: expected . or 0 for a blank",
            "12: LINE"
        ]
    );
    assert_eq!(shown(&read(format!("---------\n{}", bare_grid(LINE)))), ["2: LINE"]);
}

#[test]
fn tables_with_each_delimiter() {
    for delimiter in [",", ";", "\t"] {
        let lines = [
            ["No", "Givens", "Weight", "family", "Name"],
            ["1", LINE, "0.5", "", "\"a \"\"b\"\"\""],
            ["", OTHER, "", "12", "plain # name"],
        ];
        let text = lines.map(|fields| fields.join(delimiter)).join("\r\n");
        let rows = read(&text);
        assert_eq!(shown(&rows), ["2: LINE [a \"b\"]", "3: OTHER [plain # name]"], "{text}");
        assert_eq!(entry(&rows, 0).weight.unwrap().to_string(), "0.5");
        let families = [0, 1].map(|row| entry(&rows, row).family);
        assert_eq!(families, [None, Some(12)]);
        assert!(rows.iter().flatten().all(|entry| entry.text().len() == 81));
    }
    let solved = LINE.replace('.', "1");
    let text = format!("start,end\n{LINE},{solved}\n");
    assert_eq!(shown(&read(text)), ["2: LINE"]);
    assert_eq!(shown(&read(format!("puzzle\n{LINE}\n{OTHER}\n"))), ["2: LINE", "3: OTHER"]);
}

#[test]
fn fields_may_hold_grids_of_nine_lines() {
    let text = format!(
        "id,puzzle\r\n1,\"{}\"\r\n2,\"{}\"\r\n3,{LINE}\r\n",
        framed(LINE, " ", "|", "-+-\n").replace('\n', "\r\n"),
        &bare_grid(LINE)[10..]
    );
    let rows = read(text);
    assert_eq!(shown(&rows), ["2: LINE", "14: a grid of 8 rows: expected 9", "23: LINE"]);
    assert_eq!(reject(&rows, 1).text, bare_grid(LINE)[10..].trim().replace('\n', "⏎"));
}

#[test]
fn bad_records_are_rows_of_their_own() {
    let text = format!(
        "id,puzzle,label,weight\n1,{LINE},\"open,1\n2\n3,{OTHER},x,0\n4,12,y,1\n5,{LINE},z,1\n"
    );
    assert_eq!(
        shown(&read(text)),
        [
            "2: LINE [\"open]",
            "3: a record of 1 fields: expected a puzzle in field 2",
            "4: weight is '0': expected a decimal above 0 and at most 1000000000, with at most 6 \
             decimals [x]",
            "5: 2 characters instead of 81 [y]",
            "6: LINE [z]",
        ]
    );
}

#[test]
fn columns_by_name_and_number() {
    let text = format!("a,b\n{LINE},{OTHER}\n");
    let column = |text: &str| Format::Table { column: Some(text.parse().unwrap()) };
    assert_eq!(shown(&read_as(&text, column("B")).rows), ["2: OTHER"]);
    assert_eq!(shown(&read_as(&text, column("1")).rows), ["2: LINE"]);
    assert_eq!("2".parse(), Ok(Column::Number(2)));
    let error = |text: &str, format| read_as(text, format).error.unwrap();
    assert_eq!(
        error(&text, column("c")),
        "cannot read in.txt, line 1: no column named 'c': expected one of 1 'a', 2 'b'"
    );
    assert_eq!(
        error(&text, column("3")),
        "cannot read in.txt, line 1: no column number 3: expected one of 1 'a', 2 'b'"
    );
    for format in [Format::Auto, Format::Table { column: None }] {
        assert_eq!(
            error(&text, format),
            "cannot read in.txt, line 1: puzzles in 1 'a', 2 'b': expected the name or number of \
             one column"
        );
    }
    assert_eq!(
        error("a,b\n\n1,2\n", Format::Table { column: None }),
        "cannot read in.txt, line 3: no puzzle in the first record: expected 81 characters in one \
         of 1 'a', 2 'b'"
    );
}

#[test]
fn a_forced_format_is_kept() {
    let grid = bare_grid(LINE);
    let rows = read_as(format!("A\n{grid}"), Format::Lines).rows;
    assert_eq!(rows.len(), 10);
    assert_eq!(shown(&rows)[1], "2: 9 characters instead of 81");
    let table = format!("puzzle,label\n{LINE},x\n");
    let rows = read_as(&table, Format::Grids).rows;
    assert_eq!(shown(&rows), ["1: 6 characters instead of 81", "2: LINE [x]"]);
}

#[test]
fn lines_too_long_to_keep_are_cut() {
    let long = "é".repeat(100_000);
    for rows in [
        read(format!("{LINE}\n{long}\n{LINE}\n")),
        read(format!("puzzle\n{LINE}\n{long}\n{LINE}\n")),
    ] {
        assert_eq!(rows.len(), 3);
        assert_eq!(
            reject(&rows, 1).reason.to_string(),
            "a line of more than 65536 bytes, of which the beginning is shown: expected a puzzle \
             of 81 characters"
        );
        assert_eq!(reject(&rows, 1).text, "é".repeat(200));
        assert!(rows[2].is_ok());
    }
}

#[test]
fn grids_and_lines_give_the_digest_of_the_same_rows() {
    let digest = |text: &str| {
        let mut rows = Rows::open(vec![Source::memory("in", text.as_bytes())]).unwrap();
        assert_eq!(rows.block(9).unwrap().len(), 2);
        rows.digest()
    };
    let lines = digest(&format!("{LINE} A weight=2\n{OTHER}\n"));
    assert_eq!(digest(&format!("A weight=2\n{}\n{}", bare_grid(LINE), bare_grid(OTHER))), lines);
    assert_eq!(digest(&format!("puzzle,weight,label\n{LINE},2,A\n{OTHER},,\n")), lines);
    assert_ne!(digest(&format!("{LINE} A weight=3\n{OTHER}\n")), lines);
}

#[test]
fn a_row_of_a_table_may_begin_as_a_comment_does() {
    let table =
        format!("# made by hand\nname,puzzle\n#1,{LINE}\n# so far\nb,{OTHER}\n#3,too short\n");
    let expected = ["3: LINE [#1]", "5: OTHER [b]", "6: 9 characters instead of 81 [#3]"];
    let as_table = read_as(&table, Format::Table { column: None });
    assert_eq!(as_table.error, None);
    assert_eq!(shown(&as_table.rows), expected);
    assert_eq!(shown(&read(&table)), expected);
    // A table of puzzles alone has no such rows.
    let puzzles = format!("puzzle\n# 1, the first\n{LINE}\n#{OTHER}\n");
    assert_eq!(shown(&read(&puzzles)), ["3: LINE"]);
}
