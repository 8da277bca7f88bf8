//! The soak: damaged folders, killed runs, and two runs at once on one output. Whatever happens, a
//! command either says what is wrong or gives the bytes of an undisturbed run.
//!
//! The short form takes a few minutes. `TALLYHOUSE_SOAK=20` multiplies the tries (20 is the long form),
//! `TALLYHOUSE_SOAK_SEED` takes others. Figures go to standard output: `--nocapture` shows them.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_storage::{contents, is_temporary};
use tallyhouse_tests::command::{self, Ran, run};
use tallyhouse_tests::simulated;
use tempfile::TempDir;

/// The files of a folder by their paths, without what tells the time.
type Tree = BTreeMap<PathBuf, Vec<u8>>;

/// How many tries there are for each of the short form.
fn times(short: u64) -> u64 {
    number("TALLYHOUSE_SOAK").map_or(short, |times| short * times)
}

fn number(variable: &str) -> Option<u64> {
    std::env::var(variable).ok().map(|text| text.parse().unwrap())
}

fn rng(of: &str, number: u64) -> ChaCha8Rng {
    let seed = self::number("TALLYHOUSE_SOAK_SEED").unwrap_or(1);
    let name = of.bytes().fold(seed, |sum, byte| sum.wrapping_mul(31).wrapping_add(byte.into()));
    ChaCha8Rng::seed_from_u64(name.wrapping_mul(1_000_003).wrapping_add(number))
}

/// A command that writes.
#[derive(Clone, Copy)]
struct Job {
    name: &'static str,
    line: &'static str,
}

const RECIPE: &str = "name = \"soak\"\ntitle = \"Soak\"\nrulebooks = [\"short-list\"]\n\
    claims = [\"common-claims\"]\n[[collection]]\nname = \"made\"\ntitle = \"Made\"\ncount = 60\n\
    seed = 1\n[charts]\nkinds = [\"clues\", \"missed\"]\nwidths = [\"column\"]\n";

const JOBS: [Job; 18] = [
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
    fn words(&self) -> Vec<&'static str> {
        [&self.line.split(' ').collect::<Vec<_>>()[..], &["--quiet", "--threads", "1"]].concat()
    }

    /// Runs it as a person would who finds out what to do: again, and with `--resume` if that is said.
    fn again(&self, folder: &Path) -> Ran {
        let ran = run(folder, &self.words());
        if ran.code != Some(0) && ran.err.contains("--resume") {
            return run(folder, &[&self.words()[..], &["--resume"]].concat());
        }
        ran
    }

    /// Returns all that an undisturbed run leaves, and how long it takes.
    fn undisturbed(&self, inputs: &Path) -> (Tree, Duration) {
        let folder = copied(inputs);
        let start = Instant::now();
        let ran = run(folder.path(), &self.words());
        assert_eq!(ran.code, Some(0), "{}: {ran:?}", self.name);
        (tree(folder.path()), start.elapsed())
    }
}

/// Makes what the commands read.
fn inputs() -> TempDir {
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

fn copied(folder: &Path) -> TempDir {
    let copy = tempfile::tempdir().unwrap();
    copy_into(folder, copy.path());
    copy
}

fn copy_into(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let at = entry.unwrap().path();
        let target = to.join(at.file_name().unwrap());
        if at.is_dir() {
            copy_into(&at, &target)
        } else {
            fs::copy(&at, &target).map(drop).unwrap()
        }
    }
}

/// Returns all files, hidden ones and empty folders too.
fn tree(folder: &Path) -> Tree {
    let mut all = Tree::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let at = entry.unwrap().path();
            let name = at.strip_prefix(folder).unwrap().to_owned();
            if at.is_dir() {
                all.insert(name, b"folder".to_vec());
                folders.push(at);
            } else {
                all.insert(name, timeless(&at));
            }
        }
    }
    all
}

fn timeless(file: &Path) -> Vec<u8> {
    let bytes = fs::read(file).unwrap();
    if !file.ends_with("manifest.json") {
        return bytes;
    }
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let kept = text.lines().filter(|line| !line.contains("\"wall_seconds\""));
    kept.collect::<Vec<_>>().join("\n").into_bytes()
}

/// Names the first file in which two trees differ.
fn difference(found: &Tree, expected: &Tree) -> Option<String> {
    let names = found.keys().chain(expected.keys());
    let mut different = names.filter(|name| found.get(*name) != expected.get(*name));
    different.next().map(|name| match (found.get(name), expected.get(name)) {
        (None, _) => format!("{} is missing", name.display()),
        (_, None) => format!("{} is too much", name.display()),
        _ => format!("{} differs", name.display()),
    })
}

/// What became of the tries, by kind and command.
#[derive(Default)]
struct Figures {
    counts: BTreeMap<(String, String, &'static str), u64>,
    wrong: Vec<String>,
}

impl Figures {
    fn count(&mut self, kind: &str, command: &str, outcome: &'static str) {
        *self.counts.entry((kind.to_owned(), command.to_owned(), outcome)).or_default() += 1;
    }

    fn wrong(&mut self, kind: &str, command: &str, what: &str) {
        self.count(kind, command, "WRONG");
        let what: String = what.chars().take(400).collect();
        self.wrong.push(format!("{command}, {kind}: {what}"));
    }

    fn print(&self, title: &str) {
        println!("{title}");
        for ((kind, command, outcome), count) in &self.counts {
            println!("  {kind:<34} {command:<22} {outcome:<28} {count:>7}");
        }
        println!("  tries {:>7}", self.counts.values().sum::<u64>());
    }

    fn assert_right(&self) {
        let first: Vec<&String> = self.wrong.iter().take(20).collect();
        assert!(first.is_empty(), "{} wrong: {first:#?}", self.wrong.len());
    }
}

/// Counts a run that may say what is wrong or do as an undisturbed one; anything else is wrong.
fn judge(ran: &Ran, same: impl FnOnce() -> Option<String>) -> Result<&'static str, String> {
    if ran.err.contains("panicked") {
        return Err(format!("panic: {}", ran.err));
    }
    match ran.code {
        Some(0) => same().map_or(Ok("the same results"), Err),
        Some(1) if ran.err.starts_with("error: ") || ran.err.contains("\nerror: ") => Ok("refused"),
        _ => Err(format!("{ran:?}")),
    }
}

fn tell(figures: &Mutex<Figures>, kind: &str, name: &str, found: Result<&'static str, String>) {
    let mut figures = figures.lock().unwrap();
    match found {
        Ok(outcome) => figures.count(kind, name, outcome),
        Err(what) => figures.wrong(kind, name, &what),
    }
}

// Damage.

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

/// The files below a folder, temporary ones left out.
fn files(folder: &Path) -> Vec<PathBuf> {
    let is_file = |path: &PathBuf| folder.join(path).is_file();
    let is_result = |path: &PathBuf| !is_temporary(path.file_name().unwrap());
    tree(folder).into_keys().filter(is_file).filter(is_result).collect()
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

/// What is not protected must be seen to go wrong, or the soak sees nothing.
#[test]
#[ignore = "long"]
fn a_planted_fault_is_caught() {
    // Plain text carries no digest: another clue gives other results.
    let inputs = inputs();
    let expected = run(inputs.path(), &["describe", "in.txt", "--json"]);
    let text = fs::read_to_string(inputs.path().join("in.txt")).unwrap();
    let lines: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
    fs::write(inputs.path().join("in.txt"), text.replacen(lines[0], "damaged", 1)).unwrap();
    let ran = run(inputs.path(), &["describe", "in.txt", "--json"]);
    let judged = judge(&ran, || (ran.out != expected.out).then(|| "other text".to_owned()));
    assert_eq!(judged, Err("other text".to_owned()));
    // A writer that is not careful: killed, it leaves half a file; twice at once, it doubles it.
    let careless = "echo one >> out; mv out o; sleep 0.1; echo two >> o; mv o out";
    let folder = tempfile::tempdir().unwrap();
    let shell = |prefix: &[&str]| {
        let all = [prefix, &["sh", "-c", careless]].concat();
        let mut command = Command::new(all[0]);
        command.args(&all[1..]).current_dir(folder.path());
        command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    };
    assert!(shell(&[]).wait().unwrap().success());
    let expected = tree(folder.path());
    fs::remove_file(folder.path().join("out")).unwrap();
    let inject = "inject=rename,renameat,renameat2:signal=KILL:when=1";
    shell(&["strace", "-f", "-o", "/dev/null", "-e", inject]).wait().unwrap();
    shell(&[]).wait().unwrap();
    assert!(difference(&tree(folder.path()), &expected).is_some());
    for name in ["out", "o"] {
        let _ = fs::remove_file(folder.path().join(name));
    }
    let mut pair = [shell(&[]), shell(&[])];
    pair.iter_mut().for_each(|child| assert!(child.wait().is_ok()));
    assert!(difference(&tree(folder.path()), &expected).is_some());
}

// Kills.

/// The calls that rename or remove.
const CALLS: [&str; 6] = ["rename", "renameat", "renameat2", "unlink", "unlinkat", "rmdir"];

fn strace(folder: &Path, options: &[&str], job: &Job) -> Ran {
    let output = Command::new("strace")
        .args(["-f", "-qq"])
        .args(options)
        .arg(command::path())
        .args(job.words())
        .current_dir(folder)
        .stdin(Stdio::null())
        .output();
    let output = output.unwrap();
    // What is killed may be cut off anywhere.
    Ran {
        code: output.status.code(),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// Returns how often a run makes each of the calls, at most in one of its threads.
fn calls(inputs: &Path, job: &Job) -> Vec<(&'static str, u64)> {
    let folder = copied(inputs);
    let log = tempfile::NamedTempFile::new().unwrap();
    let filter = format!("trace={}", CALLS.join(","));
    let ran = strace(folder.path(), &["-o", log.path().to_str().unwrap(), "-e", &filter], job);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let mut counts: BTreeMap<(&str, &str), u64> = BTreeMap::new();
    let log = fs::read_to_string(log.path()).unwrap();
    for line in log.lines() {
        let (thread, call) = line.trim_start().split_once(' ').unwrap_or_default();
        if let Some((name, _)) = call.trim_start().split_once('(')
            && let Some(name) = CALLS.into_iter().find(|call| *call == name)
        {
            *counts.entry((name, thread)).or_default() += 1;
        }
    }
    let most = |name: &&'static str| {
        counts.iter().filter(|((call, _), _)| call == name).map(|(_, count)| *count).max()
    };
    CALLS.iter().filter_map(|name| Some((*name, most(name)?))).collect()
}

/// Runs a command again after a kill and judges what is there then.
fn after_kill(job: &Job, folder: &Path, expected: &Tree) -> Result<&'static str, String> {
    let left = difference(&tree(folder), expected);
    let ran = job.again(folder);
    if ran.err.contains("panicked") {
        return Err(format!("panic: {}", ran.err));
    }
    let found = difference(&tree(folder), expected);
    match (ran.code, found, left) {
        (Some(0), None, _) => Ok("again, the same bytes"),
        // It was whole already, or all that was left to do was to sweep up.
        (Some(1), None, _) if ran.err.contains("exists already") => Ok("whole already"),
        (_, found, left) => {
            Err(format!("left {left:?}, again {found:?}, {:?} {}", ran.code, ran.err))
        }
    }
}

#[test]
#[ignore = "long"]
fn a_kill_is_no_dead_end() {
    let inputs = inputs();
    let inputs = inputs.path();
    let figures = Mutex::new(Figures::default());
    for job in &JOBS {
        let (expected, time) = job.undisturbed(inputs);
        let tries = times(if job.name == "study" { 4 } else { 6 });
        (0..tries).into_par_iter().for_each(|number| {
            let mut rng = rng(job.name, number);
            let folder = copied(inputs);
            for _ in 0..rng.random_range(1..3) {
                let mut command = command::command(folder.path());
                command.args(job.words()).stdout(Stdio::null()).stderr(Stdio::null());
                let mut child = command.spawn().unwrap();
                std::thread::sleep(time.mul_f64(rng.random_range(0.0..1.3)));
                let _ = child.kill();
                child.wait().unwrap();
            }
            let found = after_kill(job, folder.path(), &expected);
            tell(
                &figures,
                "killed at random",
                job.name,
                found.map_err(|e| format!("{number}: {e}")),
            );
        });
        let mut all: Vec<(&str, u64)> = Vec::new();
        for (call, count) in calls(inputs, job) {
            all.extend((1..=count).map(|when| (call, when)));
        }
        // The short form takes some of them, spread evenly.
        let most = times(if job.name == "study" { 12 } else { 24 }) as usize;
        let step = if number("TALLYHOUSE_SOAK").is_some() { 1 } else { all.len().div_ceil(most) };
        let taken: Vec<_> = all.iter().step_by(step.max(1)).copied().collect();
        taken.into_par_iter().for_each(|(call, when)| {
            let folder = copied(inputs);
            let inject = format!("inject={call}:signal=KILL:when={when}");
            let filter = format!("trace={call}");
            let options = ["-o", "/dev/null", "-e", &filter, "-e", &inject];
            let killed = strace(folder.path(), &options, job);
            let kind = format!("killed at each {call}");
            if killed.code == Some(0) {
                // Another thread made this call.
                tell(&figures, &kind, job.name, Ok("not reached"));
                return;
            }
            let found = after_kill(job, folder.path(), &expected);
            tell(&figures, &kind, job.name, found.map_err(|e| format!("{when}: {e}")));
        });
    }
    let figures = figures.into_inner().unwrap();
    figures.print("Killed runs");
    figures.assert_right();
}

// Pairs.

#[test]
#[ignore = "long"]
fn two_runs_at_once_do_no_harm() {
    let inputs = inputs();
    let inputs = inputs.path();
    let figures = Mutex::new(Figures::default());
    for job in &JOBS {
        let (expected, time) = job.undisturbed(inputs);
        let tries = times(10);
        (0..tries).into_par_iter().for_each(|number| {
            let mut rng = rng(job.name, number);
            let folder = copied(inputs);
            let begin = |more: &[&str]| {
                let mut command = command::command(folder.path());
                command.args(job.words()).args(more);
                command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
            };
            let first = begin(&[]);
            if number % 2 == 1 {
                std::thread::sleep(time.mul_f64(rng.random_range(0.0..1.0)));
            }
            let resume = job.name == "make" && number % 4 == 3;
            let second = begin(if resume { &["--resume"] } else { &[] });
            let ran: [Ran; 2] =
                [first, second].map(|child| child.wait_with_output().unwrap().into());
            let codes = ran.each_ref().map(|ran| ran.code);
            let panicked = ran.iter().any(|ran| ran.err.contains("panicked"));
            let found = match (codes, difference(&tree(folder.path()), &expected)) {
                _ if panicked => Err(format!("{ran:?}")),
                ([Some(0), Some(0)], None) => Ok("both went through"),
                ([Some(0), Some(1)] | [Some(1), Some(0)], None) => Ok("one was refused"),
                (codes, difference) => {
                    let err = ran.each_ref().map(|ran| &ran.err);
                    Err(format!("{number}: {difference:?}: {codes:?} {err:?}"))
                }
            };
            tell(&figures, "two at once", job.name, found);
        });
    }
    let figures = figures.into_inner().unwrap();
    figures.print("Two runs at once");
    figures.assert_right();
}
