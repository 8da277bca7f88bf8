//! The kinds of claims: each says what a claim file holds, what is counted and what follows.
//!
//! A kind is added by its own file here, which implements [`ClaimKind`], and a line of [`ALL`].

mod effort;
mod left;
mod occurrence;

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_stats::Threshold;

use super::Keys;
use crate::judge::{ClaimSums, WalkedPuzzle};
use crate::{FileError, Rulebook};
pub use effort::LookPair;

type Reader = fn(Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError>;

/// The kinds as claim files write them.
pub(super) const ALL: [(&str, Reader); 6] = [
    ("complete", left::complete),
    ("rare", occurrence::rare),
    ("flushed-out", left::flushed_out),
    ("easier", effort::easier),
    ("as-hard-as", effort::as_hard_as),
    ("implies", occurrence::implies),
];

/// What a claim of some kind measures.
pub(crate) trait ClaimKind: fmt::Debug + Send + Sync {
    /// Returns the rulebook that the claim speaks of.
    fn rulebook(&self) -> Option<&str> {
        None
    }

    /// Returns the looks that the claim compares.
    fn looks(&self) -> Option<&LookPair> {
        None
    }

    /// Returns where the claim says that its number lies.
    fn threshold(&self) -> Threshold;

    /// Returns what the number is, in words.
    fn measure(&self) -> String;

    /// Returns what the denominator counts.
    fn of_what(&self) -> Noun;

    /// Returns what sort of number it is.
    fn quantity(&self) -> Quantity;

    /// Counts a puzzle.
    fn count(&self, puzzle: &WalkedPuzzle<'_>, sums: &mut ClaimSums);

    /// Returns which positions are worth keeping.
    fn examples(&self) -> Examples;

    /// Returns the answer if it follows from definitions.
    fn certainty(&self, known: &Known<'_>) -> Option<Certainty>;
}

/// What sort of number a claim is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// A share of puzzles.
    Share,
    /// A share of positions or houses, several of which are in one puzzle.
    Rate,
    /// Glances divided by glances.
    Ratio,
}

/// A word for things that are counted; files hold the plural.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(into = "String")]
pub struct Noun {
    /// The singular.
    pub one: String,
    /// The plural.
    pub many: String,
}

impl Noun {
    fn new(one: &str, many: &str) -> Self {
        Self { one: one.to_owned(), many: many.to_owned() }
    }

    /// Adds more words behind either form.
    fn with(self, more: &str) -> Self {
        Self { one: format!("{} {more}", self.one), many: format!("{} {more}", self.many) }
    }

    /// Writes so many of them.
    #[must_use]
    pub fn counted(&self, number: u64) -> String {
        tallyhouse_words::counted(number, &self.one, &self.many)
    }
}

impl From<Noun> for String {
    fn from(noun: Noun) -> Self {
        noun.many
    }
}

/// Which positions speak against a claim: none does against one about a mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Examples {
    /// None does.
    None,
    /// Worth keeping if the claim is refuted.
    IfRefuted,
    /// Worth keeping whatever comes out: the claim says that there are none at all.
    Always,
}

/// What is known before any puzzle is read.
pub(crate) struct Known<'a> {
    /// The rulebook that the claim speaks of.
    pub(crate) rulebook: Option<&'a Rulebook>,
    /// What glances weigh.
    pub(crate) weights: &'a GlanceWeights,
}

/// An answer that follows from definitions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Certainty {
    /// The answer.
    pub(crate) is_true: bool,
    /// Why, in one sentence.
    pub(crate) reason: String,
}

/// The name of a rulebook in a claim file.
#[derive(Clone, Debug, Deserialize)]
#[serde(try_from = "String")]
struct BookName(String);

impl TryFrom<String> for BookName {
    type Error = String;

    fn try_from(name: String) -> Result<Self, String> {
        crate::text_file::checked_name(&name).map(|()| Self(name))
    }
}

/// A share that a claim holds its number against.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(try_from = "f64")]
struct Bound(f64);

impl TryFrom<f64> for Bound {
    type Error = String;

    fn try_from(share: f64) -> Result<Self, String> {
        if 0.0 < share && share < 1.0 {
            Ok(Self(share))
        } else {
            Err(format!("found {share}, expected a share above 0 and below 1"))
        }
    }
}
