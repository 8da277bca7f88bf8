//! Joining the datasets of all slices of a collection into the dataset of one undivided scan.

use std::fs;
use std::path::{Path, PathBuf};

use tallyhouse_collection::Rejects;

use crate::ledger::read_json;
use crate::run::write_results;
use crate::tables::TABLES;
use crate::{CensusError, Counts, Manifest, Shard};

/// Joins the datasets of slices 1/n to n/n; the result is that of one scan of the whole collection, to
/// the byte, but for the wall time, which is summed.
///
/// # Errors
/// If the folders are not the slices of one scan, the output folder is in use, or writing fails.
pub fn merge(folders: &[PathBuf], out: &Path) -> Result<Manifest, CensusError> {
    let manifests: Vec<Manifest> =
        folders.iter().map(|folder| manifest(folder)).collect::<Result<_, _>>()?;
    let Some(first) = manifests.first() else {
        return Err(CensusError::NotSlices("no folder was given".to_owned()));
    };
    check_slices(folders, &manifests)?;

    let mut counts: Option<Counts> = None;
    for (folder, manifest) in folders.iter().zip(&manifests) {
        let more = Counts::read(folder, manifest)?;
        match &mut counts {
            Some(counts) => *counts += &more,
            None => counts = Some(more),
        }
    }
    let Some(counts) = counts else {
        return Err(CensusError::NotSlices("nothing to join".to_owned()));
    };

    make_folder(out)?;
    for table in TABLES.iter().filter(|_| first.tables == "all") {
        copy_parts(folders, out, table)?;
    }
    if counts.rejected.total() > 0 {
        join_rejects(folders, out, &first.collection.sources)?;
    }
    let sum_by_name = |of: fn(&Manifest) -> &Vec<(String, u64)>| -> Vec<(String, u64)> {
        let mut sums = of(first).clone();
        for manifest in &manifests[1..] {
            for (sum, (_, more)) in sums.iter_mut().zip(of(manifest)) {
                sum.1 += more;
            }
        }
        sums
    };
    let joined = Manifest {
        shard: None,
        totals: counts.totals.clone(),
        hardest_look: sum_by_name(|manifest| &manifest.hardest_look),
        rejected: sum_by_name(|manifest| &manifest.rejected),
        wall_seconds: manifests.iter().map(|manifest| manifest.wall_seconds).sum(),
        ..first.clone()
    };
    write_results(out, &counts, &joined)?;
    Ok(joined)
}

/// Reads the manifest of a whole dataset.
///
/// # Errors
/// If it is missing or damaged.
pub fn manifest(folder: &Path) -> Result<Manifest, CensusError> {
    let path = folder.join("manifest.json");
    read_json(&path)?.ok_or_else(|| CensusError::Damaged {
        path,
        reason: "it is missing: the folder is no finished dataset".to_owned(),
    })
}

fn check_slices(folders: &[PathBuf], manifests: &[Manifest]) -> Result<(), CensusError> {
    // What must be equal is the manifest without what a slice has of its own.
    let common = |manifest: &Manifest| {
        let mut value = serde_json::to_value(manifest).unwrap_or_default();
        if let Some(fields) = value.as_object_mut() {
            for own in ["shard", "totals", "hardest_look", "rejected", "wall_seconds"] {
                fields.remove(own);
            }
        }
        value
    };
    let first = common(&manifests[0]);
    let mut seen: Vec<(u64, &PathBuf)> = Vec::new();
    let mut slices = None;
    for (folder, manifest) in folders.iter().zip(manifests) {
        let other = common(manifest);
        if let Some((name, value)) = other
            .as_object()
            .and_then(|fields| fields.iter().find(|(name, value)| first[*name] != **value))
        {
            return Err(CensusError::NotSlices(format!(
                "{name} is {value} in {}, but {} in {}",
                folder.display(),
                first[name],
                folders[0].display()
            )));
        }
        let text = manifest.shard.as_deref().unwrap_or("all of the collection");
        let not_a_slice = || {
            CensusError::NotSlices(format!("{} holds {text}, expected a slice", folder.display()))
        };
        let (index, of) = text.parse::<Shard>().map_err(|_| not_a_slice())?.index_of();
        if *slices.get_or_insert(of) != of {
            return Err(CensusError::NotSlices(format!(
                "{} holds slice {text}, but {} is one of {}",
                folder.display(),
                folders[0].display(),
                slices.unwrap_or_default()
            )));
        }
        if let Some((_, twice)) = seen.iter().find(|(other, _)| *other == index) {
            return Err(CensusError::NotSlices(format!(
                "slice {text} is in {} and in {}",
                twice.display(),
                folder.display()
            )));
        }
        seen.push((index, folder));
    }
    let of = slices.unwrap_or_default();
    match (1..=of).find(|index| !seen.iter().any(|(other, _)| other == index)) {
        None => Ok(()),
        Some(missing) => Err(CensusError::NotSlices(format!("slice {missing}/{of} is missing"))),
    }
}

fn make_folder(out: &Path) -> Result<(), CensusError> {
    match fs::create_dir(out) {
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
            Err(CensusError::Exists { path: out.to_owned(), advice: "" })
        }
        made => made.map_err(CensusError::write(out)),
    }
}

fn copy_parts(folders: &[PathBuf], out: &Path, table: &str) -> Result<(), CensusError> {
    let to = out.join(table);
    fs::create_dir(&to).map_err(CensusError::write(&to))?;
    for folder in folders {
        let from = folder.join(table);
        let copy = || -> std::io::Result<()> {
            for entry in fs::read_dir(&from)? {
                let entry = entry?;
                fs::copy(entry.path(), to.join(entry.file_name()))?;
            }
            Ok(())
        };
        copy().map_err(CensusError::write(&to))?;
    }
    Ok(())
}

/// Joins the lists of rejected rows in the order of the collection.
fn join_rejects(folders: &[PathBuf], out: &Path, sources: &[String]) -> Result<(), CensusError> {
    let mut rows: Vec<(usize, u64, csv::StringRecord)> = Vec::new();
    for folder in folders {
        let path = folder.join(Rejects::FILE_NAME);
        for record in Rejects::read(&path)? {
            let source = sources.iter().position(|source| record.get(0) == Some(source.as_str()));
            let line = record.get(1).and_then(|line| line.parse().ok());
            let (Some(source), Some(line)) = (source, line) else {
                let reason = "a row names no source of the collection".to_owned();
                return Err(CensusError::Damaged { path, reason });
            };
            rows.push((source, line, record));
        }
    }
    rows.sort_by_key(|(source, line, _)| (*source, *line));
    let mut joined = Rejects::in_folder(&[], out);
    rows.iter().try_for_each(|(_, _, record)| joined.copy(record))?;
    joined.finish()?;
    Ok(())
}
