//! `tallyhouse study`: the built-in recipe, from nothing to charts.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use anyhow::{Context, bail, ensure};
use tallyhouse_census::{Settings, Summary, Tables, write_file};
use tallyhouse_collection::Source;
use tallyhouse_engine::WalkOptions;

use crate::args::Study;
use crate::{census, chart, make, summary};

/// The files of a study, so that an earlier one is recognised before it is replaced.
const COLLECTION: &str = "puzzles.txt";
const CENSUS: &str = "census";
const FIGURES: &str = "figures";
const SUMMARY: &str = "summary.txt";

pub(crate) fn run(study: &Study, quiet: bool) -> anyhow::Result<()> {
    let out = &study.out;
    check_place(out, study.replace)?;
    // Everything is made in a folder beside and moved as a whole, so a study is there or not.
    let parent = match out.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let aside = tempfile::Builder::new()
        .prefix(".tallyhouse-study-")
        .tempdir_in(parent)
        .with_context(|| format!("cannot make a folder in {}", parent.display()))?;
    // A temporary folder is private; one made inside it is as open as any new folder.
    let made = aside.path().join("study");
    fs::create_dir(&made).with_context(|| format!("cannot make {}", made.display()))?;
    let text = fill(study, &made, quiet)?;
    put_in_place(&made, out)?;
    let mut stdout = io::stdout().lock();
    write!(stdout, "{text}\n{}", where_the_files_are(out))?;
    Ok(())
}

fn check_place(out: &Path, replace: bool) -> anyhow::Result<()> {
    if !out.exists() {
        return Ok(());
    }
    ensure!(
        replace,
        "{} exists already: choose another folder with --out, or allow an earlier study to be \
         replaced with --replace",
        out.display()
    );
    let is_study = out.join(SUMMARY).is_file() && out.join(CENSUS).join("manifest.json").is_file();
    ensure!(is_study, "{} is not an earlier study, so it is not replaced", out.display());
    Ok(())
}

fn fill(study: &Study, folder: &Path, quiet: bool) -> anyhow::Result<String> {
    let collection = folder.join(COLLECTION);
    make::into_file(&collection, study.count, study.seed, quiet)?;
    let settings = Settings {
        sources: vec![Source::file(&collection).named(COLLECTION)],
        out: folder.join(CENSUS),
        walk: WalkOptions::default(),
        tables: Tables::All,
        keep_states: false,
        part_size: 50_000,
        seed: Some(study.seed),
        shard: None,
        resume: false,
    };
    let scanned: Summary = census::scan(&settings, quiet)?;
    census::write_shares(&settings.out, &scanned.counts, settings.tables)?;
    let figures = folder.join(FIGURES);
    fs::create_dir(&figures).with_context(|| format!("cannot make {}", figures.display()))?;
    chart::draw_heat_maps(&scanned, &figures)?;
    let text = summary::overview(&scanned);
    write_file(&folder.join(SUMMARY), |writer| writer.write_all(text.as_bytes()))?;
    Ok(text)
}

fn put_in_place(made: &Path, out: &Path) -> anyhow::Result<()> {
    let retired = out.exists().then(|| {
        let mut name = out.as_os_str().to_owned();
        name.push(".replaced");
        std::path::PathBuf::from(name)
    });
    if let Some(retired) = &retired {
        if retired.exists() {
            bail!("{} is in the way: move it or remove it", retired.display());
        }
        fs::rename(out, retired).with_context(|| format!("cannot move {}", out.display()))?;
    }
    fs::rename(made, out).with_context(|| format!("cannot make {}", out.display()))?;
    if let Some(retired) = retired {
        fs::remove_dir_all(&retired)
            .with_context(|| format!("cannot remove {}", retired.display()))?;
    }
    Ok(())
}

fn where_the_files_are(out: &Path) -> String {
    let out = out.display();
    format!(
        "Files in {out}\n  \
         {COLLECTION:<12} the puzzles, with how they were made\n  \
         {CENSUS:<12} the dataset: counts.csv, exposure.csv, manifest.json and Parquet tables\n  \
         {FIGURES:<12} occurrence-counts and occurrence-rates as SVG, PNG and CSV\n  \
         {SUMMARY:<12} this summary\n"
    )
}
