#![no_main]
//! Each digit of a text stands in just one row.

use libfuzzer_sys::fuzz_target;
use tallyhouse_collection::Format;
use tallyhouse_fuzz::rows::{digits, digits_of_rows, is_kept_whole, read};

fuzz_target!(|text: &str| {
    let (rows, failed) = read(text.as_bytes(), Format::Grids);
    if !failed && is_kept_whole(text) {
        assert_eq!(digits_of_rows(&rows), digits(text), "{rows:#?}");
    }
    read(text.as_bytes(), Format::Auto);
});
