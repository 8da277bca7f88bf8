//! A specimen as a diagram of the board and as a strip of its house.

use tallyhouse_board::{Cell, Puzzle};
use tallyhouse_engine::Position;
use tallyhouse_figures::{CellContent, Diagram, HouseStrip, Split};

use super::description::{list, sentence_start, set_name};
use super::{Specimen, cell_words, digit_words};

impl Specimen {
    /// Returns what a figure marks.
    #[must_use]
    pub fn split(&self) -> Split {
        Split {
            house: self.house(),
            naked: self.naked_cells(),
            hidden: self.hidden_cells(),
            naked_digits: self.naked_digits(),
            hidden_digits: self.hidden_digits(),
            eliminations: self.eliminations(),
        }
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
        let open = self.naked_cells() | self.hidden_cells();
        let cells: Vec<_> =
            open.iter().map(|cell| (cell, self.position.candidates(cell))).collect();
        let candidates: Vec<String> = cells
            .iter()
            .map(|&(cell, digits)| format!("{cell} with {}", list(&digit_words(digits))))
            .collect();
        let removed: Vec<String> = self
            .eliminations()
            .into_iter()
            .map(|(cell, digits)| format!("{} from {cell}", list(&digit_words(digits))))
            .collect();
        HouseStrip {
            alt: format!(
                "The open cells of {}: {}. Naked side: {}. Hidden side: {}. Removed: {}.",
                self.house(),
                candidates.join("; "),
                list(&cell_words(self.naked_cells().iter())),
                list(&cell_words(self.hidden_cells().iter())),
                removed.join("; ")
            ),
            cells,
            split: self.split(),
            title: sentence_start(&format!("{}, open cells", self.house())),
            caption: format!(
                "The naked {} of {} is the hidden {} of {} seen from the other side.",
                set_name(self.subset.naked),
                list(&digit_words(self.naked_digits())),
                set_name(self.subset.hidden()),
                list(&digit_words(self.hidden_digits()))
            ),
            key: true,
        }
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
