//! Houses by kind and open count at the quiet positions of a part. The table of positions counts them
//! by open count alone; the kinds follow from walking the puzzles again, which takes less than reading
//! more columns would.

use polars::prelude::{UInt8Type, UInt16Type};
use tallyhouse_board::{HouseKind, Puzzle};
use tallyhouse_engine::{Exposure, QuietPosition, Recorder, Walker};

use crate::table_file::TableFile;
use crate::tables::PUZZLES;
use crate::{CensusError, Dataset};

/// How many puzzles are walked together.
const TOGETHER: usize = 1000;

/// Houses of a kind with so many open cells.
#[derive(Clone, Debug)]
pub(super) struct OfHouses {
    /// All kinds if it is none.
    pub(super) kind: Option<HouseKind>,
    pub(super) open: u8,
}

impl OfHouses {
    /// The column of positions that counts them with those of other kinds.
    pub(super) fn column(&self) -> String {
        format!("houses_open_{}", self.open)
    }
}

#[derive(Default)]
struct Seen(Vec<(usize, Exposure)>);

impl Recorder for Seen {
    fn quiet_position(&mut self, position: &QuietPosition<'_>) {
        self.0.push((position.puzzle, position.exposure));
    }
}

/// Returns how many such houses each position of a part has; the positions are all there and in order.
pub(super) fn houses_by_row(
    dataset: &Dataset,
    part: u64,
    positions: &TableFile,
    houses: Vec<OfHouses>,
) -> Result<Vec<(OfHouses, Vec<u8>)>, CensusError> {
    let exposures = if houses.iter().any(|of| of.kind.is_some()) {
        exposures(dataset, part, positions)?
    } else {
        Vec::new()
    };
    let counted = |of: OfHouses| {
        let open = usize::from(of.open);
        let houses = match of.kind {
            None => positions.numbers::<UInt8Type>(&of.column())?,
            Some(kind) => exposures.iter().map(|exposure| exposure.of_kind(kind)[open]).collect(),
        };
        Ok((of, houses))
    };
    houses.into_iter().map(counted).collect()
}

/// Walks the puzzles of a part again.
fn exposures(
    dataset: &Dataset,
    part: u64,
    positions: &TableFile,
) -> Result<Vec<Exposure>, CensusError> {
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
    let totals = positions.numbers::<UInt8Type>(CHECKED)?;
    let same = totals.len() == exposures.len()
        && totals.iter().zip(&exposures).all(|(nine, exposure)| *nine == exposure.of_open(9));
    if same {
        Ok(exposures)
    } else {
        Err(positions.damaged("it has other positions than the walk of its puzzles"))
    }
}

/// The column of positions by which a walk is checked.
pub(super) const CHECKED: &str = "houses_open_9";
