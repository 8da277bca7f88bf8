//! How finely a picture is rasterised.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// Dots per inch of a PNG, from 72 to 1200.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "i64", into = "u16")]
pub struct Dpi(u16);

/// A resolution that no PNG can have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("found '{0}', expected {forms}", forms = Dpi::FORMS)]
pub struct NoSuchDpi(String);

impl Dpi {
    /// For areas and lines with words, as in charts.
    pub const CHART: Self = Self(300);
    /// For many small digits and thin lines, as on boards.
    pub const DIAGRAM: Self = Self(600);

    /// How a resolution is written.
    pub const FORMS: &'static str = "a number of dots per inch from 72 to 1200";

    /// Returns the dots per inch.
    #[must_use]
    pub const fn get(self) -> u16 {
        self.0
    }

    /// Returns the dots per metre, as PNGs give them.
    #[must_use]
    pub fn per_metre(self) -> u32 {
        (f64::from(self.0) / 0.0254).round() as u32
    }

    /// Returns the nearest number of dots to a length in millimetres.
    #[must_use]
    pub fn dots(self, millimetres: f64) -> u32 {
        (f64::from(self.0) * millimetres / 25.4).round() as u32
    }
}

impl Default for Dpi {
    fn default() -> Self {
        Self::CHART
    }
}

impl fmt::Display for Dpi {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} dpi", self.0)
    }
}

impl TryFrom<i64> for Dpi {
    type Error = NoSuchDpi;

    fn try_from(dots: i64) -> Result<Self, NoSuchDpi> {
        let fitting = u16::try_from(dots).ok().filter(|dots| (72..=1200).contains(dots));
        fitting.map(Self).ok_or_else(|| NoSuchDpi(dots.to_string()))
    }
}

impl From<Dpi> for u16 {
    fn from(dpi: Dpi) -> Self {
        dpi.0
    }
}

impl FromStr for Dpi {
    type Err = NoSuchDpi;

    fn from_str(text: &str) -> Result<Self, NoSuchDpi> {
        let dots: Option<i64> = text.parse().ok();
        dots.and_then(|dots| dots.try_into().ok()).ok_or_else(|| NoSuchDpi(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_resolutions_within_the_limits_are_read() {
        for text in ["72", "300", "1200"] {
            assert_eq!(text.parse::<Dpi>().unwrap().get().to_string(), text);
        }
        for text in ["71", "1201", "70000", "-300", "300.5", "fine", ""] {
            let error = text.parse::<Dpi>().unwrap_err().to_string();
            assert_eq!(error, format!("found '{text}', expected {}", Dpi::FORMS));
        }
    }

    #[test]
    fn three_hundred_dots_per_inch_are_eleven_thousand_eight_hundred_and_eleven_per_metre() {
        // 1 inch = 25.4 mm exactly: common practice.
        assert_eq!((Dpi::CHART.per_metre(), Dpi::DIAGRAM.per_metre()), (11_811, 23_622));
        assert_eq!((Dpi::CHART.dots(25.4), Dpi::DIAGRAM.dots(170.0)), (300, 4016));
    }
}
