//! Running the built `tallyhouse` command.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// All commands in the order of the help; what the last two print is written by the parser of arguments.
pub const COMMANDS: [&str; 22] = [
    "collect",
    "describe",
    "make",
    "census",
    "cluster",
    "verify",
    "rates",
    "yields",
    "judge",
    "card",
    "coverage",
    "compare",
    "order",
    "specimen",
    "chart",
    "inspect",
    "explain",
    "worksheet",
    "timings",
    "study",
    "completions",
    "man",
];

/// Returns the path of the command, which `cargo test --workspace` builds beside the tests.
///
/// # Panics
/// If it has not been built.
pub fn path() -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.parent().and_then(Path::parent).unwrap();
    let path = folder.join(format!("tallyhouse{}", std::env::consts::EXE_SUFFIX));
    assert!(path.exists(), "{} is missing: run cargo test --workspace", path.display());
    path
}

/// Prepares the command to run in a folder.
pub fn command(folder: &Path) -> Command {
    let mut command = Command::new(path());
    command.current_dir(folder).env_remove("COLUMNS");
    command
}

/// What a run printed.
#[derive(Debug)]
pub struct Ran {
    /// The exit code.
    pub code: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// Runs the command in a folder.
pub fn run(folder: &Path, arguments: &[&str]) -> Ran {
    command(folder).args(arguments).output().unwrap().into()
}

/// Runs a line in a folder as a shell does, with the built command first in its path.
pub fn run_line(folder: &Path, line: &str) -> Ran {
    let built = path();
    let others = std::env::var_os("PATH").unwrap_or_default();
    let first = built.parent().map(Path::to_owned).into_iter();
    let paths = std::env::join_paths(first.chain(std::env::split_paths(&others))).unwrap();
    Command::new("sh")
        .args(["-c", line])
        .current_dir(folder)
        .env("PATH", paths)
        .env("HOME", folder)
        .stdin(Stdio::null())
        .output()
        .unwrap()
        .into()
}

/// Returns an example that asks for less, so that it is quick; all else stays as people read it.
pub fn quicker(example: &str) -> String {
    let mut words: Vec<&str> = example.split(' ').collect();
    let has = |word: &str| example.split(' ').any(|other| other == word);
    let more: &[&str] = match words.get(1) {
        Some(&"make") if has("splitting") => &["--population", "9"],
        Some(&"census") if has("--make") => &["--part-size", "1000"],
        Some(&"order") if has("--training") => &["--evaluations", "9"],
        Some(&"order") => &["--evaluations", "9", "--training-count", "9", "--held-out-count", "9"],
        Some(&"specimen") if has("--seed") => &["--count", "99"],
        Some(&"study") if words.len() == 2 => &["--count", "99"],
        _ => &[],
    };
    let rare = ["--clues", "--finds", "splitting", "worksheet"].into_iter().any(has);
    // A fiftieth of the puzzles, in parts of a fiftieth of the usual size.
    let fiftieth = |count: &str| (count.parse::<u64>().unwrap() / 50).to_string();
    let made = words.windows(2).find(|pair| pair[0] == "--count").map(|pair| fiftieth(pair[1]));
    let made = made.filter(|_| has("--make")).unwrap_or_default();
    for at in 1..words.len() {
        if words[at - 1] == "--count" {
            words[at] = if rare {
                "2"
            } else if has("--make") {
                &made
            } else {
                "12"
            };
        }
    }
    words.extend(more);
    words.join(" ")
}

/// Reads every file of a dataset, without the wall time of its manifest.
pub fn dataset_bytes(dataset: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut folders = vec![dataset.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let mut content = fs::read(&path).unwrap();
            if path.ends_with("manifest.json") {
                let text = String::from_utf8(content).unwrap();
                let kept = text.lines().filter(|line| !line.contains("wall_seconds"));
                content = kept.collect::<Vec<_>>().join("\n").into_bytes();
            }
            all.insert(path.strip_prefix(dataset).unwrap().to_owned(), content);
        }
    }
    all
}

/// Asserts that two datasets are equal, to the byte but for the time they took.
///
/// # Panics
/// If they are not.
pub fn assert_same_datasets(one: &Path, other: &Path) {
    let (one, other) = (dataset_bytes(one), dataset_bytes(other));
    assert!(one.keys().eq(other.keys()), "{:?} {:?}", one.keys(), other.keys());
    for (name, bytes) in &one {
        assert!(*bytes == other[name], "{}", name.display());
    }
}
