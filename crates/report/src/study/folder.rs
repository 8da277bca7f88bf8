//! The folder of a stage while it is filled.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use tallyhouse_census::write_file;
use tallyhouse_document::Section;
use tallyhouse_figures::{Figure, Theme, Width};

use super::findings::Finding;
use super::{StudyCharts, StudyError, sections};
use crate::chart_kind::ChartKind;
use crate::charts::{self, ChartError};
use crate::specimen::{self, Specimen};

/// A theme and a width in which a figure is drawn.
#[derive(Clone, Copy)]
pub(super) struct Drawing {
    pub(super) theme: Theme,
    pub(super) width: Width,
}

impl Drawing {
    /// Returns all that are wanted, the one that the report shows first.
    pub(super) fn all(charts: &StudyCharts) -> impl Iterator<Item = Self> + '_ {
        let of = |&theme| charts.widths.iter().map(move |&width| Self { theme, width });
        charts.themes.iter().flat_map(of)
    }

    /// Returns the name of a file: a light figure for the page has the plain name.
    pub(super) fn file_name(self, name: &str) -> String {
        let mut file = name.to_owned();
        if self.width != Width::Page {
            file = format!("{file}-{}", self.width);
        }
        if self.theme != Theme::Light {
            file = format!("{file}-{}", self.theme);
        }
        file
    }

    /// Returns how the report calls a file of this kind.
    fn label(self, kind: &str) -> String {
        let width = if self.width == Width::Page { "" } else { "column " };
        let theme = match self.theme {
            Theme::Light => String::new(),
            other => format!("{} ", other),
        };
        format!("{theme}{width}{kind}")
    }
}

/// The file with what a stage found.
pub(super) const FINDINGS: &str = "findings.json";

/// A stage's folder while it is filled.
pub(super) struct StageFolder<'a> {
    pub(super) path: &'a Path,
    /// What tells its figures and data from those of other stages.
    pub(super) name: &'a str,
    pub(super) charts: &'a StudyCharts,
}

impl StageFolder<'_> {
    /// Makes a folder inside, if it is not there yet.
    pub(super) fn inside(&self, path: &str) -> Result<PathBuf, StudyError> {
        let folder = self.path.join(path);
        match fs::create_dir_all(&folder) {
            Ok(()) => Ok(folder),
            Err(error) => Err(StudyError::Io { path: folder, error }),
        }
    }

    /// Writes a file of data.
    pub(super) fn write(&self, name: &str, bytes: &[u8]) -> Result<(), StudyError> {
        let folder = self.inside(&format!("data/{}", self.name))?;
        write_file(&folder.join(name), |writer| writer.write_all(bytes))?;
        Ok(())
    }

    /// Tests if charts of a kind are wanted.
    pub(super) fn wants(&self, kind: ChartKind) -> bool {
        self.charts.wants(kind)
    }

    /// Draws a figure if its kind is wanted.
    pub(super) fn wanted(
        &self,
        kind: ChartKind,
        figure: &dyn Figure,
        name: &str,
        caption: &str,
    ) -> Result<Option<tallyhouse_document::Figure>, StudyError> {
        self.wants(kind).then(|| self.figure(figure, name, caption)).transpose()
    }

    /// Draws a specimen and returns it for the report.
    pub(super) fn specimen(
        &self,
        specimen: &Specimen,
        name: &str,
    ) -> Result<tallyhouse_document::Specimen, StudyError> {
        let folder = self.inside("figures")?;
        let mut files = Vec::new();
        // A board needs no whole page, if columns are wanted.
        let narrow = self.charts.widths.contains(&Width::Column);
        let width = if narrow { Width::Column } else { Width::Page };
        for &theme in &self.charts.themes {
            let how = specimen::Drawing { theme, width, ..specimen::Drawing::default() };
            // One width needs no name.
            let drawing = Drawing { theme, width: Width::Page };
            for (kind, mut picture) in ["board", "house"].into_iter().zip(specimen.pictures(name)) {
                let data = format!("{}.csv", picture.name);
                picture.name = drawing.file_name(&picture.name);
                picture.save(&folder, &how)?;
                for ending in ["SVG", "PNG"] {
                    let file = format!("figures/{}.{}", picture.name, ending.to_lowercase());
                    files.push((format!("{kind} {}", drawing.label(ending)), file));
                }
                // The data are the same however they are drawn.
                let drawn = folder.join(format!("{}.csv", picture.name));
                fs::rename(&drawn, folder.join(&data))
                    .map_err(|error| StudyError::Io { path: drawn, error })?;
            }
        }
        sections::specimen(specimen, name, self.charts.themes[0], files)
    }

    /// Draws a figure in each theme and width, and returns it for the report.
    pub(super) fn figure(
        &self,
        figure: &dyn Figure,
        name: &str,
        caption: &str,
    ) -> Result<tallyhouse_document::Figure, StudyError> {
        let folder = self.inside("figures")?;
        let name = format!("{}-{name}", self.name);
        let mut shown: Option<(Drawing, String)> = None;
        let mut column_svg = None;
        let mut files = Vec::new();
        let mut add = |label: String, file: String| files.push((label, format!("figures/{file}")));
        for drawing in Drawing::all(self.charts) {
            let file = drawing.file_name(&name);
            let failed = |error| ChartError::Figure { name: file.clone(), error };
            let svg = figure.svg(drawing.theme, drawing.width).map_err(failed)?;
            charts::save_picture(&svg, &folder, &file)?;
            add(drawing.label("SVG"), format!("{file}.svg"));
            add(drawing.label("PNG"), format!("{file}.png"));
            match &shown {
                None => shown = Some((drawing, svg)),
                // Narrow screens get the narrow one.
                Some((first, _))
                    if first.theme == drawing.theme && drawing.width == Width::Column =>
                {
                    column_svg = Some(svg);
                }
                Some(_) => {}
            }
        }
        charts::save_data(figure, &folder, &name)?;
        add("CSV".to_owned(), format!("{name}.csv"));
        let svg = shown.map_or_else(String::new, |(_, svg)| svg);
        Ok(tallyhouse_document::Figure {
            id: format!("figure-{name}"),
            alt: alt_text(&svg),
            svg,
            column_svg,
            caption: caption.to_owned(),
            files,
        })
    }

    /// Writes what the stage found.
    pub(super) fn findings(
        &self,
        findings: impl IntoIterator<Item = Finding>,
    ) -> Result<(), StudyError> {
        let findings: Vec<Finding> = findings.into_iter().collect();
        let text = serde_json::to_string(&findings)?;
        write_file(&self.path.join(FINDINGS), |writer| writer.write_all(text.as_bytes()))?;
        Ok(())
    }

    /// Writes the section of the stage.
    pub(super) fn section(&self, section: &Section) -> Result<(), StudyError> {
        let text = serde_json::to_string(section)?;
        write_file(&self.path.join("section.json"), |writer| writer.write_all(text.as_bytes()))?;
        Ok(())
    }
}

/// Returns the description inside an SVG of ours.
fn alt_text(svg: &str) -> String {
    let between = |text: &str| {
        let start = text.find("<desc")?;
        let start = start + text[start..].find('>')? + 1;
        Some(text[start..start + text[start..].find("</desc>")?].to_owned())
    };
    let text = between(svg).unwrap_or_default();
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
}
