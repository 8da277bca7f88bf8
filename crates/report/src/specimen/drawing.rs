//! A specimen as a diagram of the board and as a strip of its house.

use tallyhouse_board::{Cell, DigitSet};
use tallyhouse_engine::{Position, Subset};
use tallyhouse_figures::{
    Boards, CellContent, Diagram, FigureError, HouseStrip, Side, Sides, Split, Width,
};
use tallyhouse_words::{counted, list, sentence_start, set_name};

use super::board::{bare_board, board_cells};
use super::score::eliminations;
use super::{Caption, Drawing, Specimen, View, cell_words, digit_words, smaller_side};

/// Returns both sides of a subset in a position, with what it removes.
#[must_use]
pub fn split_of(position: &Position, subset: &Subset) -> Split {
    let Subset { house, cells, digits, .. } = *subset;
    let hidden = position.open_places(house) - cells;
    let [naked, hidden] =
        [cells, hidden].map(|places| places.iter().map(|p| house.cells()[p]).collect());
    Split {
        house,
        naked,
        hidden,
        naked_digits: digits,
        hidden_digits: position.missing(house) - digits,
        eliminations: eliminations(position, subset),
        lead: smaller_side(subset),
        shown: Sides::Both,
    }
}

impl Specimen {
    /// Returns what a figure marks.
    #[must_use]
    pub fn split(&self) -> Split {
        Split { lead: self.lead, ..split_of(&self.position, &self.subset) }
    }

    /// Returns a short title, as in `A hidden triple in row 4`.
    #[must_use]
    pub fn title(&self) -> String {
        self.title_of(Sides::Both)
    }

    fn title_of(&self, shown: Sides) -> String {
        sentence_start(&format!("{} in {}", self.set(self.first_side(shown)), self.house()))
    }

    /// Returns the whole board with both sides of the split marked.
    #[must_use]
    pub fn diagram(&self) -> Diagram {
        self.marked(Sides::Both)
    }

    /// Returns the whole board with these sides of the split marked.
    pub(super) fn marked(&self, shown: Sides) -> Diagram {
        let words = self.words_of(shown);
        Diagram {
            split: Some(Split { shown, ..self.split() }),
            title: self.title_of(shown),
            alt: format!("{} {words} The puzzle: {}.", self.counts(), self.puzzle),
            caption: words,
            ..self.plain()
        }
    }

    /// Returns the whole board before the step, with nothing marked.
    pub(super) fn before(&self) -> Diagram {
        let title = sentence_start(&format!("Before the step in {}", self.house()));
        let caption = self.given_words().unwrap_or_default();
        Diagram {
            alt: format!("{title}. {} The puzzle: {}.", self.counts(), self.puzzle),
            title,
            caption,
            ..self.plain()
        }
    }

    /// Returns the whole board after the step: what was removed is gone, and the single that follows
    /// has a ring.
    pub(super) fn after(&self) -> Diagram {
        let mut board = self.plain();
        for (cell, digits) in self.split().eliminations {
            if let CellContent::Marks(there) = &mut board.cells[cell.index()] {
                *there = *there - digits;
            }
        }
        let single = self.next_single().map(|(single, _)| (single.cell, single.digit));
        let title = sentence_start(&format!("After the step in {}", self.house()));
        let gone = self.subset.eliminations;
        let gone = counted(gone.into(), "candidate is gone", "candidates are gone");
        let gone = sentence_start(&format!("{gone}."));
        let follows = self.follow_up();
        let caption = [Some(gone), follows].into_iter().flatten().collect::<Vec<_>>().join(" ");
        Diagram {
            rings: single.into_iter().collect(),
            ring_words: "the single that follows".to_owned(),
            alt: format!("{title}. {caption} The puzzle: {}.", self.puzzle),
            title,
            caption,
            ..board
        }
    }

    /// Returns the board before the step, with its marks, and after it.
    pub(super) fn steps(&self, shown: Sides) -> Boards {
        let Diagram { title, caption, alt, .. } = self.marked(shown);
        let boards =
            [("Before", self.before()), ("Marked", self.marked(shown)), ("After", self.after())];
        Boards {
            boards: boards.map(|(label, board)| (label.to_owned(), board)).to_vec(),
            title,
            titled: true,
            caption,
            alt,
            key: true,
        }
    }

    /// Returns the board with nothing marked and no words.
    fn plain(&self) -> Diagram {
        Diagram { cells: board_cells(&self.puzzle, &self.position), ..bare_board() }
    }

    fn counts(&self) -> String {
        let cells = board_cells(&self.puzzle, &self.position);
        let placed = cells.iter().filter(|c| matches!(c, CellContent::Placed(_))).count();
        format!("A position with {} givens and {placed} placed digits.", self.puzzle.clues())
    }

    /// Returns the open cells of the house alone, side by side.
    #[must_use]
    pub fn strip(&self) -> HouseStrip {
        self.strip_of(Sides::Both)
    }

    /// Returns the open cells of the house with their candidates.
    pub(crate) fn open_cells(&self) -> Vec<(Cell, DigitSet)> {
        let (house, position) = (self.house(), &self.position);
        let cells = position.open_places(house).iter().map(|place| house.cells()[place]);
        cells.map(|cell| (cell, position.candidates(cell))).collect()
    }

    /// Returns the open cells of the house alone, with these sides of the split marked.
    pub(super) fn strip_of(&self, shown: Sides) -> HouseStrip {
        let (split, cells) = (Split { shown, ..self.split() }, self.open_cells());
        let candidates: Vec<String> = cells
            .iter()
            .map(|&(cell, digits)| format!("{cell} with {}", list(digit_words(digits))))
            .collect();
        let from = |(cell, digits): &(Cell, DigitSet)| {
            format!("{} from {cell}", list(digit_words(*digits)))
        };
        let removed: Vec<String> = split.eliminations.iter().map(from).collect();
        let shown_sides: String = [self.lead, self.lead.other()]
            .into_iter()
            .filter(|&side| shown.show(side))
            .map(|side| {
                let (name, cells) = match side {
                    Side::Naked => ("Naked", split.naked),
                    Side::Hidden => ("Hidden", split.hidden),
                };
                format!(" {name} side: {}.", list(cell_words(cells.iter())))
            })
            .collect();
        HouseStrip {
            alt: format!(
                "The open cells of {}: {}.{shown_sides} Removed: {}.",
                self.house(),
                candidates.join("; "),
                removed.join("; ")
            ),
            cells,
            rings: Vec::new(),
            title: sentence_start(&format!("{}, open cells", self.house())),
            titled: true,
            caption: match shown {
                Sides::Both => format!(
                    "The {} is the {} seen from the other side.",
                    self.set_of_digits(self.lead),
                    self.set_of_digits(self.lead.other())
                ),
                _ => self.find(shown),
            },
            key: true,
            split: Some(split),
        }
    }

    /// Names a side with its digits, as in `hidden triple of 1, 6 and 9`.
    fn set_of_digits(&self, side: Side) -> String {
        let split = self.split();
        let (name, size, digits) = match side {
            Side::Naked => ("naked", self.subset.naked, split.naked_digits),
            Side::Hidden => ("hidden", self.subset.hidden(), split.hidden_digits),
        };
        format!("{name} {} of {}", set_name(size), list(digit_words(digits)))
    }

    /// Returns the specimen for a page, as wide as a column: there the description stands beside the
    /// figures, and one key is enough for both.
    ///
    /// # Errors
    /// If a figure can't be drawn.
    pub(crate) fn on_page(
        &self,
        id: &str,
        drawing: &Drawing,
        files: Vec<(String, String)>,
    ) -> Result<tallyhouse_document::Specimen, FigureError> {
        let drawing = Drawing { width: Width::Column, ..drawing.clone() };
        let bare = Drawing { caption: Caption::None, ..drawing.clone() };
        let board = View::board(id, self.diagram());
        let strip = View::house(id, HouseStrip { key: false, ..self.strip() });
        let parts = &self.parts;
        let score = [
            counted(parts.eliminations.into(), "elimination", "eliminations"),
            format!("{} candidates to read", parts.candidates_to_read),
            counted(parts.other_subsets.into(), "other subset", "other subsets")
                + " in the position",
            if parts.nothing_easier { "nothing easier there" } else { "something easier there" }
                .to_owned(),
            if parts.leads_to_placement { "a single follows at once" } else { "no single at once" }
                .to_owned(),
        ];
        Ok(tallyhouse_document::Specimen {
            id: id.to_owned(),
            title: self.shape().to_string(),
            board: bare.plate(&board)?,
            strip: Some(drawing.plate(&strip)?),
            line: self.puzzle.to_string(),
            description: self.words(),
            origin: format!(
                "{}, quiet position {}",
                self.origin,
                u32::from(self.quiet_position) + 1
            ),
            score: format!("Clarity {}: {}", self.score(), score.join(", ")),
            files,
        })
    }

    /// Returns the description with what was given before and what follows from the eliminations.
    pub(super) fn words(&self) -> String {
        self.words_of(Sides::Both)
    }

    fn words_of(&self, shown: Sides) -> String {
        let sentences =
            [self.given_words(), Some(self.find(shown)), self.follow_up(), self.other_side(shown)];
        sentences.into_iter().flatten().collect::<Vec<_>>().join(" ")
    }

    fn given_words(&self) -> Option<String> {
        match self.origin.given_digits {
            0 => None,
            1 => Some("A digit of the solution was given before.".to_owned()),
            digits => Some(format!("{digits} digits of the solution were given before.")),
        }
    }
}
