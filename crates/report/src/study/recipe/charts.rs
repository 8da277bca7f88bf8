//! Which charts a study draws, and how.

use serde::{Deserialize, Serialize};
use tallyhouse_figures::{Theme, Width};
use toml::Spanned;

use super::{RecipeFileError, Text, check_shape};
use crate::chart_kind::ChartKind;

/// The charts of a study.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StudyCharts {
    /// The kinds that are drawn where there are data for them.
    pub kinds: Vec<ChartKind>,
    /// Their themes, at least one; the report shows the first.
    #[serde(serialize_with = "theme_names")]
    pub themes: Vec<Theme>,
    /// Their widths, at least one; the report shows the first.
    #[serde(serialize_with = "width_names")]
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

/// Returns the name of a theme in recipes and file names.
pub(in crate::study) const fn theme_name(theme: Theme) -> &'static str {
    match theme {
        Theme::Light => "light",
        Theme::Dark => "dark",
        Theme::Print => "print",
    }
}

/// Returns the name of a width in recipes and file names.
pub(in crate::study) const fn width_name(width: Width) -> &'static str {
    match width {
        Width::Column => "column",
        Width::Page => "page",
    }
}

fn theme_names<S: serde::Serializer>(themes: &[Theme], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(themes.iter().map(|&theme| theme_name(theme)))
}

fn width_names<S: serde::Serializer>(widths: &[Width], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(widths.iter().map(|&width| width_name(width)))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawCharts {
    kinds: Option<Vec<ChartKind>>,
    themes: Option<Spanned<Vec<RawTheme>>>,
    widths: Option<Spanned<Vec<RawWidth>>>,
    narrowing: Option<Spanned<Vec<[u8; 2]>>>,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "lowercase")]
enum RawTheme {
    Light,
    Dark,
    Print,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "lowercase")]
enum RawWidth {
    Column,
    Page,
}

impl RawCharts {
    pub(super) fn charts(self, source: &Text<'_>) -> Result<StudyCharts, RecipeFileError> {
        let mut charts = StudyCharts::default();
        if let Some(kinds) = self.kinds {
            charts.kinds = kinds;
        }
        if let Some(themes) = self.themes {
            let at = themes.span().start;
            charts.themes = distinct(themes.into_inner().into_iter().map(|theme| match theme {
                RawTheme::Light => Theme::Light,
                RawTheme::Dark => Theme::Dark,
                RawTheme::Print => Theme::Print,
            }));
            if charts.themes.is_empty() {
                return Err(source.error(at, "themes is empty: expected light, dark or print"));
            }
        }
        if let Some(widths) = self.widths {
            let at = widths.span().start;
            charts.widths = distinct(widths.into_inner().into_iter().map(|width| match width {
                RawWidth::Column => Width::Column,
                RawWidth::Page => Width::Page,
            }));
            if charts.widths.is_empty() {
                return Err(source.error(at, "widths is empty: expected page or column"));
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

fn distinct<T: PartialEq>(values: impl Iterator<Item = T>) -> Vec<T> {
    let mut kept = Vec::new();
    for value in values {
        if !kept.contains(&value) {
            kept.push(value);
        }
    }
    kept
}
