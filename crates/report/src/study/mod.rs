//! Studies: a recipe turned into one folder with a report.
//!
//! The folder holds `report.html`, `report.md`, `recipe.toml`, `figures/` and `data/`; what is large
//! lies in `work/`, which the report does not need. Stages that still fit are not done again.

mod assemble;
mod recipe;
mod sections;
mod stages;

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;
use tallyhouse_analysis::order_search::{OrderError, OrderSettings, search};
use tallyhouse_analysis::{
    AnalysisError, ClaimFile, FileError, JudgeSettings, Rulebook, describe, judge, shape_shares,
    shares_csv,
};
use tallyhouse_board::Puzzle;
use tallyhouse_census::{
    CensusError, Counts, Progress, Settings, Tables, manifest, source_of, write_file,
};
use tallyhouse_collection::{MinimalByDeletion, ReadError, Rows, Source, WriteError};
use tallyhouse_document::{DocumentError, Section};
use tallyhouse_engine::WalkOptions;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_figures::{Figure, Theme, Width};

pub use recipe::{BUILT_IN, OrderSearch, Origin, RecipeFileError, StudyCollection, StudyRecipe};

use crate::charts::{self, ChartError};
use crate::overview::overview;
use crate::specimen::{self, Puzzles, SpecimenError, Wanted};
use stages::Stages;

/// Why a study stopped. Stages that were done stay done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StudyError {
    /// The folder holds something else.
    #[error("{} {reason}", .path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A file can't be read or written.
    #[error("{}: {error}", .path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        #[source]
        error: io::Error,
    },
    /// The recipe can't be used.
    #[error(transparent)]
    Recipe(#[from] RecipeFileError),
    /// A rulebook or a claim file can't be used.
    #[error(transparent)]
    File(#[from] FileError),
    /// A scan failed.
    #[error(transparent)]
    Census(#[from] CensusError),
    /// A collection can't be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// A collection can't be made.
    #[error(transparent)]
    Make(#[from] WriteError),
    /// A trial failed.
    #[error(transparent)]
    Analysis(#[from] AnalysisError),
    /// A search for orders failed.
    #[error(transparent)]
    Order(#[from] OrderError),
    /// A search for specimens failed.
    #[error(transparent)]
    Specimen(#[from] SpecimenError),
    /// A figure can't be made.
    #[error(transparent)]
    Chart(#[from] ChartError),
    /// The report can't be written.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// Data can't be written as JSON.
    #[error(transparent)]
    Json(#[from] serde_json::Error),
    /// Data can't be written as CSV.
    #[error(transparent)]
    Csv(#[from] csv::Error),
}

/// A study and where it goes.
#[derive(Clone, Debug)]
pub struct StudySettings {
    /// The recipe.
    pub recipe: StudyRecipe,
    /// Its text, which is kept beside the report.
    pub recipe_text: String,
    /// The folder.
    pub out: PathBuf,
    /// Whether another study in the folder is replaced.
    pub replace: bool,
    /// The command that makes the study, for the report.
    pub command: String,
}

/// What a finished study did.
#[derive(Clone, Debug)]
pub struct Studied {
    /// The stages that were done.
    pub done: Vec<String>,
    /// The stages that were still good.
    pub kept: Vec<String>,
    /// The overview of the first collection.
    pub overview: String,
    /// The table of the first collection's trial; empty if nothing was put on trial.
    pub verdicts: String,
}

/// Hears what a study is doing.
pub trait StudyProgress: Sync {
    /// A stage begins; the returned progress hears how far it comes.
    fn stage(
        &self,
        verb: &'static str,
        units: &'static str,
        total: Option<u64>,
    ) -> Box<dyn Progress>;
}

/// A stage's folder while it is filled.
struct StageFolder<'a> {
    path: &'a Path,
    /// What tells its figures and data from those of other stages.
    name: &'a str,
}

impl StageFolder<'_> {
    fn write(&self, name: &str, bytes: &[u8]) -> Result<String, StudyError> {
        let folder = self.path.join("data").join(self.name);
        fs::create_dir_all(&folder)
            .map_err(|error| StudyError::Io { path: folder.clone(), error })?;
        write_file(&folder.join(name), |writer| writer.write_all(bytes))?;
        Ok(format!("data/{}/{name}", self.name))
    }

    /// Draws a figure for the page and for a column, and returns it for the report.
    fn figure(
        &self,
        figure: &dyn Figure,
        name: &str,
        caption: &str,
    ) -> Result<tallyhouse_document::Figure, StudyError> {
        let folder = self.path.join("figures");
        fs::create_dir_all(&folder)
            .map_err(|error| StudyError::Io { path: folder.clone(), error })?;
        let name = format!("{}-{name}", self.name);
        let svg = charts::save(figure, &folder, &name, Theme::Light, Width::Page)?;
        let column = format!("{name}-column");
        charts::save(figure, &folder, &column, Theme::Light, Width::Column)?;
        // The data are the same at either width.
        let _ = fs::remove_file(folder.join(format!("{column}.csv")));
        let file = |label: &str, name: &str| (label.to_owned(), format!("figures/{name}"));
        Ok(tallyhouse_document::Figure {
            id: format!("figure-{name}"),
            alt: alt_text(&svg),
            svg,
            caption: caption.to_owned(),
            files: vec![
                file("SVG", &format!("{name}.svg")),
                file("PNG", &format!("{name}.png")),
                file("column SVG", &format!("{column}.svg")),
                file("column PNG", &format!("{column}.png")),
                file("CSV", &format!("{name}.csv")),
            ],
        })
    }

    fn section(&self, section: &Section) -> Result<(), StudyError> {
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

/// Runs a study.
///
/// # Errors
/// If the folder holds something else, or a stage fails.
pub fn run(settings: &StudySettings, progress: &dyn StudyProgress) -> Result<Studied, StudyError> {
    let recipe = &settings.recipe;
    let out = &settings.out;
    check_folder(out, recipe, settings.replace)?;
    fs::create_dir_all(out).map_err(|error| StudyError::Io { path: out.clone(), error })?;
    let mut stages = Stages::open(out, &recipe.name);
    let mut run = Run { settings, progress, stages: &mut stages, sections: Vec::new() };
    run.all()?;
    let sections = std::mem::take(&mut run.sections);
    stages.tidy()?;
    let first = &recipe.collections[0].name;
    let read = |stage: &str, name: &str| {
        fs::read_to_string(out.join("work").join(stage).join(name)).unwrap_or_default()
    };
    let studied = Studied {
        overview: read(&format!("occurrence-{first}"), "overview.txt"),
        verdicts: read(&format!("trial-{first}"), "verdicts.txt"),
        done: stages.done.clone(),
        kept: stages.kept.clone(),
    };
    assemble::write(settings, &sections)?;
    Ok(studied)
}

fn check_folder(out: &Path, recipe: &StudyRecipe, replace: bool) -> Result<(), StudyError> {
    let refuse = |reason: String| StudyError::Folder { path: out.to_owned(), reason };
    // A recipe may lie where its study will be.
    let others = |entries: fs::ReadDir| {
        entries.flatten().filter(|entry| entry.file_name() != "recipe.toml").count()
    };
    if !out.exists() || fs::read_dir(out).is_ok_and(|entries| others(entries) == 0) {
        return Ok(());
    }
    let text = fs::read_to_string(out.join(stages::LEDGER))
        .map_err(|_| refuse("exists already and is no study: choose another folder".to_owned()))?;
    let earlier: stages::Ledger = serde_json::from_str(&text).unwrap_or_default();
    if earlier.name != recipe.name && !replace {
        return Err(refuse(format!(
            "holds the study '{}', not '{}': choose another folder, or allow it to be replaced with \
             --replace",
            earlier.name, recipe.name
        )));
    }
    Ok(())
}

struct Run<'a, 'b> {
    settings: &'a StudySettings,
    progress: &'a dyn StudyProgress,
    stages: &'a mut Stages<'b>,
    /// The folders of the stages that have a section, in the order of the report.
    sections: Vec<String>,
}

/// A collection that is there: where to read it, and the digest that later stages depend on.
struct Ready<'a> {
    collection: &'a StudyCollection,
    sources: Vec<Source>,
    digest: String,
    census: PathBuf,
    census_digest: String,
}

impl Run<'_, '_> {
    fn all(&mut self) -> Result<(), StudyError> {
        let recipe = &self.settings.recipe;
        let mut ready = Vec::new();
        for collection in &recipe.collections {
            ready.push(self.collection(collection)?);
        }
        if !recipe.rulebooks.is_empty() || !recipe.claims.is_empty() {
            for collection in &ready {
                self.trial(collection)?;
            }
        }
        for collection in &ready {
            self.occurrence(collection)?;
        }
        if ready.len() > 1 {
            self.comparison(&ready)?;
        }
        if !recipe.effort_shapes.is_empty() {
            self.effort(&ready[0])?;
        }
        if let Some(order) = &recipe.order {
            self.order(order)?;
        }
        for collection in &ready {
            self.describe(collection)?;
        }
        if recipe.specimens {
            self.specimens(&ready[0])?;
        }
        Ok(())
    }

    fn stage(
        &mut self,
        name: &str,
        depends: &impl Serialize,
        fill: impl FnOnce(&StageFolder<'_>) -> Result<(), StudyError>,
    ) -> Result<String, StudyError> {
        let at = format!("work/{name}");
        let digest = self.stages.run(&at, depends, |path| fill(&StageFolder { path, name }))?;
        if self.settings.out.join(&at).join("section.json").exists() {
            self.sections.push(at);
        }
        Ok(digest)
    }

    fn collection<'c>(&mut self, collection: &'c StudyCollection) -> Result<Ready<'c>, StudyError> {
        let out = &self.settings.out;
        let progress = self.progress;
        let (sources, digest) = match &collection.origin {
            Origin::Read { files } => {
                let sources: Vec<Source> =
                    files.iter().map(|file| source_of(file)).collect::<Result<_, _>>()?;
                let mut rows = Rows::open(sources.clone())?;
                while !rows.take(10_000)?.is_empty() {}
                (sources, rows.digest())
            }
            Origin::Made { count, .. } => {
                let recipe = collection.origin.make_recipe().ok_or_else(|| StudyError::Folder {
                    path: out.clone(),
                    reason: format!("can't make the collection '{}'", collection.name),
                })?;
                let stage = format!("puzzles-{}", collection.name);
                let digest = self.stage(&stage, &collection.origin, |folder| {
                    let bar = progress.stage("making", recipe.units(), Some(*count));
                    let path = folder.path.join("puzzles.txt");
                    let mut failed = None;
                    write_file(&path, |writer| {
                        writer.write_all(recipe.head(*count).as_bytes())?;
                        let written = recipe.write(0..*count, writer, &|more| bar.advance(more));
                        written.or_else(|error| match error {
                            WriteError::Io(error) => Err(error),
                            other => {
                                failed = Some(other);
                                Ok(())
                            }
                        })
                    })?;
                    failed.map_or(Ok(()), |error| Err(error.into()))
                })?;
                let path = out.join("work").join(&stage).join("puzzles.txt");
                let name = format!("{}.txt", collection.name);
                (vec![Source::file(&path).named(&name)], digest)
            }
        };
        let stage = format!("census-{}", collection.name);
        let census_digest = self.stage(&stage, &("census", &digest), |folder| {
            let bar = progress.stage("scanning", "puzzles", None);
            let settings = Settings {
                sources: sources.clone(),
                out: folder.path.join("dataset"),
                walk: WalkOptions::default(),
                tables: Tables::All,
                keep_states: false,
                part_size: 50_000,
                seed: match collection.origin {
                    Origin::Made { seed, .. } => Some(seed),
                    Origin::Read { .. } => None,
                },
                shard: None,
                resume: false,
            };
            tallyhouse_census::run(&settings, &*bar)?;
            Ok(())
        })?;
        let census = out.join("work").join(stage).join("dataset");
        Ok(Ready { collection, sources, digest, census, census_digest })
    }

    fn weights(&self) -> GlanceWeights {
        let [cell, place, try_] = self.settings.recipe.weights;
        GlanceWeights::new(cell, place, try_).unwrap_or_default()
    }

    fn trial(&mut self, ready: &Ready<'_>) -> Result<(), StudyError> {
        let recipe = &self.settings.recipe;
        let rulebooks =
            recipe.rulebooks.iter().map(|n| Rulebook::load(n)).collect::<Result<Vec<_>, _>>()?;
        let claims =
            recipe.claims.iter().map(|n| ClaimFile::load(n)).collect::<Result<Vec<_>, _>>()?;
        let texts: Vec<String> = rulebooks.iter().map(Rulebook::to_toml).collect();
        let depends = ("trial", &ready.digest, texts, format!("{claims:?}"), recipe.weights);
        let (weights, progress) = (self.weights(), self.progress);
        self.stage(&format!("trial-{}", ready.collection.name), &depends, |folder| {
            let bar = progress.stage("judging", "puzzles", None);
            let data = folder.path.join("data").join(folder.name);
            let parent = folder.path.join("data");
            fs::create_dir(&parent)
                .map_err(|error| StudyError::Io { path: parent.clone(), error })?;
            let settings = JudgeSettings {
                sources: ready.sources.clone(),
                rulebooks,
                claims,
                weights,
                out: data.clone(),
            };
            let report = judge(&settings, &*bar)?;
            // It holds the wall time, which the data of a study are without.
            let manifest = data.join("manifest.json");
            fs::remove_file(&manifest).map_err(|error| StudyError::Io { path: manifest, error })?;
            let text = report.to_string();
            write_file(&folder.path.join("verdicts.txt"), |w| w.write_all(text.as_bytes()))?;
            let left: Vec<charts::LeftShapes> = report.books.iter().map(Into::into).collect();
            let chart = charts::missed(&left);
            let figure = chart
                .map(|chart| {
                    let caption = "What each rulebook leaves at the end of its walk.";
                    folder.figure(&chart, "missed", caption)
                })
                .transpose()?;
            folder.section(&sections::trial(ready.collection, &report, figure))
        })?;
        Ok(())
    }

    fn occurrence(&mut self, ready: &Ready<'_>) -> Result<(), StudyError> {
        let name = format!("occurrence-{}", ready.collection.name);
        self.stage(&name, &("occurrence", &ready.census_digest), |folder| {
            let counts = Counts::of_dataset(&ready.census)?;
            let manifest = manifest(&ready.census)?;
            let shares = shape_shares(&ready.census, &counts)?;
            for file in ["counts.csv", "exposure.csv"] {
                let path = ready.census.join(file);
                let bytes = fs::read(&path).map_err(|error| StudyError::Io { path, error })?;
                folder.write(file, &bytes)?;
            }
            folder.write("shares.csv", &shares_csv(&shares)?)?;
            let text = overview(&counts, &manifest);
            write_file(&folder.path.join("overview.txt"), |w| w.write_all(text.as_bytes()))?;
            let mut figures = Vec::new();
            if counts.totals.subsets > 0 {
                let rates = charts::occurrence_rates(&counts);
                figures.push(folder.figure(
                    &rates,
                    "rates",
                    "Rates by house, the chart to quote.",
                )?);
                let found = charts::occurrence_counts(&counts);
                figures.push(folder.figure(&found, "counts", "The counts behind the rates.")?);
                let shapes = charts::shapes_by_open(&counts);
                let caption = "Which sizes the naked side has, by open cells.";
                figures.push(folder.figure(&shapes, "shapes", caption)?);
                if counts.totals.weighted == 0 {
                    let share_of = [(6, 2), (7, 4), (8, 4)];
                    let narrowing = charts::narrowing(&ready.census, &share_of)?;
                    let caption = "Why rare shapes need many puzzles.";
                    figures.push(folder.figure(&narrowing, "narrowing", caption)?);
                }
            }
            folder.section(&sections::occurrence(
                ready.collection,
                &counts,
                &manifest,
                &shares,
                figures,
            ))
        })?;
        Ok(())
    }

    fn comparison(&mut self, ready: &[Ready<'_>]) -> Result<(), StudyError> {
        let digests: Vec<&String> = ready.iter().map(|ready| &ready.census_digest).collect();
        self.stage("comparison", &("comparison", digests), |folder| {
            let mut shares = Vec::new();
            let mut manifests = Vec::new();
            for ready in ready {
                let counts = Counts::of_dataset(&ready.census)?;
                let name = ready.collection.title.clone();
                shares.push((
                    name.clone(),
                    counts.totals.puzzles,
                    shape_shares(&ready.census, &counts)?,
                ));
                // This chart counts puzzles alike, which would misrepresent weighted ones.
                if counts.totals.weighted == 0 {
                    manifests.push((name, manifest(&ready.census)?));
                }
            }
            let shapes = charts::comparison(&shares);
            let caption = "The same shapes in different collections.";
            let mut figures = vec![folder.figure(&shapes, "shapes", caption)?];
            if !manifests.is_empty() {
                let looks = charts::hardest_looks(&manifests);
                let caption = "Which look puzzles need last, by collection.";
                figures.push(folder.figure(&looks, "first-needed", caption)?);
            }
            folder.section(&sections::comparison(figures))
        })?;
        Ok(())
    }

    fn effort(&mut self, ready: &Ready<'_>) -> Result<(), StudyError> {
        let recipe = &self.settings.recipe;
        let depends =
            ("effort", &ready.digest, &recipe.effort_shapes, recipe.effort_puzzles, recipe.weights);
        let (weights, progress) = (self.weights(), self.progress);
        self.stage("effort", &depends, |folder| {
            let bar = progress.stage("comparing looks", "puzzles", Some(recipe.effort_puzzles));
            let puzzles = first_puzzles(&ready.sources, recipe.effort_puzzles)?;
            let costs = charts::paired_costs(&puzzles, &recipe.effort_shapes, &weights);
            bar.advance(puzzles.len() as u64);
            let mut figures = Vec::new();
            for shape in &costs {
                if let Some(chart) = charts::paired(shape, puzzles.len() as u64) {
                    let name = format!("{}-open-naked-{}", shape.open, shape.naked);
                    figures.push(folder.figure(&chart, &name, &chart.ratio)?);
                }
            }
            let csv = sections::effort_csv(&costs)?;
            folder.write("effort.csv", &csv)?;
            folder.section(&sections::effort(&costs, puzzles.len() as u64, recipe.weights, figures))
        })?;
        Ok(())
    }

    fn order(&mut self, wanted: &OrderSearch) -> Result<(), StudyError> {
        let recipe = &self.settings.recipe;
        let start = Rulebook::load(&wanted.start)?;
        let depends = ("order", wanted, start.to_toml(), recipe.weights);
        let (weights, progress) = (self.weights(), self.progress);
        self.stage("order", &depends, |folder| {
            let bar = progress.stage("searching", "orders", Some(wanted.evaluations));
            let made = |seed: u64, count| MinimalByDeletion { seed }.puzzles(0..count);
            let settings = OrderSettings {
                training: made(wanted.seed, wanted.training),
                held_out: made(wanted.seed.wrapping_add(1), wanted.held_out),
                start: start.order().clone(),
                weights,
                seed: wanted.seed,
                evaluations: wanted.evaluations,
                frontier: wanted.frontier,
            };
            let report = search(&settings, &|more| bar.advance(more))?;
            let mut csv = Vec::new();
            report.to_csv(&mut csv)?;
            folder.write("frontier.csv", &csv)?;
            let mut csv = Vec::new();
            report.ratio_table_to_csv(&mut csv)?;
            folder.write("ratio-rule.csv", &csv)?;
            folder.write("order.txt", report.to_text().as_bytes())?;
            let caption = "Rulebooks by effort and reach.";
            let figure =
                folder.figure(&charts::frontier(&(&report).into()), "frontier", caption)?;
            folder.section(&sections::order(&report, start.name(), figure))
        })?;
        Ok(())
    }

    fn describe(&mut self, ready: &Ready<'_>) -> Result<(), StudyError> {
        let progress = self.progress;
        let name = format!("collection-{}", ready.collection.name);
        self.stage(&name, &("describe", &ready.digest), |folder| {
            let bar = progress.stage("describing", "puzzles", None);
            let description = describe(ready.sources.clone(), &*bar)?;
            folder.write(
                "description.json",
                serde_json::to_string_pretty(&description)?.as_bytes(),
            )?;
            let chart = charts::clues(&description, &ready.collection.title);
            let caption = "Clue counts beside the published distribution.";
            let figure = folder.figure(&chart, "clues", caption)?;
            folder.section(&sections::description(ready.collection, &description, figure))
        })?;
        Ok(())
    }

    fn specimens(&mut self, ready: &Ready<'_>) -> Result<(), StudyError> {
        let recipe = &self.settings.recipe;
        let progress = self.progress;
        let depends = ("specimens", &ready.digest, recipe.specimen_puzzles);
        self.stage("specimens", &depends, |folder| {
            let bar = progress.stage("finding specimens", "puzzles", Some(recipe.specimen_puzzles));
            let puzzles = first_puzzles(&ready.sources, recipe.specimen_puzzles)?;
            let lines: String = puzzles.iter().map(|puzzle| format!("{puzzle}\n")).collect();
            let source = Source::memory(&ready.collection.title, lines.into_bytes());
            let wanted = Wanted {
                proper: Some(specimen::ProperSide::Either),
                least_eliminations: 1,
                ..Wanted::default()
            };
            let gallery = specimen::gallery(&Puzzles::Sources(vec![source]), &wanted, &*bar)?;
            let folder_of_figures = folder.path.join("figures");
            fs::create_dir_all(&folder_of_figures)
                .map_err(|error| StudyError::Io { path: folder_of_figures.clone(), error })?;
            let mut shown = Vec::new();
            for one in &gallery.specimens {
                let shape = one.shape();
                let name = format!("specimen-{}-open-naked-{}", shape.open, shape.naked);
                one.write_figures(&folder_of_figures, &name)?;
                shown.push(sections::specimen(one, &name)?);
            }
            let mut csv = Vec::new();
            specimen::write_csv(&gallery.specimens, &mut csv)
                .map_err(|error| StudyError::Io { path: PathBuf::from("specimens.csv"), error })?;
            folder.write("specimens.csv", &csv)?;
            folder.section(&sections::specimens(&gallery, shown))
        })?;
        Ok(())
    }
}

/// Reads the first puzzles of some sources; rows that are none are passed over.
///
/// # Errors
/// If a source can't be read.
pub fn first_puzzles(sources: &[Source], most: u64) -> Result<Vec<Puzzle>, StudyError> {
    let mut rows = Rows::open(sources.to_vec())?;
    let mut puzzles = Vec::new();
    while (puzzles.len() as u64) < most {
        let left = most - puzzles.len() as u64;
        let block = rows.take(left.min(10_000) as usize)?;
        if block.is_empty() {
            break;
        }
        let read: Vec<Puzzle> = block.iter().filter_map(|row| row.puzzle().ok()).collect();
        let valid = tallyhouse_collection::validities(&read);
        puzzles.extend(read.into_iter().zip(valid).filter(|p| p.1.is_ok()).map(|p| p.0));
    }
    Ok(puzzles)
}

/// Does a study again in a folder of its own and returns how its numbers differ from those that are
/// there: file by file, nothing if they agree.
///
/// # Errors
/// If there is no such study, or as [`run`].
pub fn check(
    settings: &StudySettings,
    progress: &dyn StudyProgress,
) -> Result<Vec<String>, StudyError> {
    let missing = |path: &Path| StudyError::Folder {
        path: path.to_owned(),
        reason: "holds no study to check".to_owned(),
    };
    let there = &settings.out;
    if !there.join("data").is_dir() {
        return Err(missing(there));
    }
    let aside = tempfile::Builder::new()
        .prefix(".tallyhouse-check-")
        .tempdir()
        .map_err(|error| StudyError::Io { path: there.clone(), error })?;
    let out = aside.path().join("study");
    run(&StudySettings { out: out.clone(), ..settings.clone() }, progress)?;
    let mut differences = Vec::new();
    for folder in ["data", "figures"] {
        let (old, new) =
            (stages::digests(&there.join(folder))?, stages::digests(&out.join(folder))?);
        for (name, digest) in &new {
            match old.get(name) {
                None => differences.push(format!("{folder}/{name} is missing")),
                Some(other) if other != digest => {
                    differences.push(format!("{folder}/{name} differs"));
                }
                Some(_) => {}
            }
        }
        let extra = old.keys().filter(|name| !new.contains_key(*name));
        differences.extend(extra.map(|name| format!("{folder}/{name} is not made any more")));
    }
    Ok(differences)
}
