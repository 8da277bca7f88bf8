//! The frame of a chart: an area with an axis below it and, if wanted, one at its left.

use crate::axis::{Axis, Range, Tick};
use crate::canvas::{Anchor, Area, Paint, Type};
use crate::font::break_lines;
use crate::sheet::{MARGIN, Sheet};

const TICK_GAP: f64 = 7.0;

/// A chart's area and its two axes.
pub(crate) struct Plot {
    pub(crate) area: Area,
    pub(crate) across: Range,
    pub(crate) up: Range,
}

impl Plot {
    /// Lays out an area of a height below what stands on the sheet, draws its axes and moves on
    /// below them. `right` is kept free at the right for labels.
    pub(crate) fn draw(
        sheet: &mut Sheet,
        (across_axis, across): (&Axis, Range),
        (up_axis, up): (&Axis, Range),
        height: f64,
        right: f64,
    ) -> Self {
        let small = sheet.small();
        sheet.paragraph(&up_axis.title, small.bold());
        sheet.y += 7.0;
        let line = small.line_height();
        let ticks = up.ticks(|ticks| height / (ticks.len() - 1).max(1) as f64 >= line + 4.0);
        let widest = ticks.iter().map(|tick| small.width(&tick.words)).fold(0.0, f64::max);
        let left = MARGIN + widest + 6.0;
        let area =
            Area::new(left, sheet.y, sheet.width - MARGIN - right.max(4.0), sheet.y + height);
        let plot = Self { area, across, up };
        for Tick { value, words } in ticks {
            let y = plot.y(value);
            let rule = Paint::line(sheet.look.rule, 0.8);
            sheet.canvas.line("rule", &[(area.left, y), (area.right, y)], rule);
            let how = small.anchored(Anchor::Right);
            sheet.canvas.text(&words, area.left - 5.0, how.base_line(y), how);
        }
        draw_x_axis(sheet, area, &plot.across, &across_axis.title, false);
        plot
    }

    pub(crate) fn x(&self, value: f64) -> f64 {
        self.area.left + self.across.part(value) * self.area.width()
    }

    pub(crate) fn y(&self, value: f64) -> f64 {
        self.area.bottom - self.up.part(value) * self.area.height()
    }
}

/// Draws the axis below an area, with rules through it if wanted, and moves on below its title.
pub(crate) fn draw_x_axis(
    sheet: &mut Sheet,
    area: Area,
    range: &Range,
    title: &str,
    with_rules: bool,
) {
    let small = sheet.small();
    let at = |tick: &Tick| area.left + range.part(tick.value) * area.width();
    let (least, most) = (MARGIN, sheet.width - MARGIN);
    let spread = |tick: &Tick| {
        let half = small.width(&tick.words) / 2.0;
        let middle = at(tick).clamp(least + half, (most - half).max(least + half));
        (middle - half, middle + half)
    };
    let ticks = range.ticks(|ticks| {
        ticks.windows(2).all(|pair| spread(&pair[0]).1 + TICK_GAP <= spread(&pair[1]).0)
    });
    let line = Paint::line(sheet.look.edge, 1.0);
    for tick in &ticks {
        let x = at(tick);
        if with_rules {
            let rule = Paint::line(sheet.look.rule, 0.8);
            sheet.canvas.line("rule", &[(x, area.top), (x, area.bottom)], rule);
        }
        sheet.canvas.line("tick", &[(x, area.bottom), (x, area.bottom + 4.0)], line);
        sheet.centred_inside(&tick.words, x, area.bottom + 6.0 + small.size * 0.8, small);
    }
    sheet.canvas.line("axis", &[(area.left, area.bottom), (area.right, area.bottom)], line);
    sheet.y = area.bottom + 8.0 + small.line_height();
    draw_x_title(sheet, area, title, small.bold());
}

/// Sets a title centred below an area, broken into lines, and moves on below it.
pub(crate) fn draw_x_title(sheet: &mut Sheet, area: Area, title: &str, how: Type) {
    for line in break_lines(title, how.size, how.weight, sheet.inner_width()) {
        sheet.y += how.line_height();
        sheet.centred_inside(&line, area.centre().0, sheet.y - how.size * 0.3, how);
    }
}
