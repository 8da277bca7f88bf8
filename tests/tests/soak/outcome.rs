//! What a run came to, and the laws that hold for every run, whatever it was given.

use std::fs::File;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use polars_io::SerReader;
use polars_io::prelude::ParquetReader;
use serde_json::Value;
use tallyhouse_tests::command;

/// How long a run may take, in seconds.
pub(crate) const LONGEST: u64 = 60;

/// How much a run may ask of the memory, in KiB: a run that asks for more is broken off.
const MOST_MEMORY: u64 = 8 << 20;

/// What a run came to.
#[derive(Clone, Debug, Default)]
pub(crate) struct Outcome {
    /// The exit code, or the signal that ended the run.
    pub(crate) end: Option<Result<i32, i32>>,
    pub(crate) out: Vec<u8>,
    pub(crate) err: Vec<u8>,
}

impl From<Output> for Outcome {
    fn from(output: Output) -> Self {
        let status = output.status;
        let end = status.code().map(Ok).or(status.signal().map(Err));
        Self { end, out: output.stdout, err: output.stderr }
    }
}

impl Outcome {
    pub(crate) fn code(&self) -> Option<i32> {
        self.end.and_then(Result::ok)
    }

    /// The text of standard error.
    pub(crate) fn told(&self) -> String {
        String::from_utf8_lossy(&self.err).into_owned()
    }
}

/// Prepares the command to run in a folder, broken off if it takes too long or too much memory.
pub(crate) fn limited(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new("sh");
    let line = format!("ulimit -v {MOST_MEMORY}; exec timeout {LONGEST} \"$0\" \"$@\"");
    command.args(["-c", &line]).arg(command::path()).args(arguments);
    command.current_dir(folder).env_remove("COLUMNS").stdin(Stdio::null());
    command
}

/// Says which law a run has broken, if any.
pub(crate) fn broken_law(outcome: &Outcome) -> Option<String> {
    let told = outcome.told();
    let broken = |law: &str| Some(format!("{law}: {:?}, {told:?}", outcome.end));
    match outcome.end {
        Some(Ok(0..=2)) => {}
        Some(Ok(124)) => return broken("it did not end in time"),
        Some(Ok(_)) => return broken("the exit code is neither 0, 1 nor 2"),
        Some(Err(_)) | None => return broken("a signal ended it"),
    }
    if told.contains("panicked") {
        return broken("it panicked");
    }
    if str::from_utf8(&outcome.err).is_err() {
        return broken("what it tells is no text");
    }
    if told.chars().any(|told| told.is_control() && !matches!(told, '\n' | '\t')) {
        return broken("a control character reaches the terminal");
    }
    let says_why = told.lines().any(|line| line.starts_with("error: "));
    if outcome.code() != Some(0) && !says_why {
        return broken("it failed without a word");
    }
    None
}

/// Says which rows are missing or too many in what `census --json` or `collect --json` has counted and
/// written into a folder; `rows`, if known, is how many there are in the input.
pub(crate) fn lost_rows(counted: &[u8], out: &Path, rows: Option<u64>) -> Option<String> {
    let Ok(json) = serde_json::from_slice::<Value>(counted) else {
        return Some(format!("no JSON: {}", String::from_utf8_lossy(counted)));
    };
    let manifest = json.get("manifest").unwrap_or(&json);
    let number = |name: &str| manifest["totals"][name].as_u64();
    let Some(read) = number("rows").or(number("read")) else {
        return Some(format!("no number of rows: {json}"));
    };
    let by_reason = manifest["rejected"].as_array().into_iter().flatten();
    let rejected: u64 = by_reason.filter_map(|of_reason| of_reason[1].as_u64()).sum();
    let kept = number("puzzles").unwrap_or_default();
    let dropped = number("dropped").unwrap_or_default();
    let listed = listed(&out.join("rejects.csv"));
    let tables = manifest["tables"] != "none";
    let recorded = if tables { recorded(&out.join("puzzles")) } else { kept };
    let right = read == kept + dropped + rejected
        && listed == rejected
        && recorded == kept
        && rows.is_none_or(|rows| rows == read);
    (!right).then(|| {
        format!(
            "{rows:?} rows in, {read} read, {kept} kept, {recorded} recorded, {dropped} dropped, \
             {rejected} rejected, {listed} listed"
        )
    })
}

/// Counts the rows of a list of rejected rows.
fn listed(file: &Path) -> u64 {
    if !file.exists() {
        return 0;
    }
    let rows = csv::ReaderBuilder::new().flexible(true).from_path(file).unwrap().into_records();
    rows.map(Result::unwrap).count() as u64
}

/// Counts the rows of a table.
fn recorded(folder: &Path) -> u64 {
    let parts = folder.read_dir().unwrap().map(|part| part.unwrap().path());
    let rows = |part| {
        let reader = ParquetReader::new(File::open(part).unwrap());
        reader.finish().unwrap().height() as u64
    };
    parts.map(rows).sum()
}

#[test]
fn a_broken_law_is_seen() {
    let of = |end, err: &[u8]| broken_law(&Outcome { end, out: Vec::new(), err: err.to_vec() });
    let fine: [(_, &[u8]); 4] = [
        (Some(Ok(0)), b""),
        (Some(Ok(0)), "note: as it should be, ü\n".as_bytes()),
        (Some(Ok(1)), b"warning: odd\nerror: in.txt, line 3: odd\n"),
        (Some(Ok(2)), b"error: unexpected argument\n\nUsage: tallyhouse\n"),
    ];
    for (end, err) in fine {
        assert_eq!(of(end, err), None);
    }
    let panic = b"\nthread 'main' panicked at crates/x.rs:1:2:\nindex out of bounds\n";
    let wrong: [(_, &[u8], &str); 9] = [
        (Some(Ok(101)), panic, "the exit code"),
        (Some(Ok(0)), panic, "it panicked"),
        (Some(Ok(1)), b"error: odd\nthread 'a' panicked at x", "it panicked"),
        (Some(Err(6)), b"memory allocation of 9 bytes failed\n", "a signal"),
        (None, b"", "a signal"),
        (Some(Ok(124)), b"", "it did not end"),
        (Some(Ok(1)), b"", "it failed without a word"),
        (Some(Ok(1)), b"error: \x1b[2Jodd\n", "a control character"),
        (Some(Ok(1)), b"error: \xff\n", "what it tells is no text"),
    ];
    for (end, err, law) in wrong {
        let told = of(end, err).unwrap();
        assert!(told.starts_with(law), "{told}");
    }
}

#[test]
fn a_missing_row_is_seen() {
    let folder = tempfile::tempdir().unwrap();
    let json = |read: u64, puzzles: u64, rejected: u64| {
        format!(
            "{{\"manifest\": {{\"tables\": \"none\", \"totals\": {{\"rows\": {read}, \"puzzles\": \
             {puzzles}}}, \"rejected\": [[\"wrong length\", {rejected}], [\"no solution\", 0]]}}}}"
        )
    };
    let lost = |read, puzzles, rejected, rows| {
        lost_rows(json(read, puzzles, rejected).as_bytes(), folder.path(), rows).is_some()
    };
    assert!(!lost(9, 9, 0, Some(9)));
    assert!(lost(9, 8, 0, Some(9)), "one is nowhere");
    assert!(lost(9, 9, 0, Some(10)), "one was not read");
    assert!(lost(9, 8, 1, Some(9)), "one is rejected but not listed");
    std::fs::write(folder.path().join("rejects.csv"), "file,line,text\na,1,\"two\nlines\"\n")
        .unwrap();
    assert!(!lost(9, 8, 1, None));
    assert!(lost(9, 9, 0, None), "one is listed but not rejected");
    assert!(lost_rows(b"", folder.path(), None).is_some());
}
