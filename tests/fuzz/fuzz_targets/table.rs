#![no_main]
//! A table with one column keeps all digits after its header; other tables read to their end.

use libfuzzer_sys::fuzz_target;
use tallyhouse_collection::{Column, Format};
use tallyhouse_fuzz::rows::{digits, digits_of_rows, is_kept_whole, read};

fuzz_target!(|text: &str| {
    for column in [None, Some(Column::Number(1)), Some(Column::Name("puzzle".to_owned()))] {
        read(text.as_bytes(), Format::Table { column });
    }
    read(text.as_bytes(), Format::Auto);
    if is_kept_whole(text) && !text.contains([',', ';', '\t']) {
        let table = format!("puzzle\n{text}");
        let (rows, failed) = read(table.as_bytes(), Format::Table { column: None });
        assert!(!failed);
        assert_eq!(digits_of_rows(&rows), digits(text), "{rows:#?}");
    }
});
