//! Good inputs of every kind, and commands that read them.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use tallyhouse_tests::command::run;
use tempfile::TempDir;

use crate::jobs;

/// A command that reads something.
pub(crate) struct Sample {
    pub(crate) name: &'static str,
    /// The file that is changed, or the folder in which one is.
    pub(crate) changed: &'static str,
    /// What else must be there, separated by blanks.
    pub(crate) beside: &'static str,
    pub(crate) line: &'static str,
    pub(crate) counts: Counts,
}

/// What is known of the rows that a command counts.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Counts {
    Nothing,
    /// Rows in are records and rejected rows, with `--json -o out`.
    Rows,
    /// So they are, and each line that is neither blank nor a comment is a row.
    Lines,
}

const fn sample(name: &'static str, changed: &'static str, line: &'static str) -> Sample {
    Sample { name, changed, beside: "", line, counts: Counts::Nothing }
}

impl Sample {
    const fn beside(self, beside: &'static str) -> Self {
        Self { beside, ..self }
    }

    const fn counting(self, counts: Counts) -> Self {
        Self { counts, ..self }
    }
}

pub(crate) const SAMPLES: [Sample; 41] = [
    sample("lines, collect", "in.txt", "collect in.txt --json -o out").counting(Counts::Rows),
    sample("lines, census", "in.txt", "census in.txt --format lines --json -o out")
        .counting(Counts::Lines),
    sample("lines by stream, census", "in.txt", "census - --tables none --json -o out")
        .counting(Counts::Rows),
    sample("lines, describe", "in.txt", "describe in.txt --json"),
    sample("lines, inspect", "in.txt", "inspect in.txt --line 3"),
    sample("lines, judge", "in.txt", "judge in.txt --claims which-side -o out"),
    sample("lines, plan", "in.txt", "census in.txt --plan --part-size 1000 -o out"),
    sample("grids, census", "grids.txt", "census grids.txt --json -o out").counting(Counts::Rows),
    sample("grids, collect", "grids.txt", "collect grids.txt --format grids --json -o out")
        .counting(Counts::Rows),
    sample("commas, collect", "commas.csv", "collect commas.csv --json -o out")
        .counting(Counts::Rows),
    sample("commas, census", "commas.csv", "census commas.csv --column puzzle --json -o out")
        .counting(Counts::Rows),
    sample("semicolons, census", "semicolons.csv", "census semicolons.csv --json -o out")
        .counting(Counts::Rows),
    sample("tabs, collect", "tabs.csv", "collect tabs.csv --format table --json -o out")
        .counting(Counts::Rows),
    sample("weights, census", "weighted.txt", "census weighted.txt --json -o out")
        .counting(Counts::Rows),
    sample("weights, describe", "weighted.txt", "describe weighted.txt --json"),
    sample("UTF-16, collect", "utf-16.txt", "collect utf-16.txt --json -o out")
        .counting(Counts::Rows),
    sample("Windows-1252, census", "windows.csv", "census windows.csv --json -o out")
        .counting(Counts::Rows),
    sample("gzip, collect", "in.txt.gz", "collect in.txt.gz --json -o out").counting(Counts::Rows),
    sample("gzip by stream, census", "in.txt.gz", "census - --json -o out").counting(Counts::Rows),
    sample("zstd, census", "in.txt.zst", "census in.txt.zst --json -o out").counting(Counts::Rows),
    sample("collection, describe", "collection", "describe collection --json"),
    sample("collection, census", "collection", "census collection --json -o out")
        .counting(Counts::Rows),
    sample("dataset, chart", "dataset", "chart rates dataset -o out"),
    sample("dataset, narrowing", "dataset", "chart narrowing dataset --open 6 --naked 2 -o out"),
    sample("dataset, rates", "dataset", "rates dataset --by house_kind,open -o out"),
    sample("dataset, specimen", "dataset", "specimen dataset --naked 2 --most 1 -o out"),
    sample("dataset, verify", "dataset", "verify dataset"),
    sample("trial, chart", "trial", "chart missed trial -o out"),
    sample("plan, parts", "planned", "census --parts 0..2 -o planned").beside("big.txt"),
    sample("plan, finish", "scanned", "census --finish -o scanned").beside("big.txt"),
    sample("plan, resume", "planned", "census --resume -o planned").beside("big.txt"),
    sample("recipe, study", "recipe.toml", "study recipe.toml -o out"),
    sample("rulebook, coverage", "book.toml", "coverage book.toml"),
    sample(
        "rulebook, compare",
        "book.toml",
        "compare in.txt --rulebook full-ladder --rulebook book.toml -o out",
    )
    .beside("in.txt"),
    sample("claims, judge", "claims.toml", "judge in.txt --claims claims.toml -o out")
        .beside("in.txt"),
    sample("reader, yields", "reader.toml", "yields in.txt --reader reader.toml -o out")
        .beside("in.txt"),
    sample("times, timings", "times.csv", "timings times.csv --items items.csv -o out")
        .beside("items.csv"),
    sample("items, timings", "items.csv", "timings times.csv --items items.csv -o out")
        .beside("times.csv"),
    sample(
        "captions, inspect",
        "captions.toml",
        "inspect in.txt --line 9 --captions captions.toml -o out",
    )
    .beside("in.txt"),
    sample("study, study", "study", "study recipe.toml -o study").beside("recipe.toml"),
    sample("study, check", "study", "study recipe.toml -o study --check").beside("recipe.toml"),
];

/// Makes all that the samples read.
pub(crate) fn good_inputs() -> TempDir {
    let folder = jobs::inputs();
    let at = |name: &str| folder.path().join(name);
    let text = fs::read_to_string(at("in.txt")).unwrap();
    let puzzles: Vec<&str> = text.lines().filter(|line| line.len() == 81).take(40).collect();
    let lines: Vec<String> =
        puzzles.iter().zip(1..).map(|(line, n)| format!("{line} no. {n}")).collect();
    fs::write(at("in.txt"), format!("# forty\n{}\ntoo short\n", lines.join("\n"))).unwrap();
    let grid = |puzzle: &&str| {
        let rows: Vec<&str> = (0..9).map(|row| &puzzle[9 * row..][..9]).collect();
        rows.join("\n") + "\n\n"
    };
    fs::write(at("grids.txt"), puzzles[..12].iter().map(grid).collect::<String>()).unwrap();
    let row = |(puzzle, number): (&&str, usize)| {
        format!("{number},\"é \"\"{number}\"\"\",{puzzle},{},{}\n", 1 + number % 3, number / 4)
    };
    let table: String = puzzles.iter().zip(1..).map(row).collect();
    let table = format!("id,label,puzzle,weight,family\n{table}");
    fs::write(at("commas.csv"), &table).unwrap();
    fs::write(at("semicolons.csv"), table.replace(',', ";")).unwrap();
    fs::write(at("tabs.csv"), table.replace(',', "\t")).unwrap();
    fs::write(
        at("windows.csv"),
        table
            .replace('é', "\u{1}")
            .bytes()
            .map(|b| if b == 1 { 0xe9 } else { b })
            .collect::<Vec<u8>>(),
    )
    .unwrap();
    let weighted = puzzles
        .iter()
        .zip(1..)
        .map(|(puzzle, n)| format!("{puzzle} weight={}.25 family={}\n", n % 5, n / 3));
    fs::write(at("weighted.txt"), weighted.collect::<String>()).unwrap();
    let wide = format!("\u{feff}{}", lines.join("\r\n"));
    fs::write(
        at("utf-16.txt"),
        wide.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>(),
    )
    .unwrap();
    let packed = lines.join("\n");
    fs::write(at("in.txt.gz"), piped("gzip", packed.as_bytes())).unwrap();
    fs::write(at("in.txt.zst"), piped("zstd", packed.as_bytes())).unwrap();
    let recipe = jobs::RECIPE.replace("count = 60", "count = 9");
    fs::write(at("recipe.toml"), recipe).unwrap();
    let analysis = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/analysis/src");
    for (name, file) in [
        ("book.toml", "rulebooks/short-list.toml"),
        ("claims.toml", "claim_files/common-claims.toml"),
        ("reader.toml", "readers/unmarked.toml"),
    ] {
        fs::copy(analysis.join(file), at(name)).unwrap();
    }
    fs::write(at("captions.toml"), "start-board = \"The pair in row 4.\"\n").unwrap();
    for line in [
        "collect weighted.txt -o collection",
        "judge big.txt --claims common-claims -o trial",
        "census big.txt --plan --part-size 1000 -o planned",
        "census --parts 0..1 -o planned",
        "census big.txt --plan --part-size 1000 -o scanned",
        "census --parts 0..2 -o scanned",
        "study recipe.toml -o study",
    ] {
        let ran = run(folder.path(), &line.split(' ').collect::<Vec<_>>());
        assert_eq!(ran.code, Some(0), "{line}: {ran:?}");
    }
    folder
}

/// Hands bytes through a command.
fn piped(command: &str, bytes: &[u8]) -> Vec<u8> {
    let mut child = Command::new(command);
    let mut child = child.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(bytes).unwrap();
    child.wait_with_output().unwrap().stdout
}
