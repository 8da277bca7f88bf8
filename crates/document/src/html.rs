//! The report as a web page.

use std::collections::BTreeMap;

use minijinja::{Environment, Error, ErrorKind, UndefinedBehavior, Value};
use serde::Serialize;

use crate::check::check;
use crate::link::relative;
use crate::numbering::numbers;
use crate::picture::{image, narrow_source};
use crate::puzzle_line::marked_up;
use crate::{Document, DocumentError, Outcome, Verdict};

const TEMPLATE: &str = include_str!("page/report.html");
const STYLE: &str = include_str!("page/report.css");
const SCRIPT: &str = include_str!("page/sort.js");

/// The SHA-256 of [`STYLE`] as the content security policy writes it (CSP level 3, section 2.3.1).
/// A browser refuses the style if this is not its hash, and names the one it found.
const STYLE_HASH: &str = "sha256-BT3yOWWl7a2nXB07JYFJxEfAobX71QX1IU5i8SBYmQw=";
/// The SHA-256 of [`SCRIPT`], likewise.
const SCRIPT_HASH: &str = "sha256-B+hfnICkAtw2xN6ZxbZRxoM+6AQa2H/dGVVK9Ympl30=";

#[derive(Serialize)]
struct Page<'a> {
    document: &'a Document,
    numbers: BTreeMap<&'a str, usize>,
    /// How many statements have each outcome; empty if none was tested.
    counts: Vec<(&'static str, usize)>,
    /// The verdicts by the title of their section.
    findings: Vec<(&'a str, Vec<&'a Verdict>)>,
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
/// without a view box, or a path that leads away from the report.
pub fn to_html(document: &Document) -> Result<String, DocumentError> {
    check(document)?;
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_trim_blocks(true);
    environment.set_lstrip_blocks(true);
    environment.add_filter("beside", |path: &str| Value::from_safe_string(relative(path)));
    let element = |made: Result<String, String>| {
        let element = made.map_err(|found| Error::new(ErrorKind::BadSerialization, found));
        element.map(Value::from_safe_string)
    };
    environment.add_filter("image", move |svg: &str, alt: &str| element(image(svg, alt)));
    environment.add_filter("narrow_source", move |svg: &str| element(narrow_source(svg)));
    environment.add_filter("puzzle_lines", |text: &str| Value::from_safe_string(marked_up(text)));
    environment.add_test("finite", |number: Option<f64>| number.is_some_and(f64::is_finite));
    // The ending of the name switches escaping on.
    environment.add_template("report.html", TEMPLATE)?;
    let safe = |text: &str| Value::from_safe_string(text.to_string());
    Ok(environment.get_template("report.html")?.render(Page {
        document,
        numbers: numbers(document),
        counts: Outcome::counts(document),
        findings: document.findings(),
        style: safe(STYLE),
        style_hash: safe(STYLE_HASH),
        script: safe(SCRIPT),
        script_hash: safe(SCRIPT_HASH),
    })?)
}
