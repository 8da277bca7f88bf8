use std::io;
use std::path::{Path, PathBuf};

use tallyhouse_collection::{ReadError, RejectsError, SurveyError};
use tallyhouse_storage::StorageError;

/// Why a census stopped.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CensusError {
    /// The collection can't be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The list of rejected rows can't be written or read.
    #[error(transparent)]
    Rejects(#[from] RejectsError),
    /// The output folder is in use.
    #[error("{} exists already: choose another folder{}", .path.display(), .advice)]
    Exists {
        /// The folder.
        path: PathBuf,
        /// What else can be done, beginning with a comma, or nothing.
        advice: &'static str,
    },
    /// There is nothing to resume.
    #[error("{}: nothing to resume, {reason}", .path.display())]
    NothingToResume {
        /// The folder.
        path: PathBuf,
        /// What is missing or different.
        reason: String,
    },
    /// A folder that is no whole collection.
    #[error("{} is not a collection folder: {reason}", .path.display())]
    NoCollection {
        /// The folder.
        path: PathBuf,
        /// Why not.
        reason: String,
    },
    /// A dataset whose records can't be read back.
    #[error("the records of {} can't be read back: {reason}", .path.display())]
    NoRecords {
        /// The folder.
        path: PathBuf,
        /// Why not.
        reason: String,
    },
    /// A folder of another version of the schema.
    #[error(
        "{} has schema version {found}, this program reads {}; make the folder again: {again}",
        .path.display(),
        crate::schema::SCHEMA_VERSION
    )]
    OtherSchema {
        /// The folder.
        path: PathBuf,
        /// Its version in words.
        found: String,
        /// The command that makes it again, as far as its manifest tells.
        again: String,
    },
    /// A question that tells too many groups apart.
    #[error(
        "more than {most} groups: ask by columns with fewer values, or narrow the question with --where"
    )]
    TooManyGroups {
        /// The most that are answered.
        most: usize,
    },
    /// A question whose sums are too large.
    #[error("the question has no answer: {0}")]
    NoAnswer(String),
    /// A scan can't be divided.
    #[error(transparent)]
    Survey(#[from] SurveyError),
    /// Parts of such a size have no whole blocks of the collection's digest.
    #[error("a part of {found} rows: expected whole thousands of rows, as in 50000")]
    PartSize {
        /// The size.
        found: u64,
    },
    /// A folder without the plan that is needed.
    #[error("{}: {reason}", .path.display())]
    NoPlan {
        /// The folder.
        path: PathBuf,
        /// What is missing or different.
        reason: String,
    },
    /// The rows of a part are not those that were planned.
    #[error(
        "{sources}: changed since the plan was made, in part {part}: plan anew in another folder"
    )]
    SourceChanged {
        /// The sources of the part.
        sources: String,
        /// The part.
        part: u64,
    },
    /// The plan has fewer parts.
    #[error("there is no part {asked}: expected parts from 0 to {last}")]
    NoSuchPart {
        /// The part.
        asked: u64,
        /// The last one.
        last: u64,
    },
    /// A part that can't be used to finish a scan.
    #[error(
        "{}, part {number}: {reason}; do it with --parts {number}..{number}, then finish again",
        .path.display()
    )]
    NoPart {
        /// The folder.
        path: PathBuf,
        /// The part.
        number: u64,
        /// What is wrong.
        reason: String,
    },
    /// A dataset with a file that is not as it was written.
    #[error("{fault}: {again}")]
    Spoilt {
        /// Which file, and what is wrong.
        fault: StorageError,
        /// The command that makes it again, as far as its manifest tells.
        again: String,
    },
    /// A file or folder can't be written, or is not as it was written.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// A file of an unfinished run can't be read.
    #[error("cannot read {}: {reason}", .path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// No row of the collection is a valid puzzle.
    #[error(
        "none of the {rows} rows is a valid puzzle; the first: {first}; all are listed in {}",
        .rejects.display()
    )]
    AllRejected {
        /// How many rows were read.
        rows: u64,
        /// The first reject.
        first: String,
        /// The file that lists them.
        rejects: PathBuf,
    },
}

impl CensusError {
    pub(crate) fn write(path: &Path) -> impl FnOnce(io::Error) -> Self + '_ {
        move |error| StorageError::write(path)(error).into()
    }
}
