//! What holds for any bytes, and for any puzzles in every format, encoding and compression.

use std::io::Write;

use proptest::prelude::*;
use tallyhouse_board::Puzzle;
use tallyhouse_collection::{Block, Column, Entry, Format, Reject, Rows, Source, Weight};

struct Reading {
    rows: Block,
    errors: Vec<String>,
    digest: String,
    bytes: u64,
}

fn read(contents: &[&[u8]], format: &Format) -> Reading {
    let sources = contents.iter().enumerate().map(|(index, bytes)| {
        Source::memory(&format!("file {index}"), *bytes).with_format(format.clone())
    });
    let mut stream = Rows::open(sources.collect()).unwrap();
    let (mut rows, mut errors) = (Vec::new(), Vec::new());
    loop {
        match stream.block(2) {
            Ok(some) if some.is_empty() => break,
            Ok(some) => rows.extend(some),
            Err(error) => errors.push(error.to_string()),
        }
    }
    assert_eq!(stream.rows(), rows.len() as u64);
    Reading { rows, errors, digest: stream.digest(), bytes: stream.bytes() }
}

fn line(row: &Result<Entry, Reject>) -> u64 {
    row.as_ref().map_or_else(|reject| reject.line, |entry| entry.line)
}

/// All that is kept of a row.
fn kept(row: &Result<Entry, Reject>) -> String {
    match row {
        Ok(entry) => entry.to_string(),
        Err(reject) => format!("{} {}", reject.text, reject.label.as_deref().unwrap_or_default()),
    }
}

fn formats() -> [Format; 5] {
    let column = Some(Column::Number(1));
    [
        Format::Auto,
        Format::Lines,
        Format::Grids,
        Format::Table { column: None },
        Format::Table { column },
    ]
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}

fn zstd(bytes: &[u8]) -> Vec<u8> {
    zstd::encode_all(bytes, 1).unwrap()
}

/// Packs a text in two members or frames.
fn packed(bytes: &[u8], packing: usize) -> Vec<u8> {
    let (first, second) = bytes.split_at(bytes.len() / 2);
    match packing {
        0 => bytes.to_vec(),
        1 => [gzip(first), gzip(second)].concat(),
        _ => [zstd(first), zstd(second)].concat(),
    }
}

fn encoded(text: &str, encoding: usize) -> Vec<u8> {
    let units = text.encode_utf16();
    match encoding {
        0 => text.as_bytes().to_vec(),
        1 => [b"\xef\xbb\xbf", text.as_bytes()].concat(),
        2 => [0xfeff].into_iter().chain(units).flat_map(u16::to_le_bytes).collect(),
        3 => [0xfeff].into_iter().chain(units).flat_map(u16::to_be_bytes).collect(),
        _ => encoding_rs::WINDOWS_1252.encode(text).0.into_owned(),
    }
}

/// What a row is made from.
#[derive(Clone, Debug)]
struct Item {
    puzzle: Puzzle,
    label: Option<String>,
    weight: Option<Weight>,
    family: Option<u64>,
}

impl Item {
    fn tokens(&self) -> String {
        let weight = self.weight.map(|weight| format!("weight={weight}"));
        let family = self.family.map(|family| format!("family={family}"));
        let label = self.label.clone();
        [weight, label, family].into_iter().flatten().collect::<Vec<_>>().join(" ")
    }
}

fn item() -> impl Strategy<Value = Item> {
    let rows = prop::collection::vec((0usize..9, 0usize..9), 0..12);
    // Rows and columns hold each digit once: no house can repeat one.
    let puzzle = (rows, 0u8..9).prop_map(|(cells, shift)| {
        let mut line = vec![b'.'; 81];
        for (row, column) in cells {
            let solved = (row * 3 + row / 3 + column) as u8 % 9;
            line[row * 9 + column] = b'1' + (solved + shift) % 9;
        }
        String::from_utf8(line).unwrap().parse().unwrap()
    });
    let label = prop::option::of("[a-zé€ü]{1,4}( [a-zß]{1,4}){0,2}");
    let weight = prop::option::of(
        (1u64..=1_000_000_000_000_000)
            .prop_map(|millionths| Weight::from_millionths(millionths).unwrap()),
    );
    let family = prop::option::of(0..=i64::MAX as u64);
    (puzzle, label, weight, family).prop_map(|(puzzle, label, weight, family)| Item {
        puzzle,
        label,
        weight,
        family,
    })
}

/// Writes items as lines, four kinds of grids, or a table; the lines of all of it.
fn written(items: &[Item], format: usize) -> Vec<String> {
    let mut lines = Vec::new();
    if format == 5 {
        lines.push("name;number;puzzle;weight;family".to_owned());
    }
    for (number, item) in items.iter().enumerate() {
        let line = item.puzzle.to_string();
        let cells: Vec<&str> = (0..81).map(|cell| &line[cell..=cell]).collect();
        match format {
            0 => lines.push(format!("{line} {}", item.tokens())),
            5 => lines.push(format!(
                "\"{}\";{number};{line};{};{}",
                item.label.as_deref().unwrap_or_default(),
                item.weight.map(|weight| weight.to_string()).unwrap_or_default(),
                item.family.map(|family| family.to_string()).unwrap_or_default(),
            )),
            _ => {
                lines.push(item.tokens());
                for (row, cells) in cells.chunks(9).enumerate() {
                    if format > 2 && row % 3 == 0 {
                        lines.push("+-------+-------+-------+".to_owned());
                    }
                    lines.push(match format {
                        1 => cells.concat(),
                        2 => cells.join(",").replace('.', "0"),
                        3 => format!("| {} |", cells.join(" ")),
                        _ => cells.chunks(3).map(<[&str]>::concat).collect::<Vec<_>>().join("│"),
                    });
                }
                lines.push(String::new());
            }
        }
    }
    lines.push(String::new());
    lines
}

/// Pieces of which more than noise is made.
fn snippet() -> impl Strategy<Value = Vec<u8>> {
    let puzzle =
        "53..7....6..195....98....6.8...6...34..8.3..17...2...6.6....28....419..5....8..79";
    let fixed = [
        "\n",
        "\r",
        "\r\n",
        "\n\n",
        ",",
        ";",
        "\t",
        "\"",
        "\"\"",
        " ",
        "#",
        "|",
        "---------",
        "-",
        "---+---+---",
        "12..x.789",
        "123456789",
        "5 3 . | . 7 . | . . .",
        "53..7...",
        "-2-4-6-8-",
        "puzzle,weight\n",
        "puzzle\n",
        "a;puzzle\n",
        "Grid 1\n",
        "weight=",
        "family=7",
        "1.5",
        "\u{feff}",
        "é",
        "╔═══╗",
        "_________",
        "=== 3 ===",
        puzzle,
    ];
    prop_oneof![
        8 => prop::sample::select(fixed.to_vec()).prop_map(|text| text.as_bytes().to_vec()),
        4 => Just(format!("{puzzle}\n").into_bytes()),
        4 => Just(puzzle.as_bytes().chunks(9).collect::<Vec<_>>().join(&b'\n')),
        4 => Just(b"53..7....\n6..195...\n.98....6.\n".to_vec()),
        1 => prop::collection::vec(any::<u8>(), 0..6),
        1 => Just(b"\xff\xfe".to_vec()),
        1 => Just(b"\x1f\x8b\x08".to_vec()),
        1 => Just(b"\x28\xb5\x2f\xfd".to_vec()),
    ]
}

fn mixture() -> impl Strategy<Value = Vec<u8>> {
    prop::collection::vec(snippet(), 0..30).prop_map(|snippets| snippets.concat())
}

/// The digits 1-9 of a text, sorted.
fn digits(text: &str) -> String {
    let mut digits: Vec<char> = text.chars().filter(|c| matches!(c, '1'..='9')).collect();
    digits.sort_unstable();
    digits.into_iter().collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_give_rows_or_errors(bytes in mixture(), noise in any::<Vec<u8>>()) {
        for format in formats() {
            for bytes in [&bytes, &noise, &gzip(&bytes)] {
                let reading = read(&[bytes], &format);
                prop_assert!(reading.errors.len() <= 1);
                for (number, entry) in (0..).zip(&reading.rows) {
                    let Ok(entry) = entry else { continue };
                    prop_assert_eq!(entry.number, number);
                    let again = read(&[entry.to_string().as_bytes()], &Format::Lines);
                    let again = again.rows[0].as_ref().unwrap();
                    prop_assert_eq!(&again.puzzle, &entry.puzzle);
                    prop_assert_eq!((again.weight, again.family), (entry.weight, entry.family));
                }
                prop_assert!(reading.rows.iter().map(line).is_sorted_by(|a, b| a < b));
                if reading.errors.is_empty() {
                    prop_assert_eq!(reading.bytes, bytes.len() as u64);
                }
            }
        }
    }

    #[test]
    fn no_digit_of_a_text_is_lost(bytes in mixture()) {
        // Without comments, and without weights and families, which are not kept as they stand.
        let text = String::from_utf8_lossy(&bytes).replace(['#', '\u{feff}'], "");
        let text = text.replace("weight=", "weight").replace("family=", "family");
        let lines = read(&[text.as_bytes()], &Format::Lines);
        let count = text.split(['\n', '\r']).filter(|line| !line.trim_ascii().is_empty()).count();
        prop_assert_eq!(lines.rows.len(), count);
        let grids = read(&[text.as_bytes()], &Format::Grids);
        for rows in [lines.rows, grids.rows] {
            let kept: String = rows.iter().map(kept).collect();
            prop_assert_eq!(digits(&kept), digits(&text), "{:?}", rows);
        }
    }

    #[test]
    fn everything_written_is_read_back(
        items in prop::collection::vec(item(), 1..5),
        format in 0usize..6,
        encoding in 0usize..5,
        packing in 0usize..3,
        end in prop::sample::select(vec!["\n", "\r\n", "\r"]),
        cut in any::<prop::sample::Index>(),
    ) {
        // Windows-1252 has no characters of frames.
        let format = if encoding == 4 && format == 4 { 3 } else { format };
        let lines = written(&items, format);
        // By chance the bytes of a line may be UTF-8 too, and then are taken for it: 0xE9 0x80 0x80.
        let is_doubtful = |line: &String| {
            !line.is_ascii() && std::str::from_utf8(&encoded(line, 4)).is_ok()
        };
        prop_assume!(encoding != 4 || !lines.iter().any(is_doubtful));
        let bytes = packed(&encoded(&lines.join(end), encoding), packing);
        let reading = read(&[&bytes], &Format::Auto);
        prop_assert_eq!(&reading.errors, &Vec::<String>::new());
        prop_assert_eq!(reading.rows.len(), items.len(), "{:#?}", reading.rows);
        for (row, item) in reading.rows.iter().zip(&items) {
            let entry = row.as_ref().unwrap();
            prop_assert_eq!(entry.puzzle, item.puzzle);
            prop_assert_eq!(&entry.label, &item.label);
            prop_assert_eq!(entry.weight, item.weight);
            prop_assert_eq!(entry.family, item.family);
        }
        let plain = read(&[lines.join("\n").as_bytes()], &Format::Auto);
        prop_assert_eq!(&plain.digest, &reading.digest);
        prop_assert_eq!(&plain.rows, &reading.rows);

        let (first, second) = items.split_at(cut.index(items.len()));
        let halves = [first, second].map(|items| written(items, format).join(end).into_bytes());
        let spread = read(&[&halves[0], &packed(&halves[1], 1)], &Format::Auto);
        prop_assert_eq!(&spread.digest, &reading.digest);
        let texts = |rows: &Block| rows.iter().map(kept).collect::<Vec<_>>();
        prop_assert_eq!(texts(&spread.rows), texts(&reading.rows));
    }

    /// Words of labels that look like weights and families, marked and unmarked.
    #[test]
    fn no_label_of_a_table_becomes_a_weight(
        words in prop::collection::vec(
            prop_oneof![
                Just("weight=2"),
                Just("family=3"),
                Just(r"\weight=4"),
                Just(r"\\family=5"),
                Just(r"\"),
                Just("weight="),
                Just("plain"),
            ],
            1..4,
        ),
        gap in prop::sample::select(vec![" ", "  ", ", "]),
    ) {
        let (label, grid) = (words.join(gap), ".".repeat(81));
        let table = format!("puzzle,label\n{grid},\"{label}\"\n");
        let from_table = read(&[table.as_bytes()], &Format::Auto);
        let entry = from_table.rows[0].as_ref().unwrap();
        prop_assert_eq!(entry.label.as_ref(), Some(&label));
        let text = entry.to_string();
        let from_line = read(&[text.as_bytes()], &Format::Auto);
        let again = from_line.rows[0].as_ref().unwrap();
        prop_assert_eq!((again.weight, again.family), (None, None), "{}", text);
        prop_assert_eq!(again.label.as_ref(), Some(&label), "{}", text);
        prop_assert_eq!(from_table.digest, from_line.digest);
    }

    #[test]
    fn damage_is_named_and_the_rows_before_it_are_kept(
        items in prop::collection::vec(item(), 1..40),
        packing in 1usize..3,
        keep in any::<prop::sample::Index>(),
    ) {
        let text = written(&items, 0).join("\n");
        let all = read(&[text.as_bytes()], &Format::Lines).rows;
        let bytes = match packing {
            1 => gzip(text.as_bytes()),
            _ => zstd(text.as_bytes()),
        };
        let kept = &bytes[..4 + keep.index(bytes.len() - 4)];
        let reading = read(&[kept, text.as_bytes()], &Format::Lines);
        prop_assert_eq!(reading.errors.len(), 1);
        let before = reading.rows.iter().flatten().take_while(|entry| entry.source == 0).count();
        let prefix = format!("cannot read file 0 after line {before}: ");
        prop_assert!(reading.errors[0].starts_with(&prefix), "{}", reading.errors[0]);
        prop_assert_eq!(&reading.rows[..before], &all[..before]);
        prop_assert_eq!(reading.rows.len(), before + all.len());
    }
}

#[test]
fn damaged_gzip_gives_its_rows_then_an_error_with_the_line() {
    let puzzle =
        "53..7....6..195....98....6.8...6...34..8.3..17...2...6.6....28....419..5....8..79";
    let text = format!("# ours\n{puzzle}\n{puzzle} half of a");
    // The last 8 bytes are the check sum and the length.
    let mut bytes = gzip(text.as_bytes());
    let sum = bytes.len() - 8;
    let truncated = read(&[&bytes[..sum]], &Format::Auto);
    assert_eq!(truncated.rows.len(), 1);
    let cut = "the gzip data break off: the file was cut; get it anew, or unpack what is there and read that";
    assert_eq!(truncated.errors, [format!("cannot read file 0 after line 2: {cut}")]);
    bytes[sum] ^= 1;
    let changed = read(&[&bytes], &Format::Auto);
    assert_eq!(changed.rows, truncated.rows);
    assert_eq!(
        changed.errors,
        [
            "cannot read file 0 after line 2: the gzip data are damaged (corrupt gzip stream does not \
             have a matching checksum): get the file anew"
        ]
    );
}

#[test]
fn a_grid_that_breaks_off_is_a_row() {
    let bytes = gzip(b"53..7....\n6..195...\n.98....6.\n");
    let reading = read(&[&bytes[..bytes.len() - 1]], &Format::Auto);
    assert_eq!(reading.rows.len(), 1);
    assert_eq!(reading.rows[0].as_ref().unwrap_err().text, "53..7....⏎6..195...⏎.98....6.");
    let cut = "cannot read file 0 after line 3: the gzip data break off: the file was cut; ";
    assert!(reading.errors[0].starts_with(cut), "{:?}", reading.errors);
}

#[test]
fn frames_to_be_skipped_may_come_first() {
    let puzzle = ".".repeat(81);
    let skipped = b"\x50\x2a\x4d\x18\x03\0\0\0abc";
    let reading = read(&[&[skipped.as_slice(), &zstd(puzzle.as_bytes())].concat()], &Format::Auto);
    assert_eq!((reading.rows.len(), reading.errors.len()), (1, 0));
}
