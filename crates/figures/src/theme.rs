//! Themes and sizes: every colour and every size of type is named here.

use crate::colour::{Rgb, contrast, grey};

tallyhouse_words::choice! {
    /// What a figure is shown on.
    #[derive(Default)]
    pub enum Theme {
        /// Colours on a white page.
        #[default]
        Light,
        /// Colours on a dark screen.
        Dark,
        /// Greys on white paper.
        Print,
    }
}

pub(crate) const UNITS_PER_MILLIMETRE: f64 = 4.0;

/// One point (1/72 inch) in SVG units.
pub(crate) const POINT: f64 = 25.4 / 72.0 * UNITS_PER_MILLIMETRE;

pub(crate) const TITLE_SIZE: f64 = 10.0 * POINT;
pub(crate) const LABEL_SIZE: f64 = 8.0 * POINT;
/// The least size of type in any figure.
pub(crate) const SMALL_SIZE: f64 = 7.0 * POINT;

/// The least contrast of a mark to what it stands on (WCAG 2.x, success criterion 1.4.11).
const MARK_CONTRAST: f64 = 3.0;

/// The shape of a point; each series has its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Marker {
    Circle,
    Square,
    Triangle,
    Diamond,
    InvertedTriangle,
}

/// How the marks of one series look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct SeriesLook {
    pub(crate) colour: Rgb,
    /// The outline of a mark: dark (on a dark page light) where the colour alone is too faint.
    pub(crate) outline: Rgb,
    pub(crate) marker: Marker,
    pub(crate) dash: Option<&'static str>,
}

impl SeriesLook {
    /// Tests if a line in the colour needs an edge.
    pub(crate) fn is_faint(&self) -> bool {
        self.outline != self.colour
    }
}

/// A side of a split.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The cells that hold as many digits as they are.
    Naked,
    /// The other open cells of the house.
    Hidden,
}

impl Side {
    /// Returns `naked` or `hidden`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Naked => "naked",
            Self::Hidden => "hidden",
        }
    }

    /// Returns the side across the split.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Naked => Self::Hidden,
            Self::Hidden => Self::Naked,
        }
    }
}

/// The colours of a theme.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Look {
    theme: Theme,
    pub(crate) page: Rgb,
    /// Text and frame lines.
    pub(crate) ink: Rgb,
    /// Secondary text.
    pub(crate) soft: Rgb,
    /// Lines that only guide the eye.
    pub(crate) rule: Rgb,
    /// The outline of every filled area.
    pub(crate) edge: Rgb,
    /// The fill of what was looked for and never seen.
    pub(crate) zero: Rgb,
    /// The fill of a naked side, drawn with [`Look::naked_opacity`].
    pub(crate) naked_fill: Rgb,
    pub(crate) naked_opacity: f64,
    pub(crate) naked_line: Rgb,
    pub(crate) hidden_line: Rgb,
    pub(crate) house_line: Rgb,
    /// A removed digit and the line through it.
    pub(crate) removed_ink: Rgb,
}

const BLACK: Rgb = (0, 0, 0);
const WHITE: Rgb = (255, 255, 255);
/// Letters on shades, in every theme.
pub(crate) const ON_SHADES: Rgb = BLACK;
const SKY_BLUE: Rgb = (0x56, 0xB4, 0xE9);
const ORANGE: Rgb = (0xE6, 0x9F, 0x00);
const BLUE: Rgb = (0x00, 0x72, 0xB2);
const GREEN: Rgb = (0x00, 0x9E, 0x73);
const PURPLE: Rgb = (0xCC, 0x79, 0xA7);
const VERMILLION: Rgb = (0xD5, 0x5E, 0x00);
const YELLOW: Rgb = (0xF0, 0xE4, 0x42);

/// The order in which series take their colours: Okabe & Ito, Color Universal Design, 2008. Blues and
/// orange are left to the two sides, so that no colour means two things in a study.
const SERIES: [Rgb; MOST_SERIES] = [BLACK, VERMILLION, GREEN, PURPLE, YELLOW];

/// The same on a dark page.
const SERIES_ON_DARK: [Rgb; MOST_SERIES] = [WHITE, VERMILLION, GREEN, PURPLE, YELLOW];

/// Greys evenly spaced in lightness, so that neighbours stay apart.
const SERIES_GREYS: [Rgb; MOST_SERIES] =
    [BLACK, WHITE, (0x77, 0x77, 0x77), (0xBB, 0xBB, 0xBB), (0x3B, 0x3B, 0x3B)];

/// How many series can be told apart.
pub const MOST_SERIES: usize = 5;

const MARKERS: [Marker; MOST_SERIES] =
    [Marker::Circle, Marker::Square, Marker::Triangle, Marker::Diamond, Marker::InvertedTriangle];

const DASHES: [Option<&str>; MOST_SERIES] =
    [None, Some("7 3"), Some("2 2.5"), Some("8 2.5 2 2.5"), Some("12 4")];

impl Look {
    pub(crate) fn of(theme: Theme) -> Self {
        match theme {
            Theme::Light => Self {
                theme,
                page: WHITE,
                ink: (0x22, 0x22, 0x22),
                soft: (0x59, 0x59, 0x59),
                rule: (0xDD, 0xDD, 0xDD),
                edge: (0x76, 0x76, 0x76),
                zero: (0xF2, 0xF2, 0xF2),
                naked_fill: SKY_BLUE,
                naked_opacity: 0.35,
                naked_line: BLUE,
                hidden_line: ORANGE,
                house_line: (0x44, 0x44, 0x44),
                removed_ink: (0x70, 0x70, 0x70),
            },
            Theme::Dark => Self {
                theme,
                page: (0x16, 0x19, 0x1D),
                ink: (0xF0, 0xF0, 0xF0),
                soft: (0xB8, 0xBD, 0xC4),
                rule: (0x3A, 0x3F, 0x46),
                edge: (0x8A, 0x90, 0x98),
                zero: (0x26, 0x2A, 0x30),
                naked_line: SKY_BLUE,
                house_line: (0xC8, 0xCC, 0xD2),
                removed_ink: (0x96, 0x9C, 0xA4),
                ..Self::of(Theme::Light)
            },
            Theme::Print => Self {
                theme,
                ink: BLACK,
                soft: (0x44, 0x44, 0x44),
                rule: (0xD9, 0xD9, 0xD9),
                edge: (0x52, 0x52, 0x52),
                zero: WHITE,
                naked_fill: BLACK,
                naked_opacity: 0.2,
                naked_line: BLACK,
                hidden_line: BLACK,
                ..Self::of(Theme::Light)
            },
        }
    }

    /// Returns the shade of a value from 0 to 1: more is darker, on a dark page lighter.
    pub(crate) fn shade(&self, value: f64) -> Rgb {
        match self.theme {
            // The lightest stays apart from what was never seen; all are light enough for black letters.
            Theme::Light | Theme::Print => grey(0.12 + 0.42 * value),
            Theme::Dark => grey(0.54 * (1.0 - value)),
        }
    }

    /// Returns how what belongs to a naked and to a hidden side looks.
    pub(crate) fn sides(&self) -> [SeriesLook; 2] {
        let look = |colour, marker, dash| SeriesLook {
            colour,
            outline: if self.reads(colour) { colour } else { self.ink },
            marker,
            dash,
        };
        [
            look(self.naked_line, Marker::Circle, None),
            look(self.hidden_line, Marker::Square, Some("6 3")),
        ]
    }

    /// Returns how a mark looks that says which side is worth looking for, or that none is.
    pub(crate) fn worth(&self, side: Option<Side>) -> SeriesLook {
        let [naked, hidden] = self.sides();
        match side {
            Some(Side::Naked) => naked,
            Some(Side::Hidden) => hidden,
            None => SeriesLook {
                colour: self.edge,
                outline: self.edge,
                marker: Marker::Diamond,
                dash: None,
            },
        }
    }

    /// Returns how the marks of a series look; past the last, they start again.
    pub(crate) fn series(&self, index: usize) -> SeriesLook {
        self.series_on(index, self.page)
    }

    /// Returns how the marks of a series look that also cross a ground of this colour.
    pub(crate) fn series_on(&self, index: usize, ground: Rgb) -> SeriesLook {
        let index = index % MOST_SERIES;
        let colour = match self.theme {
            Theme::Light => SERIES,
            Theme::Dark => SERIES_ON_DARK,
            Theme::Print => SERIES_GREYS,
        }[index];
        SeriesLook {
            colour,
            outline: if self.reads(colour) && contrast(colour, ground) >= MARK_CONTRAST {
                colour
            } else {
                self.ink
            },
            marker: MARKERS[index],
            dash: DASHES[index],
        }
    }

    /// Returns how one of several lines looks that carry their names: by its marks and dashes alone, so
    /// that no colour is taken from what has a meaning elsewhere.
    pub(crate) fn line(&self, index: usize, ground: Rgb) -> SeriesLook {
        let SeriesLook { colour, outline, .. } = self.series_on(0, ground);
        SeriesLook { colour, outline, ..self.series_on(index, ground) }
    }

    /// Tests if a mark of this colour stands out from the page.
    pub(crate) fn reads(&self, colour: Rgb) -> bool {
        contrast(colour, self.page) >= MARK_CONTRAST
    }

    /// Returns the line around an area of this fill: the page parts areas that stand out from it, ink
    /// holds the faint ones, also beside each other.
    pub(crate) fn edge_of(&self, fill: Rgb) -> Rgb {
        if self.reads(fill) { self.page } else { self.ink }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::mix;

    #[test]
    fn text_and_marks_keep_their_contrast_in_every_theme() {
        // Text 4.5:1 and graphics 3:1: WCAG 2.x, success criteria 1.4.3 and 1.4.11.
        for &theme in Theme::ALL {
            let look = Look::of(theme);
            let naked = mix(look.page, look.naked_fill, look.naked_opacity);
            for (text, ground) in [
                (look.ink, look.page),
                (look.soft, look.page),
                (look.ink, look.zero),
                (look.ink, naked),
                (look.soft, naked),
                (look.removed_ink, look.page),
            ] {
                assert!(contrast(text, ground) >= 4.5, "{theme:?}: {text:?} on {ground:?}");
            }
            for line in [look.edge, look.naked_line, look.house_line] {
                assert!(contrast(line, look.page) >= 3.0, "{theme:?}: {line:?}");
            }
            // A faint dashed line gets an edge of ink.
            assert!(look.reads(look.hidden_line) || look.reads(look.ink), "{theme:?}");
            for index in 0..MOST_SERIES {
                let series = look.series(index);
                assert!(contrast(series.outline, look.page) >= 3.0, "{theme:?}: {series:?}");
            }
            for step in 0..=20 {
                let shade = look.shade(f64::from(step) / 20.0);
                assert!(contrast(ON_SHADES, shade) >= 4.5, "{theme:?}: {shade:?}");
            }
        }
    }

    #[test]
    fn series_differ_by_shape_and_dash_and_not_by_colour_alone() {
        for &theme in Theme::ALL {
            let look = Look::of(theme);
            let all: Vec<_> = (0..MOST_SERIES).map(|index| look.series(index)).collect();
            for (index, one) in all.iter().enumerate() {
                for other in &all[..index] {
                    assert!(one.marker != other.marker && one.dash != other.dash);
                    assert_ne!(one.colour, other.colour);
                }
            }
        }
    }

    #[test]
    fn seven_points_are_two_and_a_half_millimetres() {
        // 1 point = 1/72 inch = 127/360 mm: common practice.
        assert!((SMALL_SIZE / UNITS_PER_MILLIMETRE - 7.0 * 127.0 / 360.0).abs() < 1e-12);
    }
}
