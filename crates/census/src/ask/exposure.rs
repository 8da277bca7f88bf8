//! Houses by kind and open count at the quiet positions of a part. The table of positions counts them
//! by open count alone; the kinds follow from walking the puzzles again, which takes less than reading
//! more columns would.

use polars::prelude::{Column, DataFrame, Int64Type, UInt16Type};
use tallyhouse_board::{HouseKind, Puzzle};
use tallyhouse_engine::{Exposure, QuietPosition, Recorder, Walker};

use crate::table_file::TableFile;
use crate::tables::{POSITIONS, PUZZLES};
use crate::{CensusError, Dataset};

/// How many puzzles are walked together.
const TOGETHER: usize = 1000;

/// Houses of a kind with so many open cells, as a column of positions.
#[derive(Clone, Debug)]
pub(super) struct OfHouses {
    /// All kinds if it is none.
    pub(super) kind: Option<HouseKind>,
    pub(super) open: u8,
}

impl OfHouses {
    /// The name of the column.
    pub(super) fn name(&self) -> String {
        match self.kind {
            None => format!("houses_open_{}", self.open),
            Some(kind) => format!("{kind} {}", self.open),
        }
    }
}

#[derive(Default)]
struct Seen(Vec<(usize, Exposure)>);

impl Recorder for Seen {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.0.push((position.puzzle, position.exposure));
    }
}

/// Adds columns of houses by kind to positions of a part, which are all there and in order.
pub(super) fn with_kinds(
    dataset: &Dataset,
    part: u64,
    positions: &TableFile,
    columns: &[OfHouses],
) -> Result<DataFrame, CensusError> {
    let puzzles = dataset.table(&PUZZLES, part, &["puzzle", "line", "quiet_positions"])?;
    let quiet = puzzles.numbers::<UInt16Type>("quiet_positions")?;
    let mut lines: Vec<Puzzle> = Vec::new();
    for row in (0..puzzles.height()).filter(|row| quiet[*row] > 0) {
        let line = puzzles.text("line", row)?.unwrap_or_default();
        let puzzle =
            line.parse().map_err(|error| puzzles.damaged(format!("row {}: {error}", row + 1)));
        lines.push(puzzle?);
    }
    let mut walker = Walker::new(dataset.walk().clone());
    let mut exposures = Vec::new();
    for puzzles in lines.chunks(TOGETHER) {
        let mut seen = Seen::default();
        walker.walk(puzzles, &mut seen);
        // Puzzles are walked side by side; each puzzle's positions come in order.
        seen.0.sort_by_key(|(puzzle, _)| *puzzle);
        exposures.extend(seen.0.into_iter().map(|(_, exposure)| exposure));
    }
    let totals = positions.numbers::<polars::prelude::UInt8Type>("houses_open_9")?;
    let same = totals.len() == exposures.len()
        && totals.iter().zip(&exposures).all(|(nine, exposure)| *nine == exposure.of_open(9));
    if !same {
        return Err(positions.damaged("it has other positions than the walk of its puzzles"));
    }
    let mut frame = positions.frame().clone();
    for column in columns {
        if let Some(kind) = column.kind {
            let houses: Vec<u8> = exposures
                .iter()
                .map(|exposure| exposure.of_kind(kind)[usize::from(column.open)])
                .collect();
            let added = frame.with_column(Column::new(column.name().into(), houses));
            added.map_err(|error| positions.damaged(error.to_string()))?;
        }
    }
    Ok(frame)
}

/// Returns the columns of positions that tell puzzles apart and check a walk.
pub(super) const CHECKED: &str = "houses_open_9";

/// Reads columns of the positions of a part.
pub(super) fn positions(
    dataset: &Dataset,
    part: u64,
    columns: &[&str],
) -> Result<TableFile, CensusError> {
    let table = dataset.table(&POSITIONS, part, columns)?;
    if !table.numbers::<Int64Type>("puzzle")?.is_sorted() {
        return Err(table.damaged("its positions are not in order"));
    }
    Ok(table)
}
