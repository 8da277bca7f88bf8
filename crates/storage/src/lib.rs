//! Files that are whole or not there.
//!
//! - [`write_file`] and [`NewFile`] write beside the file under a name of their own, and give it its
//!   name when it is on the disk.
//! - A [`Digest`] tells files apart; [`Files`] lists those of a folder and checks them;
//!   [`write_sealed`] writes JSON that carries its own digest.
//! - [`OutFolder`] is a folder that a command writes into: locked for the command's whole time,
//!   swept of what killed runs left, and never with a file of somebody else's touched.
//!   [`NewFolder`] is one whose files all get their places at the end.
//!
//! Locks are for people: they tell of a second run before it wastes its time. That files are right
//! rests on temporary names that nobody else has, and on renaming.
//!
//! ```
//! use std::io::Write;
//!
//! use tallyhouse_storage::{NewFolder, Replace, contents, write_file};
//!
//! #[derive(serde::Serialize)]
//! struct Manifest {
//!     kind: &'static str,
//!     files: tallyhouse_storage::Files,
//! }
//!
//! let parent = tempfile::tempdir()?;
//! let path = parent.path().join("counts");
//! let folder = NewFolder::begin(&path, Replace::No)?;
//! write_file(&folder.aside().join("counts.csv"), |file| file.write_all(b"open,houses\n"))?;
//! folder.finish(|files| Manifest { kind: "counts", files })?;
//! contents(&path)?.unwrap().check(&path)?;
//!
//! // A damaged file is named.
//! std::fs::write(path.join("counts.csv"), "open,hauses\n")?;
//! let damaged = contents(&path)?.unwrap().check(&path).unwrap_err();
//! assert!(damaged.to_string().contains("counts.csv is not as it was written"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]
#![deny(missing_docs)]

mod digest;
mod error;
mod file;
mod files;
mod folder;
mod holder;
mod json;
mod listing;
mod lock;
mod names;
mod path;
mod replace;
mod staging;

pub use digest::{Digest, Hasher, ParseDigestError};
pub use error::{Fault, StorageError};
pub use file::{NewFile, Written, sync_folder, write_file};
pub use files::Files;
pub use folder::{NewFolder, OutFolder};
pub use holder::Holder;
pub use json::{is_sealed, read_json, read_sealed, write_json, write_sealed, write_sealed_and};
pub use listing::{MANIFEST, STUDY, WORK, contents};
pub use lock::{Lock, Sharing};
pub use names::{is_temporary, unfinished};
pub use path::{ParsePathError, RelativePath};
pub use replace::Replace;
pub use staging::Staging;
