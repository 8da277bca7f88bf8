//! Pictures as parts of the page, by day and by night.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use minijinja::HtmlEscape;
use similar::{Algorithm, DiffTag, capture_diff_slices};
use tallyhouse_figures::Picture;

use crate::Plate;

/// Pixels of the page per millimetre of a picture: the least type of a figure, 7 points, comes out at
/// 11 pixels, and a figure as wide as a column, 85 mm, still fits a telephone's 390 pixels.
const PIXELS_PER_MILLIMETRE: f64 = 4.5;

/// Attributes of a document of its own that mean nothing within a page, or that the page gives.
const NOT_WITHIN: [&str; 6] = ["xmlns", "width", "height", "role", "aria-labelledby", "id"];

/// Tells what keeps a picture from being shown, if anything does.
pub(crate) fn fault(plate: &Plate) -> Option<String> {
    let Plate { light, dark } = plate;
    let is_length = |value: f64| value.is_finite() && value > 0.0;
    let size = |picture: &Picture| format!("a size of {} by {} mm", picture.width, picture.height);
    let all = || std::iter::once(light).chain(dark);
    if all().any(|picture| parts(&picture.svg).is_none()) {
        Some("no SVG element".to_string())
    } else if !is_length(light.width) || !is_length(light.height) {
        Some(size(light))
    } else {
        let other = dark.as_ref().filter(|dark| size(dark) != size(light));
        other.map(|dark| format!("{} by night and {} by day", size(dark), size(light)))
    }
}

/// The colours that differ by day and by night, each pair with the number it is named by.
#[derive(Default)]
pub(crate) struct Colours(BTreeMap<(String, String), usize>);

impl Colours {
    /// Returns the style that gives them.
    pub(crate) fn style(&self) -> String {
        if self.0.is_empty() {
            return String::new();
        }
        let values = |by_night: bool| {
            self.0.iter().fold(String::new(), |mut style, ((day, night), number)| {
                let colour = if by_night { night } else { day };
                let _ = write!(style, "--c{number}:{colour};");
                style
            })
        };
        let (day, night) = (values(false), values(true));
        let dark = "@media screen and (prefers-color-scheme: dark)";
        format!(":root {{ {day} }}\n{dark} {{ :root {{ {night} }} }}\n")
    }

    /// Returns the element that shows a picture; `class` may be empty.
    pub(crate) fn element(&mut self, plate: &Plate, class: &str) -> String {
        let Plate { light, dark } = plate;
        let (attributes, day) = parts(&light.svg).unwrap_or_default();
        let drawn = match dark.as_ref().and_then(|dark| parts(&dark.svg)) {
            Some((_, night)) => self.by_day_and_night(&day, &night),
            None => day.concat(),
        };
        let [width, height] = [light.width, light.height].map(|side| side * PIXELS_PER_MILLIMETRE);
        // What holds links is no single image.
        let role = if drawn.contains("<a ") { "group" } else { "img" };
        let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
        format!(
            "<svg{class} width=\"{width:.0}\" height=\"{height:.0}\" role=\"{role}\" \
             aria-label=\"{}\"{attributes}>{drawn}</svg>",
            HtmlEscape(&light.alt)
        )
    }

    /// Returns the elements of both, those they share once. Whoever sees one of them sees the same
    /// elements in the same order as if it stood there alone.
    fn by_day_and_night(&mut self, day: &[&str], night: &[&str]) -> String {
        let [bare_day, bare_night] = [day, night]
            .map(|lines| lines.iter().map(|line| coloured(line).0.join("#")).collect::<Vec<_>>());
        let steps = capture_diff_slices(Algorithm::Myers, &bare_day, &bare_night);
        let only = |class: &str, lines: &[&str]| {
            let drawn = lines.concat();
            if drawn.is_empty() { drawn } else { format!("<g class=\"{class}\">{drawn}</g>") }
        };
        let mut both = String::new();
        for step in &steps {
            let by_day = &day[step.old_range()];
            let by_night = &night[step.new_range()];
            if step.tag() == DiffTag::Equal {
                both.extend(
                    by_day.iter().zip(by_night).map(|(day, night)| self.shared(day, night)),
                );
            } else if is_whole(by_day) && is_whole(by_night) {
                both += &only("day", by_day);
                both += &only("night", by_night);
            } else {
                return only("day", day) + &only("night", night);
            }
        }
        both
    }

    /// Returns an element with the names of its colours.
    fn shared(&mut self, day: &str, night: &str) -> String {
        let (pieces, by_day) = coloured(day);
        let (_, by_night) = coloured(night);
        let mut pieces = pieces.into_iter();
        let mut shared = pieces.next().unwrap_or_default().to_string();
        for ((piece, day), night) in pieces.zip(by_day).zip(by_night) {
            if day == night {
                shared += day;
            } else {
                let next = self.0.len();
                let pair = (day.to_string(), night.to_string());
                let _ = write!(shared, "var(--c{})", self.0.entry(pair).or_insert(next));
            }
            shared += piece;
        }
        shared
    }
}

/// Returns the attributes of the root that hold within a page, and the lines of what is drawn, without
/// the title and the description, which the page gives.
fn parts(svg: &str) -> Option<(String, Vec<&str>)> {
    let (_, root) = svg.split_once("<svg")?;
    let (attributes, drawn) = root.split_once('>')?;
    let drawn = match attributes.strip_suffix('/') {
        Some(_) => "",
        None => drawn.rsplit_once("</svg>")?.0,
    };
    let mut kept = String::new();
    let mut texts = attributes.split('"');
    while let (Some(name), Some(value)) = (texts.next(), texts.next()) {
        let name = name.trim().trim_end_matches('=');
        if !NOT_WITHIN.contains(&name) {
            let _ = write!(kept, " {name}=\"{value}\"");
        }
    }
    let is_named = |line: &&str| ["<title", "<desc"].iter().any(|name| line.starts_with(name));
    Some((kept, drawn.lines().filter(|line| !is_named(line)).collect()))
}

/// Parts a line at the colours of its attributes; returns what stands around them, and them.
fn coloured(line: &str) -> (Vec<&str>, Vec<&str>) {
    const COLOUR: usize = "#000000".len();
    let (mut pieces, mut colours) = (Vec::new(), Vec::new());
    let (mut from, mut at) = (0, 0);
    while let Some(found) = line[at..].find("=\"#") {
        let start = at + found + 2;
        at = start;
        let end = start + COLOUR;
        let is_colour = line.as_bytes().get(end) == Some(&b'"')
            && line.as_bytes()[start + 1..end].iter().all(u8::is_ascii_hexdigit);
        if is_colour {
            pieces.push(&line[from..start]);
            colours.push(&line[start..end]);
            (from, at) = (end, end);
        }
    }
    pieces.push(&line[from..]);
    (pieces, colours)
}

/// Tests if lines hold whole elements: each that begins among them ends there, and none else does.
fn is_whole(lines: &[&str]) -> bool {
    let mut depth = 0_usize;
    lines.iter().all(|line| {
        let ends = line.matches("</").count();
        let begun = line.matches('<').count() - ends - line.matches("/>").count();
        let after = (depth + begun).checked_sub(ends);
        depth = after.unwrap_or_default();
        after.is_some()
    }) && depth == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(svg: &str, width: f64) -> Picture {
        let (svg, alt) = (svg.into(), "\"><b>".into());
        Picture { svg, width, height: 4.0, alt, ..Picture::default() }
    }

    fn plate(day: &str, night: &str) -> Plate {
        Plate { light: picture(day, 2.0), dark: Some(picture(night, 2.0)) }
    }

    #[test]
    fn what_cannot_be_shown_is_named() {
        assert_eq!(fault(&picture("<?xml version=\"1.0\"?><svg/>", 85.0).into()), None);
        for (svg, width, found) in [
            ("", 85.0, "no SVG element"),
            ("<svg>", 85.0, "no SVG element"),
            ("<svg/>", 0.0, "a size of 0 by 4 mm"),
            ("<svg/>", f64::INFINITY, "a size of inf by 4 mm"),
        ] {
            assert_eq!(fault(&picture(svg, width).into()), Some(found.to_string()), "{svg}");
        }
        let uneven = Plate { dark: Some(picture("<svg/>", 3.0)), ..plate("<svg/>", "<svg/>") };
        let found = fault(&uneven).unwrap();
        assert_eq!(found, "a size of 3 by 4 mm by night and a size of 2 by 4 mm by day");
    }

    #[test]
    fn the_alternative_is_escaped_and_stands_once() {
        let svg = "<svg xmlns=\"x\" width=\"2mm\" viewBox=\"0 0 8 16\">\n<title id=\"title\">T</title>\n\
                   <rect fill=\"#123456\"/>\n</svg>\n";
        assert_eq!(
            Colours::default().element(&picture(svg, 2.0).into(), "wide"),
            "<svg class=\"wide\" width=\"9\" height=\"18\" role=\"img\" \
             aria-label=\"&quot;&gt;&lt;b&gt;\" viewBox=\"0 0 8 16\"><rect fill=\"#123456\"/></svg>"
        );
        let linked = "<svg>\n<a href=\"#x\"><rect/></a>\n</svg>";
        let element = Colours::default().element(&picture(linked, 2.0).into(), "");
        assert!(element.contains(" role=\"group\" ") && element.contains("<a href=\"#x\">"));
    }

    #[test]
    fn what_is_drawn_by_day_and_by_night_alike_stands_once() {
        let mut colours = Colours::default();
        let shown = colours.element(
            &plate(
                "<svg>\n<rect fill=\"#FFFFFF\" stroke=\"#123456\"/>\n<path fill=\"#AAAAAA\"/>\n\
                 <text fill=\"#000000\">#FFFFFF</text>\n</svg>",
                "<svg>\n<rect fill=\"#000000\" stroke=\"#123456\"/>\n\
                 <text fill=\"#EEEEEE\">#FFFFFF</text>\n</svg>",
            ),
            "",
        );
        assert!(
            shown.ends_with(
                "><rect fill=\"var(--c0)\" stroke=\"#123456\"/><g class=\"day\"><path \
                 fill=\"#AAAAAA\"/></g><text fill=\"var(--c1)\">#FFFFFF</text></svg>"
            ),
            "{shown}"
        );
        assert_eq!(
            colours.style(),
            ":root { --c1:#000000;--c0:#FFFFFF; }\n@media screen and (prefers-color-scheme: dark) \
             { :root { --c1:#EEEEEE;--c0:#000000; } }\n"
        );
    }

    #[test]
    fn what_cannot_be_parted_stands_twice() {
        let mut colours = Colours::default();
        let shown = colours.element(
            &plate("<svg>\n<g>\n<b/>\n</g>\n</svg>", "<svg>\n<g a=\"\">\n<b/>\n</g>\n</svg>"),
            "",
        );
        let end = "<g class=\"day\"><g><b/></g></g><g class=\"night\"><g a=\"\"><b/></g></g></svg>";
        assert!(shown.ends_with(end), "{shown}");
        assert_eq!(colours.style(), "");
    }
}
