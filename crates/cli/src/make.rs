//! `tallyhouse make`: generate puzzles.

use std::io::{self, BufWriter, Write};
use std::path::Path;

use anyhow::ensure;
use tallyhouse_census::write_file;
use tallyhouse_collection::MinimalByDeletion;

use crate::args::Make;
use crate::progress;

pub(crate) fn run(make: &Make, quiet: bool) -> anyhow::Result<()> {
    if make.out.as_os_str() == "-" {
        let mut out = BufWriter::new(io::stdout().lock());
        fill(&mut out, make.count, make.seed, quiet)?;
        out.flush()?;
        return Ok(());
    }
    ensure!(
        make.replace || !make.out.exists(),
        "{} exists already: choose another file, or allow it to be replaced with --replace",
        make.out.display()
    );
    into_file(&make.out, make.count, make.seed, quiet)
}

/// Generates a collection into a file.
pub(crate) fn into_file(path: &Path, count: u64, seed: u64, quiet: bool) -> anyhow::Result<()> {
    write_file(path, |writer| fill(writer, count, seed, quiet))?;
    Ok(())
}

fn fill(writer: &mut dyn Write, count: u64, seed: u64, quiet: bool) -> io::Result<()> {
    let bar = progress::bar("making", Some(count), quiet);
    let written = MinimalByDeletion { seed }.write(count, writer, &|more| bar.inc(more));
    bar.finish_and_clear();
    written
}
