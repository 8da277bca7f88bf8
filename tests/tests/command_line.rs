//! The command as people meet it: help, main outputs, bad input and exit codes.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use tallyhouse_tests::command::{Ran, command, path, run};

/// Solved by singles; from our own generator.
const EASY: &str =
    "82..5...3..1.8..5...5..34......9.38.293.6.............1..9.8........7.6..7.42....";

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

fn fails(ran: &Ran, code: i32, message: &str) {
    assert_eq!(ran.code, Some(code), "{ran:?}");
    assert!(ran.err.contains(message), "expected {message:?} in {ran:?}");
    assert!(!ran.err.contains("panicked"), "{ran:?}");
}

fn census_of(text: &[u8]) -> (Ran, tempfile::TempDir) {
    let folder = folder();
    fs::write(folder.path().join("in.txt"), text).unwrap();
    let ran = run(folder.path(), &["census", "in.txt", "--out", "out"]);
    (ran, folder)
}

fn reject(row: &str, reason: &str) {
    let (ran, folder) = census_of(format!("{EASY}\n{row}\n").as_bytes());
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(ran.err.contains("1 of 2 rows rejected"), "{ran:?}");
    assert!(ran.err.contains(&format!("in.txt, line 2: {reason}")), "{reason}: {ran:?}");
    let mut rejects = fs::read_to_string(folder.path().join("out/rejects.csv")).unwrap();
    assert_eq!(rejects.lines().count(), 2);
    assert!(rejects.contains(reason), "{rejects}");
    let (ran, folder) = census_of(row.as_bytes());
    fails(&ran, 1, "none of the 1 rows is a valid puzzle; the first: in.txt, line 1");
    rejects = fs::read_to_string(folder.path().join("out/rejects.csv")).unwrap();
    assert!(rejects.contains(reason), "{rejects}");
    assert!(!folder.path().join("out/manifest.json").exists());
}

#[test]
fn rows_that_are_no_valid_puzzle_are_rejected_with_their_reason() {
    reject(&EASY[1..], "80 characters instead of 81");
    reject(&format!("{EASY}."), "82 characters instead of 81");
    reject(&EASY.replacen('.', "x", 1), "character 3 is 'x'");
    reject(&EASY.replacen('.', "8", 1), "8 stands twice in row 1: r1c1 and r1c3");
    reject(&EASY.replacen('.', "4", 1), "no solution: expected exactly one");
    reject(&EASY.replacen('8', ".", 1), "several solutions: expected exactly one");
}

#[test]
fn sources_that_hold_nothing_are_named() {
    let folder = folder();
    let missing = run(folder.path(), &["census", "missing.txt", "--out", "out"]);
    fails(&missing, 1, "cannot open missing.txt");
    let none = run(folder.path(), &["census", ".", "--out", "out"]);
    fails(&none, 1, ". is not a collection folder: it has no manifest.json");
    for empty in ["", "\n\n# only a remark\n"] {
        let (ran, folder) = census_of(empty.as_bytes());
        fails(&ran, 1, "no puzzles in in.txt");
        assert!(!folder.path().join("out").exists());
    }
}

#[test]
fn existing_results_are_left_alone() {
    let (ran, folder) = census_of(EASY.as_bytes());
    assert_eq!(ran.code, Some(0));
    let before = fs::read(folder.path().join("out/manifest.json")).unwrap();
    let again = run(folder.path(), &["census", "in.txt", "--out", "out"]);
    fails(&again, 1, "out exists already");
    let resumed = run(folder.path(), &["census", "in.txt", "--out", "out", "--resume"]);
    fails(&resumed, 1, "out: nothing to resume");
    assert_eq!(fs::read(folder.path().join("out/manifest.json")).unwrap(), before);

    let make = ["make", "--count", "1", "--seed", "1", "--out", "in.txt"];
    fails(&run(folder.path(), &make), 1, "in.txt exists already");
    assert_eq!(fs::read_to_string(folder.path().join("in.txt")).unwrap(), EASY);
    assert_eq!(run(folder.path(), &[&make[..], &["--replace"]].concat()).code, Some(0));
    assert_ne!(fs::read_to_string(folder.path().join("in.txt")).unwrap(), EASY);

    fails(&run(folder.path(), &["study", "--out", "out"]), 1, "out exists already");
    let refused = run(folder.path(), &["study", "--out", "out", "--replace"]);
    fails(&refused, 1, "out is not an earlier study");
}

#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_takes_no_more_is_reported() {
    let folder = folder();
    let full = Command::new(path())
        .args(["make", "--count", "500", "--seed", "1", "--out", "-"])
        .stdout(fs::File::options().write(true).open("/dev/full").unwrap())
        .output()
        .unwrap();
    fails(&full.into(), 1, "No space left on device");

    let made = run(folder.path(), &["make", "--count", "2000", "--seed", "1", "--out", "in.txt"]);
    assert_eq!(made.code, Some(0));
    // A limit on the size of any file, with its signal ignored, so that writing fails.
    let script = "trap '' XFSZ; ulimit -f 8; exec \"$0\" census in.txt --out out";
    let limited =
        Command::new("sh").args(["-c", script]).arg(path()).current_dir(folder.path()).output();
    fails(&limited.unwrap().into(), 1, "cannot write out/");
    let litter = |entry: &fs::DirEntry| entry.file_name().to_string_lossy().contains("partial");
    for table in ["out", "out/puzzles", "out/positions", "out/subsets"] {
        let entries = fs::read_dir(folder.path().join(table)).unwrap();
        assert_eq!(entries.map(Result::unwrap).filter(litter).count(), 0, "{table}");
    }
    assert!(!folder.path().join("out/manifest.json").exists());
    // With room again, the run goes on where it stopped.
    let resumed = run(folder.path(), &["census", "in.txt", "--out", "out", "--resume"]);
    assert_eq!(resumed.code, Some(0), "{resumed:?}");
    assert!(folder.path().join("out/manifest.json").exists());
    assert!(!folder.path().join("out/unfinished").exists());
}

#[test]
fn wrong_usage_exits_with_2() {
    let folder = folder();
    for (arguments, message) in [
        (&["census", "--colour"][..], "unexpected argument '--colour'"),
        (&["scan"], "unrecognized subcommand"),
        (&["census", "in.txt"], "--out <DIR>"),
        (&["make", "--count", "0", "--seed", "1", "--out", "x"], "0 is not in 1.."),
        (&["census", "a", "--out", "b", "--looks", "naked 9"], "a look needs a size from 1 to 8"),
        (&["census", "a", "--out", "b", "--looks", "naked 6 open 2..5"], "does not fit"),
        (&["census", "a", "--out", "b", "--looks", ","], "at least one look"),
        (&["census", "a", "--out", "b", "--shard", "3/2"], "expected I/N with 1 <= I <= N"),
        (&["study", "--threads", "0"], "invalid value '0'"),
    ] {
        fails(&run(folder.path(), arguments), 2, message);
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn inspect_refuses_what_is_no_valid_puzzle() {
    let folder = folder();
    let inspect = |line: &str| run(folder.path(), &["inspect", line]);
    fails(&inspect("123"), 1, "cannot read '123': 3 characters instead of 81");
    fails(&inspect(&EASY.replacen('.', "4", 1)), 1, "not a valid puzzle: no solution");
    fails(&inspect(&EASY.replacen('8', ".", 1)), 1, "not a valid puzzle: several solutions");
}

#[test]
fn standard_input_and_pipes_work_and_stay_silent() {
    let folder = folder();
    let mut child = command(folder.path())
        .args(["census", "-", "--out", "out", "--tables", "none"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(EASY.as_bytes()).unwrap();
    let ran: Ran = child.wait_with_output().unwrap().into();
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    assert!(ran.out.starts_with("Scanned 1 puzzles"), "{ran:?}");
    let twice = run(folder.path(), &["census", "-", "-", "--out", "other"]);
    fails(&twice, 1, "standard input (-) can be read only once");

    let mut child = command(folder.path())
        .args(["make", "--count", "20000", "--seed", "1", "--out", "-"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let ran: Ran = child.wait_with_output().unwrap().into();
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "a closed pipe is no failure");
}

fn snapshot(name: &str, folder: &Path, arguments: &[&str]) {
    let ran = run(folder, arguments);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "{arguments:?}");
    insta::assert_snapshot!(name, ran.out);
}

#[test]
fn help_texts() {
    let folder = folder();
    snapshot("help", folder.path(), &["--help"]);
    for command in ["collect", "describe", "make", "census", "merge", "inspect", "study"] {
        snapshot(&format!("help_{command}"), folder.path(), &[command, "--help"]);
    }
}

#[test]
fn main_outputs() {
    let folder = folder();
    snapshot("study", folder.path(), &["study", "--count", "200", "--seed", "9"]);
    let study = folder.path().join("tallyhouse-study");
    for file in ["puzzles.txt", "census/counts.csv", "census/exposure.csv", "summary.txt"] {
        assert!(study.join(file).is_file(), "{file}");
    }
    for figure in ["occurrence-counts", "occurrence-rates"] {
        for kind in ["svg", "png", "csv"] {
            assert!(study.join("figures").join(format!("{figure}.{kind}")).is_file());
        }
    }
    insta::assert_snapshot!(
        "occurrence_counts_svg",
        fs::read_to_string(study.join("figures/occurrence-counts.svg")).unwrap()
    );
    let replaced = run(folder.path(), &["study", "--count", "100", "--replace"]);
    assert_eq!(replaced.code, Some(0), "{replaced:?}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");

    let puzzles = fs::read_to_string(study.join("puzzles.txt")).unwrap();
    let hard = puzzles
        .lines()
        .filter(|line| !line.starts_with('#'))
        .find(|line| run(folder.path(), &["inspect", line]).out.contains("Subsets: "));
    snapshot("inspect", folder.path(), &["inspect", hard.unwrap()]);
    snapshot("inspect_json", folder.path(), &["inspect", hard.unwrap(), "--json"]);
    snapshot("inspect_easy", folder.path(), &["inspect", EASY]);
}
