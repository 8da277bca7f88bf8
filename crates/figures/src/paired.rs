//! Two distributions of cost on the same units, on one axis.

use crate::axis::{Axis, Range, Spread};
use crate::backend::pixel;
use crate::canvas::{Anchor, Paint};
use crate::elements::{Mark, polygon, series_line};
use crate::figure::write_csv;
use crate::plot::Plot;
use crate::sheet::{MARGIN, Sheet};
use crate::theme::SeriesLook;
use crate::words::Unit;
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// One of two distributions.
#[derive(Clone, Debug, PartialEq)]
pub struct PairedSide {
    /// Its name.
    pub label: String,
    /// How many values lie between each edge and the next.
    pub counts: Vec<u64>,
    /// The median.
    pub median: f64,
    /// The mean.
    pub mean: f64,
}

/// Two distributions as step curves. The first is filled and has a solid outline, the second is
/// dashed and has no fill: the look of the naked and the hidden side in diagrams. Above them stand
/// their medians, filled, and their means, hollow, each with its word.
#[derive(Clone, Debug, PartialEq)]
pub struct PairedChart {
    /// The words around the chart.
    pub heading: Heading,
    /// What is measured.
    pub axis: Axis,
    /// What the shares are of.
    pub share_title: String,
    /// The edges of the bins, in rising order; one more than counts.
    pub edges: Vec<f64>,
    /// The two distributions.
    pub sides: [PairedSide; 2],
    /// The comparison in words, such as a ratio with its interval.
    pub ratio: String,
}

impl PairedChart {
    fn check(&self) -> Result<(), FigureError> {
        let heading = &self.heading;
        if self.edges.len() < 2 {
            return Err(heading.no_data("bins"));
        }
        heading.check_finite("edges", self.edges.iter().copied())?;
        if !self.edges.is_sorted_by(|one, next| one < next) {
            return Err(heading.unfit("edges", "edges out of order", "rising edges, each once"));
        }
        if self.axis.spread == Spread::Log && self.edges[0] <= 0.0 {
            return Err(heading.unfit("edges", self.edges[0], "edges above 0"));
        }
        for side in &self.sides {
            let bins = self.edges.len() - 1;
            if side.counts.len() != bins {
                let found = format!("{} counts", side.counts.len());
                return Err(heading.unfit(&side.label, found, &format!("{bins}, one per bin")));
            }
            if side.counts.iter().all(|&count| count == 0) {
                return Err(heading.no_data("counts on one side"));
            }
            if !(self.edges[0]..=self.edges[bins]).contains(&side.median) {
                let expected = format!("a median from {} to {}", self.edges[0], self.edges[bins]);
                return Err(heading.unfit(&side.label, side.median, &expected));
            }
            if !(self.edges[0]..=self.edges[bins]).contains(&side.mean) {
                let expected = format!("a mean from {} to {}", self.edges[0], self.edges[bins]);
                return Err(heading.unfit(&side.label, side.mean, &expected));
            }
        }
        Ok(())
    }
}

impl PairedSide {
    fn shares(&self) -> Vec<f64> {
        let total: f64 = self.counts.iter().map(|&count| count as f64).sum();
        self.counts.iter().map(|&count| count as f64 / total).collect()
    }
}

impl Figure for PairedChart {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        self.check()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        let looks = sheet.look.sides();
        if !self.ratio.is_empty() {
            let label = sheet.label();
            sheet.paragraph(&self.ratio, label);
            sheet.y += 6.0;
        }
        let strip = sheet.y;
        let written = self.sides.each_ref().map(|side| self.averages(side));
        let lines = written
            .each_ref()
            .map(|words| sheet.small().broken(words, sheet.inner_width() - 2.0 * MARGIN));
        let height = |lines: &Vec<String>| sheet.small().height(lines) + STRIP_MARKS;
        sheet.y += lines.iter().map(height).sum::<f64>() + 4.0;
        let shares = self.sides.each_ref().map(PairedSide::shares);
        let up_axis = Axis::linear(&self.share_title, Unit::Percent);
        let up = Range::of(&up_axis, shares.iter().flatten().copied(), true);
        let across = Range::of(&self.axis, self.edges.iter().copied(), true);
        let height = width.plot_height();
        let plot = Plot::with_axes(&mut sheet, (&self.axis, across), (&up_axis, up), height, 0.0)?;
        for (index, (shares, look)) in shares.iter().zip(&looks).enumerate() {
            for curve in self.curves(shares) {
                if index == 0 {
                    let fill = Paint {
                        opacity: Some(sheet.look.naked_opacity),
                        ..Paint::fill(sheet.look.naked_fill)
                    };
                    plot.draw([polygon("fill", curve.clone(), fill)])?;
                }
                plot.draw(series_line("curve", &curve, look, 1.7))?;
            }
        }
        let mut top = strip;
        for ((side, &look), lines) in self.sides.iter().zip(&looks).zip(&lines) {
            let below = top + sheet.small().height(lines);
            let [median, mean] = [side.median, side.mean].map(|value| plot.x(value));
            let how = sheet.small();
            let middle = sheet.inside(how.widest(lines), f64::midpoint(median, mean));
            let how = how.anchored(Anchor::Centre);
            sheet.block(lines, middle, top, how);
            let y = below + STRIP_MARKS / 2.0;
            let solid = SeriesLook { dash: None, ..look };
            let between = [(median.min(mean), y), (median.max(mean), y)].map(pixel);
            sheet.draw(series_line("between", &between, &solid, 1.2))?;
            let page = sheet.look.page;
            let mark =
                |class, x, inside| Mark { class, at: pixel((x, y)), radius: 3.4, look, inside };
            sheet.draw([mark("mean-mark", mean, Some(page)), mark("median-mark", median, None)])?;
            top = below + STRIP_MARKS;
        }
        Ok(sheet.noted(&self.heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.sides.iter().flat_map(|side| {
            self.edges.windows(2).zip(&side.counts).map(|(bin, count)| {
                let [from, to] = [bin[0], bin[1]].map(|edge| edge.to_string());
                let [median, mean] = [side.median, side.mean].map(|value| value.to_string());
                [side.label.clone(), from, to, count.to_string(), median, mean]
            })
        });
        write_csv("side,from,to,count,median,mean", records)
    }
}

/// The height of the marks of the medians and means.
const STRIP_MARKS: f64 = 11.0;

impl PairedChart {
    /// Writes the median and the mean of a side.
    fn averages(&self, side: &PairedSide) -> String {
        let [median, mean] = [side.median, side.mean].map(|v| self.axis.unit.write_rounded(v));
        format!("{}: median {median} (filled), mean {mean} (hollow)", side.label)
    }

    /// Returns the outlines of runs of bins that are not empty, each from the axis up, along and down
    /// again.
    fn curves(&self, shares: &[f64]) -> Vec<Vec<(f64, f64)>> {
        let bins: Vec<_> = self.edges.windows(2).zip(shares).collect();
        let runs = bins.chunk_by(|one, next| (*one.1 > 0.0) == (*next.1 > 0.0));
        let filled = runs.filter(|run| *run[0].1 > 0.0);
        filled
            .map(|run| {
                let (first, last) = (run[0].0[0], run[run.len() - 1].0[1]);
                let steps =
                    run.iter().flat_map(|(bin, share)| [(bin[0], **share), (bin[1], **share)]);
                [(first, 0.0)].into_iter().chain(steps).chain([(last, 0.0)]).collect()
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure};

    fn chart(spread: Spread, bins: usize) -> PairedChart {
        let side = |label: &str, turn: usize| PairedSide {
            label: label.into(),
            counts: (0..bins).map(|bin| ((bin * turn) % 7 + 1) as u64).collect(),
            median: 1.0 + bins as f64 / 2.0,
            mean: 1.0 + bins as f64 / 2.5,
        };
        PairedChart {
            heading: Heading {
                title: "Glances".into(),
                subtitle: "9 houses.".into(),
                notes: vec!["A note.".into()],
                alt: "words".into(),
            },
            axis: Axis { title: "glances".into(), spread, unit: Unit::Number },
            share_title: "share of houses".into(),
            edges: (0..=bins).map(|edge| 1.0 + edge as f64).collect(),
            sides: [side("naked 4", 3), side("hidden 5", 5)],
            ratio: "The hidden look costs 1.4 times as many glances.".into(),
        }
    }

    #[test]
    fn both_curves_and_medians_are_drawn() {
        for spread in [Spread::Linear, Spread::Log] {
            let svg = chart(spread, 12).draw(Theme::Light, Width::Column).unwrap().svg;
            assert_eq!((count_class(&svg, "curve"), count_class(&svg, "fill")), (2, 1));
            assert_eq!((count_class(&svg, "median-mark"), count_class(&svg, "mean-mark")), (2, 2));
            check_figure(&chart(spread, 12));
        }
        assert_eq!(chart(Spread::Linear, 12).csv().unwrap().lines().count(), 25);
    }

    #[test]
    fn nasty_data_keeps_its_labels_apart() {
        for spread in [Spread::Linear, Spread::Log] {
            for bins in [1, 300] {
                let mut chart = chart(spread, bins);
                chart.ratio = "Ratio <&\" ".repeat(40);
                chart.sides[0].label = "A side <&\" with a long name ".repeat(9);
                for edge in &mut chart.edges {
                    *edge *= 1e14;
                }
                for side in &mut chart.sides {
                    (side.median, side.mean) = (1e14, 1e14);
                    side.counts[0] = u64::MAX;
                }
                check_figure(&chart);
            }
        }
    }

    #[test]
    fn what_is_no_pair_is_refused() {
        let refused = |change: fn(&mut PairedChart)| {
            let mut chart = chart(Spread::Log, 5);
            change(&mut chart);
            chart.draw(Theme::Light, Width::Column).unwrap_err().to_string()
        };
        assert!(refused(|chart| chart.edges.clear()).contains("no bins"));
        assert!(refused(|chart| chart.edges[0] = 0.0).contains("above 0"));
        assert!(refused(|chart| chart.edges.swap(1, 2)).contains("rising"));
        assert!(refused(|chart| chart.sides[1].counts = vec![0; 5]).contains("no counts"));
        assert!(refused(|chart| chart.sides[0].counts.push(1)).contains("one per bin"));
        assert!(refused(|chart| chart.sides[0].median = f64::NAN).contains("NaN"));
        assert!(refused(|chart| chart.sides[1].mean = 99.0).contains("a mean from 1 to 6"));
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("paired", structure(&chart(Spread::Log, 12)));
    }
}
