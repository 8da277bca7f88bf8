//! JSON files, plain and sealed.
//!
//! A sealed file is one JSON object. Its member `seal` is the digest of all bytes before the comma
//! that goes before it; what stands after it may differ between equal runs and is not covered.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::{Digest, StorageError, Written, write_file};

const SEAL: &str = ",\n  \"seal\": \"";

/// Writes a value as JSON, with a line feed at the end.
///
/// # Errors
/// If it can't be written.
pub fn write_json(path: &Path, value: &impl Serialize) -> Result<Written, StorageError> {
    let text = to_text(path, value)?;
    write_file(path, |file| writeln!(file, "{text}"))
}

/// Reads a value from JSON, sealed or not; `None` if there is no file.
///
/// # Errors
/// If the file can't be read or holds something else.
pub fn read_json<T: DeserializeOwned>(path: &Path) -> Result<Option<T>, StorageError> {
    let Some(text) = read(path)? else { return Ok(None) };
    let value = serde_json::from_str(&text);
    value.map(Some).map_err(|error| StorageError::seal(path, error.to_string()))
}

/// Writes a value, which must be a JSON object with at least one member, with its own digest.
///
/// ```
/// use std::collections::BTreeMap;
/// use tallyhouse_storage::{read_sealed, write_sealed};
///
/// let folder = tempfile::tempdir()?;
/// let path = folder.path().join("plan.json");
/// write_sealed(&path, &BTreeMap::from([("parts", 12)]))?;
/// assert_eq!(read_sealed(&path)?, Some(BTreeMap::from([("parts".to_owned(), 12)])));
///
/// let text = std::fs::read_to_string(&path)?.replace("12", "13");
/// std::fs::write(&path, text)?;
/// assert!(read_sealed::<BTreeMap<String, u8>>(&path).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// If it can't be written.
pub fn write_sealed(path: &Path, value: &impl Serialize) -> Result<Written, StorageError> {
    write_both(path, value, "\n}")
}

/// Writes a value as [`write_sealed`], and behind it the members of another JSON object, which the
/// digest does not cover: what differs between equal runs. Readers see one object.
///
/// # Errors
/// If it can't be written.
pub fn write_sealed_and(
    path: &Path,
    value: &impl Serialize,
    apart: &impl Serialize,
) -> Result<Written, StorageError> {
    let apart = to_text(path, apart)?;
    write_both(path, value, &apart.replacen('{', ",", 1))
}

/// Returns how what is sealed is known again: by its length and its digest.
fn write_both(path: &Path, value: &impl Serialize, rest: &str) -> Result<Written, StorageError> {
    let text = to_text(path, value)?;
    let sealed = text.strip_suffix("\n}").ok_or_else(|| StorageError::Json {
        path: path.to_owned(),
        error: serde::ser::Error::custom("expected an object with at least one member"),
    })?;
    let written = Written { bytes: sealed.len() as u64, blake3: Digest::of(sealed.as_bytes()) };
    write_file(path, |file| writeln!(file, "{sealed}{SEAL}{}\"{rest}", written.blake3))?;
    Ok(written)
}

/// Reads a sealed file; `None` if there is none.
///
/// # Errors
/// If the file can't be read, is not as it was written, or holds something else.
pub fn read_sealed<T: DeserializeOwned>(path: &Path) -> Result<Option<T>, StorageError> {
    let Some(text) = read(path)? else { return Ok(None) };
    let unsealed = unseal(&text).map_err(|reason| StorageError::seal(path, reason))?;
    let text = format!("{}{}", unsealed.sealed, unsealed.rest);
    let value = serde_json::from_str(&text);
    value.map(Some).map_err(|error| StorageError::seal(path, error.to_string()))
}

/// Tests if a file carries its own digest, be it right or wrong.
///
/// # Errors
/// If the file can't be read.
pub fn is_sealed(path: &Path) -> Result<bool, StorageError> {
    Ok(read(path)?.is_some_and(|text| text.contains(SEAL)))
}

/// Returns how a sealed file is known again; `None` if it carries no digest or not its own.
pub(crate) fn sealed_part(bytes: &[u8]) -> Option<Written> {
    let unsealed = unseal(str::from_utf8(bytes).ok()?).ok()?;
    Some(Written { bytes: unsealed.sealed.len() as u64, blake3: unsealed.digest })
}

struct Unsealed<'a> {
    sealed: &'a str,
    digest: Digest,
    rest: &'a str,
}

fn unseal(text: &str) -> Result<Unsealed<'_>, String> {
    let parts = text.split_once(SEAL).and_then(|(sealed, rest)| {
        let (digest, rest) = rest.split_once('"')?;
        Some((sealed, digest, rest))
    });
    let Some((sealed, digest, rest)) = parts else {
        return Err("it carries no seal: an earlier version wrote it, or it is damaged".to_owned());
    };
    let found = Digest::of(sealed.as_bytes());
    if digest.parse() == Ok(found) {
        Ok(Unsealed { sealed, digest: found, rest })
    } else {
        Err("it is not as it was written".to_owned())
    }
}

fn to_text(path: &Path, value: &impl Serialize) -> Result<String, StorageError> {
    serde_json::to_string_pretty(value)
        .map_err(|error| StorageError::Json { path: path.to_owned(), error })
}

fn read(path: &Path) -> Result<Option<String>, StorageError> {
    match fs::read(path) {
        Ok(bytes) => String::from_utf8(bytes)
            .map(Some)
            .map_err(|_| StorageError::seal(path, "it is not UTF-8 text")),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(StorageError::read(path)(error)),
    }
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Plan {
        name: String,
        parts: Vec<u32>,
    }

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Timed {
        name: String,
        parts: Vec<u32>,
        wall_seconds: f64,
    }

    fn plan() -> Plan {
        // A value may look like a seal.
        Plan { name: ",\n  \"seal\": \"".to_owned(), parts: vec![1, 20, 300] }
    }

    #[test]
    fn every_flipped_bit_of_a_sealed_file_is_noticed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plan.json");
        assert_eq!(read_sealed::<Plan>(&path).unwrap(), None);
        write_sealed(&path, &plan()).unwrap();
        assert_eq!(read_sealed(&path).unwrap(), Some(plan()));
        let bytes = fs::read(&path).unwrap();
        assert!(serde_json::from_slice::<serde_json::Value>(&bytes).unwrap()["seal"].is_string());
        for bit in 0..8 * (bytes.len() - 1) {
            let mut flipped = bytes.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            fs::write(&path, flipped).unwrap();
            let read = read_sealed::<Plan>(&path);
            let error = read.map(|_| bit).unwrap_err().to_string();
            assert!(error.contains("plan.json: ") && error.contains("; make "), "{error}");
        }
        for length in 0..bytes.len() - 2 {
            fs::write(&path, &bytes[..length]).unwrap();
            assert!(read_sealed::<Plan>(&path).is_err(), "{length}");
        }
    }

    #[test]
    fn what_differs_between_equal_runs_is_not_sealed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("manifest.json");
        let written = [1.5, 22.25].map(|seconds| {
            let apart = std::collections::BTreeMap::from([("wall_seconds", seconds)]);
            let written = write_sealed_and(&path, &plan(), &apart).unwrap();
            let Plan { name, parts } = plan();
            let read = read_sealed::<Timed>(&path).unwrap().unwrap();
            assert_eq!(read, Timed { name, parts, wall_seconds: seconds });
            assert_eq!(sealed_part(&fs::read(&path).unwrap()), Some(written));
            written
        });
        assert_eq!(written[0], written[1]);
    }

    #[test]
    fn plain_files_are_read_and_what_is_no_object_is_not_sealed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.json");
        assert!(!is_sealed(&path).unwrap());
        write_json(&path, &plan()).unwrap();
        assert_eq!(read_json(&path).unwrap(), Some(plan()));
        assert!(!is_sealed(&path).unwrap());
        let error = read_sealed::<Plan>(&path).unwrap_err().to_string();
        assert!(error.contains("carries no seal: an earlier version"), "{error}");
        assert!(write_sealed(&path, &[1, 2]).unwrap_err().to_string().contains("an object"));
        assert_eq!(read_json(&path).unwrap(), Some(plan()), "the old file stays");
    }
}
