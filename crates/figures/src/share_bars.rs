//! Horizontal bars made of parts: shares of a whole, or counts.

use crate::axis::{Axis, Range};
use crate::canvas::{Anchor, Area, Paint, Type};
use crate::colour::{Rgb, mix};
use crate::figure::write_csv;
use crate::plot::Plot;
use crate::sheet::{MARGIN, Sample, Sheet};
use crate::theme::{ON_SHADES, Side};
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

/// A part of each bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SharePart {
    /// Its name.
    pub name: String,
    /// How it looks.
    pub look: PartLook,
}

/// How a part looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartLook {
    /// As the side that it stands for.
    Side(Side),
    /// As what stands for no side.
    Neither,
    /// Darker: as what got nowhere.
    Stuck,
}

/// Bars of ordered parts. A part looks like its side, or is grey, light or dark, and carries its name and
/// its value; those without room are named in a line below their bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShareBars {
    /// The words around the chart.
    pub heading: Heading,
    /// What is counted.
    pub axis_title: String,
    /// The parts in their order.
    pub parts: Vec<SharePart>,
    /// What looks mean; those that no bar shows are left out.
    pub key: Vec<(PartLook, String)>,
    /// The bars from top to bottom.
    pub bars: Vec<ShareBar>,
}

const BAR_HEIGHT: f64 = 28.0;
const BAR_GAP: f64 = 9.0;
/// The room between a bar and the parts that are named below it.
const LIST_GAP: f64 = 1.5;
/// The room between a part and its neighbours.
const PART_GAP: f64 = 0.8;
/// A part that is no wider has no outline.
const THIN: f64 = 6.0;

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

    /// Returns what the looks of parts say, those that occur.
    fn key(&self, sheet: &Sheet) -> Vec<(Sample, String)> {
        let sample = |part: PartLook| match part {
            PartLook::Side(side) => Sample::Side(side),
            PartLook::Neither | PartLook::Stuck => {
                let fill = part.fill(sheet);
                Sample::Patch(Paint::fill(fill).outlined(sheet.look.edge, 1.0))
            }
        };
        let drawn = |part: usize| self.bars.iter().any(|bar| bar.counts[part] > 0);
        let occurs = |look: PartLook| {
            self.parts.iter().enumerate().any(|(index, part)| part.look == look && drawn(index))
        };
        let entries = self.key.iter().filter(|(look, _)| occurs(*look));
        entries.map(|(look, words)| (sample(*look), words.clone())).collect()
    }

    /// Returns the fullest label of a part that its room holds.
    fn part_label(&self, part: usize, share: f64, how: Type, room: f64) -> Option<Vec<String>> {
        let (name, value) = (self.parts[part].name.clone(), written(share));
        let choices = [vec![format!("{name}: {value}")], vec![name, value]];
        choices.into_iter().find(|lines| how.widest(lines) <= room)
    }

    /// Lays a bar out between the left and the right end of the whole.
    fn lay_out(&self, sheet: &Sheet, bar: &ShareBar, (left, right): (f64, f64)) -> LaidOut {
        let (how, total) = (sheet.small(), bar.total());
        let (mut sum, mut laid) = (0.0, LaidOut::default());
        for (part, &count) in bar.counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            let from = sum;
            sum += count as f64;
            let ends = [from, sum].map(|at| left + at / total * (right - left));
            let room = ends[1] - ends[0] - 2.0 * (PART_GAP + 4.0);
            let share = count as f64 / total;
            let label = self.part_label(part, share, how, room);
            if label.is_none() {
                // A short name stays on one line.
                let words = format!("{} {}", self.parts[part].name, written(share));
                let is_short = how.width(&words) <= 0.9 * (right - left);
                laid.unnamed.push(if is_short { words.replace(' ', "\u{a0}") } else { words });
            }
            laid.parts.push((part, ends, label));
        }
        laid
    }
}

/// The parts of a bar with their ends and labels, and those without a label.
#[derive(Default)]
struct LaidOut {
    parts: Vec<(usize, [f64; 2], Option<Vec<String>>)>,
    unnamed: Vec<String>,
}

/// Writes a share in whole percent, small ones with one or two digits.
fn written(value: f64) -> String {
    let step = match value {
        _ if value >= 0.0995 => 0.01,
        _ if value >= 0.000_95 => 0.001,
        _ => 0.000_1,
    };
    if value < 0.000_05 { "under 0.01\u{a0}%".to_owned() } else { Unit::Percent.write(value, step) }
}

impl Figure for ShareBars {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        self.check()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        sheet.key(&self.key(&sheet))?;

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
        let right = sheet.width - MARGIN - 8.0;
        let laid: Vec<LaidOut> =
            self.bars.iter().map(|bar| self.lay_out(&sheet, bar, (left, right))).collect();
        let below: Vec<Vec<String>> = laid
            .iter()
            .map(|laid| match laid.unnamed.as_slice() {
                [] => Vec::new(),
                unnamed => small.broken(&format!("also: {}", unnamed.join(", ")), right - left),
            })
            .collect();
        let rows: Vec<(f64, f64)> = names
            .iter()
            .zip(&below)
            .map(|((label, total), below)| {
                let text = name.height(label) + small.height(total);
                let listed = small.height(below) + if below.is_empty() { 0.0 } else { LIST_GAP };
                (text, text.max(BAR_HEIGHT + listed) + BAR_GAP)
            })
            .collect();
        let height: f64 = rows.iter().map(|(_, row)| row).sum();
        let area = Area::new(left, sheet.y, right, sheet.y + height);
        let axis = Axis::linear(&self.axis_title, Unit::Percent);
        let range = Range::of(&axis, [0.0, 1.0].into_iter(), true);
        let heights = Range::between(area.bottom, area.top);
        let plot = Plot::new(&sheet, area, range, heights)?;
        plot.draw_x_axis(&mut sheet, &axis.title, true)?;

        let mut top = area.top;
        for (index, laid) in laid.iter().enumerate() {
            let ((label, total), (text, row)) = (&names[index], rows[index]);
            let middle = top + row / 2.0;
            let under = sheet.block(label, MARGIN, middle - text / 2.0, name);
            sheet.block(total, MARGIN, under, small);
            let bar_top = middle
                - (row - BAR_GAP).min(BAR_HEIGHT + LIST_GAP + small.height(&below[index])) / 2.0;
            self.draw_bar(&sheet, laid, (left, bar_top));
            let haloed = small.haloed(sheet.look.page);
            sheet.block(&below[index], left, bar_top + BAR_HEIGHT + LIST_GAP, haloed);
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
                    part.name.clone(),
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
    fn draw_bar(&self, sheet: &Sheet, laid: &LaidOut, (left, top): (f64, f64)) {
        let middle = top + BAR_HEIGHT / 2.0;
        if laid.parts.is_empty() {
            let how = sheet.small_soft().haloed(sheet.look.page);
            sheet.canvas().text("nothing counted", left + 4.0, how.base_line(middle), how);
        }
        for (part, [from, to], label) in &laid.parts {
            let area = Area::new(*from, top, *to, top + BAR_HEIGHT);
            let look = self.parts[*part].look;
            draw_part(sheet, look, area);
            if let Some(lines) = label {
                // What is written on two lines stands close together.
                let ink = if look == PartLook::Stuck { ON_SHADES } else { sheet.look.ink };
                let how = sheet.small().anchored(Anchor::Centre).coloured(ink);
                let apart = 0.9 * how.line_height() * (lines.len() - 1) as f64;
                for (index, line) in lines.iter().enumerate() {
                    let at = middle - apart / 2.0 + 0.9 * how.line_height() * index as f64;
                    sheet.canvas().text(line, f64::midpoint(*from, *to), how.base_line(at), how);
                }
            }
        }
    }
}

impl PartLook {
    fn fill(self, sheet: &Sheet) -> Rgb {
        let look = &sheet.look;
        match self {
            Self::Side(Side::Naked) => mix(look.page, look.naked_fill, look.naked_opacity),
            Self::Side(Side::Hidden) => look.page,
            Self::Neither => look.zero,
            Self::Stuck => look.shade(0.5),
        }
    }
}

/// Draws a part as the side that it stands for: naked filled with a solid outline, hidden with a dashed
/// one and no fill; grey without a side.
fn draw_part(sheet: &Sheet, part: PartLook, area: Area) {
    let (look, mut canvas) = (&sheet.look, sheet.canvas());
    let colour = match part {
        PartLook::Side(Side::Naked) => look.naked_line,
        PartLook::Side(Side::Hidden) => look.hidden_line,
        PartLook::Neither | PartLook::Stuck => look.edge,
    };
    if area.width() <= THIN {
        // A line around a very thin part would cover it.
        let paint = Paint::fill(colour).outlined(look.edge_of(colour), area.width() / 3.0);
        canvas.rectangle("part", area, paint);
        return;
    }
    let inner = area.grown(-PART_GAP - 0.8);
    let fill = part.fill(sheet);
    let dash = (part == PartLook::Side(Side::Hidden)).then_some("4.5 2.5");
    if dash.is_some() {
        canvas.rectangle("ground", inner, Paint::fill(fill));
        if !look.reads(colour) {
            canvas.rectangle("edge", inner, Paint::line(look.ink, 2.4).dashed(dash));
        }
        canvas.rectangle("part", inner, Paint::line(colour, 1.5).dashed(dash));
    } else {
        canvas.rectangle("part", inner, Paint::fill(fill).outlined(colour, 1.5));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure, texts};

    const LOOKS: [PartLook; 4] = [
        PartLook::Side(Side::Naked),
        PartLook::Side(Side::Hidden),
        PartLook::Neither,
        PartLook::Stuck,
    ];

    fn chart(bars: usize, parts: usize) -> ShareBars {
        ShareBars {
            heading: Heading {
                title: "First needed".into(),
                subtitle: "Puzzles.".into(),
                notes: vec!["A note.".into()],
                alt: "words".into(),
            },
            axis_title: "share of puzzles".into(),
            parts: (0..parts)
                .map(|part| SharePart {
                    name: format!("part {part}"),
                    look: LOOKS[part % LOOKS.len()],
                })
                .collect(),
            key: LOOKS
                .into_iter()
                .zip(["naked", "hidden", "neither", "stuck"].map(str::to_owned))
                .collect(),
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
        // 1 of 1,000 has no room in its bar, so it stands below.
        assert!(texts.iter().any(|text| text == "also: part\u{a0}1\u{a0}0.1\u{a0}%"), "{texts:?}");
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
                part.name = "A part <&\" with a very long name ".repeat(3);
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
