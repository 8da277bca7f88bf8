//! The bundled font and how wide its letters are.

use std::sync::LazyLock;

use skrifa::charmap::Charmap;
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::{FontRef, MetadataProvider};

pub(crate) static REGULAR: &[u8] = include_bytes!("../fonts/OpenSans-Regular.ttf");
pub(crate) static BOLD: &[u8] = include_bytes!("../fonts/OpenSans-Bold.ttf");

/// The bundled font first; the others for viewers of the SVG that lack it.
pub(crate) const FAMILY: &str = "Open Sans, Helvetica, Arial, sans-serif";

/// Height of the capitals and digits over the size of the type.
pub(crate) const CAP_HEIGHT: f64 = 0.714;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Weight {
    Regular,
    Bold,
}

/// A bundled font: which glyph stands for a character, and how wide it is.
struct Face {
    glyphs: Charmap<'static>,
    widths: GlyphMetrics<'static>,
    units_per_em: f64,
}

/// The regular face and the bold one.
static FACES: LazyLock<[Option<Face>; 2]> = LazyLock::new(|| [REGULAR, BOLD].map(Face::of));

impl Face {
    fn of(file: &'static [u8]) -> Option<Self> {
        let font = FontRef::new(file).ok()?;
        let (size, location) = (Size::unscaled(), LocationRef::default());
        Some(Self {
            glyphs: font.charmap(),
            widths: font.glyph_metrics(size, location),
            units_per_em: f64::from(font.metrics(size, location).units_per_em),
        })
    }

    /// Returns the advance width of a character in em.
    fn advance(&self, c: char) -> Option<f64> {
        let advance = self.widths.advance_width(self.glyphs.map(c)?)?;
        Some(f64::from(advance) / self.units_per_em)
    }
}

/// Returns the width of a text without kerning, in the unit of `size`.
pub(crate) fn text_width(text: &str, size: f64, weight: Weight) -> f64 {
    let face = FACES[usize::from(weight == Weight::Bold)].as_ref();
    // What the font lacks is drawn by another one: assume a wide letter.
    let advance = |c: char| face.and_then(|face| face.advance(c)).unwrap_or(1.0);
    size * text.chars().map(advance).sum::<f64>()
}

/// Tests if the bundled font has a letter for a character.
#[cfg(test)]
pub(crate) fn has_letter(c: char) -> bool {
    FACES.iter().flatten().filter(|face| face.glyphs.map(c).is_some()).count() == 2
}

/// Breaks a text at white space into lines no wider than `limit`. A word that is wider alone is
/// broken between its letters. A text without words has no lines.
pub(crate) fn break_lines(text: &str, size: f64, weight: Weight, limit: f64) -> Vec<String> {
    let fits = |line: &str| text_width(line, size, weight) <= limit;
    // A percent sign never begins a line.
    let text = text.replace(" %", "\u{a0}%");
    let mut lines: Vec<String> = Vec::new();
    // Not split_whitespace: a no-break space holds a number and its unit together.
    for word in text.split([' ', '\t', '\n', '\r']).filter(|word| !word.is_empty()) {
        if let Some(line) = lines.last_mut() {
            let longer = format!("{line} {word}");
            if fits(&longer) {
                *line = longer;
                continue;
            }
        }
        lines.push(String::new());
        for letter in word.chars() {
            if let Some(line) = lines.last_mut() {
                let longer = format!("{line}{letter}");
                if line.is_empty() || fits(&longer) {
                    *line = longer;
                    continue;
                }
            }
            lines.push(letter.to_string());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspect::laid_out_texts;

    #[test]
    fn widths_agree_with_a_text_layout_library() {
        // usvg lays the text out with a full shaper; kerning makes its lines a little narrower.
        for weight in [Weight::Regular, Weight::Bold] {
            for text in ["0123456789", "naked 4, open 8–9 × 10³ %", "Which subsets occur", "≤µé·"]
            {
                let bold = if weight == Weight::Bold { " font-weight=\"bold\"" } else { "" };
                let svg = format!(
                    "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"900\" height=\"60\"><text \
                     x=\"10\" y=\"30\" font-family=\"Open Sans\" font-size=\"20\"{bold}>{text}\
                     </text></svg>"
                );
                let laid_out = f64::from(laid_out_texts(&svg)[0].1.width());
                let measured = text_width(text, 20.0, weight);
                assert!(
                    (laid_out..laid_out * 1.03 + 0.1).contains(&(measured + 0.05)),
                    "{text}: {laid_out} {measured}"
                );
            }
        }
    }

    #[test]
    fn lines_keep_every_word_and_the_limit() {
        let text = "a few  words and Onewordthatisfartoolongforanylineatall then\nmore 12\u{a0}%";
        for limit in [40.0, 80.0, 200.0, 2000.0] {
            let lines = break_lines(text, 10.0, Weight::Regular, limit);
            let letters = |text: &str| text.replace([' ', '\n'], "");
            assert_eq!(letters(&lines.concat()), letters(text));
            assert!(lines.iter().all(|line| text_width(line, 10.0, Weight::Regular) <= limit));
        }
        assert_eq!(break_lines(text, 10.0, Weight::Regular, 2000.0).len(), 1);
        assert_eq!(break_lines("with 95 % of", 10.0, Weight::Regular, 40.0)[1], "95\u{a0}% of");
        assert!(break_lines(" ", 10.0, Weight::Regular, 50.0).is_empty());
    }
}
