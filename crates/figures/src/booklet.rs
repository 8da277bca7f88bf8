//! Pictures, words and forms on sheets of paper.

use crate::canvas::{Anchor, Area, Paint, Type};
use crate::pdf::{Page, pdf};
use crate::sheet::Sheet;
use crate::theme::TITLE_SIZE;
use crate::{FigureError, Lettering, NoSuchWidth, Paper, Picture, Theme, Width};

/// The blank edge of a page, in millimetres.
const EDGE: f64 = 12.0;
/// The height at the foot of a page that its number takes.
const FOOT: f64 = 8.0;
/// The height of a row of a form, in units: room for a line by hand.
const FORM_ROW: f64 = 30.0;

/// Pages that are filled from top to bottom.
#[derive(Clone, Debug)]
pub struct Booklet {
    paper: Paper,
    theme: Theme,
    title: String,
    pages: Vec<Vec<Placed>>,
    /// Where the next row may start on the last page.
    y: f64,
}

/// A picture with its left and top edge.
#[derive(Clone, Debug)]
struct Placed {
    left: f64,
    top: f64,
    picture: Picture,
}

impl Booklet {
    /// Begins with no page; the title stands at the foot of each.
    #[must_use]
    pub fn new(paper: Paper, theme: Theme, title: &str) -> Self {
        Self { paper, theme, title: title.to_owned(), pages: Vec::new(), y: EDGE }
    }

    /// Returns the width of pictures of which so many stand beside each other.
    ///
    /// # Errors
    /// If no figure can be as narrow.
    pub fn width(&self, across: u8) -> Result<Width, NoSuchWidth> {
        let (width, _) = self.paper.millimetres();
        Width::of_millimetres(((width - 2.0 * EDGE) / f64::from(across)).floor())
    }

    /// Begins a page.
    pub fn page(&mut self) {
        self.pages.push(Vec::new());
        self.y = EDGE;
    }

    /// Returns the height that is left on the page, in millimetres.
    fn room(&self) -> f64 {
        let (_, height) = self.paper.millimetres();
        height - EDGE - FOOT - self.y
    }

    /// Puts pictures beside each other from edge to edge, on a new page where this one has no room for
    /// them; one alone stands at the left.
    pub fn row(&mut self, pictures: Vec<Picture>) {
        let height = pictures.iter().map(|picture| picture.height).fold(0.0, f64::max);
        let is_full = height > self.room() && self.y > EDGE;
        if is_full || self.pages.is_empty() {
            self.page();
        }
        let (width, _) = self.paper.millimetres();
        let taken: f64 = pictures.iter().map(|picture| picture.width).sum();
        let gap = (width - 2.0 * EDGE - taken) / (pictures.len().max(2) - 1) as f64;
        let (mut left, top) = (EDGE, self.y);
        let Some(page) = self.pages.last_mut() else { return };
        for picture in pictures {
            let width = picture.width;
            page.push(Placed { left, top, picture });
            left += width + gap;
        }
        self.y += height;
    }

    /// Puts a heading, which may be empty, and paragraphs over the whole width.
    ///
    /// # Errors
    /// If the paper is too narrow.
    pub fn words(&mut self, heading: &str, paragraphs: &[String]) -> Result<(), NoSuchWidth> {
        let mut sheet = Sheet::new(self.theme, self.width(1)?);
        let large = Type::new(TITLE_SIZE * 1.4, sheet.look.ink).bold();
        sheet.paragraph(heading, large);
        for paragraph in paragraphs {
            sheet.y += 4.0;
            sheet.paragraph(paragraph, sheet.label());
        }
        self.row(vec![sheet.finish(heading, "")]);
        Ok(())
    }

    /// Puts a form over the whole width: names of columns with their shares of it, and rows in which
    /// something may stand already. Each page that it takes begins with the names.
    ///
    /// # Errors
    /// If the paper is too narrow.
    pub fn form<const N: usize>(
        &mut self,
        columns: [(&str, f64); N],
        rows: &[[String; N]],
    ) -> Result<(), NoSuchWidth> {
        let width = self.width(1)?;
        let names = columns.map(|(name, _)| name.to_owned());
        let mut rest = rows;
        while !rest.is_empty() {
            let mut sheet = Sheet::new(self.theme, width);
            let room = self.room() * sheet.width / width.millimetres() - 2.0 * sheet.y;
            let fit = (room / FORM_ROW) as usize;
            if fit < 2 {
                self.page();
                continue;
            }
            let (now, later) = rest.split_at(rest.len().min(fit - 1));
            form_row(&mut sheet, columns, &names, true);
            now.iter().for_each(|row| form_row(&mut sheet, columns, row, false));
            self.row(vec![sheet.finish(&names.join(", "), "")]);
            rest = later;
        }
        Ok(())
    }

    /// Returns the pages as a PDF, each with the title and its number at the foot.
    ///
    /// # Errors
    /// If a picture can't be drawn on its page.
    pub fn pdf(&self, lettering: Lettering) -> Result<Vec<u8>, FigureError> {
        let (width, height) = self.paper.millimetres();
        let foot = |number| {
            let mut sheet = Sheet::new(self.theme, self.width(1).unwrap_or_default());
            let words = format!("{} · page {number} of {}", self.title, self.pages.len());
            sheet.y = 0.0;
            sheet.paragraph(&words, sheet.small_soft());
            sheet.finish(&words, "")
        };
        let feet: Vec<Picture> = (1..=self.pages.len()).map(foot).collect();
        let page = |(placed, foot)| {
            let placed: &Vec<Placed> = placed;
            let mut pictures: Vec<(f64, f64, &Picture)> =
                placed.iter().map(|one| (one.left, one.top, &one.picture)).collect();
            pictures.push((EDGE, height - EDGE - FOOT / 2.0, foot));
            Page { width, height, pictures }
        };
        pdf(&self.title, &self.pages.iter().zip(&feet).map(page).collect::<Vec<_>>(), lettering)
    }
}

fn form_row<const N: usize>(
    sheet: &mut Sheet,
    columns: [(&str, f64); N],
    fields: &[String; N],
    is_head: bool,
) {
    let all: f64 = columns.iter().map(|(_, share)| share).sum();
    let edge = Paint::line(sheet.look.edge, 0.7);
    let label = sheet.label().anchored(Anchor::Left);
    let how = if is_head { label.bold() } else { label };
    let mut left = sheet.left;
    for ((_, share), words) in columns.iter().zip(fields) {
        let right = left + sheet.inner_width() * share / all;
        let area = Area::new(left, sheet.y, right, sheet.y + FORM_ROW);
        sheet.canvas().rectangle("cell", area, edge);
        let base = how.base_line(area.centre().1);
        sheet.canvas().text(words, left + 6.0, base, how);
        left = right;
    }
    sheet.y += FORM_ROW;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Figure;
    use crate::diagram::tests::diagram;

    /// Returns left edge, top edge, right edge and bottom edge of all that stands on each page.
    fn places(booklet: &Booklet) -> Vec<Vec<[f64; 4]>> {
        let place = |one: &Placed| {
            let Placed { left, top, picture } = one;
            [*left, *top, left + picture.width, top + picture.height]
        };
        booklet.pages.iter().map(|page| page.iter().map(place).collect()).collect()
    }

    fn booklet(paper: Paper) -> Booklet {
        let mut booklet = Booklet::new(paper, Theme::Light, "Own");
        booklet.page();
        booklet.words("Boards", &["Some words.".to_owned()]).unwrap();
        let board = diagram().draw(Theme::Light, booklet.width(2).unwrap()).unwrap();
        for _ in 0..3 {
            booklet.row(vec![board.clone(), board.clone()]);
        }
        booklet.page();
        booklet.words("Times", &[]).unwrap();
        let rows: Vec<[String; 2]> = (1..=70).map(|row| [row.to_string(), String::new()]).collect();
        booklet.form([("item", 1.0), ("seconds", 2.0)], &rows).unwrap();
        booklet
    }

    #[test]
    fn all_stands_on_the_pages_and_nothing_on_anything_else() {
        for &paper in Paper::ALL {
            let booklet = booklet(paper);
            let (width, height) = paper.millimetres();
            for page in places(&booklet) {
                assert!(!page.is_empty());
                for (index, one) in page.iter().enumerate() {
                    let [left, top, right, bottom] = *one;
                    assert!(left >= EDGE && top >= EDGE, "{one:?}");
                    assert!(right <= width - EDGE && bottom <= height - EDGE - FOOT, "{one:?}");
                    let meets = |other: &&[f64; 4]| {
                        left < other[2] && other[0] < right && top < other[3] && other[1] < bottom
                    };
                    assert_eq!(page[..index].iter().find(meets), None, "{one:?}");
                }
            }
        }
    }

    #[test]
    fn a_form_goes_on_where_a_page_ends() {
        let booklet = booklet(Paper::A4);
        let form =
            booklet.pages.iter().flatten().filter(|one| one.picture.title == "item, seconds");
        let rows = form.map(|one| crate::inspect::count_class(&one.picture.svg, "cell") / 2 - 1);
        let rows: Vec<usize> = rows.collect();
        assert!(rows.len() > 1 && rows.iter().sum::<usize>() == 70, "{rows:?}");
    }

    #[test]
    fn the_same_pages_give_the_same_bytes() {
        let booklet = booklet(Paper::Letter);
        let pdf = booklet.pdf(Lettering::Text).unwrap();
        assert!(pdf.starts_with(b"%PDF-"));
        assert_eq!(booklet.pdf(Lettering::Text).unwrap(), pdf);
    }
}
