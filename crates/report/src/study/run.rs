//! The stages of a study, one after the other.

use std::fs;
use std::io::Write;
use std::path::PathBuf;

use serde::Serialize;
use tallyhouse_analysis::order_search::{OrderSettings, search};
use tallyhouse_analysis::{
    AnalysisError, ClaimFile, JudgeSettings, Rulebook, compare_sides, describe, judge,
    look_shares_csv, paired_costs, shares_csv,
};
use tallyhouse_board::Puzzle;
use tallyhouse_census::{Dataset, Manifest, Settings, Tables, WalkNotes, source_of, write_file};
use tallyhouse_collection::{
    Block, MinimalByDeletion, Part, ReadError, Rows, Silent, Source, WriteError, only_valid,
};
use tallyhouse_engine::WalkOptions;
use tallyhouse_engine::effort::GlanceWeights;

use super::folder::StageFolder;
use super::recipe::{OrderSearch, Origin, StudyCollection, StudyEffort, StudySpecimens};
use super::sections::OccurrenceData;
use super::stages::Stages;
use super::{StudyError, StudyProgress, StudySettings};
use super::{findings, sections};
use crate::chart_kind::Draw;
use crate::charts::{self, Census, LeftShapes, SearchedOrders};
use crate::overview::overview;
use crate::specimen::{self, Puzzles, Wanted};

/// A study while it runs.
pub(super) struct Run<'a, 'b> {
    settings: &'a StudySettings,
    progress: &'a dyn StudyProgress,
    stages: &'a mut Stages<'b>,
    /// The folders of the stages that have a section, in the order of the report.
    sections: Vec<String>,
    scanned: Vec<Scanned>,
}

/// A collection that was scanned, for the provenance of the report.
pub(super) struct Scanned {
    /// Its title.
    pub(super) title: String,
    /// What the scan says of itself.
    pub(super) manifest: Manifest,
}

impl Scanned {
    /// Says how many rows were rejected and why, if there were any.
    pub(super) fn warning(&self) -> Option<String> {
        (self.manifest.rejected_rows() > 0)
            .then(|| format!("{}: {}", self.title, sections::rejected_words(&self.manifest)))
    }
}

/// A collection that is there: where to read it, and the digest that later stages depend on.
struct Ready<'a> {
    collection: &'a StudyCollection,
    sources: Vec<Source>,
    digest: String,
    census: Census,
    census_digest: String,
}

impl<'a, 'b> Run<'a, 'b> {
    pub(super) fn new(
        settings: &'a StudySettings,
        progress: &'a dyn StudyProgress,
        stages: &'a mut Stages<'b>,
    ) -> Self {
        Self { settings, progress, stages, sections: Vec::new(), scanned: Vec::new() }
    }

    /// Returns the folders of the stages that have a section, in the order of the report, and what
    /// was scanned.
    pub(super) fn finish(self) -> (Vec<String>, Vec<Scanned>) {
        (self.sections, self.scanned)
    }

    pub(super) fn all(&mut self) -> Result<(), StudyError> {
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
            self.occurrence(collection, ready.len() == 1)?;
        }
        if ready.len() > 1 {
            self.comparison(&ready)?;
        }
        if let Some(effort) = &recipe.effort {
            self.effort(&ready[effort.collection], effort)?;
        }
        if let Some(order) = &recipe.order {
            self.order(order)?;
        }
        for collection in &ready {
            self.describe(collection)?;
        }
        if let Some(specimens) = &recipe.specimens {
            self.specimens(&ready[specimens.collection], specimens)?;
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
        let charts = &self.settings.recipe.charts;
        let fill = |path: &std::path::Path| fill(&StageFolder { path, name, charts });
        let digest = self.stages.run(&at, depends, fill)?;
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
                rows.read_to_end()?;
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
                        written.map(drop).or_else(|error| match error {
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
        let walk = &self.settings.recipe.walk;
        let census_digest =
            self.stage(&stage, &("census", &digest, WalkNotes::from(walk)), |folder| {
                let bar = progress.stage("scanning", "puzzles", None);
                let settings = Settings {
                    sources: sources.clone(),
                    out: folder.path.join("dataset"),
                    walk: walk.clone(),
                    tables: Tables::All,
                    keep_states: false,
                    part_size: 50_000,
                    seed: match collection.origin {
                        Origin::Made { seed, .. } => Some(seed),
                        Origin::Read { .. } => None,
                    },
                    shard: None,
                    resume: false,
                    expect_rows: None,
                };
                tallyhouse_census::run(&settings, &*bar)?;
                Ok(())
            })?;
        let census = out.join("work").join(stage).join("dataset");
        let census = Census::open(&census, &collection.title, self.settings.recipe.level)?;
        let (title, manifest) = (collection.title.clone(), census.manifest.clone());
        self.scanned.push(Scanned { title, manifest });
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
        // The table of looks beside their complements takes the same rows.
        let is_compared = |effort: &&StudyEffort| {
            recipe.collections[effort.collection].name == ready.collection.name
        };
        let effort_rows = recipe.effort.as_ref().filter(is_compared).map(|effort| effort.puzzles);
        let asked = (recipe.level, effort_rows, &recipe.charts);
        let depends =
            ("trial", &ready.digest, texts, format!("{claims:?}"), recipe.weights, &asked);
        let (weights, progress) = (self.weights(), self.progress);
        let level = recipe.level;
        self.stage(&format!("trial-{}", ready.collection.name), &depends, |folder| {
            let bar = progress.stage("judging", "puzzles", None);
            let data = folder.data_folder()?;
            let settings = JudgeSettings {
                sources: ready.sources.clone(),
                rulebooks,
                claims,
                weights,
                level,
                effort_rows,
                out: data.clone(),
            };
            let report = judge(&settings, &*bar)?;
            // It holds the wall time, which the data of a study are without.
            let manifest = data.join("manifest.json");
            fs::remove_file(&manifest).map_err(|error| StudyError::Io { path: manifest, error })?;
            let text = report.to_string();
            write_file(&folder.path.join("verdicts.txt"), |w| w.write_all(text.as_bytes()))?;
            let left: Vec<LeftShapes> = report.books.iter().map(Into::into).collect();
            let figure = folder.charts(|draw| match draw {
                Draw::Trial(draw) => Some(draw(&left, level)),
                _ => None,
            })?;
            let data = folder.write("missed-by-rulebook.csv", &sections::missed_csv(&report)?)?;
            folder.section(&sections::trial(ready.collection, &report, figure, &data))
        })?;
        Ok(())
    }

    fn occurrence(&mut self, ready: &Ready<'_>, alone: bool) -> Result<(), StudyError> {
        let name = format!("occurrence-{}", ready.collection.name);
        let recipe = &self.settings.recipe;
        let asked = (recipe.level, &recipe.charts);
        let depends = ("occurrence", &ready.census_digest, &ready.collection.title, alone, &asked);
        self.stage(&name, &depends, |folder| {
            let census = &ready.census;
            let copy = |file| folder.copy(&census.folder, file);
            copy("counts.csv")?;
            copy("exposure.csv")?;
            let data = OccurrenceData {
                shares: folder.write("shares.csv", &shares_csv(census.shares()?)?)?,
                looks: folder.write("looks.csv", &look_shares_csv(census.needed()?)?)?,
                rejects: copy("rejects.csv")?,
            };
            let text = overview(&census.counts, &census.manifest);
            write_file(&folder.path.join("overview.txt"), |w| w.write_all(text.as_bytes()))?;
            let found_any = census.counts.totals.subsets > 0;
            let figures = folder.charts(|draw| match draw {
                Draw::Census(draw) if found_any => Some(draw(census, &recipe.charts.narrowing)),
                // Several collections are shown together.
                Draw::Censuses(draw) if alone => Some(draw(&[census])),
                _ => None,
            })?;
            folder.findings(findings::occurrence(
                &census.title,
                &census.counts,
                census.needed()?,
            ))?;
            folder.section(&sections::occurrence(ready.collection, census, figures, &data)?)
        })?;
        Ok(())
    }

    fn comparison(&mut self, ready: &[Ready<'_>]) -> Result<(), StudyError> {
        let of = |ready: &Ready<'_>| (ready.census_digest.clone(), ready.collection.title.clone());
        let collections: Vec<(String, String)> = ready.iter().map(of).collect();
        let level = self.settings.recipe.level;
        let depends = ("comparison", collections, level, &self.settings.recipe.charts);
        self.stage("comparison", &depends, |folder| {
            let all: Vec<&Census> = ready.iter().map(|ready| &ready.census).collect();
            let figures = folder.charts(|draw| match draw {
                Draw::Censuses(draw) | Draw::Comparison(draw) => Some(draw(&all)),
                _ => None,
            })?;
            folder.section(&sections::comparison(figures))
        })?;
        Ok(())
    }

    fn effort(&mut self, ready: &Ready<'_>, effort: &StudyEffort) -> Result<(), StudyError> {
        let recipe = &self.settings.recipe;
        let level = recipe.level;
        let depends = ("effort", &ready.digest, effort, recipe.weights, level, &recipe.charts);
        let (weights, progress) = (self.weights(), self.progress);
        self.stage("effort", &depends, |folder| {
            let bar = progress.stage("comparing looks", "puzzles", None);
            let FirstPuzzles { puzzles, alike } = first_puzzles(&ready.sources, effort.puzzles)?;
            if !alike {
                return folder.section(&sections::effort_of_weighted(&ready.collection.title));
            }
            bar.expect(puzzles.len() as u64);
            let shapes: Vec<(u8, u8)> = charts::possible_shapes().collect();
            let costs = paired_costs(&puzzles, &shapes, &WalkOptions::default(), &weights);
            bar.advance(puzzles.len() as u64);
            let sides = compare_sides(&costs, level).map_err(|error| AnalysisError::Stats {
                claim: "looks beside their complements".to_owned(),
                error,
            })?;
            let walked = puzzles.len() as u64;
            let mut figures = folder.charts(|draw| match draw {
                Draw::Sides(draw) => Some(draw(&sides, walked)),
                _ => None,
            })?;
            for costs in costs.iter().filter(|c| effort.shapes.contains(&(c.open, c.naked))) {
                let name = |_| format!("{}-open-naked-{}", costs.open, costs.naked);
                figures.extend(folder.named_charts(name, |draw| match draw {
                    Draw::Costs(draw) => Some(draw(costs, walked, level)),
                    _ => None,
                })?);
            }
            let data = folder.write("effort.csv", &sections::effort_csv(&sides)?)?;
            folder.findings(findings::sides(&sides, walked))?;
            folder.section(&sections::effort(&sides, walked, recipe.weights, figures, &data))
        })?;
        Ok(())
    }

    fn order(&mut self, wanted: &OrderSearch) -> Result<(), StudyError> {
        let recipe = &self.settings.recipe;
        let start = Rulebook::load(&wanted.start)?;
        let level = recipe.level;
        let depends = ("order", wanted, start.to_toml(), recipe.weights, level, &recipe.charts);
        let (weights, progress) = (self.weights(), self.progress);
        self.stage("order", &depends, |folder| {
            let bar = progress.stage("searching", "orders", Some(wanted.evaluations));
            let made = |seed: u64, count| MinimalByDeletion { seed }.puzzles(0..count);
            let settings = OrderSettings {
                training: made(wanted.seed, wanted.training),
                held_out: made(wanted.seed.wrapping_add(1), wanted.held_out),
                start: start.order().clone(),
                weights,
                level,
                seed: wanted.seed,
                evaluations: wanted.evaluations,
                frontier: wanted.frontier,
            };
            let report = search(&settings, &|more| bar.advance(more))?;
            let mut csv = Vec::new();
            report.to_csv(&mut csv)?;
            let data = folder.write("frontier.csv", &csv)?;
            let mut csv = Vec::new();
            report.ratio_table_to_csv(&mut csv)?;
            folder.write("ratio-rule.csv", &csv)?;
            folder.write("order.txt", report.to_text().as_bytes())?;
            let orders: SearchedOrders = (&report).into();
            let figure = folder.charts(|draw| match draw {
                Draw::Search(draw) => Some(draw(&orders)),
                _ => None,
            })?;
            folder.findings(findings::order(&report, start.name()))?;
            folder.section(&sections::order(&report, start.name(), figure, &data))
        })?;
        Ok(())
    }

    fn describe(&mut self, ready: &Ready<'_>) -> Result<(), StudyError> {
        let progress = self.progress;
        let name = format!("collection-{}", ready.collection.name);
        let level = self.settings.recipe.level;
        let depends = (
            "describe",
            &ready.digest,
            &ready.collection.title,
            level,
            &self.settings.recipe.charts,
        );
        self.stage(&name, &depends, |folder| {
            let bar = progress.stage("describing", "puzzles", None);
            let description = describe(ready.sources.clone(), level, &*bar)?;
            folder.write(
                "description.json",
                serde_json::to_string_pretty(&description)?.as_bytes(),
            )?;
            let figure = folder.charts(|draw| match draw {
                Draw::Collection(draw) => Some(draw(&description, &ready.collection.title)),
                _ => None,
            })?;
            let data = folder.write("clues.csv", &sections::clues_csv(&description)?)?;
            folder.section(&sections::description(ready.collection, &description, figure, &data))
        })?;
        Ok(())
    }

    fn specimens(
        &mut self,
        ready: &Ready<'_>,
        specimens: &StudySpecimens,
    ) -> Result<(), StudyError> {
        let progress = self.progress;
        let depends = (
            "specimens",
            &ready.census_digest,
            &ready.collection.title,
            specimens,
            &self.settings.recipe.charts,
        );
        self.stage("specimens", &depends, |folder| {
            let bar = progress.stage("finding specimens", "puzzles", None);
            let dataset = Dataset::open(&ready.census.folder)?.named(&ready.collection.title);
            let puzzles = Puzzles::Dataset(Box::new(dataset));
            let mut all = Vec::new();
            let mut groups = Vec::new();
            for (number, group) in (1..).zip(&specimens.shown) {
                let found = specimen::find(&puzzles, &group.wanted, group.most, &*bar)?;
                let mut shown = Vec::new();
                for (place, one) in (1..).zip(&found.specimens) {
                    shown.push(folder.specimen(one, &format!("specimen-{number}-{place}"))?);
                }
                groups.push(sections::SpecimenGroup {
                    title: group.title.clone(),
                    wanted: group.wanted.to_string(),
                    puzzles: found.examined.puzzles,
                    shown,
                });
                all.extend(found.specimens);
            }
            let mut gallery = None;
            if specimens.gallery {
                let wanted = Wanted {
                    proper: specimen::ProperSide::Either,
                    least_eliminations: 1,
                    ..Wanted::default()
                };
                let found = specimen::gallery(&puzzles, &wanted, &*bar)?;
                let mut shown = Vec::new();
                for one in &found.specimens {
                    let shape = one.shape();
                    let name = format!("specimen-{}-open-naked-{}", shape.open(), shape.naked());
                    shown.push(folder.specimen(one, &name)?);
                }
                all.extend(found.specimens.iter().cloned());
                gallery = Some((found, shown));
            }
            let mut csv = Vec::new();
            specimen::write_csv(&all, &mut csv)
                .map_err(|error| StudyError::Io { path: PathBuf::from("specimens.csv"), error })?;
            folder.write("specimens.csv", &csv)?;
            folder.section(&sections::specimens(groups, gallery))
        })?;
        Ok(())
    }
}

/// The first puzzles of some sources.
pub struct FirstPuzzles {
    /// The valid puzzles.
    pub puzzles: Vec<Puzzle>,
    /// Whether they count alike and stand alone: none has a weight or a family.
    pub alike: bool,
}

/// Reads the puzzles in the first rows of some sources; rows that are none are passed over.
///
/// # Errors
/// If a source can't be read.
pub fn first_puzzles(sources: &[Source], most: u64) -> Result<FirstPuzzles, StudyError> {
    let mut rows = Rows::open(sources.to_vec())?;
    let mut first = FirstPuzzles { puzzles: Vec::new(), alike: true };
    let read = |part: Part<'_>| part.flat_map(only_valid).collect::<Block>();
    let passed = rows.pass(READ_AT_ONCE, &Silent, read, |block| {
        for entry in block.into_iter().flatten() {
            if entry.number >= most {
                return Err(Stop::Enough);
            }
            first.alike &= entry.weight.is_none() && entry.family.is_none();
            first.puzzles.push(entry.puzzle);
        }
        Ok(())
    });
    match passed {
        Err(Stop::Unreadable(error)) => Err(error.into()),
        Err(Stop::Enough) | Ok(()) => Ok(first),
    }
}

/// How many rows one thread reads.
const READ_AT_ONCE: usize = 1000;

/// Why no more rows are read.
enum Stop {
    Enough,
    Unreadable(ReadError),
}

impl From<ReadError> for Stop {
    fn from(error: ReadError) -> Self {
        Self::Unreadable(error)
    }
}
