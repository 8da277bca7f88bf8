//! The answer at a glance: for each open count, which side of which split is worth looking for.

use tallyhouse_words::Advice;

use crate::canvas::{Anchor, Area, Type};
use crate::cell_marks::draw_side;
use crate::figure::write_csv;
use crate::sheet::{MARGIN, Sheet};
use crate::theme::Side;
use crate::{Figure, FigureError, Heading, Picture, Theme, Width};

/// A shape and the advice on it. Numbers come as people read them; the data beside the figure have them
/// in full elsewhere.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CardRow {
    /// The open count.
    pub open: u8,
    /// The naked side and the hidden side, as they are called.
    pub sides: [String; 2],
    /// What to look for.
    pub advice: Advice,
    /// How many houses show it.
    pub often: String,
    /// The glances for a find: by the cheapest and by the dearest reader.
    pub price: String,
    /// In how many puzzles one reaches less without it.
    pub lost: String,
}

/// The advice on one page: a group of rows for each open count.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AnswerCard {
    /// The words around the card.
    pub heading: Heading,
    /// From few open cells to many, from common to rare.
    pub rows: Vec<CardRow>,
}

/// The height of a row where there is little room, and where there is more.
const ROW: [f64; 2] = [12.6, 16.0];
const GROUP_GAP: f64 = 2.0;
/// How far a mark may reach beyond its row, so that letters stay clear of it.
const REACH: f64 = 1.1;
/// How far they lie below the middle, so that no letter below the line meets them.
const DESCENT: f64 = 0.7;
/// Between two stacks of groups beside each other.
const GUTTER: f64 = 24.0;
/// The right ends of the columns as parts of the width: open cells, both sides, then numbers.
const ENDS: [f64; 6] = [0.11, 0.315, 0.53, 0.665, 0.87, 1.0];
const HEADS: [&str; 6] = ["open", "naked side", "hidden side", "houses", "glances", "puzzles"];

impl AnswerCard {
    fn groups(&self) -> Vec<&[CardRow]> {
        self.rows.chunk_by(|a, b| a.open == b.open).collect()
    }

    /// Sets the groups into one stack, or into two that are about equally high.
    fn stacks(&self, width: Width) -> Vec<Vec<&[CardRow]>> {
        let groups = self.groups();
        if width == Width::Column {
            return vec![groups];
        }
        let height = |groups: &[&[CardRow]]| groups.iter().map(|group| group.len()).sum::<usize>();
        let best = (1..groups.len())
            .min_by_key(|&at| height(&groups[..at]).max(height(&groups[at..])))
            .unwrap_or(groups.len());
        let (first, second) = groups.split_at(best);
        [first, second].into_iter().filter(|s| !s.is_empty()).map(<[_]>::to_vec).collect()
    }

    /// Says what marks mean, as far as they occur.
    fn key(&self) -> String {
        let occurs = |advice: Advice| self.rows.iter().any(|row| row.advice == advice);
        let mut words = vec!["Marked: the side that costs fewer glances"];
        if occurs(Advice::Depends) {
            words.push("both: it depends on who reads");
        }
        if occurs(Advice::Neither) {
            words.push("grey row: not worth a look");
        }
        if occurs(Advice::Undecided) {
            words.push("?: too few data to tell");
        }
        words.join("; ") + "."
    }
}

/// A stack of groups: where it stands, and how its columns lie.
struct Stack {
    left: f64,
    width: f64,
    row: f64,
}

impl Stack {
    fn end(&self, column: usize) -> f64 {
        self.left + ENDS[column] * self.width
    }

    fn middle(&self, column: usize) -> f64 {
        let start = if column == 0 { self.left } else { self.end(column - 1) };
        f64::midpoint(start, self.end(column))
    }

    /// Sets the heads and returns where the rows begin.
    fn heads(&self, sheet: &mut Sheet, top: f64) -> f64 {
        let how = sheet.small_soft().anchored(Anchor::Centre);
        let middle = top + how.line_height() / 2.0;
        for (column, head) in HEADS.iter().enumerate() {
            sheet.canvas().text(head, self.middle(column), how.base_line(middle), how);
        }
        top + how.line_height() + 2.0
    }

    fn group(&self, sheet: &mut Sheet, rows: &[CardRow], top: f64) -> f64 {
        let rule = crate::canvas::Paint::line(sheet.look.rule, 0.8);
        let across = [(self.left, top), (self.left + self.width, top)];
        sheet.canvas().line("rule", &across, rule);
        let mut y = top + GROUP_GAP / 2.0;
        for (index, row) in rows.iter().enumerate() {
            let middle = y + self.row / 2.0;
            if index == 0 {
                let how = sheet.label().bold().anchored(Anchor::Centre);
                let open = row.open.to_string();
                sheet.canvas().text(&open, self.middle(0), how.base_line(middle), how);
            }
            self.sides(sheet, row, middle);
            let how =
                if row.advice == Advice::Neither { sheet.small_soft() } else { sheet.small() };
            for (column, words) in [(3, &row.often), (4, &row.price), (5, &row.lost)] {
                let how = how.anchored(Anchor::Centre);
                sheet.canvas().text(words, self.middle(column), how.base_line(middle), how);
            }
            y += self.row;
        }
        y + GROUP_GAP / 2.0
    }

    fn sides(&self, sheet: &Sheet, row: &CardRow, middle: f64) {
        let marked = match row.advice {
            Advice::Naked => [true, false],
            Advice::Hidden => [false, true],
            Advice::Depends => [true, true],
            Advice::Undecided | Advice::Neither => [false, false],
        };
        let mut canvas = sheet.canvas();
        for (number, side) in [Side::Naked, Side::Hidden].into_iter().enumerate() {
            let (left, right) = (self.end(number), self.end(number + 1));
            if marked[number] {
                let half = self.row / 2.0 + REACH;
                let (top, bottom) = (middle - half + DESCENT, middle + half + DESCENT);
                let area = Area::new(left, top, right, bottom);
                draw_side(&mut canvas, &sheet.look, side, area);
            }
            let how: Type = match (marked[number], row.advice) {
                (true, _) => sheet.small().bold(),
                (false, Advice::Undecided) => sheet.small(),
                _ => sheet.small_soft(),
            };
            let words = match row.advice {
                Advice::Undecided => format!("{}?", row.sides[number]),
                _ => row.sides[number].clone(),
            };
            let how = how.anchored(Anchor::Centre);
            canvas.text(&words, f64::midpoint(left, right), how.base_line(middle), how);
        }
    }
}

impl Figure for AnswerCard {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        if self.rows.is_empty() {
            return Err(self.heading.no_data("shapes"));
        }
        let mut sheet = Sheet::headed(theme, width, &self.heading);
        sheet.y -= 3.0;
        sheet.paragraph(&self.key(), sheet.small());
        sheet.y += 4.0;
        let stacks = self.stacks(width);
        let count = stacks.len() as f64;
        let each = (sheet.width - 2.0 * MARGIN - (count - 1.0) * GUTTER) / count;
        let (top, mut bottom) = (sheet.y, sheet.y);
        for (number, groups) in stacks.into_iter().enumerate() {
            let left = MARGIN + number as f64 * (each + GUTTER);
            let stack = Stack { left, width: each, row: ROW[usize::from(width == Width::Page)] };
            let mut y = stack.heads(&mut sheet, top);
            for group in groups {
                y = stack.group(&mut sheet, group, y);
            }
            bottom = f64::max(bottom, y);
        }
        sheet.y = bottom;
        Ok(sheet.noted(&self.heading))
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.rows.iter().map(|row| {
            let [naked, hidden] = row.sides.clone();
            let advice = row.advice.to_string();
            let open = row.open.to_string();
            [open, naked, hidden, advice, row.often.clone(), row.price.clone(), row.lost.clone()]
        });
        write_csv("open,naked_side,hidden_side,advice,houses,glances,puzzles", records)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure};

    /// All shapes, with advice of every kind.
    pub(crate) fn card() -> AnswerCard {
        let shapes = (4..=9u8).flat_map(|open| (2..=open - 2).map(move |naked| (open, naked)));
        let row = |(index, (open, naked)): (usize, (u8, u8))| CardRow {
            open,
            sides: [naked, open - naked].map(tallyhouse_words::set_name),
            advice: Advice::ALL[index % Advice::ALL.len()],
            often: "5.2 %*".to_owned(),
            price: "1,190–24,000".to_owned(),
            lost: "0.0065 %".to_owned(),
        };
        AnswerCard {
            heading: Heading {
                // As long as they get.
                title: "With four to eight open cells, look for naked pairs; with seven or eight open \
                        cells, also for naked triples and hidden pairs"
                    .into(),
                subtitle: "Minimal puzzles by random deletion: 1,000,000 puzzles.".into(),
                notes: vec![
                    "Houses: how many show it, at 1,280,500 positions without singles. Glances: for each \
                     find, looks in vain included, from the cheapest to the dearest of 4 readers, in every \
                     house or only where due. Puzzles: how many end earlier without it. \
                     * Fewer than 30 puzzles, or puzzles that tell as little."
                        .into(),
                ],
                alt: "words".into(),
            },
            rows: shapes.enumerate().map(row).collect(),
        }
    }

    #[test]
    fn each_shape_has_its_advice() {
        let card = card();
        check_figure(&card);
        let column = card.draw(Theme::Light, Width::Column).unwrap();
        // 21 shapes: five are naked, four hidden, four depend.
        assert_eq!(count_class(&column.svg, "naked"), 5 + 4);
        assert_eq!(count_class(&column.svg, "hidden"), 4 + 4);
        assert!(column.height <= 120.0, "{}", column.height);
        insta::assert_snapshot!("card", structure(&card));
        let page = card.draw(Theme::Light, Width::Page).unwrap();
        assert!(page.height < column.height);
        assert!(card.csv().unwrap().contains("4,pair,pair,naked,5.2 %*,"));
    }

    #[test]
    fn a_card_without_shapes_is_refused() {
        let empty = AnswerCard { rows: Vec::new(), ..card() };
        assert!(empty.draw(Theme::Light, Width::Page).is_err());
    }
}
