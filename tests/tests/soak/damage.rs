//! Damaged folders.

use std::fs;
use std::path::Path;
use std::sync::Mutex;

use rand::{Rng, RngExt};
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_storage::contents;
use tallyhouse_tests::command::run;

use crate::figures::{Figures, judge, tell};
use crate::jobs::inputs;
use crate::trees::{Tree, copied, difference, files, tree};
use crate::tries::{rng, times};

/// A command that reads what another wrote: the folder, what makes it, and what reads it.
struct Reading {
    name: &'static str,
    makes: &'static str,
    reads: &'static str,
}

const READINGS: [Reading; 11] = [
    Reading {
        name: "collection, describe",
        makes: "collect in.txt -o it",
        reads: "describe it --json",
    },
    Reading {
        name: "collection, census",
        makes: "collect in.txt -o it",
        reads: "census it --tables none -o out",
    },
    Reading {
        name: "dataset, chart",
        makes: "census big.txt --part-size 1000 -o it",
        reads: "chart counts it -o out",
    },
    Reading {
        name: "dataset, rates",
        makes: "census big.txt --part-size 1000 -o it",
        reads: "rates it --by house_kind,open -o out",
    },
    Reading {
        name: "dataset, specimen",
        makes: "census big.txt --part-size 1000 -o it",
        reads: "specimen it --naked 2 --most 1 -o out",
    },
    Reading {
        name: "dataset, census --resume",
        makes: "census big.txt --part-size 1000 -o it",
        reads: "census big.txt --part-size 1000 -o it --resume",
    },
    Reading {
        name: "trial, chart",
        makes: "judge in.txt --claims common-claims -o it",
        reads: "chart missed it -o out",
    },
    Reading {
        name: "orders, chart",
        makes: "order --training-count 20 --held-out-count 20 --evaluations 5 -o it",
        reads: "chart frontier it -o out",
    },
    Reading {
        name: "comparison, chart",
        makes: "compare in.txt --rulebook full-ladder --rulebook short-list -o it",
        reads: "chart rulebooks it -o out",
    },
    Reading {
        name: "study, study",
        makes: "study recipe.toml -o it",
        reads: "study recipe.toml -o it",
    },
    Reading {
        name: "study, check",
        makes: "study recipe.toml -o it",
        reads: "study recipe.toml -o it --check",
    },
];

fn words(line: &str) -> Vec<&str> {
    [&line.split(' ').collect::<Vec<_>>()[..], &["--quiet", "--threads", "1"]].concat()
}

/// Damages one file of a folder, and returns how.
fn damage(folder: &Path, rng: &mut impl Rng) -> &'static str {
    let files = files(folder);
    let at = folder.join(&files[rng.random_range(0..files.len())]);
    let mut bytes = fs::read(&at).unwrap();
    let (kind, bytes) = match rng.random_range(0..10) {
        0..5 => {
            if bytes.is_empty() {
                return "nothing";
            }
            let bit = rng.random_range(0..8 * bytes.len());
            bytes[bit / 8] ^= 1 << (bit % 8);
            ("a bit flipped", bytes)
        }
        5 => {
            bytes.truncate(rng.random_range(0..=bytes.len().saturating_sub(1)));
            ("cut off", bytes)
        }
        6 => {
            let other = folder.join(&files[rng.random_range(0..files.len())]);
            let swapped = fs::read(&other).unwrap();
            fs::write(&other, &bytes).unwrap();
            ("two swapped", swapped)
        }
        7 => {
            fs::remove_file(&at).unwrap();
            return "one missing";
        }
        8 => {
            fs::write(at.with_file_name("part-00009.parquet"), bytes).unwrap();
            return "one too much";
        }
        _ => {
            bytes.extend((0..rng.random_range(1..64)).map(|_| rng.random::<u8>()));
            ("more at the end", bytes)
        }
    };
    fs::write(at, bytes).unwrap();
    kind
}

#[test]
#[ignore = "long"]
fn damage_is_never_believed() {
    let inputs = inputs();
    let figures = Mutex::new(Figures::default());
    for reading in &READINGS {
        let whole = copied(inputs.path());
        let made = run(whole.path(), &words(reading.makes));
        assert_eq!(made.code, Some(0), "{}: {made:?}", reading.name);
        let read = |folder: &Path| {
            let ran = run(folder, &words(reading.reads));
            let out = folder.join(if reading.reads.contains("-o it") { "it" } else { "out" });
            let written = if out.is_dir() { tree(&out) } else { Tree::new() };
            (ran, written)
        };
        let undisturbed = copied(whole.path());
        let (expected, written) = read(undisturbed.path());
        assert_eq!(expected.code, Some(0), "{}: {expected:?}", reading.name);
        let tries = times(if reading.name.starts_with("study") { 12 } else { 60 });
        (0..tries).into_par_iter().for_each(|number| {
            let mut rng = rng(reading.name, number);
            let folder = copied(whole.path());
            let at = folder.path().join("it");
            let kind = damage(&at, &mut rng);
            let before = tree(&at);
            let verified = run(folder.path(), &["verify", "it"]);
            let changed = contents(&at).ok().flatten().is_none_or(|all| all.check(&at).is_err());
            let found = match (verified.code, changed) {
                (Some(0), false) => Ok("found good: nothing listed changed"),
                (Some(1), true) => Ok("found bad"),
                _ => Err(format!("{verified:?}")),
            };
            tell(&figures, kind, "verify", found);
            let (ran, found) = read(folder.path());
            let same = || {
                if reading.reads.ends_with("--check") {
                    // What is too much is no difference.
                    return changed.then(|| "damage was not noticed".to_owned());
                }
                let told = (ran.out != expected.out && !reading.reads.starts_with("study"))
                    .then(|| "other text".to_owned());
                // A study keeps files of others, and tells of them.
                told.or_else(|| difference(&found, &written))
            };
            let mut judged = judge(&ran, same);
            if judged == Ok("refused") && tree(&at) != before {
                judged = Err(format!("refused, but the folder was changed: {}", ran.err));
            }
            tell(&figures, kind, reading.name, judged.map_err(|what| format!("{number}: {what}")));
        });
    }
    let figures = figures.into_inner().unwrap();
    figures.print("Damaged folders");
    figures.assert_right();
}
