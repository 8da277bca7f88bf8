//! Inputs changed at random.

use std::fs::{self, File};
use std::path::Path;
use std::sync::Mutex;

use rand::{Rng, RngExt};
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_tests::forged::seal;

use crate::figures::{Figures, tell};
use crate::mutate::mutate;
use crate::outcome::{Outcome, broken_law, limited, lost_rows};
use crate::samples::{Counts, SAMPLES, Sample, good_inputs};
use crate::trees::{copy_to, files};
use crate::tries::{rng, times};

/// Changes the file of a sample, or one of its folder; returns how.
fn change(sample: &Sample, folder: &Path, rng: &mut impl Rng) -> &'static str {
    let at = folder.join(sample.changed);
    let is_folder = at.is_dir();
    let file = if is_folder {
        let files = files(&at);
        at.join(&files[rng.random_range(0..files.len())])
    } else {
        at.clone()
    };
    let good = fs::read(&file).unwrap();
    let mut bytes = good.clone();
    mutate(&mut bytes, rng);
    if file.extension().is_some_and(|kind| kind == "toml") && asks_for_more(&bytes, &good) {
        // A study of billions of puzzles is no fault.
        return "left as it was";
    }
    fs::write(&file, bytes).unwrap();
    if !is_folder {
        return "changed";
    }
    if rng.random() && seal(&at, &file).is_some() {
        return "changed and sealed anew";
    }
    "changed in a folder"
}

/// Tests if a text has larger numbers than the one it was made from.
fn asks_for_more(bytes: &[u8], good: &[u8]) -> bool {
    let largest = |bytes: &[u8]| {
        let is_part = |byte: &u8| byte.is_ascii_digit() || *byte == b'_';
        let numbers = bytes.split(|byte| !is_part(byte));
        let value = |digits: &[u8]| {
            let digits = digits.iter().filter(|byte| byte.is_ascii_digit());
            digits.fold(0f64, |value, digit| 10.0 * value + f64::from(digit - b'0'))
        };
        numbers.map(value).fold(0.0, f64::max)
    };
    largest(bytes) > largest(good)
}

/// Counts the lines that are rows.
fn rows(bytes: &[u8]) -> Option<u64> {
    // Marks of packing and of encodings change what lines are.
    if bytes.first().is_none_or(|byte| !matches!(byte, b'#' | b'.' | b'0'..=b'9')) {
        return None;
    }
    let lines = bytes.split(|byte| matches!(byte, b'\n' | b'\r')).map(<[u8]>::trim_ascii);
    Some(lines.filter(|line| !line.is_empty() && line[0] != b'#').count() as u64)
}

fn judge(sample: &Sample, folder: &Path, outcome: &Outcome) -> Result<&'static str, String> {
    if let Some(broken) = broken_law(outcome) {
        return Err(broken);
    }
    let all = match sample.counts {
        Counts::Lines => rows(&fs::read(folder.join(sample.changed)).unwrap()),
        Counts::Rows | Counts::Nothing => None,
    };
    match outcome.code() {
        Some(0) if sample.counts != Counts::Nothing => {
            let lost = lost_rows(&outcome.out, &folder.join("out"), all);
            lost.map_or(Ok("taken, all rows there"), Err)
        }
        Some(0) => Ok("taken"),
        Some(1) => Ok("refused"),
        _ => Ok("told how to use it"),
    }
}

fn run(sample: &Sample, folder: &Path) -> Outcome {
    let words: Vec<&str> = sample.line.split(' ').chain(["--threads", "1"]).collect();
    let mut command = limited(folder, &words);
    if words.contains(&"-") {
        command.stdin(File::open(folder.join(sample.changed)).unwrap());
    }
    command.output().unwrap().into()
}

/// Copies what a sample reads.
fn prepared(sample: &Sample, good: &Path) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in sample.beside.split_whitespace().chain([sample.changed]) {
        copy_to(&good.join(name), &folder.path().join(name));
    }
    folder
}

#[test]
#[ignore = "long"]
fn hostile_inputs_are_read_or_refused() {
    let good = good_inputs();
    let figures = Mutex::new(Figures::default());
    for sample in &SAMPLES {
        let folder = prepared(sample, good.path());
        let outcome = run(sample, folder.path());
        assert_eq!(outcome.code(), Some(0), "{}: {outcome:?}", sample.name);
        assert_eq!(judge(sample, folder.path(), &outcome).map(drop), Ok(()), "{}", sample.name);
        (0..times(13)).into_par_iter().for_each(|number| {
            let mut rng = rng(sample.name, number);
            let folder = prepared(sample, good.path());
            let kind = change(sample, folder.path(), &mut rng);
            let outcome = run(sample, folder.path());
            let found = judge(sample, folder.path(), &outcome);
            tell(&figures, kind, sample.name, found.map_err(|what| format!("{number}: {what}")));
        });
    }
    let figures = figures.into_inner().unwrap();
    figures.print("Hostile inputs");
    figures.assert_right();
}
