//! A specimen as a diagram of the board and as a strip of its house.

use tallyhouse_board::{Cell, DigitSet, Puzzle};
use tallyhouse_engine::{Position, Subset};
use tallyhouse_figures::{CellContent, Diagram, FigureError, HouseStrip, Split, Width};
use tallyhouse_words::{counted, list, sentence_start, set_name};

use super::score::eliminations;
use super::{Caption, Content, Drawing, Specimen, cell_words, digit_words};

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
    }
}

impl Specimen {
    /// Returns what a figure marks.
    #[must_use]
    pub fn split(&self) -> Split {
        split_of(&self.position, &self.subset)
    }

    /// Returns a short title, as in `Row 4, 5 open: naked 2 | hidden 3`.
    #[must_use]
    pub fn title(&self) -> String {
        format!("{}, {}", sentence_start(&self.house().to_string()), self.shape())
    }

    /// Returns the whole board with the split marked.
    #[must_use]
    pub fn diagram(&self) -> Diagram {
        let cells = board_cells(&self.puzzle, &self.position);
        let placed = cells.iter().filter(|c| matches!(c, CellContent::Placed(_))).count();
        let words = self.words();
        Diagram {
            cells,
            split: Some(self.split()),
            title: self.title(),
            alt: format!(
                "A position with {} givens and {placed} placed digits. {words} The puzzle: {}.",
                self.puzzle.clues(),
                self.puzzle
            ),
            caption: words,
            numbers: true,
            key: true,
        }
    }

    /// Returns the open cells of the house alone, side by side.
    #[must_use]
    pub fn strip(&self) -> HouseStrip {
        let split = self.split();
        let open = split.naked | split.hidden;
        let cells: Vec<_> =
            open.iter().map(|cell| (cell, self.position.candidates(cell))).collect();
        let candidates: Vec<String> = cells
            .iter()
            .map(|&(cell, digits)| format!("{cell} with {}", list(digit_words(digits))))
            .collect();
        let from = |(cell, digits): &(Cell, DigitSet)| {
            format!("{} from {cell}", list(digit_words(*digits)))
        };
        let removed: Vec<String> = split.eliminations.iter().map(from).collect();
        HouseStrip {
            alt: format!(
                "The open cells of {}: {}. Naked side: {}. Hidden side: {}. Removed: {}.",
                self.house(),
                candidates.join("; "),
                list(cell_words(split.naked.iter())),
                list(cell_words(split.hidden.iter())),
                removed.join("; ")
            ),
            cells,
            title: sentence_start(&format!("{}, open cells", self.house())),
            caption: format!(
                "The naked {} of {} is the hidden {} of {} seen from the other side.",
                set_name(self.subset.naked),
                list(digit_words(split.naked_digits)),
                set_name(self.subset.hidden()),
                list(digit_words(split.hidden_digits))
            ),
            key: true,
            split,
        }
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
        let strip = HouseStrip { key: false, ..self.strip() };
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
            board: bare.draw(&Content::Board(Box::new(self.diagram())))?,
            strip: Some(drawing.draw(&Content::House(Box::new(strip)))?),
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
        let given = match self.origin.given_digits {
            0 => None,
            1 => Some("A digit of the solution was given before.".to_owned()),
            digits => Some(format!("{digits} digits of the solution were given before.")),
        };
        let sentences = [given, Some(self.description()), self.follow_up()];
        sentences.into_iter().flatten().collect::<Vec<_>>().join(" ")
    }
}

/// Returns what stands in the cells of a position, in reading order.
pub(super) fn board_cells(puzzle: &Puzzle, position: &Position) -> [CellContent; Cell::COUNT] {
    let content = |cell: Cell| match (puzzle.get(cell), position.fixed(cell)) {
        (Some(digit), _) => CellContent::Given(digit),
        (None, Some(digit)) => CellContent::Placed(digit),
        (None, None) => CellContent::Marks(position.candidates(cell)),
    };
    std::array::from_fn(|index| content(Cell::at(index / 9, index % 9)))
}
