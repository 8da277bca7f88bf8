//! The page as text: what it says, what it escapes, where its links lead.

use std::collections::BTreeSet;

use tallyhouse_document::{Document, Extent, to_html};
use tallyhouse_figures::Paper;

mod sample;

/// Returns the values of an attribute in the order of the page.
fn values<'a>(page: &'a str, attribute: &str) -> Vec<&'a str> {
    let start = format!(" {attribute}=\"");
    page.split(&start).skip(1).map(|rest| rest.split_once('"').unwrap().0).collect()
}

/// Returns the names of all tags, with the attributes that could run something.
fn tags(page: &str) -> Vec<String> {
    let body = page.split_once("<body>").unwrap().1;
    let body = body.split_once("<script>").unwrap().0;
    body.split('<').skip(1).map(|tag| tag.split(['>', ' ']).next().unwrap().to_string()).collect()
}

#[test]
fn texts_stay_texts_in_every_place() {
    let plain = to_html(&sample::saying("plain")).unwrap();
    let places = plain.matches("plain").count();
    for (hostile, escaped) in [
        ("<script>alert(1)</script>", "&lt;script&gt;alert(1)&lt;&#x2f;script&gt;"),
        ("\"><img src=x onerror=alert(1)>", "&quot;&gt;&lt;img src=x onerror=alert(1)&gt;"),
        ("'><svg onload=alert(1)>", "&#x27;&gt;&lt;svg onload=alert(1)&gt;"),
        (
            "</title></style><b>{{ style }}",
            "&lt;&#x2f;title&gt;&lt;&#x2f;style&gt;&lt;b&gt;{{ style }}",
        ),
        ("a & b &amp; c", "a &amp; b &amp;amp; c"),
    ] {
        let page = to_html(&sample::saying(hostile)).unwrap();
        assert_eq!(page.matches(escaped).count(), places, "{hostile}");
        assert_eq!(tags(&page), tags(&plain), "{hostile}");
        assert_eq!(page.replace(escaped, "plain"), plain, "{hostile}");
    }
}

#[test]
fn ids_differ_and_links_lead_somewhere() {
    let page = to_html(&sample::document()).unwrap();
    let ids = values(&page, "id");
    let distinct: BTreeSet<_> = ids.iter().collect();
    assert_eq!(distinct.len(), ids.len(), "{ids:?}");
    let links = values(&page, "href");
    let inside: Vec<_> = links.iter().filter_map(|link| link.strip_prefix('#')).collect();
    assert_eq!(
        inside,
        [
            "content",
            "findings",
            "verdicts",
            "counts",
            "specimens",
            "provenance",
            "quadruples",
            "small-side",
            "boxes-first"
        ]
    );
    assert!(inside.iter().all(|link| ids.contains(link)));
    for id in ["quadruples", "small-side", "boxes-first", "shapes", "missed", "hardest"] {
        assert!(ids.contains(&id), "{id}");
    }
}

#[test]
fn the_page_needs_nothing_from_elsewhere() {
    let page = to_html(&sample::document()).unwrap();
    for link in values(&page, "href") {
        assert!(link.starts_with('#') || link.starts_with("./"), "{link}");
    }
    assert_eq!(page.matches("<svg ").count(), 4);
    assert!(values(&page, "src").is_empty());
    let lower = page.to_lowercase();
    for outside in ["http:", "https:", "@import", "url(", "<link", "<iframe", "<object", "srcset"] {
        assert!(!lower.contains(outside), "{outside}");
    }
    assert!(page.contains("content=\"default-src 'none'; style-src 'sha256-"));
    assert!(page.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    assert!(
        page.contains("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">")
    );
}

#[test]
fn tables_are_plain_tables_with_the_numbers_to_sort_by() {
    let page = to_html(&sample::document()).unwrap();
    assert_eq!(page.matches("<th scope=\"row\">").count(), 4);
    assert_eq!(page.matches("<th scope=\"col\">").count(), 2);
    assert_eq!(page.matches("<th scope=\"col\" class=\"numeric\">").count(), 2);
    assert_eq!(values(&page, "data-sort"), ["9120.0", "4.5", "33.0", "0.33", "870.0", "12.25"]);
    assert!(page.contains("<td class=\"numeric\">not counted</td>"));
    assert!(!page.contains("<button"), "without the script a button would do nothing");
}

#[test]
fn numbers_without_an_order_are_not_sorted_by() {
    let mut document = sample::document();
    for block in &mut document.sections[1].blocks {
        if let tallyhouse_document::Block::Table(table) = block {
            table.rows[0][1].sort = Some(f64::NAN);
            table.rows[2][1].sort = Some(f64::INFINITY);
        }
    }
    let page = to_html(&document).unwrap();
    assert_eq!(values(&page, "data-sort"), ["4.5", "0.33", "870.0", "12.25"]);
}

#[test]
fn outcomes_are_counted_and_told_in_words() {
    let page = to_html(&sample::document()).unwrap();
    for outcome in ["supported", "refuted", "undecided"] {
        assert!(page.contains(&format!("1 {outcome}</span>")), "{outcome}");
    }
    assert!(page.contains("</span>Refuted</span>\nThe naked side is never larger"));
    let mut document = sample::document();
    document.sections.remove(0);
    assert!(!to_html(&document).unwrap().contains("class=\"summary\""));
}

#[test]
fn the_same_document_gives_the_same_bytes() {
    assert_eq!(to_html(&sample::document()).unwrap(), to_html(&sample::document()).unwrap());
}

#[test]
fn a_brief_is_the_leading_section_and_the_first_verdicts() {
    let document = Document { leads: true, ..sample::document() };
    let mut sections = document.sections.clone();
    sections.rotate_left(1);
    let brief = Document { sections, extent: Extent::Brief { whole: "report".into() }, ..document };
    let page = to_html(&brief).unwrap();
    let ids = values(&page, "id");
    assert_eq!(ids, ["content", "counts", "shapes", "missed", "hardest", "findings", "whom"]);
    for link in values(&page, "href").iter().filter(|link| link.contains('#')).skip(1) {
        assert!(link.starts_with("./report.html#"), "{link}");
    }
    assert!(
        page.contains("<h2>For whom it holds</h2>\n<p>Minimal puzzles by random deletion. The")
    );
    assert!(page.contains("<a href=\"./report.html\">the whole report</a>"));
}

#[test]
fn the_page_is_printed_on_the_paper_that_is_there() {
    let page = |paper| to_html(&Document { paper, ..sample::document() }).unwrap();
    assert!(page(Paper::A4).contains("@page { size: A4;"));
    assert!(page(Paper::Letter).contains("@page { size: letter;"));
    assert_eq!(page(Paper::A4).matches("@page").count(), 1);
}
