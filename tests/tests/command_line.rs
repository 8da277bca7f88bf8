//! The command as people meet it: help, main outputs, bad input and exit codes.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use tallyhouse_tests::command::{COMMANDS, Ran, command, path, run, run_line};

/// Solved by singles; from our own generator.
const EASY: &str =
    "82..5...3..1.8..5...5..34......9.38.293.6.............1..9.8........7.6..7.42....";

/// From our own generator: has a pair in box 1 at its first quiet position.
const PAIR: &str =
    "...6.39..3.......5..1.....44.......29..8.26..8.74......5...7....3216...9...2...1.";

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
    assert_eq!(resumed.code, Some(0), "the scan is there already: {resumed:?}");
    let other = ["census", "in.txt", "--out", "out", "--resume", "--intersections"];
    fails(&run(folder.path(), &other), 1, "out: nothing to resume");
    assert_eq!(fs::read(folder.path().join("out/manifest.json")).unwrap(), before);

    let make = ["make", "--count", "1", "--seed", "1", "--out", "in.txt"];
    fails(&run(folder.path(), &make), 1, "in.txt exists already");
    assert_eq!(fs::read_to_string(folder.path().join("in.txt")).unwrap(), EASY);
    assert_eq!(run(folder.path(), &[&make[..], &["--replace"]].concat()).code, Some(0));
    assert_ne!(fs::read_to_string(folder.path().join("in.txt")).unwrap(), EASY);

    for more in [&[][..], &["--replace"]] {
        let refused = run(folder.path(), &[&["study", "--out", "out"], more].concat());
        fails(
            &refused,
            1,
            "out holds counts.csv, which is not on the list of what tallyhouse wrote",
        );
    }
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
    fails(&full.into(), 1, "error: cannot write standard output: No space left on device");

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

/// Wrong command lines, and what the message says.
const WRONG: [(&str, &str); 120] = [
    ("census --colour", "unexpected argument '--colour'"),
    ("scan", "unrecognized subcommand"),
    ("census in.txt", "--out <DIR>"),
    ("cluster", "required arguments were not provided"),
    ("cluster abacus", "invalid value 'abacus'"),
    ("study --threads 0", "invalid value '0'"),
    ("study -j two", "invalid value 'two'"),
    ("census in.txt -o x --format lines --column grid", "--column is for tables, not for lines"),
    ("census in.txt -o x --format grids --column 2", "--column is for tables, not for grids"),
    ("census in.txt -o x --format json", "[possible values: auto, lines, grids, table]"),
    ("census - - -o x", "standard input (-) can be read only once"),
    ("census folder -o x --column grid", "a collection folder needs neither"),
    ("collect - in.txt - -o x", "standard input (-) can be read only once"),
    ("collect in.txt -o x --drop all", "[possible values: none, exact, equivalent]"),
    ("describe in.txt --format grids --column 2", "--column is for tables, not for grids"),
    ("judge - - --rulebook short-list -o x", "standard input (-) can be read only once"),
    ("census a -o x --looks \"naked 9\"", "a look needs a size from 1 to 8"),
    ("census a -o x --looks \"naked 6 open 2..5\"", "does not fit"),
    ("census a -o x --looks ,", "at least one look"),
    ("census a -o x --looks \"naked 1, naked 2, naked 2\"", "expected each look once"),
    ("census a -o x --looks \"naked 1\" --intersections", "cannot be used with"),
    ("census a -o x --course zigzag", "[possible values: together, one-by-one]"),
    ("census a -o x --when-stuck guess", "[possible values: stop, give-digit]"),
    ("census -o x", "<FILE>..."),
    ("census a -o x --parts 0..1", "cannot be used with"),
    ("census -o x --parts 3..2", "expected a part or a range as in 0..11"),
    ("census -o x --parts 0 --keep-states", "cannot be used with"),
    ("census -o x --parts 0 --looks \"naked 1\"", "cannot be used with"),
    ("census -o x --parts 0 --level 90", "cannot be used with"),
    ("census -o x --parts 0 --finish", "cannot be used with"),
    ("census -o x --finish --tables all", "cannot be used with"),
    ("census -o x --finish --seed 4", "cannot be used with"),
    ("census -o x --resume --keep-states", "--resume without FILE"),
    ("census a -o x --seed 4", "go with --make"),
    ("census a -o x --make deletion --count 4", "cannot be used with"),
    ("census -o x --make deletion", "--count <N>"),
    ("census -o x --make deletion --count 4 --population 9", "with the method splitting"),
    ("census - -o x --plan", "run collect first"),
    ("census a -o x --plan --resume", "cannot be used with"),
    ("census a -o x --part-size 1500", "whole thousands of rows"),
    ("census a -o x --tables some", "[possible values: all, none]"),
    ("census a -o x --tables none --keep-states", "does not go with --tables none"),
    ("census a -o x --part-size 0", "0 is not in 1.."),
    ("census a -o x --expect-rows many", "invalid value 'many'"),
    ("make --count 0 -o x", "0 is not in 1.."),
    ("make -o x", "--count <N>"),
    ("make --count 5", "--out <FILE>"),
    (
        "make --count 5 -o x --method guess",
        "[possible values: deletion, addition, controlled-bias, splitting]",
    ),
    ("make --count 5 -o x --population 9", "--population goes with the method splitting"),
    ("make --count 5 -o x --method splitting --population 0", "0 is not in 1.."),
    ("make --count 5 -o - --resume", "--resume and --replace need a file"),
    ("make --count 5 -o - --replace", "--resume and --replace need a file"),
    ("make --count 5 -o x --redundant", "--clues <RANGE>"),
    ("make --count 5 -o x --clues 24..22", "expected a number from 1 to 81 or a range"),
    ("make --count 5 -o x --clues 9..16", "expected some number from 17 to 72"),
    ("make --count 5 -o x --clues 81", "expected some number from 17 to 72"),
    ("make --count 5 -o x --clues 24 --redundant --method addition", "with random deletion only"),
    ("make --count 5 -o x --symmetry half-turn --method splitting", "with random deletion only"),
    ("make --count 5 -o x --symmetry spiral", "[possible values: half-turn, quarter-turn"),
    ("make --count 5 -o x --finds \"naked 1\"", "when no single is left, it finds nothing"),
    (
        "make --count 5 -o x --finds \"hidden 8 open 9..9\"",
        "when no single is left, it finds nothing",
    ),
    ("make --count 5 -o x --finds \"naked two\"", "is not a look"),
    ("judge in.txt -o x", "--rulebook <NAME|FILE>"),
    ("judge in.txt --rulebook short-list", "--out <DIR>"),
    ("order --seed 1 -o x --cell-weight=-1", "cell"),
    ("order --seed 1 -o x --try-weight 0", "try"),
    ("order --seed 1 -o x --place-weight nan", "place"),
    ("judge in.txt --rulebook short-list -o x --walk zigzag", "[possible values: together"),
    ("coverage", "<NAME|FILE>"),
    ("compare in.txt -o x", "--rulebook <NAME|FILE>"),
    ("compare in.txt -o x --rulebook short-list", "expected at least two"),
    ("compare in.txt --rulebook short-list --rulebook naked-only", "--out <DIR>"),
    ("compare -o x --rulebook short-list --rulebook naked-only", "<FILE>..."),
    ("order -o x --training a.txt", "--held-out <FILE>"),
    ("order -o x --held-out a.txt", "--training <FILE>"),
    ("order -o x --training - --held-out -", "standard input (-) can be read only once"),
    ("order -o x --training a --held-out b --training-count 9", "cannot be used with"),
    ("order -o x --training a --held-out b --held-out-count 9", "cannot be used with"),
    ("order -o x --column grid", "--format and --column go with --training and --held-out"),
    ("order -o x --frontier 0", "0 is not in 1.."),
    ("order -o x --evaluations 0", "0 is not in 1.."),
    ("order -o x --runs 2", "2 is not in 3..=100"),
    ("order -o x --training-count 1", "1 is not in 2.."),
    ("order -o x --place-weight 0", "place"),
    ("specimen -o x --open 4 --naked 4", "wanted open 4; naked 4"),
    ("specimen -o x --naked 1", "wanted naked 1"),
    ("specimen -o x --open 12", "expected a number from 1 to 9"),
    ("specimen -o x --house square", "[possible values: row, column, box]"),
    ("specimen -o x --proper never", "[possible values: naked, hidden, both, either, any]"),
    ("specimen -o x --eliminations 0", "0 is not in 1.."),
    ("specimen in.txt -o x --seed 4", "--seed is for puzzles that are made"),
    ("specimen in.txt -o x --count 4", "cannot be used with"),
    ("specimen -o x --column grid", "--format and --column go with files"),
    ("specimen -o x --gallery --most 3", "cannot be used with"),
    ("specimen -o x --gallery --json", "cannot be used with"),
    ("chart pies in -o x", "[possible values: card, rates, counts"),
    ("chart rates a b -o x", "several INPUTs go with compare, first and hardest, not with rates"),
    (
        "chart rates a -o x --open 3",
        "--open goes with narrowing, effort, prices and yields, not with rates",
    ),
    ("chart missed a -o x --naked 2", "--naked goes with narrowing and effort, not with missed"),
    ("chart narrowing a -o x --open 3", "expected 4 to 9 open cells and at least 2 on either side"),
    ("chart effort a -o x --naked 5", "expected 4 to 9 open cells and at least 2 on either side"),
    ("chart clues a -o x --count 5", "effort, not with clues"),
    ("chart rates a -o x --column grid", "effort, not with rates"),
    ("chart rates a -o x --theme pink", "[possible values: light, dark, print]"),
    ("chart rates a -o x --width wide", "expected column (85 mm), page (170 mm)"),
    ("inspect x --line 4", "--line, --format and --column go with a file"),
    ("inspect x --position 0", "expected a number from 1 to 65535"),
    ("explain x --position 1", "--house <HOUSE>"),
    ("explain x --position 1 --house diagonal", "--house"),
    ("worksheet in.txt -o x", "--look <LOOK>|--shape <SHAPE>|--rulebook <NAME|FILE>"),
    (
        "worksheet x --look 'naked 2' --shape '4 open: naked 2 | hidden 2' -o x",
        "cannot be used with",
    ),
    ("worksheet x --look 'naked 1' -o x", "expected one for subsets with at least two cells"),
    ("worksheet x --shape '4 open: naked 3 | hidden 1' -o x", "at least two cells on either side"),
    ("worksheet x --look 'hidden 4 open 9' --rulebook up-to-triples -o x", "finds no hidden quads"),
    ("timings x", "--items <FILE>"),
    ("timings x --items y --replace", "--out <DIR>"),
    ("inspect x --caption words", "--out <DIR>"),
    ("study a.toml --count 5", "cannot be used with"),
    (
        "study a.toml --seed 5",
        "--seed and --level go with the built-in recipe; write them into a.toml",
    ),
    ("study --check --replace", "cannot be used with"),
];

#[test]
fn wrong_usage_exits_with_2() {
    let folder = folder();
    fs::create_dir(folder.path().join("folder")).unwrap();
    for (line, message) in WRONG {
        fails(&run_line(folder.path(), &format!("tallyhouse {line}")), 2, message);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "{line}");
    }
}

#[test]
fn each_cause_is_told_once() {
    let folder = folder();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("folder")).unwrap();
    fs::write(at("in.txt"), EASY).unwrap();
    fs::write(at("table.csv"), format!("grid,name\n{EASY},a\n")).unwrap();
    for line in [
        "census missing.txt -o x",
        "census in.txt -o no/such/folder",
        "census table.csv --column none -o x",
        "collect missing.txt -o x",
        "collect in.txt -o no/such/folder",
        "describe missing.txt",
        "describe in.txt -o no/such/folder",
        "make --count 1 -o no/such/file",
        "make --count 1 -o folder --replace",
        "judge missing.txt --rulebook short-list -o x",
        "judge in.txt --rulebook folder -o x",
        "judge in.txt --rulebook short-list -o no/such/folder",
        "coverage folder",
        "compare missing.txt --rulebook short-list --rulebook naked-only -o x",
        "compare in.txt --rulebook short-list --rulebook folder -o x",
        "compare in.txt --rulebook short-list --rulebook naked-only -o no/such/folder",
        "order --training missing.txt --held-out in.txt -o x",
        "order --training-count 9 --held-out-count 9 --evaluations 9 -o no/such/folder",
        "specimen missing.txt -o x",
        "specimen in.txt -o no/such/folder",
        "chart rates missing -o x",
        "chart missed missing -o x",
        "chart frontier missing -o x",
        "chart clues missing.txt -o x",
        "chart effort missing.txt -o x",
        "chart clues in.txt -o in.txt",
        "inspect folder",
        "inspect 123",
        "explain 123 --position 1 --house 'row 1'",
        "worksheet missing.txt --rulebook full-ladder -o x",
        "worksheet in.txt --rulebook full-ladder -o x",
        "timings missing.csv --items in.txt",
        "timings in.txt --items missing.csv -o no/such/folder",
        "study missing.toml -o x",
        "study --count 9 -o in.txt",
        "man -o in.txt",
    ] {
        let ran = run_line(folder.path(), &format!("tallyhouse {line}"));
        assert_eq!(ran.code, Some(1), "{line}: {ran:?}");
        let mut told: Vec<&str> = ran.err.trim().split(": ").collect();
        let all = told.len();
        told.sort_unstable();
        told.dedup();
        assert_eq!(told.len(), all, "{line}: {}", ran.err);
    }
}

#[test]
fn a_stream_that_was_cut_off_is_no_dataset() {
    let folder = folder();
    // A puzzle, a comment, a blank line and a rejected row: two rows.
    fs::write(folder.path().join("in.txt"), format!("# head\n{EASY}\n\nnone\n")).unwrap();
    let census = |rows: u64, out: &str| {
        let line = format!("tallyhouse -q census - --expect-rows {rows} -o {out} < in.txt");
        run_line(folder.path(), &line)
    };
    for (rows, message) in [
        (1, "standard input: more rows than the 1 expected"),
        (3, "standard input: 2 rows, expected 3; it may have been cut off"),
        (200_000, "standard input: 2 rows, expected 200000"),
    ] {
        let out = format!("wrong-{rows}");
        fails(&census(rows, &out), 1, message);
        assert!(!folder.path().join(out).join("manifest.json").exists(), "{rows}");
    }
    let right = census(2, "right");
    assert_eq!((right.code, right.err.as_str()), (Some(0), ""));
    assert!(folder.path().join("right/manifest.json").exists());
}

#[test]
fn the_level_of_intervals_is_one_option() {
    let folder = folder();
    let good = |line: &str| {
        let ran = run_line(folder.path(), &format!("tallyhouse {line}"));
        assert_eq!(ran.code, Some(0), "{line}: {ran:?}");
        ran.out
    };
    good("make --count 100 --seed 3 -o in.txt");
    // The same numbers, with wider intervals.
    let shares = |level: &str, out: &str| {
        good(&format!("census in.txt {level} -o {out}"));
        fs::read_to_string(folder.path().join(out).join("shares.csv")).unwrap()
    };
    let (plain, usual, wide) =
        (shares("", "plain"), shares("--level 95", "usual"), shares("--level 99", "wide"));
    assert_eq!(plain, usual);
    assert_ne!(plain, wide);
    assert!(good("describe in.txt").contains("share, 95 % interval"));
    assert!(good("describe in.txt --level 99").contains("share, 99 % interval"));
    for level in ["0.95", "100", "49", "high"] {
        let ran = run_line(folder.path(), &format!("tallyhouse census a -o x --level={level}"));
        fails(&ran, 2, "--level <PERCENT>");
    }
}

#[test]
fn inspect_refuses_what_is_no_valid_puzzle() {
    let folder = folder();
    let inspect = |line: &str| run(folder.path(), &["inspect", line]);
    fails(&inspect("123"), 1, "'123' is neither a file nor a puzzle: 3 characters instead of 81");
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
    assert!(ran.out.starts_with("Scanned 1 puzzle;"), "{ran:?}");

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

#[cfg(unix)]
#[test]
fn nobody_has_to_read_what_is_printed() {
    let folder = folder();
    fs::write(folder.path().join("in.txt"), EASY).unwrap();
    for line in [
        "cluster spark",
        "completions zsh",
        "man",
        "collect in.txt -o c --json",
        "describe in.txt --json",
    ] {
        // The reader is gone before anything is written.
        let line = format!("(sleep 0.5; tallyhouse {line}; echo $? >&2) | true");
        assert_eq!(run_line(folder.path(), &line).err, "0\n", "{line}");
    }
    #[cfg(target_os = "linux")]
    for (line, code) in [
        ("cluster slurm > /dev/full", 1),
        ("completions zsh > /dev/full", 1),
        ("man > /dev/full", 1),
        ("describe in.txt > /dev/full", 1),
        ("census missing.txt -o x 2> /dev/full", 1),
        ("census missing.txt 2> /dev/full", 2),
    ] {
        let ran = run_line(folder.path(), &format!("tallyhouse {line}"));
        assert_eq!(ran.code, Some(code), "{line}: {ran:?}");
    }
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
    for &command in &COMMANDS[..COMMANDS.len() - 2] {
        snapshot(&format!("help_{command}"), folder.path(), &[command, "--help"]);
    }
}

#[test]
fn main_outputs() {
    let folder = folder();
    snapshot("study", folder.path(), &["study", "--count", "200", "--seed", "9"]);
    let study = folder.path().join("tallyhouse-study");
    for file in [
        "report.html",
        "report.md",
        "recipe.toml",
        "data/occurrence-deletion/counts.csv",
        "data/trial-deletion/verdicts.json",
    ] {
        assert!(study.join(file).is_file(), "{file}");
    }
    for figure in ["occurrence-deletion-counts", "occurrence-deletion-rates"] {
        for kind in ["svg", "png", "pdf", "csv"] {
            assert!(study.join("figures").join(format!("{figure}.{kind}")).is_file());
        }
    }
    insta::assert_snapshot!(
        "occurrence_counts_svg",
        fs::read_to_string(study.join("figures/occurrence-deletion-counts.svg")).unwrap()
    );
    let replaced = run(folder.path(), &["study", "--count", "100"]);
    assert_eq!(replaced.code, Some(0), "{replaced:?}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");

    let puzzles = fs::read_to_string(study.join("work/puzzles-deletion/puzzles.txt")).unwrap();
    let hard = puzzles
        .lines()
        .filter(|line| !line.starts_with('#'))
        .find(|line| run(folder.path(), &["inspect", line]).out.contains("Subsets: "));
    snapshot("inspect", folder.path(), &["inspect", hard.unwrap()]);
    snapshot("inspect_json", folder.path(), &["inspect", hard.unwrap(), "--json"]);
    snapshot("inspect_easy", folder.path(), &["inspect", EASY]);
    let box_1 = ["explain", PAIR, "--position", "1", "--house", "box 1"];
    snapshot("explain", folder.path(), &box_1);
    snapshot("explain_json", folder.path(), &[&box_1[..], &["--json"]].concat());
}

#[test]
fn rulebooks_are_compared_in_words_numbers_and_pictures() {
    let folder = folder();
    let at = |name: &str| folder.path().join("out").join(name);
    run(folder.path(), &["make", "--count", "300", "--seed", "6", "--out", "in.txt"]);
    let compare = ["compare", "in.txt", "--out", "out", "--rulebook", "short-list", "--rulebook"];
    let ladder = [&compare[..], &["full-ladder", "--reader", "marking"]].concat();
    snapshot("compare", folder.path(), &ladder);
    let markdown = fs::read_to_string(at("compare.md")).unwrap();
    for link in
        ["rulebooks.svg", "glances.csv", "reach.csv", "looks.csv", "stop-1.svg", "stops.csv"]
    {
        assert!(markdown.contains(&format!("(./{link})")) && at(link).is_file(), "{link}");
    }
    let json = run(folder.path(), &[&ladder[..], &["--replace", "--json"]].concat());
    assert_eq!(json.out, fs::read_to_string(at("compare.json")).unwrap() + "\n");
    // Neither can end earlier than the full ladder.
    let certain = ["compare", "in.txt", "--out", "certain", "--rulebook", "full-ladder"];
    let ran = run(folder.path(), &[&certain[..], &["--rulebook", "naked-only"]].concat());
    assert_eq!(ran.out.matches("0, by the definitions").count(), 2, "{}", ran.out);
    let same = [&compare[..], &["short-list", "--replace"]].concat();
    fails(&run(folder.path(), &same), 1, "two rulebooks are named 'short-list'");
}

#[test]
fn rulebooks_and_claims_are_judged_and_bad_files_named_with_their_line() {
    let folder = folder();
    let at = |name: &str| folder.path().join(name);
    run(folder.path(), &["make", "--count", "300", "--seed", "4", "--out", "in.txt"]);
    let judge = ["judge", "in.txt", "--claims", "common-claims", "--out"];
    let arguments = [&judge[..], &["trial", "--rulebook", "short-list"]].concat();
    let ran = run(folder.path(), &[&arguments[..], &["--rulebook", "full-ladder"]].concat());
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "{ran:?}");
    assert!(ran.out.starts_with("300 puzzles"), "{}", ran.out);
    let missed = |file: &str| fs::read_to_string(at("trial").join(file)).unwrap();
    assert!(missed("missed.csv").starts_with("open,naked,hidden,subsets,proper,puzzles\n"));
    assert_eq!(missed("missed.csv"), missed("short-list/missed.csv"));
    assert!(missed("full-ladder/missed.csv").lines().skip(1).all(|row| row.ends_with(",0,0,0")));

    let bad = |name: &str, text: &str, flag: &str, message: &str| {
        fs::write(at(name), text).unwrap();
        let ran = run(folder.path(), &["judge", "in.txt", flag, name, "--out", "bad"]);
        fails(&ran, 1, message);
        assert!(!at("bad").exists());
    };
    let head = "name = \"mine\"\ntitle = \"Mine\"\nsource = \"me\"\n";
    let look = |look: &str| format!("{head}[[look]]\n{look}\n");
    bad("a.toml", &look("find = \"naked 6\"\nopen = \"5\""), "--rulebook", "a.toml, line ");
    bad("b.toml", &look("seek = \"naked 2\""), "--rulebook", "b.toml, line 5: ");
    bad("c.toml", head, "--rulebook", "c.toml");
    let claim = "name = \"c\"\ntitle = \"C\"\nsource = \"me\"\n[[claim]]\nid = \"x\"\nkind = \"complete\"\n\
                 statement = \"s\"\nrulebook = \"nobodys\"\nbelow = 0.01\n";
    bad("d.toml", claim, "--claims", "nobodys");
    let unknown = run(folder.path(), &["judge", "in.txt", "--rulebook", "none", "--out", "bad"]);
    fails(&unknown, 1, "short-list");

    let coverage = run(folder.path(), &["coverage", "short-list"]);
    assert!(coverage.out.contains("--: by no look"), "{}", coverage.out);
}

#[test]
fn orders_specimens_charts_and_completions_are_made() {
    let folder = folder();
    let at = |name: &str| folder.path().join(name);
    let good = |arguments: &[&str]| {
        let ran = run(folder.path(), arguments);
        assert_eq!(ran.code, Some(0), "{arguments:?}: {ran:?}");
        ran
    };
    let order = ["order", "--seed", "5", "--out", "orders", "--training-count", "40"];
    let ran = good(&[&order[..], &["--held-out-count", "60", "--evaluations", "60"]].concat());
    assert!(ran.out.contains("frontier 1"), "{}", ran.out);
    for words in ["How to look, by ", "\n1. Look for ", "The search has "] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    // What was found can be judged like any rulebook.
    good(&["make", "--count", "200", "--seed", "4", "--out", "in.txt"]);
    good(&["judge", "in.txt", "--rulebook", "orders/frontier-1.toml", "--out", "trial"]);

    let specimen = ["specimen", "--open", "7", "--naked", "3", "--most", "2", "--seed", "3"];
    let ran = good(&[&specimen[..], &["--out", "specimens"]].concat());
    assert!(ran.out.starts_with("2 specimens in "), "{}", ran.out);
    for file in ["specimens.csv", "specimens.json", "figures/specimen-1-board.png"] {
        assert!(at("specimens").join(file).is_file(), "{file}");
    }
    let impossible =
        run(folder.path(), &["specimen", "--open", "4", "--naked", "4", "--out", "no"]);
    fails(&impossible, 2, "naked 4");

    good(&["census", "in.txt", "--out", "census"]);
    let judge = ["judge", "in.txt", "--claims", "common-claims", "--rulebook", "orders/start.toml"];
    assert!(!at("orders/start.toml").exists(), "only what was found is written");
    assert_eq!(run(folder.path(), &[&judge[..], &["--out", "no"]].concat()).code, Some(1));
    for (kind, input) in [
        ("clues", "in.txt"),
        ("effort", "in.txt"),
        ("sides", "in.txt"),
        ("frontier", "orders"),
        ("missed", "trial"),
    ] {
        good(&["chart", kind, input, "--out", "charts", "--theme", "dark"]);
        assert!(at("charts").join(format!("{kind}.svg")).is_file(), "{kind}");
    }
    for kind in ["rates", "counts", "shapes", "first", "hardest", "compare", "narrowing"] {
        let chart = ["chart", kind, "census", "--out", "charts", "--theme", "print"];
        good(&[&chart[..], &["--width", "column"]].concat());
        assert!(at("charts").join(format!("{kind}.png")).is_file(), "{kind}");
    }
    assert!(good(&["completions", "bash"]).out.contains("tallyhouse"));
    assert!(good(&["man"]).out.contains(".TH tallyhouse"));
    good(&["man", "--out", "pages/man1"]);
    for page in ["tallyhouse.1", "tallyhouse-study.1", "tallyhouse-specimen.1"] {
        assert!(at("pages/man1").join(page).is_file(), "{page}");
    }
}

#[test]
fn a_study_redoes_only_what_changed_and_can_be_checked() {
    let folder = folder();
    let at = |name: &str| folder.path().join(name);
    let recipe = |shapes: &str| {
        let text = format!(
            "name = \"mine\"\ntitle = \"<b>Mine</b> & more\"\nclaims = [\"common-claims\"]\n\
             [[collection]]\nname = \"own\"\ntitle = \"Own <script>alert(1)</script>\"\n\
             files = [\"own list.txt\"]\n[effort]\nshapes = [{shapes}]\n"
        );
        fs::write(at("recipe.toml"), text).unwrap();
    };
    run(folder.path(), &["make", "--count", "150", "--seed", "6", "--out", "own list.txt"]);
    recipe("[6, 2]");
    let study = ["study", "recipe.toml", "--out", "study"];
    let first = run(folder.path(), &study);
    assert_eq!((first.code, first.err.as_str()), (Some(0), ""), "{first:?}");
    let html = fs::read_to_string(at("study/report.html")).unwrap();
    assert!(!html.contains("<script>alert"), "a title is text");
    assert!(html.contains("&lt;script&gt;"));
    for outside in ["src=\"http", "href=\"http", "url(http"] {
        assert!(!html.contains(outside), "{outside}");
    }
    let again = run(folder.path(), &study);
    assert!(again.out.contains("Done: nothing"), "{}", again.out);
    assert_eq!(fs::read_to_string(at("study/report.html")).unwrap(), html);
    recipe("[6, 2], [5, 2]");
    let changed = run(folder.path(), &study);
    assert!(changed.out.contains("Done: effort, effort-shown\n"), "{}", changed.out);
    let check = [&study[..], &["--check"]].concat();
    let checked = run(folder.path(), &check);
    assert_eq!(checked.code, Some(0), "{checked:?}");
    fs::write(at("study/data/effort/effort.csv"), "open\n").unwrap();
    fails(&run(folder.path(), &check), 1, "data/effort/effort.csv differs");
    recipe("[6, 5]");
    fails(&run(folder.path(), &study), 1, "recipe.toml, line 9: shapes: the shape [6, 5] can't be");
}

#[test]
fn files_of_puzzles_and_datasets_are_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for arguments in [
        &["make", "--count", "20", "--seed", "3", "--out", "in.txt"][..],
        &["census", "in.txt", "--out", "census"],
    ] {
        assert_eq!(run(at, arguments).code, Some(0));
    }
    let run_census = "it is a file, not a dataset; if it holds puzzles, run census on it first";
    let give_puzzles = "it is a dataset of census; give the puzzles that were scanned";
    for (arguments, message) in [
        (&["rates", "in.txt", "--out", "no"][..], run_census),
        (&["chart", "rates", "in.txt", "--out", "no"], "tallyhouse census writes: run that first"),
        (&["inspect", "census"], give_puzzles),
        (&["explain", "census", "--position", "1", "--house", "row 1"], give_puzzles),
        (&["describe", "census"], give_puzzles),
        (&["chart", "clues", "census", "--out", "no"], give_puzzles),
        (&["judge", "census", "--claims", "common-claims", "--out", "no"], give_puzzles),
    ] {
        fails(&run(at, arguments), 1, message);
        assert!(!at.join("no").exists(), "{arguments:?}");
    }
}
