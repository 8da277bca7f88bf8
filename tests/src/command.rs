//! Running the built `tallyhouse` command.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Returns the path of the command, which `cargo test --workspace` builds beside the tests.
///
/// # Panics
/// If it has not been built.
pub fn path() -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.parent().and_then(Path::parent).unwrap();
    let path = folder.join(format!("tallyhouse{}", std::env::consts::EXE_SUFFIX));
    assert!(path.exists(), "{} is missing: run cargo test --workspace", path.display());
    path
}

/// Prepares the command to run in a folder.
pub fn command(folder: &Path) -> Command {
    let mut command = Command::new(path());
    command.current_dir(folder).env_remove("COLUMNS");
    command
}

/// What a run printed.
#[derive(Debug)]
pub struct Ran {
    /// The exit code.
    pub code: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// Runs the command in a folder.
pub fn run(folder: &Path, arguments: &[&str]) -> Ran {
    command(folder).args(arguments).output().unwrap().into()
}
