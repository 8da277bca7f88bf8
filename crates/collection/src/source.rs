use std::fmt;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tallyhouse_words::shown;

use crate::whole_file::WholeFile;
use crate::{Format, Numbering, ReadError};

/// Where puzzle rows come from, and the name that messages, rejects and manifests use for it.
///
/// ```
/// use tallyhouse_collection::{Format, Rows, Source};
///
/// let grid = "12.......\n".repeat(9);
/// let source = Source::memory("grid.txt", grid.into_bytes()).with_format(Format::Grids);
/// let rows = Rows::open(vec![source])?.block(10)?;
/// let reject = rows[0].as_ref().unwrap_err();
/// assert_eq!(reject.reason.to_string(), "1 stands twice in column 1: r1c1 and r2c1");
/// # Ok::<(), tallyhouse_collection::ReadError>(())
/// ```
#[derive(Clone)]
pub struct Source {
    name: String,
    origin: Origin,
    format: Format,
    numbering: Numbering,
    /// How many units it has, where that is known beforehand.
    units: Option<u64>,
    /// The folder that its content lies in, if it is not a file.
    folder: Option<PathBuf>,
    /// What tells its content from others, where it is not told by its bytes.
    stamp: Option<String>,
}

#[derive(Clone)]
enum Origin {
    StandardInput,
    File(PathBuf),
    Memory(Arc<[u8]>),
    /// Something that can be read again and again, from any of its units on and up to another.
    Opener(Arc<OpenFn>),
}

type OpenFn = dyn Fn(Range<u64>) -> io::Result<Box<dyn Read + Send>> + Send + Sync;

impl fmt::Debug for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Source").field(&self.name).finish()
    }
}

impl Source {
    /// Takes `-` for the standard input and anything else for a file.
    #[must_use]
    pub fn from_argument(argument: &Path) -> Self {
        if argument.as_os_str() == "-" {
            Self::new("standard input", Origin::StandardInput)
        } else {
            Self::file(argument)
        }
    }

    /// Takes a file.
    #[must_use]
    pub fn file(path: &Path) -> Self {
        Self::new(&path.display().to_string(), Origin::File(path.to_owned()))
    }

    /// Takes bytes that stand for a file.
    #[must_use]
    pub fn memory(name: &str, bytes: impl Into<Arc<[u8]>>) -> Self {
        Self::new(name, Origin::Memory(bytes.into()))
    }

    /// Takes what a function opens, for lines of text that lie in some other form. It is given the
    /// units, that is rows or families, that are wanted: the first of them is where the text begins, with
    /// comment lines before it if it is the first of all; it may end after the last of them.
    pub fn opened_by(
        name: &str,
        open: impl Fn(Range<u64>) -> io::Result<Box<dyn Read + Send>> + Send + Sync + 'static,
    ) -> Self {
        Self::new(name, Origin::Opener(Arc::new(open))).with_format(Format::Lines)
    }

    fn new(name: &str, origin: Origin) -> Self {
        let (format, numbering) = (Format::Auto, Numbering::Rows);
        let name = shown(name).into_owned();
        Self { name, origin, format, numbering, units: None, folder: None, stamp: None }
    }

    /// Says how many units the source has, and how they are numbered.
    #[must_use]
    pub fn with_units(self, units: u64, numbering: Numbering) -> Self {
        Self { units: Some(units), numbering, ..self }
    }

    /// Says in which folder the content lies, and what tells it from others.
    #[must_use]
    pub fn in_folder(self, folder: &Path, stamp: String) -> Self {
        Self { folder: Some(folder.to_owned()), stamp: Some(stamp), ..self }
    }

    /// Returns how the rows are numbered.
    #[must_use]
    pub const fn numbering(&self) -> Numbering {
        self.numbering
    }

    /// Returns how many units there are, where that is known.
    #[must_use]
    pub const fn units(&self) -> Option<u64> {
        self.units
    }

    /// Returns what tells the content from others, where it is not told by its bytes.
    pub(crate) fn stamp(&self) -> Option<&str> {
        self.stamp.as_deref()
    }

    /// Tests if places in the source are counted in units, not in bytes.
    pub(crate) const fn is_counted_in_units(&self) -> bool {
        matches!(self.origin, Origin::Opener(_))
    }

    /// Returns the file or folder, if it is one.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        match &self.origin {
            Origin::File(path) => Some(path),
            _ => self.folder.as_deref(),
        }
    }

    /// Tests if the source can be read only once.
    pub(crate) fn is_stream(&self) -> bool {
        match &self.origin {
            Origin::StandardInput => true,
            Origin::File(path) => {
                std::fs::metadata(path).is_ok_and(|found| !found.is_file() && !found.is_dir())
            }
            Origin::Memory(_) | Origin::Opener(_) => false,
        }
    }

    /// Sets the format; else it is told by the first lines.
    #[must_use]
    pub fn with_format(self, format: Format) -> Self {
        Self { format, ..self }
    }

    /// Returns the format.
    pub(crate) const fn format(&self) -> &Format {
        &self.format
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

    /// Returns the size in bytes where the source has one.
    #[must_use]
    pub fn size(&self) -> Option<u64> {
        match &self.origin {
            Origin::StandardInput | Origin::Opener(_) => None,
            Origin::File(path) => {
                let metadata = std::fs::metadata(path).ok()?;
                metadata.is_file().then_some(metadata.len())
            }
            Origin::Memory(bytes) => Some(bytes.len() as u64),
        }
    }

    /// Finds out if the source can be read, and takes nothing from it.
    ///
    /// A pipe is not opened: whoever writes into it would be told that nobody reads.
    ///
    /// # Errors
    /// As [`Source::open`].
    pub(crate) fn check(&self) -> Result<(), ReadError> {
        if self.is_stream() { Ok(()) } else { self.open().map(drop) }
    }

    /// Opens the source, and gives its bytes as they are.
    ///
    /// # Errors
    /// [`ReadError::Open`] if it is missing, a folder, or not allowed to be read.
    pub fn open(&self) -> Result<Box<dyn Read + Send>, ReadError> {
        self.open_at(0, u64::MAX)
    }

    /// Opens the source at a place: so many bytes from its beginning, or at one of its units, of which
    /// none from `until` on is wanted.
    pub(crate) fn open_at(
        &self,
        offset: u64,
        until: u64,
    ) -> Result<Box<dyn Read + Send>, ReadError> {
        let open = || -> io::Result<Box<dyn Read + Send>> {
            let path = match &self.origin {
                Origin::StandardInput => return Ok(Box::new(io::stdin())),
                Origin::Memory(bytes) => {
                    let mut bytes = io::Cursor::new(Arc::clone(bytes));
                    bytes.set_position(offset);
                    return Ok(Box::new(bytes));
                }
                Origin::Opener(open) => return open(offset..until),
                Origin::File(path) => path,
            };
            let mut file = File::open(path)?;
            let metadata = file.metadata()?;
            if metadata.is_dir() {
                return Err(io::Error::other("it is a folder, expected a file"));
            }
            if offset > 0 {
                file.seek(SeekFrom::Start(offset))?;
            }
            let size = if metadata.is_file() { metadata.len() } else { 0 };
            Ok(Box::new(WholeFile::new(file, size, offset)))
        };
        open().map_err(|error| ReadError::Open { source_name: self.name.clone(), error })
    }
}
