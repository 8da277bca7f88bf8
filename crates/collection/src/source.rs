use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Where puzzle rows come from, and the name that messages, rejects and manifests use for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    name: String,
    /// `None` is the standard input.
    path: Option<PathBuf>,
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
        if argument.as_os_str() == "-" {
            Self { name: "standard input".to_owned(), path: None }
        } else {
            Self::file(argument)
        }
    }

    /// Takes a file.
    #[must_use]
    pub fn file(path: &Path) -> Self {
        Self { name: path.display().to_string(), path: Some(path.to_owned()) }
    }

    /// Gives the source another name, for a file that will lie elsewhere later.
    #[must_use]
    pub fn named(self, name: &str) -> Self {
        Self { name: name.to_owned(), ..self }
    }

    /// Returns the name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Tests if the source is the standard input, which can be read only once.
    #[must_use]
    pub const fn is_stdin(&self) -> bool {
        self.path.is_none()
    }

    /// Returns the size in bytes where the source has one.
    #[must_use]
    pub fn size(&self) -> Option<u64> {
        let metadata = std::fs::metadata(self.path.as_ref()?).ok()?;
        metadata.is_file().then_some(metadata.len())
    }

    /// Opens the source.
    ///
    /// # Errors
    /// [`ReadError::Open`] if it is missing, a folder, or not allowed to be read.
    pub fn open(&self) -> Result<Box<dyn Read + Send>, ReadError> {
        let open = || -> io::Result<Box<dyn Read + Send>> {
            let Some(path) = &self.path else { return Ok(Box::new(io::stdin())) };
            let file = File::open(path)?;
            if file.metadata()?.is_dir() {
                return Err(io::Error::other("it is a folder, expected a file"));
            }
            Ok(Box::new(file))
        };
        open().map_err(|error| ReadError::Open { source_name: self.name.clone(), error })
    }
}
