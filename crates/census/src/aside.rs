//! Making folders.

use std::io;
use std::path::Path;

use crate::CensusError;

/// Makes a new folder; an empty one will do as well.
///
/// # Errors
/// [`CensusError::Exists`] with the advice if it is in use, [`CensusError::Write`] with what the system
/// says.
pub(crate) fn make_folder(path: &Path, advice: &'static str) -> Result<(), CensusError> {
    match std::fs::create_dir(path) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            if std::fs::read_dir(path).is_ok_and(|mut entries| entries.next().is_none()) {
                Ok(())
            } else {
                Err(CensusError::Exists { path: path.to_owned(), advice })
            }
        }
        Err(error) => Err(CensusError::write(path)(error)),
    }
}
