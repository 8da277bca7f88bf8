//! Locks: they tell a second run that another writes there.
//!
//! A lock is a file that its holders have locked. It lies in the folder that is written, or beside
//! the file, and goes with its last holder. That of a killed run is free, and the next run takes it.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, Write};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use crate::names::{folder_of, lock_name};
use crate::{Holder, StorageError};

/// Who else may hold a lock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sharing {
    /// Nobody.
    Exclusive,
    /// Others who share it.
    Shared,
}

/// A lock on a folder or a file that is written, until it is dropped.
///
/// ```
/// use tallyhouse_storage::{Lock, Sharing};
///
/// let folder = tempfile::tempdir()?;
/// let lock = Lock::of_folder(folder.path(), Sharing::Exclusive)?;
/// let second = Lock::of_folder(folder.path(), Sharing::Exclusive).unwrap_err().to_string();
/// assert!(second.starts_with("another command writes "));
/// drop(lock);
/// assert_eq!(std::fs::read_dir(folder.path())?.count(), 0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Lock {
    file: File,
    path: PathBuf,
    holds: bool,
}

/// How long a run waits for one that is just leaving.
const PATIENCE: (u32, Duration) = (50, Duration::from_millis(20));

impl Lock {
    /// Locks a folder.
    ///
    /// # Errors
    /// [`StorageError::Busy`] if another run has locked it, [`StorageError::Write`] if nothing can be
    /// written there.
    pub fn of_folder(folder: &Path, sharing: Sharing) -> Result<Self, StorageError> {
        Self::take(&folder.join(lock_name(None)), folder, sharing)
    }

    /// Locks a file, which need not exist.
    ///
    /// # Errors
    /// As [`Lock::of_folder`].
    pub fn of_file(file: &Path) -> Result<Self, StorageError> {
        let path = folder_of(file).join(lock_name(file.file_name()));
        Self::take(&path, file, Sharing::Exclusive)
    }

    /// Tests if it is held: some file systems know no locks, and there nobody is kept out.
    #[must_use]
    pub const fn holds(&self) -> bool {
        self.holds
    }

    fn take(path: &Path, what: &Path, sharing: Sharing) -> Result<Self, StorageError> {
        let (turns, pause) = PATIENCE;
        for _ in 0..turns {
            let open =
                OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path);
            let file = open.map_err(StorageError::write(what))?;
            let locked = match sharing {
                Sharing::Exclusive => file.try_lock(),
                Sharing::Shared => file.try_lock_shared(),
            };
            let holds = match locked {
                Ok(()) => true,
                Err(TryLockError::WouldBlock) => {
                    thread::sleep(pause);
                    continue;
                }
                Err(TryLockError::Error(_)) => false,
            };
            // The holder before may have removed the file while it was being opened.
            if is_at(&file, path) {
                let mut lock = Self { file, path: path.to_owned(), holds };
                // The lock is held all the same if nobody can be told who holds it.
                let _ = lock.tell();
                return Ok(lock);
            }
        }
        Err(StorageError::Busy { path: what.to_owned(), holder: holder(path) })
    }

    fn tell(&mut self) -> io::Result<()> {
        self.file.set_len(0)?;
        self.file.rewind()?;
        self.file.write_all(&serde_json::to_vec(&Holder::this())?)
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Whoever shares it and leaves last gets it for himself, and takes it away.
        if !self.holds || self.file.try_lock().is_ok() {
            let _ = fs::remove_file(&self.path);
        }
    }
}

fn holder(path: &Path) -> Option<Holder> {
    let mut text = String::new();
    File::open(path).and_then(|mut file| file.read_to_string(&mut text)).ok()?;
    serde_json::from_str(&text).ok()
}

/// Tests if a file is the one that has a path.
#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let same = |a: fs::Metadata, b: fs::Metadata| (a.dev(), a.ino()) == (b.dev(), b.ino());
    file.metadata().is_ok_and(|a| fs::metadata(path).is_ok_and(|b| same(a, b)))
}

#[cfg(not(unix))]
fn is_at(_: &File, path: &Path) -> bool {
    path.exists()
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU32, Ordering};

    use super::*;

    fn entries(folder: &Path) -> usize {
        fs::read_dir(folder).unwrap().count()
    }

    #[test]
    fn a_second_run_is_told_of_the_first() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.txt");
        let lock = Lock::of_file(&file).unwrap();
        assert!(lock.holds());
        let other = Lock::of_file(&folder.path().join("b.txt")).unwrap();
        let message = Lock::of_file(&file).unwrap_err().to_string();
        let begin = format!("another command writes {} now: ", file.display());
        assert!(message.starts_with(&begin), "{message}");
        let program = std::env::args().next().unwrap();
        assert!(message.contains(&program) && message.contains("(begun 2"), "{message}");
        drop((lock, other));
        assert_eq!(entries(folder.path()), 0);
    }

    #[test]
    fn those_who_share_keep_others_out_and_the_last_takes_the_lock_away() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        let first = Lock::of_folder(folder, Sharing::Shared).unwrap();
        let second = Lock::of_folder(folder, Sharing::Shared).unwrap();
        drop(first);
        assert_eq!(entries(folder), 1);
        assert!(Lock::of_folder(folder, Sharing::Exclusive).is_err());
        drop(second);
        assert_eq!(entries(folder), 0);
        let alone = Lock::of_folder(folder, Sharing::Exclusive).unwrap();
        assert!(Lock::of_folder(folder, Sharing::Shared).is_err());
        drop(alone);
    }

    #[test]
    fn what_a_killed_run_left_is_taken_over() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(lock_name(None)), "{\"command\":\"old\"").unwrap();
        drop(Lock::of_folder(folder.path(), Sharing::Exclusive).unwrap());
        assert_eq!(entries(folder.path()), 0);
    }

    #[test]
    fn never_do_two_hold_it_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let (inside, turns) = (AtomicU32::new(0), AtomicU32::new(0));
        thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    for _ in 0..200 {
                        let Ok(lock) = Lock::of_folder(folder.path(), Sharing::Exclusive) else {
                            continue;
                        };
                        assert_eq!(inside.fetch_add(1, Ordering::SeqCst), 0);
                        turns.fetch_add(1, Ordering::SeqCst);
                        inside.fetch_sub(1, Ordering::SeqCst);
                        drop(lock);
                    }
                });
            }
        });
        assert!(turns.into_inner() > 0);
        assert_eq!(entries(folder.path()), 0);
    }

    #[test]
    fn where_nothing_can_be_written_that_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let nowhere = folder.path().join("no/such");
        let error = Lock::of_folder(&nowhere, Sharing::Exclusive).unwrap_err().to_string();
        assert!(error.starts_with("cannot write ") && error.contains("no/such: "), "{error}");
    }
}
