//! Panels: the same claims asked of several collections, on several walks.

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::{ClaimFile, FileError, TextFile, TrialWalk};
use toml::Spanned;

use super::named::{Choice, names_of};

/// The same claims asked of several collections, on several walks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StudyPanel {
    /// The heading.
    pub title: String,
    /// Claim files by name or file.
    pub claims: Vec<String>,
    /// The indices of the collections.
    pub collections: Vec<usize>,
    /// How the puzzles are walked.
    pub walks: Vec<TrialWalk>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPanel {
    title: String,
    claims: Option<Spanned<Vec<Spanned<String>>>>,
    collections: Option<Spanned<Vec<Spanned<String>>>>,
    walks: Option<Spanned<Vec<Spanned<String>>>>,
}

impl RawPanel {
    /// Reads a panel that begins `at` this byte: all claims, collections and walks if none is named.
    pub(super) fn panel(
        self,
        source: TextFile<'_>,
        at: usize,
        claims: &[String],
        index_of: impl Fn(Spanned<String>) -> Result<usize, FileError>,
        collections: usize,
    ) -> Result<StudyPanel, FileError> {
        let claims = match self.claims {
            None => claims.to_vec(),
            Some(names) => named(source, names, "claims", |name| claim_file(source, name))?,
        };
        if claims.is_empty() {
            let reason =
                "a panel without claims: expected claims here, or at the head of the recipe";
            return Err(source.error_at(at, reason));
        }
        let collections = match self.collections {
            None => (0..collections).collect(),
            Some(names) => named(source, names, "collections", index_of)?,
        };
        let walks = match self.walks {
            None => TrialWalk::ALL.to_vec(),
            Some(names) => named(source, names, "walks", |name| choice(source, &name))?,
        };
        Ok(StudyPanel { title: self.title, claims, collections, walks })
    }
}

/// Reads a list that is not empty, in which what stands twice counts once.
fn named<T: PartialEq>(
    source: TextFile<'_>,
    names: Spanned<Vec<Spanned<String>>>,
    what: &str,
    read: impl Fn(Spanned<String>) -> Result<T, FileError>,
) -> Result<Vec<T>, FileError> {
    let at = names.span().start;
    let mut kept = Vec::new();
    for name in names.into_inner() {
        let value = read(name)?;
        if !kept.contains(&value) {
            kept.push(value);
        }
    }
    if kept.is_empty() {
        return Err(
            source.error_at(at, format!("{what} is empty: expected at least one, or no list"))
        );
    }
    Ok(kept)
}

/// Checks a name that is no file of its own; files are read when the study runs.
fn claim_file(source: TextFile<'_>, name: Spanned<String>) -> Result<String, FileError> {
    let is_known = ClaimFile::built_in().any(|known| known == name.get_ref());
    if is_known || name.get_ref().ends_with(".toml") {
        return Ok(name.into_inner());
    }
    let known: Vec<&str> = ClaimFile::built_in().collect();
    let found = name.get_ref().escape_debug();
    let reason =
        format!("found '{found}', expected a TOML file of claims, or {}", known.join(" or "));
    Err(source.error_at(name.span().start, reason))
}

fn choice<T: Choice>(source: TextFile<'_>, name: &Spanned<String>) -> Result<T, FileError> {
    name.get_ref().parse().map_err(|_| {
        let found = name.get_ref().escape_debug();
        let reason = format!("found '{found}', expected one of {}", names_of::<T>());
        source.error_at(name.span().start, reason)
    })
}
