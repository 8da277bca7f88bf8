//! A house row by row: each row goes one cell or one digit further than the one above.

use tallyhouse_board::DigitSet;

use crate::canvas::{Anchor, Area, Paint};
use crate::cell_marks::{PencilMarks, draw_pencil_marks, draw_side};
use crate::figure::write_csv;
use crate::sheet::{Sample, Sheet};
use crate::theme::Side;
use crate::{Dpi, Figure, FigureError, Heading, Picture, Theme, Width};

/// The cells of a house as columns, and what was looked at so far as rows.
#[derive(Clone, Debug, PartialEq)]
pub struct Staircase {
    /// The names of the cells.
    pub columns: Vec<String>,
    /// The rows, each with a square for every column.
    pub rows: Vec<Stair>,
    /// The side whose squares are marked.
    pub side: Side,
    /// The title.
    pub title: String,
    /// If the title stands above the rows.
    pub titled: bool,
    /// A paragraph below the rows.
    pub caption: String,
    /// The description for readers who can't see the picture.
    pub alt: String,
    /// If the marks are explained.
    pub key: bool,
}

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Stair {
    /// The squares.
    pub squares: Vec<Square>,
    /// What the row tells.
    pub words: String,
}

/// Digits in one square.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Square {
    /// The digits, some of them removed.
    pub digits: DigitSet,
    /// Those that go.
    pub removed: DigitSet,
    /// If it belongs to what was looked at so far.
    pub marked: bool,
}

/// The least side of a square with pencil marks: in a smaller one, nine of 7 points have no room.
const LEAST_SQUARE: f64 = 34.0;
/// The height of a square with one digit at most.
const LOW_SQUARE: f64 = 20.0;
const ROW_GAP: f64 = 5.0;

impl Stair {
    fn height(&self) -> f64 {
        let is_low = self.squares.iter().all(|square| square.digits.len() <= 1);
        if is_low { LOW_SQUARE } else { LEAST_SQUARE }
    }
}

impl Staircase {
    fn check(&self, heading: &Heading) -> Result<(), FigureError> {
        if self.columns.is_empty() || self.rows.is_empty() {
            return Err(heading.no_data("cells"));
        }
        for (row, number) in self.rows.iter().zip(1..) {
            let place = format!("row {number}");
            if row.squares.len() != self.columns.len() {
                let found = format!("{} squares", row.squares.len());
                return Err(heading.unfit(&place, &found, "one for each cell"));
            }
            if row.squares.iter().any(|square| !(square.removed - square.digits).is_empty()) {
                return Err(heading.unfit(
                    &place,
                    "a digit removed that is not there",
                    "its digits",
                ));
            }
        }
        Ok(())
    }

    fn draw_row(&self, sheet: &mut Sheet, row: &Stair) {
        let (look, height) = (sheet.look.clone(), row.height());
        let right = sheet.left + row.squares.len() as f64 * LEAST_SQUARE;
        // Paints nothing: tells programs where the squares stand.
        let squares = Area::new(sheet.left, sheet.y, right, sheet.y + height);
        sheet.canvas().rectangle("board", squares, Paint::default());
        for (column, square) in row.squares.iter().enumerate() {
            let left = sheet.left + column as f64 * LEAST_SQUARE;
            let area = Area::new(left, sheet.y, left + LEAST_SQUARE, sheet.y + height);
            if square.marked {
                draw_side(&mut sheet.canvas(), &look, self.side, area);
            }
            sheet.canvas().rectangle("cell", area, Paint::line(look.edge, 0.7));
            // One digit alone stands in the middle, whatever its place among pencil marks.
            let marks = PencilMarks {
                digits: square.digits,
                removed: square.removed,
                strong: if square.marked {
                    square.digits - square.removed
                } else {
                    DigitSet::EMPTY
                },
                ..PencilMarks::default()
            };
            if height > LOW_SQUARE {
                draw_pencil_marks(&mut sheet.canvas(), &look, area, marks);
            } else if let Some(digit) = square.digits.iter().next() {
                let how = sheet.small().anchored(Anchor::Centre);
                let how = if square.marked { how.bold() } else { how };
                let (x, y) = area.centre();
                sheet.canvas().text(&digit.to_string(), x, how.base_line(y), how);
            }
        }
    }
}

impl Figure for Staircase {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        let heading = Heading { title: self.title.clone(), ..Heading::default() };
        self.check(&heading)?;
        let mut sheet = if self.titled {
            Sheet::headed(theme, width, &heading)
        } else {
            Sheet::new(theme, width)
        };
        let squares = self.columns.len() as f64 * LEAST_SQUARE;
        // Words stand beside the squares if they have as much room as those of a column would.
        let beside = sheet.inner_width() - squares - 10.0;
        let beside = (beside >= Width::Column.units() / 2.0).then_some(beside);
        let small = sheet.small_soft().anchored(Anchor::Centre);
        let base = sheet.y + small.line_height() - 3.0;
        for (column, name) in self.columns.iter().enumerate() {
            let middle = sheet.left + (column as f64 + 0.5) * LEAST_SQUARE;
            sheet.canvas().text(name, middle, base, small);
        }
        sheet.y += small.line_height();
        let label = sheet.label();
        for row in &self.rows {
            self.draw_row(&mut sheet, row);
            let height = row.height();
            let bottom = sheet.y + height;
            sheet.y = match beside {
                Some(room) => {
                    let (x, lines) = (sheet.left + squares + 10.0, label.broken(&row.words, room));
                    let words = lines.len() as f64 * label.line_height();
                    let top = sheet.y + ((height - words) / 2.0).max(0.0);
                    sheet.block(&lines, x, top, label).max(bottom)
                }
                None => {
                    let lines = label.broken(&row.words, sheet.inner_width());
                    sheet.block(&lines, sheet.left, bottom + 1.0, label)
                }
            };
            sheet.y += ROW_GAP;
        }
        sheet.y += 3.0;
        sheet.paragraph(&self.caption, label);
        if self.key {
            sheet.y += 6.0;
            let looked_at = format!("{} side, as far as it was looked at", self.side.name());
            let mut entries = vec![(Sample::Side(self.side), looked_at)];
            if self.rows.iter().flat_map(|row| &row.squares).any(|s| !s.removed.is_empty()) {
                entries.push((Sample::Removed, "removed candidate".to_owned()));
            }
            sheet.key(&entries)?;
        }
        Ok(Picture { dpi: Dpi::DIAGRAM, ..sheet.finish(&self.title, &self.alt) })
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.rows.iter().zip(1..).flat_map(|(row, number)| {
            row.squares.iter().zip(&self.columns).map(move |(square, cell)| {
                let side = if square.marked { self.side.name() } else { "" };
                [
                    number.to_string(),
                    cell.clone(),
                    square.digits.to_string(),
                    side.to_owned(),
                    square.removed.to_string(),
                ]
            })
        });
        write_csv("row,cell,digits,side,removed", records)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagram::tests::digits;
    use crate::inspect::{check_figure, count_class, structure, texts};

    fn stairs(columns: usize, rows: usize, digits: DigitSet) -> Staircase {
        let square = |row: usize, column: usize| Square {
            digits,
            removed: if row + 1 == rows && column > row { digits } else { DigitSet::EMPTY },
            marked: column <= row,
        };
        Staircase {
            columns: (1..=columns).map(|column| format!("r{column}c4")).collect(),
            rows: (0..rows)
                .map(|row| Stair {
                    squares: (0..columns).map(|column| square(row, column)).collect(),
                    words: format!(
                        "r{}c4 holds 1, 5 and 8: {} cells, three digits.",
                        row + 1,
                        row + 1
                    ),
                })
                .collect(),
            side: Side::Naked,
            title: "A naked triple in column 4, cell by cell".to_owned(),
            titled: true,
            caption: "Three cells, three digits: they go from all other cells.".to_owned(),
            alt: "words".to_owned(),
            key: true,
        }
    }

    #[test]
    fn every_size_fits_its_frame() {
        for (columns, rows, digits) in [
            (9, 7, DigitSet::FULL),
            (3, 1, digits(&[4, 7])),
            (9, 9, digits(&[5])),
            (4, 2, digits(&[])),
        ] {
            let stairs = stairs(columns, rows, digits);
            check_figure(&stairs);
            let svg = stairs.draw(Theme::Light, Width::Page).unwrap().svg;
            assert_eq!(count_class(&svg, "cell"), columns * rows);
            assert!(texts(&svg).contains(&"r1c4".to_owned()));
            assert_eq!(stairs.csv().unwrap().lines().count(), columns * rows + 1);
        }
    }

    #[test]
    fn what_does_not_fit_is_refused() {
        let good = stairs(5, 2, digits(&[1, 2]));
        let refused = |change: &dyn Fn(&mut Staircase)| {
            let mut stairs = good.clone();
            change(&mut stairs);
            stairs.draw(Theme::Light, Width::Column).unwrap_err().to_string()
        };
        assert!(refused(&|stairs| stairs.rows.clear()).contains("no cells"));
        assert!(refused(&|stairs| stairs.columns.truncate(3)).contains("one for each cell"));
        let stray = |stairs: &mut Staircase| stairs.rows[0].squares[0].removed = DigitSet::FULL;
        assert!(refused(&stray).contains("not there"));
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("staircase", structure(&stairs(7, 3, digits(&[1, 5, 8]))));
    }
}
