//! The open cells of one house in a row: the side that is looked for first, then the other one; or all
//! as they stand, for somebody to find the sides.

use tallyhouse_board::{Cell, Digit, DigitSet};

use crate::canvas::{Anchor, Area, Paint};
use crate::cell_marks::{PencilMarks, draw_pencil_marks, draw_side};
use crate::diagram::spaced;
use crate::figure::write_csv;
use crate::sheet::Sheet;
use crate::theme::Side;
use crate::{Dpi, Figure, FigureError, Heading, Picture, Split, Theme, Width};

/// One house without the rest of the board. With a split: how either side is the other's complement.
#[derive(Clone, Debug, PartialEq)]
pub struct HouseStrip {
    /// The open cells of the house with their candidates.
    pub cells: Vec<(Cell, DigitSet)>,
    /// The split to mark; each open cell lies on one of its sides. Without one, the cells stand in their
    /// own order.
    pub split: Option<Split>,
    /// The candidates that have a ring around them.
    pub rings: Vec<(Cell, Digit)>,
    /// The title.
    pub title: String,
    /// If the title stands above the cells.
    pub titled: bool,
    /// A paragraph below the cells.
    pub caption: String,
    /// The description for readers who can't see the diagram.
    pub alt: String,
    /// If the marks are explained.
    pub key: bool,
}

/// The gap between the sides.
const GAP: f64 = 14.0;

impl HouseStrip {
    fn check(&self, heading: &Heading) -> Result<(), FigureError> {
        if self.cells.is_empty() {
            return Err(heading.no_data("open cells"));
        }
        for (index, (cell, _)) in self.cells.iter().enumerate() {
            let place = cell.to_string();
            if self.split.as_ref().is_some_and(|split| split.side(*cell).is_none()) {
                return Err(heading.unfit(&place, "a cell of no side", "a cell of the split"));
            }
            if self.cells[..index].iter().any(|(other, _)| other == cell) {
                return Err(heading.unfit(&place, "the cell twice", "each cell once"));
            }
        }
        match &self.split {
            Some(split) => split.check(heading, |cell| self.candidates(cell)),
            None => Ok(()),
        }
    }

    fn candidates(&self, cell: Cell) -> DigitSet {
        let here = self.cells.iter().find(|(at, _)| *at == cell);
        here.map_or(DigitSet::EMPTY, |(_, digits)| *digits)
    }

    /// Returns the runs of cells from left to right, by their sides; one of all cells without a split.
    fn runs(&self) -> Vec<Option<(&Split, Side)>> {
        match &self.split {
            Some(split) => {
                [split.lead, split.lead.other()].map(|side| Some((split, side))).to_vec()
            }
            None => vec![None],
        }
    }

    /// Returns the cells of a run.
    fn cells_of<'a>(
        &'a self,
        run: Option<(&'a Split, Side)>,
    ) -> impl Iterator<Item = &'a (Cell, DigitSet)> {
        let is_here = move |cell| run.is_none_or(|(split, side)| split.side(cell) == Some(side));
        self.cells.iter().filter(move |(cell, _)| is_here(*cell))
    }

    fn draw_run(
        &self,
        sheet: &mut Sheet,
        run: Option<(&Split, Side)>,
        left: f64,
        side_length: f64,
    ) {
        let look = sheet.look.clone();
        let top = sheet.y + sheet.small().line_height();
        let small = sheet.small_soft().anchored(Anchor::Centre);
        let shown = run.filter(|(split, side)| split.shown.show(*side));
        let mut x = left;
        for &(cell, digits) in self.cells_of(run) {
            let area = Area::new(x, top, x + side_length, top + side_length);
            sheet.canvas().text(&cell.to_string(), area.centre().0, top - 4.0, small);
            if let Some((_, side)) = shown {
                draw_side(&mut sheet.canvas(), &look, side, area);
            }
            sheet.canvas().rectangle("cell", area, Paint::line(look.edge, 0.7));
            let ringed = self.rings.iter().filter(|(at, _)| *at == cell);
            let ringed = ringed.map(|(_, digit)| *digit).collect();
            let plain = PencilMarks { digits, ..PencilMarks::default() };
            let marks = run.map_or(plain, |(split, _)| split.marks(cell, digits));
            let marks = PencilMarks { ringed, ..marks };
            draw_pencil_marks(&mut sheet.canvas(), &look, area, marks);
            x += side_length;
        }
        // Paints nothing: tells programs where the cells stand.
        let cells = Area::new(left, top, x, top + side_length);
        sheet.canvas().rectangle("board", cells, Paint::default());
        let Some((split, side)) = shown else { return };
        let below = top + side_length;
        let bracket = [
            (left + 1.0, below + 4.0),
            (left + 1.0, below + 8.0),
            (x - 1.0, below + 8.0),
            (x - 1.0, below + 4.0),
        ];
        sheet.canvas().line("bracket", &bracket, Paint::line(look.ink, 1.1));
        let (name, digits) = self.words(split, side);
        let label = sheet.label().anchored(Anchor::Centre);
        let middle = f64::midpoint(left, x);
        sheet.block(&[name], middle, below + 9.0, label.bold());
        sheet.block(&[digits], middle, below + 9.0 + label.line_height(), label);
    }

    fn words(&self, split: &Split, side: Side) -> (String, String) {
        let digits = match side {
            Side::Naked => split.naked_digits,
            Side::Hidden => split.hidden_digits,
        };
        let cells = self.cells_of(Some((split, side))).count();
        (format!("{} {cells}", side.name()), spaced(digits))
    }

    /// Draws all runs beside each other and moves on below them.
    fn draw_cells(&self, sheet: &mut Sheet) {
        // Few cells are drawn larger, as far as there is room.
        let room = (sheet.inner_width() - GAP) / self.cells.len() as f64;
        let side_length = room.floor().min(48.0);
        let label = sheet.label();
        let runs = self.runs().into_iter().map(|run| {
            let cells = self.cells_of(run).count() as f64 * side_length;
            let words = run.map_or(0.0, |(split, side)| {
                let (name, digits) = self.words(split, side);
                label.bold().width(&name).max(label.width(&digits))
            });
            (run, cells, words.max(cells))
        });
        let runs: Vec<_> = runs.collect();
        let all: f64 = runs.iter().map(|(_, _, room)| room + GAP).sum::<f64>() - GAP;
        let mut left = (sheet.width - all) / 2.0;
        for &(run, cells, room) in &runs {
            self.draw_run(sheet, run, left + (room - cells) / 2.0, side_length);
            left += room + GAP;
        }
        let words = if self.split.is_some() { 9.0 + 2.0 * label.line_height() } else { 0.0 };
        sheet.y += sheet.small().line_height() + side_length + words;
    }
}

impl Figure for HouseStrip {
    fn draw(&self, theme: Theme, width: Width) -> Result<Picture, FigureError> {
        let heading = Heading { title: self.title.clone(), ..Heading::default() };
        self.check(&heading)?;
        let mut sheet = if self.titled {
            Sheet::headed(theme, width, &heading)
        } else {
            Sheet::new(theme, width)
        };
        self.draw_cells(&mut sheet);
        sheet.y += 6.0;
        sheet.paragraph(&self.caption, sheet.label());
        if let (true, Some(split)) = (self.key, &self.split) {
            sheet.y += 6.0;
            sheet.key(&split.key())?;
        }
        Ok(Picture { dpi: Dpi::DIAGRAM, ..sheet.finish(&self.title, &self.alt) })
    }

    fn csv(&self) -> Result<String, FigureError> {
        let records = self.runs().into_iter().flat_map(|run| {
            let shown = run.filter(|(split, side)| split.shown.show(*side));
            let name = shown.map_or("", |(_, side)| side.name());
            self.cells_of(run).map(move |(cell, digits)| {
                let removed = run.map_or(DigitSet::EMPTY, |(split, _)| split.removed(*cell));
                [cell.to_string(), digits.to_string(), name.to_owned(), removed.to_string()]
            })
        });
        write_csv("cell,candidates,side,removed", records)
    }
}

#[cfg(test)]
mod tests {
    use tallyhouse_board::House;

    use super::*;
    use crate::Sides;
    use crate::diagram::tests::digits;
    use crate::inspect::{check_figure, count_class, structure, texts};

    fn strip(house: House, open: usize, naked: usize) -> HouseStrip {
        let cells = &house.cells()[..open];
        let (low, all) = (
            DigitSet::from_bits_truncate((1 << naked) - 1),
            DigitSet::from_bits_truncate((1 << open) - 1),
        );
        let high = digits(&(1..=9).collect::<Vec<_>>())
            .iter()
            .filter(|&d| all.contains(d) && !low.contains(d));
        HouseStrip {
            cells: cells
                .iter()
                .enumerate()
                .map(|(index, &cell)| (cell, if index < naked { low } else { all }))
                .collect(),
            split: Some(Split {
                house,
                naked: cells[..naked].iter().copied().collect(),
                hidden: cells[naked..].iter().copied().collect(),
                naked_digits: low,
                hidden_digits: high.collect(),
                eliminations: cells[naked..].iter().map(|&cell| (cell, low)).collect(),
                lead: if naked <= open - naked { Side::Naked } else { Side::Hidden },
                shown: Sides::Both,
            }),
            rings: vec![],
            titled: true,
            title: format!("{house}"),
            caption: "The same candidates go from either side.".into(),
            alt: "words".into(),
            key: true,
        }
    }

    #[test]
    fn every_shape_has_a_strip_with_both_sides_named() {
        for open in 2..=9 {
            for naked in 1..open {
                let strip = strip(House::box_(4), open, naked);
                // The narrowest and the widest of each side; the others lie between.
                if [1, open - 1].contains(&naked) && open.is_multiple_of(3) {
                    check_figure(&strip);
                }
                let svg = strip.draw(Theme::Print, Width::Column).unwrap().svg;
                assert_eq!(count_class(&svg, "cell"), open);
                assert_eq!(count_class(&svg, "removed"), naked * (open - naked) + 1);
                let texts = texts(&svg);
                assert!(texts.contains(&format!("naked {naked}")));
                assert!(texts.contains(&format!("hidden {}", open - naked)));
                assert_eq!(strip.csv().unwrap().lines().count(), open + 1);
                // The side that is looked for comes first.
                let [naked, hidden] =
                    [format!("naked {naked}"), format!("hidden {}", open - naked)]
                        .map(|words| texts.iter().position(|text| *text == words));
                assert_eq!(naked < hidden, strip.split.as_ref().unwrap().lead == Side::Naked);
            }
        }
    }

    #[test]
    fn one_side_can_stand_alone() {
        let mut strip = strip(House::row(2), 7, 5);
        strip.rings = vec![(Cell::at(2, 5), Digit::new(6).unwrap())];
        for (shown, other) in [(Sides::Naked, "hidden"), (Sides::Hidden, "naked")] {
            strip.split.as_mut().unwrap().shown = shown;
            check_figure(&strip);
            let svg = strip.draw(Theme::Light, Width::Column).unwrap().svg;
            assert_eq!((count_class(&svg, other), count_class(&svg, "cell")), (0, 7));
            assert_eq!(count_class(&svg, "ring"), 1);
            assert!(!strip.csv().unwrap().contains(other));
        }
    }

    #[test]
    fn without_a_split_the_cells_stand_as_they_are() {
        for open in [2, 5, 9] {
            let bare = HouseStrip { split: None, ..strip(House::column(7), open, open / 2) };
            check_figure(&bare);
            let svg = bare.draw(Theme::Light, Width::Column).unwrap().svg;
            let marks = ["naked", "hidden", "removed", "bracket"];
            assert_eq!(marks.map(|class| count_class(&svg, class)), [0; 4]);
            let names: Vec<String> = bare.cells.iter().map(|(cell, _)| cell.to_string()).collect();
            let drawn = texts(&svg).into_iter().filter(|text| names.contains(text));
            assert_eq!(drawn.collect::<Vec<_>>(), names);
            assert!(bare.csv().unwrap().lines().skip(1).all(|row| row.ends_with(",,")));
        }
    }

    #[test]
    fn strips_without_sense_are_refused() {
        let good = strip(House::row(2), 5, 2);
        let refused = |change: &dyn Fn(&mut HouseStrip)| {
            let mut strip = good.clone();
            change(&mut strip);
            strip.draw(Theme::Light, Width::Column).unwrap_err().to_string()
        };
        assert!(refused(&|strip| strip.cells.clear()).contains("no open cells"));
        assert!(refused(&|strip| strip.cells.push(good.cells[0])).contains("each cell once"));
        let stray = (Cell::at(8, 8), DigitSet::FULL);
        assert!(refused(&|strip| strip.cells.push(stray)).contains("r9c9"));
    }

    #[test]
    fn the_structure_is_as_it_was() {
        insta::assert_snapshot!("house_strip", structure(&strip(House::box_(4), 7, 3)));
    }
}
