#![no_main]
//! A reader that was read, written again, reads the same.

use libfuzzer_sys::fuzz_target;
use tallyhouse_analysis::ReaderFile;
use tallyhouse_fuzz::text::{NAME, told};

fuzz_target!(|text: &str| {
    let Some(reader) = told(text, ReaderFile::parse(NAME, text)) else { return };
    let written = reader.to_toml().expect("TOML holds it");
    let again = ReaderFile::parse("again", &written).expect("it was written to be read");
    assert_eq!(again, reader);
});
