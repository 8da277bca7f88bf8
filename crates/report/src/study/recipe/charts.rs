//! Which charts a study draws, and how.

use serde::{Deserialize, Serialize};
use tallyhouse_analysis::{FileError, TextFile};
use tallyhouse_figures::{Theme, Width};
use toml::Spanned;

use super::check_shape;
use super::named::{Named, names};
use crate::chart_kind::ChartKind;

/// The charts of a study.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StudyCharts {
    /// The kinds that are drawn where there are data for them.
    #[serde(serialize_with = "names")]
    pub kinds: Vec<ChartKind>,
    /// Their themes, at least one; the report shows the first.
    #[serde(serialize_with = "names")]
    pub themes: Vec<Theme>,
    /// Their widths, at least one; the report shows the first.
    #[serde(serialize_with = "names")]
    pub widths: Vec<Width>,
    /// The shapes (open count, naked size) whose intervals are shown narrowing.
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

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawCharts {
    kinds: Option<Vec<Named<ChartKind>>>,
    themes: Option<Spanned<Vec<Named<Theme>>>>,
    widths: Option<Spanned<Vec<Named<Width>>>>,
    narrowing: Option<Spanned<Vec<[u8; 2]>>>,
}

impl RawCharts {
    pub(super) fn charts(self, source: TextFile<'_>) -> Result<StudyCharts, FileError> {
        let mut charts = StudyCharts::default();
        if let Some(kinds) = self.kinds {
            charts.kinds = distinct(kinds);
        }
        if let Some(themes) = self.themes {
            let at = themes.span().start;
            charts.themes = distinct(themes.into_inner());
            if charts.themes.is_empty() {
                return Err(source.error_at(at, "themes is empty: expected light, dark or print"));
            }
        }
        if let Some(widths) = self.widths {
            let at = widths.span().start;
            charts.widths = distinct(widths.into_inner());
            if charts.widths.is_empty() {
                return Err(source.error_at(at, "widths is empty: expected page or column"));
            }
        }
        if let Some(shapes) = self.narrowing {
            let at = shapes.span().start;
            charts.narrowing = shapes.into_inner().into_iter().map(|[a, b]| (a, b)).collect();
            for &shape in &charts.narrowing {
                check_shape(source, at, shape)?;
            }
        }
        Ok(charts)
    }
}

fn distinct<T: PartialEq>(values: Vec<Named<T>>) -> Vec<T> {
    let mut kept = Vec::new();
    for Named(value) in values {
        if !kept.contains(&value) {
            kept.push(value);
        }
    }
    kept
}
