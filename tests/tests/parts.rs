//! A scan that is planned, done in parts by many runs and finished is that of one run, to the byte.

use std::fs;
use std::path::Path;
use std::process::{Child, Stdio};
use std::sync::Mutex;

use rand::RngExt;
use rand::seq::SliceRandom;
use tallyhouse_oracles::positions;
use tallyhouse_tests::command::{Ran, assert_same_datasets as same, command, run};

fn good(folder: &Path, arguments: &[&str]) -> Ran {
    let ran = run(folder, arguments);
    assert_eq!(ran.code, Some(0), "{arguments:?}: {ran:?}");
    ran
}

fn fails(folder: &Path, arguments: &[&str], code: i32, message: &str) {
    let ran = run(folder, arguments);
    assert_eq!(ran.code, Some(code), "{arguments:?}: {ran:?}");
    assert!(ran.err.contains(message), "{arguments:?}: {message}: {ran:?}");
}

/// Does parts in a random order, some of them twice, two runs at a time.
fn do_shuffled(folder: &Path, out: &str, parts: u64) {
    let mut rng = positions::rng(7);
    let mut order: Vec<u64> = (0..parts).chain([0, parts / 2, parts - 1]).collect();
    order.shuffle(&mut rng);
    let left = Mutex::new(order);
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let Some(part) = left.lock().unwrap().pop() else { break };
                    let ran = good(folder, &["census", "--parts", &part.to_string(), "--out", out]);
                    let done: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
                    let sum = done["done"].as_u64().unwrap() + done["skipped"].as_u64().unwrap();
                    assert_eq!((sum, ran.out.lines().count()), (1, 1), "{ran:?}");
                }
            });
        }
    });
}

/// Plain text with rejects, and comments between the rows.
fn text(folder: &Path, count: u64) -> String {
    let made = good(folder, &["make", "--count", &count.to_string(), "--seed", "5", "--out", "-"]);
    let row = |(number, row): (usize, &str)| match number % 1777 {
        9 => format!("{row}x\n"),
        11 => format!("# a remark\n\n{row} a label\n"),
        _ => format!("{row}\n"),
    };
    made.out.lines().enumerate().map(row).collect()
}

#[test]
fn sixty_thousand_puzzles_in_twelve_parts() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let text = text(folder, 60_000);
    let (first, second) = text.split_at(text[..text.len() / 3].rfind('\n').unwrap() + 1);
    fs::write(folder.join("a.txt"), first).unwrap();
    fs::write(folder.join("b.txt"), second).unwrap();
    let scan = ["census", "a.txt", "b.txt", "--part-size", "5000", "--level", "90", "--out"];
    let whole = good(folder, &[&scan[..], &["whole"]].concat());
    let planned = good(folder, &[&scan[..], &["parts", "--plan", "--json"]].concat());
    assert_eq!(planned.out, "{\"parts\":12,\"part_size\":5000}\n");
    // Planned once more, nothing happens; planned otherwise, it is refused.
    let plan = fs::read(folder.join("parts/unfinished/plan.json")).unwrap();
    good(folder, &[&scan[..], &["parts", "--plan"]].concat());
    assert_eq!(fs::read(folder.join("parts/unfinished/plan.json")).unwrap(), plan);
    let other = [&scan[..], &["parts", "--plan", "--intersections"]].concat();
    fails(folder, &other, 1, "walk is now");
    fails(folder, &["census", "--parts", "3..12", "--out", "parts"], 2, "parts from 0 to 11");
    do_shuffled(folder, "parts", 12);
    // Other sources are not read any more.
    fs::rename(folder.join("a.txt"), folder.join("c.txt")).unwrap();
    let finished = good(folder, &["census", "--finish", "--out", "parts"]);
    let without_folder = |ran: &Ran| ran.out.lines().count();
    assert_eq!(without_folder(&finished), without_folder(&whole));
    assert_eq!(finished.err, whole.err.replace("whole/", "parts/"));
    same(&folder.join("parts"), &folder.join("whole"));
    // What is finished stays as it is, to the time it took.
    let manifest = fs::read(folder.join("parts/manifest.json")).unwrap();
    good(folder, &["census", "--finish", "--out", "parts"]);
    let again = good(folder, &["census", "--parts", "0..3", "--out", "parts"]);
    assert_eq!(again.out, "{\"parts\":4,\"done\":0,\"skipped\":4,\"rows\":0}\n");
    fs::rename(folder.join("c.txt"), folder.join("a.txt")).unwrap();
    good(folder, &[&scan[..], &["parts", "--plan"]].concat());
    assert_eq!(fs::read(folder.join("parts/manifest.json")).unwrap(), manifest);
    good(folder, &["verify", "parts", "whole"]);
}

/// Weighted families that go over parts; finishing reads no table.
#[test]
fn families_over_parts_are_joined_without_the_tables() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let made = good(folder, &["make", "--count", "5200", "--seed", "5", "--out", "-"]);
    let rows: Vec<&str> = made.out.lines().filter(|line| !line.starts_with('#')).collect();
    // Scattered: collect puts them together, and one of them is larger than a part.
    let family = |number: usize| if number.is_multiple_of(2) { 0 } else { 1 + number % 97 };
    let row = |(number, row): (usize, &&str)| {
        format!("{row} weight={}.25 family={}\n", 1 + number % 13, family(number))
    };
    let text: String = rows.iter().enumerate().map(row).collect();
    fs::write(folder.join("in.txt"), text).unwrap();
    fails(folder, &["census", "in.txt", "--out", "x"], 1, "in.txt, line 3: family 0 has puzzles");
    good(folder, &["collect", "in.txt", "--out", "collection"]);
    let scan = ["census", "collection", "--part-size", "1000", "--out"];
    good(folder, &[&scan[..], &["whole"]].concat());
    good(folder, &[&scan[..], &["parts", "--plan"]].concat());
    do_shuffled(folder, "parts", 6);
    // The same length and time, and nothing that could be read.
    for table in ["puzzles", "positions", "subsets"] {
        for entry in fs::read_dir(folder.join("parts").join(table)).unwrap() {
            let path = entry.unwrap().path();
            let (kept, bytes) = (path.with_extension("kept"), fs::read(&path).unwrap());
            let time = fs::metadata(&path).unwrap().modified().unwrap();
            fs::rename(
                &path,
                folder.join(kept.file_name().unwrap().to_str().unwrap().to_owned() + table),
            )
            .unwrap();
            fs::write(&path, vec![0; bytes.len()]).unwrap();
            fs::File::options().write(true).open(&path).unwrap().set_modified(time).unwrap();
        }
    }
    let finished = good(folder, &["census", "--finish", "--out", "parts"]);
    assert!(finished.out.contains("By weight, with 95 % intervals"), "{finished:?}");
    for table in ["puzzles", "positions", "subsets"] {
        for entry in fs::read_dir(folder.join("parts").join(table)).unwrap() {
            let path = entry.unwrap().path();
            let kept = path.with_extension("kept");
            let kept = kept.file_name().unwrap().to_str().unwrap().to_owned() + table;
            fs::rename(folder.join(kept), &path).unwrap();
        }
    }
    same(&folder.join("parts"), &folder.join("whole"));
    good(folder, &["verify", "parts"]);
    // Without tables the shares are the same.
    good(folder, &[&scan[..], &["lean", "--tables", "none"]].concat());
    let shares = |out: &str| fs::read(folder.join(out).join("shares.csv")).unwrap();
    assert_eq!(shares("lean"), shares("whole"));
}

/// Puzzles, and families of puzzles, that are made while they are scanned.
#[test]
fn what_is_made_is_scanned_in_parts() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for (make, parts) in [
        (&["--make", "deletion", "--count", "3500", "--seed", "3", "--part-size", "1000"][..], 4),
        (&["--make", "splitting", "--count", "25", "--population", "40", "--part-size", "4"], 7),
    ] {
        let scan = [&["census"], make].concat();
        good(folder, &[&scan[..], &["--out", "whole"]].concat());
        good(folder, &[&scan[..], &["--out", "parts", "--plan"]].concat());
        do_shuffled(folder, "parts", parts);
        good(folder, &["census", "--finish", "--out", "parts"]);
        same(&folder.join("parts"), &folder.join("whole"));
        // The same puzzles as those of make, and so the same counts.
        let mut words = vec!["make", "--method", make[1], "--out", "made.txt"];
        words.extend(make[2..].iter().take(make.len() - 4));
        good(folder, &words);
        good(folder, &["census", "made.txt", "--out", "file"]);
        for name in ["counts.csv", "exposure.csv", "rates.csv", "shares.csv"] {
            let read = |out: &str| fs::read(folder.join(out).join(name)).unwrap();
            assert_eq!(read("file"), read("whole"), "{name}");
        }
        good(folder, &["specimen", "whole", "--most", "1", "--out", "specimen"]);
        for out in ["whole", "parts", "file", "specimen"] {
            fs::remove_dir_all(folder.join(out)).unwrap();
        }
        fs::remove_file(folder.join("made.txt")).unwrap();
    }
}

#[test]
fn a_part_that_is_missing_or_damaged_is_named_and_done_again() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("in.txt"), text(folder, 2500)).unwrap();
    let scan = ["census", "in.txt", "--part-size", "1000", "--out"];
    good(folder, &[&scan[..], &["whole"]].concat());
    let finish = ["census", "--finish", "--out", "parts"];
    fails(folder, &finish, 1, "parts: there is no plan in it");
    assert!(!folder.join("parts").exists());
    good(folder, &[&scan[..], &["parts", "--plan"]].concat());
    good(folder, &["census", "--parts", "0..1", "--out", "parts"]);
    fails(folder, &finish, 1, "part 2: it is missing; do it with --parts 2..2");
    good(folder, &["census", "--parts", "2", "--out", "parts"]);
    let damage = |name: &str, message: &str| {
        let path = folder.join("parts").join(name);
        let bytes = fs::read(&path).unwrap();
        let mut damaged = bytes.clone();
        damaged[bytes.len() / 2] ^= 1;
        fs::write(&path, damaged).unwrap();
        fails(folder, &finish, 1, message);
        let again = good(folder, &["census", "--parts", "0..2", "--out", "parts"]);
        assert!(again.out.contains("\"done\":1,\"skipped\":2"), "{name}: {again:?}");
        fs::remove_file(&path).unwrap();
        fails(folder, &finish, 1, message.split(" is ").next().unwrap());
        good(folder, &["census", "--parts", "0..2", "--out", "parts"]);
        assert!(fs::read(&path).unwrap().len().abs_diff(bytes.len()) < 100);
    };
    damage("subsets/part-00000001.parquet", "part 1: parts: subsets/part-00000001.parquet is not");
    damage("unfinished/part-00000002.json", "part 2: ");
    // A part of another plan, of another walk: its record is whole, but not of this plan.
    good(folder, &[&scan[..], &["other", "--plan", "--intersections"]].concat());
    good(folder, &["census", "--parts", "1", "--out", "other"]);
    let ledger = "unfinished/part-00000001.json";
    fs::copy(folder.join("other").join(ledger), folder.join("parts").join(ledger)).unwrap();
    fails(folder, &finish, 1, "part 1: it was scanned by another plan");
    // A file of somebody else's is left alone and named.
    fs::write(folder.join("parts/subsets/mine.txt"), "mine").unwrap();
    fails(folder, &finish, 1, "parts holds subsets/mine.txt");
    fs::remove_file(folder.join("parts/subsets/mine.txt")).unwrap();
    // Other rows, and another program.
    let text = fs::read_to_string(folder.join("in.txt")).unwrap();
    fs::write(folder.join("in.txt"), text.replacen("\n1", "\n2", 1)).unwrap();
    let parts = ["census", "--parts", "0..2", "--out", "parts"];
    fs::remove_file(folder.join("parts/unfinished/part-00000000.json")).unwrap();
    fails(folder, &parts, 1, "in.txt: changed since the plan was made, in part 0");
    fs::write(folder.join("in.txt"), text).unwrap();
    let mut other = fs::read(tallyhouse_tests::command::path()).unwrap();
    other.extend_from_slice(b"another build");
    let program = folder.join("another");
    fs::copy(tallyhouse_tests::command::path(), &program).unwrap();
    fs::write(&program, other).unwrap();
    for arguments in [&parts[..], &finish] {
        // A process that another test is just beginning may still hold it open for writing.
        let ran = loop {
            let mut run = std::process::Command::new(&program);
            match run.args(arguments).current_dir(folder).output() {
                Err(error) if error.kind() == std::io::ErrorKind::ExecutableFileBusy => {
                    std::thread::yield_now();
                }
                output => break Ran::from(output.unwrap()),
            }
        };
        assert_eq!(ran.code, Some(1), "{ran:?}");
        assert!(ran.err.contains("another program made the plan"), "{ran:?}");
    }
    // What a run left that was killed while it wrote results goes.
    fs::write(folder.join("parts/.exposure.csv.tallyhouse-aB3xY9"), "open,ho").unwrap();
    // All that is missing or damaged, to the end.
    good(folder, &["census", "--resume", "--out", "parts"]);
    same(&folder.join("parts"), &folder.join("whole"));
}

#[test]
fn a_damaged_dataset_is_mended_or_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("in.txt"), text(folder, 3500)).unwrap();
    let scan = |out: &str, more: &[&str]| -> Vec<String> {
        let words = ["census", "in.txt", "--part-size", "1000", "--out", out];
        words.iter().chain(more).map(|&word| word.to_owned()).collect()
    };
    let run_good =
        |words: &[String]| good(folder, &words.iter().map(String::as_str).collect::<Vec<_>>());
    let run_fails = |words: &[String], message: &str| {
        fails(folder, &words.iter().map(String::as_str).collect::<Vec<_>>(), 1, message);
    };
    run_good(&scan("whole", &[]));
    run_good(&scan("out", &[]));
    let out = folder.join("out");
    let flip = |name: &str| {
        let mut bytes = fs::read(out.join(name)).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        fs::write(out.join(name), bytes).unwrap();
    };
    // Tables of two parts and a whole folder: only what is damaged is written.
    flip("subsets/part-00000001.parquet");
    fs::remove_dir_all(out.join("positions")).unwrap();
    let advice = "again, or take the file from a copy: tallyhouse census in.txt --out out \
                  --part-size 1000 --resume";
    fails(folder, &["specimen", "out", "--out", "s"], 1, advice);
    run_good(&scan("out", &["--resume"]));
    same(&out, &folder.join("whole"));
    flip("puzzles/part-00000003.parquet");
    let before =
        fs::metadata(out.join("puzzles/part-00000002.parquet")).unwrap().modified().unwrap();
    run_good(&scan("out", &["--resume"]));
    same(&out, &folder.join("whole"));
    let after =
        fs::metadata(out.join("puzzles/part-00000002.parquet")).unwrap().modified().unwrap();
    assert_eq!(before, after);
    // A list of rejects that is gone is missed, not taken for none.
    let rejects = fs::read(out.join("rejects.csv")).unwrap();
    fs::remove_file(out.join("rejects.csv")).unwrap();
    let specimen = ["specimen", "out", "--naked", "2", "--most", "1", "--out", "s"];
    fails(folder, &specimen, 1, "out: rejects.csv is missing");
    fs::write(out.join("rejects.csv"), rejects).unwrap();
    // What can't be mended by a part, and what nobody knows, stops it before anything is written.
    flip("puzzles/part-00000003.parquet");
    let damaged = fs::read(out.join("puzzles/part-00000003.parquet")).unwrap();
    let counts = fs::read(out.join("counts.csv")).unwrap();
    flip("counts.csv");
    run_fails(&scan("out", &["--resume"]), "counts.csv is not as it was written");
    run_fails(&scan("out", &["--replace"]), "out holds counts.csv, which was changed after");
    fs::write(out.join("counts.csv"), counts).unwrap();
    fs::write(out.join("subsets/part-00000009.parquet"), "mine").unwrap();
    for how in ["--resume", "--replace"] {
        run_fails(&scan("out", &[how]), "out holds subsets/part-00000009.parquet");
    }
    fs::remove_file(out.join("subsets/part-00000009.parquet")).unwrap();
    assert_eq!(fs::read(out.join("puzzles/part-00000003.parquet")).unwrap(), damaged);
    // Other rows are not these.
    let text = fs::read_to_string(folder.join("in.txt")).unwrap();
    fs::write(folder.join("in.txt"), text.lines().take(3000).collect::<Vec<_>>().join("\n"))
        .unwrap();
    run_fails(&scan("out", &["--resume"]), "finished census of other rows");
    run_fails(&scan("out", &[]), "or allow it to be replaced with --replace");
    fs::write(folder.join("in.txt"), text).unwrap();
    run_good(&scan("out", &["--resume"]));
    same(&out, &folder.join("whole"));
    // Another dataset in its place, and back again.
    run_good(&scan("out", &["--replace", "--tables", "none"]));
    assert!(!out.join("subsets").exists());
    run_good(&scan("out", &["--replace"]));
    same(&out, &folder.join("whole"));
    // An unfinished run gives way too, if it is as it was left.
    run_good(&scan("begun", &["--plan", "--intersections"]));
    good(folder, &["census", "--parts", "1..2", "--out", "begun"]);
    run_fails(&scan("begun", &[]), "with --resume, or begin anew with --replace");
    fs::write(folder.join("begun/thesis.txt"), "mine").unwrap();
    run_fails(&scan("begun", &["--replace"]), "begun holds thesis.txt");
    fs::remove_file(folder.join("begun/thesis.txt")).unwrap();
    let table = folder.join("begun/subsets/part-00000001.parquet");
    let bytes = fs::read(&table).unwrap();
    fs::write(&table, "mine").unwrap();
    run_fails(
        &scan("begun", &["--replace"]),
        "begun holds subsets/part-00000001.parquet, which was",
    );
    fs::write(&table, bytes).unwrap();
    run_good(&scan("begun", &["--replace"]));
    same(&folder.join("begun"), &folder.join("whole"));
}

fn begin(folder: &Path, arguments: &[&str]) -> Child {
    let mut command = command(folder);
    command.args(arguments).stdout(Stdio::null()).stderr(Stdio::null());
    command.spawn().unwrap()
}

#[test]
fn many_at_once_and_some_of_them_killed() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("in.txt"), text(folder, 6000)).unwrap();
    let scan = ["census", "in.txt", "--part-size", "1000", "--out"];
    good(folder, &[&scan[..], &["whole"]].concat());
    good(folder, &[&scan[..], &["parts", "--plan"]].concat());
    let mut rng = positions::rng(11);
    let mut attempts: Vec<(bool, Child)> = (0..24)
        .map(|number| {
            let first = rng.random_range(0..6);
            let parts = format!("{first}..{}", rng.random_range(first..6));
            (number % 3 == 0, begin(folder, &["census", "--parts", &parts, "--out", "parts"]))
        })
        .collect();
    for (is_killed, child) in &mut attempts {
        if *is_killed {
            (0..rng.random_range(0..2000)).for_each(|_| std::thread::yield_now());
            let _ = child.kill();
        }
        let code = child.wait().unwrap().code();
        assert!(*is_killed || code == Some(0), "{code:?}");
    }
    good(folder, &["census", "--parts", "0..5", "--out", "parts"]);
    good(folder, &["census", "--finish", "--out", "parts"]);
    same(&folder.join("parts"), &folder.join("whole"));
}

/// Parts that are at work while the scan is finished leave nothing behind.
#[test]
fn parts_that_are_overtaken_end_well() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("in.txt"), text(folder, 3000)).unwrap();
    let scan = ["census", "in.txt", "--part-size", "1000", "--out"];
    good(folder, &[&scan[..], &["whole"]].concat());
    for _ in 0..5 {
        good(folder, &[&scan[..], &["parts", "--plan"]].concat());
        good(folder, &["census", "--parts", "0..2", "--out", "parts"]);
        let ledger = folder.join("parts/unfinished/part-00000001.json");
        let kept = fs::read(&ledger).unwrap();
        fs::remove_file(&ledger).unwrap();
        let mut late = begin(folder, &["census", "--parts", "0..2", "--out", "parts"]);
        // As if both had done the part; where there are locks, finishing waits to be asked again.
        fs::write(&ledger, kept).unwrap();
        while run(folder, &["census", "--finish", "--out", "parts"]).code != Some(0) {}
        assert_eq!(late.wait().unwrap().code(), Some(0));
        same(&folder.join("parts"), &folder.join("whole"));
        fs::remove_dir_all(folder.join("parts")).unwrap();
    }
}

#[test]
#[ignore = "long"]
fn names_sort_beyond_a_hundred_thousand_parts() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let make = ["census", "--make", "splitting", "--count", "100001", "--population", "1"];
    let scan = [&make[..], &["--part-size", "1", "--tables", "none", "--out"]].concat();
    good(folder, &[&scan[..], &["parts", "--plan"]].concat());
    good(folder, &["census", "--parts", "50000..100000", "--out", "parts"]);
    good(folder, &["census", "--parts", "0..50000", "--out", "parts"]);
    good(folder, &["census", "--finish", "--out", "parts"]);
    let coarse = [&make[..], &["--part-size", "1000", "--tables", "none", "--out", "coarse"]];
    good(folder, &coarse.concat());
    for name in ["counts.csv", "exposure.csv", "rates.csv", "shares.csv", "sums.json"] {
        let read = |out: &str| fs::read(folder.join(out).join(name)).unwrap();
        assert_eq!(read("parts"), read("coarse"), "{name}");
    }
}
