//! What commands write: nobody's files but their own, whole or not at all, and known again.

use std::fs;
use std::path::Path;
use std::process::Stdio;

use tallyhouse_tests::command::{Ran, command, run};
use tallyhouse_tests::simulated;
use tempfile::TempDir;

fn good(folder: &Path, line: &str) -> Ran {
    let ran = run(folder, &line.split(' ').collect::<Vec<_>>());
    assert_eq!(ran.code, Some(0), "{line}: {ran:?}");
    ran
}

/// Expects that a command says so, and that no file is changed.
fn refused(folder: &Path, line: &str, message: &str) {
    let before = all(folder);
    let ran = run(folder, &line.split(' ').collect::<Vec<_>>());
    assert_eq!(ran.code, Some(1), "{line}: {ran:?}");
    assert!(ran.err.contains(message), "{line}: {}", ran.err);
    assert!(all(folder) == before, "{line} changed something");
}

/// All files, hidden ones too, with their contents.
fn all(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let at = entry.unwrap().path();
            if at.is_dir() {
                folders.push(at);
            } else {
                let name = at.strip_prefix(folder).unwrap().display().to_string();
                all.push((name, fs::read(&at).unwrap()));
            }
        }
    }
    all.sort();
    all
}

fn puzzles() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    good(folder.path(), "make --count 60 --seed 3 -o in.txt");
    simulated::copy_to(folder.path(), "times.csv", "items.csv");
    folder
}

/// The commands that fill a folder of their own, each with what it writes.
const WHOLE: [(&str, &str); 12] = [
    ("census in.txt -o out", "counts.csv"),
    ("collect in.txt -o out", "puzzles/part-00000000.parquet"),
    ("judge in.txt --rulebook short-list -o out", "missed.csv"),
    ("order --training-count 9 --held-out-count 9 --evaluations 3 -o out", "order.json"),
    ("describe in.txt -o out", "description.json"),
    ("yields in.txt -o out", "yields.csv"),
    ("compare in.txt --rulebook full-ladder --rulebook naked-only -o out", "glances.csv"),
    ("specimen in.txt --most 1 -o out", "specimens.csv"),
    ("inspect in.txt --line 9 -o out", "manifest.json"),
    ("worksheet in.txt --rulebook full-ladder --count 2 -o out", "worksheet.pdf"),
    (
        "explain ...6.39..3.......5..1.....44.......29..8.26..8.74......5...7....3216...9...2...1. \
         --position 1 --house box-1 -o out",
        "subset-1-naked.svg",
    ),
    ("timings times.csv --items items.csv -o out", "weights.csv"),
];

#[test]
fn a_folder_is_replaced_only_if_it_is_ours_and_unchanged() {
    let folder = puzzles();
    let folder = folder.path();
    for (line, file) in WHOLE {
        let file = folder.join("out").join(file);
        good(folder, line);
        assert!(file.is_file(), "{line}");
        let names = || all(folder).into_iter().map(|(name, _)| name).collect::<Vec<_>>();
        let written = names();
        assert_eq!(good(folder, "verify out").out.split(',').next(), Some("out: good"));
        refused(folder, line, "out exists already: choose another folder, or allow it");
        let replace = format!("{line} --replace");
        good(folder, &replace);
        assert_eq!(names(), written, "{line}");
        fs::write(folder.join("out/thesis.txt"), "mine").unwrap();
        refused(folder, &replace, "out holds thesis.txt, which is not on the list");
        fs::remove_file(folder.join("out/thesis.txt")).unwrap();
        let bytes = fs::read(&file).unwrap();
        fs::write(&file, [&bytes[..], b"\n"].concat()).unwrap();
        if !file.ends_with("manifest.json") {
            refused(folder, &replace, "which was changed after it was written");
            refused(folder, "verify out", "1 of 1 folder not as written");
        }
        fs::remove_dir_all(folder.join("out")).unwrap();
    }
}

#[test]
fn a_failure_leaves_nothing_in_the_way() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("in.txt"), "too short\n").unwrap();
    // A census has begun then, and says so.
    let others = |line: &str| line.contains("in.txt") && !line.starts_with("census");
    for (line, _) in WHOLE.into_iter().filter(|(line, _)| others(line)) {
        // The list of rejected rows may be all there is; it gives way.
        for _ in 0..2 {
            let ran = run(folder, &line.split(' ').collect::<Vec<_>>());
            assert_eq!(ran.code, Some(1), "{line}: {ran:?}");
            assert!(!ran.err.contains("exists already"), "{line}: {ran:?}");
            let list = folder.join("out/rejects.csv");
            assert_eq!(ran.err.contains("listed in out/rejects.csv"), list.exists(), "{ran:?}");
        }
        let _ = fs::remove_dir_all(folder.join("out"));
    }
    let missing = "order --training no.txt --held-out no.txt -o out";
    refused(folder, missing, "no.txt");
    assert!(!folder.join("out").exists());
}

#[test]
fn the_present_folder_will_do() {
    let inputs = puzzles();
    for (line, file) in WHOLE {
        let folder = inputs.path().join("here");
        fs::create_dir(&folder).unwrap();
        let mut line = line.replace("-o out", "-o .");
        for name in ["in.txt", "times.csv", "items.csv"] {
            line = line.replace(name, &format!("../{name}"));
        }
        good(&folder, &line);
        assert!(folder.join(file).is_file(), "{line}");
        fs::remove_dir_all(folder).unwrap();
    }
}

#[test]
fn an_unusable_place_is_told_at_once() {
    let folder = puzzles();
    let folder = folder.path();
    fs::write(folder.join("file"), "mine").unwrap();
    for (line, _) in WHOLE {
        refused(folder, &line.replace("-o out", "-o file"), "file is a file");
        refused(folder, &line.replace("-o out", "-o no/such"), "cannot write no/such");
    }
    refused(folder, "make --count 5 -o no/such", "cannot write no/such");
    fs::create_dir(folder.join("dir")).unwrap();
    refused(folder, "make --count 5 -o dir", "dir is a folder");
}

#[test]
fn charts_and_pages_stand_beside_files_of_others_and_replace_none() {
    let folder = puzzles();
    let folder = folder.path();
    for (line, file) in [("chart clues in.txt -o out", "clues.csv"), ("man -o out", "tallyhouse.1")]
    {
        fs::create_dir(folder.join("out")).unwrap();
        fs::write(folder.join("out/thesis.txt"), "mine").unwrap();
        fs::write(folder.join("out").join(file), "mine").unwrap();
        refused(folder, line, &format!("out/{file} exists already and differs"));
        good(folder, &format!("{line} --replace"));
        let written = all(folder);
        assert!(written.iter().any(|(name, text)| name == "out/thesis.txt" && text == b"mine"));
        assert!(fs::read(folder.join("out").join(file)).unwrap() != b"mine");
        // The same again is no harm.
        good(folder, line);
        assert!(all(folder) == written);
        fs::remove_dir_all(folder.join("out")).unwrap();
    }
}

#[test]
fn two_makers_of_one_file_do_not_mix() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    good(folder, "make --count 6000 --seed 9 -o whole");
    let whole = fs::read(folder.join("whole")).unwrap();
    for second in ["--resume", "--replace"] {
        let make = ["make", "--count", "6000", "--seed", "9", "-o", "m"];
        let mut first = command(folder);
        first.args(make).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut first = first.spawn().unwrap();
        while fs::read_dir(folder).unwrap().count() < 2 && first.try_wait().unwrap().is_none() {
            std::thread::yield_now();
        }
        let second = run(folder, &[&make[..], &[second]].concat());
        let first = Ran::from(first.wait_with_output().unwrap());
        let refused = |ran: &&Ran| {
            ran.code == Some(1) && ran.err.contains("another command writes m now: ")
                || ran.code == Some(1) && ran.err.contains("m exists already")
        };
        let ran = [&first, &second];
        assert!(ran.iter().any(|ran| ran.code == Some(0)), "{ran:?}");
        assert!(ran.iter().all(|ran| ran.code == Some(0) || refused(ran)), "{ran:?}");
        assert!(fs::read(folder.join("m")).unwrap() == whole);
        fs::remove_file(folder.join("m")).unwrap();
        assert_eq!(fs::read_dir(folder).unwrap().count(), 1, "litter");
    }
}

#[test]
fn a_collection_that_was_changed_is_not_read() {
    let folder = puzzles();
    let folder = folder.path();
    good(folder, "collect in.txt -o collection");
    let part = folder.join("collection/puzzles/part-00000000.parquet");
    let bytes = fs::read(&part).unwrap();
    let damaged = "puzzles/part-00000000.parquet is not as it was written";
    for bit in (0..8 * bytes.len()).step_by(8 * bytes.len() / 9) {
        let mut flipped = bytes.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        fs::write(&part, flipped).unwrap();
        refused(folder, "describe collection", damaged);
        refused(folder, "judge collection --rulebook short-list -o trial", damaged);
    }
    fs::remove_file(&part).unwrap();
    refused(folder, "describe collection", "puzzles/part-00000000.parquet is missing");
    refused(folder, "verify collection", "1 of 1 folder not as written");
    fs::write(&part, bytes).unwrap();
    good(folder, "describe collection");
    let manifest = folder.join("collection/manifest.json");
    let text = fs::read_to_string(&manifest).unwrap();
    fs::write(&manifest, text.replacen("\"read\": 60", "\"read\": 61", 1)).unwrap();
    refused(folder, "describe collection", "manifest.json: it is not as it was written");
}

#[test]
fn what_charts_read_is_checked() {
    let folder = puzzles();
    let folder = folder.path();
    good(folder, "judge in.txt --rulebook short-list -o trial");
    good(folder, "order --training-count 9 --held-out-count 9 --evaluations 3 -o orders");
    for (line, file) in [
        ("chart missed trial -o out", "trial/short-list/missed-shares.csv"),
        ("chart frontier orders -o out", "orders/frontier.csv"),
    ] {
        let path = folder.join(file);
        let text = fs::read_to_string(&path).unwrap();
        let at = text.rfind(|c: char| c.is_ascii_digit()).unwrap();
        let digit = if text[at..].starts_with('7') { "8" } else { "7" };
        fs::write(&path, [&text[..at], digit, &text[at + 1..]].concat()).unwrap();
        refused(folder, line, " is not as it was written");
    }
}

const RECIPE: &str = "name = \"own\"\ntitle = \"Own\"\n[[collection]]\nname = \"made\"\n\
    title = \"Made\"\ncount = 60\nseed = 1\n[charts]\nkinds = [\"clues\"]\n";

#[test]
fn a_study_touches_no_files_of_others() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("recipe.toml"), RECIPE).unwrap();
    let study = "study recipe.toml -o study";
    for name in ["recipe.toml", "data/mine.csv", "figures/mine.svg", "thesis.txt"] {
        let path = folder.join("study").join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, "mine").unwrap();
        refused(folder, study, &format!("study holds {name}, which is not on the list"));
        refused(folder, &format!("{study} --replace"), &format!("study holds {name}, which"));
        fs::remove_dir_all(folder.join("study")).unwrap();
    }
    good(folder, study);
    let written = all(folder);
    fs::write(folder.join("study/data/mine.csv"), "mine").unwrap();
    refused(folder, study, "study holds data/mine.csv, which is not on the list");
    fs::remove_file(folder.join("study/data/mine.csv")).unwrap();
    let report = folder.join("study/report.md");
    let text = fs::read_to_string(&report).unwrap();
    fs::write(&report, "my words\n").unwrap();
    refused(folder, study, "study holds report.md, which was changed");
    fs::write(&report, text).unwrap();
    // What is missing or damaged in work is done again, and all is as it was.
    fs::write(folder.join("study/work/puzzles-made/puzzles.txt"), "damaged").unwrap();
    fs::remove_file(folder.join("study/data/collection-made/description.json")).unwrap_or_default();
    good(folder, study);
    let names = |all: &[(String, Vec<u8>)]| all.iter().map(|(n, _)| n.clone()).collect::<Vec<_>>();
    assert_eq!(names(&all(folder)), names(&written));
    good(folder, "verify study");
    // Without work, which a published study lacks, the rest is still compared.
    let (work, elsewhere) = (folder.join("study/work"), folder.join("elsewhere"));
    fs::rename(&work, &elsewhere).unwrap();
    let verified = good(folder, "verify study").out;
    assert!(verified.ends_with(" of them in work, which is not here\n"), "{verified}");
    fs::rename(&report, folder.join("report")).unwrap();
    refused(folder, "verify study", "1 of 1 folder not as written");
    fs::rename(folder.join("report"), &report).unwrap();
    fs::create_dir(&work).unwrap();
    refused(folder, "verify study", "1 of 1 folder not as written");
    fs::remove_dir(&work).unwrap();
    fs::rename(&elsewhere, &work).unwrap();
    // The recipe that is run is the user's, wherever it lies.
    let changed = RECIPE.replace("title = \"Own\"", "title = \"My own\"");
    fs::write(folder.join("study/recipe.toml"), &changed).unwrap();
    refused(folder, study, "study holds recipe.toml, which was changed");
    good(folder, "study study/recipe.toml -o study");
    assert_eq!(fs::read_to_string(folder.join("study/recipe.toml")).unwrap(), changed);
    fs::write(folder.join("study/mine.toml"), RECIPE.replace("\"Own\"", "\"Other\"")).unwrap();
    good(folder, "study study/mine.toml -o study");
}

#[test]
fn a_study_deletes_nothing_outside_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("recipe.toml"), RECIPE).unwrap();
    good(folder, "study recipe.toml -o study");
    fs::create_dir(folder.join("victim")).unwrap();
    fs::write(folder.join("victim/thesis.txt"), "mine").unwrap();
    let ledger = folder.join("study/study.json");
    let text = fs::read_to_string(&ledger).unwrap();
    for name in ["../victim", "work/../../victim", "/victim"] {
        // Whoever writes this can seal it too.
        let text = text.replacen("work/puzzles-made\":", &format!("{name}\":"), 1);
        let sealed = text.split(",\n  \"seal\"").next().unwrap();
        let seal = tallyhouse_storage::Digest::of(sealed.as_bytes());
        fs::write(&ledger, format!("{sealed},\n  \"seal\": \"{seal}\"\n}}\n")).unwrap();
        refused(folder, "study recipe.toml -o study", "is no path below the folder");
    }
    fs::write(&ledger, &text[..text.len() / 2]).unwrap();
    refused(folder, "study recipe.toml -o study", "study.json: it carries no seal");
}
