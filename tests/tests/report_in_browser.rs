//! The report of a whole study and the gallery of specimens, as a reader meets them: every link leads
//! to a file that is there, hostile names stay text, and both pages hold in a browser and on paper.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use tallyhouse_tests::command::run;

#[path = "../../crates/document/tests/browser/mod.rs"]
mod browser;

use browser::{DESK, paper, probe};

/// A name that would be an image, if it were markup.
const IMAGE: &str = "<img src=x onerror=alert(1)>";
/// A name that would end an attribute and begin a script.
const SCRIPT: &str = "\"><script>alert(1)";

fn good(folder: &Path, arguments: &[&str]) {
    let ran = run(folder, arguments);
    assert_eq!(ran.code, Some(0), "{arguments:?}: {ran:?}");
}

/// Runs a study of everything there is, with markup wherever a person can put a name.
fn study(folder: &Path) {
    good(folder, &["make", "--count", "150", "--seed", "6", "--out", "made.txt"]);
    let lines = fs::read_to_string(folder.join("made.txt")).unwrap();
    let puzzles = lines.lines().filter(|line| !line.starts_with('#'));
    let labelled: String = puzzles.map(|line| format!("{line} {IMAGE} {SCRIPT}\n")).collect();
    let file = format!("{SCRIPT} {IMAGE}.txt");
    fs::write(folder.join(&file), labelled).unwrap();
    fs::write(
        folder.join("book.toml"),
        format!(
            "name = \"my-book\"\ntitle = '{SCRIPT} My book {IMAGE}'\nsource = '{IMAGE}'\n\
             note = '{SCRIPT}'\n[[look]]\nfind = \"naked 1\"\n[[look]]\nfind = \"hidden 1\"\n\
             [[look]]\nfind = \"naked 2\"\nopen = \"2..7\"\nwhy = '{IMAGE} {SCRIPT}'\n"
        ),
    )
    .unwrap();
    fs::write(
        folder.join("claims.toml"),
        format!(
            "name = \"my-claims\"\ntitle = '{IMAGE}'\nsource = '{SCRIPT}'\n[[claim]]\n\
             id = \"mine\"\nkind = \"complete\"\nstatement = '{SCRIPT} is enough {IMAGE}'\n\
             rulebook = \"my-book\"\nbelow = 0.01\n"
        ),
    )
    .unwrap();
    fs::write(
        folder.join("recipe.toml"),
        format!(
            "name = \"mine\"\ntitle = '{SCRIPT} | *all* {IMAGE}'\nnote = '{IMAGE}'\n\
             rulebooks = [\"short-list\", \"up-to-triples\", \"book.toml\"]\n\
             claims = [\"common-claims\", \"claims.toml\"]\n\
             [[collection]]\nname = \"read\"\ntitle = '{IMAGE} {SCRIPT}'\nfiles = ['{file}']\n\
             [[collection]]\nname = \"split\"\ntitle = \"Families by splitting\"\n\
             method = \"splitting\"\ncount = 6\nseed = 3\npopulation = 60\n\
             [effort]\nshapes = [[6, 2], [5, 3]]\n[specimens]\n\
             [order]\nstart = \"short-list\"\nseed = 1\ntraining_count = 20\nheld_out_count = 30\n\
             evaluations = 20\n"
        ),
    )
    .unwrap();
    good(folder, &["study", "recipe.toml", "--out", "study"]);
}

fn gallery(folder: &Path) {
    good(folder, &["make", "--count", "300", "--seed", "6", "--out", "made.txt"]);
    let file = format!("{SCRIPT} {IMAGE}.txt");
    fs::rename(folder.join("made.txt"), folder.join(&file)).unwrap();
    good(folder, &["specimen", &file, "--gallery", "--out", "gallery"]);
}

fn between<'a>(text: &'a str, start: &str, end: char) -> BTreeSet<&'a str> {
    text.split(start).skip(1).map(|rest| rest.split_once(end).unwrap().0).collect()
}

/// RFC 3986, section 2.1.
fn percent_decoded(link: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = link;
    while let Some((before, after)) = rest.split_once('%') {
        bytes.extend(before.bytes());
        bytes.push(u8::from_str_radix(&after[..2], 16).unwrap());
        rest = &after[2..];
    }
    bytes.extend(rest.bytes());
    String::from_utf8(bytes).unwrap()
}

/// Checks that links lead to parts of the page or to files beside it, and returns how many files.
fn check_links(folder: &Path, links: &BTreeSet<&str>, ids: &BTreeSet<&str>) -> usize {
    let mut files = 0;
    for link in links {
        if let Some(id) = link.strip_prefix('#') {
            assert!(ids.contains(id), "nothing has the id {id}");
        } else {
            assert!(!link.contains(':') && !link.starts_with('/'), "{link} leads away");
            assert!(folder.join(percent_decoded(link)).is_file(), "{link} is no file");
            files += 1;
        }
    }
    files
}

/// Checks that a page holds no elements but ours, whatever the texts say.
fn check_markup(page: &str, pictures: usize) {
    let body = page.split_once("<body>").unwrap().1;
    assert!(body.matches("<script").count() <= 1);
    assert!(!body.contains("<img") && !body.contains("data:image"));
    assert_eq!(body.matches("<svg ").count(), pictures);
    // By day and by night they are so much alike that none is drawn twice.
    assert!(!body.contains("<g class=\"day\"><rect class=\"page\""));
    assert!(body.contains("&lt;img src=x onerror=alert(1)&gt;"));
    assert!(body.contains("&quot;&gt;&lt;script&gt;alert(1)"));
}

#[test]
fn all_links_of_a_report_lead_to_files_and_names_stay_text() {
    let folder = tempfile::tempdir().unwrap();
    study(folder.path());
    let study = folder.path().join("study");

    let html = fs::read_to_string(study.join("report.html")).unwrap();
    let ids = between(&html, " id=\"", '"');
    let files = check_links(&study, &between(&html, " href=\"", '"'), &ids);
    let figures = html.matches("<figure id=\"figure-").count();
    let specimens = html.matches("<figure class=\"specimen\"").count();
    assert!(figures > 10 && specimens > 10, "{figures} figures, {specimens} specimens");
    assert!(files > 5 * figures + 4 * specimens, "{files} files");
    check_markup(&html, 2 * figures + 2 * specimens);
    for text in ["is enough", "My book", "| *all*"] {
        assert!(html.contains(text), "{text}");
    }

    let markdown = fs::read_to_string(study.join("report.md")).unwrap();
    let ids = between(&markdown, "<a id=\"", '"');
    let links = between(&markdown, "](", ')');
    assert_eq!(check_links(&study, &links, &ids), files);
    assert_eq!(markdown.matches("![").count(), figures + specimens);
    let plain = markdown.replace("\\<", "").replace("<a id=\"", "").replace("></a>", "");
    let fenced: Vec<_> = plain.split("```").step_by(2).collect();
    assert!(!fenced.concat().contains('<'), "markup that nobody escaped");
    assert!(markdown.starts_with("# \"\\>\\<script\\>alert(1) \\| \\*all\\* \\<img src=x"));
}

#[test]
fn links_of_a_report_without_charts_lead_to_what_their_tables_show() {
    let folder = tempfile::tempdir().unwrap();
    let recipe = "name = \"bare\"\ntitle = \"Bare\"\nrulebooks = [\"singles.toml\", \"short-list\"]\n\
                  [[collection]]\nname = \"made\"\ntitle = \"Made\"\ncount = 400\nseed = 1\n\
                  [charts]\nkinds = []\n";
    fs::write(folder.path().join("recipe.toml"), recipe).unwrap();
    let singles = "name = \"singles\"\ntitle = \"Singles\"\nsource = \"own\"\n\
                   [[look]]\nfind = \"naked 1\"\n[[look]]\nfind = \"hidden 1\"\n";
    fs::write(folder.path().join("singles.toml"), singles).unwrap();
    good(folder.path(), &["study", "recipe.toml", "--out", "study"]);
    let study = folder.path().join("study");
    let html = fs::read_to_string(study.join("report.html")).unwrap();
    let files =
        check_links(&study, &between(&html, " href=\"", '"'), &between(&html, " id=\"", '"'));
    // The card is always there: SVG, PNG and PDF for page and column, and its data.
    assert_eq!(files, html.matches(">Data as CSV<").count() + 2 * 3 + 1);
    // The table of what rulebooks leave shows them all, and so does its file.
    let (_, missed) = html.split_once("id=\"missed-made\"").unwrap();
    let (table, _) = missed.split_once("Data as CSV").unwrap();
    let (_, link) = table.rsplit_once("href=\"").unwrap();
    let data = fs::read_to_string(study.join(link.split('"').next().unwrap())).unwrap();
    let shown: BTreeSet<String> = table
        .split("<tr>")
        .skip(2)
        .map(|row| row.split_once("<td class=\"numeric\"").unwrap().0.to_owned())
        .collect();
    assert_eq!(shown.len(), 2, "{shown:?}");
    for book in ["singles", "short-list"] {
        let left = |row: &&str| row.contains(book) && !row.ends_with(",0,0,0");
        assert!(data.lines().filter(left).count() > 0, "{book}: {data}");
    }
}

#[test]
fn all_links_of_a_gallery_lead_to_files_and_names_stay_text() {
    let folder = tempfile::tempdir().unwrap();
    gallery(folder.path());
    let gallery = folder.path().join("gallery");
    let page = fs::read_to_string(gallery.join("gallery.html")).unwrap();
    let links = between(&page, " href=\"", '"');
    let files = check_links(&gallery, &links, &between(&page, " id=\"", '"'));
    let specimens = page.matches("<figure class=\"specimen\"").count();
    assert!(specimens > 10);
    assert_eq!(files, 2 + 8 * specimens);
    check_markup(&page, 2 * specimens);
}

#[test]
#[ignore = "needs Chromium and poppler: run with --include-ignored"]
fn a_report_holds_in_a_browser_and_on_paper() {
    let folder = tempfile::tempdir().unwrap();
    study(folder.path());
    let path = folder.path().join("study/report.html");
    let page = fs::read_to_string(&path).unwrap();
    browser::check_looks_everywhere(&page, true);
    let tables = page.matches("<table>").count();
    assert!(tables > 10);
    assert_eq!(browser::check_sorting(&probe(&page, DESK, &[])), tables);
    browser::check_asks_for_nothing(&path);
    assert!(paper::check(&path) > 10);
}

/// A4 is 210 × 297 mm (ISO 216), letter 8.5 × 11 inches.
#[test]
#[ignore = "needs Chromium and poppler: run with --include-ignored"]
fn a_brief_stands_on_one_sheet() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("four.toml"), FOUR_POPULATIONS).unwrap();
    let plain: &[&str] = &["study", "--count", "300", "--out", "s", "--brief", "--paper"];
    let four: &[&str] = &["study", "four.toml", "--out", "four", "--brief", "--paper"];
    for (paper, sheet) in [("a4", (210.0, 297.0)), ("letter", (216.0, 279.0))] {
        for (arguments, out) in [(plain, "s"), (four, "four")] {
            good(folder.path(), &[arguments, &[paper]].concat());
            let path = folder.path().join(out).join("brief.html");
            assert_eq!(paper::sheets(&path), [sheet], "{out}, {paper}");
            browser::check_looks_everywhere(&fs::read_to_string(&path).unwrap(), true);
        }
    }
}

/// A study whose brief has much to say: long titles, four populations and a panel.
const FOUR_POPULATIONS: &str = r#"
name = "four"
title = "A short list of looks on trial"
note = "Rulebooks and common claims against minimal puzzles and three other populations."
rulebooks = ["short-list", "full-ladder"]
claims = ["common-claims"]

[[collection]]
name = "deletion"
title = "Minimal puzzles by random deletion"
method = "deletion"
count = 2000
seed = 21

[[collection]]
name = "addition"
title = "Minimal puzzles by random addition"
method = "addition"
count = 300
seed = 22

[[collection]]
name = "unbiased"
title = "All minimal puzzles, by weight"
method = "splitting"
count = 20
seed = 23
population = 200

[[collection]]
name = "print"
title = "Puzzles like those in print"
like = "in-print"
count = 300
seed = 24

[[panel]]
title = "The same claims in four populations"
walks = ["together", "one-by-one"]
"#;

#[test]
#[ignore = "needs Chromium and poppler: run with --include-ignored"]
fn a_gallery_holds_in_a_browser_and_on_paper() {
    let folder = tempfile::tempdir().unwrap();
    gallery(folder.path());
    let path = folder.path().join("gallery/gallery.html");
    browser::check_looks_everywhere(&fs::read_to_string(&path).unwrap(), true);
    browser::check_asks_for_nothing(&path);
    assert!(paper::check(&path) > 5);
}
