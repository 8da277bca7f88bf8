use std::fmt;
use std::path::{Component, Path, PathBuf};
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// A path below a folder: names joined by `/`, none of which leads out of it.
///
/// ```
/// use tallyhouse_storage::RelativePath;
///
/// let path: RelativePath = "figures/a.svg".parse()?;
/// assert_eq!(path.as_str(), "figures/a.svg");
/// for bad in ["../victim", "/etc/passwd", "a//b", "a/./b", "a/..", ""] {
///     assert!(bad.parse::<RelativePath>().is_err());
/// }
/// # Ok::<(), tallyhouse_storage::ParsePathError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct RelativePath(String);

/// Text that is no path below a folder.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no path below the folder: expected names joined by /, none of them . or ..")]
pub struct ParsePathError(String);

impl RelativePath {
    /// Returns it as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Returns where it leads below a folder.
    #[must_use]
    pub fn below(&self, folder: &Path) -> PathBuf {
        folder.join(&self.0)
    }

    /// Returns the path of a file of this folder.
    ///
    /// # Errors
    /// If `path` is no such path.
    pub fn join(&self, path: &str) -> Result<Self, ParsePathError> {
        format!("{}/{path}", self.0).parse()
    }

    /// Returns it as seen from one of the folders that it leads through.
    #[must_use]
    pub fn from_within(&self, folder: &str) -> Option<Self> {
        let rest = self.0.strip_prefix(folder)?.strip_prefix('/')?;
        Some(Self(rest.to_owned()))
    }
}

impl FromStr for RelativePath {
    type Err = ParsePathError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let names: Vec<&str> = text.split('/').collect();
        let parts: Vec<Component<'_>> = Path::new(text).components().collect();
        let is_name = |(name, part): (&&str, &Component<'_>)| {
            matches!(part, Component::Normal(part) if part == name) && !name.contains('\0')
        };
        let fits = names.len() == parts.len() && names.iter().zip(&parts).all(is_name);
        if fits { Ok(Self(text.to_owned())) } else { Err(ParsePathError(text.to_owned())) }
    }
}

impl TryFrom<String> for RelativePath {
    type Error = ParsePathError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl From<RelativePath> for String {
    fn from(path: RelativePath) -> Self {
        path.0
    }
}

impl fmt::Display for RelativePath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_below_the_folder_are_paths() {
        for good in ["a", "a/b.c", "...", "..a/b..", "a b/ü"] {
            let path: RelativePath = good.parse().unwrap();
            assert_eq!(path.to_string(), good);
            assert_eq!(serde_json::to_string(&path).unwrap(), format!("\"{good}\""));
        }
        for bad in ["", "/", "/a", "a/", "./a", "a/.", "a/../b", "..", "../a", "a//b", "a\0b"] {
            let error = bad.parse::<RelativePath>().unwrap_err().to_string();
            assert!(error.contains("no path below the folder"), "{bad}: {error}");
            let json = serde_json::to_string(bad).unwrap();
            assert!(serde_json::from_str::<RelativePath>(&json).is_err());
        }
        let path: RelativePath = "a/b/c".parse().unwrap();
        assert_eq!(path.from_within("a/b").unwrap().as_str(), "c");
        assert_eq!(path.from_within("a/b/c"), None);
        assert_eq!(path.from_within("a/bb"), None);
        assert_eq!(path.join("d").unwrap().as_str(), "a/b/c/d");
        assert!(path.join("../../../../d").is_err());
        assert_eq!(path.below(Path::new("/x")), Path::new("/x/a/b/c"));
    }
}
