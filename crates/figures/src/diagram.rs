//! A position on the board, with a split of one house marked.

use tallyhouse_board::{Cell, CellSet, Digit, DigitSet, House};

use crate::canvas::{Anchor, Area, Paint, Type};
use crate::cell_marks::{PencilMarks, Side, draw_pencil_marks, draw_side};
use crate::figure::write_csv;
use crate::sheet::{MARGIN, Sample, Sheet};
use crate::theme::LABEL_SIZE;
use crate::{Dpi, Figure, FigureError, Heading, Picture, Theme, Width};

/// What stands in a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CellContent {
    /// A digit that the puzzle gives: bold.
    Given(Digit),
    /// A digit placed since: lighter.
    Placed(Digit),
    /// The candidates of an open cell, each in its fixed place of three by three.
    Marks(DigitSet),
}

/// The two sides of a house, and what follows from them.
#[derive(Clone, Debug, PartialEq)]
pub struct Split {
    /// The house.
    pub house: House,
    /// The cells of the naked side.
    pub naked: CellSet,
    /// The cells of the hidden side.
    pub hidden: CellSet,
    /// The digits that fill the naked side.
    pub naked_digits: DigitSet,
    /// The digits that fill the hidden side.
    pub hidden_digits: DigitSet,
    /// The candidates that go, by cell.
    pub eliminations: Vec<(Cell, DigitSet)>,
}

impl Split {
    pub(crate) fn side(&self, cell: Cell) -> Option<Side> {
        if self.naked.contains(cell) {
            Some(Side::Naked)
        } else {
            self.hidden.contains(cell).then_some(Side::Hidden)
        }
    }

    pub(crate) fn removed(&self, cell: Cell) -> DigitSet {
        let here = self.eliminations.iter().filter(|(at, _)| *at == cell);
        here.fold(DigitSet::EMPTY, |all, (_, digits)| all | *digits)
    }

    pub(crate) fn marks(&self, cell: Cell, digits: DigitSet) -> PencilMarks {
        let strong = match self.side(cell) {
            Some(Side::Naked) => self.naked_digits,
            Some(Side::Hidden) => self.hidden_digits,
            None => DigitSet::EMPTY,
        };
        PencilMarks { digits, strong, removed: self.removed(cell) }
    }

    /// Fails if a side leaves the house, the sides meet, or a removed digit is no candidate.
    pub(crate) fn check(
        &self,
        heading: &Heading,
        candidates: impl Fn(Cell) -> DigitSet,
    ) -> Result<(), FigureError> {
        for cell in (self.naked | self.hidden).iter() {
            let place = cell.to_string();
            if !self.house.cell_set().contains(cell) {
                let expected = format!("a cell of {}", self.house);
                return Err(heading.unfit("split", place, &expected));
            }
            if self.naked.contains(cell) && self.hidden.contains(cell) {
                return Err(heading.unfit(&place, "a cell of both sides", "a cell of one side"));
            }
            if candidates(cell).is_empty() {
                return Err(heading.unfit(&place, "no candidates", "an open cell in a split"));
            }
        }
        for &(cell, digits) in &self.eliminations {
            if let Some(digit) = digits.iter().find(|&digit| !candidates(cell).contains(digit)) {
                let found = format!("the removed digit {digit}");
                let expected = format!("one of its candidates {}", candidates(cell));
                return Err(heading.unfit(&cell.to_string(), found, &expected));
            }
        }
        Ok(())
    }

    pub(crate) fn key(&self) -> Vec<(Sample, String)> {
        let mut entries = vec![
            (
                Sample::Side(Side::Naked),
                format!(
                    "naked side: {} only {}",
                    cells(self.naked, "holds", "hold"),
                    spaced(self.naked_digits)
                ),
            ),
            (
                Sample::Side(Side::Hidden),
                format!(
                    "hidden side: {} {}",
                    cells(self.hidden, "takes", "take"),
                    spaced(self.hidden_digits)
                ),
            ),
        ];
        if !self.eliminations.is_empty() {
            entries.push((Sample::Removed, "removed candidate".to_owned()));
        }
        entries
    }
}

/// Writes how many cells do something.
fn cells(set: CellSet, one_does: &str, many_do: &str) -> String {
    match set.len() {
        1 => format!("1 cell {one_does}"),
        n => format!("{n} cells {many_do}"),
    }
}

/// Writes digits with no-break spaces between them.
pub(crate) fn spaced(digits: DigitSet) -> String {
    digits.iter().map(|digit| digit.to_string()).collect::<Vec<_>>().join("\u{a0}")
}

/// A position, as a diagram.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagram {
    /// The cells in reading order.
    pub cells: [CellContent; 81],
    /// The split to mark.
    pub split: Option<Split>,
    /// The title.
    pub title: String,
    /// A paragraph: below the board, or beside it on a whole page.
    pub caption: String,
    /// The description for readers who can't see the diagram.
    pub alt: String,
    /// If rows and columns are numbered.
    pub numbers: bool,
    /// If the marks are explained.
    pub key: bool,
}

impl Diagram {
    fn content(&self, cell: Cell) -> CellContent {
        self.cells[cell.index()]
    }

    fn candidates(&self, cell: Cell) -> DigitSet {
        match self.content(cell) {
            CellContent::Marks(digits) => digits,
            _ => DigitSet::EMPTY,
        }
    }

    fn key_entries(&self, sheet: &Sheet) -> Vec<(Sample, String)> {
        let mut entries = self.split.as_ref().map_or_else(Vec::new, |split| {
            let mut entries = split.key();
            let house = Paint::line(sheet.look.house_line, HOUSE_LINE);
            entries.push((Sample::Line(house), split.house.to_string()));
            entries
        });
        if self.cells.iter().any(|content| matches!(content, CellContent::Placed(_))) {
            entries.push((Sample::BoldDigit, "given".to_owned()));
            entries.push((Sample::LightDigit, "placed".to_owned()));
        }
        entries
    }

    fn draw_board(&self, sheet: &mut Sheet, board: &Board) {
        let look = sheet.look.clone();
        if let Some(split) = &self.split {
            for cell in split.house.cells() {
                if let Some(side) = split.side(*cell) {
                    draw_side(&mut sheet.canvas(), &look, side, board.cell(*cell));
                }
            }
        }
        board.draw_lines(sheet);
        if let Some(split) = &self.split {
            let cells = split.house.cells();
            let (first, last) = (board.cell(cells[0]), board.cell(cells[8]));
            let area = Area::new(first.left, first.top, last.right, last.bottom);
            // Most of it lies outside, so that the marks of the cells stay clear.
            let outline = Paint::line(look.house_line, HOUSE_LINE);
            sheet.canvas().rectangle("house", area.grown(0.9), outline);
        }
        for cell in Cell::all() {
            let area = board.cell(cell);
            let big = Type::new(board.side * 0.62, look.ink).anchored(Anchor::Centre);
            let (x, middle) = area.centre();
            let write = |digit: Digit, how: Type| {
                sheet.canvas().text(&digit.to_string(), x, how.base_line(middle), how);
            };
            match self.content(cell) {
                CellContent::Given(digit) => write(digit, big.bold()),
                CellContent::Placed(digit) => write(digit, big.coloured(look.soft)),
                CellContent::Marks(digits) => {
                    let plain = PencilMarks { digits, ..PencilMarks::default() };
                    let marks =
                        self.split.as_ref().map_or(plain, |split| split.marks(cell, digits));
                    draw_pencil_marks(&mut sheet.canvas(), &look, area, marks);
                }
            }
        }
        if self.numbers {
            board.draw_numbers(sheet);
        }
    }
}

/// The outline of the house; thicker than the lines of the boxes.
const HOUSE_LINE: f64 = 3.2;

const NUMBER_ROOM: f64 = 14.0;

/// Where the board stands.
struct Board {
    left: f64,
    top: f64,
    /// The side of a cell.
    side: f64,
}

impl Board {
    fn cell(&self, cell: Cell) -> Area {
        let left = self.left + self.side * cell.column() as f64;
        let top = self.top + self.side * cell.row() as f64;
        Area::new(left, top, left + self.side, top + self.side)
    }

    fn end(&self) -> (f64, f64) {
        (self.left + 9.0 * self.side, self.top + 9.0 * self.side)
    }

    fn draw_lines(&self, sheet: &mut Sheet) {
        let (right, bottom) = self.end();
        let mut lines: Vec<u8> = (0..=9).collect();
        // Thin lines first, so that those of the boxes cross them unbroken.
        lines.sort_by_key(|index| index.is_multiple_of(3));
        for index in lines {
            let paint = if index.is_multiple_of(3) {
                Paint::line(sheet.look.ink, 1.7)
            } else {
                Paint::line(sheet.look.edge, 0.7)
            };
            let (x, y) =
                (self.left + self.side * f64::from(index), self.top + self.side * f64::from(index));
            let reach = 0.85;
            let across = [(self.left - reach, y), (right + reach, y)];
            sheet.canvas().line("grid", &across, paint);
            sheet.canvas().line("grid", &[(x, self.top), (x, bottom)], paint);
        }
    }

    fn draw_numbers(&self, sheet: &mut Sheet) {
        let how = Type::new(LABEL_SIZE, sheet.look.soft).anchored(Anchor::Centre);
        for index in 0..9 {
            let middle = (f64::from(index) + 0.5) * self.side;
            let words = (index + 1).to_string();
            sheet.canvas().text(&words, self.left + middle, self.top - 5.0, how);
            sheet.canvas().text(&words, self.left - 8.0, how.base_line(self.top + middle), how);
        }
    }
}

impl Figure for Diagram {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        let heading = Heading { title: self.title.clone(), ..Heading::default() };
        if let Some(split) = &self.split {
            split.check(&heading, |cell| self.candidates(cell))?;
        }
        let mut sheet = Sheet::headed(theme, width, &heading);
        let room = if self.numbers { NUMBER_ROOM } else { 0.0 };
        let entries = if self.key { self.key_entries(&sheet) } else { Vec::new() };
        // On a whole page the text stands beside the board; without any, the board has all the room.
        let beside = width == Width::Page && !(self.caption.is_empty() && entries.is_empty());
        let share = if beside { 0.6 } else { 1.0 };
        let board_width = share * sheet.inner_width() - room;
        let board =
            Board { left: MARGIN + room, top: sheet.y + room, side: (board_width / 9.0).floor() };
        self.draw_board(&mut sheet, &board);
        let (right, bottom) = board.end();
        let label = sheet.label();
        if beside {
            sheet.left = right + 18.0;
            sheet.y = board.top - 2.0;
        } else {
            sheet.y = bottom + 8.0;
        }
        sheet.paragraph(&self.caption, label);
        sheet.y += 6.0;
        if !entries.is_empty() {
            sheet.key(&entries)?;
        }
        sheet.y = sheet.y.max(bottom + 2.0);
        Ok(Picture { dpi: Dpi::DIAGRAM, ..sheet.finish(&self.title, &self.alt) })
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = Cell::all().map(|cell| {
            let (kind, digits) = match self.content(cell) {
                CellContent::Given(digit) => ("given", digit.to_string()),
                CellContent::Placed(digit) => ("placed", digit.to_string()),
                CellContent::Marks(digits) => ("candidates", digits.to_string()),
            };
            let split = self.split.as_ref();
            let side = split.and_then(|split| split.side(cell)).map_or("", Side::name);
            let removed = split.map_or(DigitSet::EMPTY, |split| split.removed(cell));
            [cell.to_string(), kind.into(), digits, side.into(), removed.to_string()]
        });
        write_csv("cell,kind,digits,side,removed", records)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure, texts};

    pub(crate) fn digits(values: &[u8]) -> DigitSet {
        values.iter().filter_map(|&value| Digit::new(value)).collect()
    }

    /// An invented row: 1 and 2 have no place outside two cells.
    pub(crate) fn diagram() -> Diagram {
        let mut cells = [CellContent::Marks(DigitSet::FULL); 81];
        for (index, cell) in cells.iter_mut().enumerate().take(27).skip(9) {
            let digit = Digit::from_index(index % 9).unwrap();
            *cell = if index < 18 { CellContent::Given(digit) } else { CellContent::Placed(digit) };
        }
        let cell = |column| Cell::at(4, column);
        for column in 0..7 {
            cells[cell(column).index()] = CellContent::Marks(digits(&[3, 4, 5, 6, 7, 8, 9]));
        }
        let naked: CellSet = (0..7).map(cell).collect();
        let hidden: CellSet = [cell(7), cell(8)].into_iter().collect();
        let others = digits(&[3, 4, 5, 6, 7, 8, 9]);
        Diagram {
            cells,
            split: Some(Split {
                house: House::row(4),
                naked,
                hidden,
                naked_digits: others,
                hidden_digits: digits(&[1, 2]),
                eliminations: vec![(cell(7), others), (cell(8), others)],
            }),
            title: "A split of row 5".into(),
            caption: "Seven cells hold seven digits; two digits are left to two cells.".into(),
            alt: "words".into(),
            numbers: true,
            key: true,
        }
    }

    #[test]
    fn every_cell_of_the_split_is_marked() {
        let svg = diagram().draw(Theme::Light, Width::Column).unwrap().svg;
        // One more of each stands in the key.
        assert_eq!((count_class(&svg, "naked"), count_class(&svg, "hidden")), (8, 3));
        assert_eq!((count_class(&svg, "removed"), count_class(&svg, "removed-box")), (15, 15));
        assert_eq!(count_class(&svg, "house"), 1);
        let single = |text: &&String| text.len() == 1 && text.parse::<u8>().is_ok();
        let marks = 54 * 9 + 7 * 7 + 2 * 9;
        let fixed_numbers_and_key = 18 + 18 + 2;
        assert_eq!(texts(&svg).iter().filter(single).count(), marks + fixed_numbers_and_key);
        assert!(svg.contains("#56B4E9\" fill-opacity=\"0.35\""));
        assert_eq!(diagram().csv().unwrap().lines().count(), 82);
        assert!(diagram().csv().unwrap().contains("r5c9,candidates,123456789,hidden,3456789"));
    }

    #[test]
    fn diagrams_keep_their_texts_apart() {
        check_figure(&diagram());
        // Few marks: laying out thousands of texts takes its time.
        let few = [CellContent::Marks(digits(&[1, 9])); 81];
        let mut bare = Diagram { cells: few, split: None, numbers: false, key: false, ..diagram() };
        check_figure(&bare);
        bare.caption.clear();
        check_figure(&bare);
        bare.title = "A <&\" title without an end ".repeat(12);
        bare.caption = "Words and thenaverylongwordwithoutanyplacetobreakitatall ".repeat(20);
        (bare.numbers, bare.key) = (true, true);
        check_figure(&bare);
        for house in [House::row(0), House::column(8), House::box_(4)] {
            let cells = house.cells();
            let split = Split {
                house,
                naked: CellSet::single(cells[0]),
                hidden: cells[1..].iter().copied().collect(),
                naked_digits: digits(&[1]),
                hidden_digits: digits(&[1]).complement(),
                eliminations: vec![],
            };
            check_figure(&Diagram { split: Some(split), ..bare.clone() });
        }
    }

    #[test]
    fn splits_that_contradict_the_board_are_refused() {
        let refused = |change: fn(&mut Split)| {
            let mut diagram = diagram();
            change(diagram.split.as_mut().unwrap());
            diagram.draw(Theme::Light, Width::Column).unwrap_err().to_string()
        };
        assert!(refused(|split| split.house = House::row(0)).contains("a cell of row 1"));
        assert!(refused(|split| split.hidden = split.naked).contains("one side"));
        let wrong = refused(|split| split.eliminations[0] = (Cell::at(4, 0), digits(&[1])));
        assert!(wrong.contains("r5c1") && wrong.contains("3456789"), "{wrong}");
        let mut diagram = diagram();
        diagram.cells[Cell::at(4, 0).index()] = CellContent::Given(Digit::new(3).unwrap());
        assert!(diagram.draw(Theme::Light, Width::Page).is_err());
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("diagram", structure(&diagram()));
    }
}
