//! A worksheet on paper: the items, a form for times, and the key on pages of its own.

use tallyhouse_figures::{Booklet, Diagram, Figure, HouseStrip, Paper, Picture, Theme, Width};
use tallyhouse_words::list;

use super::{Item, ItemKind, Worksheet};
use crate::ReportError;
use crate::specimen::{digit_words, givens};

/// How many items stand beside each other.
const ACROSS: u8 = 2;
/// The width of boards in millimetres: cells of 9 mm have room for pencil marks by hand, and two rows of
/// boards fit on a page.
const BOARD: f64 = 90.0;

/// The columns of the form, with their shares of the width.
const FORM: [(&str, f64); 5] =
    [("person", 1.2), ("item", 0.8), ("look", 1.5), ("seconds", 1.5), ("found", 1.5)];

impl Worksheet {
    pub(super) fn booklet(&self, paper: Paper) -> Result<Booklet, ReportError> {
        let title = self.title();
        let mut booklet = Booklet::new(paper, Theme::Light, &title);
        let width = match self.settings.kind {
            ItemKind::Board => Width::of_millimetres(BOARD)?,
            ItemKind::House => booklet.width(ACROSS)?,
        };
        booklet.page();
        booklet.words(&title, &self.intro())?;
        add(&mut booklet, &self.items, |item| item.exercise(width))?;
        booklet.page();
        booklet.words("Times", &self.timing())?;
        booklet.form(FORM, &self.form_rows())?;
        booklet.page();
        booklet.words("Key", &[Self::legend()])?;
        add(&mut booklet, &self.items, |item| item.solution(width))?;
        Ok(booklet)
    }
}

/// Adds a picture of each item, as many in a row as there is room for.
fn add(
    booklet: &mut Booklet,
    items: &[Item],
    picture: impl Fn(&Item) -> Result<Picture, ReportError>,
) -> Result<(), ReportError> {
    for items in items.chunks(ACROSS.into()) {
        booklet.row(items.iter().map(&picture).collect::<Result<_, _>>()?);
    }
    Ok(())
}

impl Item {
    /// Draws what the reader gets.
    fn exercise(&self, width: Width) -> Result<Picture, ReportError> {
        let (title, caption) = (self.heading(), self.question());
        let picture = match self.kind {
            ItemKind::Board => {
                let board = Diagram { title, caption, key: false, ..givens(&self.specimen.puzzle) };
                board.draw(Theme::Light, width)?
            }
            ItemKind::House => {
                let cells = self.specimen.open_cells();
                let marks = cells
                    .iter()
                    .map(|(cell, digits)| format!("{cell} with {}", list(digit_words(*digits))));
                let marks: Vec<String> = marks.collect();
                let strip = HouseStrip {
                    split: None,
                    alt: format!(
                        "The open cells of {}: {}.",
                        self.specimen.house(),
                        marks.join("; ")
                    ),
                    title,
                    caption,
                    key: false,
                    ..self.specimen.strip()
                };
                strip.draw(Theme::Light, width)?
            }
        };
        Ok(picture)
    }

    /// Draws what is found.
    fn solution(&self, width: Width) -> Result<Picture, ReportError> {
        let title = format!("Item {}: {}", self.number, self.place());
        let caption = self.key();
        let picture = match self.kind {
            ItemKind::Board => Diagram { title, caption, key: false, ..self.specimen.diagram() }
                .draw(Theme::Light, width)?,
            ItemKind::House => HouseStrip { title, caption, key: false, ..self.specimen.strip() }
                .draw(Theme::Light, width)?,
        };
        Ok(picture)
    }
}
