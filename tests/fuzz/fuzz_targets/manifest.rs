#![no_main]
//! A manifest without the right seal is refused; one with it, written again, reads the same.

use std::fs;
use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use serde_json::Value;
use tallyhouse_census::{collection_manifest, is_dataset, manifest};
use tallyhouse_fuzz::dataset::{Forged, read_all};
use tallyhouse_storage::contents;

static FORGED: LazyLock<Forged> = LazyLock::new(Forged::new);

fuzz_target!(|bytes: &[u8]| {
    let forged = &*FORGED;
    let folder = forged.folder();
    fs::write(folder.join("manifest.json"), bytes).expect("the folder is ours");
    let found = (is_dataset(folder).is_ok(), manifest(folder), contents(folder));
    let is_sealed = str::from_utf8(bytes).is_ok_and(|text| text.contains("\"seal\": \""));
    assert!(is_sealed || found.1.is_err() && found.2.is_err());
    let Ok(value @ Value::Object(_)) = serde_json::from_slice(bytes) else { return };
    forged.put_manifest(value);
    let listed = contents(folder).expect("the list is ours").expect("there is one");
    assert!(listed.check_one(folder, &"files.json".parse().expect("a path")).is_ok());
    let _ = collection_manifest(folder);
    let Ok(first) = manifest(folder) else { return };
    let _ = read_all(folder);
    forged.put_manifest(serde_json::to_value(&first).expect("it was read from JSON"));
    assert_eq!(manifest(folder).expect("it was written to be read"), first);
});
