//! The tables for notebooks are what the command makes, and the examples that read them work.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use tallyhouse_tests::command::{self, Ran};

const PYTHON_EXAMPLES: [&str; 3] = ["polars_rates.py", "pandas_rates.py", "duckdb_rates.py"];

fn notebooks_data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../notebooks-data")
}

/// Reads the tables of a folder by name.
fn tables(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if name.ends_with(".csv") || name.ends_with(".parquet") {
            all.insert(name, fs::read(&path).unwrap());
        }
    }
    all
}

/// Reads the fields of a table's rows, without the header; none holds a comma.
fn rows(name: &str) -> Vec<Vec<String>> {
    let text = fs::read_to_string(notebooks_data().join(name)).unwrap();
    text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

/// What the examples print, worked out from the CSV tables alone, without the last line.
fn expected_lines() -> String {
    let houses: BTreeMap<String, u64> = rows("exposure.csv")
        .into_iter()
        .map(|row| (row[0].clone(), row[1].parse().unwrap()))
        .collect();
    let mut lines =
        "open naked  houses  proper per 1,000 puzzles   share     low    high\n".to_owned();
    for (counts, share) in rows("counts.csv").iter().zip(rows("shares.csv")) {
        assert_eq!(counts[..2], share[..2]);
        let (open, naked) = (&counts[0], &counts[1]);
        let proper: u64 = counts[4].parse().unwrap();
        if proper == 0 {
            continue;
        }
        let houses = houses[open];
        let rate = 1000.0 * proper as f64 / houses as f64;
        lines += &format!("{open:>4} {naked:>5} {houses:>7} {proper:>7} {rate:>9.2}");
        lines += &format!(" {:>7}", counts[7]);
        for field in &share[4..7] {
            let number: f64 = field.parse().unwrap();
            lines += &format!(" {number:>7.5}");
        }
        lines += "\n";
    }
    lines
}

fn wilson_intervals() -> usize {
    rows("shares.csv").iter().filter(|row| row[7] == "Wilson").count()
}

/// Runs an example of a folder with the tables.
fn example(program: &str, folder: &Path, script: &str) -> Ran {
    let path = folder.join("examples").join(script);
    Command::new(program).arg(path).output().unwrap().into()
}

fn python() -> String {
    std::env::var("TALLYHOUSE_PYTHON").unwrap_or_else(|_| "python3".to_owned())
}

/// Copies tables and examples, with one field of one table replaced.
fn with_change(table: &str, line: usize, field: usize, value: &str) -> tempfile::TempDir {
    let copy = tempfile::tempdir().unwrap();
    for (name, content) in tables(&notebooks_data()) {
        fs::write(copy.path().join(name), content).unwrap();
    }
    fs::create_dir(copy.path().join("examples")).unwrap();
    for entry in fs::read_dir(notebooks_data().join("examples")).unwrap() {
        let entry = entry.unwrap();
        if entry.file_type().unwrap().is_file() {
            fs::copy(entry.path(), copy.path().join("examples").join(entry.file_name())).unwrap();
        }
    }
    let path = copy.path().join(table);
    let text = fs::read_to_string(&path).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut fields: Vec<&str> = lines[line].split(',').collect();
    assert_ne!(fields[field], value);
    fields[field] = value;
    lines[line] = fields.join(",");
    fs::write(&path, lines.join("\n") + "\n").unwrap();
    copy
}

fn assert_noticed(ran: &Ran, table: &str, script: &str) {
    assert_eq!(ran.code, Some(1), "{script}, {table}: {ran:?}");
    let message = format!("{table} differs from what this script finds");
    assert!(ran.err.contains(&message), "{script}, {table}: {ran:?}");
}

/// A Wilson limit of the shape (4, 2), which stands in line 5, moved by 10⁻⁸.
fn moved_limit() -> String {
    let limit: f64 = rows("shares.csv")[4][6].parse().unwrap();
    (limit + 1e-8).to_string()
}

#[test]
#[ignore = "long: run with --include-ignored"]
fn committed_tables_are_what_the_command_makes() {
    let folder = tempfile::tempdir().unwrap();
    let made: Ran = Command::new("sh")
        .arg(notebooks_data().join("make.sh"))
        .arg(folder.path())
        .env("TALLYHOUSE", command::path())
        .output()
        .unwrap()
        .into();
    assert_eq!((made.code, made.err.as_str()), (Some(0), ""), "{made:?}");
    let (committed, made) = (tables(&notebooks_data()), tables(folder.path()));
    assert!(committed.keys().eq(made.keys()), "{:?}, {:?}", committed.keys(), made.keys());
    for (name, content) in &committed {
        assert!(*content == made[name], "{name} has changed: run notebooks-data/make.sh");
    }
    assert!(committed.values().map(Vec::len).sum::<usize>() < 3_000_000);
}

#[test]
#[ignore = "needs Python with polars, pandas and duckdb: run with --include-ignored"]
fn python_examples_agree_with_the_tables() {
    let expected = format!(
        "{}{} shapes agree with counts.csv, {} Wilson intervals with shares.csv\n",
        expected_lines(),
        rows("counts.csv").len(),
        wilson_intervals()
    );
    for script in PYTHON_EXAMPLES {
        let ran = example(&python(), &notebooks_data(), script);
        assert_eq!(ran.code, Some(0), "{script}: {ran:?}");
        assert_eq!(ran.out.replace("\r\n", "\n"), expected, "{script}");
    }
}

#[test]
#[ignore = "needs Python with polars, pandas and duckdb: run with --include-ignored"]
fn python_examples_notice_a_changed_table() {
    let limit = moved_limit();
    let changes = [
        ("counts.csv", 5, 4, "1"),
        ("counts.csv", 5, 7, "1"),
        ("exposure.csv", 3, 1, "1"),
        ("shares.csv", 5, 6, limit.as_str()),
    ];
    for (table, line, field, value) in changes {
        let copy = with_change(table, line, field, value);
        for script in PYTHON_EXAMPLES {
            assert_noticed(&example(&python(), copy.path(), script), table, script);
        }
    }
}

#[test]
#[ignore = "needs R: run with --include-ignored"]
fn r_example_agrees_with_the_tables() {
    let ran = example("Rscript", &notebooks_data(), "rates.R");
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let last = format!("{} Wilson intervals agree with shares.csv\n", wilson_intervals());
    assert_eq!(ran.out.replace("\r\n", "\n"), expected_lines() + &last);
    let copy = with_change("shares.csv", 5, 6, &moved_limit());
    assert_noticed(&example("Rscript", copy.path(), "rates.R"), "shares.csv", "rates.R");
}
