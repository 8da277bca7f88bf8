//! The plan of a scan: everything that decides the bytes of its dataset.

use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tallyhouse_collection::{Part, Place, PlacedPart, Progress, Source, Survey, survey};
use tallyhouse_stats::Level;
use tallyhouse_storage::{Digest, StorageError, read_sealed};

use crate::layout::plan_path;
use crate::manifest::tool;
use crate::{CensusError, Made, SCHEMA_VERSION, Settings, Tables, WalkNotes, source_of};

/// What decides the bytes of a dataset, but for the rows that are read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Wanted {
    pub(crate) schema_version: u32,
    pub(crate) tool: String,
    pub(crate) sources: Vec<String>,
    pub(crate) made: Option<Made>,
    pub(crate) walk: WalkNotes,
    pub(crate) tables: Tables,
    pub(crate) keep_states: bool,
    pub(crate) part_size: u64,
    pub(crate) seed: Option<u64>,
    /// The confidence level of `shares.csv`.
    pub(crate) level: Level,
}

/// The file `plan.json`, which is there while a scan is unfinished.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Plan {
    pub(crate) wanted: Wanted,
    /// How the scan is divided; none if it reads its sources from their beginning.
    pub(crate) divided: Option<Divided>,
}

/// How a scan is divided into parts that can be done by themselves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Divided {
    /// BLAKE3 of the program.
    program: Digest,
    /// How many parts there are.
    pub(crate) parts: u64,
    /// The comment lines at the head of the collection.
    pub(crate) notes: Vec<String>,
    /// The digest of the rows, if they are not made.
    pub(crate) rows: Option<String>,
    /// Where the sources lie.
    paths: Vec<PathBuf>,
    /// Where each part begins, if it is not made.
    places: Vec<PlacedPart>,
}

impl Wanted {
    pub(crate) fn of(settings: &Settings) -> Self {
        Self {
            schema_version: SCHEMA_VERSION,
            tool: tool(),
            sources: settings.sources.iter().map(|source| source.name().to_owned()).collect(),
            made: settings.made.clone(),
            walk: WalkNotes::from(&settings.walk),
            tables: settings.tables,
            keep_states: settings.keep_states,
            part_size: settings.part_size,
            seed: settings.seed,
            level: settings.level,
        }
    }

    /// Names the first setting in which this differs from an earlier one.
    pub(crate) fn difference(&self, earlier: &Self) -> Option<String> {
        let value = |wanted: &Self| serde_json::to_value(wanted).unwrap_or_default();
        let (now, then) = (value(self), value(earlier));
        now.as_object()?.iter().find_map(|(name, now)| {
            let then = &then[name];
            (now != then)
                .then(|| format!("{name} is now {now}, but the folder was begun with {then}"))
        })
    }

    /// Returns the digest by which equal scans of equal rows know each other, wherever the sources lie
    /// and whichever build of the program scans them.
    pub(crate) fn digest(&self, rows: &str) -> Digest {
        digest(&(self, rows))
    }
}

fn digest(value: &impl Serialize) -> Digest {
    Digest::of(&serde_json::to_vec(value).unwrap_or_default())
}

impl Plan {
    /// Plans a scan that reads its sources from their beginning.
    pub(crate) fn undivided(settings: &Settings) -> Self {
        Self { wanted: Wanted::of(settings), divided: None }
    }

    /// Plans a scan whose parts can be done by themselves.
    pub(crate) fn divided(settings: &Settings) -> Result<Self, CensusError> {
        let wanted = Wanted::of(settings);
        let divided = match &settings.made {
            Some(Made { recipe, count }) => {
                let head = recipe.head(&(0..*count));
                let note = |line: &str| line.trim_start_matches("# ").to_owned();
                Divided {
                    program: program()?,
                    parts: count.div_ceil(settings.part_size),
                    notes: head.lines().map(note).collect(),
                    rows: None,
                    paths: Vec::new(),
                    places: Vec::new(),
                }
            }
            None => {
                let Survey { parts, digest, notes } =
                    survey(&settings.sources, settings.part_size)?;
                Divided {
                    program: program()?,
                    parts: parts.len() as u64,
                    notes,
                    rows: Some(digest),
                    paths: settings.sources.iter().map(absolute).collect::<Result<_, _>>()?,
                    places: parts,
                }
            }
        };
        Ok(Self { wanted, divided: Some(divided) })
    }

    /// Reads the plan of an unfinished scan.
    pub(crate) fn read(out: &Path) -> Result<Option<Self>, StorageError> {
        read_sealed(&plan_path(out))
    }

    /// Returns the digest by which parts know the plan that they were scanned by.
    pub(crate) fn digest(&self) -> Digest {
        digest(self)
    }

    /// Returns how the scan is divided, for a run that does or joins parts.
    ///
    /// # Errors
    /// If it is not, or if another program planned it.
    pub(crate) fn parts_by_themselves(&self, out: &Path) -> Result<&Divided, CensusError> {
        let refuse =
            |reason: &str| CensusError::NoPlan { path: out.to_owned(), reason: reason.to_owned() };
        let Some(divided) = &self.divided else {
            return Err(refuse(
                "the scan in it was begun without --plan: continue it as it was begun, with --resume",
            ));
        };
        if divided.program == program()? {
            Ok(divided)
        } else {
            Err(refuse(
                "another program made the plan in it: use that one, or plan anew in another folder",
            ))
        }
    }

    /// Opens the sources where they lie.
    pub(crate) fn sources(&self) -> Result<Vec<Source>, CensusError> {
        if let Some(Made { recipe, count }) = &self.wanted.made {
            return Ok(vec![recipe.source(*count)]);
        }
        let paths = self.divided.iter().flat_map(|divided| &divided.paths);
        let named = paths.zip(&self.wanted.sources);
        named.map(|(path, name)| Ok(source_of(path)?.named(name))).collect()
    }

    /// Reads one part by itself.
    ///
    /// # Errors
    /// If a source can't be read or has changed.
    pub(crate) fn part<'a>(
        &self,
        divided: &Divided,
        sources: &[Source],
        number: u64,
        progress: &'a dyn Progress,
    ) -> Result<Part<'a>, CensusError> {
        let size = self.wanted.part_size;
        let place: Place = match &self.wanted.made {
            Some(Made { recipe, count }) => recipe.place(*count, number * size),
            None => {
                let index = number as usize;
                let place = divided.places[index].place;
                if !Survey::is_unchanged(&divided.places, index, sources)? {
                    let next = divided.places.get(index + 1);
                    let last = next.map_or(sources.len() - 1, |next| next.place.source);
                    let names = sources[place.source..=last].iter().map(Source::name);
                    return Err(CensusError::SourceChanged {
                        sources: names.collect::<Vec<_>>().join(", "),
                        part: number,
                    });
                }
                place
            }
        };
        Ok(Part::read(sources, &place, number, size, progress)?)
    }
}

impl Divided {
    /// Returns the number of the last part.
    pub(crate) const fn last(&self) -> u64 {
        self.parts.saturating_sub(1)
    }
}

fn absolute(source: &Source) -> Result<PathBuf, CensusError> {
    let path = source.path().unwrap_or(Path::new(source.name()));
    Ok(std::path::absolute(path).map_err(StorageError::read(path))?)
}

/// Returns the digest of the program that runs.
fn program() -> Result<Digest, CensusError> {
    let digest = || -> io::Result<Digest> { Digest::of_file(&std::env::current_exe()?) };
    Ok(digest().map_err(StorageError::read(Path::new("the program itself")))?)
}
