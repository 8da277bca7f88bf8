//! Which positions a study shows.

use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::{FileError, TextFile};
use tallyhouse_board::HouseKind;
use tallyhouse_engine::{Look, LookError};
use tallyhouse_words::read_range;
use toml::Spanned;

use super::limits;
use super::named::Named;
use crate::specimen::{ProperSide, Wanted};

/// The specimens of a study. All positions of the collection's census are searched.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudySpecimens {
    /// The index of the collection that is searched.
    pub collection: usize,
    /// Whether one specimen of each shape is shown.
    pub gallery: bool,
    /// Others that are shown.
    pub shown: Vec<WantedSpecimens>,
}

/// Specimens of one kind.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WantedSpecimens {
    /// The heading.
    pub title: String,
    /// How many.
    pub most: usize,
    /// What they show.
    #[serde(serialize_with = "in_words")]
    pub wanted: Wanted,
}

fn in_words<S: serde::Serializer>(wanted: &Wanted, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(wanted)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawSpecimens {
    pub(super) collection: Option<Spanned<String>>,
    gallery: Option<bool>,
    #[serde(default)]
    show: Vec<Spanned<RawWanted>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawWanted {
    title: String,
    #[serde(default = "one", deserialize_with = "limits::most")]
    most: u64,
    open: Option<Spanned<RawRange>>,
    naked: Option<Spanned<RawRange>>,
    hidden: Option<Spanned<RawRange>>,
    live_open: Option<Spanned<RawRange>>,
    live_naked: Option<Spanned<RawRange>>,
    live_hidden: Option<Spanned<RawRange>>,
    house: Option<Named<HouseKind>>,
    #[serde(default = "either")]
    proper: Named<ProperSide>,
    #[serde(default = "one", deserialize_with = "limits::eliminations")]
    eliminations: u64,
    #[serde(default)]
    nothing_easier: bool,
    #[serde(default)]
    first: bool,
    finds: Option<Spanned<String>>,
}

fn one() -> u64 {
    1
}

fn either() -> Named<ProperSide> {
    Named(ProperSide::Either)
}

/// A number, or a text as in `8..9`.
#[derive(Deserialize)]
#[serde(untagged)]
enum RawRange {
    Number(i64),
    Words(String),
}

fn look(source: TextFile<'_>, raw: Spanned<String>) -> Result<Look, FileError> {
    let at = raw.span().start;
    raw.get_ref().parse().map_err(|error: LookError| source.error_at(at, error.to_string()))
}

fn range(
    source: TextFile<'_>,
    raw: Option<Spanned<RawRange>>,
) -> Result<Option<RangeInclusive<u8>>, FileError> {
    let Some(raw) = raw else { return Ok(None) };
    let at = raw.span().start;
    let text = match raw.into_inner() {
        RawRange::Number(number) => number.to_string(),
        RawRange::Words(text) => text,
    };
    read_range(&text, 9).map(Some).map_err(|what| source.error_in_value(at, &what))
}

impl RawSpecimens {
    /// `collection` is the index of the one that is named.
    pub(super) fn specimens(
        self,
        source: TextFile<'_>,
        collection: usize,
    ) -> Result<StudySpecimens, FileError> {
        let mut shown = Vec::new();
        for raw in self.show {
            let at = raw.span().start;
            let raw = raw.into_inner();
            let wanted = Wanted {
                open: range(source, raw.open)?,
                naked: range(source, raw.naked)?,
                hidden: range(source, raw.hidden)?,
                live_open: range(source, raw.live_open)?,
                live_naked: range(source, raw.live_naked)?,
                live_hidden: range(source, raw.live_hidden)?,
                house_kind: raw.house.map(|kind| kind.0),
                proper: if raw.finds.is_some() { ProperSide::Any } else { raw.proper.0 },
                least_eliminations: raw.eliminations as u8,
                nothing_easier: raw.nothing_easier,
                quiet_position: raw.first.then_some(0),
                look: raw.finds.map(|finds| look(source, finds)).transpose()?,
            };
            wanted.check().map_err(|error| source.error_at(at, error.to_string()))?;
            shown.push(WantedSpecimens { title: raw.title, most: raw.most as usize, wanted });
        }
        Ok(StudySpecimens { collection, gallery: self.gallery.unwrap_or(shown.is_empty()), shown })
    }
}
