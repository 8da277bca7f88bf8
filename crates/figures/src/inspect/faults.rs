//! Faults that any figure can have.

use resvg::usvg::roxmltree::Document;

use super::drawing::{Drawing, Mark, Shape, Words};
use crate::canvas::Area;
use crate::colour::{contrast, mix};
use crate::font;
use crate::theme::POINT;

/// Shapes that carry no datum by themselves: grounds, guides, and areas that a line of their own
/// bounds.
const GROUNDS: [&str; 8] = ["page", "plot", "rule", "band", "fill", "naked", "scale", "ground"];

/// Marks that stand for data, in the area of a plot.
const DATA: [&str; 18] = [
    "bar",
    "part",
    "cell",
    "point",
    "reference",
    "mark",
    "none",
    "interval",
    "bound",
    "best",
    "recommended",
    "other",
    "frontier",
    "band",
    "band-edge",
    "line",
    "curve",
    "fill",
];

/// Marks without an area of their own, which lie upon each other where data are close.
const THIN: [&str; 20] = [
    "rule",
    "point",
    "reference",
    "mark",
    "none",
    "interval",
    "bound",
    "best",
    "recommended",
    "other",
    "frontier",
    "band-edge",
    "line",
    "curve",
    "median-mark",
    "mean-mark",
    "between",
    "threshold",
    "leader",
    "arrow",
];

/// Marks of which a part must stay in sight.
const MUST_SHOW: [&str; 17] = [
    "bar",
    "part",
    "cell",
    "point",
    "reference",
    "mark",
    "none",
    "best",
    "recommended",
    "other",
    "line",
    "curve",
    "median-mark",
    "mean-mark",
    "naked-outline",
    "hidden",
    "removed",
];

/// Text 4.5:1 and graphics 3:1: WCAG 2.x, success criteria 1.4.3 and 1.4.11.
const TEXT_CONTRAST: f64 = 4.5;
const MARK_CONTRAST: f64 = 3.0;

/// Returns what is wrong with the document as such.
pub(super) fn document(svg: &str) -> Vec<String> {
    let document = match Document::parse(svg) {
        Ok(document) => document,
        Err(error) => return vec![format!("no XML: {error}")],
    };
    let mut faults = Vec::new();
    let root = document.root_element();
    let mut expect = |holds: bool, fault: &str| {
        if !holds {
            faults.push(fault.to_owned());
        }
    };
    expect(root.attribute("role") == Some("img"), "no role");
    let words = |name: &str| {
        let node = root.children().find(|node| node.has_tag_name(name))?;
        let text = node.text()?.trim();
        (!text.is_empty() && node.attribute("id").is_some()).then(|| text.to_owned())
    };
    let (title, description) = (words("title"), words("desc"));
    expect(title.is_some(), "no title");
    expect(description.is_some(), "no description");
    expect(title.is_none() || title != description, "a description that repeats the title");
    let labels = root.attribute("aria-labelledby").unwrap_or_default();
    let named = |id: &str| root.children().any(|node| node.attribute("id") == Some(id));
    expect(labels.split(' ').count() == 2 && labels.split(' ').all(named), "no labels");
    let family = root.attribute("font-family").unwrap_or_default();
    expect(family.starts_with("Open Sans,"), "another font first");
    let styled = |name| root.descendants().skip(1).any(|node| node.has_attribute(name));
    expect(!styled("font-family") && !styled("style"), "a font or style of its own");
    for node in root.descendants().filter(|node| node.has_tag_name("text")) {
        for c in node.text().unwrap_or_default().chars().filter(|&c| !font::has_letter(c)) {
            faults.push(format!("the bundled font has no '{c}'"));
        }
    }
    faults
}

/// Returns what is wrong with places, sizes and colours.
pub(super) fn find(drawing: &Drawing) -> Vec<String> {
    let mut faults = Vec::new();
    places(drawing, &mut faults);
    for text in &drawing.texts {
        text_colours(drawing, text, &mut faults);
    }
    for mark in &drawing.marks {
        mark_colours(drawing, mark, &mut faults);
    }
    faults
}

fn places(drawing: &Drawing, faults: &mut Vec<String>) {
    let units_per_point = POINT * drawing.frame.width() / (drawing.millimetres * 4.0);
    for (index, text) in drawing.texts.iter().enumerate() {
        let Words { words, area, size, .. } = text;
        if size / units_per_point < 6.995 {
            faults.push(format!("'{words}' in type of {:.2} points", size / units_per_point));
        }
        if !drawing.frame.holds(area) {
            faults.push(format!("'{words}' at {area:?} leaves the frame"));
        }
        for other in &drawing.texts[..index] {
            if other.area.grown(-0.05).overlaps(area) {
                faults.push(format!("'{words}' {area:?} over '{}' {:?}", other.words, other.area));
            }
        }
    }
    let plots = drawing.plots();
    for mark in &drawing.marks {
        let extent = mark.room;
        if !drawing.frame.holds(&extent) {
            faults.push(format!("{} at {extent:?} leaves the frame", mark.class));
        }
        if !plots.is_empty() && DATA.contains(&mark.class.as_str()) {
            let inside =
                |plot: &Area| match (&mark.shape, mark.fill.is_some() && mark.line.is_some()) {
                    // A mark of a point may reach over the edge, its middle may not.
                    (Shape::Circle(..) | Shape::Path { closed: true, .. }, true) => {
                        let (x, y) = mark.extent().centre();
                        plot.grown(0.8).holds(&Area::new(x, y, x, y))
                    }
                    _ => plot.grown(0.02).holds(&mark.extent()),
                };
            if !plots.iter().any(inside) {
                faults.push(format!("{} at {extent:?} leaves {plots:?}", mark.class));
            }
        }
    }
}

fn text_colours(drawing: &Drawing, text: &Words, faults: &mut Vec<String>) {
    let Area { left, top, right, bottom } = text.ink;
    let (columns, rows) = ((right - left).ceil() as usize, (bottom - top).ceil() as usize);
    let places = (0..=columns).flat_map(|column| {
        (0..=rows).map(move |row| {
            let (x, y) = (column as f64 / columns.max(1) as f64, row as f64 / rows.max(1) as f64);
            (left + x * (right - left), top + y * (bottom - top))
        })
    });
    let near = |mark: &&Mark| mark.room.overlaps(&text.ink);
    let over: Vec<&Mark> = drawing.marks[text.order..].iter().filter(near).collect();
    // Lines under the letters disturb them, unless a halo parts the two.
    let inner = text.ink.grown(-0.6);
    let mut worst = f64::INFINITY;
    for at in places {
        let ground = match text.halo {
            Some(halo) => halo,
            None => drawing.colour_at(at, text.order).0,
        };
        worst = worst.min(contrast(text.colour, ground));
        let inside = inner.holds(&Area::new(at.0, at.1, at.0, at.1));
        let last = drawing.colour_at(at, text.order).1;
        let crossed = last.filter(|mark| mark.fill.is_none() && inside && text.halo.is_none());
        if let Some(mark) = crossed {
            faults.push(format!("'{}' over a line of {}", text.words, mark.class));
            break;
        }
        // The line through a removed digit is meant to cross it.
        let covered =
            over.iter().find(|mark| mark.class != "removed" && mark.paint_at(at).is_some());
        if let Some(mark) = covered {
            faults.push(format!("'{}' under {}", text.words, mark.class));
            break;
        }
    }
    if worst < TEXT_CONTRAST {
        faults.push(format!("'{}' in {:?} with contrast {worst:.2}", text.words, text.colour));
    }
}

fn mark_colours(drawing: &Drawing, mark: &Mark, faults: &mut Vec<String>) {
    // How far beyond a line the colour beside it is taken.
    const BESIDE: f64 = 0.3;
    let is_painted = mark.fill.is_some() || mark.line.is_some();
    if GROUNDS.contains(&mark.class.as_str()) || !is_painted {
        return;
    }
    let (mut seen, mut places, mut shown) = (0, 0, 0);
    let touches = ["cell", "part", "bar"].contains(&mark.class.as_str());
    let sides = mark.sides(BESIDE);
    for (one, other) in &sides {
        let here = (f64::midpoint(one.0, other.0), f64::midpoint(one.1, other.1));
        let left = drawing.colour_at(here, drawing.marks.len()).1;
        shown +=
            usize::from(left.is_some_and(|last| {
                last.order == mark.order || THIN.contains(&last.class.as_str())
            }));
        let beside = [one, other].map(|&at| {
            let is_inside = mark.fill.is_some() && mark.paint_at(at).is_some();
            if is_inside { None } else { Some(drawing.colour_at(at, mark.order)) }
        });
        let grounds: Vec<_> = beside.into_iter().flatten().collect();
        // What counts is the ground: marks that lie upon each other may merge, and all cross rules.
        let is_no_ground = |last: &Option<&Mark>| {
            last.is_some_and(|last| {
                let is_edge_below = last.class == "edge" && last.order + 1 < mark.order;
                let is_alike = last.class == mark.class && !touches;
                is_edge_below || is_alike || THIN.contains(&last.class.as_str())
            })
        };
        // Its own edge is judged by itself.
        let is_own_edge = |last: &Option<&Mark>| {
            last.is_some_and(|last| last.class == "edge" && last.order + 1 == mark.order)
        };
        if grounds.iter().all(|(_, last)| is_no_ground(last) || is_own_edge(last)) {
            continue;
        }
        places += 1;
        let line = mark.line.map(|(colour, _)| colour);
        let fill = mark.fill.map(|(colour, part)| mix(grounds[0].0, colour, part));
        let apart = |one, other| contrast(one, other) >= MARK_CONTRAST;
        let outlined = line.zip(fill).is_some_and(|(line, fill)| apart(line, fill));
        // A line between two areas need only differ from one of them.
        let outer = line.or(fill);
        let stands_out =
            outer.is_some_and(|outer| grounds.iter().any(|(ground, _)| apart(outer, *ground)));
        seen += usize::from(stands_out || outlined);
    }
    // Where a line crosses another of its colour it can't stand out.
    if places > 0 && 2 * seen < places {
        faults.push(format!("{} {:?} is too faint: {seen} of {places}", mark.class, mark));
    }
    let extent = mark.extent();
    if mark.fill.is_some() {
        let left = drawing.colour_at(extent.centre(), drawing.marks.len()).1;
        shown += usize::from(left.is_some_and(|last| last.order == mark.order));
    }
    // A share of one in a thousand is finer than the line between its neighbours.
    let is_fine = mark.class == "part" && extent.width() < 1.0;
    let must_show = MUST_SHOW.contains(&mark.class.as_str()) && !is_fine;
    if must_show && !sides.is_empty() && shown == 0 {
        faults.push(format!("{} {:?} is hidden", mark.class, mark.extent()));
    }
    if touches && places > 0 && seen < places {
        faults.push(format!("{} {:?} has too faint an edge", mark.class, mark.extent()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspect::data;
    use crate::{Figure, Spread, Theme, Width};

    const TEXT: &str = "<text x=\"20\" y=\"40\" font-size=\"10\" fill=\"#222222\">words</text>";

    /// A white page of 100 by 100 units.
    fn page(body: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"25mm\" height=\"25mm\" viewBox=\"0 0 100 \
             100\" role=\"img\" aria-labelledby=\"title description\" font-family=\"Open Sans, \
             sans-serif\">\n<title id=\"title\">A title</title>\n<desc id=\"description\">Words.</desc>\n\
             <rect class=\"page\" width=\"100\" height=\"100\" fill=\"#FFFFFF\"/>\n{body}</svg>"
        )
    }

    fn found(body: &str) -> String {
        let svg = page(body);
        let mut faults = document(&svg);
        faults.extend(find(&Drawing::read(&svg).unwrap()));
        faults.join("; ")
    }

    fn bar(class: &str, fill: &str) -> String {
        format!(
            "<rect class=\"{class}\" x=\"10\" y=\"20\" width=\"60\" height=\"40\" fill=\"{fill}\"/>"
        )
    }

    fn line(class: &str, stroke: &str) -> String {
        format!(
            "<path class=\"{class}\" d=\"M5 36L90 36\" fill=\"none\" stroke=\"{stroke}\" \
             stroke-width=\"2\"/>"
        )
    }

    #[test]
    fn texts_with_faults_are_found() {
        assert_eq!(found(TEXT), "");
        for (body, fault) in [
            (TEXT.replace("x=\"20\"", "x=\"80\""), "leaves the frame"),
            (TEXT.replace("y=\"40\"", "y=\"99\""), "leaves the frame"),
            (TEXT.replace("\"10\"", "\"9.8\""), "type of 6.9"),
            (format!("{TEXT}{}", TEXT.replace("20", "28")), "over 'words'"),
            (TEXT.replace("#222222", "#777777"), "contrast 4.48"),
            (bar("bar", "#555555") + TEXT, "with contrast"),
            (TEXT.to_owned() + &bar("bar", "#555555"), "under bar"),
            (line("grid", "#AAAAAA") + TEXT, "over a line of grid"),
            (TEXT.replace("words", "w\u{3042}"), "has no"),
            (TEXT.replace("fill", "font-family=\"Arial\" fill"), "a font"),
        ] {
            assert!(found(&body).contains(fault), "{fault}: {} {body}", found(&body));
        }
        // What is painted between ground and text is what counts.
        let white = bar("rule", "#FFFFFF");
        assert_eq!(found(&(bar("bar", "#555555") + &white + TEXT)), "");
        let halo = TEXT.replace("fill=", "stroke=\"#FFFFFF\" stroke-width=\"3\" fill=");
        assert_eq!(found(&(line("grid", "#767676") + &halo)), "");
        assert_eq!(found(&(line("removed", "#000000") + &halo)), "");
    }

    #[test]
    fn marks_with_faults_are_found() {
        let yellow = bar("bar", "#F0E442");
        assert!(found(&yellow).contains("too faint"), "{}", found(&yellow));
        assert_eq!(found(&yellow.replace("/>", " stroke=\"#222222\" stroke-width=\"1\"/>")), "");
        assert_eq!(found(&bar("bar", "#0072B2")), "");
        // A dark line on a dark bar, on its own edge, and half on the page.
        let (dark, edge) =
            (line("line", "#0072B2"), line("edge", "#FFFFFF").replace("\"2\"", "\"4\""));
        let bars = bar("bar", "#333333").replace("60", "88").replace("x=\"10\"", "x=\"3\"");
        assert!(found(&(bars.clone() + &dark)).contains("too faint"));
        assert_eq!(found(&(bars.clone() + &edge + &dark)), "");
        assert!(found(&(dark.clone() + &bars)).contains("hidden"));
        assert!(found(&bar("bar", "#0072B2").replace("60", "95")).contains("leaves the frame"));
        let plot = bar("plot", "none");
        assert_eq!(found(&(plot.clone() + &bar("bar", "#0072B2"))), "");
        assert!(found(&(plot + &dark)).contains("line at"), "a line beyond its plot");
        // A part whose edge is lost against its neighbour.
        let next = bar("part", "#0072B2").replace("x=\"10\"", "x=\"70\"").replace("60", "20");
        let lost = found(&(bar("part", "#0072B2") + &next.replace("0072B2", "1A7AB5")));
        assert!(lost.contains("part") && lost.contains("too faint an edge"), "{lost}");
    }

    #[test]
    fn documents_with_faults_are_found() {
        let svg = page("");
        assert_eq!(document(&svg), Vec::<String>::new());
        for (from, to, fault) in [
            ("Words.", "", "no description"),
            ("Words.", "A title", "repeats"),
            ("A title", " ", "no title"),
            ("role=\"img\"", "", "no role"),
            ("\"title description\"", "\"title words\"", "no labels"),
            ("Open Sans, ", "Arial, ", "another font"),
            ("</svg>", "", "no XML"),
        ] {
            let faults = document(&svg.replace(from, to)).join("; ");
            assert!(faults.contains(fault), "{fault}: {faults}");
        }
    }

    #[test]
    fn data_without_their_marks_are_found() {
        let chart = crate::intervals::tests::chart(Spread::Log, 4, 3);
        let (svg, csv) = (chart.draw(Theme::Light, Width::Page).unwrap().svg, chart.csv().unwrap());
        let faults =
            |svg: &str, csv: &str| data::faults(&Drawing::read(svg).unwrap(), csv).join("; ");
        assert_eq!(faults(&svg, &csv), "");
        let first = |class: &str| {
            let start = svg.find(&format!("class=\"{class}\"")).unwrap();
            let from = svg[..start].rfind('\n').unwrap();
            svg[from..from + 1 + svg[from + 1..].find('\n').unwrap()].to_owned()
        };
        let without = svg.replacen(&first("mark"), "", 1);
        assert!(faults(&without, &csv).contains("11 of [\"mark\", \"none\"] for 12 data"));
        let moved = |line: &str| {
            let at = line.find("M").unwrap() + 1;
            let x: f64 = line[at..].split(' ').next().unwrap().parse().unwrap();
            line.replace(&format!("M{x}"), &format!("M{}", x + 9.0))
        };
        let mark = first("mark");
        assert!(faults(&svg.replacen(&mark, &moved(&mark), 1), &csv).contains("a mark at"));
        let tick = first("tick");
        assert!(faults(&svg.replacen(&tick, "", 1), &csv).contains("ticks across"));
        for (from, to, fault) in [
            (">1\u{a0}%<", ">1.5\u{a0}%<", "neither straight nor logarithmic"),
            (">1\u{a0}%<", ">70\u{a0}%<", "not rising"),
            (">1\u{a0}%<", ">much<", "is no number"),
        ] {
            assert!(svg.contains(from), "{from}: {svg}");
            let found = faults(&svg.replace(from, to), &csv);
            assert!(found.contains(fault), "{fault}: {found}");
        }
        let more = format!("{csv}shape 9,series 0,0.1,0.05,0.2,1,10\n");
        assert!(faults(&svg, &more).contains("for 13 data"));
    }
}
