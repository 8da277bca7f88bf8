//! Colours, type sizes and the sequential scale; all named here and nowhere else.

use plotters::style::{Color, FontStyle, IntoFont, RGBColor, TextStyle, text_anchor};

/// Text and frame lines.
pub(crate) const INK: RGBColor = RGBColor(0x22, 0x22, 0x22);
/// Secondary text; 7:1 on white.
pub(crate) const SOFT_INK: RGBColor = RGBColor(0x59, 0x59, 0x59);
/// The page.
pub(crate) const PAPER: RGBColor = RGBColor(0xff, 0xff, 0xff);
/// The fill of a shape that was looked for and never seen.
pub(crate) const ZERO_FILL: RGBColor = RGBColor(0xf2, 0xf2, 0xf2);
/// The outline of every cell of a heat map.
pub(crate) const CELL_LINE: RGBColor = RGBColor(0x76, 0x76, 0x76);

/// The bundled font first; the others for viewers of the SVG that lack it.
const FONT: &str = "Open Sans, Helvetica, Arial, sans-serif";

pub(crate) const TITLE_SIZE: u32 = 17;
pub(crate) const LABEL_SIZE: u32 = 13;
pub(crate) const SMALL_SIZE: u32 = 11;

/// Ten anchors of the viridis scale (S. van der Walt and N. Smith, 2015, CC0; values from memory),
/// from dark to light.
const VIRIDIS: [(u8, u8, u8); 10] = [
    (0x44, 0x01, 0x54),
    (0x48, 0x28, 0x78),
    (0x3e, 0x49, 0x89),
    (0x31, 0x68, 0x8e),
    (0x26, 0x82, 0x8e),
    (0x1f, 0x9e, 0x89),
    (0x35, 0xb7, 0x79),
    (0x6e, 0xce, 0x58),
    (0xb5, 0xde, 0x2b),
    (0xfd, 0xe7, 0x25),
];

/// Returns the colour of a value between 0 (light yellow) and 1 (dark violet); values outside are
/// clamped.
#[must_use]
pub fn sequential(value: f64) -> (u8, u8, u8) {
    let last = VIRIDIS.len() - 1;
    let at = (1.0 - value.clamp(0.0, 1.0)) * last as f64;
    let lower = (at.floor() as usize).min(last - 1);
    let part = at - lower as f64;
    let mix = |a: u8, b: u8| (f64::from(a) + part * (f64::from(b) - f64::from(a))).round() as u8;
    let (a, b) = (VIRIDIS[lower], VIRIDIS[lower + 1]);
    (mix(a.0, b.0), mix(a.1, b.1), mix(a.2, b.2))
}

/// Returns the relative luminance of a colour, 0 to 1 (WCAG 2.x).
#[must_use]
pub fn relative_luminance((red, green, blue): (u8, u8, u8)) -> f64 {
    let linear = |channel: u8| {
        let c = f64::from(channel) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
}

/// Returns the contrast ratio of two colours, 1 to 21 (WCAG 2.x).
#[must_use]
pub fn contrast(one: (u8, u8, u8), other: (u8, u8, u8)) -> f64 {
    let (a, b) = (relative_luminance(one), relative_luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Returns black or white, whichever reads better on a colour; at least 4.58:1 on any.
#[must_use]
pub fn label_on(colour: (u8, u8, u8)) -> (u8, u8, u8) {
    // The luminance at which black and white contrast equally: √(1.05 · 0.05) − 0.05.
    let even = (1.05f64 * 0.05).sqrt() - 0.05;
    if relative_luminance(colour) >= even { (0, 0, 0) } else { (255, 255, 255) }
}

pub(crate) const fn rgb((red, green, blue): (u8, u8, u8)) -> RGBColor {
    RGBColor(red, green, blue)
}

/// How a piece of text is set.
#[derive(Clone, Copy)]
pub(crate) struct Type {
    pub(crate) size: u32,
    pub(crate) bold: bool,
    pub(crate) colour: RGBColor,
    pub(crate) anchor: text_anchor::HPos,
}

impl Type {
    pub(crate) fn style(self) -> TextStyle<'static> {
        let font = (FONT, self.size).into_font();
        let font = if self.bold { font.style(FontStyle::Bold) } else { font };
        font.color(&self.colour.to_rgba())
            .pos(text_anchor::Pos::new(self.anchor, text_anchor::VPos::Center))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn luminance_and_contrast_agree_with_published_values() {
        // WCAG 2.x formula (W3C). #767676 is the greyest text that passes 4.5:1 on white, #777777
        // fails; #800080 has luminance 0.06147707043243851. Okabe & Ito, Color Universal Design,
        // 2008: luminance of orange and sky blue computed with the same formula.
        let white = (255, 255, 255);
        assert!((contrast((0, 0, 0), white) - 21.0).abs() < 1e-9);
        assert!((contrast((0x76, 0x76, 0x76), white) - 4.5422).abs() < 1e-4);
        assert!((contrast((0x77, 0x77, 0x77), white) - 4.4781).abs() < 1e-4);
        assert!((relative_luminance((0x80, 0, 0x80)) - 0.061_477_070_432_438_51).abs() < 1e-12);
        assert!((relative_luminance((0xE6, 0x9F, 0)) - 0.416_193).abs() < 1e-6);
        assert!((relative_luminance((0x56, 0xB4, 0xE9)) - 0.405_041).abs() < 1e-6);
    }

    #[test]
    fn labels_read_on_every_shade_and_the_scale_only_darkens() {
        let mut last = 1.0;
        for step in 0..=100 {
            let colour = sequential(f64::from(step) / 100.0);
            assert!(contrast(colour, label_on(colour)) >= 4.5, "{colour:?}");
            assert!(relative_luminance(colour) < last, "{colour:?}");
            last = relative_luminance(colour);
        }
        let tuple = |c: RGBColor| (c.0, c.1, c.2);
        for (text, ground) in [(INK, PAPER), (SOFT_INK, PAPER), (INK, ZERO_FILL)] {
            assert!(contrast(tuple(text), tuple(ground)) >= 4.5);
        }
        assert!(contrast(tuple(CELL_LINE), tuple(PAPER)) >= 3.0);
    }
}
