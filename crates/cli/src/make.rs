//! `tallyhouse make`: generate puzzles.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufReader, BufWriter, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use anyhow::{Context, ensure};
use tallyhouse_collection::{Recipe, WriteError};

use crate::args::Make;
use crate::progress;

pub(crate) fn run(make: &Make, quiet: bool) -> anyhow::Result<()> {
    let recipe = make.recipe()?;
    if make.out.as_os_str() == "-" {
        ensure!(!make.resume, "standard output can't be resumed: give a file with --out");
        let mut out = BufWriter::new(io::stdout().lock());
        out.write_all(recipe.head(make.count).as_bytes())?;
        // A broken pipe must stay recognisable.
        match fill(&recipe, 0, make.count, &mut out, quiet) {
            Err(WriteError::Io(error)) => return Err(error.into()),
            other => other?,
        }
        out.flush()?;
        return Ok(());
    }
    ensure!(
        make.replace || !make.out.exists(),
        "{} exists already: choose another file, or allow it to be replaced with --replace",
        make.out.display()
    );
    let unfinished = unfinished(&make.out);
    ensure!(
        make.resume || make.replace || !unfinished.exists(),
        "{} is an unfinished run: go on with --resume, or begin anew with --replace",
        unfinished.display()
    );
    let from = begin(&recipe, make, &unfinished)
        .with_context(|| format!("cannot write {}", unfinished.display()))?;
    let file = OpenOptions::new().append(true).open(&unfinished)?;
    let mut writer = BufWriter::with_capacity(1 << 16, &file);
    let filled = fill(&recipe, from, make.count, &mut writer, quiet);
    writer.flush().and(file.sync_data()).with_context(|| unfinished.display().to_string())?;
    drop(writer);
    filled.with_context(|| format!("{} is unfinished", unfinished.display()))?;
    fs::rename(&unfinished, &make.out)
        .with_context(|| format!("cannot make {}", make.out.display()))
}

fn unfinished(out: &Path) -> PathBuf {
    let mut name = out.as_os_str().to_owned();
    name.push(".unfinished");
    name.into()
}

/// Prepares the unfinished file and returns the first unit that is still to be made.
fn begin(recipe: &Recipe, make: &Make, unfinished: &Path) -> anyhow::Result<u64> {
    if make.resume && unfinished.exists() {
        let mut file = OpenOptions::new().read(true).write(true).open(unfinished)?;
        let written = recipe.written(make.count, &mut BufReader::new(&file))?;
        let (units, bytes) =
            written.context("it was begun with other options: begin anew without --resume")?;
        file.set_len(bytes)?;
        file.seek(SeekFrom::End(0))?;
        return Ok(units);
    }
    File::create(unfinished)?.write_all(recipe.head(make.count).as_bytes())?;
    Ok(0)
}

fn fill(
    recipe: &Recipe,
    from: u64,
    count: u64,
    writer: &mut dyn Write,
    quiet: bool,
) -> Result<(), WriteError> {
    let bar = progress::units_bar("making", recipe.units(), Some(count), quiet);
    bar.set_position(from);
    let written = recipe.write(from..count, writer, &|more| bar.inc(more));
    bar.finish_and_clear();
    written
}
