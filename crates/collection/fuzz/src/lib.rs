//! What has to hold for any bytes: no row is lost or counted twice, and nothing panics.

use tallyhouse_collection::{Format, Row, Rows, Source};

/// Reads bytes as a source, checks the counts and returns the rows and whether there was an error.
pub fn read(bytes: &[u8], format: Format) -> (Vec<Row>, bool) {
    let source = Source::memory("fuzzed", bytes).with_format(format);
    let mut stream = Rows::open(vec![source]).expect("memory opens");
    let (mut rows, mut failed): (Vec<Row>, bool) = (Vec::new(), false);
    loop {
        match stream.take(3) {
            Ok(some) if some.is_empty() => break,
            Ok(some) => rows.extend(some),
            Err(_) => {
                assert!(!failed, "one source fails once");
                failed = true;
            }
        }
    }
    let accepted = rows.iter().filter(|row| row.puzzle().is_ok()).count();
    let rejected = rows.iter().filter(|row| row.puzzle().is_err()).count();
    assert_eq!((accepted + rejected) as u64, stream.rows());
    assert!(rows.iter().map(|row| row.line).is_sorted_by(|a, b| a < b), "each row has its line");
    assert!(failed || stream.bytes() == bytes.len() as u64);
    (rows, failed)
}

/// Counts the digits 1-9, which a row may not lose.
pub fn digits(text: &str) -> [usize; 9] {
    let mut counts = [0; 9];
    for byte in text.bytes().filter(|byte| matches!(byte, b'1'..=b'9')) {
        counts[usize::from(byte - b'1')] += 1;
    }
    counts
}

/// Counts the digits of rows: of their texts and labels.
pub fn digits_of_rows(rows: &[Row]) -> [usize; 9] {
    digits(&rows.iter().map(|row| row.as_line()).collect::<String>())
}

/// Tells if nothing of a text may be missing from the rows: no comment, no weight, nothing cut.
pub fn is_kept_whole(text: &str) -> bool {
    text.len() < 1 << 16
        && is_plain(text.as_bytes())
        && !["#", "weight=", "family="].iter().any(|part| text.contains(part))
}

/// Tells if bytes are taken as they are.
pub fn is_plain(bytes: &[u8]) -> bool {
    !matches!(
        bytes,
        [0x1f, 0x8b, ..]
            | [0x28, 0xb5, 0x2f, 0xfd, ..]
            | [0x50..=0x5f, 0x2a, 0x4d, 0x18, ..]
            | [0xff, 0xfe, ..]
            | [0xfe, 0xff, ..]
            | [0xef, 0xbb, 0xbf, ..]
    )
}
