use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

/// Where puzzle rows come from: a file or the standard input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// The standard input, written `-`.
    Stdin,
    /// A file.
    File(PathBuf),
}

/// A source that can't be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// The source does not open.
    #[error("cannot open {source_name}: {error}")]
    Open {
        /// The path as given.
        source_name: String,
        /// What the system says.
        #[source]
        error: io::Error,
    },
    /// Reading broke off.
    #[error("cannot read {source_name} after line {line}: {error}")]
    Read {
        /// The path as given.
        source_name: String,
        /// The last line read, counted from 1; 0 if none was.
        line: u64,
        /// What the system says.
        #[source]
        error: io::Error,
    },
    /// No source has a row.
    #[error("no puzzles in {0}: expected one puzzle of 81 characters per line")]
    Empty(String),
}

impl Source {
    /// Takes `-` for the standard input and anything else for a file.
    #[must_use]
    pub fn from_argument(argument: &Path) -> Self {
        if argument.as_os_str() == "-" { Self::Stdin } else { Self::File(argument.to_owned()) }
    }

    /// Returns the name that messages and rejects use.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Self::Stdin => "standard input".to_owned(),
            Self::File(path) => path.display().to_string(),
        }
    }

    /// Returns the size in bytes where the source has one.
    #[must_use]
    pub fn size(&self) -> Option<u64> {
        match self {
            Self::Stdin => None,
            Self::File(path) => {
                std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file).map(|m| m.len())
            }
        }
    }

    /// Opens the source.
    ///
    /// # Errors
    /// [`ReadError::Open`] if it is missing, a folder, or not allowed to be read.
    pub fn open(&self) -> Result<Box<dyn Read + Send>, ReadError> {
        let open = || -> io::Result<Box<dyn Read + Send>> {
            match self {
                Self::Stdin => Ok(Box::new(io::stdin())),
                Self::File(path) => {
                    let file = File::open(path)?;
                    if file.metadata()?.is_dir() {
                        return Err(io::Error::other("it is a folder, expected a file"));
                    }
                    Ok(Box::new(BufReader::with_capacity(1 << 16, file)))
                }
            }
        };
        open().map_err(|error| ReadError::Open { source_name: self.name(), error })
    }
}
