//! Which charts a study draws, and how.

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize};
use tallyhouse_figures::{Theme, Width};

use super::named::{Choice, Named, names, names_of};
use super::shapes;
use crate::chart_kind::ChartKind;

/// The charts of a study.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StudyCharts {
    /// The kinds that are drawn where there are data for them.
    #[serde(serialize_with = "names", deserialize_with = "distinct")]
    pub kinds: Vec<ChartKind>,
    /// Their themes, at least one; the report shows the first.
    #[serde(serialize_with = "names", deserialize_with = "themes")]
    pub themes: Vec<Theme>,
    /// Their widths, at least one; the report shows the first.
    #[serde(serialize_with = "names", deserialize_with = "widths")]
    pub widths: Vec<Width>,
    /// The shapes (open count, naked size) whose intervals are shown narrowing.
    #[serde(deserialize_with = "shapes")]
    pub narrowing: Vec<(u8, u8)>,
}

impl Default for StudyCharts {
    fn default() -> Self {
        Self {
            kinds: ChartKind::ALL.to_vec(),
            themes: vec![Theme::Light],
            widths: vec![Width::Page, Width::Column],
            narrowing: vec![(6, 2), (7, 4), (8, 4)],
        }
    }
}

impl StudyCharts {
    /// Tests if charts of a kind are wanted.
    #[must_use]
    pub fn wants(&self, kind: ChartKind) -> bool {
        self.kinds.contains(&kind)
    }
}

fn themes<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Theme>, D::Error> {
    some("themes", from)
}

fn widths<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Width>, D::Error> {
    some("widths", from)
}

/// Reads a list that is not empty.
fn some<'de, T: Choice, D>(name: &str, from: D) -> Result<Vec<T>, D::Error>
where
    D: Deserializer<'de>,
{
    let values = distinct(from)?;
    if values.is_empty() {
        let known = names_of::<T>();
        return Err(D::Error::custom(format!("{name} is empty: expected some of {known}")));
    }
    Ok(values)
}

/// Reads a list, in which what stands twice counts once.
fn distinct<'de, T: Choice, D: Deserializer<'de>>(from: D) -> Result<Vec<T>, D::Error> {
    let mut kept = Vec::new();
    for Named(value) in Vec::<Named<T>>::deserialize(from)? {
        if !kept.contains(&value) {
            kept.push(value);
        }
    }
    Ok(kept)
}
