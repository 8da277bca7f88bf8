//! How positions are drawn, and the files of a view.

use tallyhouse_figures::{Diagram, Figure, FigureError, HouseStrip, Picture, Theme, Width};

use super::Specimen;
use crate::ReportError;
use crate::saving::{Print, Saver, Written};

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
    /// How they become files.
    pub print: Print,
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
            print: Print::default(),
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

    /// Draws a view.
    ///
    /// # Errors
    /// If it can't be drawn.
    pub fn draw(&self, content: &Content) -> Result<Picture, FigureError> {
        let (theme, width) = (self.theme, self.width);
        match content.clone() {
            Content::Board(board) => Diagram {
                numbers: self.numbers && board.numbers,
                key: self.key && board.key,
                caption: self.caption(board.caption),
                ..*board
            }
            .draw(theme, width),
            Content::House(strip) => HouseStrip {
                key: self.key && strip.key,
                caption: self.caption(strip.caption),
                ..*strip
            }
            .draw(theme, width),
        }
    }
}

/// What a view shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// The whole board.
    Board(Box<Diagram>),
    /// The open cells of a house.
    House(Box<HouseStrip>),
}

impl Content {
    /// Returns what is drawn by default, with its data.
    #[must_use]
    pub fn figure(&self) -> &dyn Figure {
        match self {
            Self::Board(board) => &**board,
            Self::House(strip) => &**strip,
        }
    }

    /// Says what is shown, in a word.
    const fn word(&self) -> &'static str {
        match self {
            Self::Board(_) => "board",
            Self::House(_) => "house",
        }
    }
}

/// A view of a position with the name of its files.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// The name, without an ending.
    pub name: String,
    /// What it shows.
    pub content: Content,
}

impl View {
    fn of(name: &str, content: Content) -> Self {
        Self { name: format!("{name}-{}", content.word()), content }
    }

    pub(super) fn board(name: &str, board: Diagram) -> Self {
        Self::of(name, Content::Board(Box::new(board)))
    }

    pub(super) fn house(name: &str, strip: HouseStrip) -> Self {
        Self::of(name, Content::House(Box::new(strip)))
    }

    /// Writes the view as SVG, PNG and PDF and returns links to them; `name` is the path of its files
    /// without an ending, and `variant` tells it from others of the same view.
    ///
    /// # Errors
    /// If it can't be drawn or a file can't be written.
    pub fn save_picture(
        &self,
        saver: Saver<'_>,
        name: &str,
        drawing: &Drawing,
        variant: &str,
    ) -> Result<Vec<(String, String)>, ReportError> {
        let saver = saver.printing(drawing.print);
        let written = saver.picture(name, &drawing.draw(&self.content)?)?;
        Ok(written.iter().map(|file| self.link(file, variant)).collect())
    }

    /// Writes the data of the view as CSV and returns a link to them; `name` as of
    /// [`View::save_picture`].
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn save_data(&self, saver: Saver<'_>, name: &str) -> Result<(String, String), ReportError> {
        Ok(self.link(&saver.data(name, self.content.figure())?, ""))
    }

    /// Writes the view as SVG, PNG, PDF and CSV into a folder, `under` being the path of that folder, and
    /// returns links to them.
    ///
    /// # Errors
    /// If it can't be drawn or a file can't be written.
    pub fn save(
        &self,
        saver: Saver<'_>,
        under: &str,
        drawing: &Drawing,
    ) -> Result<Vec<(String, String)>, ReportError> {
        let name = format!("{under}{}", self.name);
        let mut links = self.save_picture(saver, &name, drawing, "")?;
        links.push(self.save_data(saver, &name)?);
        Ok(links)
    }

    fn link(&self, file: &Written, variant: &str) -> (String, String) {
        file.labelled(&format!("{} {variant}", self.content.word()))
    }
}

impl Specimen {
    /// Returns the board and the strip of the house as `NAME-board` and `NAME-house`.
    #[must_use]
    pub fn views(&self, name: &str) -> [View; 2] {
        [View::board(name, self.diagram()), View::house(name, self.strip())]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::specimen::tests::pair_and_triple;

    #[test]
    fn what_is_not_wanted_is_left_out() {
        let specimen = pair_and_triple();
        let [board, house] = specimen.views("own");
        assert_eq!((&*board.name, &*house.name), ("own-board", "own-house"));
        let svg =
            |drawing: &Drawing| [&board, &house].map(|p| drawing.draw(&p.content).unwrap().svg);
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
    fn a_view_is_four_files_and_all_are_linked() {
        let folder = tempfile::tempdir().unwrap();
        let saver = Saver::below(folder.path());
        let drawing = Drawing::default();
        let mut labels = Vec::new();
        for view in pair_and_triple().views("own") {
            for (label, link) in view.save(saver, "in/", &drawing).unwrap() {
                assert!(folder.path().join(&link).is_file(), "{link}");
                assert!(link.starts_with(&format!("in/own-{}.", view.content.word())), "{link}");
                labels.push(label);
            }
        }
        let [board, house] = ["board", "house"]
            .map(|view| ["SVG", "PNG", "PDF", "CSV"].map(|kind| format!("{view} {kind}")));
        assert_eq!(labels, [board, house].concat());
        assert_eq!(std::fs::read_dir(folder.path().join("in")).unwrap().count(), 8);
    }
}
