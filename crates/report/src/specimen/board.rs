//! Boards with nothing marked.

use tallyhouse_board::{Cell, DigitSet, Puzzle};
use tallyhouse_engine::Position;
use tallyhouse_figures::{CellContent, Diagram};

/// Returns a blank board with nothing marked and no words.
pub(super) fn bare_board() -> Diagram {
    Diagram {
        cells: [CellContent::Marks(DigitSet::EMPTY); Cell::COUNT],
        split: None,
        rings: Vec::new(),
        ring_words: "marked".to_owned(),
        title: String::new(),
        titled: true,
        caption: String::new(),
        alt: String::new(),
        numbers: true,
        key: true,
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
