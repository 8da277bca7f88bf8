//! Horizontal bars made of parts: shares of a whole, or counts.

use crate::axis::{Axis, Range};
use crate::backend::pixel;
use crate::canvas::{Anchor, Area, Paint, Type};
use crate::colour::{Rgb, label_on};
use crate::elements::{rectangle, text};
use crate::figure::write_csv;
use crate::plot::Plot;
use crate::sheet::{MARGIN, Sample, Sheet};
use crate::words::Unit;
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// A bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShareBar {
    /// The name of the bar.
    pub label: String,
    /// How many each part counts, or what it weighs, in the order of the parts.
    pub counts: Vec<u64>,
    /// How many were counted, where the parts are weights; otherwise the sum of the parts.
    pub n: Option<u64>,
}

/// Bars of ordered parts. The parts run from light to dark (on a dark page from dark to light) and
/// from left to right, and carry their values where there is room.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShareBars {
    /// The words around the chart.
    pub heading: Heading,
    /// What is counted.
    pub axis_title: String,
    /// The names of the parts in their order.
    pub parts: Vec<String>,
    /// The bars from top to bottom.
    pub bars: Vec<ShareBar>,
}

const BAR_HEIGHT: f64 = 19.0;
const BAR_GAP: f64 = 7.0;

impl ShareBar {
    fn total(&self) -> f64 {
        self.counts.iter().map(|&count| count as f64).sum()
    }

    fn n(&self) -> f64 {
        self.n.map_or_else(|| self.total(), |n| n as f64)
    }

    /// Writes how many the bar stands for, to the last one.
    fn total_in_full(&self) -> String {
        let sum = self.counts.iter().try_fold(0u64, |sum, &count| sum.checked_add(count));
        let n = self.n.or(sum);
        n.map_or_else(|| Unit::Number.write_rounded(self.total()), tallyhouse_words::count)
    }
}

impl ShareBars {
    fn check(&self) -> Result<(), FigureError> {
        if self.bars.is_empty() || self.parts.is_empty() {
            return Err(self.heading.no_data("bars with parts"));
        }
        for bar in &self.bars {
            if bar.counts.len() != self.parts.len() {
                let found = format!("{} counts", bar.counts.len());
                let expected = format!("{}, one per part", self.parts.len());
                return Err(self.heading.unfit(&bar.label, found, &expected));
            }
        }
        Ok(())
    }

    fn part_fill(&self, sheet: &Sheet, part: usize) -> Rgb {
        let steps = (self.parts.len() - 1).max(1) as f64;
        // Both ends of the scale are left out: they come too close to a page.
        sheet.look.shade(0.06 + 0.86 * part as f64 / steps)
    }

    /// Returns the fullest label of a part that its room holds.
    fn part_label(
        &self,
        part: usize,
        count: u64,
        total: f64,
        how: Type,
        room: f64,
    ) -> Option<String> {
        let value = share(count as f64 / total);
        let full = format!("{}: {value}", self.parts[part]);
        [full, value].into_iter().find(|words| how.width(words) <= room)
    }
}

/// Writes a share in whole percent, small ones with a decimal.
fn share(value: f64) -> String {
    Unit::Percent.write(value, if value < 0.0995 { 0.001 } else { 0.01 })
}

impl Figure for ShareBars {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        self.check()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        let samples = (0..self.parts.len()).map(|part| {
            let fill = Paint::fill(self.part_fill(&sheet, part));
            Sample::Patch(fill.outlined(sheet.look.edge, 0.9))
        });
        let entries: Vec<_> = samples.zip(self.parts.iter().cloned()).collect();
        sheet.key(&entries)?;

        let (name, small) = (sheet.label(), sheet.small_soft());
        let limit = sheet.inner_width() * 0.3;
        let names: Vec<(Vec<String>, Vec<String>)> = self
            .bars
            .iter()
            .map(|bar| {
                let total = format!("n = {}", bar.total_in_full());
                (name.broken(&bar.label, limit), small.broken(&total.replace(' ', "\u{a0}"), limit))
            })
            .collect();
        let name_width = |(label, total): &(Vec<String>, Vec<String>)| {
            name.widest(label).max(small.widest(total))
        };
        let left = MARGIN + names.iter().map(name_width).fold(0.0, f64::max) + 8.0;
        let text_heights: Vec<f64> =
            names.iter().map(|(label, total)| name.height(label) + small.height(total)).collect();
        let height: f64 = text_heights.iter().map(|text| text.max(BAR_HEIGHT) + BAR_GAP).sum();
        let area = Area::new(left, sheet.y, sheet.width - MARGIN - 8.0, sheet.y + height);
        let axis = Axis::linear(&self.axis_title, Unit::Percent);
        let range = Range::of(&axis, [0.0, 1.0].into_iter(), true);
        let heights = Range::between(area.bottom, area.top);
        let plot = Plot::new(&sheet, area, range, heights)?;
        plot.draw_x_axis(&mut sheet, &axis.title, true)?;

        let mut top = area.top;
        for ((bar, (label, total)), text) in self.bars.iter().zip(&names).zip(text_heights) {
            let row = text.max(BAR_HEIGHT) + BAR_GAP;
            let middle = top + row / 2.0;
            let below = sheet.block(label, MARGIN, middle - text / 2.0, name);
            sheet.block(total, MARGIN, below, small);
            self.draw_bar(&sheet, bar, &plot, middle)?;
            top += row;
        }
        Ok(sheet.noted(&self.heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.bars.iter().flat_map(|bar| {
            let total = bar.total();
            bar.counts.iter().zip(&self.parts).map(move |(&count, part)| {
                let share = if total > 0.0 { count as f64 / total } else { 0.0 };
                [
                    bar.label.clone(),
                    part.clone(),
                    count.to_string(),
                    total.to_string(),
                    share.to_string(),
                    bar.n().to_string(),
                ]
            })
        });
        write_csv("bar,part,count,of,share,n", records)
    }
}

impl ShareBars {
    fn draw_bar(
        &self,
        sheet: &Sheet,
        bar: &ShareBar,
        plot: &Plot,
        middle: f64,
    ) -> Result<(), FigureError> {
        let small = sheet.small().anchored(Anchor::Centre);
        let total = bar.total();
        if total == 0.0 {
            let how = sheet.small_soft().haloed(sheet.look.page);
            let at = (plot.area.left + 4.0, how.base_line(middle));
            sheet.canvas().text("nothing counted", at.0, at.1, how);
            return Ok(());
        }
        let (top, bottom) = (middle - BAR_HEIGHT / 2.0, middle + BAR_HEIGHT / 2.0);
        let mut sum = 0.0;
        let mut areas = Vec::new();
        for (part, &count) in bar.counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            let from = sum;
            sum += count as f64;
            let corners = [(from / total, bottom), (sum / total, top)];
            areas.push((part, count, corners, self.part_fill(sheet, part)));
        }
        // Faint parts last, so that their edges stay whole.
        areas.sort_by_key(|(.., fill)| !sheet.look.reads(*fill));
        for (part, count, corners, fill) in areas {
            let area = plot.area_of(corners);
            // A line around a very thin part would cover it.
            let line = (area.width() / 3.0).min(0.9);
            let paint = Paint::fill(fill).outlined(sheet.look.edge_of(fill), line);
            plot.draw([rectangle("part", corners, paint)])?;
            let how = small.coloured(label_on(fill));
            if let Some(words) = self.part_label(part, count, total, how, area.width() - 5.0) {
                sheet.draw([text(words, pixel(area.centre()), how)])?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure, texts};

    fn chart(bars: usize, parts: usize) -> ShareBars {
        ShareBars {
            heading: Heading {
                title: "First needed".into(),
                subtitle: "Puzzles.".into(),
                notes: vec!["A note.".into()],
                alt: "words".into(),
            },
            axis_title: "share of puzzles".into(),
            parts: (0..parts).map(|part| format!("part {part}")).collect(),
            bars: (0..bars)
                .map(|bar| ShareBar {
                    label: format!("collection {bar}"),
                    counts: (0..parts as u64).map(|part| (part + 1) * 10).collect(),
                    n: None,
                })
                .collect(),
        }
    }

    #[test]
    fn parts_are_drawn_and_carry_their_shares() {
        let mut chart = chart(2, 4);
        chart.bars[1].counts = vec![0, 1, 0, 999];
        let svg = chart.draw(Theme::Light, Width::Page).unwrap().svg;
        assert_eq!(count_class(&svg, "part"), 4 + 2);
        let texts = texts(&svg);
        for words in ["10\u{a0}%", "part 3: 40\u{a0}%", "part 3: 100\u{a0}%", "n\u{a0}=\u{a0}100"] {
            assert!(texts.iter().any(|text| text == words), "{words}: {texts:?}");
        }
        assert!(!texts.iter().any(|text| text.contains("0.1\u{a0}%")), "no room for 1 in 1,000");
        assert_eq!(chart.csv().unwrap().lines().count(), 9);
        check_figure(&chart);
    }

    #[test]
    fn bars_of_weights_say_how_many_were_counted() {
        let mut chart = chart(1, 2);
        chart.bars[0] = ShareBar { label: "a".into(), counts: vec![3, 1], n: Some(1234) };
        let svg = chart.draw(Theme::Light, Width::Page).unwrap().svg;
        assert!(texts(&svg).iter().any(|text| text == "n\u{a0}=\u{a0}1,234"), "{:?}", texts(&svg));
        assert!(chart.csv().unwrap().contains("a,part 0,3,4,0.75,1234"));
        check_figure(&chart);
    }

    #[test]
    fn nasty_data_keeps_its_labels_apart() {
        for (bars, parts) in [(1, 1), (30, 9), (3, 36)] {
            let mut chart = chart(bars, parts);
            check_figure(&chart);
            chart.axis_title = "A long axis title ".repeat(12);
            for bar in &mut chart.bars {
                bar.label = "A bar <&\" ofmanyletterswithoutanyend and words".into();
                bar.counts[0] = u64::MAX;
            }
            for part in &mut chart.parts {
                *part = "A part <&\" with a very long name ".repeat(3);
            }
            chart.bars[0].counts = vec![0; parts];
            check_figure(&chart);
        }
        assert!(matches!(
            chart(0, 2).draw(Theme::Light, Width::Column),
            Err(FigureError::NoData { .. })
        ));
        let mut short = chart(2, 2);
        short.bars[1].counts.pop();
        assert!(matches!(short.draw(Theme::Light, Width::Column), Err(FigureError::Unfit { .. })));
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("share_bars", structure(&chart(2, 4)));
    }
}
