//! A counted distribution as bars, with reference distributions drawn over it.

use crate::axis::{Axis, Range};
use crate::canvas::Paint;
use crate::elements::{Mark, rectangle, series_line};
use crate::figure::write_csv;
use crate::plot::Plot;
use crate::sheet::{Sample, Sheet};
use crate::words::Unit;
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// A distribution from elsewhere.
#[derive(Clone, Debug, PartialEq)]
pub struct Reference {
    /// Its name and source.
    pub label: String,
    /// Values with their shares, 0 to 1, in rising order of the values.
    pub shares: Vec<(i64, f64)>,
}

/// How often each whole number was counted, beside how often others found it.
#[derive(Clone, Debug, PartialEq)]
pub struct DistributionChart {
    /// The words around the chart.
    pub heading: Heading,
    /// What the whole numbers are.
    pub axis_title: String,
    /// What the shares are of.
    pub share_title: String,
    /// The name of what was counted.
    pub observed_label: String,
    /// Values with their counts.
    pub observed: Vec<(i64, u64)>,
    /// At most five distributions to compare with.
    pub references: Vec<Reference>,
}

/// The most values that can be told apart on the axis.
const MOST_VALUES: u64 = 150;

impl DistributionChart {
    fn total(&self) -> f64 {
        self.observed.iter().map(|&(_, count)| count as f64).sum()
    }

    fn values(&self) -> impl Iterator<Item = i64> {
        let references = self.references.iter().flat_map(|reference| &reference.shares);
        let observed = self.observed.iter().map(|&(value, _)| value);
        observed.chain(references.map(|&(value, _)| value))
    }

    fn ends(&self) -> Result<(i64, i64), FigureError> {
        let heading = &self.heading;
        if self.total() == 0.0 {
            return Err(heading.no_data("counts"));
        }
        heading.check_series("references", self.references.len())?;
        for reference in &self.references {
            for &(value, share) in &reference.shares {
                if !(0.0..=1.0).contains(&share) {
                    let place = format!("{}, {value}", reference.label);
                    return Err(heading.unfit(&place, share, "a share from 0 to 1"));
                }
            }
            if !reference.shares.is_sorted_by(|one, next| one.0 < next.0) {
                let expected = "rising values, each once";
                return Err(heading.unfit(&reference.label, "values out of order", expected));
            }
        }
        let (Some(least), Some(most)) = (self.values().min(), self.values().max()) else {
            return Err(heading.no_data("counts"));
        };
        if most.abs_diff(least) >= MOST_VALUES {
            let expected = format!("at most {MOST_VALUES} values");
            return Err(heading.unfit("values", format!("{least} to {most}"), &expected));
        }
        Ok((least, most))
    }
}

impl Figure for DistributionChart {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        let (least, most) = self.ends()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        let ground = sheet.look.rule;
        let bar = Paint::fill(ground).outlined(sheet.look.edge, 1.0);
        let mut entries = vec![(Sample::Patch(bar), self.observed_label.clone())];
        for (index, reference) in self.references.iter().enumerate() {
            let look = sheet.look.series_on(index, ground);
            entries.push((Sample::LineAndMark(look), reference.label.clone()));
        }
        sheet.key(&entries)?;

        let total = self.total();
        let counted = self.observed.iter().map(|&(_, count)| count as f64 / total);
        let references = self.references.iter().flat_map(|reference| &reference.shares);
        let shares = counted.chain(references.map(|&(_, share)| share));
        let across_axis = Axis::linear(&self.axis_title, Unit::Number);
        let up_axis = Axis::linear(&self.share_title, Unit::Percent);
        let up = Range::of(&up_axis, shares, true);
        let across = Range::whole(least, most);
        let height = width.plot_height();
        let plot =
            Plot::with_axes(&mut sheet, (&across_axis, across), (&up_axis, up), height, 0.0)?;

        let slot = plot.area.width() / (most.abs_diff(least) + 1) as f64;
        let half = (16.0 / slot).min(0.36);
        let counted = self.observed.iter().filter(|(_, count)| *count > 0);
        plot.draw(counted.map(|&(value, count)| {
            let corners = [(value as f64 - half, 0.0), (value as f64 + half, count as f64 / total)];
            rectangle("bar", corners, bar)
        }))?;
        for (index, reference) in self.references.iter().enumerate() {
            let look = sheet.look.series_on(index, ground);
            let points: Vec<_> =
                reference.shares.iter().map(|&(value, share)| (value as f64, share)).collect();
            plot.draw(series_line("reference", &points, &look, 1.6))?;
            let mark = |at| Mark { class: "point", at, radius: 3.0, look, inside: None };
            plot.draw(points.into_iter().map(mark))?;
        }
        Ok(sheet.noted(&self.heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let total = self.total();
        let observed = self.observed.iter().map(|&(value, count)| {
            let share = if total > 0.0 { count as f64 / total } else { 0.0 };
            [self.observed_label.clone(), value.to_string(), share.to_string(), count.to_string()]
        });
        let references = self.references.iter().flat_map(|reference| {
            reference.shares.iter().map(|(value, share)| {
                [reference.label.clone(), value.to_string(), share.to_string(), String::new()]
            })
        });
        write_csv("distribution,value,share,count", observed.chain(references))
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure};

    pub(crate) fn chart() -> DistributionChart {
        // Clue counts of minimal puzzles, in percent: D. Berthier, "Unbiased Statistics of a
        // Constraint Satisfaction Problem", CISSE 2009 (real; the last digits from memory).
        let real = [0.0034, 0.149, 2.28, 13.42, 31.94, 32.74, 15.48, 3.56, 0.41, 0.022];
        DistributionChart {
            heading: Heading {
                title: "Clues".into(),
                subtitle: "100 puzzles.".into(),
                notes: vec![],
                alt: "words".into(),
            },
            axis_title: "clues".into(),
            share_title: "share of puzzles".into(),
            observed_label: "counted".into(),
            observed: (20..30).map(|value| (value, 10)).collect(),
            references: vec![Reference {
                label: "published".into(),
                shares: (22..).zip(real.map(|percent| percent / 100.0)).collect(),
            }],
        }
    }

    #[test]
    fn bars_and_references_are_drawn_over_all_values() {
        let svg = chart().draw(Theme::Light, Width::Column).unwrap().svg;
        assert_eq!((count_class(&svg, "bar"), count_class(&svg, "point")), (10, 10));
        assert_eq!(count_class(&svg, "reference"), 1);
        assert_eq!(chart().csv().unwrap().lines().count(), 21);
        check_figure(&chart());
    }

    #[test]
    fn nasty_data_keeps_its_labels_apart() {
        for values in [1, 2, 150] {
            let mut chart = chart();
            chart.observed = (-3..values - 3).map(|value| (value, u64::MAX / 2)).collect();
            chart.references.clear();
            check_figure(&chart);
            chart.references = (0..5)
                .map(|index| Reference {
                    label: "A reference <&\" with a long name ".repeat(index + 1),
                    shares: vec![(-3, 0.0), (-2, 1.0 / 7.0)]
                        .into_iter()
                        .take(values as usize)
                        .collect(),
                })
                .collect();
            chart.share_title = "A long title of the upright axis ".repeat(6);
            check_figure(&chart);
        }
    }

    #[test]
    fn what_is_no_distribution_is_refused() {
        let refused = |change: fn(&mut DistributionChart)| {
            let mut chart = chart();
            change(&mut chart);
            chart.draw(Theme::Light, Width::Column).unwrap_err().to_string()
        };
        assert!(refused(|chart| chart.observed = vec![(3, 0)]).contains("no counts"));
        assert!(refused(|chart| chart.observed.push((10_000, 1))).contains("150"));
        assert!(refused(|chart| chart.references[0].shares[1].1 = 1.5).contains("1.5"));
        assert!(refused(|chart| chart.references[0].shares.swap(0, 1)).contains("order"));
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("distribution", structure(&chart()));
    }
}
