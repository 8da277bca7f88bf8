//! A census that engines spread over processes and machines is that of one run, to the byte.
//!
//! Spark and Slurm run on the loopback addresses alone, with all their files in a temporary folder.
#![cfg(target_os = "linux")]

mod processes;
mod slurm;
mod spark;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use tallyhouse_tests::command::{Ran, assert_same_datasets, run_line};

/// Scans in twelve parts: 60,000 puzzles that are made for it, and weighted families of a collection.
const SCANS: [(&str, &str); 2] = [
    ("made", "tallyhouse census --make deletion --count 60000 --seed 5 --part-size 5000"),
    ("weighted", "tallyhouse census collection --part-size 1000"),
];

/// Runs a line as a shell does.
fn good(folder: &Path, line: &str) -> Ran {
    let ran = run_line(folder, line);
    assert_eq!(ran.code, Some(0), "{line}: {ran:?}");
    ran
}

/// Makes the dataset of one run of each scan in `whole-NAME`, and its plan in NAME.
fn plan(folder: &Path) {
    good(folder, "tallyhouse make --method splitting --count 770 --seed 5 --out in.txt");
    let text = fs::read_to_string(folder.join("in.txt")).unwrap();
    let rows = text.lines().filter(|line| !line.starts_with('#')).take(12_000);
    let rows: Vec<&str> = rows.collect();
    assert_eq!(rows.len(), 12_000);
    fs::write(folder.join("in.txt"), rows.join("\n")).unwrap();
    good(folder, "tallyhouse collect in.txt --out collection");
    for (name, scan) in SCANS {
        good(folder, &format!("{scan} --out whole-{name}"));
        let planned = good(folder, &format!("{scan} --out {name} --plan --json"));
        assert!(planned.out.starts_with("{\"parts\":12,"), "{planned:?}");
    }
}

/// Asserts that a scan is finished as one run does it.
fn assert_whole(folder: &Path, name: &str) {
    assert_same_datasets(&folder.join(name), &folder.join(format!("whole-{name}")));
}

/// Returns the records of the parts of a plan that are whole.
fn ledgers(out: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(out.join("unfinished")).unwrap();
    let paths = entries.map(|entry| entry.unwrap().path());
    let is_ledger = |path: &PathBuf| {
        let name = path.file_name().unwrap().to_str().unwrap();
        name.starts_with("part-") && name.ends_with(".json")
    };
    let mut ledgers: Vec<PathBuf> = paths.filter(is_ledger).collect();
    ledgers.sort();
    ledgers
}

/// How long anything may take on a machine that is busy with much else.
const PATIENCE: Duration = Duration::from_secs(1200);

/// Waits until something is there.
fn wait_for<T>(what: &str, mut found: impl FnMut() -> Option<T>) -> T {
    let start = Instant::now();
    loop {
        if let Some(found) = found() {
            return found;
        }
        assert!(start.elapsed() < PATIENCE, "waited in vain for {what}");
        std::thread::sleep(Duration::from_millis(3));
    }
}

/// The sum of a number over the reports of parts.
fn sum(reports: &str, name: &str) -> u64 {
    let lines = reports.lines().filter(|line| line.starts_with('{'));
    let report = |line| serde_json::from_str::<serde_json::Value>(line).unwrap();
    lines.map(|line| report(line)[name].as_u64().unwrap()).sum()
}

#[test]
#[ignore = "long"]
fn two_processes_at_a_time() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    plan(folder);
    for (name, _) in SCANS {
        let each = format!("tallyhouse census --parts {{}} --out {name}");
        good(folder, &format!("seq 0 11 | shuf | xargs -P2 -I{{}} {each}"));
        good(folder, &format!("tallyhouse census --finish --out {name}"));
        assert_whole(folder, name);
    }
}

/// Without a folder that all see: each part is done beside the plan alone, and its tables are copied
/// before its record.
#[test]
fn parts_that_are_done_elsewhere_are_copied() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let scan = "tallyhouse census --make deletion --count 3000 --seed 5 --part-size 1000";
    good(folder, &format!("{scan} --out whole"));
    good(folder, &format!("{scan} --out out --plan"));
    for part in 0..3 {
        good(
            folder,
            "mkdir -p elsewhere/unfinished && cp out/unfinished/plan.json elsewhere/unfinished",
        );
        good(folder, &format!("tallyhouse census --parts {part} --out elsewhere"));
        for tables in ["puzzles", "positions", "subsets", "unfinished"] {
            good(folder, &format!("cp elsewhere/{tables}/part-* out/{tables}"));
        }
        fs::remove_dir_all(folder.join("elsewhere")).unwrap();
    }
    good(folder, "tallyhouse census --finish --out out");
    assert_same_datasets(&folder.join("out"), &folder.join("whole"));
}

/// Tests if a variable asks for an engine; says so if it does not.
fn is_asked(variable: &str, needs: &str) -> Option<String> {
    let value = std::env::var(variable).ok().filter(|value| !value.is_empty());
    if value.is_none() {
        eprintln!("SKIPPED: set {variable} to {needs}");
    }
    value
}

fn hostname() -> String {
    let name = fs::read_to_string("/proc/sys/kernel/hostname").unwrap();
    name.trim().split('.').next().unwrap().to_owned()
}

/// Returns a port that nobody listens at.
fn free_port() -> u16 {
    std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}
