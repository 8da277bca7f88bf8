//! How positions are drawn, and the files of a picture.

use std::io::Write;
use std::path::Path;

use tallyhouse_census::write_file;
use tallyhouse_figures::{Diagram, Figure, HouseStrip, Theme, Width, rasterise};

use super::{Specimen, SpecimenError};

/// Pixels per unit of 0.25 mm in PNGs: 305 dots per inch.
const PNG_SCALE: f32 = 3.0;

/// The paragraph beside or below a position.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Caption {
    /// The picture's own words.
    #[default]
    Own,
    /// Other words.
    Words(String),
    /// No paragraph.
    None,
}

/// How positions are drawn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawing {
    /// The colours.
    pub theme: Theme,
    /// The width.
    pub width: Width,
    /// The paragraph.
    pub caption: Caption,
    /// If the rows and columns of boards are numbered.
    pub numbers: bool,
    /// If the marks are explained.
    pub key: bool,
}

impl Default for Drawing {
    /// Light, as wide as a column, with everything.
    fn default() -> Self {
        Self {
            theme: Theme::Light,
            width: Width::Column,
            caption: Caption::Own,
            numbers: true,
            key: true,
        }
    }
}

impl Drawing {
    fn caption(&self, own: String) -> String {
        match &self.caption {
            Caption::Own => own,
            Caption::Words(words) => words.clone(),
            Caption::None => String::new(),
        }
    }

    /// Returns the SVG of a picture.
    ///
    /// # Errors
    /// If it can't be drawn.
    pub fn svg(&self, content: &Content) -> Result<String, SpecimenError> {
        let (theme, width) = (self.theme, self.width);
        Ok(match content.clone() {
            Content::Board(board) => Diagram {
                numbers: self.numbers && board.numbers,
                key: self.key && board.key,
                caption: self.caption(board.caption),
                ..*board
            }
            .svg(theme, width)?,
            Content::House(strip) => HouseStrip {
                key: self.key && strip.key,
                caption: self.caption(strip.caption),
                ..*strip
            }
            .svg(theme, width)?,
        })
    }
}

/// What a picture shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// The whole board.
    Board(Box<Diagram>),
    /// The open cells of a house.
    House(Box<HouseStrip>),
}

/// A picture with the name of its files.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// The name, without an ending.
    pub name: String,
    /// What it shows.
    pub content: Content,
}

impl Picture {
    pub(super) fn board(name: String, board: Diagram) -> Self {
        Self { name: name + "-board", content: Content::Board(Box::new(board)) }
    }

    pub(super) fn house(name: String, strip: HouseStrip) -> Self {
        Self { name: name + "-house", content: Content::House(Box::new(strip)) }
    }

    /// Writes the picture as SVG, PNG and CSV, each aside and then renamed.
    ///
    /// # Errors
    /// If it can't be drawn or a file can't be written.
    pub fn save(&self, folder: &Path, drawing: &Drawing) -> Result<(), SpecimenError> {
        let svg = drawing.svg(&self.content)?;
        let png = rasterise(&svg, PNG_SCALE)?;
        let csv = match &self.content {
            Content::Board(board) => board.csv()?,
            Content::House(strip) => strip.csv()?,
        };
        for (ending, bytes) in [("svg", svg.as_bytes()), ("png", &png), ("csv", csv.as_bytes())] {
            let path = folder.join(format!("{}.{ending}", self.name));
            write_file(&path, |writer| writer.write_all(bytes))?;
        }
        Ok(())
    }
}

impl Specimen {
    /// Returns the board and the strip of the house as `NAME-board` and `NAME-house`.
    #[must_use]
    pub fn pictures(&self, name: &str) -> [Picture; 2] {
        [
            Picture::board(name.to_owned(), self.diagram()),
            Picture::house(name.to_owned(), self.strip()),
        ]
    }

    /// Writes the pictures as they are by default.
    ///
    /// # Errors
    /// If a figure can't be made or a file can't be written.
    pub fn write_figures(&self, folder: &Path, name: &str) -> Result<(), SpecimenError> {
        let drawing = Drawing::default();
        self.pictures(name).iter().try_for_each(|picture| picture.save(folder, &drawing))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::specimen::tests::pair_and_triple;

    #[test]
    fn what_is_not_wanted_is_left_out() {
        let specimen = pair_and_triple();
        let [board, house] = specimen.pictures("own");
        assert_eq!((&*board.name, &*house.name), ("own-board", "own-house"));
        let svg = |drawing: &Drawing| [&board, &house].map(|p| drawing.svg(&p.content).unwrap());
        let plain = svg(&Drawing::default());
        // The grid's numbers are the only centred soft text above the board.
        let texts = |svg: &str| svg.matches("<text").count();
        let no_key = svg(&Drawing { key: false, ..Drawing::default() });
        let no_numbers = svg(&Drawing { numbers: false, ..Drawing::default() });
        assert_eq!(texts(&no_numbers[0]), texts(&plain[0]) - 18);
        assert_eq!(no_numbers[1], plain[1], "a strip names its cells");
        for (with, without) in plain.iter().zip(&no_key) {
            assert!(with.contains("removed candidate") && !without.contains("removed candidate"));
        }
        let words = Caption::Words("Our own <words> here".to_owned());
        let own = svg(&Drawing { caption: words, ..Drawing::default() });
        let none = svg(&Drawing { caption: Caption::None, ..Drawing::default() });
        for ((plain, own), none) in plain.iter().zip(&own).zip(&none) {
            assert!(own.contains("Our own &lt;words&gt; here"), "{own}");
            assert!(texts(none) < texts(own) && texts(none) < texts(plain));
        }
        for &theme in Theme::ALL {
            for &width in Width::ALL {
                let drawn = svg(&Drawing { theme, width, ..Drawing::default() });
                let same = (theme, width) == (Theme::Light, Width::Column);
                assert_eq!(drawn == plain, same);
            }
        }
    }

    #[test]
    fn a_picture_is_three_files() {
        let folder = tempfile::tempdir().unwrap();
        pair_and_triple().write_figures(folder.path(), "own").unwrap();
        for kind in ["board", "house"] {
            for ending in ["svg", "png", "csv"] {
                assert!(folder.path().join(format!("own-{kind}.{ending}")).is_file());
            }
        }
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 6);
    }
}
