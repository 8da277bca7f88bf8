//! What a search went through.

use serde::Serialize;

/// What was examined.
#[derive(Clone, Debug, PartialEq, Eq, Default, Serialize)]
pub struct Examined {
    /// The sources or how the puzzles were made, in words.
    pub collection: String,
    /// What the collection says of itself: method, bias, seed.
    pub notes: Vec<String>,
    /// The BLAKE3 digest of the rows, in hexadecimal, if they were read.
    pub digest: Option<String>,
    /// The walk that the quiet positions are from, in words.
    pub walk: String,
    /// How many valid puzzles were walked.
    pub puzzles: u64,
    /// How many rows were rejected.
    pub rejected: u64,
    /// The first rejected row, in words.
    pub first_reject: Option<String>,
}
