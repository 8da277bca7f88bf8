//! The recipe of a study: a TOML file that says what to read or make and what to ask of it.

mod charts;
mod limits;
mod named;
mod panel;
mod specimens;
mod walk;
mod worksheet;

use std::path::{Path, PathBuf};

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize};
use tallyhouse_analysis::order_search::OrderSettings;
use tallyhouse_analysis::{FileError, TextFile};
use tallyhouse_collection::{
    Likeness, Recipe as MakeRecipe, RecipeError, Sampling, SamplingMethod,
};
use tallyhouse_engine::WalkOptions;
use tallyhouse_engine::effort::GlanceWeights;
use tallyhouse_stats::Level;
use tallyhouse_words::counted;
use toml::Spanned;

use crate::charts::possible_shapes;

pub use charts::StudyCharts;
use named::Named;
pub use panel::StudyPanel;
pub use specimens::{StudySpecimens, WantedSpecimens};
pub use worksheet::StudyWorksheet;

/// The recipe that is used when none is given.
pub const BUILT_IN: &str = include_str!("../built-in.toml");

/// A study.
#[derive(Clone, Debug, PartialEq)]
pub struct StudyRecipe {
    /// A short name: lower-case letters, digits and hyphens.
    pub name: String,
    /// The title of the report.
    pub title: String,
    /// What the study is about. May be empty.
    pub note: String,
    /// The sections whose findings the report begins with, before those of the others.
    pub lead: Vec<Lead>,
    /// The collections, at least one.
    pub collections: Vec<StudyCollection>,
    /// Rulebooks by name or file.
    pub rulebooks: Vec<String>,
    /// Claim files by name or file.
    pub claims: Vec<String>,
    /// Claims that are asked of several collections, on several walks.
    pub panels: Vec<StudyPanel>,
    /// The walk of the census.
    pub walk: WalkOptions,
    /// The charts.
    pub charts: StudyCharts,
    /// The level of all intervals.
    pub level: Level,
    /// Weights of a cell seen, a place gathered and a try.
    pub weights: [f64; 3],
    /// Looks that are compared with their complements, if wanted.
    pub effort: Option<StudyEffort>,
    /// What looks yield, if wanted.
    pub yields: Option<StudyYields>,
    /// Times of people that readers are fitted to, if wanted.
    pub timings: Option<StudyTimings>,
    /// Whether each shape is left out of the full ladder's walk in turn.
    pub leave_out_shapes: bool,
    /// Positions that are shown, if wanted.
    pub specimens: Option<StudySpecimens>,
    /// Rulebooks that are held against each other, if wanted.
    pub compare: Option<StudyCompare>,
    /// A search for better rulebooks, if wanted.
    pub order: Option<OrderSearch>,
    /// Sheets to practise on, if wanted.
    pub worksheet: Option<StudyWorksheet>,
}

/// A section that a report may begin with.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, strum::EnumString, strum::IntoStaticStr, strum::VariantArray,
)]
#[strum(serialize_all = "kebab-case")]
pub enum Lead {
    /// What to look for.
    Answer,
    /// Rulebooks and claims.
    Trial,
    /// What occurs.
    Occurrence,
    /// How the collections differ.
    Comparison,
    /// What looks yield.
    Yields,
    /// Rulebooks head to head.
    Rulebooks,
    /// The search for better rulebooks.
    Order,
}

/// Looks that are compared with their complements.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StudyEffort {
    /// The index of the collection whose puzzles are walked.
    pub collection: usize,
    /// The shapes (open count, naked size).
    pub shapes: Vec<(u8, u8)>,
    /// How many rows are read at most.
    pub puzzles: u64,
}

/// What looks yield, and what their finds cost.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StudyYields {
    /// The index of the collection whose puzzles are walked.
    pub collection: usize,
    /// The rulebook whose looks are asked about; all looks if it is none.
    pub rulebook: Option<String>,
    /// The readers, by name or file; all that are built in if there is none.
    pub readers: Vec<String>,
}

/// Rulebooks that are held against the first of them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StudyCompare {
    /// The index of the collection whose puzzles are walked.
    pub collection: usize,
    /// The rulebooks, by name or file, two at least.
    pub rulebooks: Vec<String>,
    /// The readers, by name or file; all that are built in if there is none.
    pub readers: Vec<String>,
}

/// Times of people.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StudyTimings {
    /// The file of times; relative to the recipe.
    pub times: PathBuf,
    /// The file of the worksheet's items; relative to the recipe.
    pub items: PathBuf,
    /// Decides who is drawn for the intervals.
    #[serde(default = "first_seed")]
    pub seed: u64,
}

fn first_seed() -> u64 {
    1
}

/// A collection of a study.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudyCollection {
    /// A short name, as that of a study.
    pub name: String,
    /// The title for readers.
    pub title: String,
    /// Where it comes from.
    pub origin: Origin,
}

/// Where a collection comes from.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Origin {
    /// It is made.
    Made {
        /// How puzzles are drawn.
        #[serde(serialize_with = "named::name")]
        method: SamplingMethod,
        /// What they are made like; none if nothing is wished.
        like: Option<Likeness>,
        /// How many puzzles, or families with splitting.
        count: u64,
        /// The seed.
        seed: u64,
        /// The population of splitting.
        population: u32,
    },
    /// It is read.
    Read {
        /// Files and collection folders; relative to the recipe.
        files: Vec<PathBuf>,
    },
}

/// A search for better rulebooks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OrderSearch {
    /// The rulebook to start from, by name or file.
    pub start: String,
    /// The seed; held-out puzzles are made with the next.
    pub seed: u64,
    /// How many puzzles to choose on.
    #[serde(alias = "training", deserialize_with = "limits::training_count")]
    pub training_count: u64,
    /// How many puzzles to report on.
    #[serde(alias = "held_out", deserialize_with = "limits::held_out_count")]
    pub held_out_count: u64,
    /// How many runs search on their own.
    #[serde(default = "least_runs", deserialize_with = "limits::runs")]
    pub runs: u64,
    /// How many orders each run tries.
    #[serde(default = "usual_evaluations", deserialize_with = "limits::evaluations")]
    pub evaluations: u64,
    /// Reader files to ask besides those that are built in.
    #[serde(default)]
    pub readers: Vec<String>,
    /// How many rulebooks to report at most.
    #[serde(default = "usual_frontier", deserialize_with = "limits::frontier")]
    pub frontier: u64,
}

fn least_runs() -> u64 {
    *OrderSettings::RUNS.start()
}

fn usual_evaluations() -> u64 {
    OrderSettings::EVALUATIONS
}

fn usual_frontier() -> u64 {
    OrderSettings::FRONTIER
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    name: Spanned<String>,
    title: String,
    #[serde(default)]
    note: String,
    #[serde(default)]
    lead: Vec<Named<Lead>>,
    #[serde(default)]
    rulebooks: Vec<String>,
    #[serde(default)]
    claims: Vec<String>,
    #[serde(default)]
    collection: Vec<Spanned<RawCollection>>,
    #[serde(default)]
    panel: Vec<Spanned<panel::RawPanel>>,
    #[serde(default)]
    level: Level,
    walk: Option<walk::RawWalk>,
    #[serde(default)]
    charts: StudyCharts,
    #[serde(default = "alike", deserialize_with = "weights")]
    weights: [f64; 3],
    effort: Option<RawEffort>,
    yields: Option<RawYields>,
    timings: Option<StudyTimings>,
    #[serde(default)]
    leave_out_shapes: bool,
    specimens: Option<specimens::RawSpecimens>,
    compare: Option<RawCompare>,
    order: Option<OrderSearch>,
    worksheet: Option<Spanned<worksheet::RawWorksheet>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawCollection {
    name: Spanned<String>,
    title: String,
    files: Option<Vec<PathBuf>>,
    method: Option<Named<SamplingMethod>>,
    like: Option<Named<Likeness>>,
    #[serde(default, deserialize_with = "limits::count")]
    count: Option<u64>,
    seed: Option<u64>,
    #[serde(default = "usual_population", deserialize_with = "limits::population")]
    population: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawWeights {
    #[serde(default = "one")]
    cell: f64,
    #[serde(default = "one")]
    place: f64,
    #[serde(default = "one", rename = "try")]
    try_: f64,
}

fn one() -> f64 {
    1.0
}

fn alike() -> [f64; 3] {
    [1.0; 3]
}

fn weights<'de, D: Deserializer<'de>>(from: D) -> Result<[f64; 3], D::Error> {
    let RawWeights { cell, place, try_ } = RawWeights::deserialize(from)?;
    GlanceWeights::new(cell, place, try_).map_err(D::Error::custom)?;
    Ok([cell, place, try_])
}

fn usual_population() -> u32 {
    Sampling::POPULATION
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawEffort {
    collection: Option<Spanned<String>>,
    #[serde(deserialize_with = "shapes")]
    shapes: Vec<(u8, u8)>,
    #[serde(default = "many", deserialize_with = "limits::puzzles")]
    puzzles: u64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawYields {
    collection: Option<Spanned<String>>,
    rulebook: Option<String>,
    #[serde(default)]
    readers: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawCompare {
    collection: Option<Spanned<String>>,
    rulebooks: Spanned<Vec<String>>,
    #[serde(default)]
    readers: Vec<String>,
}

fn many() -> u64 {
    20_000
}

impl StudyRecipe {
    /// Returns what a glance of each kind weighs.
    #[must_use]
    pub fn glance_weights(&self) -> GlanceWeights {
        let [cell, place, try_] = self.weights;
        GlanceWeights::new(cell, place, try_).unwrap_or_default()
    }

    /// Reads a recipe; `file` names it in messages.
    ///
    /// # Errors
    /// With the line, what was found and what was expected.
    pub fn parse(file: &str, text: &str) -> Result<Self, FileError> {
        let source = TextFile::new(file, text);
        let raw: Raw = source.parse()?;
        source.check_name(&raw.name)?;
        if raw.collection.is_empty() {
            return Err(source.error_at(text.len(), "no [[collection]]: expected at least one"));
        }
        let mut collections: Vec<StudyCollection> = Vec::new();
        for collection in raw.collection {
            let at = collection.span().start;
            let collection = read_collection(source, at, collection.into_inner())?;
            if collections.iter().any(|earlier| earlier.name == collection.name) {
                let reason = format!("two collections are named '{}'", collection.name);
                return Err(source.error_at(at, reason));
            }
            collections.push(collection);
        }
        let index_of_name = |name: Spanned<String>| {
            let index = collections.iter().position(|c| c.name == *name.get_ref());
            index.ok_or_else(|| {
                let names: Vec<&str> = collections.iter().map(|c| c.name.as_str()).collect();
                let reason = format!(
                    "no collection is named '{}': expected {}",
                    name.get_ref().escape_debug(),
                    names.join(" or ")
                );
                source.error_at(name.span().start, reason)
            })
        };
        let index_of = |name: Option<Spanned<String>>| name.map_or(Ok(0), index_of_name);
        let panels = raw.panel.into_iter().map(|panel| {
            let at = panel.span().start;
            let count = collections.len();
            panel.into_inner().panel(source, at, &raw.claims, index_of_name, count)
        });
        let panels = panels.collect::<Result<Vec<_>, _>>()?;
        let effort = raw.effort.map(|RawEffort { collection, shapes, puzzles }| {
            Ok(StudyEffort { collection: index_of(collection)?, shapes, puzzles })
        });
        let yields = raw.yields.map(|RawYields { collection, rulebook, readers }| {
            Ok(StudyYields { collection: index_of(collection)?, rulebook, readers })
        });
        let compare = raw.compare.map(|RawCompare { collection, rulebooks, readers }| {
            let (at, rulebooks) = (rulebooks.span().start, rulebooks.into_inner());
            if rulebooks.len() < 2 {
                let reason = format!(
                    "found {}, expected at least two: the others are held against the first",
                    counted(rulebooks.len() as u64, "rulebook", "rulebooks")
                );
                return Err(source.error_at(at, reason));
            }
            Ok(StudyCompare { collection: index_of(collection)?, rulebooks, readers })
        });
        let specimens = raw.specimens.map(|mut specimens| {
            let collection = index_of(specimens.collection.take())?;
            specimens.specimens(source, collection)
        });
        let (effort, yields) = (effort.transpose()?, yields.transpose()?);
        let compare = compare.transpose()?;
        let specimens = specimens.transpose()?;
        let worksheet = raw.worksheet.map(|worksheet| {
            let at = worksheet.span().start;
            let mut worksheet = worksheet.into_inner();
            let collection = index_of(worksheet.collection.take())?;
            worksheet.worksheet(source, at, collection)
        });
        let worksheet = worksheet.transpose()?;
        let walk = raw.walk.map(|walk| walk.options(source)).transpose()?.unwrap_or_default();
        Ok(Self {
            name: raw.name.into_inner(),
            title: raw.title,
            note: raw.note.trim().to_owned(),
            lead: raw.lead.into_iter().map(|Named(lead)| lead).collect(),
            collections,
            rulebooks: raw.rulebooks,
            claims: raw.claims,
            panels,
            walk,
            charts: raw.charts,
            level: raw.level,
            weights: raw.weights,
            effort,
            yields,
            timings: raw.timings,
            leave_out_shapes: raw.leave_out_shapes,
            specimens,
            compare,
            order: raw.order,
            worksheet,
        })
    }

    /// Makes file names that are relative to the recipe relative to where the program runs.
    #[must_use]
    pub fn beside(mut self, recipe: &Path) -> Self {
        let folder = recipe.parent().unwrap_or(Path::new(""));
        for collection in &mut self.collections {
            if let Origin::Read { files } = &mut collection.origin {
                files.iter_mut().for_each(|file| *file = folder.join(&*file));
            }
        }
        if let Some(StudyTimings { times, items, .. }) = &mut self.timings {
            [times, items].into_iter().for_each(|file| *file = folder.join(&*file));
        }
        let start = self
            .order
            .iter_mut()
            .flat_map(|order| [&mut order.start].into_iter().chain(&mut order.readers));
        let panels = self.panels.iter_mut().flat_map(|panel| &mut panel.claims);
        let of_yields =
            self.yields.iter_mut().flat_map(|y| y.readers.iter_mut().chain(&mut y.rulebook));
        let of_compare =
            self.compare.iter_mut().flat_map(|c| c.rulebooks.iter_mut().chain(&mut c.readers));
        let named = self.rulebooks.iter_mut().chain(&mut self.claims).chain(panels).chain(start);
        let of_worksheet =
            self.worksheet.iter_mut().flat_map(|w| w.rulebook.iter_mut().chain([&mut w.reader]));
        for name in named.chain(of_yields).chain(of_compare).chain(of_worksheet) {
            let path = folder.join(&*name);
            if name.ends_with(".toml") && path.exists() {
                *name = path.display().to_string();
            }
        }
        self
    }
}

/// Reads shapes that a quiet position can have.
fn shapes<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<(u8, u8)>, D::Error> {
    let shapes: Vec<(u8, u8)> = Deserialize::deserialize(from)?;
    let is_wrong = |shape: &&(u8, u8)| possible_shapes().all(|possible| possible != **shape);
    match shapes.iter().find(is_wrong) {
        None => Ok(shapes),
        Some((open, naked)) => Err(D::Error::custom(format!(
            "the shape [{open}, {naked}] can't be: expected [open, naked] with 4 to 9 open cells \
             and at least 2 on either side"
        ))),
    }
}

fn read_collection(
    source: TextFile<'_>,
    at: usize,
    raw: RawCollection,
) -> Result<StudyCollection, FileError> {
    source.check_name(&raw.name)?;
    let origin = match (raw.files, raw.count, raw.seed) {
        (Some(files), None, None)
            if !files.is_empty() && raw.method.is_none() && raw.like.is_none() =>
        {
            Origin::Read { files }
        }
        (None, Some(count), Some(seed)) => Origin::Made {
            method: raw.method.unwrap_or_default().0,
            like: raw.like.map(|like| like.0),
            count,
            seed,
            population: raw.population,
        },
        _ => {
            let reason = "expected either files, or count and seed (and, if wanted, method, population \
                          and like)";
            return Err(source.error_at(at, reason));
        }
    };
    if let Some(Err(error)) = origin.checked_recipe() {
        return Err(source.error_at(at, error.to_string()));
    }
    Ok(StudyCollection { name: raw.name.into_inner(), title: raw.title, origin })
}

impl Origin {
    /// Returns how a made collection is made.
    #[must_use]
    pub fn make_recipe(&self) -> Option<MakeRecipe> {
        self.checked_recipe()?.ok()
    }

    fn checked_recipe(&self) -> Option<Result<MakeRecipe, RecipeError>> {
        let Self::Made { method, like, seed, population, .. } = self else { return None };
        let wishes = like.map(Likeness::wishes).unwrap_or_default();
        Some(MakeRecipe::new(Sampling::of(*method, *population), wishes, *seed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_recipe_is_one() {
        let recipe = StudyRecipe::parse("built-in", BUILT_IN).unwrap();
        assert_eq!(recipe.collections.len(), 2);
        assert!(!recipe.rulebooks.is_empty() && !recipe.claims.is_empty());
        assert!(recipe.specimens.is_some() && recipe.effort.is_some());
    }

    #[test]
    fn bad_recipes_are_refused_with_their_line() {
        let error = |text: &str| StudyRecipe::parse("r.toml", text).unwrap_err().to_string();
        let head = "name = \"a\"\ntitle = \"A\"\n";
        assert!(error("title = \"A\"").starts_with("r.toml, line 1: missing field `name`"));
        assert!(
            error("name = \"A b\"\ntitle = \"A\"")
                .starts_with("r.toml, line 1: found 'A b', expected 1 to 60")
        );
        assert!(error(head).contains("no [[collection]]"));
        let with =
            |body: &str| format!("{head}[[collection]]\nname = \"c\"\ntitle = \"C\"\n{body}");
        assert!(error(&with("colour = 1")).starts_with("r.toml, line 6: unknown field `colour`"));
        assert!(error(&with("count = 5")).starts_with("r.toml, line 3: expected either files"));
        let many = with("count = 5\nseed = 1\nmethod = \"splitting\"\npopulation = 50000000");
        assert!(error(&many).ends_with("population is 50,000,000: expected 1 to 1,000,000"));
        let method = with("count = 5\nseed = 1\nmethod = \"guess\"");
        assert!(
            error(&method).starts_with("r.toml, line 8: method: found 'guess', expected one of")
        );
        let like = with("count = 5\nseed = 1\nmethod = \"addition\"\nlike = \"in-print\"");
        assert!(
            error(&like)
                .contains("line 3: a symmetry of the givens goes with random deletion only")
        );
        let made = with("count = 5\nseed = 1\n");
        assert!(
            error(&format!("{made}[effort]\nshapes = [[6, 5]]"))
                .contains("line 9: shapes: the shape [6, 5]")
        );
        assert!(error(&format!("{made}[weights]\ncell = -1.0")).starts_with("r.toml, line "));
        for (more, part) in [
            ("[walk]\nlooks = [\"naked 1\",\n\"bare 2\"]", "line 10: 'bare 2' is not a look"),
            ("[walk]\nlooks = []", "line 9: an order of looks needs at least one look"),
            ("[walk]\nlooks = [\"naked 1\"]\nintersections = true", "line 10: intersections go"),
            (
                "[walk]\ncourse = \"zigzag\"",
                "line 9: course: found 'zigzag', expected one of together",
            ),
            (
                "[order]\nstart = \"short-list\"\nseed = 1\ntraining_count = 9223372036854775807\n\
                 held_out_count = 9\nevaluations = 9",
                "line 11: training_count is 9,223,372,036,854,775,807: expected 2 to 1,000,000",
            ),
            ("[timings]\ntimes = \"t.csv\"", "line 8: missing field `items`"),
            (
                "[charts]\nkinds = [\"pies\"]",
                "line 9: kinds: found 'pies', expected one of card, rates",
            ),
            (
                "[yields]\ncollection = \"c\\nd\"",
                "line 9: no collection is named 'c\\nd': expected c",
            ),
            ("[charts]\nthemes = []", "line 9: themes is empty"),
            ("[charts]\nwidths = []", "line 9: widths is empty"),
            ("[charts]\nwidths = [500]", "found '500', expected column (85 mm), page (170 mm)"),
            ("[charts]\nwidths = [\"wide\"]", "found 'wide', expected column (85 mm)"),
            ("[charts]\ndpi = 20", "found '20', expected a number of dots per inch"),
            (
                "[charts]\nnarrowing = [[6, 2], [9, 8]]",
                "line 9: narrowing: the shape [9, 8] can't be",
            ),
            ("[[panel]]\ntitle = \"P\"", "line 8: a panel without claims: expected claims here"),
            ("[[panel]]\ntitle = \"P\"\nclaims = []", "line 10: claims is empty"),
            (
                "[[panel]]\ntitle = \"P\"\nclaims = [\"hearsay\"]",
                "line 10: found 'hearsay', expected a TOML file of claims, or common-claims",
            ),
            (
                "[[panel]]\ntitle = \"P\"\nclaims = [\"common-claims\"]\ncollections = [\"c\",\n\"d\"]",
                "line 12: no collection is named 'd': expected c",
            ),
            (
                "[[panel]]\ntitle = \"P\"\nclaims = [\"common-claims\"]\nwalks = [\"zigzag\"]",
                "line 11: found 'zigzag', expected one of together, one-by-one, with-intersections",
            ),
            (
                "[[panel]]\ntitle = \"P\"\nclaims = [\"common-claims\"]\nwalks = []",
                "line 11: walks is empty",
            ),
            (
                "[compare]\nrulebooks = [\"short-list\"]",
                "line 9: found 1 rulebook, expected at least two",
            ),
            ("[worksheet]\nkind = \"house\"", "line 8: expected a look, a shape or a rulebook"),
            ("[worksheet]\nlook = \"bare 2\"", "line 9: 'bare 2' is not a look"),
            ("[worksheet]\nlook = \"naked 1\"", "line 8: found the look 'naked 1', expected one"),
            ("[worksheet]\nshape = \"4 open\"", "line 9: '4 open' is no shape"),
            ("[effort]\ncollection = \"d\"\nshapes = []", "line 9: no collection is named 'd'"),
            (
                "[[specimens.show]]\ntitle = \"T\"\nopen = 12",
                "line 10: open: found '12', expected a number from 1",
            ),
            (
                "[[specimens.show]]\ntitle = \"T\"\nopen = \"9..8\"",
                "line 10: open: found '9..8', expected",
            ),
            ("[[specimens.show]]\ntitle = \"T\"\nfinds = \"naked 9\"", "line 10: "),
            ("[[specimens.show]]\ntitle = \"T\"\nnaked = 1", "line 8: no split can be found"),
        ] {
            let message = error(&format!("{made}{more}"));
            assert!(message.contains(part), "{message}");
        }
    }

    #[test]
    fn a_recipe_says_how_to_walk_what_to_draw_and_what_to_show() {
        let recipe = StudyRecipe::parse(
            "r.toml",
            r#"
name = "a"
title = "A"
[[collection]]
name = "b"
title = "B"
files = ["b.txt"]
[[collection]]
name = "c"
title = "C"
count = 5
seed = 1
[walk]
intersections = true
course = "one-by-one"
when_stuck = "give-digit"
[charts]
kinds = ["missed"]
themes = ["print", "light", "print"]
widths = ["column", 120, "85 mm"]
dpi = 400
outlines = true
[effort]
collection = "c"
shapes = [[6, 2]]
[[panel]]
title = "Everywhere"
claims = ["common-claims", "mine.toml", "common-claims"]
collections = ["c", "b"]
[[specimens.show]]
title = "Quintets"
open = "8..9"
naked = 5
house = "box"
proper = "naked"
nothing_easier = true
most = 3
"#,
        )
        .unwrap();
        assert_eq!(recipe.walk.order, tallyhouse_engine::Order::ladder().with_intersections());
        assert!(matches!(recipe.walk.course, tallyhouse_engine::Course::OneByOne(_)));
        assert_eq!(recipe.walk.when_stuck, tallyhouse_engine::WhenStuck::GiveDigit);
        use crate::chart_kind::ChartKind::{Missed, Rates};
        use tallyhouse_figures::{Dpi, Theme, Width};
        assert!(recipe.charts.wants(Missed) && !recipe.charts.wants(Rates));
        assert_eq!(recipe.charts.themes, [Theme::Print, Theme::Light]);
        assert_eq!(recipe.charts.widths, [Width::Column, "120".parse().unwrap()]);
        let print = recipe.charts.print();
        assert_eq!((print.dpi.map(Dpi::get), print.outlines), (Some(400), true));
        let panel = &recipe.panels[0];
        assert_eq!(
            (&panel.claims[..], &panel.collections[..]),
            (&["common-claims".to_owned(), "mine.toml".to_owned()][..], &[1, 0][..],)
        );
        assert_eq!(panel.walks, tallyhouse_analysis::TrialWalk::ALL);
        assert_eq!(recipe.effort.unwrap().collection, 1);
        let specimens = recipe.specimens.unwrap();
        assert!(!specimens.gallery && specimens.collection == 0);
        let shown = &specimens.shown[0];
        assert_eq!(shown.most, 3);
        let wanted = "open 8 to 9; naked 5; in a box; proper on the naked side; nothing easier in the position";
        assert_eq!(shown.wanted.to_string(), wanted);
    }
}
