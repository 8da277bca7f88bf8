//! The end of a scan: what is known of its parts is added up and written, the manifest last.

use std::io::Write;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tallyhouse_collection::{BlockDigests, Rejects};
use tallyhouse_engine::Order;
use tallyhouse_stats::Level;
use tallyhouse_storage::{Files, StorageError, Written, write_file, write_json, write_sealed_and};

use crate::layout::{self, FILES, MANIFEST, RATES, RESULTS, SHARES, SUMS, listed, rejects_path};
use crate::ledger::PartLedger;
use crate::manifest::{FileList, tool};
use crate::plan::Wanted;
use crate::rates::PartRates;
use crate::sums::PartSums;
use crate::{
    CensusError, ClusterSums, CollectionNotes, Counts, HouseRate, Manifest, SCHEMA_VERSION,
};

/// What a finished scan found.
#[derive(Clone, Debug)]
pub struct Summary {
    /// All aggregates.
    pub counts: Counts,
    /// Sums by weight, if some puzzle has a weight or a family.
    pub sums: Option<ClusterSums>,
    /// How often houses show each shape.
    pub rates: Vec<HouseRate>,
    /// The confidence level of `shares.csv` and of the rates.
    pub level: Level,
    /// The manifest as written.
    pub manifest: Manifest,
    /// The first rejected row, in words.
    pub first_reject: Option<String>,
    /// The file that lists rejected rows, if there are any.
    pub rejects: Option<PathBuf>,
}

/// Makes the content of `shares.csv` from what a scan found.
pub type MakeShares<'a> =
    &'a dyn Fn(&Counts, Option<&ClusterSums>, Level) -> Result<Vec<u8>, CensusError>;

/// What is known of the parts, added up in their order.
pub(crate) struct Gathered {
    counts: Counts,
    /// Of the parts that have any.
    sums: Option<PartSums>,
    rates: PartRates,
    parts: u64,
    blocks: BlockDigests,
    first_reject: Option<String>,
    /// The tables of all parts.
    files: Files,
    /// The parts with rejected rows.
    rejects: Vec<u64>,
}

/// Where the rows of a scan came from, and how long it took.
pub(crate) struct Origin {
    pub(crate) notes: Vec<String>,
    pub(crate) seconds: f64,
}

impl Gathered {
    pub(crate) fn new(order: &Order) -> Self {
        Self {
            counts: Counts::new(order),
            sums: None,
            rates: PartRates::default(),
            parts: 0,
            blocks: BlockDigests::default(),
            first_reject: None,
            files: Files::default(),
            rejects: Vec::new(),
        }
    }

    /// Adds the next part.
    pub(crate) fn add(&mut self, out: &Path, ledger: PartLedger) -> Result<(), CensusError> {
        let number = self.parts;
        self.parts += 1;
        self.add_blocks(&ledger.blocks(out, number)?);
        self.files.extend(&ledger.files());
        if ledger.first_reject.is_some() {
            self.files.remove(&listed(out, &rejects_path(out, number))?);
            self.rejects.push(number);
        }
        self.first_reject = self.first_reject.take().or(ledger.first_reject);
        self.counts += &ledger.counts;
        match (&mut self.sums, ledger.sums) {
            (Some(sums), Some(next)) => sums.append(next),
            (sums, next) => *sums = sums.take().or(next),
        }
        self.rates.append(ledger.rates);
        Ok(())
    }

    pub(crate) fn add_blocks(&mut self, blocks: &BlockDigests) {
        self.blocks.append(blocks);
    }

    /// Returns the digest of all rows.
    pub(crate) fn rows_digest(&self) -> String {
        self.blocks.digest()
    }
}

/// Writes what a scan found and removes its ledger.
pub(crate) fn write_dataset(
    out: &Path,
    wanted: &Wanted,
    gathered: Gathered,
    origin: Origin,
    shares: Option<MakeShares<'_>>,
) -> Result<Summary, CensusError> {
    let rows = gathered.rows_digest();
    let plan = wanted.digest(if wanted.made.is_some() { "" } else { &rows });
    let Gathered { counts, sums, rates, parts, first_reject, mut files, rejects, .. } = gathered;
    let rejects = join_rejects(out, &rejects)?;
    if let (0, Some(rejects)) = (counts.totals.puzzles, &rejects) {
        return Err(CensusError::AllRejected {
            rows: counts.totals.rows,
            first: first_reject.unwrap_or_default(),
            rejects: rejects.clone(),
        });
    }
    let sums = sums.map(|sums| sums.finish(&counts));
    counts.write(out)?;
    let rates = rates.finish(wanted.level).map_err(std::io::Error::other);
    let rates = rates.map_err(CensusError::write(&out.join(RATES)))?;
    HouseRate::write(&rates, out)?;
    if let Some(sums) = &sums {
        write_json(&out.join(SUMS), sums)?;
    }
    if let Some(shares) = shares {
        let csv = shares(&counts, sums.as_ref(), wanted.level)?;
        write_file(&out.join(SHARES), |writer| writer.write_all(&csv))?;
    }
    for path in RESULTS.map(|name| out.join(name)).iter().filter(|path| path.exists()) {
        files.insert(listed(out, path)?, Written::of_file(path)?);
    }
    let Written { bytes, blake3 } = write_json(&out.join(FILES), &files)?;
    let manifest = Manifest {
        schema_version: SCHEMA_VERSION,
        tool: tool(),
        plan,
        collection: CollectionNotes {
            sources: wanted.sources.clone(),
            blake3: rows,
            notes: origin.notes,
            made: wanted.made.clone(),
        },
        hardest_look: counts.hardest_by_name(&wanted.walk.order),
        walk: wanted.walk.clone(),
        tables: wanted.tables,
        keep_states: wanted.keep_states,
        part_size: wanted.part_size,
        parts,
        seed: wanted.seed,
        level: wanted.level,
        totals: counts.totals.clone(),
        rejected: counts.rejected.named(),
        files: FileList { list: FILES.to_owned(), bytes, blake3 },
        wall_seconds: Some((origin.seconds * 1000.0).round() / 1000.0),
    };
    write_manifest(out, &manifest)?;
    layout::remove_ledger(out)?;
    Ok(Summary { counts, sums, rates, level: wanted.level, manifest, first_reject, rejects })
}

/// What differs between equal runs.
#[derive(Serialize)]
struct Apart {
    wall_seconds: Option<f64>,
}

/// Writes the manifest with its own digest, which does not cover the wall time.
pub(crate) fn write_manifest(out: &Path, manifest: &Manifest) -> Result<(), StorageError> {
    let apart = Apart { wall_seconds: manifest.wall_seconds };
    let sealed = Manifest { wall_seconds: None, ..manifest.clone() };
    write_sealed_and(&out.join(MANIFEST), &sealed, &apart).map(drop)
}

/// Joins the rejects of all parts, in order, into one file, if there are any.
fn join_rejects(out: &Path, parts: &[u64]) -> Result<Option<PathBuf>, CensusError> {
    let mut all = Rejects::in_folder(&[], out);
    for &number in parts {
        let rows = Rejects::read(&rejects_path(out, number))?;
        rows.iter().try_for_each(|row| all.copy(row))?;
    }
    Ok(all.finish()?)
}
