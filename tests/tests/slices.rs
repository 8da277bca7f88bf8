//! The slices of a collection, scanned apart and joined, are the dataset of one undivided scan.

use std::fs;
use std::path::Path;

use tallyhouse_tests::command::{Ran, dataset_bytes, run};

fn census(folder: &Path, out: &str, more: &[&str]) -> Ran {
    let plain = ["census", "in.txt", "more.txt", "--part-size", "100", "--out", out];
    run(folder, &[&plain[..], more].concat())
}

fn refused(folder: &Path, slices: &[&str], message: &str) {
    let ran = run(folder, &[&["merge"], slices, &["--out", "joined"]].concat());
    assert_eq!(ran.code, Some(1), "{ran:?}");
    assert!(ran.err.contains(message), "{message}: {ran:?}");
    assert!(!folder.join("joined").exists());
}

#[test]
fn joined_slices_are_the_whole() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let made = run(folder, &["make", "--count", "1250", "--seed", "4", "--out", "in.txt"]);
    assert_eq!(made.code, Some(0));
    fs::write(folder.join("more.txt"), "broken, first\nbroken, \"second\"\n").unwrap();
    let text = fs::read_to_string(folder.join("in.txt")).unwrap();
    fs::write(folder.join("in.txt"), format!("short\n{text}")).unwrap();

    for tables in ["all", "none"] {
        let whole = census(folder, "whole", &["--tables", tables]);
        assert_eq!(whole.code, Some(0), "{whole:?}");
        for shard in ["1/3", "2/3", "3/3"] {
            let out = format!("slice-{}", &shard[..1]);
            let ran = census(folder, &out, &["--tables", tables, "--shard", shard]);
            assert_eq!(ran.code, Some(0), "{ran:?}");
        }
        let joined = run(folder, &["merge", "slice-2", "slice-1", "slice-3", "--out", "joined"]);
        assert_eq!((joined.code, joined.err.as_str()), (Some(0), ""), "{joined:?}");
        assert!(joined.out.starts_with("Joined 3 slices: 1,250 puzzles, "), "{joined:?}");
        assert!(dataset_bytes(&folder.join("joined")) == dataset_bytes(&folder.join("whole")));
        if tables == "all" {
            for out in ["whole", "slice-1", "slice-2", "slice-3", "joined"] {
                fs::remove_dir_all(folder.join(out)).unwrap();
            }
        }
    }
    let again = run(folder, &["merge", "slice-1", "slice-2", "slice-3", "--out", "joined"]);
    assert!(again.err.contains("joined exists already"), "{again:?}");
    fs::remove_dir_all(folder.join("joined")).unwrap();

    refused(folder, &["slice-1", "slice-3"], "slice 2/3 is missing");
    refused(folder, &["slice-1", "slice-2", "slice-2"], "slice 2/3 is in slice-2 and in slice-2");
    refused(folder, &["whole"], "whole holds all of the collection, expected a slice");
    refused(folder, &["slice-1", "nowhere"], "nowhere can't be read back: it has no manifest.json");
    let ran = census(folder, "other", &["--tables", "none", "--shard", "2/2"]);
    assert_eq!(ran.code, Some(0));
    refused(folder, &["slice-1", "other"], "other holds slice 2/2, but slice-1 is one of 3");
    let ran = census(folder, "apart", &["--tables", "none", "--shard", "2/3", "--intersections"]);
    assert_eq!(ran.code, Some(0));
    refused(folder, &["slice-1", "apart", "slice-3"], "walk is");
}
