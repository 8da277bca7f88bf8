#![no_main]
//! Packed bytes give the rows of the bytes, and any bytes behind the marks of packing are read.

use std::io::Write;

use flate2::{Compression, write::GzEncoder};
use libfuzzer_sys::fuzz_target;
use tallyhouse_collection::Format;
use tallyhouse_fuzz::rows::read;

fuzz_target!(|bytes: &[u8]| {
    read(bytes, Format::Auto);
    for mark in [b"\x1f\x8b\x08\x00".as_slice(), b"\x28\xb5\x2f\xfd"] {
        read(&[mark, bytes].concat(), Format::Auto);
    }
    // A line before them, so that the bytes themselves don't begin with a mark.
    let text = [b"#\n", bytes].concat();
    let plain = read(&text, Format::Auto);
    let (first, second) = text.split_at(text.len() / 2);
    let gzip = |bytes: &[u8]| {
        let mut encoder = GzEncoder::new(Vec::new(), Compression::fast());
        encoder.write_all(bytes).and_then(|()| encoder.finish()).expect("memory takes it")
    };
    let zstd = |bytes: &[u8]| zstd::encode_all(bytes, 1).expect("memory takes it");
    assert_eq!(read(&[gzip(first), gzip(second)].concat(), Format::Auto), plain);
    assert_eq!(read(&[zstd(first), zstd(second)].concat(), Format::Auto), plain);
});
