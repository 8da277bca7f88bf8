//! The page in a browser: it sorts, fits a telephone, can be read, and asks for nothing.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;
use tallyhouse_document::to_html;
use tempfile::TempDir;

mod sample;

const PROBE: &str = include_str!("browser_probe.js");
const FRAME: &str = include_str!("browser_frame.html");
const DESK: u32 = 1200;
const TELEPHONE: u32 = 390;

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

/// Opens a page in a fresh profile and returns the document as it then stands, and what the browser
/// wrote to its console.
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
            "--dump-dom",
        ])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .args(options)
        .arg(format!("file://{}", page.display()))
        .output()
        .unwrap();
    let console = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{console}");
    (String::from_utf8(output.stdout).unwrap(), console)
}

fn write_page(folder: &TempDir, page: &str) -> PathBuf {
    let path = folder.path().join("report.html");
    std::fs::write(&path, page).unwrap();
    path
}

fn console_lines(console: &str) -> Vec<&str> {
    console.lines().filter(|line| line.contains("CONSOLE")).collect()
}

/// Runs the probe in a copy of the page, as many pixels wide, that keeps the page's own policy.
fn probe(page: &str, width: u32, options: &[&str]) -> Value {
    let copy = page.replace("script-src '", "script-src 'nonce-probe' '");
    let copy = copy.replace("</body>", &format!("<script nonce=\"probe\">{PROBE}</script></body>"));
    let folder = tempfile::tempdir().unwrap();
    write_page(&folder, &copy);
    let frame = folder.path().join("frame.html");
    std::fs::write(&frame, FRAME.replace("WIDTH", &width.to_string())).unwrap();
    let options = [&["--window-size=1300,900"], options].concat();
    let (document, console) = open(&frame, &options);
    assert!(console_lines(&console).is_empty(), "{console}");
    let (_, json) = document.split_once("<pre id=\"probe\">").expect("the frame holds a result");
    let json = json.split_once("</pre>").unwrap().0;
    let json = json.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
    serde_json::from_str(&json).unwrap()
}

fn numbers<'a>(found: &'a Value, list: &str, key: &str) -> Vec<(f64, &'a Value)> {
    let items = found[list].as_array().unwrap();
    assert!(!items.is_empty());
    items.iter().map(|item| (item[key].as_f64().unwrap(), item)).collect()
}

fn check_looks(found: &Value) {
    assert_eq!(found["errors"], serde_json::json!([]));
    assert_eq!(found["deadLinks"], serde_json::json!([]));
    for width in ["scrollWidth", "bodyWidth"] {
        assert!(found[width].as_f64() <= found["innerWidth"].as_f64(), "{width}: {}", found[width]);
    }
    for (size, text) in numbers(found, "texts", "size") {
        assert!(size >= 11.0, "{text}");
    }
    for (contrast, text) in numbers(found, "texts", "contrast") {
        assert!(contrast >= 4.5, "{text}");
    }
    for (size, image) in numbers(found, "images", "leastType") {
        assert!(size >= 11.0, "{image}");
        assert_eq!(
            (&image["decoded"], &image["scrolls"]),
            (&Value::Bool(true), &Value::Bool(true))
        );
        assert!((image["stretch"].as_f64().unwrap() - 1.0).abs() < 0.01, "{image}");
        assert!(image["height"].as_f64().unwrap() > 100.0, "{image}");
    }
}

#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn the_page_can_be_read_on_a_telephone_and_on_a_desk() {
    let page = to_html(&sample::document()).unwrap();
    for width in [TELEPHONE, DESK] {
        for (scheme, dark) in [("1", false), ("0", true)] {
            let scheme = format!("--blink-settings=preferredColorScheme={scheme}");
            let found = probe(&page, width, &[&scheme]);
            assert_eq!((&found["innerWidth"], &found["dark"]), (&width.into(), &dark.into()));
            let ground = if dark { "rgb(23, 25, 28)" } else { "rgb(253, 253, 251)" };
            assert_eq!(found["ground"], ground);
            check_looks(&found);
        }
    }
}

#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn hostile_texts_run_nothing() {
    let text = "\"><img src=x onerror=alert(1)><script>throw 1</script>";
    let found = probe(&to_html(&sample::saying(text)).unwrap(), DESK, &[]);
    assert_eq!(found["errors"], serde_json::json!([]));
    assert_eq!(found["images"].as_array().unwrap().len(), 3);
}

#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn a_press_on_a_head_sorts_the_rows() {
    let found = probe(&to_html(&sample::document()).unwrap(), DESK, &[]);
    let columns = found["tables"][0].as_array().unwrap();
    let given = ["9120", "not counted", "33", "870"];
    let subsets = serde_json::json!({"title": "Subsets", "steps": [
        {"order": "none", "cells": given},
        {"order": "ascending", "cells": ["33", "870", "9120", "not counted"]},
        {"order": "descending", "cells": ["9120", "870", "33", "not counted"]},
        {"order": "none", "cells": given},
    ]});
    assert_eq!(columns[1], subsets);
    let shapes = &columns[0]["steps"];
    assert_eq!(
        shapes[1]["cells"],
        serde_json::json!([
            "open 4, naked 2",
            "open 5, naked 3",
            "open 8, naked 4",
            "open 10, naked 4"
        ])
    );
    assert_eq!(
        columns[2]["steps"][2]["cells"],
        serde_json::json!(["12.25 %", "4.5 %", "0.33 %", "–"])
    );
}

/// The unchanged page: the policy lets its own script and style through, and nothing is fetched.
#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn the_page_asks_for_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = write_page(&folder, &to_html(&sample::document()).unwrap());
    let log = folder.path().join("net.json");
    let (document, console) = open(&path, &[&format!("--log-net-log={}", log.display())]);
    assert!(console_lines(&console).is_empty(), "{console}");
    assert_eq!(document.matches("<button type=\"button\">").count(), 4);
    assert_eq!(requests(&log), Vec::<String>::new());
}

/// The check above can fail.
#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn a_page_that_asks_is_noticed() {
    let folder = tempfile::tempdir().unwrap();
    let path = write_page(&folder, "<!DOCTYPE html><img src=\"http://example.test/x.png\">");
    let log = folder.path().join("net.json");
    open(&path, &[&format!("--log-net-log={}", log.display())]);
    assert_eq!(requests(&log), ["http://example.test/x.png"]);
}

/// Returns what a page asked for besides files and data. The browser's own requests name as their
/// initiator "not an origin".
fn requests(log: &Path) -> Vec<String> {
    let log: Value = serde_json::from_str(&std::fs::read_to_string(log).unwrap()).unwrap();
    let events = log["events"].as_array().unwrap().iter().map(|event| &event["params"]);
    let from_page = events
        .filter(|params| params["initiator"].as_str().is_some_and(|by| by != "not an origin"));
    let addresses = from_page.filter_map(|params| params["url"].as_str());
    let outside = |url: &&str| !["file:", "data:"].iter().any(|scheme| url.starts_with(scheme));
    addresses.filter(outside).map(str::to_string).collect()
}
