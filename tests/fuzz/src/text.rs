//! Files that people write: what is wrong is told in one line that names file and line.

use tallyhouse_analysis::FileError;

/// The name that texts are read under.
pub const NAME: &str = "fuzzed.toml";

/// Returns what was read; what is wrong must be told as people need it.
pub fn told<T>(text: &str, read: Result<T, FileError>) -> Option<T> {
    let error = match read {
        Ok(read) => return Some(read),
        Err(error) => error,
    };
    let FileError::Content { file, line, what } = &error else {
        panic!("no file is read: {error}")
    };
    assert_eq!(file, NAME);
    assert!((1..=text.matches('\n').count() + 1).contains(line), "{error}");
    assert!(!what.is_empty() && !what.contains('\n'), "{error:?}");
    None
}
