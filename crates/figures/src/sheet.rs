//! A sheet that is filled from top to bottom and is as high as what stands on it.

use std::cell::{RefCell, RefMut};
use std::rc::Rc;

use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters::element::{Drawable, PointCollection};
use plotters_backend::BackendCoord;

use crate::backend::pixel;
use crate::canvas::{Anchor, Area, Canvas, Paint, Type};
use crate::cell_marks::{draw_side, ring, strike};
use crate::colour::Rgb;
use crate::elements::{Mark, draw_on, series_line};
use crate::theme::{
    LABEL_SIZE, Look, SMALL_SIZE, SeriesLook, Side, TITLE_SIZE, UNITS_PER_MILLIMETRE,
};
use crate::{Dpi, FigureError, Heading, Picture, Theme, Width};

pub(crate) const MARGIN: f64 = 10.0;

pub(crate) struct Sheet {
    pub(crate) look: Look,
    canvas: Rc<RefCell<Canvas>>,
    pub(crate) width: f64,
    /// Where paragraphs and the key begin and end.
    pub(crate) left: f64,
    pub(crate) right: f64,
    /// Where the next thing may start.
    pub(crate) y: f64,
}

/// What stands before the words of an entry of the key.
pub(crate) enum Sample {
    /// The mark of a series.
    Mark(SeriesLook),
    /// The line of a series with its mark.
    LineAndMark(SeriesLook),
    /// The mark of a series, its inside in another colour.
    HollowMark(SeriesLook, Rgb),
    /// A filled area.
    Patch(Paint),
    /// A line without marks.
    Line(Paint),
    /// A naked or a hidden side.
    Side(Side),
    /// A removed candidate.
    Removed,
    /// A digit with a ring around it.
    Ring,
    /// A digit in bold.
    BoldDigit,
    /// A digit in lighter type.
    LightDigit,
}

impl Sheet {
    pub(crate) fn new(theme: Theme, width: Width) -> Self {
        Self {
            look: Look::of(theme),
            canvas: Rc::default(),
            width: width.units(),
            left: MARGIN,
            right: width.units() - MARGIN,
            y: MARGIN,
        }
    }

    /// Returns the canvas for paragraphs and labels of several lines: the texts of plotters have no
    /// base line and no halo.
    pub(crate) fn canvas(&self) -> RefMut<'_, Canvas> {
        self.canvas.borrow_mut()
    }

    /// Returns the sheet as a drawing area of plotters.
    pub(crate) fn drawing_area(&self) -> DrawingArea<Canvas, Shift> {
        DrawingArea::from(&self.canvas)
    }

    /// Draws elements at places of the sheet.
    pub(crate) fn draw<E>(&self, elements: impl IntoIterator<Item = E>) -> Result<(), FigureError>
    where
        for<'b> &'b E: PointCollection<'b, BackendCoord>,
        E: Drawable<Canvas>,
    {
        draw_on(&self.drawing_area(), elements)
    }

    pub(crate) fn label(&self) -> Type {
        Type::new(LABEL_SIZE, self.look.ink)
    }

    pub(crate) fn small(&self) -> Type {
        Type::new(SMALL_SIZE, self.look.ink)
    }

    pub(crate) fn small_soft(&self) -> Type {
        Type::new(SMALL_SIZE, self.look.soft)
    }

    /// Returns the height up to which a figure fits its place: 120 mm in a column, 240 mm on a page.
    pub(crate) fn most_height(&self) -> f64 {
        (120.0 + 120.0 * Width::beyond_column(self.width)) * UNITS_PER_MILLIMETRE
    }

    pub(crate) fn inner_width(&self) -> f64 {
        self.right - self.left
    }

    /// Sets a paragraph over the whole width and moves on below it.
    pub(crate) fn paragraph(&mut self, words: &str, how: Type) {
        let lines = how.broken(words, self.inner_width());
        self.y = self.block(&lines, self.left, self.y, how);
    }

    /// Sets lines of text below `top` and returns where they end.
    pub(crate) fn block(&mut self, lines: &[String], x: f64, top: f64, how: Type) -> f64 {
        let mut y = top;
        for line in lines {
            y += how.line_height();
            self.canvas().text(line, x, y - how.size * 0.3, how);
        }
        y
    }

    /// Sets lines of text around a middle height.
    pub(crate) fn centred_block(&mut self, lines: &[String], x: f64, middle: f64, how: Type) {
        let first = middle - (lines.len() as f64 - 1.0) / 2.0 * how.line_height();
        for (index, line) in lines.iter().enumerate() {
            let at = first + index as f64 * how.line_height();
            self.canvas().text(line, x, how.base_line(at), how);
        }
    }

    /// Begins a sheet with the title and subtitle of a chart.
    pub(crate) fn headed(theme: Theme, width: Width, heading: &Heading) -> Self {
        let mut sheet = Self::new(theme, width);
        sheet.paragraph(&heading.title, Type::new(TITLE_SIZE, sheet.look.ink).bold());
        sheet.y += 2.0;
        sheet.paragraph(&heading.subtitle, Type::new(LABEL_SIZE, sheet.look.soft));
        sheet.y += 6.0;
        sheet
    }

    /// Ends a sheet with the notes of a chart.
    pub(crate) fn noted(mut self, heading: &Heading) -> Picture {
        if !heading.notes.is_empty() {
            self.y += 6.0;
            self.paragraph(&heading.notes.join(" "), self.small_soft());
        }
        self.finish(&heading.title, &heading.alt)
    }

    /// Sets samples with their names, as many on a line as there is room for.
    pub(crate) fn key(&mut self, entries: &[(Sample, String)]) -> Result<(), FigureError> {
        const GAP: f64 = 14.0;
        let how = self.small();
        let mut x = self.left;
        let mut row_end = self.y;
        for (sample, words) in entries {
            let lead = sample.width() + 5.0;
            let room = self.inner_width() - lead;
            let lines = how.broken(words, room);
            let width = how.widest(&lines);
            if x > self.left && x + lead + width > self.right {
                x = self.left;
                self.y = row_end + 2.0;
            }
            let middle = self.y + how.line_height() / 2.0;
            self.sample(sample, x, middle)?;
            self.y -= 0.5;
            let end = self.block(&lines, x + lead, self.y, how);
            self.y += 0.5;
            row_end = row_end.max(end);
            x += lead + width + GAP;
        }
        self.y = row_end + 6.0;
        Ok(())
    }

    fn sample(&mut self, sample: &Sample, x: f64, middle: f64) -> Result<(), FigureError> {
        let right = x + sample.width();
        let centre = (f64::midpoint(x, right), middle);
        let mark = |radius, look: &SeriesLook, inside| Mark {
            class: "key",
            at: pixel(centre),
            radius,
            look: *look,
            inside,
        };
        match sample {
            Sample::Mark(look) => self.draw([mark(3.6, look, None)])?,
            Sample::HollowMark(look, inside) => self.draw([mark(3.6, look, Some(*inside))])?,
            Sample::LineAndMark(look) => {
                let ends = [pixel((x, middle)), pixel((right, middle))];
                self.draw(series_line("key", &ends, look, 1.8))?;
                self.draw([mark(3.2, look, None)])?;
            }
            Sample::Patch(paint) => {
                self.canvas().rectangle(
                    "key",
                    Area::new(x, middle - 4.5, right, middle + 4.5),
                    *paint,
                );
            }
            Sample::Side(side) => {
                let area = Area::new(x, middle - 6.0, right, middle + 6.0);
                draw_side(&mut self.canvas(), &self.look, *side, area);
            }
            Sample::Removed => {
                let how = self.small().coloured(self.look.removed_ink).anchored(Anchor::Centre);
                self.canvas().text("5", centre.0, how.base_line(middle), how);
                strike(&mut self.canvas(), &self.look, centre);
            }
            Sample::Ring => {
                let how = self.small().anchored(Anchor::Centre);
                self.canvas().text("5", centre.0, how.base_line(middle), how);
                ring(&mut self.canvas(), &self.look, centre, how.size);
            }
            Sample::BoldDigit | Sample::LightDigit => {
                let how = match sample {
                    Sample::BoldDigit => self.label().bold(),
                    _ => self.label().coloured(self.look.soft),
                };
                let how = how.anchored(Anchor::Centre);
                self.canvas().text("5", centre.0, how.base_line(middle), how);
            }
            Sample::Line(paint) => {
                self.canvas().line("key", &[(x, middle), (right, middle)], *paint);
            }
        }
        Ok(())
    }

    pub(crate) fn finish(self, title: &str, alt: &str) -> Picture {
        let (width, height) = (self.width, (self.y + MARGIN).ceil());
        Picture {
            svg: self.canvas.take().finish((width, height), self.look.page, title, alt),
            width: width / UNITS_PER_MILLIMETRE,
            height: height / UNITS_PER_MILLIMETRE,
            title: title.to_owned(),
            alt: alt.to_owned(),
            dpi: Dpi::CHART,
        }
    }

    /// Sets a text centred at `x`, moved sideways where it would leave the sheet.
    pub(crate) fn centred_inside(&mut self, words: &str, x: f64, base_line: f64, how: Type) {
        let x = self.inside(how.width(words), x);
        self.canvas().text(words, x, base_line, how.anchored(Anchor::Centre));
    }

    /// Returns the middle nearest to `x` at which something this wide does not leave the sheet.
    pub(crate) fn inside(&self, width: f64, x: f64) -> f64 {
        let half = width / 2.0;
        x.clamp(MARGIN + half, (self.width - MARGIN - half).max(MARGIN + half))
    }
}

impl Sample {
    fn width(&self) -> f64 {
        match self {
            Self::Mark(_) | Self::HollowMark(..) => 9.0,
            Self::LineAndMark(_) | Self::Line(_) => 30.0,
            Self::Patch(_) | Self::Ring => 12.0,
            Self::Removed | Self::BoldDigit | Self::LightDigit => 8.0,
            Self::Side(_) => 16.0,
        }
    }
}
