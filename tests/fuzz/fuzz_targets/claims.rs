#![no_main]
//! A claim file has claims, each with an id of its own.

use std::collections::BTreeSet;

use libfuzzer_sys::fuzz_target;
use tallyhouse_analysis::ClaimFile;
use tallyhouse_fuzz::text::{NAME, told};

fuzz_target!(|text: &str| {
    let Some(file) = told(text, ClaimFile::parse(NAME, text)) else { return };
    let ids: BTreeSet<&str> = file.claims.iter().map(|claim| claim.id.as_str()).collect();
    assert!(!ids.is_empty());
    assert_eq!(ids.len(), file.claims.len());
    // A comment at the end changes nothing.
    let again = ClaimFile::parse(NAME, &format!("{text}\n#")).expect("it reads without it");
    assert_eq!(format!("{again:?}"), format!("{file:?}"));
});
