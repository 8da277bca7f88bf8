//! Rows of puzzles: no row is lost or counted twice, and nothing panics.

use tallyhouse_collection::{Block, Entry, Format, Reject, Rows, Source};

/// Reads bytes as a source, checks the counts and returns the rows and whether there was an error.
pub fn read(bytes: &[u8], format: Format) -> (Block, bool) {
    let source = Source::memory("fuzzed", bytes).with_format(format);
    let mut stream = Rows::open(vec![source]).expect("memory opens");
    let (mut rows, mut failed): (Block, bool) = (Vec::new(), false);
    loop {
        match stream.block(3) {
            Ok(some) if some.is_empty() => break,
            Ok(some) => rows.extend(some),
            Err(_) => {
                assert!(!failed, "one source fails once");
                failed = true;
            }
        }
    }
    assert_eq!(rows.len() as u64, stream.rows());
    assert!(rows.iter().map(line).is_sorted_by(|a, b| a < b), "each row has its line");
    assert!(failed || stream.bytes() == bytes.len() as u64);
    (rows, failed)
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

/// Counts the digits 1-9, which a row may not lose.
pub fn digits(text: &str) -> [usize; 9] {
    let mut counts = [0; 9];
    for byte in text.bytes().filter(|byte| matches!(byte, b'1'..=b'9')) {
        counts[usize::from(byte - b'1')] += 1;
    }
    counts
}

/// Counts the digits of rows: of their texts and labels.
pub fn digits_of_rows(rows: &Block) -> [usize; 9] {
    digits(&rows.iter().map(kept).collect::<String>())
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
