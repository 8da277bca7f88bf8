//! The page of a sample document in a browser and on paper.

use std::path::PathBuf;

use serde_json::{Value, json};
use tallyhouse_document::{Block, Cell, Column, Document, Section, Table, to_html};
use tallyhouse_figures::Picture;
use tempfile::TempDir;

mod browser;
mod sample;

use browser::{DESK, TELEPHONE, paper, probe};

fn write_page(folder: &TempDir, page: &str) -> PathBuf {
    let path = folder.path().join("report.html");
    std::fs::write(&path, page).unwrap();
    path
}

#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn the_page_can_be_read_on_a_telephone_and_on_a_desk() {
    browser::check_looks_everywhere(&to_html(&sample::document()).unwrap(), false);
}

#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn hostile_texts_run_nothing() {
    let text = "\"><img src=x onerror=alert(1)><script>throw 1</script>";
    let found = probe(&to_html(&sample::saying(text)).unwrap(), DESK, &[]);
    assert_eq!(found["errors"], json!([]));
    assert_eq!(found["images"].as_array().unwrap().len(), 3);
}

/// Returns the texts of a column after so many presses on its head.
fn sorted(column: &Value, presses: usize) -> Vec<&str> {
    let rows = column["steps"][presses - 1]["rows"].as_array().unwrap();
    let places = rows.iter().map(|row| usize::try_from(row.as_u64().unwrap()).unwrap());
    places.map(|place| column["cells"][place]["text"].as_str().unwrap()).collect()
}

#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn a_press_on_a_head_sorts_the_rows() {
    let found = probe(&to_html(&sample::document()).unwrap(), DESK, &[]);
    let columns = found["tables"][0]["columns"].as_array().unwrap();
    assert_eq!(columns[1]["title"], "Subsets");
    assert_eq!(sorted(&columns[1], 1), ["33", "870", "9120", "not counted"]);
    assert_eq!(sorted(&columns[1], 2), ["9120", "870", "33", "not counted"]);
    assert_eq!(sorted(&columns[1], 3), ["9120", "not counted", "33", "870"]);
    assert_eq!(
        sorted(&columns[0], 1),
        ["open 4, naked 2", "open 5, naked 3", "open 8, naked 4", "open 10, naked 4"]
    );
    assert_eq!(sorted(&columns[2], 2), ["12.25\u{a0}%", "4.5\u{a0}%", "0.33\u{a0}%", "–"]);
    assert_eq!(browser::check_sorting(&found), 1);
}

/// On a screen too narrow for the picture there is another; a table's box takes the keyboard only if
/// there is something to scroll.
#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn narrow_screens_get_narrow_pictures_and_boxes_to_scroll() {
    let mut document = sample::document();
    for block in &mut document.sections[1].blocks {
        if let Block::Figure(figure) = block {
            figure.narrow = Some(Picture { width: 85.0, ..figure.picture.light.clone() }.into());
        }
    }
    let page = to_html(&document).unwrap();
    for (width, picture) in [(TELEPHONE, 382.0), (DESK, 765.0)] {
        let found = probe(&page, width, &[]);
        assert_eq!(found["images"][1]["width"], picture);
        let stops = found["scrollStops"].as_array().unwrap();
        let boxes = stops.iter().filter(|stop| stop["table"] == true);
        let boxes: Vec<_> = boxes.map(|stop| &stop["stop"]).collect();
        assert_eq!(boxes, [&json!(width == TELEPHONE)], "{width}");
        assert!(stops.iter().all(|stop| stop["stop"] == stop["scrolls"]), "{stops:?}");
    }
}

#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn the_page_asks_for_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = write_page(&folder, &to_html(&sample::document()).unwrap());
    let document = browser::check_asks_for_nothing(&path);
    assert_eq!(document.matches("<button type=\"button\">").count(), 4);
}

/// The check above can fail.
#[test]
#[ignore = "needs Chromium: run with --include-ignored"]
fn a_page_that_asks_is_noticed() {
    let folder = tempfile::tempdir().unwrap();
    let path = write_page(&folder, "<!DOCTYPE html><img src=\"http://example.test/x.png\">");
    assert_eq!(browser::requests(&path).1, ["http://example.test/x.png"]);
}

/// Returns the sample with tables of many rows, each row several lines high and different from the
/// others, and with short sections that leave their headings all over the sheets.
fn long_document() -> Document {
    let column = |title: &str| Column { title: title.into(), ..Column::default() };
    let row = |table: usize, row: usize| {
        let text = format!("Table {table}, row {row}: {}.", "naked 2, hidden 2, ".repeat(20));
        vec![
            Cell { text: format!("{table}-{row}"), sort: None, id: None },
            Cell { text, sort: None, id: None },
            Cell { text: format!("end of {table}-{row}"), sort: None, id: None },
        ]
    };
    let mut document = sample::document();
    for table in 0..3 {
        document.sections[1].blocks.push(Block::Table(Table {
            id: format!("long-{table}"),
            caption: format!("Long table {table}"),
            columns: vec![column("Name"), column("Looks in order"), column("Remark")],
            rows: (0..23 + 7 * table).map(|index| row(table, index)).collect(),
            file: Some("long.csv".into()),
        }));
    }
    for number in 0..40 {
        document.sections.push(Section {
            id: format!("short-{number}"),
            title: format!("Short section {number}"),
            intro: format!("What section {number} is about."),
            blocks: vec![
                Block::Table(Table {
                    id: format!("small-{number}"),
                    caption: format!("Small table {number}"),
                    columns: vec![column("Name"), column("Value")],
                    rows: (0..1 + number % 4)
                        .map(|row| {
                            let text = format!("{number} and {row}");
                            vec![
                                Cell { text: text.clone(), sort: None, id: None },
                                Cell { text, sort: None, id: None },
                            ]
                        })
                        .collect(),
                    file: None,
                }),
                Block::Paragraph(format!("{number}. {}", "One more line. ".repeat(number % 7 * 9))),
            ],
        });
    }
    document
}

#[test]
#[ignore = "needs Chromium and poppler: run with --include-ignored"]
fn nothing_is_cut_or_lost_on_paper() {
    let folder = tempfile::tempdir().unwrap();
    let sheets = paper::check(&write_page(&folder, &to_html(&long_document()).unwrap()));
    assert!(sheets >= 6, "only {sheets} sheets: no long table was broken");
}

/// The check above can fail: with a style that lets rows and figures break, one is cut.
#[test]
#[ignore = "needs Chromium and poppler: run with --include-ignored"]
#[should_panic(expected = "holds this whole")]
fn what_is_cut_on_paper_is_noticed() {
    let folder = tempfile::tempdir().unwrap();
    let page = to_html(&long_document()).unwrap();
    let (before, policy) = page.split_once("<meta http-equiv=").unwrap();
    let (_, after) = policy.split_once('>').unwrap();
    let broken = "@media print { tr, td, figure, p { break-inside: auto !important; } }</style>";
    let page = format!("{before}{}", after.replacen("</style>", broken, 1));
    paper::check(&write_page(&folder, &page));
}
