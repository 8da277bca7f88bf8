//! A scan that is stopped at any moment and resumed ends with the bytes of an undisturbed one.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Child, ChildStdin, Stdio};

use rand::RngExt;
use tallyhouse_oracles::positions;
use tallyhouse_tests::command::{Ran, command, dataset_bytes, run};

const PART: usize = 1000;
const SCAN: [&str; 6] = ["census", "-", "--out", "out", "--part-size", "1000"];

/// Makes puzzles as text, with some rows to be rejected, so that the rejects of all parts are joined
/// as well.
fn collection(folder: &Path) -> String {
    let made = run(folder, &["make", "--count", "6000", "--seed", "8", "--out", "-"]);
    assert_eq!(made.code, Some(0), "{made:?}");
    let broken = |(number, row): (usize, &str)| {
        if number % 777 == 9 { format!("{row}x\n") } else { format!("{row}\n") }
    };
    made.out.lines().enumerate().map(broken).collect()
}

/// Begins a scan that reads what it is handed.
fn begin(folder: &Path, more: &[&str]) -> (Child, ChildStdin) {
    let mut scan = command(folder);
    scan.args(SCAN).args(more).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = scan.spawn().unwrap();
    let input = child.stdin.take().unwrap();
    (child, input)
}

/// Scans a text to its end.
fn scan(folder: &Path, more: &[&str], text: &str) -> Ran {
    let (child, mut input) = begin(folder, more);
    // A scan that is refused does not read all of it.
    let _ = input.write_all(text.as_bytes());
    drop(input);
    child.wait_with_output().unwrap().into()
}

/// Waits until a running scan has written a file. It always gets there: it waits for input alone.
fn wait_for(child: &mut Child, file: &Path) {
    while !file.exists() {
        assert!(child.try_wait().unwrap().is_none(), "the scan ended without {}", file.display());
        std::thread::yield_now();
    }
}

/// Returns how many whole parts the beginning of a text holds.
fn whole_parts(text: &str) -> usize {
    text.lines().filter(|line| !line.starts_with('#')).count().saturating_sub(1) / PART
}

/// Every finished part must be readable as it is: no file is under its name before it is whole.
fn assert_whole_parts_only(out: &Path) {
    for table in ["puzzles", "positions", "subsets"] {
        let Ok(entries) = fs::read_dir(out.join(table)) else { continue };
        for entry in entries {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|extension| extension == "parquet") {
                let bytes = fs::read(&path).unwrap();
                assert!(bytes.ends_with(b"PAR1"), "{}", path.display());
            }
        }
    }
}

#[test]
fn ended_at_any_moment_and_resumed() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let text = collection(folder);
    assert_eq!(scan(folder, &[], &text).code, Some(0));
    let out = folder.join("out");
    let expected = dataset_bytes(&out);
    assert!(expected.contains_key(Path::new("rejects.csv")));
    let mut rng = positions::rng(61);
    let begun = || out.join("unfinished/plan.json").exists();
    for turn in 0..6 {
        fs::remove_dir_all(&out).unwrap();
        for _ in 0..3 {
            // A run that was ended before it made its folder has nothing to resume.
            let more: &[&str] = if begun() { &["--resume"] } else { &[] };
            let (mut child, mut input) = begin(folder, more);
            let handed = &text[..rng.random_range(0..text.len())];
            input.write_all(handed.as_bytes()).unwrap();
            // Ended while it works, or when it has done what it could and waits for more.
            if let (1.., true) = (whole_parts(handed), rng.random_bool(0.5)) {
                let part = whole_parts(handed) - 1;
                wait_for(&mut child, &out.join(format!("unfinished/part-{part:08}.json")));
            }
            child.kill().unwrap();
            child.wait().unwrap();
            assert_whole_parts_only(&out);
            assert!(!out.join("manifest.json").exists());
        }
        let more: &[&str] = if begun() { &["--resume"] } else { &[] };
        if turn % 2 == 0 {
            assert_eq!(scan(folder, more, &text).code, Some(0));
        } else {
            // Ended while it brings everything to its end: it may be done or not.
            let (mut child, mut input) = begin(folder, more);
            input.write_all(text.as_bytes()).unwrap();
            drop(input);
            while !out.join("counts.csv").exists() && child.try_wait().unwrap().is_none() {
                std::thread::yield_now();
            }
            child.kill().unwrap();
            child.wait().unwrap();
            assert_whole_parts_only(&out);
            if begun() {
                assert_eq!(scan(folder, &["--resume"], &text).code, Some(0));
            }
        }
        let found = dataset_bytes(&out);
        assert!(found.keys().eq(expected.keys()), "{:?}", found.keys());
        for (name, bytes) in &found {
            assert!(*bytes == expected[name], "{}", name.display());
        }
    }
}

#[test]
fn what_has_changed_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let text = collection(folder);
    let (mut child, mut input) = begin(folder, &[]);
    input.write_all(&text.as_bytes()[..text.len() / 2]).unwrap();
    wait_for(&mut child, &folder.join("out/unfinished/part-00000000.json"));
    child.kill().unwrap();
    child.wait().unwrap();
    let refused = |more: &[&str], text: &str, message: &str| {
        let ran = scan(folder, &[&["--resume"], more].concat(), text);
        assert_eq!(ran.code, Some(1), "{ran:?}");
        assert!(ran.err.contains(message), "{ran:?}");
    };
    let kept = "keep_states is now true, but the folder was begun with false";
    refused(&["--keep-states"], &text, kept);
    refused(&["--intersections"], &text, "walk is now");
    let tables = "tables is now \"none\", but the folder was begun with \"all\"";
    refused(&["--tables", "none"], &text, tables);
    let plain = scan(folder, &[], &text);
    assert!(plain.err.contains("continue the unfinished run in it with --resume"), "{plain:?}");
    let changed = text.replacen("\n1", "\n2", 1).replacen("\n.", "\n3", 1);
    refused(
        &[],
        &changed,
        "the collection has changed: rows 1 to 1000 are not those scanned before",
    );
}
