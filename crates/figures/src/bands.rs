//! Lines with a band around them: how an interval narrows with the number of units.

use crate::axis::{Axis, Range, Spread};
use crate::backend::pixel;
use crate::canvas::Paint;
use crate::colour::{Rgb, mix};
use crate::elements::{Mark, line, polygon, series_line};
use crate::figure::write_csv;
use crate::plot::Plot;
use crate::sheet::Sheet;
use crate::theme::SeriesLook;
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// A point of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandPoint {
    /// Where it stands, such as a number of puzzles.
    pub at: f64,
    /// The value.
    pub value: f64,
    /// The low end of the interval.
    pub low: f64,
    /// The high end of the interval.
    pub high: f64,
}

/// A line with its band.
#[derive(Clone, Debug, PartialEq)]
pub struct BandLine {
    /// Its name, written at its end.
    pub label: String,
    /// Its points from left to right.
    pub points: Vec<BandPoint>,
}

/// Lines with bands around them.
#[derive(Clone, Debug, PartialEq)]
pub struct BandChart {
    /// The words around the chart.
    pub heading: Heading,
    /// The axis below.
    pub across: Axis,
    /// The axis at the left.
    pub up: Axis,
    /// At most five lines.
    pub lines: Vec<BandLine>,
}

impl BandChart {
    fn points(&self) -> impl Iterator<Item = &BandPoint> {
        self.lines.iter().flat_map(|line| &line.points)
    }

    fn check(&self) -> Result<(), FigureError> {
        let heading = &self.heading;
        if self.lines.is_empty() || self.lines.iter().any(|line| line.points.is_empty()) {
            return Err(heading.no_data("points on a line"));
        }
        heading.check_series("lines", self.lines.len())?;
        for line in &self.lines {
            for &BandPoint { at, value, low, high } in &line.points {
                heading.check_finite(&line.label, [at])?;
                heading.check_within(&line.label, value, (low, high))?;
                let above = |axis: &Axis, value: f64| axis.spread == Spread::Linear || value > 0.0;
                if !above(&self.across, at) || !above(&self.up, low) {
                    let found = format!("{low} at {at}");
                    return Err(heading.unfit(&line.label, found, "values above 0"));
                }
            }
            if !line.points.is_sorted_by(|one, next| one.at < next.at) {
                return Err(heading.unfit(&line.label, "points out of order", "rising places"));
            }
        }
        Ok(())
    }
}

impl BandLine {
    /// Tests if the band of another line meets this one.
    fn meets(&self, other: &Self) -> bool {
        self.points.iter().any(|around| {
            let mut same = other.points.iter().filter(|point| point.at == around.at);
            same.any(|point| around.low <= point.high && point.low <= around.high)
        })
    }
}

/// A label at the right end of the chart.
struct EndLabel {
    lines: Vec<String>,
    /// Where its line ends.
    end: (f64, f64),
    middle: f64,
    height: f64,
}

/// Moves labels apart, each as little downwards as it must, then up from the bottom.
fn move_apart(labels: &mut [EndLabel], bottom: f64) {
    labels.sort_by(|one, other| one.middle.total_cmp(&other.middle));
    for index in 1..labels.len() {
        let (above, height) = (labels[index - 1].middle, labels[index - 1].height);
        let least = above + (height + labels[index].height) / 2.0;
        labels[index].middle = labels[index].middle.max(least);
    }
    let mut limit = bottom;
    for label in labels.iter_mut().rev() {
        label.middle = label.middle.min(limit - label.height / 2.0);
        limit = label.middle - label.height / 2.0;
    }
}

impl Figure for BandChart {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        const LEAD: f64 = 12.0;
        self.check()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        let small = sheet.small();
        let limit = sheet.inner_width() * 0.28;
        let names: Vec<_> =
            self.lines.iter().map(|line| small.broken(&line.label, limit)).collect();
        let label_height = |lines: &[String]| small.height(lines) + 4.0;
        let labels_height: f64 = names.iter().map(|lines| label_height(lines)).sum();
        let height = width.plot_height().max(labels_height);

        let across = Range::of(&self.across, self.points().map(|point| point.at), false);
        let ends = self.points().flat_map(|point| [point.low, point.high]);
        let up = Range::of(&self.up, ends, false);
        let room = small.widest(names.iter().flatten()) + LEAD;
        let plot =
            Plot::with_axes(&mut sheet, (&self.across, across), (&self.up, up), height, room)?;

        self.draw_lines(&sheet, &plot)?;
        let last = self.lines.iter().filter_map(|line| line.points.last());
        let ends = last.map(|point| plot.at((point.at, point.value)));
        let labels = names.into_iter().zip(ends).map(|(lines, end)| {
            let height = label_height(&lines);
            let middle = end.1.max(plot.area.top + height / 2.0);
            EndLabel { lines, end, middle, height }
        });
        let mut labels: Vec<EndLabel> = labels.collect();
        move_apart(&mut labels, plot.area.bottom);
        for label in &labels {
            let x = plot.area.right + LEAD;
            let leader = [label.end, (plot.area.right + 3.0, label.end.1), (x - 2.0, label.middle)];
            let paint = Paint::line(sheet.look.edge, 0.8);
            sheet.draw([line("leader", leader.map(pixel), paint)])?;
            sheet.centred_block(&label.lines, x, label.middle, small);
        }
        Ok(sheet.noted(&self.heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.lines.iter().flat_map(|line| {
            line.points.iter().map(|&BandPoint { at, value, low, high }| {
                let [at, value, low, high] =
                    [at, value, low, high].map(|number| number.to_string());
                [line.label.clone(), at, value, low, high]
            })
        });
        write_csv("line,at,value,low,high", records)
    }
}

impl BandChart {
    /// Returns the colour of a band: that of its line, if it differs from the page.
    fn band_colour(sheet: &Sheet, index: usize) -> Rgb {
        let look = sheet.look.line(index, sheet.look.page);
        if look.colour == sheet.look.page { look.outline } else { look.colour }
    }

    /// Returns how a line looks upon all bands that meet its own.
    fn look(&self, sheet: &Sheet, index: usize, opacity: f64) -> SeriesLook {
        let bands = self.lines.iter().enumerate();
        let meeting = bands.filter(|(_, other)| other.meets(&self.lines[index]));
        let ground = meeting.fold(sheet.look.page, |under, (other, _)| {
            mix(under, Self::band_colour(sheet, other), opacity)
        });
        sheet.look.line(index, ground)
    }

    /// Draws bands, then lines.
    fn draw_lines(&self, sheet: &Sheet, plot: &Plot) -> Result<(), FigureError> {
        /// More marks than this would hide the line.
        const MOST_MARKS: usize = 16;
        let opacity = (0.54 / self.lines.len() as f64).min(0.18);
        for (index, band) in self.lines.iter().enumerate() {
            let look = self.look(sheet, index, opacity);
            let high: Vec<_> = band.points.iter().map(|point| (point.at, point.high)).collect();
            let low: Vec<_> = band.points.iter().map(|point| (point.at, point.low)).collect();
            let around: Vec<_> = high.iter().chain(low.iter().rev()).copied().collect();
            let colour = Self::band_colour(sheet, index);
            let fill = Paint { opacity: Some(opacity), ..Paint::fill(colour) };
            plot.draw([polygon("band", around, fill)])?;
            let edge = Paint::line(look.outline, 0.8);
            plot.draw([high, low].map(|points| line("band-edge", points, edge)))?;
        }
        for (index, series) in self.lines.iter().enumerate() {
            let look = self.look(sheet, index, opacity);
            let points: Vec<_> =
                series.points.iter().map(|point| (point.at, point.value)).collect();
            plot.draw(series_line("line", &points, &look, 1.8))?;
            if points.len() <= MOST_MARKS {
                let mark = |at| Mark { class: "mark", at, radius: 2.8, look, inside: None };
                plot.draw(points.into_iter().map(mark))?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure};
    use crate::words::Unit;

    pub(crate) fn chart(lines: usize, points: usize) -> BandChart {
        let point = |line: usize, index: usize| {
            let at = 10.0 * 1.5f64.powi(index as i32);
            let value = 0.3 + 0.01 * line as f64;
            let half = (value * (1.0 - value) / at).sqrt();
            BandPoint { at, value, low: value - half, high: value + half }
        };
        BandChart {
            heading: Heading {
                title: "Narrowing".into(),
                subtitle: "Puzzles.".into(),
                notes: vec!["A note.".into()],
                alt: "words".into(),
            },
            across: Axis { title: "puzzles".into(), spread: Spread::Log, unit: Unit::Number },
            up: Axis { title: "share".into(), spread: Spread::Linear, unit: Unit::Percent },
            lines: (0..lines)
                .map(|line| BandLine {
                    label: format!("line {line}"),
                    points: (0..points).map(|index| point(line, index)).collect(),
                })
                .collect(),
        }
    }

    #[test]
    fn lines_have_bands_and_end_in_their_names() {
        let svg = chart(3, 10).draw(Theme::Light, Width::Column).unwrap().svg;
        assert_eq!((count_class(&svg, "band"), count_class(&svg, "line")), (3, 3));
        assert_eq!(count_class(&svg, "mark"), 30);
        check_figure(&chart(3, 10));
        assert_eq!(chart(3, 10).csv().unwrap().lines().count(), 31);
    }

    #[test]
    fn nasty_data_keeps_its_labels_apart() {
        for (lines, points) in [(1, 1), (5, 2), (5, 60)] {
            check_figure(&chart(lines, points));
            let mut long = chart(lines, points);
            for (index, line) in long.lines.iter_mut().enumerate() {
                line.label = "A line <&\" with averylongnamewithoutanyend ".repeat(2);
                line.label.push_str(&index.to_string());
                for point in &mut line.points {
                    (point.value, point.low, point.high) = (1e15, 1e15, 1e15);
                }
            }
            check_figure(&long);
            long.up.spread = Spread::Log;
            check_figure(&long);
        }
    }

    #[test]
    fn wrong_points_are_refused() {
        let refused = |change: fn(&mut BandChart)| {
            let mut chart = chart(2, 5);
            change(&mut chart);
            chart.draw(Theme::Light, Width::Column).unwrap_err().to_string()
        };
        assert!(refused(|chart| chart.lines.clear()).contains("no points"));
        assert!(refused(|chart| chart.lines[1].points.swap(0, 1)).contains("order"));
        assert!(refused(|chart| chart.lines[1].points[0].at = 0.0).contains("above 0"));
        assert!(refused(|chart| chart.lines[0].points[2].low = f64::NAN).contains("finite"));
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("bands", structure(&chart(3, 10)));
    }
}
