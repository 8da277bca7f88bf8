use std::io;
use std::path::{Path, PathBuf};

use crate::names::{folder_of, meant};
use crate::{Holder, RelativePath};

/// Why a file or a folder could not be written, or can't be believed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StorageError {
    /// The disk is full.
    #[error(
        "no room left on the disk of {}, for {}: make room and run the command again",
        folder_of(.path).display(),
        .path.display()
    )]
    NoRoom {
        /// What was to be written.
        path: PathBuf,
    },
    /// Something can't be written, for another reason.
    #[error("cannot write {}: {error}", .path.display())]
    Write {
        /// What was to be written.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// Something can't be read.
    #[error("cannot read {}: {error}", .path.display())]
    Read {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// A file that carries its own digest is not as it was written.
    #[error("cannot read {}: {reason}; make {} again", .path.display(), folder_of(.path).display())]
    Seal {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A file is not as the list of its folder says.
    #[error(
        "{}: {part} {fault}; make the folder again, or take the file from a copy",
        .folder.display()
    )]
    Part {
        /// The folder.
        folder: PathBuf,
        /// The file, from there.
        part: RelativePath,
        /// What is wrong with it.
        fault: Fault,
    },
    /// Another command writes there.
    #[error("another command writes {} now{}", .path.display(), holder_words(.holder.as_ref()))]
    Busy {
        /// The file or folder.
        path: PathBuf,
        /// Which one, where that is known.
        holder: Option<Holder>,
    },
    /// The output folder holds what this program wrote.
    #[error(
        "{} exists already: choose another folder, or allow it to be replaced with --replace",
        .folder.display()
    )]
    Exists {
        /// The folder.
        folder: PathBuf,
    },
    /// The output folder holds a file that this program did not write.
    #[error(
        "{} holds {found}, which is not on the list of what tallyhouse wrote there: choose another \
         folder, or move it away",
        .folder.display()
    )]
    Foreign {
        /// The folder.
        folder: PathBuf,
        /// The file, from there.
        found: String,
    },
    /// The output folder holds a file that was changed after this program wrote it.
    #[error(
        "{} holds {found}, which was changed after it was written: choose another folder, or move it \
         away",
        .folder.display()
    )]
    Edited {
        /// The folder.
        folder: PathBuf,
        /// The file, from there.
        found: String,
    },
    /// Another file has the name of one that is to be written.
    #[error(
        "{} exists already and differs: choose another folder, or allow it to be replaced with \
         --replace",
        .path.display()
    )]
    InTheWay {
        /// The file.
        path: PathBuf,
    },
    /// The name of the output folder is that of a file.
    #[error("{} is a file: choose another name for the folder", .path.display())]
    NotAFolder {
        /// The file.
        path: PathBuf,
    },
    /// A value has no JSON form.
    #[error("cannot write {} as JSON: {error}", .path.display())]
    Json {
        /// The file.
        path: PathBuf,
        /// What the library says.
        error: serde_json::Error,
    },
}

/// What is wrong with a file of a list.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Fault {
    /// It is not there.
    #[error("is missing")]
    Missing,
    /// Its bytes are others.
    #[error("is not as it was written")]
    Changed,
    /// It leads out of the folder, by a link.
    #[error("leads out of the folder by a link")]
    Outside,
    /// It can't be read.
    #[error("can't be read: {0}")]
    Unreadable(String),
}

fn holder_words(holder: Option<&Holder>) -> String {
    holder.map_or_else(String::new, |holder| format!(": {holder}"))
}

impl StorageError {
    /// Says what could not be written; a full disk is told as one.
    pub fn write(path: &Path) -> impl FnOnce(io::Error) -> Self + '_ {
        move |error| {
            // What is filled aside is gone when people read of it.
            let path = meant(path);
            if Self::is_no_room(error.kind()) {
                Self::NoRoom { path }
            } else {
                Self::Write { path, error }
            }
        }
    }

    /// Tests if the system says that the disk is full.
    pub(crate) const fn is_no_room(kind: io::ErrorKind) -> bool {
        matches!(kind, io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded)
    }

    /// Says what could not be read.
    pub fn read(path: &Path) -> impl FnOnce(io::Error) -> Self + '_ {
        move |error| Self::Read { path: path.to_owned(), error }
    }

    /// Says that a file that carries its own digest can't be believed.
    pub(crate) fn seal(path: &Path, reason: impl Into<String>) -> Self {
        Self::Seal { path: path.to_owned(), reason: reason.into() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_filled_aside_is_told_by_its_place() {
        let told = |path: &str, kind: io::ErrorKind| {
            StorageError::write(Path::new(path))(io::Error::new(kind, "odd")).to_string()
        };
        assert_eq!(
            told("/tmp/out/.tallyhouse-aB3xY9/made/figures/a.svg", io::ErrorKind::StorageFull),
            "no room left on the disk of /tmp/out/figures, for /tmp/out/figures/a.svg: make room \
             and run the command again"
        );
        let other = io::ErrorKind::Other;
        assert_eq!(told("out/.tallyhouse-aB3xY9/made", other), "cannot write out: odd");
        assert_eq!(told("out/.tallyhouse-aB3xY9", other), "cannot write out: odd");
        assert_eq!(told("out/made/a.csv", other), "cannot write out/made/a.csv: odd");
    }
}
