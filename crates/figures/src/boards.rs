//! One board or several: a position before a step, with its marks, and after it.

use crate::diagram::Board;
use crate::figure::write_csv;
use crate::sheet::{MARGIN, Sample, Sheet};
use crate::{Diagram, Dpi, Figure, FigureError, Heading, Picture, Theme, Width};

/// The least side of a cell: in a smaller one, nine pencil marks of 7 points have no room.
const LEAST_CELL: f64 = 34.0;

/// The gap between boards.
const GAP: f64 = 16.0;

/// How much of a wide sheet a single board takes; the text stands beside it.
const SINGLE: f64 = 0.6;

/// Boards with their labels, beside each other as far as there is room, else below each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Boards {
    /// The boards; their own titles and captions are not shown.
    pub boards: Vec<(String, Diagram)>,
    /// The title.
    pub title: String,
    /// If the title stands above the boards.
    pub titled: bool,
    /// A paragraph: where a board would still have room, or below the boards.
    pub caption: String,
    /// The description for readers who can't see the boards.
    pub alt: String,
    /// If the marks are explained.
    pub key: bool,
}

impl Figure for Boards {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        let frame = Frame {
            title: &self.title,
            titled: self.titled,
            caption: &self.caption,
            alt: &self.alt,
            key: self.key,
        };
        let boards: Vec<_> = self.boards.iter().map(|(label, board)| (&**label, board)).collect();
        frame.draw(&boards, theme, width)
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.boards.iter().flat_map(|(label, board)| {
            board.records().map(move |mut record| {
                record.insert(0, label.clone());
                record
            })
        });
        write_csv("board,cell,kind,digits,side,removed", records)
    }
}

impl Figure for Diagram {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        Frame::of(self).draw(&[("", self)], theme, width)
    }

    fn csv(&self) -> Result<String, FigureError> {
        write_csv("cell,kind,digits,side,removed", self.records())
    }
}

/// What stands around boards.
struct Frame<'a> {
    title: &'a str,
    titled: bool,
    caption: &'a str,
    alt: &'a str,
    key: bool,
}

impl<'a> Frame<'a> {
    fn of(board: &'a Diagram) -> Self {
        let Diagram { title, titled, caption, alt, key, .. } = board;
        Self { title, titled: *titled, caption, alt, key: *key }
    }

    fn draw(
        &self,
        boards: &[(&str, &Diagram)],
        theme: Theme,
        width: Width,
    ) -> Result<Picture, FigureError> {
        let heading = Heading { title: self.title.to_owned(), ..Heading::default() };
        let Some((_, first)) = boards.first() else { return Err(heading.no_data("boards")) };
        boards.iter().try_for_each(|(_, board)| board.check())?;
        let mut sheet = if self.titled {
            Sheet::headed(theme, width, &heading)
        } else {
            Sheet::new(theme, width)
        };
        let entries = if self.key { key_of(boards, &sheet) } else { Vec::new() };
        let has_text = !(self.caption.is_empty() && entries.is_empty());
        let numbers = if first.numbers { Board::NUMBERS } else { 0.0 };
        let layout = Layout::of(&sheet, boards.len(), numbers, has_text);
        let label = sheet.label();
        let labels = if boards.len() > 1 { label.line_height() + 2.0 } else { 0.0 };
        let (mut row_top, mut free) = (sheet.y, None);
        for (row, boards) in boards.chunks(layout.across).enumerate() {
            row_top = sheet.y + if row > 0 { 12.0 } else { 0.0 };
            for (column, (name, diagram)) in boards.iter().enumerate() {
                let left = MARGIN + numbers + column as f64 * (layout.width + GAP);
                let top = row_top + labels + numbers;
                if labels > 0.0 {
                    sheet.block(&[(*name).to_owned()], left, row_top, label.bold());
                }
                let board = Board { left, top, side: layout.side };
                diagram.draw_board(&mut sheet, &board);
                sheet.y = board.area().bottom;
            }
            free = (boards.len() < layout.columns).then_some(boards.len());
        }
        let bottom = sheet.y;
        match free.filter(|_| has_text) {
            Some(column) => {
                sheet.left = MARGIN + column as f64 * (layout.width + GAP);
                sheet.y = row_top + labels + numbers - 2.0;
            }
            None => sheet.y = bottom + 8.0,
        }
        sheet.paragraph(self.caption, label);
        sheet.y += 6.0;
        if !entries.is_empty() {
            sheet.key(&entries)?;
        }
        sheet.y = sheet.y.max(bottom + 2.0);
        Ok(Picture { dpi: Dpi::DIAGRAM, ..sheet.finish(self.title, self.alt) })
    }
}

/// Where boards stand.
struct Layout {
    /// How many boards stand beside each other.
    across: usize,
    /// How many there is room for, the text counted as one.
    columns: usize,
    /// The width of a board with its numbers.
    width: f64,
    /// The side of a cell.
    side: f64,
}

impl Layout {
    fn of(sheet: &Sheet, boards: usize, numbers: f64, has_text: bool) -> Self {
        let least = 9.0 * LEAST_CELL + numbers;
        let columns = ((sheet.inner_width() + GAP) / (least + GAP)).floor().max(1.0) as usize;
        let across = columns.min(boards);
        let room = match (boards, columns) {
            (1, 2..) if has_text => SINGLE * sheet.inner_width(),
            (1, _) => sheet.inner_width(),
            _ => (sheet.inner_width() + GAP) / across as f64 - GAP,
        };
        // Beside text, a board is no larger than it would be beside another.
        let room = if across < columns && boards > 1 {
            (sheet.inner_width() + GAP) / (across + 1) as f64 - GAP
        } else {
            room
        };
        let side = ((room - numbers) / 9.0).floor();
        Self { across, columns: columns.min(across + 1), width: 9.0 * side + numbers, side }
    }
}

/// Returns the entries of all boards, each once, those of splits first.
fn key_of(boards: &[(&str, &Diagram)], sheet: &Sheet) -> Vec<(Sample, String)> {
    let mut boards: Vec<&Diagram> = boards.iter().map(|(_, board)| *board).collect();
    boards.sort_by_key(|board| board.split.is_none());
    let mut entries: Vec<(Sample, String)> = Vec::new();
    for entry in boards.iter().flat_map(|board| board.key_entries(&sheet.look)) {
        if !entries.iter().any(|(_, words)| *words == entry.1) {
            entries.push(entry);
        }
    }
    entries
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::Cell;

    use super::*;
    use crate::CellContent;
    use crate::diagram::tests::{diagram, digits};
    use crate::inspect::{check_figure, count_class, read, structure};

    fn boards() -> Boards {
        let mut marked = diagram();
        // Few marks: laying out thousands of texts takes its time.
        for cell in Cell::all().filter(|cell| cell.row() != 4 && cell.row() % 3 != 1) {
            marked.cells[cell.index()] = CellContent::Marks(digits(&[9]));
        }
        let before = Diagram { split: None, ..marked.clone() };
        let mut after = before.clone();
        for (cell, digits) in marked.split.iter().flat_map(|split| &split.eliminations) {
            if let CellContent::Marks(there) = &mut after.cells[cell.index()] {
                *there = *there - *digits;
            }
        }
        Boards {
            boards: [("Before", before), ("Marked", marked), ("After", after)]
                .map(|(label, board)| (label.to_owned(), board))
                .to_vec(),
            title: "A step".into(),
            titled: true,
            caption: "Two digits are left to two cells, so all others leave them.".into(),
            alt: "words".into(),
            key: true,
        }
    }

    /// Returns the left and top edges of the boards.
    fn places(boards: &Boards, width: &str) -> Vec<(f64, f64)> {
        let svg = boards.draw(Theme::Light, width.parse().unwrap()).unwrap().svg;
        let drawing = read(&svg);
        drawing.of_class("board").map(|mark| (mark.extent().left, mark.extent().top)).collect()
    }

    #[test]
    fn boards_stand_beside_each_other_where_there_is_room() {
        let boards = boards();
        let column = places(&boards, "column");
        assert!(column.iter().all(|(left, _)| *left == column[0].0), "{column:?}");
        assert!(column.windows(2).all(|pair| pair[0].1 + 300.0 < pair[1].1), "{column:?}");
        let page = places(&boards, "page");
        assert!(page[0].1 == page[1].1 && page[1].0 > page[0].0 + 300.0, "{page:?}");
        assert!(page[2].0 == page[0].0 && page[2].1 > page[0].1 + 300.0, "{page:?}");
        let wide = places(&boards, "300");
        assert!(wide.iter().all(|(_, top)| *top == wide[0].1), "{wide:?}");
    }

    #[test]
    fn boards_keep_their_texts_apart() {
        let all = boards();
        assert_eq!(all.csv().unwrap().lines().count(), 1 + 3 * 81);
        let svg = all.draw(Theme::Print, Width::Page).unwrap().svg;
        assert_eq!(count_class(&svg, "board"), 3);
        assert_eq!(svg.matches("removed candidate").count(), 1, "one key for all");
        check_figure(&all);
        let two = Boards { boards: all.boards[1..].to_vec(), ..all.clone() };

        let bare = Boards { titled: false, caption: String::new(), key: false, ..two };
        check_figure(&bare);
        let none = Boards { boards: Vec::new(), ..all };
        assert!(none.draw(Theme::Light, Width::Page).is_err());
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("boards", structure(&boards()));
    }
}
