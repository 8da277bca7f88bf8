#![no_main]
//! Each line that is neither blank nor a comment is a row.

use libfuzzer_sys::fuzz_target;
use tallyhouse_collection::Format;
use tallyhouse_fuzz::rows::{is_plain, read};

fuzz_target!(|bytes: &[u8]| {
    let (rows, failed) = read(bytes, Format::Lines);
    if !failed && is_plain(bytes) {
        let lines = bytes.split(|byte| matches!(byte, b'\n' | b'\r')).map(<[u8]>::trim_ascii);
        assert_eq!(rows.len(), lines.filter(|line| !line.is_empty() && line[0] != b'#').count());
    }
});
