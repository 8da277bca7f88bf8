//! The occurrence heat map: one cell per shape (open count × naked size), the hidden size beside it.

use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{Rectangle, Text};
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, RGBColor};
use plotters_backend::DrawingBackend;
use plotters_svg::SVGBackend;

use crate::FigureError;
use crate::style::{
    CELL_LINE, INK, LABEL_SIZE, PAPER, SMALL_SIZE, SOFT_INK, TITLE_SIZE, Type, ZERO_FILL, label_on,
    rgb, sequential,
};
use crate::svg::with_alt_text;

/// One shape and what was counted of it.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeCell {
    /// The open count of the house.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// What decides the shade.
    pub value: f64,
    /// The value as it is written into the cell.
    pub label: String,
    /// What the value is a share of, for the data file.
    pub denominator: u64,
    /// How many were counted, for the data file.
    pub count: u64,
}

/// What a heat map shows. Equal ratios of values look equally far apart.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatMap {
    /// One line.
    pub title: String,
    /// Up to three lines: what was counted, with denominators.
    pub subtitle: Vec<String>,
    /// The words beside the scale: what a shade means.
    pub scale_title: String,
    /// The description for readers who can't see the chart.
    pub alt: String,
    /// The measured shapes, zeros included. Shapes that can't be are left out.
    pub cells: Vec<ShapeCell>,
    /// Up to two lines below the chart.
    pub notes: Vec<String>,
}

const WIDTH: i32 = 460;
const HEIGHT: i32 = 500;
const LEFT: i32 = 56;
const RIGHT: i32 = 404;
const TOP: i32 = 106;
const BOTTOM: i32 = 358;

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

impl HeatMap {
    /// Draws the chart as an SVG document.
    ///
    /// # Errors
    /// If the drawing library refuses.
    pub fn svg(&self) -> Result<String, FigureError> {
        let mut svg = String::new();
        {
            let area = SVGBackend::with_string(&mut svg, (WIDTH as u32, HEIGHT as u32))
                .into_drawing_area();
            self.draw(&area).map_err(|error| FigureError::Draw(error.to_string()))?;
            area.present().map_err(|error| FigureError::Draw(error.to_string()))?;
        }
        Ok(with_alt_text(&svg, &self.title, &self.alt))
    }

    /// Returns the data of the chart, one line per cell:
    /// `open,naked,hidden,count,denominator,value`.
    ///
    /// # Errors
    /// If the data can't be written.
    pub fn csv(&self) -> Result<String, FigureError> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(["open", "naked", "hidden", "count", "denominator", "value"])?;
        for cell in &self.cells {
            let hidden = cell.open - cell.naked;
            writer.serialize((
                cell.open,
                cell.naked,
                hidden,
                cell.count,
                cell.denominator,
                cell.value,
            ))?;
        }
        let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }

    fn draw(&self, area: &Area<'_>) -> Result<(), DrawError> {
        area.fill(&PAPER)?;
        let title = Type { size: TITLE_SIZE, bold: true, colour: INK, anchor: HPos::Left };
        text(area, &self.title, (14, 20), title)?;
        let small = Type { size: SMALL_SIZE, bold: false, colour: SOFT_INK, anchor: HPos::Left };
        for (line, words) in (0..).zip(&self.subtitle) {
            text(area, words, (14, 42 + 15 * line), small)?;
        }
        let Some(grid) = Grid::of(&self.cells) else { return Ok(()) };
        self.draw_axes(area, &grid)?;
        let scale = Scale::of(&self.cells);
        for cell in &self.cells {
            draw_cell(area, &grid, &scale, cell)?;
        }
        if let Some(scale) = &scale.range {
            self.draw_scale(area, scale)?;
        }
        for (line, words) in (0..).zip(&self.notes) {
            text(area, words, (14, HEIGHT - 30 + 15 * line), small)?;
        }
        Ok(())
    }

    fn draw_axes(&self, area: &Area<'_>, grid: &Grid) -> Result<(), DrawError> {
        let label = Type { size: LABEL_SIZE, bold: false, colour: INK, anchor: HPos::Center };
        for open in grid.open.clone() {
            let ((left, _), (right, _)) = grid.corners(open, *grid.naked.start());
            text(area, &open.to_string(), (i32::midpoint(left, right), BOTTOM + 14), label)?;
        }
        for naked in grid.naked.clone() {
            let ((_, top), (_, bottom)) = grid.corners(*grid.open.start(), naked);
            let middle = i32::midpoint(top, bottom);
            text(area, &naked.to_string(), (LEFT - 14, middle), label)?;
            let hidden = grid.open.end() - naked;
            text(area, &hidden.to_string(), (RIGHT + 14, middle), label)?;
        }
        let name = Type { bold: true, size: SMALL_SIZE + 1, ..label };
        let centre = i32::midpoint(LEFT, RIGHT);
        text(area, "open cells in the house", (centre, BOTTOM + 33), name)?;
        text(area, "naked size", (14, TOP - 13), Type { anchor: HPos::Left, ..name })?;
        let widest = grid.open.end();
        let second = format!("hidden size ({widest} open)");
        text(area, &second, (WIDTH - 14, TOP - 13), Type { anchor: HPos::Right, ..name })
    }

    fn draw_scale(&self, area: &Area<'_>, range: &LogRange) -> Result<(), DrawError> {
        let (left, right, top, bottom) = (LEFT, RIGHT, BOTTOM + 66, BOTTOM + 78);
        let label = Type { size: SMALL_SIZE, bold: false, colour: INK, anchor: HPos::Left };
        text(area, &self.scale_title, (left, top - 11), label)?;
        for x in left..right {
            let shade = f64::from(x - left) / f64::from(right - left - 1);
            let colour = rgb(sequential(shade)).filled();
            area.draw(&Rectangle::new([(x, top), (x + 1, bottom)], colour))?;
        }
        area.draw(&Rectangle::new([(left, top), (right, bottom)], CELL_LINE.stroke_width(1)))?;
        for (value, words) in range.ticks() {
            let x = left + (range.shade(value) * f64::from(right - left)).round() as i32;
            area.draw(&Rectangle::new([(x, bottom), (x, bottom + 3)], INK.stroke_width(1)))?;
            let centred = Type { anchor: HPos::Center, ..label };
            text(area, &words, (x, bottom + 11), centred)?;
        }
        Ok(())
    }
}

type DrawError =
    plotters::drawing::DrawingAreaErrorKind<<SVGBackend<'static> as DrawingBackend>::ErrorType>;

fn text(area: &Area<'_>, words: &str, at: (i32, i32), how: Type) -> Result<(), DrawError> {
    area.draw(&Text::new(words.to_owned(), at, how.style()))
}

fn draw_cell(
    area: &Area<'_>,
    grid: &Grid,
    scale: &Scale,
    cell: &ShapeCell,
) -> Result<(), DrawError> {
    let (upper_left, lower_right) = grid.corners(cell.open, cell.naked);
    let (fill, ink): (RGBColor, RGBColor) = match scale.shade(cell.value) {
        Some(shade) => {
            let colour = sequential(shade);
            (rgb(colour), rgb(label_on(colour)))
        }
        None => (ZERO_FILL, INK),
    };
    area.draw(&Rectangle::new([upper_left, lower_right], fill.filled()))?;
    area.draw(&Rectangle::new([upper_left, lower_right], CELL_LINE.stroke_width(1)))?;
    let centre = i32::midpoint(upper_left.0, lower_right.0);
    let middle = i32::midpoint(upper_left.1, lower_right.1);
    let value = Type { size: LABEL_SIZE, bold: true, colour: ink, anchor: HPos::Center };
    text(area, &cell.label, (centre, middle - 7), value)?;
    let hidden = format!("hidden {}", cell.open - cell.naked);
    let sides = Type { size: SMALL_SIZE, bold: false, ..value };
    text(area, &hidden, (centre, middle + 9), sides)
}

/// Where the cells stand: open counts from left to right, naked sizes from bottom to top.
struct Grid {
    open: std::ops::RangeInclusive<u8>,
    naked: std::ops::RangeInclusive<u8>,
}

impl Grid {
    fn of(cells: &[ShapeCell]) -> Option<Self> {
        let open = cells.iter().map(|cell| cell.open);
        let naked = cells.iter().map(|cell| cell.naked);
        Some(Self {
            open: open.clone().min()?..=open.max()?,
            naked: naked.clone().min()?..=naked.max()?,
        })
    }

    fn corners(&self, open: u8, naked: u8) -> ((i32, i32), (i32, i32)) {
        let edge = |from: i32, to: i32, index: u8, count: u8| {
            from + (to - from) * i32::from(index) / i32::from(count)
        };
        let columns = self.open.end() - self.open.start() + 1;
        let rows = self.naked.end() - self.naked.start() + 1;
        let column = open - self.open.start();
        let row = self.naked.end() - naked;
        (
            (edge(LEFT, RIGHT, column, columns), edge(TOP, BOTTOM, row, rows)),
            (edge(LEFT, RIGHT, column + 1, columns), edge(TOP, BOTTOM, row + 1, rows)),
        )
    }
}

struct Scale {
    range: Option<LogRange>,
}

struct LogRange {
    least: f64,
    most: f64,
}

impl Scale {
    fn of(cells: &[ShapeCell]) -> Self {
        let positive = || cells.iter().map(|cell| cell.value).filter(|&value| value > 0.0);
        let least = positive().fold(f64::INFINITY, f64::min);
        let most = positive().fold(0.0, f64::max);
        // Whole powers of ten at both ends, and at least one decade.
        let range = (most > 0.0).then(|| {
            let (low, high) = (least.log10().floor(), most.log10().ceil());
            LogRange { least: low, most: high.max(low + 1.0) }
        });
        Self { range }
    }

    /// Returns the shade of a value, `None` for a measured zero.
    fn shade(&self, value: f64) -> Option<f64> {
        self.range.as_ref().filter(|_| value > 0.0).map(|range| range.shade(value))
    }
}

impl LogRange {
    fn shade(&self, value: f64) -> f64 {
        (value.log10() - self.least) / (self.most - self.least)
    }

    fn ticks(&self) -> Vec<(f64, String)> {
        let (least, most) = (self.least as i32, self.most as i32);
        let step = ((most - least) / 6).max(1) as usize;
        if most - least == 1 {
            // One decade alone gets marks within it.
            let unit = 10f64.powi(least);
            return [1.0, 2.0, 5.0, 10.0]
                .map(|factor| (factor * unit, plain_number(factor * unit, least)))
                .to_vec();
        }
        (least..=most)
            .step_by(step)
            .map(|power| {
                let words = match power {
                    ..6 => plain_number(10f64.powi(power), power),
                    6..9 => format!("{} million", 10u64.pow(power as u32 - 6)),
                    _ => format!("10^{power}"),
                };
                (10f64.powi(power), words)
            })
            .collect()
    }
}

/// Writes a multiple of a power of ten without an exponent.
fn plain_number(value: f64, power: i32) -> String {
    if power < 0 {
        format!("{value:.*}", power.unsigned_abs() as usize)
    } else {
        thousands(value.round() as u64)
    }
}

fn thousands(value: u64) -> String {
    if value < 1000 {
        value.to_string()
    } else {
        format!("{},{:03}", thousands(value / 1000), value % 1000)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart() -> HeatMap {
        let shapes = (4..=9u8).flat_map(|open| (2..=open - 2).map(move |naked| (open, naked)));
        let cells = shapes.map(|(open, naked)| {
            let count = if open == 4 { 0 } else { 7u64.pow(u32::from(9 - naked)) };
            ShapeCell {
                open,
                naked,
                value: count as f64,
                label: count.to_string(),
                denominator: 10,
                count,
            }
        });
        HeatMap {
            title: "A title".into(),
            subtitle: vec!["first".into(), "second".into()],
            scale_title: "how many".into(),
            alt: "words".into(),
            cells: cells.collect(),
            notes: vec!["a note".into()],
        }
    }

    #[test]
    fn the_svg_has_a_mark_per_shape_and_all_labels_inside() {
        let svg = chart().svg().unwrap();
        assert_eq!(
            svg.matches("hidden 2\n").count(),
            6,
            "one cell of hidden size 2 per open count"
        );
        assert_eq!(svg.matches("\n0\n</text>").count(), 1, "the measured zero");
        assert!(svg.contains("aria-labelledby"));
        for attribute in [" x=\"", " y=\""] {
            for rest in svg.split(attribute).skip(1) {
                let at: i32 = rest.split('"').next().unwrap().parse().unwrap();
                assert!((0..=HEIGHT).contains(&at), "{at}");
            }
        }
        assert_eq!(chart().svg().unwrap(), svg);
    }

    #[test]
    fn the_csv_repeats_what_is_drawn() {
        let csv = chart().csv().unwrap();
        assert_eq!(csv.lines().count(), 22);
        assert!(csv.starts_with("open,naked,hidden,count,denominator,value\n4,2,2,0,10,0"));
    }

    #[test]
    fn a_chart_of_zeros_has_no_scale() {
        let mut chart = chart();
        for cell in &mut chart.cells {
            cell.value = 0.0;
        }
        assert!(!chart.svg().unwrap().contains("how many"));
    }
}
