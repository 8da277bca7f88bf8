//! The occurrence heat map: one cell per shape (open count × naked size), the hidden size beside it.

use std::ops::RangeInclusive;

use crate::axis::{Axis, Range};
use crate::canvas::{Anchor, Area, Paint};
use crate::elements::rectangle;
use crate::figure::write_csv;
use crate::plot::{Plot, draw_x_title};
use crate::sheet::{MARGIN, Sheet};
use crate::theme::{Look, ON_SHADES};
use crate::words::Unit;
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// One shape and what was counted of it.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeCell {
    /// The open count of the house.
    pub open: u8,
    /// The size of the naked side.
    pub naked: u8,
    /// The value, for the data file.
    pub value: f64,
    /// The value as it is written into the cell, which also decides the shade.
    pub label: String,
    /// The ends of its interval as far as they are known, for the data file.
    pub ends: [Option<f64>; 2],
    /// What the value is a share of, for the data file.
    pub denominator: u64,
    /// How many were counted, for the data file.
    pub count: u64,
    /// Whether the value is sure enough to have a shade; otherwise it is as blank as what was not seen.
    pub shaded: bool,
    /// Whether a frame draws the eye to it.
    pub framed: bool,
    /// Where a page that holds the map shows more of it.
    pub link: Option<String>,
}

/// What a heat map shows. Equal ratios of values look equally far apart.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatMap {
    /// The words around the chart.
    pub heading: Heading,
    /// The words beside the scale: what a shade means.
    pub scale_title: String,
    /// The measured shapes, zeros included. Shapes that can't be are left out.
    pub cells: Vec<ShapeCell>,
}

impl ShapeCell {
    fn is_shaded(&self) -> bool {
        self.shaded && self.printed() > 0.0
    }

    /// Returns the number that is read in the cell: what looks equal in print is equally dark.
    fn printed(&self) -> f64 {
        tallyhouse_words::read_back(&self.label).unwrap_or(self.value)
    }
}

impl HeatMap {
    /// Returns the scale, on which all numbers lie that are read in the cells.
    fn scale(&self) -> Range {
        let printed = self.cells.iter().map(ShapeCell::printed).filter(|&number| number > 0.0);
        Range::of(&log_axis(), printed, false)
    }

    fn check(&self) -> Result<(), FigureError> {
        for cell in &self.cells {
            let place = format!("open {}, naked {}", cell.open, cell.naked);
            if cell.naked == 0 || cell.naked >= cell.open {
                return Err(self.heading.unfit(&place, &place, "a naked side from 1 to open − 1"));
            }
            self.heading.check_finite(&place, [cell.value])?;
        }
        Ok(())
    }

    fn draw_cells(&self, sheet: &mut Sheet, grid: &Grid) -> Result<(), FigureError> {
        let (label, small) = (sheet.label(), sheet.small().bold());
        let top = sheet.block(&["naked size".to_owned()], MARGIN, sheet.y, small) + 4.0;

        let side = label.width("00") + 6.0;
        let (left, right) = (MARGIN + side, sheet.width - MARGIN);
        let cell_width = (right - left) / grid.columns() as f64;
        let room = cell_width - 2.0 * (CELL_INSET + 1.0);
        let texts: Vec<_> = self.cells.iter().map(|cell| CellText::of(sheet, cell, room)).collect();
        let text_height = texts.iter().map(|text| text.height(sheet)).fold(0.0, f64::max);
        let cell_height = (text_height + 4.0 + 2.0 * CELL_INSET).max(cell_width * 0.55);
        let area = Area::new(left, top, right, top + cell_height * grid.rows() as f64);

        let plot = Plot::new(sheet, area, slots(&grid.open), slots(&grid.naked))?;
        let range = self.scale();
        let fill = |look: &Look, cell: &ShapeCell| {
            if cell.is_shaded() { look.shade(range.part(cell.printed())) } else { look.zero }
        };
        for (cell, text) in self.cells.iter().zip(&texts) {
            let (open, naked) = (f64::from(cell.open), f64::from(cell.naked));
            let corners = [(open - 0.5, naked - 0.5), (open + 0.5, naked + 0.5)];
            let fill = fill(&sheet.look, cell);
            // All cells have the same thin edge: a thick one is a frame.
            let slot = plot.area_of(corners);
            let paint = Paint::fill(fill).outlined(sheet.look.edge, 0.8);
            if let Some(link) = &cell.link {
                sheet.canvas().begin_link(link);
            }
            sheet.canvas().rectangle("cell", slot.grown(-CELL_INSET), paint);
            if cell.framed {
                let frame = Paint::line(sheet.look.ink, FRAME_WIDTH);
                sheet.canvas().rectangle("framed", slot.grown(-FRAME_WIDTH / 2.0), frame);
            }
            let ink = if cell.is_shaded() { ON_SHADES } else { sheet.look.ink };
            text.draw(sheet, plot.at((open, naked)), ink);
            if cell.link.is_some() {
                sheet.canvas().end_link();
            }
        }
        let centred = label.anchored(Anchor::Centre);
        for open in grid.open.clone() {
            let x = plot.x(f64::from(open));
            sheet.canvas().text(&open.to_string(), x, area.bottom + 4.0 + label.size, centred);
        }
        for naked in grid.naked.clone() {
            let y = label.base_line(plot.y(f64::from(naked)));
            sheet.canvas().text(&naked.to_string(), MARGIN + side / 2.0 - 3.0, y, centred);
        }
        sheet.y = area.bottom + 6.0 + label.line_height();
        draw_x_title(sheet, area, "open cells in the house", small);
        sheet.y += 10.0;
        Ok(())
    }

    fn draw_scale(&self, sheet: &mut Sheet, range: Range) -> Result<(), FigureError> {
        const STEPS: u32 = 160;
        let small = sheet.small();
        sheet.paragraph(&self.scale_title, small);
        sheet.y += 3.0;
        let (left, right) = (MARGIN, sheet.width - MARGIN);
        let bar = Area::new(left + 8.0, sheet.y, right - 8.0, sheet.y + 11.0);
        let steps = f64::from(STEPS);
        let shades = Plot::new(sheet, bar, Range::between(0.0, steps), Range::between(0.0, 1.0))?;
        // Each step reaches under the next, so that no page shows between them.
        let over = 1.0 + 0.5 * steps / bar.width();
        shades.draw((0..STEPS).map(|index| {
            let from = f64::from(index);
            let shade = sheet.look.shade(from / (steps - 1.0));
            rectangle("scale", [(from, 0.0), (from + over, 1.0)], Paint::fill(shade))
        }))?;
        let frame = Paint::line(sheet.look.edge, 1.0);
        shades.draw([rectangle("frame", [(0.0, 0.0), (steps, 1.0)], frame)])?;
        Plot::new(sheet, bar, range, Range::between(0.0, 1.0))?.draw_x_axis(sheet, "", false)
    }
}

impl Figure for HeatMap {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        self.check()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        let Some(grid) = Grid::of(&self.cells) else { return Err(self.heading.no_data("cells")) };
        self.draw_cells(&mut sheet, &grid)?;
        if self.cells.iter().any(ShapeCell::is_shaded) {
            self.draw_scale(&mut sheet, self.scale())?;
        }
        Ok(sheet.noted(&self.heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let end = |end: Option<f64>| end.map_or_else(String::new, |end| end.to_string());
        let records = self.cells.iter().map(|cell| {
            [
                cell.open.to_string(),
                cell.naked.to_string(),
                cell.open.saturating_sub(cell.naked).to_string(),
                cell.count.to_string(),
                cell.denominator.to_string(),
                cell.value.to_string(),
                end(cell.ends[0]),
                end(cell.ends[1]),
            ]
        });
        write_csv("open,naked,hidden,count,denominator,value,low,high", records)
    }
}

/// The room around a cell, and the line in it that draws the eye to one.
const CELL_INSET: f64 = 2.6;
const FRAME_WIDTH: f64 = 1.8;

fn log_axis() -> Axis {
    Axis::log("", Unit::Number)
}

/// The words of a cell: its value, and the hidden size below.
struct CellText {
    value: Vec<String>,
    hidden: Vec<String>,
}

impl CellText {
    fn of(sheet: &Sheet, cell: &ShapeCell, limit: f64) -> Self {
        let (value, hidden) = (sheet.label().bold(), sheet.small());
        Self {
            value: value.broken(&cell.label, limit),
            hidden: hidden.broken(&format!("hidden {}", cell.open - cell.naked), limit),
        }
    }

    fn height(&self, sheet: &Sheet) -> f64 {
        sheet.label().height(&self.value) + sheet.small().height(&self.hidden)
    }

    fn draw(&self, sheet: &mut Sheet, (x, middle): (f64, f64), ink: (u8, u8, u8)) {
        let value = sheet.label().bold().anchored(Anchor::Centre).coloured(ink);
        let hidden = sheet.small().anchored(Anchor::Centre).coloured(ink);
        let top = middle - self.height(sheet) / 2.0;
        let below = sheet.block(&self.value, x, top, value);
        sheet.block(&self.hidden, x, below, hidden);
    }
}

/// Where the cells stand: open counts from left to right, naked sizes from bottom to top.
struct Grid {
    open: RangeInclusive<u8>,
    naked: RangeInclusive<u8>,
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

    fn columns(&self) -> usize {
        self.open.clone().count()
    }

    fn rows(&self) -> usize {
        self.naked.clone().count()
    }
}

fn slots(values: &RangeInclusive<u8>) -> Range {
    Range::whole(i64::from(*values.start()), i64::from(*values.end()))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure, texts};

    pub(crate) fn chart() -> HeatMap {
        let shapes = (4..=9u8).flat_map(|open| (2..=open - 2).map(move |naked| (open, naked)));
        let cells = shapes.map(|(open, naked)| {
            let count = if open == 4 { 0 } else { 7u64.pow(u32::from(9 - naked)) };
            ShapeCell {
                open,
                naked,
                value: count as f64,
                label: count.to_string(),
                ends: [None; 2],
                denominator: 10,
                count,
                shaded: true,
                framed: naked + 2 == open,
                link: (naked == 2).then(|| format!("#more-{open}")),
            }
        });
        HeatMap {
            heading: Heading {
                title: "A title".into(),
                subtitle: "first second".into(),
                notes: vec!["a note".into()],
                alt: "words".into(),
            },
            scale_title: "how many".into(),
            cells: cells.collect(),
        }
    }

    fn svg(chart: &HeatMap) -> Result<String, FigureError> {
        Ok(chart.draw(Theme::Light, Width::Column)?.svg)
    }

    #[test]
    fn the_svg_has_a_mark_per_shape_and_all_labels_inside() {
        let svg = svg(&chart()).unwrap();
        assert_eq!(count_class(&svg, "cell"), 21);
        assert_eq!(svg.matches("<a href=\"#more-").count(), 6);
        assert_eq!(svg.matches("</a>").count(), 6);
        let texts = texts(&svg);
        let count = |words: &str| texts.iter().filter(|text| *text == words).count();
        assert_eq!(count("hidden 2"), 6, "one cell of hidden size 2 per open count");
        assert_eq!(count("0"), 1, "the measured zero");
        check_figure(&chart());
    }

    #[test]
    fn nasty_data_keeps_its_labels_apart() {
        let mut chart = chart();
        chart.heading.title = "A very long title with <markup> & \"quotes\" ".repeat(6);
        chart.heading.subtitle = "Words ".repeat(80);
        chart.heading.notes = vec!["x".repeat(300)];
        for (index, cell) in chart.cells.iter_mut().enumerate() {
            cell.value = 10f64.powi(index as i32 * 2 - 9);
            cell.label = "123,456,789,012".into();
        }
        check_figure(&chart);
        chart.cells.truncate(1);
        check_figure(&chart);
        let wide = (2..=9u8).flat_map(|open| (1..open).map(move |naked| (open, naked)));
        let cell = chart.cells[0].clone();
        chart.cells = wide.map(|(open, naked)| ShapeCell { open, naked, ..cell.clone() }).collect();
        check_figure(&chart);
    }

    #[test]
    fn the_csv_repeats_what_is_drawn() {
        let csv = chart().csv().unwrap();
        assert_eq!(csv.lines().count(), 22);
        assert!(
            csv.starts_with("open,naked,hidden,count,denominator,value,low,high\n4,2,2,0,10,0,,\n")
        );
    }

    /// What is read as equal is equally dark, and more is never lighter.
    #[test]
    fn a_cell_is_as_dark_as_the_number_in_it() {
        let mut chart = chart();
        let labels = [(1.95, "2"), (2.04, "2"), (2.4, "2.4*"), (20.0, "20"), (24.0, "20")];
        for (cell, (value, label)) in chart.cells.iter_mut().zip(labels) {
            (cell.value, cell.label, cell.shaded) = (value, label.to_owned(), true);
        }
        chart.cells.truncate(labels.len());
        let svg = svg(&chart).unwrap();
        let fills: Vec<&str> = svg
            .lines()
            .filter(|line| line.contains("class=\"cell\""))
            .map(|line| line.split("fill=\"").nth(1).unwrap().split('"').next().unwrap())
            .collect();
        assert_eq!(fills.len(), labels.len());
        assert_eq!((fills[0], fills[3]), (fills[1], fills[4]));
        assert!(fills[0] > fills[2] && fills[2] > fills[3], "{fills:?}");
    }

    #[test]
    fn a_chart_of_zeros_has_no_scale() {
        let mut chart = chart();
        for cell in &mut chart.cells {
            (cell.value, cell.label) = (0.0, "0".into());
        }
        assert!(!svg(&chart).unwrap().contains("how many"));
        check_figure(&chart);
    }

    #[test]
    fn impossible_cells_are_refused() {
        let mut chart = chart();
        chart.cells[3].value = f64::NAN;
        assert!(matches!(svg(&chart), Err(FigureError::Unfit { .. })));
        chart.cells[3] = ShapeCell { naked: 5, open: 5, ..chart.cells[0].clone() };
        assert!(matches!(svg(&chart), Err(FigureError::Unfit { .. })));
        chart.cells.clear();
        assert!(matches!(svg(&chart), Err(FigureError::NoData { .. })));
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("heat_map", structure(&chart()));
    }
}
