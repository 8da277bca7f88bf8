//! The kinds of claims: each says what a claim file holds, what is counted and what follows.
//!
//! A kind is added by its own file here, which implements [`ClaimKind`], and a line of [`ALL`].

mod effort;
mod left;
mod occurrence;

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use tallyhouse_stats::Threshold;

use super::Keys;
use crate::judge::{ClaimSums, WalkedPuzzle};
use crate::{FileError, Rulebook};
pub(crate) use effort::PriceClaim;

type Reader = fn(Keys<'_>) -> Result<Arc<dyn ClaimKind>, FileError>;

/// The kinds as claim files write them.
pub(super) const ALL: [(&str, Reader); 8] = [
    ("complete", left::complete),
    ("rare", occurrence::rare),
    ("flushed-out", left::flushed_out),
    ("easier", effort::easier),
    ("as-hard-as", effort::as_hard_as),
    ("pays", effort::pays),
    ("never-pays", effort::never_pays),
    ("implies", occurrence::implies),
];

/// What a claim of some kind measures.
pub(crate) trait ClaimKind: fmt::Debug + Send + Sync {
    /// Returns the rulebook that the claim speaks of.
    fn rulebook(&self) -> Option<&str> {
        None
    }

    /// Returns what the claim says of prices, if it does: a jury is asked then, and nothing else is
    /// counted.
    fn prices(&self) -> Option<&PriceClaim> {
        None
    }

    /// Returns where the claim says that its number lies.
    fn threshold(&self) -> Threshold;

    /// Returns what the number is, in words.
    fn measure(&self) -> String;

    /// Returns what sort of number it is.
    fn quantity(&self) -> Quantity;

    /// Returns what the denominator counts, of a share.
    fn of_what(&self) -> Option<Noun> {
        None
    }

    /// Counts a puzzle.
    fn count(&self, _puzzle: &WalkedPuzzle<'_>, _sums: &mut ClaimSums) {}

    /// Returns which positions are worth keeping: none for a mean, which is not a rule for each house.
    fn examples(&self) -> Examples {
        Examples::None
    }

    /// Returns the answer if it follows from definitions.
    fn certainty(&self, _known: &Known<'_>) -> Option<Certainty> {
        None
    }
}

/// What sort of number a claim is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// A share of puzzles.
    Share,
    /// A share of positions or houses, several of which are in one puzzle.
    Rate,
    /// Glances for a find of one look, divided by those for a find of another.
    Ratio,
    /// Glances for a find.
    Price,
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
