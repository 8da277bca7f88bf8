use std::collections::BTreeSet;

use tallyhouse_census::CensusError;
use tallyhouse_collection::{ReadError, RejectsError};
use tallyhouse_stats::StatsError;
use tallyhouse_storage::StorageError;

use crate::FileError;

/// Why an analysis stopped.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AnalysisError {
    /// A rulebook or claim file is not as it should be.
    #[error(transparent)]
    File(#[from] FileError),
    /// The collection can't be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The output can't be written, or no row is a valid puzzle.
    #[error(transparent)]
    Census(#[from] CensusError),
    /// A file or folder can't be written.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// The list of rejected rows can't be written.
    #[error(transparent)]
    Rejects(#[from] RejectsError),
    /// The sums have no answer.
    #[error("there are no statistics for '{claim}'")]
    Stats {
        /// The claim or rulebook.
        claim: String,
        /// What is wrong.
        error: StatsError,
    },
    /// There is neither a rulebook nor a claim.
    #[error("nothing to judge: expected at least one rulebook or claim file")]
    NothingToJudge,
    /// There is nothing to compare.
    #[error("expected at least two rulebooks to compare, found {0}")]
    TooFewRulebooks(usize),
    /// Two rulebooks or two claim files have one name.
    #[error("two {kind}s are named '{name}': expected a name of its own for each")]
    SameName {
        /// `rulebook` or `claim file`.
        kind: &'static str,
        /// The name.
        name: String,
    },
    /// No row of times can be used.
    #[error("{file}: no row can be used: {what}")]
    NoTimes {
        /// The file.
        file: String,
        /// What became of the rows, and what was expected.
        what: String,
    },
    /// Rows can't be written as CSV.
    #[error(transparent)]
    Csv(#[from] csv::Error),
    /// A file can't be written as TOML.
    #[error(transparent)]
    Toml(#[from] toml::ser::Error),
    /// A claim speaks of something that the run does not have.
    #[error("{file}: claim '{claim}' is a claim without data: {missing}")]
    WithoutData {
        /// The name of the claim file.
        file: String,
        /// The claim.
        claim: String,
        /// What is missing and what there is.
        missing: String,
    },
}

impl AnalysisError {
    /// Fails if two of a kind have one name.
    pub(crate) fn unless_distinct<'a>(
        names: impl IntoIterator<Item = (&'static str, &'a str)>,
    ) -> Result<(), Self> {
        let mut seen = BTreeSet::new();
        let twice = names.into_iter().find(|name| !seen.insert(*name));
        twice.map_or(Ok(()), |(kind, name)| Err(Self::SameName { kind, name: name.to_owned() }))
    }
}
