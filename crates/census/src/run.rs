//! Whole scans: planned, done part by part, and finished, in one run or in many.

use std::fs;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

use serde::Serialize;
use tallyhouse_collection::{Part, Progress, Rows, Silent};
use tallyhouse_storage::{Digest, OutFolder, Sharing, write_sealed};

use crate::dataset::Listed;
use crate::finish::{Gathered, MakeShares, Origin, Summary, write_dataset};
use crate::layout::{self, MANIFEST, ledger_folder, plan_path};
use crate::ledger::PartLedger;
use crate::part::PartScan;
use crate::plan::{Divided, Plan, Wanted};
use crate::{
    CensusError, ClusterSums, Counts, HouseRate, Manifest, Settings, Tables, manifest, tables,
};

/// Scans all sources into a dataset folder.
///
/// # Errors
/// If the folder is in use, a source can't be read, no row is a valid puzzle, or writing fails.
/// Parts that are whole stay and can be resumed from.
pub fn run(settings: &Settings, progress: &dyn Progress) -> Result<Summary, CensusError> {
    run_with(settings, progress, None)
}

/// Scans all sources into a dataset folder, with `shares.csv` if it can be made.
///
/// # Errors
/// As [`run`], and those of `shares`.
pub fn run_with(
    settings: &Settings,
    progress: &dyn Progress,
    shares: Option<MakeShares<'_>>,
) -> Result<Summary, CensusError> {
    let start = Instant::now();
    settings.check()?;
    let mut rows = Rows::open(settings.sources.clone())?
        .expecting(settings.expect_rows)
        .with_families_together()
        .without_digest();
    // Some rows are read before the folder is made: empty input leaves nothing behind.
    rows.read_ahead(1000)?;
    let out = &settings.out;
    let folder = OutFolder::claim(out, Sharing::Exclusive)?;
    match finished(out)? {
        Some(_) if settings.replace => folder.clear()?,
        Some(found) if settings.resume => {
            return resume_finished(settings, &folder, found, rows, progress);
        }
        Some(_) => return Err(exists(out)),
        None if settings.replace => clear_unfinished(&folder)?,
        None => {}
    }
    let plan = begin(settings)?;
    let digest = plan.digest();
    let scan = part_scan(out, &plan, digest, &settings.sources)?;
    let mut gathered = Gathered::new(&scan.walk.order);
    let work = |part: Part<'_>| -> Result<PartLedger, CensusError> {
        let number = part.number();
        let earlier = settings.resume.then(|| PartLedger::of_whole_part(out, digest, number));
        match earlier.flatten() {
            Some(earlier) if earlier.blocks(out, number)? != part.blocks() => {
                Err(CensusError::NothingToResume {
                    path: out.clone(),
                    reason: format!(
                        "the collection has changed: rows {} to {} are not those scanned before",
                        part.units().start + 1,
                        part.units().end
                    ),
                })
            }
            Some(earlier) => Ok(earlier),
            None => scan.scan(part),
        }
    };
    rows.pass(settings.part_size as usize, progress, work, |ledger| gathered.add(out, ledger?))?;
    let origin = Origin { notes: rows.notes().to_vec(), seconds: start.elapsed().as_secs_f64() };
    write_dataset(out, &plan.wanted, gathered, origin, shares)
}

/// Plans a scan whose parts can be done by themselves, by many runs and machines.
///
/// # Errors
/// If the sources can't be cut into parts, or the folder is in use for anything but this plan.
pub fn plan(settings: &Settings) -> Result<Planned, CensusError> {
    settings.check()?;
    let plan = Plan::divided(settings)?;
    let out = &settings.out;
    let _folder = OutFolder::claim(out, Sharing::Exclusive)?;
    let parts = plan.divided.as_ref().map_or(0, |divided| divided.parts);
    let planned = Planned { parts, part_size: settings.part_size };
    if let Some(found) = finished(out)? {
        let rows = plan.divided.as_ref().and_then(|divided| divided.rows.as_deref());
        let same = plan.wanted.digest(rows.unwrap_or_default()) == found.plan;
        return if same { Ok(planned) } else { Err(exists(out)) };
    }
    match Plan::read(out)? {
        Some(earlier) if earlier == plan => Ok(planned),
        Some(earlier) => Err(CensusError::NoPlan {
            path: out.clone(),
            reason: plan.wanted.difference(&earlier.wanted).unwrap_or_else(|| {
                "there is another plan in it, of other rows, other places or another program"
                    .to_owned()
            }),
        }),
        None => {
            expect_unused(out)?;
            write_plan(out, &plan)?;
            Ok(planned)
        }
    }
}

/// A scan that is planned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Planned {
    /// How many parts there are.
    pub parts: u64,
    /// How many rows each part has; of families that are made, how many families.
    pub part_size: u64,
}

/// What became of some parts of a planned scan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct PartsDone {
    /// How many parts were asked for.
    pub parts: u64,
    /// How many of them were scanned now.
    pub done: u64,
    /// How many of them were whole already.
    pub skipped: u64,
    /// The rows of all of them; not counted if the scan is finished.
    pub rows: u64,
}

/// Does some parts of a planned scan; those that are whole are passed over. May be run any number of
/// times, at the same time too.
///
/// # Errors
/// If there is no such part, another program made the plan, a source has changed, or writing fails.
pub fn do_parts(
    out: &Path,
    wanted: std::ops::RangeInclusive<u64>,
    progress: &dyn Progress,
) -> Result<PartsDone, CensusError> {
    let asked = wanted.end() - wanted.start() + 1;
    let all_skipped = PartsDone { parts: asked, skipped: asked, ..PartsDone::default() };
    if finished(out)?.is_some() {
        return Ok(all_skipped);
    }
    let plan = Plan::read(out)?.ok_or_else(|| no_plan(out))?;
    let divided = plan.parts_by_themselves(out)?;
    if *wanted.end() > divided.last() {
        return Err(CensusError::NoSuchPart { asked: *wanted.end(), last: divided.last() });
    }
    let _folder = OutFolder::claim(out, Sharing::Shared)?;
    make_table_folders(out, &plan.wanted)?;
    progress.expect(asked * plan.wanted.part_size);
    let digest = plan.digest();
    let done = by_many(wanted, &|number| one_part(out, &plan, digest, divided, number, progress));
    match done {
        // A run that finished the scan in the meantime had all parts.
        Err(_) if finished(out).is_ok_and(|found| found.is_some()) => Ok(all_skipped),
        done => done,
    }
}

/// Whether a part was scanned now, and its rows.
type PartDone = (bool, u64);

fn one_part(
    out: &Path,
    plan: &Plan,
    digest: Digest,
    divided: &Divided,
    number: u64,
    progress: &dyn Progress,
) -> Result<PartDone, CensusError> {
    if let Some(earlier) = PartLedger::of_whole_part(out, digest, number) {
        progress.advance(earlier.counts.totals.rows);
        return Ok((false, earlier.counts.totals.rows));
    }
    let sources = plan.sources()?;
    let scan = part_scan(out, plan, digest, &sources)?;
    let ledger = scan.scan(plan.part(divided, &sources, number, progress)?)?;
    Ok((true, ledger.counts.totals.rows))
}

/// Does parts by as many threads as rayon has, each the next one; ends with the first error.
fn by_many(
    wanted: std::ops::RangeInclusive<u64>,
    one: &(dyn Fn(u64) -> Result<PartDone, CensusError> + Sync),
) -> Result<PartsDone, CensusError> {
    let next = AtomicU64::new(*wanted.start());
    let asked = wanted.end() - wanted.start() + 1;
    let sum = Mutex::new(Ok(PartsDone { parts: asked, ..PartsDone::default() }));
    std::thread::scope(|scope| {
        for _ in 0..rayon::current_num_threads().min(asked as usize) {
            scope.spawn(|| {
                while let number = next.fetch_add(1, Ordering::Relaxed)
                    && number <= *wanted.end()
                {
                    let done = one(number);
                    let mut sum = sum.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                    match (&mut *sum, done) {
                        (Ok(sum), Ok((scanned, rows))) => {
                            sum.done += u64::from(scanned);
                            sum.skipped += u64::from(!scanned);
                            sum.rows += rows;
                        }
                        (sum, Err(error)) => {
                            next.store(wanted.end() + 1, Ordering::Relaxed);
                            if sum.is_ok() {
                                *sum = Err(error);
                            }
                        }
                        (Err(_), Ok(_)) => {}
                    }
                }
            });
        }
    });
    sum.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// Does all parts of a planned scan that are missing or damaged, and finishes it.
///
/// # Errors
/// As [`do_parts`] and [`finish`].
pub fn resume(
    out: &Path,
    progress: &dyn Progress,
    shares: Option<MakeShares<'_>>,
) -> Result<Summary, CensusError> {
    if let Some(plan) = Plan::read(out)? {
        let divided = plan.parts_by_themselves(out)?;
        do_parts(out, 0..=divided.last(), progress)?;
    }
    finish(out, shares)
}

/// Finishes a planned scan whose parts are all whole: adds up what is known of them, and reads no
/// table. Does nothing if the scan is finished.
///
/// # Errors
/// If a part is missing or damaged, another program made the plan, or writing fails.
pub fn finish(out: &Path, shares: Option<MakeShares<'_>>) -> Result<Summary, CensusError> {
    let start = Instant::now();
    if !ledger_folder(out).exists() {
        return match finished(out)? {
            Some(found) => summary_of(out, found),
            None => Err(no_plan(out)),
        };
    }
    let _folder = OutFolder::claim(out, Sharing::Exclusive)?;
    if let Some(found) = finished(out)? {
        layout::remove_ledger(out)?;
        return summary_of(out, found);
    }
    let plan = Plan::read(out)?.ok_or_else(|| no_plan(out))?;
    let divided = plan.parts_by_themselves(out)?;
    expect_own(out)?;
    let digest = plan.digest();
    let order = walk_of(out, &plan.wanted)?.order;
    let mut gathered = Gathered::new(&order);
    let mut seconds = 0.0;
    for number in 0..divided.parts {
        let ledger = whole_part(out, digest, number)?;
        seconds += ledger.seconds;
        gathered.add(out, ledger)?;
    }
    if divided.rows.as_ref().is_some_and(|rows| *rows != gathered.rows_digest()) {
        return Err(no_plan(out));
    }
    let seconds = seconds + start.elapsed().as_secs_f64();
    let origin = Origin { notes: divided.notes.clone(), seconds };
    write_dataset(out, &plan.wanted, gathered, origin, shares)
}

/// Reads the record of a part that must be whole.
fn whole_part(out: &Path, plan: Digest, number: u64) -> Result<PartLedger, CensusError> {
    let failed = |reason: String| CensusError::NoPart { path: out.to_owned(), number, reason };
    let ledger = PartLedger::read(out, number).map_err(|error| failed(error.to_string()))?;
    let ledger = ledger.ok_or_else(|| failed("it is missing".to_owned()))?;
    if ledger.plan != plan {
        return Err(failed("it was scanned by another plan".to_owned()));
    }
    ledger.check(out).map_err(|error| failed(error.to_string()))?;
    Ok(ledger)
}

fn part_scan<'a>(
    out: &Path,
    plan: &Plan,
    digest: Digest,
    sources: &'a [tallyhouse_collection::Source],
) -> Result<PartScan<'a>, CensusError> {
    Ok(PartScan {
        out: out.to_owned(),
        sources,
        walk: walk_of(out, &plan.wanted)?,
        tables: plan.wanted.tables,
        keep_states: plan.wanted.keep_states,
        plan: digest,
    })
}

fn walk_of(out: &Path, wanted: &Wanted) -> Result<tallyhouse_engine::WalkOptions, CensusError> {
    let damaged = |error: crate::UnknownWalk| CensusError::Damaged {
        path: plan_path(out),
        reason: error.to_string(),
    };
    wanted.walk.options().map_err(damaged)
}

/// Begins a scan in one run, or takes up one that was broken off.
fn begin(settings: &Settings) -> Result<Plan, CensusError> {
    let out = &settings.out;
    let plan = Plan::undivided(settings);
    let refuse = |reason| CensusError::NothingToResume { path: out.clone(), reason };
    match Plan::read(out)? {
        Some(earlier) if settings.resume => {
            if let Some(difference) = plan.wanted.difference(&earlier.wanted) {
                return Err(refuse(difference));
            }
            expect_own(out)?;
            layout::sweep(out)?;
            make_folders(out, &earlier.wanted)?;
            Ok(earlier)
        }
        Some(_) => Err(exists(out)),
        None if settings.resume && expect_unused(out).is_err() => {
            Err(refuse("it holds no unfinished census".to_owned()))
        }
        None => {
            expect_unused(out)?;
            write_plan(out, &plan)?;
            Ok(plan)
        }
    }
}

/// Removes an unfinished scan, if there is one and nobody changed it.
fn clear_unfinished(folder: &OutFolder) -> Result<(), CensusError> {
    let out = folder.path();
    if Plan::read(out)?.is_some() {
        expect_own(out)?;
        folder.expect_unchanged(&PartLedger::files_of_all(out)?)?;
        layout::remove_unfinished(out)?;
    }
    Ok(())
}

fn write_plan(out: &Path, plan: &Plan) -> Result<(), CensusError> {
    make_folders(out, &plan.wanted)?;
    layout::sweep(out)?;
    write_sealed(&plan_path(out), plan)?;
    Ok(())
}

/// Makes the folders of the ledger and the tables.
fn make_folders(out: &Path, wanted: &Wanted) -> Result<(), CensusError> {
    make_table_folders(out, wanted)?;
    let folder = ledger_folder(out);
    fs::create_dir_all(&folder).map_err(CensusError::write(&folder))
}

/// Makes the folders of the tables, which are missing where the plan alone was copied.
fn make_table_folders(out: &Path, wanted: &Wanted) -> Result<(), CensusError> {
    let tables: &[&str] = if wanted.tables == Tables::All { &tables::NAMES } else { &[] };
    for folder in tables.iter().map(|table| out.join(table)) {
        fs::create_dir_all(&folder).map_err(CensusError::write(&folder))?;
    }
    Ok(())
}

/// Fails if a folder holds anything but the empty folders of a run that was ended at its very
/// beginning.
fn expect_unused(out: &Path) -> Result<(), CensusError> {
    if layout::is_unused(out)? { Ok(()) } else { Err(exists(out)) }
}

/// Fails if a folder holds something that no scan has put there.
fn expect_own(out: &Path) -> Result<(), CensusError> {
    let foreign =
        |found| tallyhouse_storage::StorageError::Foreign { folder: out.to_owned(), found };
    layout::foreign(out)?.map_or(Ok(()), |found| Err(foreign(found).into()))
}

fn exists(out: &Path) -> CensusError {
    // A run may have been ended between its manifest and the end of its sweeping up.
    let advice = if ledger_folder(out).exists() {
        ", or continue the unfinished run in it with --resume, or begin anew with --replace"
    } else if out.join(MANIFEST).exists() {
        ", or allow it to be replaced with --replace"
    } else {
        ""
    };
    CensusError::Exists { path: out.to_owned(), advice }
}

fn no_plan(out: &Path) -> CensusError {
    let reason = "there is no plan in it: make one with --plan".to_owned();
    CensusError::NoPlan { path: out.to_owned(), reason }
}

/// Returns the manifest of a folder in which a scan is finished.
fn finished(out: &Path) -> Result<Option<Manifest>, CensusError> {
    if out.join(MANIFEST).exists() { manifest(out).map(Some) } else { Ok(None) }
}

/// Takes up a scan that is finished: the same rows scanned in the same way are there already.
fn resume_finished(
    settings: &Settings,
    folder: &OutFolder,
    found: Manifest,
    mut rows: Rows,
    progress: &dyn Progress,
) -> Result<Summary, CensusError> {
    let out = &settings.out;
    let mut gathered = Gathered::new(&settings.walk.order);
    rows.pass(
        settings.part_size as usize,
        &Silent,
        |part| part.blocks(),
        |blocks| {
            gathered.add_blocks(&blocks);
            Ok::<(), CensusError>(())
        },
    )?;
    let wanted = Wanted::of(settings);
    let rows = if wanted.made.is_some() { String::new() } else { gathered.rows_digest() };
    if wanted.digest(&rows) != found.plan {
        let reason = "it holds the finished census of other rows, or with other options".to_owned();
        return Err(CensusError::NothingToResume { path: out.clone(), reason });
    }
    mend(settings, folder, &found, progress)?;
    summary_of(out, found)
}

/// Scans those parts of a finished scan again whose tables are damaged. The sources must be known to
/// hold the same rows.
fn mend(
    settings: &Settings,
    folder: &OutFolder,
    found: &Manifest,
    progress: &dyn Progress,
) -> Result<(), CensusError> {
    let out = &settings.out;
    layout::remove_ledger(out)?;
    let dataset = Listed::of(out, found)?;
    let damaged = dataset.damaged_parts(folder)?;
    if damaged.is_empty() {
        return Ok(());
    }
    let plan = Plan::undivided(settings);
    make_folders(out, &plan.wanted)?;
    let scan = part_scan(out, &plan, plan.digest(), &settings.sources)?;
    let work = |part: Part<'_>| -> Result<(), CensusError> {
        if damaged.contains(&part.number()) { scan.scan(part).map(drop) } else { Ok(()) }
    };
    let mut rows = Rows::open(settings.sources.clone())?.with_families_together().without_digest();
    rows.pass(settings.part_size as usize, progress, work, |done| done)?;
    layout::remove_ledger(out)?;
    dataset.check()
}

/// Returns what a finished scan found.
fn summary_of(out: &Path, manifest: Manifest) -> Result<Summary, CensusError> {
    let dataset = Listed::of(out, &manifest)?;
    let rejects = manifest.rejected_rows() > 0;
    Ok(Summary {
        counts: Counts::read(out, &manifest, &dataset)?,
        sums: ClusterSums::read(out, &manifest, &dataset)?,
        rates: HouseRate::read(&dataset)?,
        level: manifest.level,
        first_reject: dataset.first_reject()?,
        rejects: rejects.then(|| out.join(tallyhouse_collection::Rejects::FILE_NAME)),
        manifest,
    })
}
