//! Colours: contrast, mixing, and the scale of shades.

use std::sync::LazyLock;

use plotters::style::RGBColor;
use plotters::style::colors::colormaps::{ColorMap, DerivedColorMap};

/// Red, green and blue of sRGB.
pub(crate) type Rgb = (u8, u8, u8);

/// Eight greys from dark to light: ColorBrewer, nine-class Greys without white (C. Brewer and
/// M. Harrower, The Pennsylvania State University, 2002).
static GREYS: LazyLock<DerivedColorMap<RGBColor>> = LazyLock::new(|| {
    let greys = [0x00, 0x25, 0x52, 0x73, 0x96, 0xbd, 0xd9, 0xf0];
    DerivedColorMap::new(&greys.map(|grey| RGBColor(grey, grey, grey)))
});

/// Returns the grey of a value between 0 (light) and 1 (black); values outside are clamped. Greys, as
/// every hue already means a side or a series.
pub(crate) fn grey(value: f64) -> Rgb {
    let RGBColor(red, green, blue) = GREYS.get_color(1.0 - value);
    (red, green, blue)
}

/// Returns the colour `part` of the way from one to another.
pub(crate) fn mix(from: Rgb, to: Rgb, part: f64) -> Rgb {
    let mix = |a: u8, b: u8| (f64::from(a) + part * (f64::from(b) - f64::from(a))).round() as u8;
    (mix(from.0, to.0), mix(from.1, to.1), mix(from.2, to.2))
}

/// Returns the relative luminance of a colour, 0 to 1 (WCAG 2.x).
pub(crate) fn relative_luminance((red, green, blue): Rgb) -> f64 {
    let linear = |channel: u8| {
        let c = f64::from(channel) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
}

/// Returns the contrast ratio of two colours, 1 to 21 (WCAG 2.x).
pub(crate) fn contrast(one: Rgb, other: Rgb) -> f64 {
    let (a, b) = (relative_luminance(one), relative_luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHITE: Rgb = (255, 255, 255);

    #[test]
    fn luminance_and_contrast_agree_with_published_values() {
        // WCAG 2.x formula (W3C). #767676 is the greyest text that passes 4.5:1 on white, #777777
        // fails; #800080 has luminance 0.06147707043243851.
        assert!((contrast((0, 0, 0), WHITE) - 21.0).abs() < 1e-9);
        assert!((contrast((0x76, 0x76, 0x76), WHITE) - 4.5422).abs() < 1e-4);
        assert!((contrast((0x77, 0x77, 0x77), WHITE) - 4.4781).abs() < 1e-4);
        assert!((contrast((0x94, 0x94, 0x94), WHITE) - 3.0335).abs() < 1e-4);
        assert!((relative_luminance((0x80, 0, 0x80)) - 0.061_477_070_432_438_51).abs() < 1e-12);
    }

    #[test]
    fn the_palette_of_okabe_and_ito_has_its_known_contrasts() {
        // Okabe & Ito, Color Universal Design, 2008, also Wong, Nature Methods 8, 2011, 441; the
        // ratios on white and black computed from the hexadecimal values with the formula of W3C.
        for (colour, on_white, on_black) in [
            ((0xE6, 0x9F, 0x00), 2.2523, 9.3239),
            ((0x56, 0xB4, 0xE9), 2.3075, 9.1008),
            ((0x00, 0x9E, 0x73), 3.4211, 6.1383),
            ((0xF0, 0xE4, 0x42), 1.3223, 15.8811),
            ((0x00, 0x72, 0xB2), 5.1854, 4.0498),
            ((0xD5, 0x5E, 0x00), 3.8672, 5.4303),
            ((0xCC, 0x79, 0xA7), 3.0610, 6.8604),
        ] {
            assert!((contrast(colour, WHITE) - on_white).abs() < 1e-4, "{colour:?}");
            assert!((contrast(colour, (0, 0, 0)) - on_black).abs() < 1e-4, "{colour:?}");
        }
    }

    #[test]
    fn the_scale_only_darkens() {
        let mut last = 1.0;
        for step in 0..=100 {
            let colour = grey(f64::from(step) / 100.0);
            assert!(relative_luminance(colour) < last, "{colour:?}");
            last = relative_luminance(colour);
        }
    }
}
