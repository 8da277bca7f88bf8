//! A scan that is stopped at any moment and resumed ends with the bytes of an undisturbed one.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use rand::RngExt;
use tallyhouse_oracles::positions;
use tallyhouse_tests::command::{command, dataset_bytes, run};

const SCAN: [&str; 6] = ["census", "in.txt", "--out", "out", "--part-size", "500"];

fn collection(folder: &Path) {
    let made = run(folder, &["make", "--count", "30000", "--seed", "8", "--out", "in.txt"]);
    assert_eq!(made.code, Some(0), "{made:?}");
    // Some rows to be rejected, so that the rejects of all parts are joined as well.
    let text = fs::read_to_string(folder.join("in.txt")).unwrap();
    let rows: Vec<String> = text
        .lines()
        .enumerate()
        .map(|(number, row)| if number % 777 == 9 { format!("{row}x") } else { row.to_owned() })
        .collect();
    fs::write(folder.join("in.txt"), rows.join("\n")).unwrap();
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

/// Ends a run as people, systems and full memories do: SIGINT, SIGTERM and SIGKILL in turn.
fn end(child: &mut Child, turn: usize) {
    match ["INT", "TERM"].get(turn % 3) {
        // The run may have ended by itself, so the outcome of the command does not matter.
        Some(signal) if cfg!(unix) => {
            let id = child.id().to_string();
            let script = format!("kill -{signal} {id} 2>/dev/null");
            Command::new("sh").args(["-c", &script]).status().unwrap();
        }
        _ => child.kill().unwrap(),
    }
}

#[test]
fn ended_at_random_moments_and_resumed() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    collection(folder);
    assert_eq!(run(folder, &SCAN).code, Some(0));
    let expected: BTreeMap<_, _> = dataset_bytes(&folder.join("out"));
    assert!(expected.contains_key(Path::new("rejects.csv")));
    let mut rng = positions::rng(61);
    let (mut tries, mut interrupted) = (0, 0);
    for _ in 0..12 {
        fs::remove_dir_all(folder.join("out")).unwrap();
        let mut resume = false;
        loop {
            let mut scan = command(folder);
            scan.args(SCAN).stdout(Stdio::null()).stderr(Stdio::null());
            // A run that was ended before it made its folder has nothing to resume.
            let begun = folder.join("out/unfinished/plan.json").exists();
            scan.args((resume && begun).then_some("--resume"));
            if !begun {
                let _ = fs::remove_dir_all(folder.join("out"));
            }
            let mut child = scan.spawn().unwrap();
            std::thread::sleep(Duration::from_millis(rng.random_range(5..60)));
            // Where the tests run in the background, SIGINT may be ignored: each try takes the next.
            end(&mut child, tries);
            tries += 1;
            let status = child.wait().unwrap();
            assert_whole_parts_only(&folder.join("out"));
            if status.success() {
                break;
            }
            interrupted += 1;
            resume = true;
            if folder.join("out/manifest.json").exists() {
                break;
            }
        }
        // Ended between the manifest and the last of the ledger.
        if folder.join("out/unfinished/plan.json").exists() {
            assert_eq!(run(folder, &[&SCAN[..], &["--resume"]].concat()).code, Some(0));
        }
        let found = dataset_bytes(&folder.join("out"));
        let names = |files: &BTreeMap<_, _>| files.keys().cloned().collect::<Vec<PathBuf>>();
        assert_eq!(names(&found), names(&expected));
        for (name, bytes) in &found {
            assert!(*bytes == expected[name], "{}", name.display());
        }
    }
    assert!(interrupted > 5, "the scan was too fast to be interrupted: {interrupted}");
}

#[test]
fn what_has_changed_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    collection(folder);
    let begin = || {
        let _ = fs::remove_dir_all(folder.join("out"));
        let mut child = command(folder).args(SCAN).stdout(Stdio::null()).spawn().unwrap();
        while !folder.join("out/unfinished/part-00000.json").exists() {
            assert!(child.try_wait().unwrap().is_none(), "the scan ended too soon");
            std::thread::yield_now();
        }
        child.kill().unwrap();
        child.wait().unwrap();
    };
    begin();
    let refused = |more: &[&str], message: &str| {
        let ran = run(folder, &[&SCAN[..], &["--resume"], more].concat());
        assert_eq!(ran.code, Some(1), "{ran:?}");
        assert!(ran.err.contains(message), "{ran:?}");
    };
    refused(&["--keep-states"], "keep_states is now true, but the folder was begun with false");
    refused(&["--intersections"], "walk is now");
    refused(&["--tables", "none"], "tables is now \"none\", but the folder was begun with \"all\"");
    let plain = run(folder, &SCAN);
    assert!(plain.err.contains("continue the unfinished run in it with --resume"), "{plain:?}");
    let text = fs::read_to_string(folder.join("in.txt")).unwrap();
    fs::write(folder.join("in.txt"), text.replacen("\n1", "\n2", 1).replacen("\n.", "\n3", 1))
        .unwrap();
    refused(&[], "the collection has changed: rows 1 to 500 are not those scanned before");
}
