//! Verdicts as a table of marks: one row for each claim, one column for each way it was asked.

use tallyhouse_words::Outcome;

use crate::canvas::{Anchor, Area, Paint, Type};
use crate::figure::write_csv;
use crate::sheet::{MARGIN, Sheet};
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// A claim and what came out in each column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VerdictRow {
    /// The name of the claim.
    pub label: String,
    /// One verdict for each column.
    pub verdicts: Vec<Outcome>,
}

/// Verdicts by claim and by the way it was asked. Marks differ by shape and fill, never by colour: colours
/// tell sides.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VerdictTable {
    /// The words around the chart.
    pub heading: Heading,
    /// The names of the columns.
    pub columns: Vec<String>,
    /// The claims from top to bottom.
    pub rows: Vec<VerdictRow>,
}

const RADIUS: f64 = 4.6;
const LINE: f64 = 1.4;
const GAP: f64 = 5.0;
/// The least room for words over a column: two short ones.
const LEAST: f64 = 31.0;

impl VerdictTable {
    fn check(&self) -> Result<(), FigureError> {
        if self.rows.is_empty() || self.columns.is_empty() {
            return Err(self.heading.no_data("verdicts"));
        }
        for row in &self.rows {
            if row.verdicts.len() != self.columns.len() {
                let found = format!("{} verdicts", row.verdicts.len());
                let expected = format!("{}, one per column", self.columns.len());
                return Err(self.heading.unfit(&row.label, found, &expected));
            }
        }
        Ok(())
    }

    /// Sets a key for the marks that occur.
    fn key(&self, sheet: &mut Sheet) {
        let how = sheet.small();
        let (mut x, line) = (sheet.left, how.line_height() + 3.0);
        let occurs = |mark: &Outcome| self.rows.iter().any(|row| row.verdicts.contains(mark));
        for mark in Outcome::ALL.iter().copied().filter(occurs) {
            let width = 2.0 * RADIUS + GAP + how.width(&mark.word());
            if x > sheet.left && x + width > sheet.right {
                (x, sheet.y) = (sheet.left, sheet.y + line);
            }
            let middle = sheet.y + line / 2.0;
            draw(sheet, "key", mark, (x + RADIUS, middle));
            let at = x + 2.0 * RADIUS + GAP;
            sheet.canvas().text(&mark.word(), at, how.base_line(middle), how);
            x += width + 14.0;
        }
        sheet.y += line + 6.0;
    }
}

impl Figure for VerdictTable {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        self.check()?;
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        let small = sheet.small();
        // Where there is little room, claims take more of it than their marks.
        let (name, part) = if Width::beyond_column(sheet.width) > 0.0 {
            (sheet.label(), 0.4)
        } else {
            (small, if self.columns.len() == 1 { 0.75 } else { 0.56 })
        };
        // No word over a column is broken, as long as claims keep a third of the width.
        let widest = |title: &String| {
            title.split(' ').map(|word| small.width(word)).fold(LEAST, f64::max) + 4.0
        };
        let mut widths: Vec<f64> = self.columns.iter().map(widest).collect();
        let rest = sheet.inner_width() - 8.0 - widths.iter().sum::<f64>();
        let limit = rest.max(sheet.inner_width() / 3.0).min(sheet.inner_width() * part);
        let names: Vec<Vec<String>> =
            self.rows.iter().map(|row| name.broken(&row.label, limit)).collect();
        let left = MARGIN + names.iter().map(|lines| name.widest(lines)).fold(0.0, f64::max) + 8.0;
        // Columns are equally wide, unless that is too narrow for some and they all find room by their words.
        let (number, room) = (widths.len() as f64, sheet.right - left);
        let spare = (room - widths.iter().sum::<f64>()) / number;
        let is_unlike = spare >= 0.0 && widths.iter().any(|&width| width > room / number);
        for width in &mut widths {
            *width = if is_unlike { *width + spare } else { room / number };
        }
        let narrowest = widths.iter().copied().fold(f64::INFINITY, f64::min);
        let ends = widths.iter().scan(left, |end, width| {
            *end += width;
            Some(*end)
        });
        let centres: Vec<f64> = ends.zip(&widths).map(|(end, width)| end - width / 2.0).collect();
        let widest = Outcome::ALL.iter().map(|mark| small.width(&mark.word()));
        let with_words = widest.fold(0.0, f64::max) + 2.0 * RADIUS + GAP + 8.0 <= narrowest;
        if !with_words {
            self.key(&mut sheet);
        }
        let heads = self.columns.iter().zip(&widths);
        let heads: Vec<Vec<String>> =
            heads.map(|(title, width)| small.broken(title, width - 3.0)).collect();
        let head = heads.iter().map(|lines| small.height(lines)).fold(0.0, f64::max);
        let how = small.anchored(Anchor::Centre);
        for (lines, x) in heads.iter().zip(&centres) {
            let top = sheet.y + head - small.height(lines);
            sheet.block(lines, *x, top, how);
        }
        sheet.y += head + 4.0;
        for (row, lines) in self.rows.iter().zip(&names) {
            let height = name.height(lines).max(2.0 * RADIUS) + 7.0;
            let rule = Paint::line(sheet.look.rule, 0.8);
            let across = [(MARGIN, sheet.y), (sheet.right, sheet.y)];
            sheet.canvas().line("rule", &across, rule);
            let middle = sheet.y + height / 2.0;
            sheet.block(lines, MARGIN, middle - name.height(lines) / 2.0, name);
            for (&mark, &centre) in row.verdicts.iter().zip(&centres) {
                let room = small.width(&mark.word()) + 2.0 * RADIUS + GAP;
                let x = if with_words { centre - room / 2.0 + RADIUS } else { centre };
                draw(&sheet, "verdict", mark, (x, middle));
                if with_words {
                    word(&sheet, mark, (x + RADIUS + GAP, middle), small);
                }
            }
            sheet.y += height;
        }
        Ok(sheet.noted(&self.heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.rows.iter().flat_map(|row| {
            row.verdicts.iter().zip(&self.columns).map(|(verdict, column)| {
                [row.label.clone(), column.clone(), verdict.word().to_owned()]
            })
        });
        write_csv("claim,asked,verdict", records)
    }
}

fn word(sheet: &Sheet, mark: Outcome, (x, middle): (f64, f64), how: Type) {
    sheet.canvas().text(&mark.word(), x, how.base_line(middle), how);
}

/// Draws a mark; its outline bears the class, so that each mark counts once.
fn draw(sheet: &Sheet, class: &str, mark: Outcome, (x, y): (f64, f64)) {
    let ink = sheet.look.ink;
    let line = Paint::line(ink, LINE);
    let (full, open) = (Paint::fill(ink).outlined(ink, LINE), Paint::fill(sheet.look.page));
    let open = open.outlined(ink, LINE);
    let square = Area::new(x - RADIUS + 0.5, y - RADIUS + 0.5, x + RADIUS - 0.5, y + RADIUS - 0.5);
    let mut canvas = sheet.canvas();
    match mark {
        Outcome::Supported => canvas.circle(class, (x, y), RADIUS, full),
        Outcome::Refuted | Outcome::Undecided | Outcome::Depends => {
            canvas.circle(class, (x, y), RADIUS, open);
        }
        Outcome::CertainlyTrue => canvas.rectangle(class, square, full),
        Outcome::CertainlyFalse => canvas.rectangle(class, square, open),
    }
    match mark {
        Outcome::Refuted | Outcome::CertainlyFalse => {
            let reach = RADIUS * 0.62;
            for turn in [1.0, -1.0] {
                let ends = [(x - reach, y - turn * reach), (x + reach, y + turn * reach)];
                canvas.line("cross", &ends, line);
            }
        }
        Outcome::Depends => {
            // A gap keeps it apart from the ring.
            let inner = RADIUS - 1.8;
            let arc = |step: u32| {
                let angle = std::f64::consts::PI * (0.5 + f64::from(step) / 16.0);
                (x + inner * angle.cos(), y + inner * angle.sin())
            };
            let half: Vec<(f64, f64)> = (0..=16).map(arc).collect();
            canvas.polygon("half", &half, Paint::fill(ink));
        }
        _ => {}
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure, texts};

    pub(crate) fn table(columns: usize, label: &str) -> VerdictTable {
        let verdicts = |row: usize| (0..columns).map(move |c| Outcome::ALL[(row + c) % 6]);
        VerdictTable {
            heading: Heading {
                title: "Which claims hold?".into(),
                subtitle: "1,000 puzzles.".into(),
                notes: vec!["A note.".into()],
                alt: "words".into(),
            },
            columns: ["together", "one by one", "with intersections", "more"]
                .into_iter()
                .cycle()
                .take(columns)
                .map(str::to_owned)
                .collect(),
            rows: (0..7)
                .map(|row| VerdictRow {
                    label: format!("{label}{row}"),
                    verdicts: verdicts(row).collect(),
                })
                .collect(),
        }
    }

    #[test]
    fn every_verdict_has_its_mark() {
        let table = table(3, "hidden pair before naked triple ");
        check_figure(&table);
        let svg = table.draw(Theme::Light, Width::Column).unwrap().svg;
        assert_eq!(count_class(&svg, "verdict"), 21);
        assert_eq!(count_class(&svg, "key"), 6);
        insta::assert_snapshot!("verdicts", structure(&table));
        assert!(table.csv().unwrap().starts_with("claim,asked,verdict\nhidden pair before "));
        let wide = table.draw(Theme::Light, Width::Page).unwrap().svg;
        assert_eq!(count_class(&wide, "key"), 0);
        for columns in [1, 4] {
            check_figure(&super::tests::table(columns, "a"));
        }
    }

    #[test]
    fn words_over_columns_are_whole() {
        let table = table(3, "With fewer than eight open cells a claim holds, however long it is ");
        let svg = table.draw(Theme::Light, Width::Column).unwrap().svg;
        assert!(texts(&svg).contains(&"intersections".to_owned()));
    }

    #[test]
    fn ten_long_claims_fit_their_page() {
        let claim = "A hidden quad is not worth looking for unless the house has eight open cells: below \
                     that, a find costs more than 1,000 glances. ";
        let mut table = table(3, claim);
        table.rows = table.rows.iter().cycle().take(10).cloned().collect();
        check_figure(&table);
        for (width, most) in [(Width::Column, 180.0), (Width::Page, 240.0)] {
            let height = table.draw(Theme::Light, width).unwrap().height;
            assert!(height <= most, "{width}: {height} mm");
        }
    }

    #[test]
    fn rows_without_a_verdict_are_refused() {
        let mut short = table(2, "a");
        short.rows[1].verdicts.pop();
        assert!(short.draw(Theme::Light, Width::Page).is_err());
        short.rows.clear();
        assert!(short.draw(Theme::Light, Width::Page).is_err());
    }
}
