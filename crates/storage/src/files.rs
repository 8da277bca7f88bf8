use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use crate::json::sealed_part;
use crate::{Digest, Fault, RelativePath, StorageError, Written, is_temporary};

/// The files of a folder, each with its length and digest, in the order of their paths.
///
/// A JSON file that carries its own digest is known by what that digest covers.
///
/// ```
/// use tallyhouse_storage::Files;
///
/// let folder = tempfile::tempdir()?;
/// std::fs::create_dir(folder.path().join("data"))?;
/// std::fs::write(folder.path().join("data/a.csv"), "open\n")?;
/// let files = Files::of(folder.path())?;
/// files.check(folder.path())?;
///
/// std::fs::remove_file(folder.path().join("data/a.csv"))?;
/// let error = files.check(folder.path()).unwrap_err().to_string();
/// assert!(error.contains("data/a.csv is missing"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Files(BTreeMap<RelativePath, Written>);

/// A file as it stands in JSON.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    path: RelativePath,
    bytes: u64,
    blake3: Digest,
}

impl Files {
    /// Lists all files below a folder. Temporary files of this program are none.
    ///
    /// # Errors
    /// If something can't be read or has a name that is no text.
    pub fn of(folder: &Path) -> Result<Self, StorageError> {
        let mut files = Self::default();
        for found in walk(folder)? {
            let path = found.map_err(|found| StorageError::Foreign {
                folder: folder.to_owned(),
                found: found.display().to_string(),
            })?;
            let at = path.below(folder);
            let written = identity(&at).map_err(StorageError::read(&at))?;
            files.insert(path, written);
        }
        Ok(files)
    }

    /// Adds a file, or takes what is known of it anew.
    pub fn insert(&mut self, path: RelativePath, written: Written) {
        self.0.insert(path, written);
    }

    /// Takes a file off the list.
    pub fn remove(&mut self, path: &RelativePath) {
        self.0.remove(path);
    }

    /// Adds the files of another list.
    pub fn extend(&mut self, more: &Self) {
        more.iter().for_each(|(path, written)| self.insert(path.clone(), written));
    }

    /// Returns what is known of a file.
    #[must_use]
    pub fn get(&self, path: &RelativePath) -> Option<Written> {
        self.0.get(path).copied()
    }

    /// Iterates over the files in order.
    pub fn iter(&self) -> impl Iterator<Item = (&RelativePath, Written)> {
        self.0.iter().map(|(path, written)| (path, *written))
    }

    /// Returns how many files there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Tests if there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Returns the digest of the list: of a line `DIGEST BYTES PATH` for each file, in order.
    #[must_use]
    pub fn digest(&self) -> Digest {
        let mut hasher = crate::Hasher::new();
        for (path, Written { bytes, blake3 }) in self.iter() {
            hasher.update(format!("{blake3} {bytes} {path}\n").as_bytes());
        }
        hasher.finish()
    }

    /// Takes the files of a folder out, as seen from there.
    pub fn take_below(&mut self, folder: &RelativePath) -> Self {
        let paths: Vec<RelativePath> = self.0.keys().cloned().collect();
        let mut taken = Self::default();
        for path in paths {
            if let Some(within) = path.from_within(folder.as_str())
                && let Some(written) = self.0.remove(&path)
            {
                taken.insert(within, written);
            }
        }
        taken
    }

    /// Returns them as seen from a folder that holds theirs under this path.
    ///
    /// # Panics
    /// Never: below a path below a folder are such paths.
    #[must_use]
    pub fn seen_from_above(self, folder: &RelativePath) -> Self {
        let above = |path: RelativePath| match folder.join(path.as_str()) {
            Ok(path) => path,
            Err(error) => unreachable!("{error}"),
        };
        Self(self.0.into_iter().map(|(path, written)| (above(path), written)).collect())
    }

    /// Checks that all files are in a folder as the list says.
    ///
    /// # Errors
    /// [`StorageError::Part`] with the first that is not.
    pub fn check(&self, folder: &Path) -> Result<(), StorageError> {
        self.iter().try_for_each(|(path, _)| self.check_one(folder, path))
    }

    /// Checks one of the files.
    ///
    /// # Errors
    /// [`StorageError::Part`] if it is not as the list says, or not on the list.
    pub fn check_one(&self, folder: &Path, path: &RelativePath) -> Result<(), StorageError> {
        let fault = match self.get(path) {
            Some(written) => fault(folder, path, written),
            None => Some(Fault::Missing),
        };
        match fault {
            None => Ok(()),
            Some(fault) => {
                Err(StorageError::Part { folder: folder.to_owned(), part: path.clone(), fault })
            }
        }
    }

    /// Reads a file as [`Files::read`], by its path.
    ///
    /// # Errors
    /// As [`Files::read`].
    pub fn read_at(&self, folder: &Path, path: &Path) -> Result<Vec<u8>, StorageError> {
        let below = path.strip_prefix(folder).ok().and_then(relative);
        let foreign = || StorageError::Foreign {
            folder: folder.to_owned(),
            found: path.display().to_string(),
        };
        self.read(folder, &below.ok_or_else(foreign)?)
    }

    /// Reads one of the files whole and checks what was read: what is used is what was checked.
    ///
    /// # Errors
    /// As [`Files::check_one`].
    pub fn read(&self, folder: &Path, path: &RelativePath) -> Result<Vec<u8>, StorageError> {
        let failed =
            |fault| StorageError::Part { folder: folder.to_owned(), part: path.clone(), fault };
        let written = self.get(path).ok_or_else(|| failed(Fault::Missing))?;
        let at = inside(folder, path).map_err(failed)?;
        let bytes = fs::read(at).map_err(|error| failed(unreadable(&error)))?;
        if identity_of(path.as_str(), &bytes) == written {
            Ok(bytes)
        } else {
            Err(failed(Fault::Changed))
        }
    }
}

fn fault(folder: &Path, path: &RelativePath, written: Written) -> Option<Fault> {
    let at = match inside(folder, path) {
        Ok(at) => at,
        Err(fault) => return Some(fault),
    };
    match identity(&at) {
        Ok(found) if found == written => None,
        Ok(_) => Some(Fault::Changed),
        Err(error) => Some(unreadable(&error)),
    }
}

fn unreadable(error: &io::Error) -> Fault {
    match error.kind() {
        io::ErrorKind::NotFound => Fault::Missing,
        _ => Fault::Unreadable(error.to_string()),
    }
}

/// Returns where a file lies, unless links lead out of the folder.
fn inside(folder: &Path, path: &RelativePath) -> Result<PathBuf, Fault> {
    let real = |path: &Path| path.canonicalize().map_err(|error| unreadable(&error));
    let (folder, at) = (real(folder)?, real(&path.below(folder))?);
    if at.starts_with(folder) { Ok(at) } else { Err(Fault::Outside) }
}

/// Returns how a file is known again.
pub(crate) fn identity(path: &Path) -> io::Result<Written> {
    let name = path.to_string_lossy();
    if name.ends_with(".json") {
        return Ok(identity_of(&name, &fs::read(path)?));
    }
    // Its length is that of what was read, should it be growing.
    let mut counted = Counted { file: File::open(path)?, bytes: 0 };
    let mut hasher = blake3::Hasher::new();
    hasher.update_reader(&mut counted)?;
    Ok(Written { bytes: counted.bytes, blake3: Digest::from(hasher.finalize()) })
}

fn identity_of(name: &str, bytes: &[u8]) -> Written {
    let sealed = if name.ends_with(".json") { sealed_part(bytes) } else { None };
    sealed.unwrap_or_else(|| Written { bytes: bytes.len() as u64, blake3: Digest::of(bytes) })
}

struct Counted {
    file: File,
    bytes: u64,
}

impl Read for Counted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.file.read(buffer)?;
        self.bytes += read as u64;
        Ok(read)
    }
}

/// Returns a path below a folder in its one form.
fn relative(below: &Path) -> Option<RelativePath> {
    let names: Option<Vec<&str>> = below.iter().map(|name| name.to_str()).collect();
    names?.join("/").parse().ok()
}

/// Lists all that is no folder below one, in no order, but for temporary files and folders of this
/// program. Links are not followed. What has a name that is no text comes as an error.
pub(crate) fn walk(folder: &Path) -> Result<Vec<Result<RelativePath, PathBuf>>, StorageError> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        let failed = StorageError::read;
        for entry in fs::read_dir(&next).map_err(failed(&next))? {
            let entry = entry.map_err(failed(&next))?;
            let path = entry.path();
            if is_temporary(&entry.file_name()) {
                continue;
            }
            if entry.file_type().map_err(failed(&path))?.is_dir() {
                folders.push(path);
                continue;
            }
            let below = path.strip_prefix(folder).unwrap_or(&path).to_owned();
            found.push(relative(&below).ok_or(below));
        }
    }
    Ok(found)
}

impl Serialize for Files {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let entry = |(path, Written { bytes, blake3 }): (&RelativePath, Written)| Entry {
            path: path.clone(),
            bytes,
            blake3,
        };
        serializer.collect_seq(self.iter().map(entry))
    }
}

impl<'de> Deserialize<'de> for Files {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let entries = Vec::<Entry>::deserialize(deserializer)?;
        if let Some(two) = entries.windows(2).find(|two| two[0].path >= two[1].path) {
            let (first, second) = (&two[0].path, &two[1].path);
            return Err(de::Error::custom(format!("{second} after {first} in a list of files")));
        }
        let known = |Entry { path, bytes, blake3 }| (path, Written { bytes, blake3 });
        Ok(Self(entries.into_iter().map(known).collect()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write_sealed_and;

    fn path(text: &str) -> RelativePath {
        text.parse().unwrap()
    }

    fn folder() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("data")).unwrap();
        for (name, text) in [("a", "1"), ("data/b", "22"), (".data.tallyhouse-aaaaaa", "")] {
            fs::write(folder.path().join(name), text).unwrap();
        }
        folder
    }

    fn fault_of(files: &Files, folder: &Path) -> Option<Fault> {
        match files.check(folder) {
            Ok(()) => None,
            Err(StorageError::Part { fault, .. }) => Some(fault),
            Err(error) => panic!("{error}"),
        }
    }

    #[test]
    fn the_first_file_that_is_not_as_it_was_is_named() {
        let folder = folder();
        let folder = folder.path();
        let files = Files::of(folder).unwrap();
        assert_eq!(
            files.iter().map(|(path, _)| path.as_str()).collect::<Vec<_>>(),
            ["a", "data/b"]
        );
        assert_eq!(files.get(&path("data/b")).unwrap().bytes, 2);
        assert_eq!((files.len(), files.is_empty()), (2, false));
        files.check(folder).unwrap();
        assert_eq!(files.read(folder, &path("a")).unwrap(), b"1");
        for (text, found) in [("23", Fault::Changed), ("2", Fault::Changed), ("", Fault::Changed)] {
            fs::write(folder.join("data/b"), text).unwrap();
            assert_eq!(fault_of(&files, folder), Some(found));
            assert!(files.read(folder, &path("data/b")).is_err());
        }
        fs::remove_file(folder.join("data/b")).unwrap();
        let error = files.check(folder).unwrap_err().to_string();
        let words = "data/b is missing; make the folder again, or take the file from a copy";
        assert_eq!(error, format!("{}: {words}", folder.display()));
        assert!(files.read(folder, &path("data/b")).unwrap_err().to_string().contains("missing"));
        assert!(files.read(folder, &path("c")).unwrap_err().to_string().contains("c is missing"));
        fs::create_dir(folder.join("data/b")).unwrap();
        assert!(matches!(fault_of(&files, folder), Some(Fault::Unreadable(_))));
    }

    #[cfg(unix)]
    #[test]
    fn no_link_leads_out_of_the_folder() {
        let (folder, other) = (folder(), folder());
        let files = Files::of(folder.path()).unwrap();
        fs::remove_file(folder.path().join("a")).unwrap();
        std::os::unix::fs::symlink(other.path().join("a"), folder.path().join("a")).unwrap();
        assert_eq!(fault_of(&files, folder.path()), Some(Fault::Outside));
        fs::remove_file(folder.path().join("a")).unwrap();
        std::os::unix::fs::symlink(folder.path().join("data/c"), folder.path().join("a")).unwrap();
        fs::write(folder.path().join("data/c"), "1").unwrap();
        assert_eq!(fault_of(&files, folder.path()), None, "a link inside");
    }

    #[test]
    fn lists_are_read_back_and_hostile_ones_refused() {
        let folder = folder();
        let files = Files::of(folder.path()).unwrap();
        let json = serde_json::to_string(&files).unwrap();
        assert_eq!(serde_json::from_str::<Files>(&json).unwrap(), files);
        let refused = |from: &str, to: &str| {
            let json = json.replacen(from, to, 1);
            serde_json::from_str::<Files>(&json).unwrap_err().to_string()
        };
        assert!(refused("data/b", "../victim").contains("no path below the folder"));
        assert!(refused("\"a\"", "\"data/b\"").contains("data/b after data/b"));
        assert!(refused("\"a\"", "\"x\"").contains("data/b after x"));
        assert!(refused("\"blake3\":\"", "\"blake3\":\"0").contains("expected the 64"));
    }

    #[test]
    fn parts_of_lists_are_lists() {
        let folder = folder();
        let mut files = Files::of(folder.path()).unwrap();
        let all = files.clone();
        let data = files.take_below(&path("data"));
        assert_eq!(data, Files::of(&folder.path().join("data")).unwrap());
        assert_eq!(files.len(), 1);
        for (path, written) in data.clone().seen_from_above(&path("data")).iter() {
            files.insert(path.clone(), written);
        }
        assert_eq!((files.digest(), &files), (all.digest(), &all));
        assert_ne!(data.digest(), all.digest());
    }

    #[test]
    fn a_sealed_file_is_known_by_what_is_sealed() {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path().join("manifest.json");
        let of = |name: &str, number: u32| BTreeMap::from([(name.to_owned(), number)]);
        let list = |rows, seconds| {
            write_sealed_and(&at, &of("rows", rows), &of("wall_seconds", seconds)).unwrap();
            Files::of(folder.path()).unwrap()
        };
        let files = list(7, 1);
        assert_eq!(list(7, 22_222), files);
        files.check(folder.path()).unwrap();
        assert_ne!(list(8, 1), files);
        assert_eq!(fault_of(&files, folder.path()), Some(Fault::Changed));
        let text = fs::read_to_string(&at).unwrap().replace(" 8", " 7");
        fs::write(&at, text).unwrap();
        assert_eq!(fault_of(&files, folder.path()), Some(Fault::Changed), "its seal is another's");
    }
}
