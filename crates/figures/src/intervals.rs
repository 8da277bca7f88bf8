//! Values with their intervals: categories from top to bottom, one mark per series in each.

use plotters_backend::BackendCoord;

use crate::axis::{Axis, Range, Spread};
use crate::backend::pixel;
use crate::canvas::{Anchor, Area, Paint, Type};
use crate::elements::{Mark, Painted, line, series_line};
use crate::figure::write_csv;
use crate::plot::Plot;
use crate::sheet::{MARGIN, Sample, Sheet};
use crate::theme::{SeriesLook, Side};
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// A value with its interval.
#[derive(Clone, Debug, PartialEq)]
pub struct IntervalMark {
    /// The value.
    pub value: f64,
    /// The low end of the interval.
    pub low: f64,
    /// The high end of the interval; infinite where none can be given.
    pub high: f64,
    /// How many were counted.
    pub count: u64,
    /// Of how many.
    pub of: u64,
    /// What is written beside the mark, such as `3 of 1,000`.
    pub label: String,
    /// Whether it rests on few, so that its mark is hollow.
    pub is_few: bool,
}

impl IntervalMark {
    /// Returns the only end that is known, if it is one, and whether the value lies above it: nothing is
    /// no end.
    fn bound(&self) -> Option<(f64, bool)> {
        match (self.low, self.high) {
            (low, f64::INFINITY) => Some((low, true)),
            (0.0, high) => Some((high, false)),
            _ => None,
        }
    }
}

/// A category of an [`IntervalChart`].
#[derive(Clone, Debug, PartialEq)]
pub struct IntervalRow {
    /// The name of the category.
    pub label: String,
    /// One value per series, in the order of the series; `None` where nothing was measured.
    pub estimates: Vec<Option<IntervalMark>>,
}

/// A value that a reader compares the others with.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceLine {
    /// The value.
    pub value: f64,
    /// What it means.
    pub label: String,
}

/// Values with intervals by category and series. What rests on few has a hollow mark. Where one end alone
/// is known, that is shown: a hollow mark with an arrow to the side on which the value lies.
#[derive(Clone, Debug, PartialEq)]
pub struct IntervalChart {
    /// The words around the chart.
    pub heading: Heading,
    /// What is measured.
    pub axis: Axis,
    /// The names of the series, at most five.
    pub series: Vec<String>,
    /// Whether the two series are a naked and a hidden side, and look so.
    pub sides: bool,
    /// How many looks of series are left to others, so that none means two things in a study.
    pub looks_from: usize,
    /// The categories from top to bottom.
    pub rows: Vec<IntervalRow>,
    /// A line through all categories.
    pub threshold: Option<ReferenceLine>,
    /// What it means to lie to the left and to the right of that line.
    pub ways: Option<[String; 2]>,
    /// The side that is worth looking for, by category, if the marks of a single series show that.
    pub worth: Vec<Option<Side>>,
    /// What the words beside the marks mean; left out where there is no room for these words.
    pub beside: Vec<String>,
}

impl IntervalChart {
    fn estimates(&self) -> impl Iterator<Item = &IntervalMark> {
        self.rows.iter().flat_map(|row| row.estimates.iter().flatten())
    }

    fn check(&self) -> Result<(), FigureError> {
        let heading = &self.heading;
        if self.estimates().next().is_none() {
            return Err(heading.no_data("estimates"));
        }
        heading.check_series("series", self.looks_from + self.series.len())?;
        for row in &self.rows {
            if row.estimates.len() != self.series.len() {
                let expected = format!("{}, one per series", self.series.len());
                let found = format!("{} estimates", row.estimates.len());
                return Err(heading.unfit(&row.label, found, &expected));
            }
            for IntervalMark { value, low, high, .. } in row.estimates.iter().flatten() {
                let high = if high.is_infinite() { value } else { high };
                heading.check_within(&row.label, *value, (*low, *high))?;
                if self.axis.spread == Spread::Log && (*value < 0.0 || *high <= 0.0) {
                    let expected = "no negative value, and an upper bound above 0";
                    return Err(heading.unfit(&row.label, format!("{value} to {high}"), expected));
                }
            }
        }
        if !self.worth.is_empty() && (self.worth.len(), self.series.len()) != (self.rows.len(), 1) {
            let found = format!("{} sides for {} categories", self.worth.len(), self.rows.len());
            return Err(heading.unfit("worth", found, "one for each category of a single series"));
        }
        if let Some(threshold) = &self.threshold {
            heading.check_finite(&threshold.label, [threshold.value])?;
            if self.axis.spread == Spread::Log && threshold.value <= 0.0 {
                return Err(heading.unfit(&threshold.label, threshold.value, "a value above 0"));
            }
        }
        Ok(())
    }

    fn range(&self) -> Range {
        let spread = self.axis.spread;
        let ends = self.estimates().flat_map(|estimate| match (spread, estimate.bound()) {
            // Beside a bound there is room for its arrow.
            (Spread::Log, Some((bound, true))) => [bound, bound * 4.0],
            (Spread::Log, Some((bound, false))) => [bound / 4.0, bound],
            (Spread::Linear, Some((bound, true))) => [bound, bound],
            (Spread::Linear, _) => [estimate.low, estimate.high],
            // An interval from near zero would stretch the axis: its low end becomes an arrow.
            (Spread::Log, None) => [estimate.low.max(estimate.value / 10.0), estimate.high],
        });
        let threshold = self.threshold.iter().map(|threshold| threshold.value);
        Range::of(&self.axis, ends.chain(threshold), true)
    }
}

impl Figure for IntervalChart {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        self.check()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        if self.series.len() > 1 {
            let entry = |(index, name): (usize, &String)| {
                (Sample::Mark(self.series_look(&sheet, index)), name.clone())
            };
            let entries: Vec<_> = self.series.iter().enumerate().map(entry).collect();
            sheet.key(&entries)?;
        }
        if !self.worth.is_empty() {
            sheet.key(&self.worth_key(&sheet))?;
        }
        let rows = Rows::lay_out(&sheet, self);
        if let Some(ways) = &self.ways {
            draw_ways(&mut sheet, ways);
        }
        let top = sheet.y + self.threshold_height(&sheet);
        let bottom = top + rows.heights.iter().sum::<f64>();
        let area = Area::new(rows.left, top, rows.right, bottom);
        let heights = Range::between(area.bottom, area.top);
        let plot = Plot::new(&sheet, area, self.range(), heights)?;
        let label_top = sheet.y;
        plot.draw_x_axis(&mut sheet, &self.axis.title, true)?;
        let below = sheet.y;
        if let Some(threshold) = &self.threshold {
            draw_threshold(&mut sheet, &plot, threshold, label_top)?;
        }
        rows.draw(&mut sheet, self, &plot)?;
        sheet.y = below;
        let mut heading = self.heading.clone();
        if rows.is_close {
            heading.notes.insert(0, "The numbers stand in the data of the chart.".to_owned());
        } else {
            heading.notes.splice(0..0, self.beside.iter().cloned());
        }
        let is_cut = |estimate: &IntervalMark| {
            estimate.bound().is_none() && plot.across().is_below(estimate.low)
        };
        if self.estimates().any(is_cut) {
            heading
                .notes
                .push("Arrow at the left edge: the interval goes on below the axis.".to_owned());
        }
        Ok(sheet.noted(&heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.rows.iter().flat_map(|row| {
            row.estimates.iter().zip(&self.series).filter_map(|(estimate, series)| {
                let IntervalMark { value, low, high, count, of, .. } = estimate.as_ref()?;
                let number = |number: &f64| {
                    if number.is_finite() { number.to_string() } else { String::new() }
                };
                let [value, low, high] = [value, low, high].map(number);
                let counts = [count.to_string(), of.to_string()];
                let [count, of] = counts;
                Some([row.label.clone(), series.clone(), value, low, high, count, of])
            })
        });
        write_csv("category,series,value,low,high,count,of", records)
    }
}

impl IntervalChart {
    fn series_look(&self, sheet: &Sheet, index: usize) -> SeriesLook {
        let side = sheet.look.sides().get(index).copied().filter(|_| self.sides);
        side.unwrap_or_else(|| sheet.look.series(self.looks_from + index))
    }

    /// Returns how the mark of a category looks.
    fn look_of(&self, sheet: &Sheet, row: usize, series: usize) -> SeriesLook {
        match self.worth.get(row) {
            Some(side) => sheet.look.worth(*side),
            None => self.series_look(sheet, series),
        }
    }

    /// Returns what the looks of [`IntervalChart::worth`] say, those that occur.
    fn worth_key(&self, sheet: &Sheet) -> Vec<(Sample, String)> {
        let all = [
            (Some(Side::Naked), "naked costs less"),
            (Some(Side::Hidden), "hidden costs less"),
            (None, "not settled"),
        ];
        let occurs = all.into_iter().filter(|(side, _)| self.worth.contains(side));
        let entry =
            |(side, words): (_, &str)| (Sample::Mark(sheet.look.worth(side)), words.to_owned());
        occurs.map(entry).collect()
    }

    fn threshold_lines(&self, sheet: &Sheet) -> Vec<String> {
        let how = sheet.small().bold();
        let label = self.threshold.as_ref().map_or("", |threshold| &threshold.label);
        how.broken(label, sheet.inner_width() * 0.7)
    }

    fn threshold_height(&self, sheet: &Sheet) -> f64 {
        let lines = self.threshold_lines(sheet).len();
        if lines == 0 { 0.0 } else { lines as f64 * sheet.small().line_height() + 3.0 }
    }
}

/// Writes what it means to lie to the left and to the right, at the two ends of the sheet.
fn draw_ways(sheet: &mut Sheet, ways: &[String; 2]) {
    let how = sheet.small().bold();
    let [left, right] = [
        how.broken(&format!("‹ {}", ways[0]), sheet.inner_width() * 0.45),
        how.broken(&format!("{} ›", ways[1]), sheet.inner_width() * 0.45),
    ];
    let (x, top) = (sheet.right, sheet.y);
    let first = sheet.block(&left, sheet.left, top, how);
    let second = sheet.block(&right, x, top, how.anchored(Anchor::Right));
    sheet.y = first.max(second) + 2.0;
}

/// Draws the line of a threshold from its label down to the axis.
fn draw_threshold(
    sheet: &mut Sheet,
    plot: &Plot,
    threshold: &ReferenceLine,
    label_top: f64,
) -> Result<(), FigureError> {
    let x = plot.x(threshold.value);
    let paint = Paint::line(sheet.look.ink, 1.2).dashed(Some("5 3"));
    let ends = [(x, plot.area.top - 2.0), (x, plot.area.bottom)];
    sheet.draw([line("threshold", ends.map(pixel), paint)])?;
    let how = sheet.small().bold();
    let mut y = label_top;
    for words in how.broken(&threshold.label, sheet.inner_width() * 0.7) {
        y += how.line_height();
        sheet.centred_inside(&words, x, y - how.size * 0.3, how);
    }
    Ok(())
}

const MARK_RADIUS: f64 = 3.6;
/// The room above and below a row, if there is enough, and at least.
const ROW_PADDING: [f64; 2] = [5.0, 0.0];
/// The least and the usual height of a series where many stand close.
const CLOSE_BAND: [f64; 2] = [3.6, 9.0];
/// The radius of a mark by the height of its band where many stand close.
const CLOSE_RADIUS: f64 = 0.6;
/// What the axis and the notes below it take, about.
const BELOW: f64 = 132.0;
/// The length of the arrow at a bound; a shorter one would hide under its mark.
const ARROW: f64 = 22.0;

/// Where categories and the words beside their marks stand.
struct Rows {
    left: f64,
    right: f64,
    name: Type,
    names: Vec<Vec<String>>,
    /// The lines beside each mark, by row and series.
    labels: Vec<Vec<Vec<String>>>,
    /// The height of the band of each series, by row.
    bands: Vec<Vec<f64>>,
    heights: Vec<f64>,
    /// Whether the series stand so close that no words fit beside their marks.
    is_close: bool,
}

impl Rows {
    fn lay_out(sheet: &Sheet, chart: &IntervalChart) -> Self {
        let small = sheet.small_soft();
        let broken =
            |words: &str, how: Type, share: f64| how.broken(words, sheet.inner_width() * share);
        let mut labels: Vec<Vec<_>> = chart
            .rows
            .iter()
            .map(|row| {
                // Where something was measured, what was not takes no room.
                let is_blank = row.estimates.iter().all(Option::is_none);
                let words = |estimate: &Option<IntervalMark>| match estimate {
                    Some(estimate) => broken(&estimate.label, small, 0.28),
                    None if is_blank => vec!["–".to_owned()],
                    None => Vec::new(),
                };
                row.estimates.iter().map(words).collect()
            })
            .collect();
        let mut bands: Vec<Vec<f64>> = labels
            .iter()
            .map(|row| {
                let height = |lines: &Vec<String>| match lines.len() {
                    0 => 0.0,
                    lines => lines as f64 * small.line_height(),
                };
                row.iter().map(height).collect()
            })
            .collect();
        let set = |name: Type, share, bands: &[Vec<f64>]| {
            let names: Vec<_> =
                chart.rows.iter().map(|row| broken(&row.label, name, share)).collect();
            let bare: Vec<f64> = bands
                .iter()
                .zip(&names)
                .map(|(bands, lines)| bands.iter().sum::<f64>().max(name.height(lines)))
                .collect();
            let room = sheet.most_height() - sheet.y - BELOW - bare.iter().sum::<f64>();
            (name, names, bare, room)
        };
        let mut laid = set(sheet.label(), 0.3, &bands);
        // Long names are smaller and have more room.
        if laid.1.iter().any(|lines| lines.len() > 2) {
            laid = set(sheet.small(), 0.4, &bands);
        }
        // So are those of many rows, which also stand closer, so that the chart fits its page.
        if laid.3 < 0.0 {
            laid = set(sheet.small(), 0.5, &bands);
        }
        // So do many series, which leave no room for words beside each mark.
        let is_close = laid.3 < 0.0 && chart.series.len() > 1;
        if is_close {
            let all = sheet.most_height() - sheet.y - BELOW;
            let series = chart.series.len() as f64;
            let [least, usual] = CLOSE_BAND;
            let band = (all / bands.len() as f64 / series).clamp(least, usual);
            bands
                .iter_mut()
                .flatten()
                .filter(|height| **height > 0.0)
                .for_each(|height| *height = band);
            labels.iter_mut().flatten().for_each(Vec::clear);
            laid = set(sheet.small(), 0.5, &bands);
        }
        let (name, names, bare, room) = laid;
        let label_width = small.widest(labels.iter().flatten().flatten());
        let name_width = name.widest(names.iter().flatten());
        let [usual, least] = ROW_PADDING;
        let padding = (room / (2.0 * bare.len() as f64)).clamp(least, usual);
        Self {
            left: MARGIN + name_width + 8.0,
            right: sheet.width - MARGIN - if label_width > 0.0 { label_width + 8.0 } else { 6.0 },
            heights: bare.into_iter().map(|height| height + 2.0 * padding).collect(),
            name,
            names,
            labels,
            bands,
            is_close,
        }
    }

    fn draw(
        &self,
        sheet: &mut Sheet,
        chart: &IntervalChart,
        plot: &Plot,
    ) -> Result<(), FigureError> {
        let (name, small) = (self.name, sheet.small_soft());
        // Rules first: marks of close rows reach over them.
        let rule = Paint::line(sheet.look.rule, 0.8);
        let mut top = plot.area.top;
        for height in self.heights.iter().rev().skip(1).rev() {
            top += height;
            let ends = [(MARGIN, top), (sheet.width - MARGIN, top)];
            sheet.draw([line("rule", ends.map(pixel), rule)])?;
        }
        let mut top = plot.area.top;
        for (index, row) in chart.rows.iter().enumerate() {
            let height = self.heights[index];
            let middle = top + height / 2.0;
            sheet.centred_block(&self.names[index], MARGIN, middle, name);
            let mut y = middle - self.bands[index].iter().sum::<f64>() / 2.0;
            for (series, estimate) in row.estimates.iter().enumerate() {
                let band = self.bands[index][series];
                let at = y + band / 2.0;
                if let Some(estimate) = estimate {
                    // Where series stand close, their marks are smaller.
                    let radius = if self.is_close {
                        MARK_RADIUS.min(CLOSE_RADIUS * band)
                    } else {
                        MARK_RADIUS
                    };
                    let look = chart.look_of(sheet, index, series);
                    draw_estimate(sheet, plot, estimate, (at, radius), look)?;
                }
                sheet.centred_block(&self.labels[index][series], plot.area.right + 8.0, at, small);
                y += band;
            }
            top += height;
        }
        Ok(())
    }
}

fn draw_estimate(
    sheet: &Sheet,
    plot: &Plot,
    estimate: &IntervalMark,
    (y, radius): (f64, f64),
    look: SeriesLook,
) -> Result<(), FigureError> {
    let solid = SeriesLook { dash: None, ..look };
    let mark = |class, value, inside| Mark { class, at: (value, y), radius, look, inside };
    if let Some((end, is_above)) = estimate.bound() {
        let bound = plot.x(end);
        let tip = if is_above {
            plot.area.right.min(bound + ARROW)
        } else {
            plot.area.left.max(bound - ARROW)
        };
        let ends = [(bound, y), (tip, y)].map(pixel);
        sheet.draw(series_line("bound", &ends, &solid, 1.6))?;
        if (tip - bound).abs() >= ARROW / 2.0 {
            sheet.draw(arrow_head(tip, y, is_above, &solid))?;
        }
        return plot.draw([mark("none", end, Some(sheet.look.page))]);
    }
    let ends = [(estimate.low, y), (estimate.high, y)];
    plot.draw(series_line("interval", &ends, &solid, 1.6))?;
    if plot.across().is_below(estimate.low) {
        sheet.draw(arrow_head(plot.area.left, y, false, &solid))?;
    }
    plot.draw([mark("mark", estimate.value, estimate.is_few.then_some(sheet.look.page))])
}

fn arrow_head(x: f64, y: f64, to_right: bool, look: &SeriesLook) -> Vec<Painted<BackendCoord>> {
    let back = if to_right { x - 4.5 } else { x + 4.5 };
    let head = [(back, y - 3.2), (x, y), (back, y + 3.2)];
    series_line("arrow", &head.map(pixel), look, 1.4)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure};
    use crate::words::Unit;

    fn estimate(count: u64, of: u64) -> IntervalMark {
        let value = count as f64 / of as f64;
        IntervalMark {
            value,
            low: value / 2.0,
            high: value * 1.5 + 3.0 / of as f64,
            count,
            of,
            label: if count == 0 { format!("none in {of}") } else { format!("{count} of {of}") },
            is_few: (1..30).contains(&count),
        }
    }

    pub(crate) fn chart(spread: Spread, rows: usize, series: usize) -> IntervalChart {
        IntervalChart {
            heading: Heading {
                title: "Missed".into(),
                subtitle: "10 puzzles.".into(),
                notes: vec!["Bars: 95 % intervals.".into()],
                alt: "words".into(),
            },
            axis: Axis { title: "share of puzzles".into(), spread, unit: Unit::Percent },
            series: (0..series).map(|index| format!("series {index}")).collect(),
            sides: series == 2,
            looks_from: 0,
            rows: (0..rows)
                .map(|row| IntervalRow {
                    label: format!("shape {row}"),
                    estimates: (0..series)
                        .map(|series| Some(estimate((row * series * 7) as u64, 1000)))
                        .collect(),
                })
                .collect(),
            threshold: Some(ReferenceLine { value: 0.01, label: "1 in 100".into() }),
            ways: None,
            worth: Vec::new(),
            beside: vec!["At the right: how many.".into()],
        }
    }

    #[test]
    fn every_estimate_has_a_mark_and_a_zero_its_bound() {
        for spread in [Spread::Linear, Spread::Log] {
            let chart = chart(spread, 4, 3);
            let svg = chart.draw(Theme::Light, Width::Column).unwrap().svg;
            // Row 0 and series 0 count nothing: 6 of 12.
            assert_eq!((count_class(&svg, "mark"), count_class(&svg, "none")), (6, 6));
            assert_eq!(count_class(&svg, "threshold"), 1);
            check_figure(&chart);
            assert_eq!(chart.csv().unwrap().lines().count(), 13);
        }
    }

    #[test]
    fn an_end_that_stands_alone_is_drawn_as_a_bound() {
        let mut chart = chart(Spread::Log, 2, 2);
        let of = |value, low, high| Some(IntervalMark { value, low, high, ..estimate(40, 1000) });
        let ends = [of(0.44, 0.0, 0.57), of(0.1, 0.1, f64::INFINITY)];
        chart.rows[0].estimates = ends.to_vec();
        chart.rows[1].estimates = vec![of(0.1, 0.05, 0.2), of(0.3, 0.2, 0.4)];
        let svg = chart.draw(Theme::Light, Width::Column).unwrap().svg;
        // The key has one mark for each series.
        assert_eq!((count_class(&svg, "none"), count_class(&svg, "arrow")), (2, 2));
        assert!(!svg.contains("below the axis"));
        check_figure(&chart);
        assert!(chart.csv().unwrap().contains("shape 0,series 1,0.1,0.1,,40,1000"));
    }

    #[test]
    fn marks_say_which_side_is_worth_looking_for() {
        let mut chart = chart(Spread::Log, 4, 1);
        for (row, estimate) in chart.rows.iter_mut().zip([30, 400, 90, 700]) {
            row.estimates = vec![Some(self::estimate(estimate, 1000))];
        }
        let (naked, hidden) = (Some(Side::Naked), Some(Side::Hidden));
        chart.worth = vec![naked, hidden, None, hidden];
        chart.ways = Some(["few of them".into(), "many of them, and more words".into()]);
        check_figure(&chart);
        let svg = chart.draw(Theme::Light, Width::Column).unwrap().svg;
        // The key has one of each more.
        let look = crate::theme::Look::of(Theme::Light);
        let marks = |side: Option<Side>| {
            let colour = look.worth(side).colour;
            let drawing = crate::inspect::read(&svg);
            drawing.of_class("mark").filter(|mark| mark.fill.is_some_and(|f| f.0 == colour)).count()
        };
        assert_eq!([naked, hidden, None].map(marks), [1, 2, 1]);
        assert!(svg.contains("‹ few of them") && svg.contains("not settled"));
        chart.worth.pop();
        assert!(chart.draw(Theme::Light, Width::Page).is_err());
    }

    #[test]
    fn what_rests_on_few_is_hollow() {
        let mut chart = chart(Spread::Log, 2, 1);
        for (row, count) in chart.rows.iter_mut().zip([29, 30]) {
            row.estimates = vec![Some(estimate(count, 1000))];
        }
        check_figure(&chart);
        let page = crate::theme::Look::of(Theme::Light).page;
        for width in [Width::Column, Width::Page] {
            let drawing = crate::inspect::read(&chart.draw(Theme::Light, width).unwrap().svg);
            let marks = drawing.of_class("mark").map(|m| m.fill.is_some_and(|f| f.0 == page));
            let marks: Vec<bool> = marks.collect();
            assert_eq!(marks, [true, false]);
        }
    }

    #[test]
    fn all_shapes_of_a_house_fit_a_column_and_a_page() {
        // A row for each shape that a quiet position can hold, and all that can stand above them.
        let mut chart = chart(Spread::Log, 21, 1);
        for row in &mut chart.rows {
            row.label = "8 open: naked 5 | hidden 3 *".into();
        }
        chart.heading.subtitle = "What is counted, in how many houses, with intervals. ".repeat(3);
        chart.worth = [None, Some(Side::Naked), Some(Side::Hidden)].repeat(7);
        chart.ways = Some(["naked costs less".into(), "hidden costs less".into()]);
        for (width, most) in [(Width::Column, 120.0), (Width::Page, 240.0)] {
            let height = chart.draw(Theme::Light, width).unwrap().height;
            assert!(height <= most, "{width}: {height} mm");
        }
        check_figure(&chart);
    }

    #[test]
    fn a_long_comparison_fits_too() {
        for (width, series, most, is_close) in [
            (Width::Column, 1, 120.0, false),
            (Width::Column, 2, 120.0, true),
            (Width::Column, 3, 120.0, true),
            (Width::Page, 2, 240.0, false),
            (Width::Page, 5, 240.0, true),
        ] {
            let mut chart = chart(Spread::Log, 21, series);
            chart.sides = false;
            for row in &mut chart.rows {
                row.label = "8 open: naked 5 | hidden 3".into();
            }
            let picture = chart.draw(Theme::Light, width).unwrap();
            assert!(picture.height <= most, "{series} series: {} mm", picture.height);
            // What is said of the numbers beside the marks is said where they are.
            assert_eq!(picture.svg.contains("At the right"), !is_close, "{width}, {series}");
            assert_eq!(picture.svg.contains("data of the chart"), is_close, "{width}, {series}");
        }
        check_figure(&chart(Spread::Log, 21, 5));
    }

    #[test]
    fn nasty_data_keeps_its_labels_apart() {
        for spread in [Spread::Linear, Spread::Log] {
            for (rows, series) in [(1, 1), (1, 5), (30, 2)] {
                let mut chart = chart(spread, rows, series);
                check_figure(&chart);
                chart.heading.title = "Title <&\" ".repeat(30);
                chart.axis.title = "An axis with a very long title ".repeat(5);
                for (index, name) in chart.series.iter_mut().enumerate() {
                    *name = "A series <&\" with a very long name ".repeat(index + 1);
                }
                for row in &mut chart.rows {
                    row.label = "A category <&\" of manylettersinawordwithoutend ".repeat(3);
                    for estimate in row.estimates.iter_mut().flatten() {
                        estimate.label = "12,345,678,901 of 98,765,432,109,876".into();
                        estimate.value = 1e12;
                        (estimate.low, estimate.high) = (1e11, 1e15);
                    }
                }
                chart.rows[0].estimates[0] = None;
                chart.threshold =
                    Some(ReferenceLine { value: 1e14, label: "threshold ".repeat(20) });
                if rows * series > 1 {
                    check_figure(&chart);
                }
            }
        }
    }

    #[test]
    fn values_that_do_not_fit_are_refused() {
        let unfit = |change: fn(&mut IntervalChart)| {
            let mut chart = chart(Spread::Log, 2, 2);
            change(&mut chart);
            chart.draw(Theme::Light, Width::Column).unwrap_err().to_string()
        };
        assert!(unfit(|chart| chart.rows.clear()).contains("no estimates"));
        assert!(unfit(|chart| chart.series = vec![String::new(); 6]).contains("at most 5"));
        assert!(unfit(|chart| drop(chart.rows[1].estimates.pop())).contains("one per series"));
        let set = |chart: &mut IntervalChart, value| {
            chart.rows[1].estimates[1].as_mut().unwrap().value = value;
        };
        assert!(unfit(|chart| chart.threshold.as_mut().unwrap().value = 0.0).contains("above 0"));
        let mut chart = chart(Spread::Log, 2, 2);
        for value in [f64::NAN, f64::INFINITY, 7.0] {
            set(&mut chart, value);
            assert!(matches!(
                chart.draw(Theme::Light, Width::Column),
                Err(FigureError::Unfit { .. })
            ));
        }
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("intervals", structure(&chart(Spread::Log, 4, 3)));
    }
}
