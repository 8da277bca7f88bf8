use std::convert::Infallible;
use std::fmt;
use std::str::FromStr;

/// How puzzles stand in a source.
#[derive(Clone, Debug, Default, PartialEq, Eq, strum::EnumDiscriminants)]
#[strum_discriminants(
    name(FormatKind),
    doc = "The kinds of [`Format`], by name.",
    derive(
        strum::Display,
        strum::EnumMessage,
        strum::EnumString,
        strum::IntoStaticStr,
        strum::VariantArray
    ),
    strum(serialize_all = "kebab-case")
)]
pub enum Format {
    /// Each file is what its first lines look like.
    ///
    /// A table if the source begins like one, else lines and grids. It begins like a table if the
    /// first line is a header, no field of which begins with anything but a letter or `_`, and the
    /// record after it has as many fields and in just one column a puzzle of 81 characters; or if a
    /// column is named `puzzle`.
    #[default]
    Auto,
    /// One puzzle per line.
    Lines,
    /// Grids of nine lines, with or without a frame; between them also lines of 81 characters.
    Grids,
    /// A table with a header; commas, semicolons or tabs separate its columns.
    Table {
        /// The column of puzzles. If none is given: the column with a puzzle in the first record; of
        /// several the one named `puzzle`, or the only one that shows blanks.
        column: Option<Column>,
    },
}

impl Format {
    /// Returns the format of a kind. A column of puzzles makes it a table if nothing else was said;
    /// `None` if it has no columns.
    #[must_use]
    pub fn of(kind: FormatKind, column: Option<Column>) -> Option<Self> {
        match (kind, column) {
            (FormatKind::Auto, None) => Some(Self::Auto),
            (FormatKind::Auto | FormatKind::Table, column) => Some(Self::Table { column }),
            (FormatKind::Lines, None) => Some(Self::Lines),
            (FormatKind::Grids, None) => Some(Self::Grids),
            (FormatKind::Lines | FormatKind::Grids, Some(_)) => None,
        }
    }
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Column {
    /// By its name in the header, in upper or lower case.
    Name(String),
    /// By its number, counted from 1.
    Number(usize),
}

impl FromStr for Column {
    type Err = Infallible;

    /// Takes a whole number for a number and anything else for a name.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Ok(text.parse().map_or_else(|_| Self::Name(text.to_owned()), Self::Number))
    }
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Name(name) => write!(f, "named '{name}'"),
            Self::Number(number) => write!(f, "number {number}"),
        }
    }
}
