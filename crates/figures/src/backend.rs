//! The canvas as a backend of plotters.

use std::convert::Infallible;

use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
    FontStyle,
};

use crate::canvas::{Anchor, Area, Canvas, Paint, Pen, Type};
use crate::font::CAP_HEIGHT;

/// Plotters counts in whole pixels: one is as fine as the numbers that the canvas writes.
const PIXELS_PER_UNIT: f64 = 100.0;

pub(crate) fn pixels(units: f64) -> i32 {
    (units * PIXELS_PER_UNIT).round() as i32
}

pub(crate) fn pixel((x, y): (f64, f64)) -> BackendCoord {
    (pixels(x), pixels(y))
}

pub(crate) fn place((x, y): BackendCoord) -> (f64, f64) {
    (f64::from(x) / PIXELS_PER_UNIT, f64::from(y) / PIXELS_PER_UNIT)
}

impl Canvas {
    /// Draws with what a paint has beyond the styles of plotters.
    pub(crate) fn with_pen<T>(
        &mut self,
        class: &'static str,
        paint: &Paint,
        draw: impl FnOnce(&mut Self) -> T,
    ) -> T {
        let outline = paint.fill.and(paint.line);
        let before = std::mem::replace(&mut self.pen, Pen { class, outline, dash: paint.dash });
        let drawn = draw(self);
        self.pen = before;
        drawn
    }

    fn paint(&self, style: &impl BackendStyle, fill: bool) -> Paint {
        let BackendColor { alpha, rgb } = style.color();
        let width = f64::from(style.stroke_width()) / PIXELS_PER_UNIT;
        Paint {
            fill: fill.then_some(rgb),
            opacity: (fill && alpha < 1.0).then_some(alpha),
            line: if fill { self.pen.outline } else { Some((rgb, width)) },
            dash: self.pen.dash,
        }
    }
}

fn type_of(style: &impl BackendTextStyle) -> Type {
    let how = Type::new(style.size() / PIXELS_PER_UNIT, style.color().rgb);
    let how = if matches!(style.style(), FontStyle::Bold) { how.bold() } else { how };
    how.anchored(match style.anchor().h_pos {
        HPos::Left => Anchor::Left,
        HPos::Center => Anchor::Centre,
        HPos::Right => Anchor::Right,
    })
}

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

impl DrawingBackend for Canvas {
    type ErrorType = Infallible;

    /// A sheet has no end before it is full.
    fn get_size(&self) -> (u32, u32) {
        (i32::MAX as u32, i32::MAX as u32)
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, (x, y): BackendCoord, colour: BackendColor) -> Drawn {
        self.draw_rect((x, y), (x + 1, y + 1), &colour, true)
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Drawn {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        upper_left: BackendCoord,
        bottom_right: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Drawn {
        let ((left, top), (right, bottom)) = (place(upper_left), place(bottom_right));
        let paint = self.paint(style, fill);
        self.rectangle(self.pen.class, Area::new(left, top, right, bottom), paint);
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        let points: Vec<_> = path.into_iter().map(place).collect();
        let paint = self.paint(style, false);
        self.line(self.pen.class, &points, paint);
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        centre: BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Drawn {
        let paint = self.paint(style, fill);
        let radius = f64::from(radius) / PIXELS_PER_UNIT;
        self.circle(self.pen.class, place(centre), radius, paint);
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Drawn {
        let corners: Vec<_> = corners.into_iter().map(place).collect();
        let paint = self.paint(style, true);
        self.polygon(self.pen.class, &corners, paint);
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Drawn {
        let how = type_of(style);
        let (x, y) = place(at);
        let base_line = match style.anchor().v_pos {
            VPos::Top => y + CAP_HEIGHT * how.size,
            VPos::Center => how.base_line(y),
            VPos::Bottom => y,
        };
        self.text(text, x, base_line, how);
        Ok(())
    }

    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        let how = type_of(style);
        let size = [how.width(text), CAP_HEIGHT * how.size].map(|units| units * PIXELS_PER_UNIT);
        Ok((size[0].ceil() as u32, size[1].ceil() as u32))
    }
}
