//! Pages in a browser: they sort, fit a telephone, can be read, and ask for nothing.
//!
//! Needs Chromium; another place than the usual one can be named in `TALLYHOUSE_CHROMIUM`.
#![allow(dead_code, reason = "each test binary that includes it needs a part")]

pub(crate) mod paper;

use std::cmp::Ordering;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::{Value, json};

const PROBE: &str = include_str!("probe.js");
const FRAME: &str = include_str!("frame.html");
pub(crate) const DESK: u32 = 1200;
pub(crate) const TELEPHONE: u32 = 390;
/// The reader's preference for a light and for a dark page.
pub(crate) const SCHEMES: [(&str, bool); 2] = [
    ("--blink-settings=preferredColorScheme=1", false),
    ("--blink-settings=preferredColorScheme=0", true),
];

fn chromium() -> PathBuf {
    let path = std::env::var_os("TALLYHOUSE_CHROMIUM")
        .map_or_else(|| PathBuf::from("/usr/bin/chromium"), PathBuf::from);
    assert!(
        path.is_file(),
        "there is no Chromium at {}; name one in TALLYHOUSE_CHROMIUM",
        path.display()
    );
    path
}

/// Opens a page in a fresh profile and returns what the browser writes to standard output, and what
/// it wrote to its console.
fn open(page: &Path, options: &[&str]) -> (String, String) {
    let profile = tempfile::tempdir().unwrap();
    let output = Command::new(chromium())
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            // The browser has errands of its own; none leaves this machine.
            "--host-resolver-rules=MAP * ~NOTFOUND",
            "--enable-logging=stderr",
            "--virtual-time-budget=3000",
            "--window-size=1300,900",
        ])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .args(options)
        .arg(format!("file://{}", page.display()))
        .output()
        .unwrap();
    let console = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{console}");
    let console: Vec<_> = console.lines().filter(|line| line.contains("CONSOLE")).collect();
    (String::from_utf8(output.stdout).unwrap(), console.join("\n"))
}

/// Runs the probe in a copy of the page, as many pixels wide, that keeps the page's own policy.
pub(crate) fn probe(page: &str, width: u32, options: &[&str]) -> Value {
    let copy = if page.contains("script-src '") {
        page.replace("script-src '", "script-src 'nonce-probe' '")
    } else {
        page.replace("default-src 'none'", "default-src 'none'; script-src 'nonce-probe'")
    };
    let copy = copy.replace("</body>", &format!("<script nonce=\"probe\">{PROBE}</script></body>"));
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("report.html"), copy).unwrap();
    let frame = folder.path().join("frame.html");
    std::fs::write(&frame, FRAME.replace("WIDTH", &width.to_string())).unwrap();
    let (document, console) = open(&frame, &[&["--dump-dom"], options].concat());
    assert_eq!(console, "");
    let (_, json) = document.split_once("<pre id=\"probe\">").expect("the frame holds a result");
    let json = json.split_once("</pre>").unwrap().0;
    let json = json.replace("&nbsp;", "\u{a0}");
    let json = json.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
    assert_ne!(json, "", "the page sent nothing");
    serde_json::from_str(&json).unwrap()
}

/// Checks a page on a telephone and on a desk, by day and by night; its pictures are dark by night, or
/// white at all times.
pub(crate) fn check_looks_everywhere(page: &str, pictures_follow: bool) {
    for width in [TELEPHONE, DESK] {
        for (scheme, dark) in SCHEMES {
            let found = probe(page, width, &[scheme]);
            assert_eq!((&found["innerWidth"], &found["dark"]), (&width.into(), &dark.into()));
            let ground = if dark { "rgb(23, 25, 28)" } else { "rgb(253, 253, 251)" };
            assert_eq!(found["ground"], ground);
            check_looks(&found);
            // Figures that have a dark variant show it on a dark screen.
            for ground in list(&found, "images").iter().map(|image| &image["ground"]) {
                let is_white = ground == "rgb(255, 255, 255)";
                assert_eq!(is_white, !dark || !pictures_follow, "{ground}");
            }
        }
    }
}

fn list<'a>(found: &'a Value, name: &str) -> &'a [Value] {
    found[name].as_array().unwrap()
}

fn number(item: &Value, key: &str) -> f64 {
    item[key].as_f64().unwrap_or_else(|| panic!("{key} of {item}"))
}

/// Checks what the probe found: no errors, no dead links, nothing beyond the edge, type that can be read,
/// pictures that are whole.
pub(crate) fn check_looks(found: &Value) {
    for none in ["errors", "deadLinks", "repeatedIds"] {
        assert_eq!(found[none], json!([]), "{none}");
    }
    let inner_width = number(found, "innerWidth");
    for width in ["scrollWidth", "bodyWidth"] {
        assert!(number(found, width) <= inner_width, "{width}: {}", found[width]);
    }
    assert!(!list(found, "texts").is_empty());
    for text in list(found, "texts") {
        assert!(number(text, "size") >= 11.0, "{text}");
        assert!(number(text, "contrast") >= 4.5, "{text}");
    }
    for image in list(found, "images") {
        assert!(image["whole"] == true || image["scrolls"] == true, "{image}");
        assert!(number(image, "leastType") >= 11.0, "{image}");
    }
    for picture in list(found, "images") {
        assert!((number(picture, "stretch") - 1.0).abs() < 0.01, "{picture}");
        assert!(number(picture, "height") > 100.0, "{picture}");
    }
}

/// Checks that a press on a head sorts the rows upwards, a second downwards, and that a third puts them
/// back, as computed here from the numbers and texts of the cells. Returns the number of tables.
pub(crate) fn check_sorting(found: &Value) -> usize {
    let tables = list(found, "tables");
    for table in tables {
        for column in list(table, "columns") {
            let cells: Vec<_> = list(column, "cells").iter().map(SortKey::of).collect();
            let given: Vec<usize> = (0..cells.len()).collect();
            let (mut up, mut down) = (given.clone(), given.clone());
            up.sort_by(|&a, &b| cells[a].compare(&cells[b], false));
            down.sort_by(|&a, &b| cells[a].compare(&cells[b], true));
            let expected = json!([
                {"order": "ascending", "rows": up},
                {"order": "descending", "rows": down},
                {"order": "none", "rows": given},
            ]);
            assert_eq!(column["steps"], expected, "{}, {column}", table["caption"]);
        }
    }
    tables.len()
}

/// What a row is sorted by: its number, or else, after all numbers, its text.
struct SortKey {
    number: Option<f64>,
    words: Vec<Word>,
}

#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Word {
    Space,
    Punctuation,
    Number(u64),
    Letter(char),
}

impl SortKey {
    fn of(cell: &Value) -> Self {
        let number = cell["sort"].as_str().map(|number| number.parse().unwrap());
        let mut words: Vec<Word> = Vec::new();
        let mut after_digit = false;
        for c in cell["text"].as_str().unwrap().to_lowercase().chars() {
            let digit = c.to_digit(10).map(u64::from);
            match (digit, words.last_mut()) {
                (Some(digit), Some(Word::Number(number))) if after_digit => {
                    *number = *number * 10 + digit;
                }
                (Some(digit), _) => words.push(Word::Number(digit)),
                (None, _) if c.is_whitespace() => words.push(Word::Space),
                (None, _) if c.is_alphabetic() => words.push(Word::Letter(c)),
                (None, _) => words.push(Word::Punctuation),
            }
            after_digit = digit.is_some();
        }
        Self { number, words }
    }

    fn compare(&self, other: &Self, downwards: bool) -> Ordering {
        let turned = |order: Ordering| if downwards { order.reverse() } else { order };
        match (self.number, other.number) {
            (Some(a), Some(b)) => turned(a.total_cmp(&b)),
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (None, None) => turned(self.words.cmp(&other.words)),
        }
    }
}

/// Checks the unchanged page: its policy lets its own style and script through, and nothing is fetched.
/// Returns the document after its script has run.
pub(crate) fn check_asks_for_nothing(page: &Path) -> String {
    let (document, asked) = requests(page);
    assert_eq!(asked, Vec::<String>::new());
    document
}

/// Returns the document and what the page asked for besides files and data. The browser's own requests
/// name as their initiator "not an origin".
pub(crate) fn requests(page: &Path) -> (String, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("net.json");
    let (document, console) =
        open(page, &["--dump-dom", &format!("--log-net-log={}", log.display())]);
    assert_eq!(console, "");
    let log: Value = serde_json::from_str(&std::fs::read_to_string(log).unwrap()).unwrap();
    let events = log["events"].as_array().unwrap().iter().map(|event| &event["params"]);
    let from_page = events
        .filter(|params| params["initiator"].as_str().is_some_and(|by| by != "not an origin"));
    let addresses = from_page.filter_map(|params| params["url"].as_str());
    let outside = |url: &&str| !["file:", "data:"].iter().any(|scheme| url.starts_with(scheme));
    (document, addresses.filter(outside).map(str::to_string).collect())
}
