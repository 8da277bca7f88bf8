//! The frame of a chart: a data area with an axis below it and, if wanted, one at its left.

use plotters::chart::{ChartBuilder, ChartContext};
use plotters::coord::cartesian::Cartesian2d;
use plotters::element::{Drawable, PointCollection};

use crate::FigureError;
use crate::axis::{Axis, Range, Tick};
use crate::backend::{pixel, pixels, place};
use crate::canvas::{Anchor, Area, Canvas, Paint, Type};
use crate::elements::{draw_on, line, shape_style, text, undrawn};
use crate::font::CAP_HEIGHT;
use crate::sheet::{MARGIN, Sheet};

const TICK_GAP: f64 = 7.0;

/// A chart of plotters at its place on a sheet.
pub(crate) struct Plot {
    pub(crate) area: Area,
    chart: ChartContext<'static, Canvas, Cartesian2d<Range, Range>>,
}

impl Plot {
    pub(crate) fn new(
        sheet: &Sheet,
        area: Area,
        across: Range,
        up: Range,
    ) -> Result<Self, FigureError> {
        // Plotters keeps the last column and row of pixels free.
        let size = (pixels(area.width()) + 1, pixels(area.height()) + 1);
        let part = sheet.drawing_area().shrink(pixel((area.left, area.top)), size);
        let chart = ChartBuilder::on(&part).build_cartesian_2d(across, up).map_err(undrawn)?;
        // Paints nothing: tells programs where the data stand.
        sheet.canvas().rectangle("plot", area, Paint::default());
        Ok(Self { area, chart })
    }

    /// Lays out an area of a height below what stands on the sheet, draws its axes and moves on
    /// below them. `right` is kept free at the right for labels.
    pub(crate) fn with_axes(
        sheet: &mut Sheet,
        (across_axis, across): (&Axis, Range),
        (up_axis, up): (&Axis, Range),
        height: f64,
        right: f64,
    ) -> Result<Self, FigureError> {
        let small = sheet.small();
        sheet.paragraph(&up_axis.title, small.bold());
        sheet.y += 7.0;
        let line = small.line_height();
        let ticks = up.ticks(|ticks| height / (ticks.len() - 1).max(1) as f64 >= line + 4.0);
        let widest = ticks.iter().map(|tick| small.width(&tick.words)).fold(0.0, f64::max);
        let left = MARGIN + widest + 6.0;
        let area =
            Area::new(left, sheet.y, sheet.width - MARGIN - right.max(4.0), sheet.y + height);
        let plot = Self::new(sheet, area, across, up)?;
        plot.draw_rules(sheet, 0, ticks.len())?;
        let how = small.anchored(Anchor::Right);
        sheet.draw(ticks.into_iter().map(|Tick { value, words }| {
            text(words, pixel((area.left - 5.0, plot.y(value))), how)
        }))?;
        plot.draw_x_axis(sheet, &across_axis.title, false)?;
        Ok(plot)
    }

    /// Draws elements at places of the data.
    pub(crate) fn draw<E>(&self, elements: impl IntoIterator<Item = E>) -> Result<(), FigureError>
    where
        for<'b> &'b E: PointCollection<'b, (f64, f64)>,
        E: Drawable<Canvas>,
    {
        draw_on(self.chart.plotting_area(), elements)
    }

    pub(crate) fn x(&self, value: f64) -> f64 {
        self.at((value, self.chart.y_range().start)).0
    }

    pub(crate) fn y(&self, value: f64) -> f64 {
        self.at((self.chart.x_range().start, value)).1
    }

    /// Returns where a place of the data stands on the sheet.
    pub(crate) fn at(&self, values: (f64, f64)) -> (f64, f64) {
        place(self.chart.plotting_area().map_coordinate(&values))
    }

    /// Returns where a rectangle of the data from its low left to its high right corner stands.
    pub(crate) fn area_of(&self, [low, high]: [(f64, f64); 2]) -> Area {
        let ((left, bottom), (right, top)) = (self.at(low), self.at(high));
        Area::new(left, top, right, bottom)
    }

    /// Draws rules at this many marks of each axis.
    fn draw_rules(&self, sheet: &Sheet, across: usize, up: usize) -> Result<(), FigureError> {
        let paint = Paint::line(sheet.look.rule, 0.8);
        let style = shape_style(&paint);
        let area = self.chart.plotting_area();
        area.draw_mesh(
            |canvas, line| canvas.with_pen("rule", &paint, |canvas| line.draw(canvas, &style)),
            up,
            across,
        )
        .map_err(undrawn)
    }

    /// Draws the axis below the area, with rules through it if wanted, and moves on below its title.
    ///
    /// Labels are measured and set here: plotters would drop those that leave the area, and can't
    /// choose marks by the widths of their labels.
    pub(crate) fn draw_x_axis(
        &self,
        sheet: &mut Sheet,
        title: &str,
        with_rules: bool,
    ) -> Result<(), FigureError> {
        let (small, area) = (sheet.small(), self.area);
        let middle = |tick: &Tick| sheet.inside(small.width(&tick.words), self.x(tick.value));
        let apart = |pair: &[Tick]| {
            let widths = small.width(&pair[0].words) + small.width(&pair[1].words);
            middle(&pair[1]) - middle(&pair[0]) >= widths / 2.0 + TICK_GAP
        };
        let ticks = self.across().ticks(|ticks| ticks.windows(2).all(apart));
        if with_rules {
            self.draw_rules(sheet, ticks.len(), 0)?;
        }
        let paint = Paint::line(sheet.look.edge, 1.0);
        let below = area.bottom + 6.0 + small.size * (0.8 - CAP_HEIGHT / 2.0);
        let how = small.anchored(Anchor::Centre);
        for tick in ticks {
            let x = self.x(tick.value);
            let ends = [(x, area.bottom), (x, area.bottom + 4.0)];
            sheet.draw([line("tick", ends.map(pixel), paint)])?;
            let at = pixel((middle(&tick), below));
            sheet.draw([text(tick.words, at, how)])?;
        }
        let ends = [(area.left, area.bottom), (area.right, area.bottom)];
        sheet.draw([line("axis", ends.map(pixel), paint)])?;
        sheet.y = area.bottom + 8.0 + small.line_height();
        draw_x_title(sheet, area, title, small.bold());
        Ok(())
    }

    pub(crate) fn across(&self) -> &Range {
        self.chart.as_coord_spec().x_spec()
    }
}

/// Sets a title centred below an area, broken into lines, and moves on below it.
pub(crate) fn draw_x_title(sheet: &mut Sheet, area: Area, title: &str, how: Type) {
    for line in how.broken(title, sheet.inner_width()) {
        sheet.y += how.line_height();
        sheet.centred_inside(&line, area.centre().0, sheet.y - how.size * 0.3, how);
    }
}
