//! The worksheet that a study makes.

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::{FileError, TextFile};
use tallyhouse_figures::Paper;
use toml::Spanned;

use super::limits;
use super::named::{self, Named};
use crate::worksheet::{ItemKind, Practice, Wish};

/// The worksheet of a study.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StudyWorksheet {
    /// The index of the collection from which the puzzles are drawn.
    pub collection: usize,
    /// What is practised.
    #[serde(skip)]
    pub practice: Practice,
    /// The rulebook that solves the puzzles, by name or file; if it is none, the ladder as far as it is
    /// needed.
    pub rulebook: Option<String>,
    /// The reader whose glances the score counts, by name or file.
    pub reader: String,
    /// What items show.
    #[serde(serialize_with = "named::name")]
    pub kind: ItemKind,
    /// How many items there are.
    pub count: usize,
    /// The seed by which they are drawn.
    pub seed: u64,
    /// What the pages are printed on.
    pub paper: Paper,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawWorksheet {
    pub(super) collection: Option<Spanned<String>>,
    look: Option<Spanned<String>>,
    shape: Option<Spanned<String>>,
    rulebook: Option<String>,
    #[serde(default = "marking")]
    reader: String,
    #[serde(default)]
    kind: Named<ItemKind>,
    #[serde(default = "twelve", deserialize_with = "limits::items")]
    count: u64,
    #[serde(default = "one")]
    seed: u64,
    #[serde(default)]
    paper: Named<Paper>,
}

fn marking() -> String {
    "marking".to_owned()
}

fn twelve() -> u64 {
    12
}

fn one() -> u64 {
    1
}

impl RawWorksheet {
    /// `at` is where it stands, and `collection` the index of the one that is named.
    pub(super) fn worksheet(
        self,
        source: TextFile<'_>,
        at: usize,
        collection: usize,
    ) -> Result<StudyWorksheet, FileError> {
        let practice = match (&self.look, &self.shape, &self.rulebook) {
            (Some(look), None, _) => read(source, look).map(Practice::Look)?,
            (None, Some(shape), _) => read(source, shape).map(Practice::Shape)?,
            (None, None, Some(_)) => Practice::Rulebook,
            _ => return Err(source.error_at(at, "expected a look, a shape or a rulebook")),
        };
        if self.rulebook.is_none() {
            Wish::new(practice, None).map_err(|error| source.error_at(at, error.to_string()))?;
        }
        let Self { rulebook, reader, kind, count, seed, paper, .. } = self;
        Ok(StudyWorksheet {
            collection,
            practice,
            rulebook,
            reader,
            kind: kind.0,
            count: count as usize,
            seed,
            paper: paper.0,
        })
    }
}

fn read<T: std::str::FromStr<Err: std::fmt::Display>>(
    source: TextFile<'_>,
    raw: &Spanned<String>,
) -> Result<T, FileError> {
    let read = raw.get_ref().parse();
    read.map_err(|error: T::Err| source.error_at(raw.span().start, error.to_string()))
}
