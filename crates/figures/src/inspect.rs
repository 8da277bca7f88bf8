//! What the tests of all figures look at: the text as a layout library sets it, and its places.

use resvg::usvg::roxmltree::Document;
use resvg::usvg::{Group, Node, Rect, Tree};

use crate::canvas::{Anchor, Area, Type};
use crate::font::{CAP_HEIGHT, Weight};
use crate::png::options;
use crate::theme::SMALL_SIZE;
use crate::{Figure, Theme, Width};

/// Returns every text of an SVG with the box that a text layout library gives it.
pub(crate) fn laid_out_texts(svg: &str) -> Vec<(String, Rect)> {
    texts_of(&read(svg))
}

fn texts_of(tree: &Tree) -> Vec<(String, Rect)> {
    fn collect(group: &Group, found: &mut Vec<(String, Rect)>) {
        for node in group.children() {
            match node {
                Node::Group(group) => collect(group, found),
                Node::Text(text) => {
                    let words = text.chunks().iter().map(|chunk| chunk.text()).collect();
                    found.push((words, text.abs_bounding_box()));
                }
                _ => {}
            }
        }
    }
    let mut found = Vec::new();
    collect(tree.root(), &mut found);
    found
}

fn read(svg: &str) -> Tree {
    Tree::from_str(svg, &options()).unwrap()
}

/// Returns how many elements have a class.
pub(crate) fn count_class(svg: &str, class: &str) -> usize {
    let document = Document::parse(svg).unwrap();
    document.descendants().filter(|node| node.attribute("class") == Some(class)).count()
}

/// Returns the texts of an SVG in the order in which they are drawn.
pub(crate) fn texts(svg: &str) -> Vec<String> {
    let document = Document::parse(svg).unwrap();
    let nodes = document.descendants().filter(|node| node.has_tag_name("text"));
    nodes.map(|node| node.text().unwrap_or_default().to_owned()).collect()
}

/// Checks what holds for every figure in every theme and width: it is drawn twice alike, is named
/// and described, no text leaves the frame, is too small or overlaps another text.
pub(crate) fn check_figure(figure: &dyn Figure) {
    assert_eq!(figure.csv().unwrap(), figure.csv().unwrap());
    for theme in Theme::ALL {
        for width in Width::ALL {
            let svg = figure.svg(theme, width).unwrap();
            assert_eq!(figure.svg(theme, width).unwrap(), svg);
            check_svg(&svg, width);
        }
    }
}

/// How deep letters reach below the line they stand on, over the size of the type.
const DESCENT: f64 = 0.24;
/// How deep the round digits reach below that line.
const DIGIT_DESCENT: f64 = 0.02;

/// Returns the room that a text takes.
fn text_area(how: &Type, words: &str, x: f64, base_line: f64) -> Area {
    let width = how.width(words);
    let left = match how.anchor {
        Anchor::Left => x,
        Anchor::Centre => x - width / 2.0,
        Anchor::Right => x - width,
    };
    let digits_only = words.chars().all(|c| c.is_ascii_digit());
    let depth = if digits_only { DIGIT_DESCENT } else { DESCENT };
    let top = base_line - CAP_HEIGHT * how.size;
    Area::new(left, top, left + width, base_line + depth * how.size)
}

fn check_svg(svg: &str, width: Width) {
    let document = Document::parse(svg).unwrap();
    let root = document.root_element();
    assert_eq!(root.attribute("role"), Some("img"));
    assert_eq!(root.attribute("width"), Some(format!("{}mm", width.millimetres()).as_str()));
    for name in ["title", "desc"] {
        let node = root.children().find(|node| node.has_tag_name(name)).unwrap();
        assert!(node.text().is_some_and(|text| !text.is_empty()), "no {name}");
    }
    let size: Vec<f64> =
        root.attribute("viewBox").unwrap().split(' ').map(|part| part.parse().unwrap()).collect();
    let frame = Area::new(0.0, 0.0, size[2], size[3]);
    let mut areas: Vec<(String, Area)> = Vec::new();
    for node in root.descendants() {
        for attribute in ["x", "y", "width", "height", "cx", "cy", "d"] {
            let value = node.attribute(attribute).unwrap_or_default();
            assert!(!value.contains("NaN") && !value.contains("inf"), "{attribute}={value}");
        }
        if !node.has_tag_name("text") {
            continue;
        }
        let number = |name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
        let size = number("font-size");
        assert!(size >= SMALL_SIZE - 0.01, "type of {size} units");
        let weight = if node.has_attribute("font-weight") { Weight::Bold } else { Weight::Regular };
        let anchor = match node.attribute("text-anchor") {
            None => Anchor::Left,
            Some("middle") => Anchor::Centre,
            Some(_) => Anchor::Right,
        };
        let how = Type { size, weight, colour: (0, 0, 0), anchor, halo: None };
        let words = node.text().unwrap_or_default();
        let area = text_area(&how, words, number("x"), number("y"));
        assert!(frame.holds(&area), "'{words}' at {area:?} leaves {frame:?}");
        for (other, taken) in &areas {
            assert!(
                !taken.grown(-0.05).overlaps(&area),
                "'{words}' {area:?} over '{other}' {taken:?}"
            );
        }
        areas.push((words.to_owned(), area));
    }
    let tree = read(svg);
    let drawn = tree.root().abs_stroke_bounding_box();
    let drawn = [drawn.left(), drawn.top(), drawn.right(), drawn.bottom()].map(f64::from);
    let drawn = Area::new(drawn[0], drawn[1], drawn[2], drawn[3]);
    assert!(frame.grown(0.5).holds(&drawn), "marks at {drawn:?} leave {frame:?}");
    for (words, area) in texts_of(&tree) {
        let (left, right) = (f64::from(area.left()), f64::from(area.right()));
        assert!(left >= -0.5 && right <= frame.right + 0.5, "'{words}' from {left} to {right}");
    }
}
