#![no_main]
//! A rulebook that was read, written again, reads the same.

use libfuzzer_sys::fuzz_target;
use tallyhouse_analysis::{Coverage, Rulebook};
use tallyhouse_fuzz::text::{NAME, told};

fuzz_target!(|text: &str| {
    let Some(book) = told(text, Rulebook::parse(NAME, text)) else { return };
    let again = Rulebook::parse("again", &book.to_toml()).expect("it was written to be read");
    assert_eq!(again, book);
    assert_eq!(Coverage::of(book.order()), Coverage::of(again.order()));
});
