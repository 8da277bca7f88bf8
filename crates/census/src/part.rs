//! One part: a fixed range of rows, scanned by one thread.

use std::path::PathBuf;
use std::time::Instant;

use tallyhouse_collection::{Part, Rejects, Source};
use tallyhouse_engine::WalkOptions;
use tallyhouse_storage::{Digest, Written};

use crate::layout::{file_stem, rejects_path};
use crate::ledger::{PartLedger, PartResults};
use crate::rates::RateSink;
use crate::sums::PartSums;
use crate::tables::PartTables;
use crate::{CensusError, Counts, Scanner, Sink, Tables};

/// How the parts of a scan are scanned.
pub(crate) struct PartScan<'a> {
    pub(crate) out: PathBuf,
    pub(crate) sources: &'a [Source],
    pub(crate) walk: WalkOptions,
    pub(crate) tables: Tables,
    pub(crate) keep_states: bool,
    /// The digest of the plan.
    pub(crate) plan: Digest,
}

impl PartScan<'_> {
    /// Scans a part and writes its files; its ledger last, which marks the part as whole.
    pub(crate) fn scan(&self, part: Part<'_>) -> Result<PartLedger, CensusError> {
        let start = Instant::now();
        let (number, blocks) = (part.number(), part.blocks());
        let order = &self.walk.order;
        let mut counts = Counts::new(order);
        let mut sums = PartSums::new(&counts);
        let mut rates = RateSink::default();
        let mut tables =
            (self.tables == Tables::All).then(|| PartTables::new(order, self.keep_states));
        let mut rejects = Rejects::in_file(self.sources, rejects_path(&self.out, number));
        let mut scanner = Scanner::new(&self.walk, self.keep_states);
        for block in part {
            for scanned in scanner.scan(block) {
                match scanned {
                    Ok(scan) => {
                        counts.puzzle(scan);
                        sums.puzzle(scan);
                        rates.puzzle(scan);
                        if let Some(tables) = &mut tables {
                            tables.puzzle(scan);
                        }
                    }
                    Err(reject) => rejects.take(&reject)?,
                }
            }
        }
        counts.reject(rejects.counts());

        let mut files = match tables {
            Some(tables) => tables.write(&self.out, &format!("{}.parquet", file_stem(number)))?,
            None => Vec::new(),
        };
        if let Some(rejects) = rejects.finish()? {
            let written = Written::of_file(&rejects)?;
            files.push((rejects, written));
        }
        let first_reject = rejects.first().map(str::to_owned);
        let (sums, rates) = (sums.if_any(), rates.finish());
        let seconds = start.elapsed().as_secs_f64();
        let results = PartResults { blocks, first_reject, counts, sums, rates, seconds };
        let ledger = PartLedger::new(self.plan, results, &self.out, &files)?;
        ledger.write(&self.out, number)?;
        Ok(ledger)
    }
}
