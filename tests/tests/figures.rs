//! All figures of a study and all kinds of charts, as their files show them: sizes, type, places, and
//! what colours mean.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, LazyLock};

use resvg::usvg::fontdb::Database;
use resvg::usvg::roxmltree::{Document, Node as Element};
use resvg::usvg::{Group, Node, Options, Rect, Tree};
use tallyhouse_tests::command::run;

/// A figure fits a page of 170 × 240 mm or a column of 85 × 120 mm.
const LIMITS: [(f64, f64); 2] = [(85.0, 120.0), (170.0, 240.0)];
/// How much higher a board may be, for its caption.
const BOARD_CAPTION: f64 = 20.0;
/// The least type, in points of 1/72 inch.
const LEAST_TYPE: f64 = 7.0;

static OPTIONS: LazyLock<Options<'static>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/figures/fonts");
    fonts.load_fonts_dir(folder);
    let fontdb = Arc::new(fonts);
    Options { font_family: "Open Sans".to_owned(), fontdb, dpi: 101.6, ..Options::default() }
});

fn good(folder: &Path, words: &str) {
    let words: Vec<&str> = words.split(' ').collect();
    let ran = run(folder, &words);
    assert_eq!(ran.code, Some(0), "{words:?}: {ran:?}");
}

/// Returns the SVG files of a folder.
fn pictures(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let is_svg = |path: &PathBuf| path.extension().is_some_and(|end| end == "svg");
    let mut pictures: Vec<PathBuf> = entries.filter(is_svg).collect();
    pictures.sort();
    pictures
}

fn number(element: &Element, name: &str) -> f64 {
    let text = element.attribute(name).unwrap_or_else(|| panic!("no {name}"));
    text.trim_end_matches("mm").parse().unwrap()
}

/// Returns the room of each line of text as a layout library sets it.
fn texts(group: &Group, found: &mut Vec<(String, Rect)>) {
    for node in group.children() {
        match node {
            Node::Group(group) => texts(group, found),
            Node::Text(text) => {
                let words = text.chunks().iter().map(|chunk| chunk.text()).collect();
                found.push((words, text.abs_bounding_box()));
            }
            _ => {}
        }
    }
}

/// Returns what a reader of the printed figure would object to.
fn faults(svg: &str) -> Vec<String> {
    let document = Document::parse(svg).unwrap();
    let root = document.root_element();
    let (width, height) = (number(&root, "width"), number(&root, "height"));
    let mut faults = Vec::new();
    // A board in a column is square, and its caption tells how it goes on.
    let more = if svg.contains("class=\"board\"") { BOARD_CAPTION } else { 0.0 };
    match LIMITS.iter().find(|(most, _)| width <= most + 0.01) {
        Some((_, most)) if height <= most + more + 0.01 => {}
        _ => faults.push(format!("{width} × {height} mm")),
    }
    let view: Vec<f64> =
        root.attribute("viewBox").unwrap().split(' ').map(|end| end.parse().unwrap()).collect();
    let points = width / view[2] / 25.4 * 72.0;
    for text in document.descendants().filter(|node| node.has_tag_name("text")) {
        let size = number(&text, "font-size") * points;
        if size < LEAST_TYPE - 0.01 {
            faults.push(format!("'{}' of {size:.2} points", text.text().unwrap_or_default()));
        }
    }
    let tree = Tree::from_str(svg, &OPTIONS).unwrap();
    let mut set = Vec::new();
    texts(tree.root(), &mut set);
    let frame = tree.size();
    for (index, (words, room)) in set.iter().enumerate() {
        let is_inside = room.left() >= -0.5
            && room.top() >= -0.5
            && room.right() <= frame.width() + 0.5
            && room.bottom() <= frame.height() + 0.5;
        if !is_inside {
            faults.push(format!("'{words}' leaves the frame"));
        }
        for (other, of_other) in &set[..index] {
            // Boxes of type are higher than its letters.
            // Digits reach below no line, and pencil marks stand close.
            let are_digits = words.len() == 1 && other.len() == 1;
            let part = if are_digits { 0.5 } else { 0.3 };
            let slack = part * room.height().min(of_other.height());
            let apart = room.right() <= of_other.left() + 0.5
                || of_other.right() <= room.left() + 0.5
                || room.bottom() <= of_other.top() + slack
                || of_other.bottom() <= room.top() + slack;
            if !apart {
                faults.push(format!("'{words}' over '{other}'"));
            }
        }
    }
    faults
}

/// The colours of the two sides, those of the light theme.
const SIDES: [(&str, &str); 3] =
    [("#56B4E9", "naked"), ("#0072B2", "naked"), ("#E69F00", "hidden")];

/// Returns what each colour of the key means: the words that follow a sample.
fn meanings(svg: &str) -> Vec<(String, String)> {
    let document = Document::parse(svg).unwrap();
    // Outside of charts, sides are what is shown, not what a key explains.
    let classes: &[&str] = match svg.contains("class=\"plot\"") {
        true => &["key", "naked-outline", "hidden"],
        false => &["key"],
    };
    let is_sample = |element: &Element| {
        element.attribute("class").is_some_and(|class| classes.contains(&class))
    };
    let mut found: Vec<(String, String)> = Vec::new();
    let mut colour = None;
    for element in document.descendants().filter(Element::is_element) {
        if is_sample(&element) {
            let paint = |name| element.attribute(name).filter(|paint| *paint != "none");
            let fill = paint("fill").filter(|fill| *fill != "#FFFFFF");
            colour = fill.or(paint("stroke")).map(str::to_owned);
        } else if element.has_tag_name("text")
            && let Some(colour) = colour.take()
        {
            found.push((colour, element.text().unwrap_or_default().to_owned()));
        }
    }
    found
}

/// Tests if a colour is a grey: black, grey and white mean nothing by themselves.
fn is_grey(colour: &str) -> bool {
    colour.len() == 7 && colour[1..3] == colour[3..5] && colour[3..5] == colour[5..7]
}

/// Checks that no colour means two things, and that those of the sides mean the sides.
fn check_colours(pictures: &[(PathBuf, String)]) {
    let mut all: BTreeMap<String, String> = BTreeMap::new();
    for (path, svg) in pictures {
        for (colour, words) in meanings(svg).into_iter().filter(|(colour, _)| !is_grey(colour)) {
            if let Some((_, side)) = SIDES.iter().find(|(of, _)| *of == colour) {
                assert!(words.contains(side), "{}: {colour} is '{words}'", path.display());
                continue;
            }
            assert!(!words.contains("naked") && !words.contains("hidden"), "{colour} is '{words}'");
            // What stands in brackets counts.
            let meaning = words.split(" (").next().unwrap_or_default().to_owned();
            let before = all.entry(colour.clone()).or_insert_with(|| meaning.clone());
            assert_eq!(*before, meaning, "{colour} has two meanings: {}", path.display());
        }
    }
}

/// Returns the resolution that a PNG carries, in dots per inch.
fn resolution(png: &[u8]) -> Option<f64> {
    let at = png.windows(4).position(|name| name == b"pHYs")?;
    let dots = u32::from_be_bytes(png.get(at + 4..at + 8)?.try_into().ok()?);
    // The unit is the metre.
    (png[at + 12] == 1).then(|| f64::from(dots) * 0.0254)
}

fn check(paths: &[PathBuf]) -> Vec<(PathBuf, String)> {
    let (mut all, mut all_faults) = (Vec::new(), Vec::new());
    for path in paths {
        let svg = fs::read_to_string(path).unwrap();
        let faults = faults(&svg);
        all_faults.extend(faults.iter().map(|fault| format!("{}: {fault}", path.display())));
        let dpi = resolution(&fs::read(path.with_extension("png")).unwrap()).unwrap();
        assert!(
            (dpi - 300.0).abs() < 0.1 || (dpi - 600.0).abs() < 0.1,
            "{}: {dpi}",
            path.display()
        );
        assert!(fs::read(path.with_extension("pdf")).unwrap().starts_with(b"%PDF-"));
        all.push((path.clone(), svg));
    }
    assert!(all_faults.is_empty(), "{all_faults:#?}");
    all
}

/// Checks that the shares, prices and ratios a verdict quotes can be read from the data of the charts of its trial.
fn check_quoted(study: &Path) -> usize {
    let mut quoted = 0;
    for entry in fs::read_dir(study.join("data")).unwrap() {
        let data = entry.unwrap().path();
        let Ok(text) = fs::read_to_string(data.join("verdicts.json")) else { continue };
        let name = data.file_name().unwrap().to_string_lossy().into_owned();
        let chart = fs::read_to_string(study.join(format!("figures/{name}-missed.csv"))).unwrap();
        let verdicts: Vec<serde_json::Value> = serde_json::from_str(&text).unwrap();
        for verdict in verdicts.iter().filter(|verdict| !verdict["estimate"].is_null()) {
            let interval = &verdict["estimate"]["interval"];
            let numbers = [&verdict["estimate"]["value"], &interval["low"], &interval["high"]];
            let [value, low, high] = numbers.map(|number| number.as_f64().unwrap());
            let expected = format!(",{value},{low},{high},{}", verdict["count"]);
            assert!(chart.contains(&expected), "{name}: {expected} is not in\n{chart}");
            quoted += 1;
        }
        let charts = ["ratios", "limits"].map(|kind| {
            fs::read_to_string(study.join(format!("figures/{name}-{kind}.csv"))).unwrap()
        });
        for verdict in &verdicts {
            let jury = verdict["jury"].as_array().unwrap().iter();
            let prices = jury.flat_map(|member| member["prices"].as_array().unwrap());
            let told = prices.filter(|price| {
                let interval = &price["estimate"]["interval"];
                interval["low"].as_f64().is_some() && interval["high"].as_f64().is_some()
            });
            let value = |price: &serde_json::Value| price["estimate"]["value"].as_f64().unwrap();
            let told: Vec<&serde_json::Value> = told.collect();
            for end in [
                told.iter().min_by(|a, b| value(a).total_cmp(&value(b))),
                told.iter().max_by(|a, b| value(a).total_cmp(&value(b))),
            ] {
                let Some(price) = end else { continue };
                let expected = format!(",{},", value(price));
                let chart = &charts[usize::from(price["looks"].as_array().unwrap().len() == 1)];
                assert!(chart.contains(&expected), "{name}: {expected} is not in\n{chart}");
                quoted += 1;
            }
        }
    }
    quoted
}

/// Runs a program of poppler; nothing where it is not installed.
fn poppler(program: &str, pdf: &Path) -> Option<String> {
    let ran = Command::new(program).arg(pdf).output();
    let Ok(ran) = ran else {
        eprintln!("skipped: {program} of poppler-utils is not installed");
        return None;
    };
    assert!(ran.status.success(), "{program} {}: {ran:?}", pdf.display());
    Some(String::from_utf8_lossy(&ran.stdout).into_owned())
}

#[test]
fn all_figures_of_a_study_can_be_printed() {
    let folder = tempfile::tempdir().unwrap();
    // Few puzzles have more to say of what they can't show.
    good(folder.path(), "study --quiet --count 300 --seed 3 --out few");
    check_colours(&check(&pictures(&folder.path().join("few/figures"))));
    good(folder.path(), "study --quiet --count 2000 --seed 3 --out study");
    let study = folder.path().join("study");
    let all = check(&pictures(&study.join("figures")));
    assert!(all.len() > 60, "{} figures", all.len());
    check_colours(&all);
    // The cells of a heat map lead to their specimens.
    let page = fs::read_to_string(study.join("report.html")).unwrap();
    let mut links = page.split("<a href=\"#specimen-").skip(1).peekable();
    assert!(links.peek().is_some(), "no link from a cell");
    for link in links {
        let name = link.split('"').next().unwrap();
        assert!(page.contains(&format!(" id=\"specimen-{name}\"")), "{name} is not there");
    }
    // Of the 26, one share is on trial in each of two populations.
    assert_eq!(check_quoted(&study), 26);

    let pdf = study.join("figures/occurrence-deletion-rates-column.pdf");
    if let Some(fonts) = poppler("pdffonts", &pdf) {
        let rows: Vec<&str> = fonts.lines().skip(2).collect();
        assert!(!rows.is_empty(), "{fonts}");
        // The columns after the name and type: encoding, embedded, subset, unicode.
        let embedded = |row: &&&str| row.split_whitespace().rev().nth(4) == Some("yes");
        assert_eq!(rows.iter().filter(embedded).count(), rows.len(), "{fonts}");
    }
    if let Some(info) = poppler("pdfinfo", &pdf) {
        // 85 mm are 240.9 points.
        assert!(info.contains("Pages:           1") && info.contains("240.9"), "{info}");
    }
}

#[test]
fn all_kinds_of_charts_can_be_printed() {
    let folder = tempfile::tempdir().unwrap();
    let good = |words: &str| good(folder.path(), words);
    good("make --quiet --count 2000 --seed 4 --out p.txt");
    good("make --quiet --count 500 --seed 5 --like in-print --out q.txt");
    good("make --quiet --count 60 --seed 6 --method addition --out r.txt");
    for (file, census) in [("p.txt", "a"), ("q.txt", "b"), ("r.txt", "c")] {
        good(&format!("census --quiet {file} --out {census}"));
    }
    good("judge --quiet p.txt --claims common-claims --rulebook short-list --out trial");
    good("yields --quiet p.txt --out yields");
    good("card --quiet q.txt --out card");
    let singles = "name = \"singles\"\ntitle = \"Singles\"\nsource = \"me\"\n[[look]]\n\
                   find = \"naked 1\"\n[[look]]\nfind = \"hidden 1\"\n";
    fs::write(folder.path().join("singles.toml"), singles).unwrap();
    good("compare --quiet p.txt --rulebook full-ladder --rulebook singles.toml --out compared");
    // Its chart, and the board where singles alone stop.
    let compared = check(&pictures(&folder.path().join("compared")));
    assert_eq!(compared.len(), 2);
    check_colours(&compared);
    good("order --quiet --training-count 200 --held-out-count 200 --evaluations 40 --out order");
    for width in ["column", "page"] {
        let chart = |words: &str| {
            good(&format!("chart --quiet {words} --width {width} --out charts-{width}"));
        };
        for kind in ["rates", "counts", "shapes", "narrowing"] {
            chart(&format!("{kind} a"));
        }
        for kind in ["first", "hardest", "compare"] {
            chart(&format!("{kind} a b c"));
        }
        for kind in ["missed", "verdicts", "ratios", "limits"] {
            chart(&format!("{kind} trial"));
        }
        for kind in ["clues", "sides", "effort"] {
            chart(&format!("{kind} p.txt"));
        }
        for kind in ["prices", "yields"] {
            chart(&format!("{kind} yields --open 7"));
        }
        chart("frontier order");
        chart("rulebooks compared");
        chart("card card");
        let all = check(&pictures(&folder.path().join(format!("charts-{width}"))));
        assert_eq!(all.len(), 19, "one of each kind");
        check_colours(&all);
    }
    // With outlined text a PDF needs no font.
    good("chart --quiet rates a --outlines --out outlined");
    if let Some(fonts) = poppler("pdffonts", &folder.path().join("outlined/rates.pdf")) {
        assert_eq!(fonts.lines().count(), 2, "{fonts}");
    }
    let svg = fs::read_to_string(folder.path().join("outlined/rates.svg")).unwrap();
    assert!(!svg.contains("<text"));
}
