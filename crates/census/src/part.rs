//! One part: a fixed range of rows, scanned by one thread.

use tallyhouse_collection::{Part, Rejects};

use crate::layout::file_stem;
use crate::ledger::{self, PartLedger};
use crate::tables::PartTables;
use crate::{CensusError, Counts, Scanner, Settings, Sink, Tables};

/// Scans a part and writes its files; its ledger last, which marks the part as whole.
pub(crate) fn scan_part(part: Part<'_>, settings: &Settings) -> Result<PartLedger, CensusError> {
    let (number, digest) = (part.number(), part.blocks().digest());
    let order = &settings.walk.order;
    let mut counts = Counts::new(order);
    let mut tables =
        (settings.tables == Tables::All).then(|| PartTables::new(order, settings.keep_states));
    let rejects_path = ledger::rejects_path(&settings.out, number);
    let mut rejects = Rejects::in_file(&settings.sources, rejects_path);
    let mut scanner = Scanner::new(&settings.walk, settings.keep_states);
    for block in part {
        for scanned in scanner.scan(block) {
            match scanned {
                Ok(scan) => {
                    counts.puzzle(scan);
                    if let Some(tables) = &mut tables {
                        tables.puzzle(scan);
                    }
                }
                Err(reject) => rejects.take(&reject)?,
            }
        }
    }
    counts.reject(rejects.counts());

    if let Some(tables) = tables {
        tables.write(&settings.out, &format!("{}.parquet", file_stem(number)))?;
    }
    rejects.finish()?;
    let first_reject = rejects.first().map(str::to_owned);
    let ledger = PartLedger { digest, first_reject, counts };
    ledger.write(&settings.out, number)?;
    Ok(ledger)
}
