use serde::{Deserialize, Serialize};

/// A place between the rows of some sources.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// The index of the source.
    pub source: usize,
    /// How many bytes of the source lie before it; rows, of a collection folder; units, of what is
    /// made.
    pub offset: u64,
    /// How many lines lie before it.
    pub line: u64,
}
