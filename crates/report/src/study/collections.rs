//! The collections of a study: made or read, and scanned.

use std::io::Write;
use std::ops::RangeInclusive;

use tallyhouse_board::Puzzle;
use tallyhouse_census::{Manifest, Settings, WalkNotes, source_of};
use tallyhouse_collection::{Rows, Source, WriteError, only_valid};
use tallyhouse_storage::write_file;
use tallyhouse_words::{count, list};

use super::recipe::{Origin, StudyCollection, StudyRecipe};
use super::run::Run;
use crate::ReportError;
use crate::charts::Census;

/// A study whose collections are there: what its sections measure.
pub(super) struct Study<'a> {
    pub(super) recipe: &'a StudyRecipe,
    pub(super) collections: Vec<Collected<'a>>,
}

/// A collection that is there: where to read it, and the digests that later stages depend on.
pub(super) struct Collected<'a> {
    pub(super) collection: &'a StudyCollection,
    pub(super) sources: Vec<Source>,
    /// Of the rows.
    pub(super) digest: String,
    pub(super) census: Census,
    pub(super) census_digest: String,
}

impl<'a> Collected<'a> {
    /// Makes or reads a collection and scans it.
    pub(super) fn new(
        run: &mut Run<'a, '_>,
        collection: &'a StudyCollection,
    ) -> Result<Self, ReportError> {
        let (sources, digest) = match &collection.origin {
            Origin::Read { files } => {
                let sources: Vec<Source> =
                    files.iter().map(|file| source_of(file)).collect::<Result<_, _>>()?;
                let mut rows = Rows::open(sources.clone())?;
                rows.read_to_end()?;
                (sources, rows.digest())
            }
            Origin::Made { .. } => made(run, collection)?,
        };
        let stage = format!("work/census-{}", collection.name);
        let (walk, progress) = (&run.settings.recipe.walk, run.progress);
        let level = run.settings.recipe.level;
        let depends = ("census", &digest, WalkNotes::from(walk), level);
        let census_digest = run.stage(&stage, &collection.name, &depends, |folder| {
            let bar = progress.stage("scanning", "puzzles", None);
            let settings = Settings {
                walk: walk.clone(),
                seed: match collection.origin {
                    Origin::Made { seed, .. } => Some(seed),
                    Origin::Read { .. } => None,
                },
                level,
                ..Settings::new(sources.clone(), folder.path.join("dataset"))
            };
            tallyhouse_census::run(&settings, &*bar)?;
            Ok(())
        })?;
        let folder = run.settings.out.join(stage).join("dataset");
        let census = Census::open(&folder, &collection.title, level)?;
        Ok(Self { collection, sources, digest, census, census_digest })
    }

    /// Says how many rows were rejected and why, if there were any.
    pub(super) fn warning(&self) -> Option<String> {
        let manifest = &self.census.manifest;
        (manifest.rejected_rows() > 0)
            .then(|| format!("{}: {}", self.collection.title, rejected_words(manifest)))
    }
}

/// Says how many rows were rejected, and why.
pub(super) fn rejected_words(manifest: &Manifest) -> String {
    let reasons = manifest.rejected.iter().filter(|(_, rows)| *rows > 0);
    let reasons: Vec<String> =
        reasons.map(|(reason, rows)| format!("{} {reason}", count(*rows))).collect();
    format!(
        "{} of {} rows rejected ({})",
        count(manifest.rejected_rows()),
        count(manifest.totals.rows),
        list(reasons)
    )
}

/// Makes a collection, and returns where it lies and the digest of its rows.
fn made(
    run: &mut Run<'_, '_>,
    collection: &StudyCollection,
) -> Result<(Vec<Source>, String), ReportError> {
    let origin = &collection.origin;
    let (Some(recipe), &Origin::Made { count, .. }) = (origin.make_recipe(), origin) else {
        return Err(ReportError::Folder {
            path: run.settings.out.clone(),
            reason: format!("can't make the collection '{}'", collection.name),
        });
    };
    let stage = format!("work/puzzles-{}", collection.name);
    let progress = run.progress;
    let digest = run.stage(&stage, &collection.name, origin, |folder| {
        let bar = progress.stage("making", recipe.units(), Some(count));
        let mut failed = None;
        write_file(&folder.path.join("puzzles.txt"), |writer| {
            writer.write_all(recipe.head(&(0..count)).as_bytes())?;
            let written = recipe.write(0..count, writer, &|more| bar.advance(more));
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
    let path = run.settings.out.join(&stage).join("puzzles.txt");
    Ok((vec![Source::file(&path).named(&format!("{}.txt", collection.name))], digest))
}

/// The first puzzles of some sources.
pub struct FirstPuzzles {
    /// The valid puzzles.
    pub puzzles: Vec<Puzzle>,
    /// Whether they count alike and stand alone: none has a weight or a family.
    pub alike: bool,
    /// What the sources say of themselves, as far as they were read.
    pub notes: Vec<String>,
}

impl FirstPuzzles {
    /// How many rows may be asked for: their puzzles lie in memory.
    pub const MOST: RangeInclusive<u64> = 1..=10_000_000;
}

/// Reads the puzzles in the first rows of some sources; rows that are none are passed over.
///
/// # Errors
/// If a source can't be read.
pub fn first_puzzles(sources: &[Source], most: u64) -> Result<FirstPuzzles, ReportError> {
    let mut rows = Rows::open(sources.to_vec())?;
    let mut first = FirstPuzzles { puzzles: Vec::new(), alike: true, notes: Vec::new() };
    loop {
        let block = rows.block(READ_AT_ONCE)?;
        first.notes = rows.notes().to_vec();
        if block.is_empty() {
            return Ok(first);
        }
        for entry in only_valid(block).into_iter().flatten() {
            if entry.number >= most {
                return Ok(first);
            }
            first.alike &= entry.weight.is_none() && entry.family.is_none();
            first.puzzles.push(entry.puzzle);
        }
    }
}

/// How many rows are read at once.
const READ_AT_ONCE: usize = 1000;
