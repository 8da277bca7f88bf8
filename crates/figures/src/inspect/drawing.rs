//! An SVG of this crate read back: its elements in the order of painting, and the colour that they
//! leave at a place.

use resvg::usvg::roxmltree::{Document, Node};

use crate::canvas::{Anchor, Area, Type};
use crate::colour::{Rgb, mix};
use crate::font::{CAP_HEIGHT, Weight};

pub(crate) type Point = (f64, f64);

/// How deep letters reach below the line they stand on, over the size of the type.
const DESCENT: f64 = 0.24;
/// How deep the round digits reach below that line.
const DIGIT_DESCENT: f64 = 0.02;

#[derive(Clone, Debug)]
pub(crate) enum Shape {
    Rectangle(Area),
    Circle(Point, f64),
    Path { points: Vec<Point>, closed: bool },
}

/// A shape with its paint.
#[derive(Clone, Debug)]
pub(crate) struct Mark {
    pub(crate) class: String,
    pub(crate) shape: Shape,
    pub(crate) fill: Option<(Rgb, f64)>,
    pub(crate) line: Option<(Rgb, f64)>,
    /// How many shapes were painted before it.
    pub(crate) order: usize,
    /// The room that it takes with the line around it.
    pub(crate) room: Area,
}

/// A line of text with the room that it takes.
#[derive(Clone, Debug)]
pub(crate) struct Words {
    pub(crate) words: String,
    pub(crate) area: Area,
    /// From the height of the capitals down to the line on which they stand.
    pub(crate) ink: Area,
    pub(crate) at: Point,
    pub(crate) anchor: Anchor,
    pub(crate) size: f64,
    pub(crate) colour: Rgb,
    pub(crate) halo: Option<Rgb>,
    /// How many shapes were painted before it.
    pub(crate) order: usize,
}

#[derive(Debug)]
pub(crate) struct Drawing {
    pub(crate) frame: Area,
    /// The width on the page in millimetres.
    pub(crate) millimetres: f64,
    pub(crate) marks: Vec<Mark>,
    pub(crate) texts: Vec<Words>,
}

impl Drawing {
    /// Reads a document; fails at what this crate never writes.
    pub(crate) fn read(svg: &str) -> Result<Self, String> {
        let document = Document::parse(svg).map_err(|error| error.to_string())?;
        let root = document.root_element();
        let view = numbers(root.attribute("viewBox").ok_or("no viewBox")?)?;
        let width = root.attribute("width").ok_or("no width")?;
        let millimetres = width.strip_suffix("mm").ok_or("a width without mm")?;
        let mut drawing = Self {
            frame: Area::new(0.0, 0.0, view[2], view[3]),
            millimetres: millimetres.parse().map_err(|_| format!("width {width}"))?,
            marks: Vec::new(),
            texts: Vec::new(),
        };
        // A link paints nothing by itself.
        let all = root.descendants().skip(1).filter(Node::is_element);
        for node in all.filter(|node| node.tag_name().name() != "a") {
            let order = drawing.marks.len();
            match node.tag_name().name() {
                "title" | "desc" => {}
                "text" => drawing.texts.push(words(node, order)?),
                name => drawing.marks.push(mark(node, name, order)?),
            }
        }
        Ok(drawing)
    }

    pub(crate) fn page(&self) -> Rgb {
        self.marks.first().and_then(|mark| mark.fill).map_or((0, 0, 0), |(colour, _)| colour)
    }

    pub(crate) fn of_class(&self, class: &str) -> impl Iterator<Item = &Mark> {
        self.marks.iter().filter(move |mark| mark.class == class)
    }

    /// Returns the areas in which data are drawn.
    pub(crate) fn plots(&self) -> Vec<Area> {
        self.of_class("plot").map(Mark::extent).collect()
    }

    /// Returns the colour that the first `count` shapes leave at a place, and the last that painted.
    pub(crate) fn colour_at(&self, at: Point, count: usize) -> (Rgb, Option<&Mark>) {
        let mut found = (self.page(), None);
        for mark in &self.marks[..count] {
            if let Some((colour, part)) = mark.paint_at(at) {
                found = (mix(found.0, colour, part), Some(mark));
            }
        }
        found
    }
}

impl Mark {
    /// Returns the colour and opacity with which the mark paints a place.
    pub(crate) fn paint_at(&self, at: Point) -> Option<(Rgb, f64)> {
        if !self.room.holds(&Area::new(at.0, at.1, at.0, at.1)) {
            return None;
        }
        if let Some((colour, width)) = self.line
            && self.distance(at) <= width / 2.0
        {
            return Some((colour, 1.0));
        }
        self.fill.filter(|_| self.holds(at))
    }

    pub(crate) fn extent(&self) -> Area {
        match &self.shape {
            Shape::Rectangle(area) => *area,
            Shape::Circle((x, y), radius) => Area::new(*x, *y, *x, *y).grown(*radius),
            Shape::Path { points, .. } => {
                let mut area = Area::new(points[0].0, points[0].1, points[0].0, points[0].1);
                for &(x, y) in points {
                    area.left = area.left.min(x);
                    area.right = area.right.max(x);
                    area.top = area.top.min(y);
                    area.bottom = area.bottom.max(y);
                }
                area
            }
        }
    }

    /// Returns half the width of the line around it.
    pub(crate) fn half_line(&self) -> f64 {
        self.line.map_or(0.0, |(_, width)| width / 2.0)
    }

    fn holds(&self, (x, y): Point) -> bool {
        match &self.shape {
            Shape::Rectangle(area) => area.holds(&Area::new(x, y, x, y)),
            Shape::Circle(centre, radius) => (centre.0 - x).hypot(centre.1 - y) <= *radius,
            Shape::Path { points, .. } => {
                let mut inside = false;
                let mut last = points[points.len() - 1];
                for &point in points {
                    let crosses = (point.1 > y) != (last.1 > y);
                    if crosses {
                        let part = (y - point.1) / (last.1 - point.1);
                        inside ^= x < point.0 + part * (last.0 - point.0);
                    }
                    last = point;
                }
                inside
            }
        }
    }

    /// Returns the distance of a place to the outline.
    fn distance(&self, at: Point) -> f64 {
        match &self.shape {
            Shape::Circle(centre, radius) => {
                ((centre.0 - at.0).hypot(centre.1 - at.1) - radius).abs()
            }
            _ => self
                .segments()
                .iter()
                .map(|&(from, to)| distance_to_segment(at, from, to))
                .fold(f64::INFINITY, f64::min),
        }
    }

    /// Returns the straight parts of the outline.
    pub(crate) fn segments(&self) -> Vec<(Point, Point)> {
        let (points, closed) = match &self.shape {
            Shape::Rectangle(area) => {
                let Area { left, top, right, bottom } = *area;
                (vec![(left, top), (right, top), (right, bottom), (left, bottom)], true)
            }
            Shape::Circle((x, y), radius) => {
                const CORNERS: usize = 12;
                let corner = |index: usize| {
                    let turn = std::f64::consts::TAU * index as f64 / CORNERS as f64;
                    (x + radius * turn.cos(), y + radius * turn.sin())
                };
                ((0..CORNERS).map(corner).collect(), true)
            }
            Shape::Path { points, closed } => (points.clone(), *closed),
        };
        let mut segments: Vec<_> = points.windows(2).map(|pair| (pair[0], pair[1])).collect();
        if closed {
            segments.push((points[points.len() - 1], points[0]));
        }
        segments
    }

    /// Returns pairs of places beside the outline, one on either side at this distance from it.
    pub(crate) fn sides(&self, beyond: f64) -> Vec<(Point, Point)> {
        let mut found = Vec::new();
        for ((x0, y0), (x1, y1)) in self.segments() {
            let length = (x1 - x0).hypot(y1 - y0);
            if length < 1e-9 {
                continue;
            }
            let by = self.half_line() + beyond;
            let (dx, dy) = ((y1 - y0) / length * by, (x0 - x1) / length * by);
            for part in [0.17, 0.41, 0.62, 0.83] {
                let (x, y) = (x0 + part * (x1 - x0), y0 + part * (y1 - y0));
                found.push(((x + dx, y + dy), (x - dx, y - dy)));
            }
        }
        found
    }
}

fn distance_to_segment((x, y): Point, from: Point, to: Point) -> f64 {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let square = dx * dx + dy * dy;
    let part = if square == 0.0 { 0.0 } else { ((x - from.0) * dx + (y - from.1) * dy) / square };
    let part = part.clamp(0.0, 1.0);
    (from.0 + part * dx - x).hypot(from.1 + part * dy - y)
}

fn number(node: Node<'_, '_>, name: &str) -> Result<f64, String> {
    let text = node.attribute(name).unwrap_or("0");
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("{name}='{text}' is no number")),
    }
}

fn numbers(text: &str) -> Result<Vec<f64>, String> {
    let parts = text.split([' ', 'M', 'L', 'Z']).filter(|part| !part.is_empty());
    parts
        .map(|part| {
            let value = part.parse::<f64>().ok().filter(|value| value.is_finite());
            value.ok_or_else(|| format!("'{part}' is no number"))
        })
        .collect()
}

fn colour(node: Node<'_, '_>, name: &str) -> Result<Option<Rgb>, String> {
    let Some(text) = node.attribute(name).filter(|&text| text != "none") else { return Ok(None) };
    let part = |from: usize| {
        let hex = text.get(from..from + 2).and_then(|hex| u8::from_str_radix(hex, 16).ok());
        hex.ok_or_else(|| format!("{name}='{text}' is no colour"))
    };
    Ok(Some((part(1)?, part(3)?, part(5)?)))
}

fn mark(node: Node<'_, '_>, name: &str, order: usize) -> Result<Mark, String> {
    let shape = match name {
        "rect" => {
            let (x, y) = (number(node, "x")?, number(node, "y")?);
            let (width, height) = (number(node, "width")?, number(node, "height")?);
            Shape::Rectangle(Area::new(x, y, x + width, y + height))
        }
        "circle" => Shape::Circle((number(node, "cx")?, number(node, "cy")?), number(node, "r")?),
        "path" => {
            let data = node.attribute("d").ok_or("a path without data")?;
            let flat = numbers(data)?;
            let points: Vec<Point> = flat.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect();
            if points.is_empty() {
                return Err(format!("an empty path '{data}'"));
            }
            Shape::Path { points, closed: data.ends_with('Z') }
        }
        _ => return Err(format!("an element <{name}>")),
    };
    let opacity =
        if node.has_attribute("fill-opacity") { number(node, "fill-opacity")? } else { 1.0 };
    let width = number(node, "stroke-width")?;
    let mut mark = Mark {
        class: node.attribute("class").unwrap_or_default().to_owned(),
        shape,
        fill: colour(node, "fill")?.map(|colour| (colour, opacity)),
        line: colour(node, "stroke")?.map(|colour| (colour, width)),
        order,
        room: Area::new(0.0, 0.0, 0.0, 0.0),
    };
    mark.room = mark.extent().grown(mark.half_line());
    Ok(mark)
}

fn words(node: Node<'_, '_>, order: usize) -> Result<Words, String> {
    let weight = if node.has_attribute("font-weight") { Weight::Bold } else { Weight::Regular };
    let anchor = match node.attribute("text-anchor") {
        None => Anchor::Left,
        Some("middle") => Anchor::Centre,
        Some(_) => Anchor::Right,
    };
    let size = number(node, "font-size")?;
    let words = node.text().unwrap_or_default().to_owned();
    let width = Type::new(size, (0, 0, 0)).width(&words);
    let width = if weight == Weight::Bold {
        Type::new(size, (0, 0, 0)).bold().width(&words)
    } else {
        width
    };
    let (x, base_line) = (number(node, "x")?, number(node, "y")?);
    let left = match anchor {
        Anchor::Left => x,
        Anchor::Centre => x - width / 2.0,
        Anchor::Right => x - width,
    };
    let digits_only = words.chars().all(|c| c.is_ascii_digit());
    let depth = if digits_only { DIGIT_DESCENT } else { DESCENT };
    let top = base_line - CAP_HEIGHT * size;
    Ok(Words {
        area: Area::new(left, top, left + width, base_line + depth * size),
        ink: Area::new(left, top, left + width, base_line),
        words,
        at: (x, base_line),
        anchor,
        size,
        colour: colour(node, "fill")?.ok_or("a text without colour")?,
        halo: colour(node, "stroke")?,
        order,
    })
}
