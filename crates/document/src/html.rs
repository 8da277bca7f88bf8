//! The report as a web page.

use std::collections::BTreeMap;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use minijinja::value::ViaDeserialize;
use minijinja::{Environment, HtmlEscape, UndefinedBehavior, Value};
use serde::Serialize;
use sha2::{Digest, Sha256};
use tallyhouse_words::Outcome;

use crate::check::check;
use crate::layout::page_rule;
use crate::link::relative;
use crate::model::{Group, NO_OTHERS, outcome_counts, populations, verdicts_in_all};
use crate::numbering::numbers;
use crate::picture::Colours;
use crate::{Block, Document, DocumentError, Extent, Section};

const TEMPLATE: &str = include_str!("page/report.html");
const STYLE: &str = include_str!("page/report.css");
const SCRIPT: &str = include_str!("page/sort.js");

/// Cells of a board, and so characters of a puzzle line.
const CELLS: usize = 81;
/// Cells of a row: a line that is too long for the page is broken between rows.
const ROW: usize = 9;

#[derive(Serialize)]
struct Page<'a> {
    document: &'a Document,
    numbers: BTreeMap<&'a str, usize>,
    /// What the listed verdicts are counted of.
    in_all: String,
    /// How many of them have each outcome; empty if none was tested.
    counts: Vec<(Outcome, String)>,
    /// The verdicts by the title of their section.
    findings: Vec<Group<'a>>,
    /// The sections before and after them.
    before: &'a [Section],
    after: &'a [Section],
    /// Of a brief: the whole page, what the verdicts are about, and what came out elsewhere.
    whole: Option<Value>,
    populations: Vec<&'a str>,
    no_others: &'a str,
    elsewhere: Vec<(String, Vec<(Outcome, String)>)>,
    /// The pictures of each block, by the id of its section.
    pictures: BTreeMap<&'a str, Vec<Vec<Value>>>,
    style: Value,
    style_hash: Value,
    script: Value,
    script_hash: Value,
}

/// Writes the report as one web page that needs nothing beside it.
///
/// # Errors
///
/// An id that is used twice or can't be linked to, a row with too few or too many cells, a picture
/// without a size, or a path that leads away from the report.
pub fn to_html(document: &Document) -> Result<String, DocumentError> {
    check(document)?;
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_trim_blocks(true);
    environment.set_lstrip_blocks(true);
    environment.add_filter("beside", |path: &str| Value::from_safe_string(relative(path)));
    environment.add_filter("links", |files: ViaDeserialize<Vec<(String, String)>>, of: &str| {
        Value::from_safe_string(links(&files, of))
    });
    environment.add_filter("puzzle", |line: &str| Value::from_safe_string(puzzle(line)));
    environment.add_test("finite", |number: Option<f64>| number.is_some_and(f64::is_finite));
    // The ending of the name switches escaping on.
    environment.add_template("report.html", TEMPLATE)?;
    let safe = |text: &str| Value::from_safe_string(text.to_string());
    let (findings, counted) = document.listed_and_counted();
    let (before, after) = document.before_and_after();
    let mut colours = Colours::default();
    let pictures = before.iter().chain(after);
    let pictures =
        pictures.map(|section| (section.id.as_str(), pictures_of(section, &mut colours))).collect();
    let style = STYLE.to_string() + page_rule(document.paper) + &colours.style();
    let whole = match &document.extent {
        Extent::Whole => None,
        Extent::Brief { whole } => Some(safe(&relative(&format!("{whole}.html")))),
    };
    let elsewhere = counted.iter().map(std::slice::from_ref);
    let elsewhere = elsewhere.map(|group| (populations(group).join("; "), outcome_counts(group)));
    let page = environment.get_template("report.html")?.render(Page {
        document,
        numbers: numbers(document),
        in_all: verdicts_in_all(&findings),
        counts: outcome_counts(&findings),
        populations: populations(&findings),
        no_others: NO_OTHERS,
        findings,
        before,
        after,
        whole,
        elsewhere: elsewhere.collect(),
        pictures,
        style_hash: safe(&hash(&style)),
        style: safe(&style),
        script: safe(SCRIPT),
        script_hash: safe(&hash(SCRIPT)),
    })?;
    // A number and its unit stay in one line.
    Ok(page.replace(" %", "\u{a0}%"))
}

/// Returns the pictures of each block of a section.
fn pictures_of(section: &Section, colours: &mut Colours) -> Vec<Vec<Value>> {
    let of_block = |block: &Block| {
        let has_narrow = block.plates().any(|(_, narrow)| narrow);
        let shown = block.plates().map(|(plate, narrow)| {
            let class = match (has_narrow, narrow) {
                (false, _) => "",
                (true, false) => "wide",
                (true, true) => "narrow",
            };
            Value::from_safe_string(colours.element(plate, class))
        });
        shown.collect()
    };
    section.blocks.iter().map(of_block).collect()
}

/// Returns the SHA-256 of a style or script as the content security policy writes it (CSP level 3,
/// section 2.3.1).
fn hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text)))
}

/// Returns links to files by their labels; whoever hears them one by one hears what they are of, too.
fn links(files: &[(String, String)], of: &str) -> String {
    let name = |label: &str| match of {
        "" => String::new(),
        of => format!(" aria-label=\"{}\"", HtmlEscape(&format!("{label} of {of}"))),
    };
    let link = |(label, path): &(String, String)| {
        format!("<a href=\"{}\"{}>{}</a>", relative(path), name(label), HtmlEscape(label))
    };
    files.iter().map(link).collect::<Vec<_>>().join(" · ")
}

/// Returns a puzzle line as code that may be broken between rows.
fn puzzle(line: &str) -> String {
    let row_ends = line.is_ascii() && line.len() == CELLS;
    let step = if row_ends { ROW } else { line.len().max(1) };
    let rows = (0..line.len()).step_by(step).map(|at| HtmlEscape(&line[at..at + step]).to_string());
    format!("<code class=\"puzzle\">{}</code>", rows.collect::<Vec<_>>().join("<wbr>"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The digest of the empty text: NIST, FIPS 180-4, examples (e3b0c442…b855), here in base64.
    #[test]
    fn hashes_are_written_as_policies_write_them() {
        assert_eq!(hash(""), "sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=");
    }

    #[test]
    fn puzzle_lines_break_between_rows() {
        let line =
            "5...........6.....3...8.......1.......7..4......9....2.......6......1....7..4....";
        let html = puzzle(line);
        assert!(html.starts_with("<code class=\"puzzle\">5........<wbr>...6....."), "{html}");
        assert_eq!(html.matches("<wbr>").count(), 8);
        assert_eq!(puzzle("<b> ä"), "<code class=\"puzzle\">&lt;b&gt; ä</code>");
        assert_eq!(puzzle(""), "<code class=\"puzzle\"></code>");
    }
}
