//! How wide a figure is on the page.

use std::fmt;
use std::str::FromStr;

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::theme::UNITS_PER_MILLIMETRE;

/// How wide a figure is on the page. One SVG unit is 0.25 mm; type is as large in every width, and a
/// wider figure has more room.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Width {
    /// One column of a journal: 85 mm.
    #[default]
    Column,
    /// The whole page: 170 mm.
    Page,
    /// Another width.
    Other(Tenths),
}

/// A width that has no name, in tenths of a millimetre.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tenths(u16);

/// A width that no figure can have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("found '{0}', expected {forms}", forms = Width::FORMS)]
pub struct NoSuchWidth(String);

impl Width {
    /// The widths that have names.
    pub const ALL: &'static [Self] = &[Self::Column, Self::Page];

    /// The least width in millimetres: below it, nine columns of pencil marks have no room.
    const LEAST: f64 = 85.0;
    /// The greatest width in millimetres: the long side of A3.
    const MOST: f64 = 420.0;

    /// How a width is written.
    pub const FORMS: &'static str =
        "column (85 mm), page (170 mm), or a number of millimetres from 85 to 420";

    /// Returns the width of so many millimetres, to a tenth.
    ///
    /// # Errors
    /// If no figure can be as wide.
    pub fn of_millimetres(millimetres: f64) -> Result<Self, NoSuchWidth> {
        if !(Self::LEAST..=Self::MOST).contains(&millimetres) {
            return Err(NoSuchWidth(millimetres.to_string()));
        }
        let width = Self::Other(Tenths((millimetres * 10.0).round() as u16));
        let named = Self::ALL.iter().find(|named| named.millimetres() == width.millimetres());
        Ok(named.copied().unwrap_or(width))
    }

    /// Returns the width on the page in millimetres.
    #[must_use]
    pub const fn millimetres(self) -> f64 {
        match self {
            Self::Column => 85.0,
            Self::Page => 170.0,
            Self::Other(Tenths(tenths)) => tenths as f64 / 10.0,
        }
    }

    pub(crate) const fn units(self) -> f64 {
        self.millimetres() * UNITS_PER_MILLIMETRE
    }

    /// Returns the height that a chart's area has in a figure of this width.
    pub(crate) fn plot_height(self) -> f64 {
        190.0 + 110.0 * Self::beyond_column(self.units())
    }

    /// Returns how far so many units reach from a column to a page: from 0 to 1, and 1 beyond.
    pub(crate) fn beyond_column(units: f64) -> f64 {
        let [column, page] = [Self::Column, Self::Page].map(Self::units);
        ((units - column) / (page - column)).clamp(0.0, 1.0)
    }
}

impl fmt::Display for Width {
    /// Writes the name, or the millimetres as in `120mm`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Column => f.write_str("column"),
            Self::Page => f.write_str("page"),
            Self::Other(_) => write!(f, "{}mm", self.millimetres()),
        }
    }
}

impl FromStr for Width {
    type Err = NoSuchWidth;

    /// Reads a name or a number of millimetres, as in `120`, `120mm` or `121.5 mm`.
    fn from_str(text: &str) -> Result<Self, NoSuchWidth> {
        let text = text.trim();
        if let Some(named) = Self::ALL.iter().find(|named| named.to_string() == text) {
            return Ok(*named);
        }
        let number = text.strip_suffix("mm").unwrap_or(text).trim_end();
        let millimetres = number.parse().map_err(|_| NoSuchWidth(text.to_owned()))?;
        Self::of_millimetres(millimetres)
    }
}

impl Serialize for Width {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Width {
    /// Reads what [`Width::from_str`] reads, and plain numbers of millimetres.
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Written {
            Millimetres(f64),
            Words(String),
        }
        let width = match Written::deserialize(from)? {
            Written::Millimetres(number) => Self::of_millimetres(number),
            Written::Words(words) => words.parse(),
        };
        width.map_err(D::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_read_as_they_are_written() {
        for (text, millimetres, written) in [
            ("column", 85.0, "column"),
            ("page", 170.0, "page"),
            ("85", 85.0, "column"),
            ("170.0mm", 170.0, "page"),
            ("120", 120.0, "120mm"),
            (" 121.46 mm", 121.5, "121.5mm"),
            ("420", 420.0, "420mm"),
        ] {
            let width: Width = text.parse().unwrap();
            assert_eq!((width.millimetres(), &*width.to_string()), (millimetres, written));
            assert_eq!(written.parse(), Ok(width));
        }
        for text in ["84.9", "421", "NaN", "inf", "-120", "", "mm", "broad", "12cm"] {
            let error = text.parse::<Width>().unwrap_err().to_string();
            assert!(error.starts_with(&format!("found '{text}', expected column")), "{error}");
        }
        for limit in [Width::LEAST, Width::MOST] {
            assert!(Width::FORMS.contains(&limit.to_string()));
        }
    }

    #[test]
    fn charts_grow_with_their_width_up_to_a_page() {
        let heights = ["85", "127.5", "170", "300"].map(|w| w.parse::<Width>().unwrap());
        assert_eq!(heights.map(Width::plot_height), [190.0, 245.0, 300.0, 300.0]);
    }
}
