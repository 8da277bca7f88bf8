//! The folder of a stage while it is filled.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tallyhouse_document::{Block, Illustration, Plate};
use tallyhouse_figures::{Figure, Sides, Theme, Width};
use tallyhouse_storage::{StorageError, write_file};

use super::StudyCharts;
use crate::ReportError;
use crate::chart_kind::{Chart, ChartKind, Draw, Drawn};
use crate::error::io_error;
use crate::saving::{Saver, Written};
use crate::specimen::{self, Specimen};

/// A theme and a width in which a figure is drawn.
#[derive(Clone, Copy, Default)]
pub(super) struct Variant {
    theme: Theme,
    width: Width,
}

impl Variant {
    /// Returns all that are wanted.
    fn all(charts: &StudyCharts) -> impl Iterator<Item = Self> + '_ {
        let of = |&theme| charts.widths.iter().map(move |&width| Self { theme, width });
        charts.themes.iter().flat_map(of)
    }

    /// Returns the path of its files: a light figure for the page has the plain name.
    fn path(self, name: &str) -> String {
        let mut path = format!("figures/{name}");
        if self.width != Width::Page {
            path = format!("{path}-{}", self.width);
        }
        if self.theme != Theme::Light {
            path = format!("{path}-{}", self.theme);
        }
        path
    }

    /// Returns the one whose files have the plain name.
    const fn plain() -> Self {
        Self { theme: Theme::Light, width: Width::Page }
    }

    /// Returns what the report calls it beside others.
    fn label(self) -> String {
        let mut label = String::new();
        if self.theme != Theme::Light {
            label = self.theme.to_string();
        }
        if self.width != Width::Page {
            label = format!("{label} {}", self.width);
        }
        label
    }
}

/// A stage's folder while it is filled.
pub(super) struct StageFolder<'a> {
    pub(super) path: &'a Path,
    /// What tells its figures and data from those of other stages.
    pub(super) name: &'a str,
    pub(super) charts: &'a StudyCharts,
}

impl StageFolder<'_> {
    /// Makes the folder for data that another writer fills.
    pub(super) fn data_folder(&self) -> Result<PathBuf, ReportError> {
        let folder = self.path.join("data");
        fs::create_dir_all(&folder).map_err(StorageError::write(&folder))?;
        Ok(folder.join(self.name))
    }

    fn saver(&self) -> Saver<'_> {
        Saver::below(self.path).printing(self.charts.print())
    }

    /// Writes a file of data.
    pub(super) fn write(&self, name: &str, bytes: &[u8]) -> Result<Written, ReportError> {
        self.saver().file(&format!("data/{}/{name}", self.name), bytes)
    }

    /// Takes a file of data over from another folder, if it is there.
    pub(super) fn copy(&self, from: &Path, name: &str) -> Result<Option<Written>, ReportError> {
        let path = from.join(name);
        if !path.exists() {
            return Ok(None);
        }
        let bytes = fs::read(&path).map_err(io_error(&path))?;
        self.write(name, &bytes).map(Some)
    }

    /// Draws the charts of all wanted kinds that `from` draws from what the stage has.
    pub(super) fn charts(
        &self,
        from: impl Fn(Draw) -> Option<Drawn>,
    ) -> Result<Vec<Block>, ReportError> {
        self.named_charts(|kind| kind.name().to_owned(), from)
    }

    /// Draws charts as [`StageFolder::charts`], in files of other names.
    pub(super) fn named_charts(
        &self,
        name: impl Fn(ChartKind) -> String,
        from: impl Fn(Draw) -> Option<Drawn>,
    ) -> Result<Vec<Block>, ReportError> {
        let mut shown = Vec::new();
        for &kind in ChartKind::ALL.iter().filter(|&&kind| self.charts.wants(kind)) {
            match from(kind.draw()).unwrap_or(Ok(None)) {
                Ok(drawn) => shown.extend(self.chart(&name(kind), drawn)?),
                // What counts puzzles alike is left out where they are not.
                Err(ReportError::Weighted(_)) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(shown)
    }

    /// Draws one chart, wanted or not.
    pub(super) fn chart(
        &self,
        name: &str,
        chart: Option<Chart>,
    ) -> Result<Option<Block>, ReportError> {
        let draw = |Chart { figure, caption }| self.figure(&*figure, name, &caption);
        Ok(chart.map(draw).transpose()?.map(Block::Figure))
    }

    /// Draws a specimen and returns it for the report.
    pub(super) fn specimen(
        &self,
        specimen: &Specimen,
        name: &str,
    ) -> Result<tallyhouse_document::Specimen, ReportError> {
        // A board needs no whole page, if columns are wanted.
        let narrow = self.charts.widths.contains(&Width::Column);
        let width = if narrow { Width::Column } else { Width::Page };
        let views = specimen.views(name, Sides::Both);
        let mut files = Vec::new();
        for &theme in &self.charts.themes {
            let print = self.charts.print();
            let drawing = specimen::Drawing { theme, width, print, ..specimen::Drawing::default() };
            // One width needs no name.
            let variant = Variant { theme, width: Width::Page };
            for view in &views {
                let path = variant.path(&view.name);
                let saved = view.save_picture(self.saver(), &path, &drawing, &variant.label())?;
                files.extend(saved);
            }
        }
        // The data are the same however they are drawn.
        for view in &views {
            files.push(view.save_data(self.saver(), &Variant::plain().path(&view.name))?);
        }
        let drawing =
            specimen::Drawing { theme: self.charts.by_day(), ..specimen::Drawing::default() };
        Ok(specimen.on_page(name, &drawing, files)?)
    }

    /// Draws a figure in each theme and width, and returns it for the report.
    fn figure(
        &self,
        figure: &dyn Figure,
        name: &str,
        caption: &str,
    ) -> Result<Illustration, ReportError> {
        let name = format!("{}-{name}", self.name);
        let saver = self.saver();
        let mut files = Vec::new();
        for variant in Variant::all(self.charts) {
            let picture = figure.draw(variant.theme, variant.width)?;
            let written = saver.picture(&variant.path(&name), &picture)?;
            files.extend(written.iter().map(|file| file.labelled(&variant.label())));
        }
        files.push(saver.data(&Variant::plain().path(&name), figure)?.labelled(""));
        let plate = |width| -> Result<Plate, ReportError> {
            let light = figure.draw(self.charts.by_day(), width)?;
            Ok(Plate { light, dark: Some(figure.draw(Theme::Dark, width)?) })
        };
        let first = self.charts.widths.first().copied().unwrap_or_default();
        // Narrow screens get the narrow one.
        let has_narrow = first != Width::Column && self.charts.widths.contains(&Width::Column);
        Ok(Illustration {
            id: format!("figure-{name}"),
            picture: plate(first)?,
            narrow: has_narrow.then(|| plate(Width::Column)).transpose()?,
            caption: caption.to_owned(),
            files,
        })
    }

    /// Keeps something for later runs.
    pub(super) fn keep(&self, name: &str, what: &impl Serialize) -> Result<(), ReportError> {
        let text = serde_json::to_string(what)?;
        write_file(&self.path.join(name), |writer| writer.write_all(text.as_bytes()))?;
        Ok(())
    }
}
