//! The list of what a finished folder holds.

use std::path::Path;

use serde::Deserialize;

use crate::files::identity;
use crate::json::read_sealed;
use crate::{Digest, Files, RelativePath, StorageError, Written};

/// The sealed file that is written last into a folder: what is in it is whole.
pub const MANIFEST: &str = "manifest.json";

/// The sealed file that a study has in its place.
pub const STUDY: &str = "study.json";

/// Where the stages of a study lie, which it needs only to be run again. What is there is ours: what was
/// changed is done again.
pub const WORK: &str = "work";

/// What all such files have, whatever else they tell.
#[derive(Deserialize)]
struct Listing {
    files: Listed,
}

/// The list itself, or the file that holds it.
#[derive(Deserialize)]
#[serde(untagged)]
enum Listed {
    Here(Files),
    Apart { list: RelativePath, bytes: u64, blake3: Digest },
}

/// The kind of what a failed run had to tell.
pub(crate) const FAILED: &str = "failed";

/// Tests if a folder holds no more than what a failed run had to tell.
pub(crate) fn is_of_failed_run(folder: &Path) -> bool {
    #[derive(Deserialize)]
    struct Kind {
        kind: String,
    }
    read_sealed(&folder.join(MANIFEST)).is_ok_and(|manifest: Option<Kind>| {
        manifest.is_some_and(|manifest| manifest.kind == FAILED)
    })
}

/// Returns all files that this program wrote into a folder, as its manifest lists them in `files`,
/// the manifest and a list apart (`files: {list, bytes, blake3}`) included; `None` if the folder has
/// no manifest.
///
/// # Errors
/// If the manifest, or the list, can't be read or is not as it was written.
pub fn contents(folder: &Path) -> Result<Option<Files>, StorageError> {
    for name in [MANIFEST, STUDY] {
        let path = folder.join(name);
        let Some(Listing { files }) = read_sealed(&path)? else { continue };
        let mut files = match files {
            Listed::Here(files) => files,
            Listed::Apart { list, bytes, blake3 } => {
                apart(folder, list, Written { bytes, blake3 })?
            }
        };
        if let Ok(name) = name.parse() {
            files.insert(name, identity(&path).map_err(StorageError::read(&path))?);
        }
        return Ok(Some(files));
    }
    Ok(None)
}

fn apart(folder: &Path, list: RelativePath, written: Written) -> Result<Files, StorageError> {
    let mut itself = Files::default();
    itself.insert(list.clone(), written);
    let bytes = itself.read(folder, &list)?;
    let files = serde_json::from_slice(&bytes);
    let mut files: Files =
        files.map_err(|error| StorageError::seal(&list.below(folder), error.to_string()))?;
    files.insert(list, written);
    Ok(files)
}

#[cfg(test)]
mod tests {
    use std::fs;

    use serde_json::json;

    use super::*;
    use crate::{write_json, write_sealed};

    #[test]
    fn the_list_stands_in_the_manifest_or_apart() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        assert_eq!(contents(folder).unwrap(), None);
        fs::write(folder.join("a"), "1").unwrap();
        let files = Files::of(folder).unwrap();
        write_sealed(&folder.join(STUDY), &json!({ "name": "x", "files": files })).unwrap();
        let names =
            |files: &Files| files.iter().map(|(path, _)| path.to_string()).collect::<Vec<_>>();
        let found = contents(folder).unwrap().unwrap();
        assert_eq!(names(&found), ["a", STUDY]);
        found.check(folder).unwrap();
        fs::remove_file(folder.join(STUDY)).unwrap();

        let Written { bytes, blake3 } = write_json(&folder.join("files.json"), &files).unwrap();
        let apart = json!({ "list": "files.json", "bytes": bytes, "blake3": blake3 });
        write_sealed(&folder.join(MANIFEST), &json!({ "files": apart })).unwrap();
        let found = contents(folder).unwrap().unwrap();
        assert_eq!(names(&found), ["a", "files.json", MANIFEST]);
        found.check(folder).unwrap();

        fs::write(folder.join("files.json"), "[]").unwrap();
        let error = contents(folder).unwrap_err().to_string();
        assert!(error.contains("files.json is not as it was written"), "{error}");
        let outside = json!({ "list": "../files.json", "bytes": bytes, "blake3": blake3 });
        write_sealed(&folder.join(MANIFEST), &json!({ "files": outside })).unwrap();
        assert!(contents(folder).is_err());
    }
}
