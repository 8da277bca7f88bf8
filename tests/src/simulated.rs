//! The simulated times that the documents show.

use std::fs;
use std::path::{Path, PathBuf};

/// Returns the folder of the simulated times and of the items they are for.
#[must_use]
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../notebooks-data/timings")
}

/// Copies the times and the items to these files of a folder.
///
/// # Panics
/// If they can't be copied.
pub fn copy_to(to: &Path, times: &str, items: &str) {
    for (name, copy) in [("simulated-times.csv", times), ("simulated-items.csv", items)] {
        fs::create_dir_all(to.join(copy).parent().unwrap()).unwrap();
        fs::copy(folder().join(name), to.join(copy)).unwrap();
    }
}
