//! A writer of SVG elements: numbers rounded, texts escaped, every mark with its class.

use std::fmt::Write as _;

use crate::colour::Rgb;
use crate::font::{CAP_HEIGHT, FAMILY, Weight, break_lines, text_width};
use crate::theme::UNITS_PER_MILLIMETRE;

/// An upright rectangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Area {
    pub(crate) left: f64,
    pub(crate) top: f64,
    pub(crate) right: f64,
    pub(crate) bottom: f64,
}

impl Area {
    pub(crate) fn new(left: f64, top: f64, right: f64, bottom: f64) -> Self {
        Self { left, top, right, bottom }
    }

    pub(crate) fn width(&self) -> f64 {
        self.right - self.left
    }

    pub(crate) fn height(&self) -> f64 {
        self.bottom - self.top
    }

    pub(crate) fn centre(&self) -> (f64, f64) {
        (f64::midpoint(self.left, self.right), f64::midpoint(self.top, self.bottom))
    }

    pub(crate) fn grown(&self, by: f64) -> Self {
        Self::new(self.left - by, self.top - by, self.right + by, self.bottom + by)
    }

    pub(crate) fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// Returns the place of the area nearest to another.
    pub(crate) fn nearest(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (x.clamp(self.left, self.right), y.clamp(self.top, self.bottom))
    }

    pub(crate) fn holds(&self, other: &Self) -> bool {
        self.left <= other.left
            && other.right <= self.right
            && self.top <= other.top
            && other.bottom <= self.bottom
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Left,
    Centre,
    Right,
}

/// How a piece of text is set.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Type {
    pub(crate) size: f64,
    pub(crate) weight: Weight,
    pub(crate) colour: Rgb,
    pub(crate) anchor: Anchor,
    /// The colour of a rim that parts the letters from lines behind them.
    pub(crate) halo: Option<Rgb>,
}

impl Type {
    pub(crate) fn new(size: f64, colour: Rgb) -> Self {
        Self { size, weight: Weight::Regular, colour, anchor: Anchor::Left, halo: None }
    }

    pub(crate) fn bold(self) -> Self {
        Self { weight: Weight::Bold, ..self }
    }

    pub(crate) fn anchored(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    pub(crate) fn haloed(self, colour: Rgb) -> Self {
        Self { halo: Some(colour), ..self }
    }

    pub(crate) fn coloured(self, colour: Rgb) -> Self {
        Self { colour, ..self }
    }

    pub(crate) fn width(&self, words: &str) -> f64 {
        text_width(words, self.size, self.weight)
    }

    /// Returns the width of the widest of some lines.
    pub(crate) fn widest<'a>(&self, lines: impl IntoIterator<Item = &'a String>) -> f64 {
        lines.into_iter().map(|line| self.width(line)).fold(0.0, f64::max)
    }

    /// Breaks a text into lines no wider than a limit.
    pub(crate) fn broken(&self, words: &str, limit: f64) -> Vec<String> {
        break_lines(words, self.size, self.weight, limit)
    }

    /// Returns the height of some lines.
    pub(crate) fn height(&self, lines: &[String]) -> f64 {
        lines.len() as f64 * self.line_height()
    }

    /// Returns the distance of the base lines of two lines of text.
    pub(crate) fn line_height(&self) -> f64 {
        (self.size * 1.25).round()
    }

    /// Returns the base line of text whose figures stand centred at a height.
    pub(crate) fn base_line(&self, middle: f64) -> f64 {
        middle + CAP_HEIGHT / 2.0 * self.size
    }
}

/// How an area or a line is painted.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Paint {
    pub(crate) fill: Option<Rgb>,
    pub(crate) opacity: Option<f64>,
    pub(crate) line: Option<(Rgb, f64)>,
    pub(crate) dash: Option<&'static str>,
}

impl Paint {
    pub(crate) fn fill(colour: Rgb) -> Self {
        Self { fill: Some(colour), ..Self::default() }
    }

    pub(crate) fn line(colour: Rgb, width: f64) -> Self {
        Self { line: Some((colour, width)), ..Self::default() }
    }

    pub(crate) fn outlined(self, colour: Rgb, width: f64) -> Self {
        Self { line: Some((colour, width)), ..self }
    }

    pub(crate) fn dashed(self, dash: Option<&'static str>) -> Self {
        Self { dash, ..self }
    }

    fn attributes(&self) -> String {
        let mut text = match self.fill {
            Some(colour) => format!(" fill=\"{}\"", hex(colour)),
            None => " fill=\"none\"".to_owned(),
        };
        if let Some(opacity) = self.opacity {
            let _ = write!(text, " fill-opacity=\"{}\"", number(opacity));
        }
        if let Some((colour, width)) = self.line {
            let _ = write!(text, " stroke=\"{}\" stroke-width=\"{}\"", hex(colour), number(width));
        }
        if let Some(dash) = self.dash {
            let _ = write!(text, " stroke-dasharray=\"{dash}\"");
        }
        text
    }
}

/// What the styles of plotters have no word for.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Pen {
    pub(crate) class: &'static str,
    /// The line around a filled shape.
    pub(crate) outline: Option<(Rgb, f64)>,
    pub(crate) dash: Option<&'static str>,
}

/// The elements drawn so far, in SVG units of 0.25 mm.
#[derive(Clone, Debug, Default)]
pub(crate) struct Canvas {
    body: String,
    pub(crate) pen: Pen,
}

impl Canvas {
    pub(crate) fn text(&mut self, words: &str, x: f64, base_line: f64, how: Type) {
        let anchor = match how.anchor {
            Anchor::Left => "",
            Anchor::Centre => " text-anchor=\"middle\"",
            Anchor::Right => " text-anchor=\"end\"",
        };
        let weight = if how.weight == Weight::Bold { " font-weight=\"bold\"" } else { "" };
        let halo = how.halo.map_or_else(String::new, |colour| {
            let colour = hex(colour);
            format!(" stroke=\"{colour}\" stroke-width=\"3\" paint-order=\"stroke\"")
        });
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{weight}{anchor}{halo} fill=\"{}\">{}</text>",
            number(x),
            number(base_line),
            number(how.size),
            hex(how.colour),
            escape(words)
        );
    }

    /// Begins what leads to another place of the page.
    pub(crate) fn begin_link(&mut self, to: &str) {
        let _ = writeln!(self.body, "<a href=\"{}\">", escape(to));
    }

    /// Ends it.
    pub(crate) fn end_link(&mut self) {
        self.body += "</a>\n";
    }

    pub(crate) fn rectangle(&mut self, class: &str, area: Area, paint: Paint) {
        let _ = writeln!(
            self.body,
            "<rect class=\"{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"{}/>",
            number(area.left),
            number(area.top),
            number(area.width().max(0.0)),
            number(area.height().max(0.0)),
            paint.attributes()
        );
    }

    pub(crate) fn line(&mut self, class: &str, points: &[(f64, f64)], paint: Paint) {
        self.path(class, points, "", paint);
    }

    pub(crate) fn polygon(&mut self, class: &str, corners: &[(f64, f64)], paint: Paint) {
        self.path(class, corners, "Z", paint);
    }

    fn path(&mut self, class: &str, points: &[(f64, f64)], end: &str, paint: Paint) {
        let mut data = String::new();
        for (index, &(x, y)) in points.iter().enumerate() {
            let step = if index == 0 { 'M' } else { 'L' };
            let _ = write!(data, "{step}{} {}", number(x), number(y));
        }
        let _ = writeln!(
            self.body,
            "<path class=\"{class}\" d=\"{data}{end}\"{} stroke-linejoin=\"round\"/>",
            paint.attributes()
        );
    }

    pub(crate) fn circle(&mut self, class: &str, (x, y): (f64, f64), radius: f64, paint: Paint) {
        let _ = writeln!(
            self.body,
            "<circle class=\"{class}\" cx=\"{}\" cy=\"{}\" r=\"{}\"{}/>",
            number(x),
            number(y),
            number(radius),
            paint.attributes()
        );
    }

    /// Returns the document: a page of this size, named and described for readers who can't see it.
    pub(crate) fn finish(
        self,
        (width, height): (f64, f64),
        page: Rgb,
        title: &str,
        description: &str,
    ) -> String {
        let (across, down) = (number(width), number(height));
        let page = format!(
            "<rect class=\"page\" width=\"{across}\" height=\"{down}\" fill=\"{}\"/>\n",
            hex(page)
        );
        let font = format!(" font-family=\"{FAMILY}\"");
        document((width, height), &font, title, description, &(page + &self.body))
    }
}

/// Writes the document around some elements: so many units wide and high, named and described for
/// readers who can't see it; `attributes` hold for all elements.
pub(crate) fn document(
    (width, height): (f64, f64),
    attributes: &str,
    title: &str,
    description: &str,
    elements: &str,
) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}mm\" height=\"{}mm\" viewBox=\"0 0 {} \
         {}\" role=\"img\" aria-labelledby=\"title description\"{attributes}>\n<title \
         id=\"title\">{}</title>\n<desc id=\"description\">{}</desc>\n{elements}</svg>\n",
        number(width / UNITS_PER_MILLIMETRE),
        number(height / UNITS_PER_MILLIMETRE),
        number(width),
        number(height),
        escape(title),
        escape(description),
    )
}

fn hex((red, green, blue): Rgb) -> String {
    format!("#{red:02X}{green:02X}{blue:02X}")
}

/// Writes a length to a hundredth of a unit.
fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Writes text so that XML reads it as text; characters that XML forbids become U+FFFD.
fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\t' | '\n' | '\r' => escaped.push(' '),
            '\u{FFFE}' | '\u{FFFF}' => escaped.push('\u{FFFD}'),
            c if c.is_control() => escaped.push('\u{FFFD}'),
            c => escaped.push(c),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    use resvg::usvg::roxmltree::Document;

    use super::*;

    #[test]
    fn markup_in_texts_stays_text() {
        let nasty = "a < b && \"c\" > ]]> '\u{1}\u{FFFF}";
        let mut canvas = Canvas::default();
        canvas.text(nasty, 1.0, 2.0, Type::new(10.0, (0, 0, 0)));
        let svg = canvas.finish((10.0, 10.0), (255, 255, 255), nasty, nasty);
        let document = Document::parse(&svg).unwrap();
        let read: Vec<_> = document
            .descendants()
            .filter(|node| ["title", "desc", "text"].contains(&node.tag_name().name()))
            .map(|node| node.text().unwrap_or_default().to_owned())
            .collect();
        assert_eq!(read, vec![nasty.replace(['\u{1}', '\u{FFFF}'], "\u{FFFD}"); 3]);
    }

    #[test]
    fn numbers_are_short() {
        assert_eq!(
            [1.0, -0.001, 2.5, 1.0 / 3.0, 1200.0].map(number),
            ["1", "0", "2.5", "0.33", "1200"]
        );
    }
}
