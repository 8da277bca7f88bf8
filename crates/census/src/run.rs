//! A whole scan: from sources to a dataset folder.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use serde::{Deserialize, Serialize};
use tallyhouse_collection::{Part, Progress, Rejects, Rows, Source};
use tallyhouse_storage::{read_json, write_json};

use crate::aside::make_folder;
use crate::layout::{MANIFEST, ledger_folder, plan_path};
use crate::ledger::{self, PartLedger};
use crate::manifest::tool;
use crate::part::scan_part;
use crate::{
    CensusError, CollectionNotes, Counts, Manifest, SCHEMA_VERSION, Settings, Tables, WalkNotes,
    tables,
};

/// What a finished scan found.
#[derive(Clone, Debug)]
pub struct Summary {
    /// All aggregates.
    pub counts: Counts,
    /// The manifest as written.
    pub manifest: Manifest,
    /// The first rejected row, in words.
    pub first_reject: Option<String>,
    /// The file that lists rejected rows, if there are any.
    pub rejects: Option<PathBuf>,
}

/// The settings that decide the bytes of a dataset; kept beside the parts of an unfinished run.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Plan {
    schema_version: u32,
    tool: String,
    sources: Vec<String>,
    walk: WalkNotes,
    tables: Tables,
    keep_states: bool,
    part_size: u64,
    seed: Option<u64>,
    shard: Option<String>,
}

impl Plan {
    fn of(settings: &Settings) -> Self {
        Self {
            schema_version: SCHEMA_VERSION,
            tool: tool(),
            sources: source_names(&settings.sources),
            walk: WalkNotes::from(&settings.walk),
            tables: settings.tables,
            keep_states: settings.keep_states,
            part_size: settings.part_size,
            seed: settings.seed,
            shard: settings.shard.map(|shard| shard.to_string()),
        }
    }

    /// Names the first setting in which two plans differ.
    fn difference(&self, earlier: &Self) -> Option<String> {
        let value = |plan: &Self| serde_json::to_value(plan).unwrap_or_default();
        let (now, then) = (value(self), value(earlier));
        now.as_object()?.iter().find_map(|(name, now)| {
            let then = &then[name];
            (now != then)
                .then(|| format!("{name} is now {now}, but the folder was begun with {then}"))
        })
    }
}

/// Scans all sources into a dataset folder.
///
/// # Errors
/// If the folder is in use, a source can't be read, no row is a valid puzzle, or writing fails.
/// Parts that are whole stay and can be resumed from.
pub fn run(settings: &Settings, progress: &dyn Progress) -> Result<Summary, CensusError> {
    run_then(settings, progress, &|_, _| Ok(()))
}

/// Scans all sources into a dataset folder and writes more files into it before the run counts as
/// finished: if it is stopped while `more` works, it can be resumed.
///
/// # Errors
/// As [`run`], and those of `more`.
pub fn run_then(
    settings: &Settings,
    progress: &dyn Progress,
    more: &dyn Fn(&Path, &Counts) -> Result<(), CensusError>,
) -> Result<Summary, CensusError> {
    let start = Instant::now();
    let mut rows = Rows::open(settings.sources.clone())?.expecting(settings.expect_rows);
    let part_size = settings.part_size as usize;
    // The first part is read before the folder is made: empty input leaves nothing behind.
    rows.read_ahead(part_size)?;
    prepare_folder(settings)?;

    let mut sums = Sums::default();
    let work = |part: Part<'_>| match settings.shard {
        Some(shard) if !shard.covers(part.number()) => Ok(None),
        _ => match whole_part(&part, settings)? {
            Some(ledger) => Ok(Some(ledger)),
            None => scan_part(part, settings).map(Some),
        },
    };
    rows.pass(part_size, progress, work, |ledger| {
        sums.add(ledger?);
        Ok::<(), CensusError>(())
    })?;
    finish(settings, &rows, sums, start, more)
}

fn source_names(sources: &[Source]) -> Vec<String> {
    sources.iter().map(|source| source.name().to_owned()).collect()
}

#[derive(Default)]
struct Sums {
    counts: Option<Counts>,
    parts: u64,
    first_reject: Option<String>,
}

impl Sums {
    /// Adds the next part; none if it belongs to another slice.
    fn add(&mut self, ledger: Option<PartLedger>) {
        self.parts += 1;
        let Some(ledger) = ledger else { return };
        self.first_reject = self.first_reject.take().or(ledger.first_reject);
        match &mut self.counts {
            Some(counts) => *counts += &ledger.counts,
            None => self.counts = Some(ledger.counts),
        }
    }
}

fn prepare_folder(settings: &Settings) -> Result<(), CensusError> {
    let out = &settings.out;
    let plan_path = plan_path(out);
    let plan = Plan::of(settings);
    let earlier: Option<Plan> = read_json(&plan_path)?;
    if settings.resume {
        let refuse = |reason| CensusError::NothingToResume { path: out.clone(), reason };
        let Some(earlier) = earlier else {
            return Err(refuse("it holds no unfinished census".to_owned()));
        };
        return plan.difference(&earlier).map_or(Ok(()), |difference| Err(refuse(difference)));
    }
    let advice =
        if earlier.is_some() { ", or continue the unfinished run in it with --resume" } else { "" };
    make_folder(out, advice)?;
    let tables: &[&str] = if settings.tables == Tables::All { &tables::NAMES } else { &[] };
    for folder in tables.iter().map(|table| out.join(table)).chain([ledger_folder(out)]) {
        fs::create_dir_all(&folder).map_err(CensusError::write(&folder))?;
    }
    write_json(&plan_path, &plan)?;
    Ok(())
}

/// Returns the record of a part that an earlier run has finished.
fn whole_part(part: &Part<'_>, settings: &Settings) -> Result<Option<PartLedger>, CensusError> {
    if !settings.resume {
        return Ok(None);
    }
    let ledger = PartLedger::read(&settings.out, part.number())?;
    match &ledger {
        Some(earlier) if earlier.digest != part.blocks().digest() => {
            Err(CensusError::NothingToResume {
                path: settings.out.clone(),
                reason: format!(
                    "the collection has changed: rows {} to {} are not those scanned before",
                    part.units().start + 1,
                    part.units().end
                ),
            })
        }
        _ => Ok(ledger),
    }
}

fn finish(
    settings: &Settings,
    rows: &Rows,
    sums: Sums,
    start: Instant,
    more: &dyn Fn(&Path, &Counts) -> Result<(), CensusError>,
) -> Result<Summary, CensusError> {
    let out = &settings.out;
    let counts = sums.counts.unwrap_or_else(|| Counts::new(&settings.walk.order));
    let rejects = gather_rejects(out, sums.parts)?;
    let first_reject = sums.first_reject;
    if let (0, Some(rejects)) = (counts.totals.puzzles, &rejects) {
        return Err(CensusError::AllRejected {
            rows: counts.totals.rows,
            first: first_reject.unwrap_or_default(),
            rejects: rejects.clone(),
        });
    }
    let walk = WalkNotes::from(&settings.walk);
    let manifest = Manifest {
        schema_version: SCHEMA_VERSION,
        tool: tool(),
        collection: CollectionNotes {
            sources: source_names(&settings.sources),
            blake3: rows.digest(),
            notes: rows.notes().to_vec(),
        },
        hardest_look: counts.hardest_by_name(&walk.order),
        walk,
        tables: settings.tables,
        keep_states: settings.keep_states,
        part_size: settings.part_size,
        parts: sums.parts,
        seed: settings.seed,
        shard: settings.shard.map(|shard| shard.to_string()),
        totals: counts.totals.clone(),
        rejected: counts.rejected.named(),
        wall_seconds: (start.elapsed().as_secs_f64() * 1000.0).round() / 1000.0,
    };
    write_results(out, &counts, &manifest)?;
    more(out, &counts)?;
    ledger::remove(out)?;
    Ok(Summary { counts, manifest, first_reject, rejects })
}

/// Writes the aggregates and, last, the manifest.
pub(crate) fn write_results(
    out: &Path,
    counts: &Counts,
    manifest: &Manifest,
) -> Result<(), CensusError> {
    counts.write(out)?;
    write_json(&out.join(MANIFEST), manifest)?;
    Ok(())
}

/// Joins the rejects of all parts, in order, into one file, if there are any.
fn gather_rejects(out: &Path, parts: u64) -> Result<Option<PathBuf>, CensusError> {
    let mut all = Rejects::in_folder(&[], out);
    for number in 0..parts {
        let rows = Rejects::read(&ledger::rejects_path(out, number))?;
        rows.iter().try_for_each(|row| all.copy(row))?;
    }
    Ok(all.finish()?)
}
