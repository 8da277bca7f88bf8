//! Which charts a study draws, and how.

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize};
use tallyhouse_figures::{Dpi, Theme, Width};

use super::named::{Choice, Named, names, names_of};
use super::shapes;
use crate::chart_kind::ChartKind;
use crate::saving::Print;

/// The charts of a study.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StudyCharts {
    /// The kinds that are drawn where there are data for them.
    #[serde(serialize_with = "names", deserialize_with = "distinct")]
    pub kinds: Vec<ChartKind>,
    /// Their themes, at least one. On a dark screen the report shows dark figures, whichever there are
    /// files of, else the first theme that is not dark.
    #[serde(serialize_with = "names", deserialize_with = "themes")]
    pub themes: Vec<Theme>,
    /// Their widths, at least one; the report shows the first.
    #[serde(deserialize_with = "widths")]
    pub widths: Vec<Width>,
    /// The shapes (open count, naked size) whose intervals are shown narrowing.
    #[serde(deserialize_with = "shapes")]
    pub narrowing: Vec<(u8, u8)>,
    /// The resolution of PNGs, if not each picture's own.
    pub dpi: Option<Dpi>,
    /// If the text of SVG and PDF is drawn as outlines.
    pub outlines: bool,
}

impl Default for StudyCharts {
    fn default() -> Self {
        Self {
            kinds: ChartKind::ALL.to_vec(),
            themes: vec![Theme::Light],
            widths: vec![Width::Page, Width::Column],
            narrowing: vec![(6, 2), (7, 4), (8, 4)],
            dpi: None,
            outlines: false,
        }
    }
}

impl StudyCharts {
    /// Tests if charts of a kind are wanted.
    #[must_use]
    pub fn wants(&self, kind: ChartKind) -> bool {
        self.kinds.contains(&kind)
    }

    /// Returns the theme in which the report shows figures by day.
    #[must_use]
    pub fn by_day(&self) -> Theme {
        let is_light = |theme: &&Theme| **theme != Theme::Dark;
        self.themes.iter().find(is_light).copied().unwrap_or_default()
    }

    /// Returns how pictures become files.
    #[must_use]
    pub const fn print(&self) -> Print {
        Print { dpi: self.dpi, outlines: self.outlines }
    }
}

fn themes<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Theme>, D::Error> {
    let themes = distinct(from)?;
    if themes.is_empty() {
        let known = names_of::<Theme>();
        return Err(D::Error::custom(format!("themes is empty: expected some of {known}")));
    }
    Ok(themes)
}

fn widths<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Width>, D::Error> {
    let widths = once(Vec::<Width>::deserialize(from)?);
    if widths.is_empty() {
        let forms = Width::FORMS;
        return Err(D::Error::custom(format!("widths is empty: expected some of {forms}")));
    }
    Ok(widths)
}

/// Reads a list, in which what stands twice counts once.
fn distinct<'de, T: Choice, D: Deserializer<'de>>(from: D) -> Result<Vec<T>, D::Error> {
    let values = Vec::<Named<T>>::deserialize(from)?;
    Ok(once(values.into_iter().map(|Named(value)| value)))
}

/// Keeps the first of equal values.
fn once<T: Copy + PartialEq>(values: impl IntoIterator<Item = T>) -> Vec<T> {
    let mut kept = Vec::new();
    for value in values {
        if !kept.contains(&value) {
            kept.push(value);
        }
    }
    kept
}
