//! Joining the datasets of all slices of a collection into the dataset of one undivided scan.

use std::fs;
use std::path::{Path, PathBuf};

use tallyhouse_collection::Rejects;

use crate::aside::make_folder;
use crate::layout::table_path;
use crate::run::write_results;
use crate::schema::Table;
use crate::tables::{POSITIONS, PUZZLES, SUBSETS};
use crate::{CensusError, Counts, Dataset, Manifest, Shard, Tables, manifest};

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

    let mut counts = Counts::read(&folders[0], first)?;
    for (folder, manifest) in folders.iter().zip(&manifests).skip(1) {
        counts += &Counts::read(folder, manifest)?;
    }

    make_folder(out, "")?;
    if first.tables == Tables::All {
        let slices: Vec<Dataset> =
            folders.iter().map(|folder| Dataset::open(folder)).collect::<Result<_, _>>()?;
        copy_parts(&slices, out, &PUZZLES)?;
        copy_parts(&slices, out, &POSITIONS)?;
        copy_parts(&slices, out, &SUBSETS)?;
    }
    if counts.rejected.total() > 0 {
        join_rejects(folders, out, &first.collection.sources)?;
    }
    let joined = Manifest {
        shard: None,
        totals: counts.totals.clone(),
        hardest_look: counts.hardest_by_name(&first.walk.order),
        rejected: counts.rejected.named(),
        wall_seconds: manifests.iter().map(|manifest| manifest.wall_seconds).sum(),
        ..first.clone()
    };
    write_results(out, &counts, &joined)?;
    Ok(joined)
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

/// Copies the parts of a table, each of which must be there and be what the schema says.
fn copy_parts<R>(slices: &[Dataset], out: &Path, table: &Table<R>) -> Result<(), CensusError> {
    let folder = out.join(table.name);
    fs::create_dir(&folder).map_err(CensusError::write(&folder))?;
    for (slice, part) in
        slices.iter().flat_map(|slice| slice.parts().map(move |part| (slice, part)))
    {
        slice.check_table(table, part)?;
        let to = table_path(out, table.name, part);
        let from = table_path(slice.folder(), table.name, part);
        fs::copy(from, &to).map_err(CensusError::write(&to))?;
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
