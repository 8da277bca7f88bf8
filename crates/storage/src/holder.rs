use std::fmt;

use serde::{Deserialize, Serialize};

/// A command that holds a lock.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Holder {
    /// The command as typed.
    pub command: String,
    /// When it began, as in `2026-01-31T12:00:00Z`.
    pub started: String,
}

impl Holder {
    /// Returns the running command.
    pub(crate) fn this() -> Self {
        let words: Vec<String> =
            std::env::args_os().map(|word| word.to_string_lossy().into_owned()).collect();
        let started = jiff::Timestamp::now().round(jiff::Unit::Second);
        let started = started.map_or_else(|_| String::new(), |time| time.to_string());
        Self { command: words.join(" "), started }
    }
}

impl fmt::Display for Holder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} (begun {})", self.command, self.started)
    }
}
