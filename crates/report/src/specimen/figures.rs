//! How positions are drawn, and the files of a view.

use tallyhouse_board::{Cell, Digit};
use tallyhouse_document::Plate;
use tallyhouse_figures::{
    Boards, Diagram, Figure, FigureError, HouseStrip, Picture, Sides, Staircase, Theme, Width,
};

use super::board::bare_board;
use super::{Captions, Specimen};
use crate::ReportError;
use crate::saving::{Print, Saver, Written};

/// The title above a position.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Title {
    /// The picture's own words.
    #[default]
    Own,
    /// Other words.
    Words(String),
    /// None is drawn; the picture's own words still name it for readers who can't see it.
    None,
}

/// The paragraph beside or below a position.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Caption {
    /// The picture's own words.
    #[default]
    Own,
    /// Other words.
    Words(String),
    /// Other words for some pictures, each by its name.
    Listed(Captions),
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
    /// The sides of splits that are marked.
    pub shown: Sides,
    /// The title.
    pub title: Title,
    /// The paragraph.
    pub caption: Caption,
    /// The candidates and digits that get a ring, in every picture in which they stand.
    pub rings: Vec<(Cell, Digit)>,
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
            shown: Sides::Both,
            title: Title::Own,
            caption: Caption::Own,
            rings: Vec::new(),
            numbers: true,
            key: true,
        }
    }
}

impl Drawing {
    fn title(&self, own: String) -> (String, bool) {
        match &self.title {
            Title::Own => (own, true),
            Title::Words(words) => (words.clone(), true),
            Title::None => (own, false),
        }
    }

    fn caption(&self, name: &str, own: String) -> String {
        match &self.caption {
            Caption::Own => own,
            Caption::Words(words) => words.clone(),
            Caption::Listed(captions) => captions.of(name).map_or(own, str::to_owned),
            Caption::None => String::new(),
        }
    }

    fn board(&self, name: &str, board: Diagram) -> Diagram {
        let asked = self.rings.iter().filter(|&&(cell, digit)| board.shows(cell, digit));
        let asked: Vec<_> = asked.copied().collect();
        let (rings, ring_words) = if asked.is_empty() {
            (board.rings, board.ring_words)
        } else {
            (asked, bare_board().ring_words)
        };
        let (title, titled) = self.title(board.title);
        Diagram {
            rings,
            ring_words,
            title,
            titled,
            caption: self.caption(name, board.caption),
            numbers: self.numbers && board.numbers,
            key: self.key && board.key,
            ..board
        }
    }

    /// Draws a view for a page that is read by day and by night.
    pub(super) fn plate(&self, view: &View) -> Result<Plate, FigureError> {
        let in_theme = |theme| Self { theme, ..self.clone() }.draw(view);
        let by_day = if self.theme == Theme::Dark { Theme::Light } else { self.theme };
        Ok(Plate { light: in_theme(by_day)?, dark: Some(in_theme(Theme::Dark)?) })
    }

    /// Draws a view.
    ///
    /// # Errors
    /// If it can't be drawn.
    pub fn draw(&self, view: &View) -> Result<Picture, FigureError> {
        let (theme, width, name) = (self.theme, self.width, &*view.name);
        match view.content.clone() {
            Content::Board(board) => self.board(name, *board).draw(theme, width),
            Content::Steps(steps) => {
                let (title, titled) = self.title(steps.title);
                let (boards, said) = if width.millimetres() < Self::THREE_BOARDS {
                    let two = steps.boards.into_iter().skip(1).zip(Self::TWO_LABELS);
                    let two = two.map(|((_, board), label)| (label.to_owned(), board)).collect();
                    (two, "Two boards: before the step with its marks, and after it.")
                } else {
                    (steps.boards, "Three boards: before the step, with its marks, and after it.")
                };
                let boards = boards.into_iter();
                Boards {
                    boards: boards.map(|(label, board)| (label, self.board("", board))).collect(),
                    title,
                    titled,
                    caption: self.caption(name, steps.caption),
                    key: self.key && steps.key,
                    alt: format!("{said} {}", steps.alt),
                }
                .draw(theme, width)
            }
            Content::House(strip) => {
                let (title, titled) = self.title(strip.title);
                let shows = |&&(cell, digit): &&(Cell, Digit)| {
                    strip.cells.iter().any(|(at, digits)| *at == cell && digits.contains(digit))
                };
                HouseStrip {
                    rings: self.rings.iter().filter(shows).copied().collect(),
                    title,
                    titled,
                    caption: self.caption(name, strip.caption),
                    key: self.key && strip.key,
                    ..*strip
                }
                .draw(theme, width)
            }
            Content::Stairs(stairs) => {
                let (title, titled) = self.title(stairs.title);
                let caption = self.caption(name, stairs.caption);
                let key = self.key && stairs.key;
                Staircase { title, titled, caption, key, ..*stairs }.draw(theme, width)
            }
        }
    }

    /// Below this width, three boards under each other would be longer than a page: the first shows the
    /// marks also, which take nothing away from it.
    const THREE_BOARDS: f64 = 170.0;

    /// What stands above two boards.
    const TWO_LABELS: [&str; 2] = ["Before, marked", "After"];

    /// Fails if a caption belongs to no view, or a ring to no digit of any.
    pub(super) fn check(&self, views: &[View]) -> Result<(), ReportError> {
        if let Caption::Listed(captions) = &self.caption {
            captions.check(views.iter().map(|view| &*view.name))?;
        }
        let boards = || {
            views.iter().filter_map(|view| match &view.content {
                Content::Board(board) => Some(board),
                _ => None,
            })
        };
        let stray =
            |&&(cell, digit): &&(Cell, Digit)| !boards().any(|board| board.shows(cell, digit));
        match self.rings.iter().find(stray) {
            Some(&(cell, digit)) if !views.is_empty() => {
                Err(ReportError::NoSuchMark { cell, digit })
            }
            _ => Ok(()),
        }
    }
}

/// What a view shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// The whole board.
    Board(Box<Diagram>),
    /// The whole board before a step, with its marks, and after it.
    Steps(Box<Boards>),
    /// The open cells of a house.
    House(Box<HouseStrip>),
    /// One side of a split, a step to a row.
    Stairs(Box<Staircase>),
}

impl Content {
    /// Returns what is drawn by default, with its data.
    #[must_use]
    pub fn figure(&self) -> &dyn Figure {
        match self {
            Self::Board(board) => &**board,
            Self::Steps(boards) => &**boards,
            Self::House(strip) => &**strip,
            Self::Stairs(stairs) => &**stairs,
        }
    }
}

/// A view of a position with the name of its files.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// The name, without an ending.
    pub name: String,
    /// What is shown, in a word.
    word: &'static str,
    /// What it shows.
    pub content: Content,
}

impl View {
    fn of(name: &str, word: &'static str, content: Content) -> Self {
        Self { name: format!("{name}-{word}"), word, content }
    }

    pub(super) fn board(name: &str, board: Diagram) -> Self {
        Self::of(name, "board", Content::Board(Box::new(board)))
    }

    pub(super) fn house(name: &str, strip: HouseStrip) -> Self {
        Self::of(name, "house", Content::House(Box::new(strip)))
    }

    pub(super) fn stairs(name: &str, stairs: Staircase) -> Self {
        Self::of(name, stairs.side.name(), Content::Stairs(Box::new(stairs)))
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
        let written = saver.picture(name, &drawing.draw(self)?)?;
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
        file.labelled(&format!("{} {variant}", self.word))
    }
}

impl Specimen {
    /// Returns the board and the strip of the house as `NAME-board` and `NAME-house`, with these sides
    /// marked.
    #[must_use]
    pub fn views(&self, name: &str, shown: Sides) -> [View; 2] {
        [View::board(name, self.marked(shown)), View::house(name, self.strip_of(shown))]
    }

    /// Returns the board before the step, marked and after it, these together, and the strip of the
    /// house, as `NAME-before`, `NAME-board`, `NAME-after`, `NAME-steps` and `NAME-house`.
    #[must_use]
    pub fn all_views(&self, name: &str, shown: Sides) -> [View; 5] {
        let [board, house] = self.views(name, shown);
        let boxed = |board| Content::Board(Box::new(board));
        [
            View::of(name, "before", boxed(self.before())),
            board,
            View::of(name, "after", boxed(self.after())),
            View::of(name, "steps", Content::Steps(Box::new(self.steps(shown)))),
            house,
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::specimen::tests::pair_and_triple;

    #[test]
    fn what_is_not_wanted_is_left_out() {
        let specimen = pair_and_triple();
        let [board, house] = specimen.views("own", Sides::Both);
        assert_eq!((&*board.name, &*house.name), ("own-board", "own-house"));
        let svg = |drawing: &Drawing| [&board, &house].map(|p| drawing.draw(p).unwrap().svg);
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
        for view in pair_and_triple().views("own", Sides::Both) {
            for (label, link) in view.save(saver, "in/", &drawing).unwrap() {
                assert!(folder.path().join(&link).is_file(), "{link}");
                assert!(link.starts_with(&format!("in/own-{}.", view.word)), "{link}");
                labels.push(label);
            }
        }
        let [board, house] = ["board", "house"]
            .map(|view| ["SVG", "PNG", "PDF", "CSV"].map(|kind| format!("{view} {kind}")));
        assert_eq!(labels, [board, house].concat());
        assert_eq!(std::fs::read_dir(folder.path().join("in")).unwrap().count(), 8);
    }
}
