//! The commands that write, and what they read.

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use tallyhouse_tests::command::{Ran, run};
use tallyhouse_tests::simulated;
use tempfile::TempDir;

use crate::trees::{Tree, copied, tree};

/// A command that writes.
#[derive(Clone, Copy)]
pub(crate) struct Job {
    pub(crate) name: &'static str,
    pub(crate) line: &'static str,
}

pub(crate) const RECIPE: &str = "name = \"soak\"\ntitle = \"Soak\"\nrulebooks = [\"short-list\"]\n\
    claims = [\"common-claims\"]\n[[collection]]\nname = \"made\"\ntitle = \"Made\"\ncount = 60\n\
    seed = 1\n[charts]\nkinds = [\"clues\", \"missed\"]\nwidths = [\"column\"]\n";

pub(crate) const JOBS: [Job; 18] = [
    Job { name: "make", line: "make --count 4000 --seed 9 -o out" },
    Job { name: "collect", line: "collect in.txt -o out" },
    Job { name: "census", line: "census big.txt --part-size 1000 -o out" },
    Job { name: "judge", line: "judge in.txt --claims common-claims -o out" },
    Job {
        name: "order",
        line: "order --training-count 20 --held-out-count 20 --evaluations 5 -o out",
    },
    Job { name: "describe", line: "describe in.txt -o out" },
    Job { name: "yields", line: "yields in.txt -o out" },
    Job { name: "card", line: "card in.txt -o out" },
    Job {
        name: "compare",
        line: "compare in.txt --rulebook full-ladder --rulebook short-list -o out",
    },
    Job { name: "rates", line: "rates dataset --by open,naked -o out" },
    Job { name: "specimen", line: "specimen in.txt --naked 2 --most 2 -o out" },
    Job { name: "inspect", line: "inspect in.txt --line 9 -o out" },
    Job {
        name: "explain",
        line: "explain ...6.39..3.......5..1.....44.......29..8.26..8.74......5...7....3216...9...2...1. \
               --position 1 --house box-1 -o out",
    },
    Job { name: "worksheet", line: "worksheet in.txt --rulebook full-ladder --count 3 -o out" },
    Job { name: "timings", line: "timings times.csv --items items.csv -o out" },
    Job { name: "chart", line: "chart clues in.txt -o out" },
    Job { name: "man", line: "man -o out" },
    Job { name: "study", line: "study recipe.toml -o out" },
];

impl Job {
    pub(crate) fn words(&self) -> Vec<&'static str> {
        [&self.line.split(' ').collect::<Vec<_>>()[..], &["--quiet", "--threads", "1"]].concat()
    }

    /// Runs it as a person would who finds out what to do: again, and with `--resume` if that is said.
    pub(crate) fn again(&self, folder: &Path) -> Ran {
        let ran = run(folder, &self.words());
        if ran.code != Some(0) && ran.err.contains("--resume") {
            return run(folder, &[&self.words()[..], &["--resume"]].concat());
        }
        ran
    }

    /// Returns all that an undisturbed run leaves, and how long it takes.
    pub(crate) fn undisturbed(&self, inputs: &Path) -> (Tree, Duration) {
        let folder = copied(inputs);
        let start = Instant::now();
        let ran = run(folder.path(), &self.words());
        assert_eq!(ran.code, Some(0), "{}: {ran:?}", self.name);
        (tree(folder.path()), start.elapsed())
    }
}

/// Makes what the commands read.
pub(crate) fn inputs() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let made = run(folder.path(), &["make", "--count", "150", "--seed", "3", "-o", "in.txt"]);
    assert_eq!(made.code, Some(0), "{made:?}");
    let scanned = run(folder.path(), &["census", "in.txt", "-o", "dataset", "--threads", "1"]);
    assert_eq!(scanned.code, Some(0), "{scanned:?}");
    // For scans of several parts.
    let big = run(folder.path(), &["make", "--count", "2400", "--seed", "4", "-o", "big.txt"]);
    assert_eq!(big.code, Some(0), "{big:?}");
    for name in ["in.txt", "big.txt"] {
        let text = fs::read_to_string(folder.path().join(name)).unwrap();
        fs::write(folder.path().join(name), text + "too short\n").unwrap();
    }
    fs::write(folder.path().join("recipe.toml"), RECIPE).unwrap();
    simulated::copy_to(folder.path(), "times.csv", "items.csv");
    folder
}
