//! A position on the board, with a split of one house marked.

use tallyhouse_board::{Cell, CellSet, Digit, DigitSet, House};

use crate::canvas::{Anchor, Area, Paint, Type};
use crate::cell_marks::{PencilMarks, Sides, draw_pencil_marks, draw_side, ring};
use crate::sheet::{Sample, Sheet};
use crate::theme::{LABEL_SIZE, Look, Side};
use crate::{FigureError, Heading};

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
    /// The side that is looked for: it comes first.
    pub lead: Side,
    /// The sides that are marked.
    pub shown: Sides,
}

impl Split {
    /// Returns the sides that are marked, the one that is looked for first.
    pub(crate) fn shown_sides(&self) -> impl Iterator<Item = Side> {
        let shown = self.shown;
        [self.lead, self.lead.other()].into_iter().filter(move |&side| shown.show(side))
    }

    /// Returns the side on which a cell is marked.
    pub(crate) fn marked(&self, cell: Cell) -> Option<Side> {
        self.side(cell).filter(|&side| self.shown.show(side))
    }

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
        let strong = match self.marked(cell) {
            Some(Side::Naked) => self.naked_digits,
            Some(Side::Hidden) => self.hidden_digits,
            None => DigitSet::EMPTY,
        };
        PencilMarks { digits, strong, removed: self.removed(cell), ..PencilMarks::default() }
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
        let words = |side| match side {
            Side::Naked => format!(
                "naked side: {} only {}",
                cells(self.naked, "holds", "hold"),
                spaced(self.naked_digits)
            ),
            Side::Hidden => format!(
                "hidden side: {} {}",
                cells(self.hidden, "takes", "take"),
                spaced(self.hidden_digits)
            ),
        };
        let mut entries: Vec<_> =
            self.shown_sides().map(|side| (Sample::Side(side), words(side))).collect();
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
    /// The candidates and digits that have a ring around them.
    pub rings: Vec<(Cell, Digit)>,
    /// What the rings stand for, in the key.
    pub ring_words: String,
    /// The title.
    pub title: String,
    /// If the title stands above the board.
    pub titled: bool,
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

    pub(crate) fn key_entries(&self, look: &Look) -> Vec<(Sample, String)> {
        let mut entries = self.split.as_ref().map_or_else(Vec::new, |split| {
            let mut entries = split.key();
            let house = Paint::line(look.house_line, HOUSE_LINE);
            entries.push((Sample::Line(house), split.house.to_string()));
            entries
        });
        if !self.rings.is_empty() {
            entries.push((Sample::Ring, self.ring_words.clone()));
        }
        if self.cells.iter().any(|content| matches!(content, CellContent::Placed(_))) {
            entries.push((Sample::BoldDigit, "given".to_owned()));
            entries.push((Sample::LightDigit, "placed".to_owned()));
        }
        entries
    }

    /// Fails if what is marked contradicts the board.
    pub(crate) fn check(&self) -> Result<(), FigureError> {
        let heading = Heading { title: self.title.clone(), ..Heading::default() };
        if let Some(split) = &self.split {
            split.check(&heading, |cell| self.candidates(cell))?;
        }
        let stray = self.rings.iter().find(|&&(cell, digit)| !self.shows(cell, digit));
        stray.map_or(Ok(()), |(cell, digit)| {
            let found = format!("a ring around {digit}");
            Err(heading.unfit(&cell.to_string(), found, "a ring around a digit that is there"))
        })
    }

    /// Tests if a digit stands in a cell.
    #[must_use]
    pub fn shows(&self, cell: Cell, digit: Digit) -> bool {
        match self.content(cell) {
            CellContent::Given(there) | CellContent::Placed(there) => there == digit,
            CellContent::Marks(digits) => digits.contains(digit),
        }
    }

    fn ringed(&self, cell: Cell) -> DigitSet {
        self.rings.iter().filter(|(at, _)| *at == cell).map(|(_, digit)| *digit).collect()
    }

    pub(crate) fn draw_board(&self, sheet: &mut Sheet, board: &Board) {
        let look = sheet.look.clone();
        // Paints nothing: tells programs where the board stands.
        sheet.canvas().rectangle("board", board.area(), Paint::default());
        if let Some(split) = &self.split {
            for cell in split.house.cells() {
                if let Some(side) = split.marked(*cell) {
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
            self.draw_cell(sheet, &look, cell, board.cell(cell));
        }
        if self.numbers {
            board.draw_numbers(sheet);
        }
    }

    fn draw_cell(&self, sheet: &mut Sheet, look: &Look, cell: Cell, area: Area) {
        let ringed = self.ringed(cell);
        let (digit, colour) = match self.content(cell) {
            CellContent::Given(digit) => (digit, None),
            CellContent::Placed(digit) => (digit, Some(look.soft)),
            CellContent::Marks(digits) => {
                let plain = PencilMarks { digits, ..PencilMarks::default() };
                let marks = self.split.as_ref().map_or(plain, |split| split.marks(cell, digits));
                let marks = PencilMarks { ringed, ..marks };
                return draw_pencil_marks(&mut sheet.canvas(), look, area, marks);
            }
        };
        let big = Type::new(area.width() * 0.62, look.ink).anchored(Anchor::Centre);
        let how = colour.map_or(big.bold(), |colour| big.coloured(colour));
        let (x, middle) = area.centre();
        sheet.canvas().text(&digit.to_string(), x, how.base_line(middle), how);
        if !ringed.is_empty() {
            ring(&mut sheet.canvas(), look, area.centre(), how.size);
        }
    }

    /// Returns what stands in the cells: a record for each.
    pub(crate) fn records(&self) -> impl Iterator<Item = Vec<String>> {
        Cell::all().map(|cell| {
            let (kind, digits) = match self.content(cell) {
                CellContent::Given(digit) => ("given", digit.to_string()),
                CellContent::Placed(digit) => ("placed", digit.to_string()),
                CellContent::Marks(digits) => ("candidates", digits.to_string()),
            };
            let split = self.split.as_ref();
            let side = split.and_then(|split| split.marked(cell)).map_or("", Side::name);
            let removed = split.map_or(DigitSet::EMPTY, |split| split.removed(cell));
            vec![cell.to_string(), kind.into(), digits, side.into(), removed.to_string()]
        })
    }
}

/// The outline of the house; thicker than the lines of the boxes.
const HOUSE_LINE: f64 = 3.2;

/// Where the board stands.
pub(crate) struct Board {
    pub(crate) left: f64,
    pub(crate) top: f64,
    /// The side of a cell.
    pub(crate) side: f64,
}

impl Board {
    /// The room that the numbers of rows and columns take.
    pub(crate) const NUMBERS: f64 = 14.0;

    fn cell(&self, cell: Cell) -> Area {
        let left = self.left + self.side * cell.column() as f64;
        let top = self.top + self.side * cell.row() as f64;
        Area::new(left, top, left + self.side, top + self.side)
    }

    pub(crate) fn area(&self) -> Area {
        let length = 9.0 * self.side;
        Area::new(self.left, self.top, self.left + length, self.top + length)
    }

    fn draw_lines(&self, sheet: &mut Sheet) {
        let Area { right, bottom, .. } = self.area();
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

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::inspect::{check_figure, count_class, structure, texts};
    use crate::{Figure, Theme, Width};

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
                lead: Side::Hidden,
                shown: Sides::Both,
            }),
            rings: vec![],
            ring_words: "marked".into(),
            titled: true,
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
        assert_eq!(count_class(&svg, "removed"), 15);
        assert_eq!(count_class(&svg, "house"), 1);
        let single = |text: &&String| text.len() == 1 && text.parse::<u8>().is_ok();
        let marks = 54 * 9 + 7 * 7 + 2 * 9;
        let fixed_numbers_and_key = 18 + 18 + 3;
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
                lead: Side::Naked,
                shown: Sides::Both,
            };
            check_figure(&Diagram { split: Some(split), ..bare.clone() });
        }
    }

    #[test]
    fn the_wanted_side_leads_and_can_stand_alone() {
        let drawn = |shown| {
            let mut diagram = diagram();
            diagram.split.as_mut().unwrap().shown = shown;
            check_figure(&diagram);
            (diagram.draw(Theme::Dark, Width::Column).unwrap().svg, diagram.csv().unwrap())
        };
        let (both, _) = drawn(Sides::Both);
        let at = |words: &str| both.find(words).unwrap();
        assert!(at("hidden side: 2 cells take") < at("naked side: 7 cells hold only"));
        for (shown, other, marks) in [(Sides::Naked, "hidden", 8), (Sides::Hidden, "naked", 3)] {
            let (svg, csv) = drawn(shown);
            assert_eq!(count_class(&svg, shown.name()), marks);
            assert_eq!(count_class(&svg, other), 0);
            assert!(!svg.contains(&format!("{other} side")) && !csv.contains(other));
            assert_eq!(count_class(&svg, "removed"), 15, "what goes is the same from either side");
        }
    }

    #[test]
    fn lines_through_removed_digits_touch_no_other_digit() {
        let svg = diagram().draw(Theme::Light, Width::Column).unwrap().svg;
        let drawing = crate::inspect::read(&svg);
        let struck: Vec<_> = drawing.of_class("removed").collect();
        for strike in &struck {
            let touched = drawing.texts.iter().filter(|text| text.ink.overlaps(&strike.room));
            assert_eq!(touched.count(), 1, "{strike:?}");
        }
        // They are grey, on no ground of their own, and what stays is ink.
        let grey = Look::of(Theme::Light).removed_ink;
        let greys = drawing.texts.iter().filter(|text| text.colour == grey);
        assert_eq!((greys.count(), struck.len()), (15, 15));
    }

    #[test]
    fn rings_stand_around_digits_that_are_there() {
        let mut diagram = diagram();
        diagram.rings = [(0, 0, 4), (1, 2, 3), (4, 8, 1)]
            .map(|(row, column, digit)| (Cell::at(row, column), Digit::new(digit).unwrap()))
            .to_vec();
        check_figure(&diagram);
        let svg = diagram.draw(Theme::Light, Width::Column).unwrap().svg;
        assert_eq!(count_class(&svg, "ring"), 4, "one more in the key");
        diagram.rings.push((Cell::at(4, 0), Digit::new(1).unwrap()));
        let error = diagram.draw(Theme::Light, Width::Page).unwrap_err().to_string();
        assert!(error.contains("r5c1: found a ring around 1"), "{error}");
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
