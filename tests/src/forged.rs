//! Folders with other files in them than were written, which their seals don't tell.

use std::fs;
use std::path::Path;

use serde_json::{Value, json};
use tallyhouse_storage::{Files, Written, write_json, write_sealed};

/// Lists the files of a folder as if what is in them had been written so; none if a list is no JSON.
#[must_use]
pub fn seal(folder: &Path, changed: &Path) -> Option<()> {
    let json =
        |file: &Path| -> Option<Value> { serde_json::from_slice(&fs::read(file).ok()?).ok() };
    // What carries its own digest.
    if changed.extension().is_some_and(|kind| kind == "json") {
        let mut value = json(changed)?;
        if value.as_object_mut()?.remove("seal").is_some() {
            write_sealed(changed, &value).ok()?;
        }
    }
    let at = ["manifest.json", "study.json"].map(|name| folder.join(name));
    let at = at.iter().find(|at| at.exists())?;
    let mut manifest = json(at)?;
    manifest.as_object_mut()?.remove("seal");
    let mut files = Files::of(folder).ok()?;
    files.remove(&at.file_name()?.to_str()?.parse().ok()?);
    manifest["files"] = if manifest["files"].is_array() {
        json!(files)
    } else {
        files.remove(&"files.json".parse().ok()?);
        let Written { bytes, blake3 } = write_json(&folder.join("files.json"), &files).ok()?;
        json!({ "list": "files.json", "bytes": bytes, "blake3": blake3 })
    };
    write_sealed(at, &manifest).ok().map(drop)
}
