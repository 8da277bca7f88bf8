//! Killed runs.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Mutex;

use rand::RngExt;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use tallyhouse_tests::command::{self, Ran};

use crate::figures::{Figures, tell};
use crate::jobs::{JOBS, Job, inputs};
use crate::trees::{Tree, copied, difference, tree};
use crate::tries::{number, rng, times};

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
