use std::fmt;
use std::fs::File;
use std::io::{self, Write};
use std::path::Path;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// A BLAKE3 digest, written as 64 hexadecimal digits.
///
/// ```
/// use tallyhouse_storage::Digest;
///
/// let digest = Digest::of(b"");
/// // From the test vectors that BLAKE3 is published with: input of length 0.
/// assert!(digest.to_string().starts_with("af1349b9f5f9a1a6a0404dea36dcc949"));
/// assert_eq!(digest.to_string().parse(), Ok(digest));
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Digest(blake3::Hash);

impl Digest {
    /// Digests bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self(blake3::hash(bytes))
    }

    /// Digests a file.
    ///
    /// # Errors
    /// If it can't be read.
    pub fn of_file(path: &Path) -> io::Result<Self> {
        let mut hasher = blake3::Hasher::new();
        hasher.update_reader(File::open(path)?)?;
        Ok(hasher.finalize().into())
    }

    /// Returns its 32 bytes.
    #[must_use]
    pub const fn as_bytes(&self) -> &[u8; 32] {
        self.0.as_bytes()
    }
}

impl From<blake3::Hash> for Digest {
    fn from(hash: blake3::Hash) -> Self {
        Self(hash)
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.to_hex())
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Digest({self})")
    }
}

/// Text that is no digest.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("found '{0}', expected the 64 hexadecimal digits of a BLAKE3 digest")]
pub struct ParseDigestError(String);

impl FromStr for Digest {
    type Err = ParseDigestError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        // One way to write each: what is changed in a file is noticed.
        let digest = blake3::Hash::from_hex(text).ok().map(Self);
        let plain = digest.filter(|digest| digest.to_string() == text);
        plain.ok_or_else(|| ParseDigestError(text.to_owned()))
    }
}

impl Serialize for Digest {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Digest {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(de::Error::custom)
    }
}

/// Digests what is written to it.
#[derive(Clone, Debug, Default)]
pub struct Hasher(blake3::Hasher);

impl Hasher {
    /// Begins with nothing.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes more bytes.
    pub fn update(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// Returns the digest of all bytes so far.
    #[must_use]
    pub fn finish(&self) -> Digest {
        Digest(self.0.finalize())
    }
}

impl Write for Hasher {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_files_and_pieces_agree_and_text_is_read_in_one_form_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        std::fs::write(&path, "two pieces").unwrap();
        let digest = Digest::of(b"two pieces");
        assert_eq!(Digest::of_file(&path).unwrap(), digest);
        let mut hasher = Hasher::new();
        hasher.write_all(b"two ").unwrap();
        hasher.update(b"pieces");
        assert_eq!(hasher.finish(), digest);
        let json = serde_json::to_string(&digest).unwrap();
        assert_eq!(serde_json::from_str::<Digest>(&json).unwrap(), digest);
        let loud = digest.to_string().to_uppercase();
        assert!(loud.parse::<Digest>().unwrap_err().to_string().contains("expected the 64"));
        assert!("af".parse::<Digest>().is_err());
        assert_eq!(format!("{digest:?}"), format!("Digest({digest})"));
    }
}
